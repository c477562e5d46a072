"""The log of commits, line by line: what is noted, what a crash has cut short, and what is spoiled."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.reading import BLOCK_BYTES
from imagekeeper.archive.store import ArchiveStore

from .conftest import NOW, UUID, add

DIGEST = "ab" * 64
LATER = "2026-11-25T08:00:00Z"
ONE = ledger.commit_line("tg85-u4", 1, NOW, DIGEST)
TWO = ledger.commit_line("tg85-u4", 2, LATER, DIGEST)
OTHER = ledger.commit_line("tg85-u5", 1, LATER, DIGEST)


@pytest.fixture
def archive(tmp_path: Path) -> ArchiveStore:
    return ArchiveStore.create(tmp_path / "archive", uuid=UUID, title="Harbour office", now=NOW)


def said(archive: ArchiveStore, data: bytes) -> ledger.Commits:
    archive.log.mkdir(exist_ok=True)
    (archive.log / ledger.COMMITS).write_bytes(data)
    return ledger.read_commits(archive)


def log(*lines: bytes) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def test_lines_are_noted_for_their_carriers_with_their_numbers(archive: ArchiveStore) -> None:
    commits = said(archive, log(ONE, OTHER, TWO))
    assert commits.notes == {
        "tg85-u4": [ledger.Noted(1, 1, ONE), ledger.Noted(3, 2, TWO)], "tg85-u5": [ledger.Noted(2, 1, OTHER)],
    }  # fmt: skip
    assert commits.spoiled == []
    assert [commits.newest(name) for name in ("tg85-u4", "tg85-u5", "tg85-u6")] == [2, 1, 0]
    assert [commits.first_time(name) for name in ("tg85-u4", "tg85-u5", "tg85-u6")] == [NOW, LATER, None]


def test_the_oldest_version_tells_the_first_time_wherever_it_stands(archive: ArchiveStore) -> None:
    assert said(archive, log(TWO, ONE)).first_time("tg85-u4") == NOW
    assert said(archive, log(TWO, ONE)).newest("tg85-u4") == 2
    untimed = json.dumps({"carrier": "tg85-u4", "version": 1, "time": 5}).encode()
    assert said(archive, log(untimed)).first_time("tg85-u4") is None


def test_without_a_log_nothing_is_known(archive: ArchiveStore) -> None:
    (archive.log / ledger.COMMITS).unlink(missing_ok=True)
    assert ledger.read_commits(archive) == ledger.Commits()
    assert list(ledger.lines(archive, "no-such.jsonl")) == []


# ---- lines that a crash cut short


def test_a_line_that_a_crash_cut_short_is_not_spoiled_when_it_came_whole_later(archive: ArchiveStore) -> None:
    assert said(archive, log(ONE, TWO[:40], TWO)).spoiled == []
    assert said(archive, log(ONE, TWO[:40], OTHER, TWO)).spoiled == []
    assert said(archive, log(ONE[:1], ONE[:9], ONE)).spoiled == []


def test_a_line_cut_short_that_never_came_whole_is_spoiled(archive: ArchiveStore) -> None:
    assert said(archive, log(ONE, OTHER[:-30])).spoiled == [2]
    assert said(archive, log(ONE[:-3] + b"x", ONE, TWO)).spoiled == [1]


def test_what_came_whole_before_does_not_excuse_a_part_of_it(archive: ArchiveStore) -> None:
    """A crash cuts a line before it is written whole, never after."""
    assert said(archive, log(ONE, ONE[:40], OTHER)).spoiled == [2]


def test_an_empty_line_is_spoiled(archive: ArchiveStore) -> None:
    """No crash leaves one: a new line begins where a line was cut short."""
    assert said(archive, log(ONE, b"", TWO)).spoiled == [2]


def test_the_last_line_may_be_cut_short_by_a_crash_that_nothing_followed(archive: ArchiveStore) -> None:
    """It is the beginning of a line: what ends a record, a brace, is not in it. A whole one only lacks its end."""
    assert said(archive, log(ONE) + TWO[:50]).spoiled == []
    assert said(archive, log(ONE) + b"{spoiled}").spoiled == [2]
    whole = said(archive, log(ONE) + TWO)
    assert (whole.spoiled, whole.newest("tg85-u4")) == ([], 2)


@pytest.mark.parametrize(
    "line",
    [
        b"[]", b"5", b"null", b"\xff", b"[" * 100_000, b"{}",
        b'{"carrier":"tg85-u4"}', b'{"carrier":"tg85-u4","version":0}', b'{"carrier":"tg85-u4","version":-1}',
        b'{"carrier":"tg85-u4","version":true}', b'{"carrier":"tg85-u4","version":1.0}',
        b'{"carrier":"tg85-u4","version":"1"}', b'{"carrier":5,"version":1}', b'{"carrier":"../u4","version":1}',
        b'{"carrier":"","version":1}', b'{"version":1}',
    ],
)  # fmt: skip
def test_a_line_that_notes_no_version_of_a_carrier_is_spoiled(archive: ArchiveStore, line: bytes) -> None:
    commits = said(archive, log(ONE, line, OTHER))
    assert commits.spoiled == [2]
    assert {name: [noted.number for noted in notes] for name, notes in commits.notes.items()} == {
        "tg85-u4": [1], "tg85-u5": [3],
    }  # fmt: skip


def test_all_spoiled_lines_are_named_in_order(archive: ArchiveStore) -> None:
    assert said(archive, log(b"x", ONE, b"y}", TWO) + b"}").spoiled == [1, 3, 5]


# ---- long lines


def padded(size: int) -> bytes:
    line = b'{"carrier":"tg85-u4","version":1,"note":"'
    return line + b"n" * (size - len(line) - 2) + b'"}'


@pytest.mark.parametrize("before", [0, 1, 1000, BLOCK_BYTES - 10])
def test_a_line_longer_than_a_mebibyte_is_none_of_ours(archive: ArchiveStore, before: int) -> None:
    """Wherever the blocks in which the file is read end; and the lines behind it are read as they are."""
    lead = log(b"-" * before) if before else b""
    number = 2 if before else 1
    for size, ours in ((1 << 20, True), ((1 << 20) + 1, False), ((1 << 20) + 2, False), (3 << 20, False)):
        commits = said(archive, lead + log(padded(size), OTHER))
        assert [noted.number for noted in commits.notes.get("tg85-u4", [])] == ([number] if ours else [])
        assert (number in commits.spoiled) != ours
        assert commits.newest("tg85-u5") == 1


def test_a_last_line_without_end_is_not_kept_whole_in_memory(archive: ArchiveStore) -> None:
    archive.log.mkdir(exist_ok=True)
    (archive.log / "long.jsonl").write_bytes(b"x" * (5 << 20))
    ((number, line, ended),) = ledger._numbered(archive.log / "long.jsonl")
    assert (number, len(line), ended) == (1, ledger.LINE_LIMIT + 1, False)


# ---- writing


def test_a_commit_notes_the_digest_of_its_inventory(archive: ArchiveStore) -> None:
    add(archive, "tg85-u4", b"T" * 64)
    inventory = (archive.object_path("tg85-u4") / "inventory.json").read_bytes()
    lines = [json.loads(line) for line in (archive.log / ledger.COMMITS).read_bytes().splitlines()]
    assert [(line["carrier"], line["version"]) for line in lines] == [("tg85-u4", 1), ("tg85-u4", 2), ("tg85-u4", 3)]
    assert lines[-1]["inventory_sha512"] == hashlib.sha512(inventory).hexdigest()
    assert ledger.read_commits(archive).spoiled == []


def test_lines_are_added_behind_each_other_in_canonical_form(archive: ArchiveStore) -> None:
    """RFC 8785: members in order, no blanks."""
    ledger.append(archive, "more.jsonl", {"b": 1, "a": [2]})
    ledger.append_line(archive, "more.jsonl", b"[]")
    ledger.append(archive, "more.jsonl", {"c": None})
    assert (archive.log / "more.jsonl").read_bytes() == b'{"a":[2],"b":1}\n[]\n{"c":null}\n'
    assert list(ledger.lines(archive, "more.jsonl")) == [{"a": [2], "b": 1}, {"c": None}]


def test_the_folder_of_the_logs_is_made_when_it_is_missing(archive: ArchiveStore) -> None:
    for file in archive.log.iterdir() if archive.log.exists() else ():
        file.unlink()
    if archive.log.exists():
        archive.log.rmdir()
    ledger.append(archive, "more.jsonl", {})
    assert (archive.log / "more.jsonl").read_bytes() == b"{}\n"
