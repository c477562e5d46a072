"""The command search, and the options of carrier list that choose."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.evidence.standing import GRADES
from imagekeeper.provenance.agreed import GRADE_NAMES
from tests.cli.test_bad_input import check_document
from tests.conftest import Ran

Cli = Callable[..., Ran]

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))
OTHER = CHIP[::-1] + b"TIDE RECORDER V2.1\0".ljust(2048, b"\xff")


@pytest.fixture
def archive(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine, two chips with a read each, and a disk that nobody read."""
    assert cli("archive", "init", "harbour").code == 0
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    (tmp_path / "u4.bin").write_bytes(CHIP)
    (tmp_path / "u5.bin").write_bytes(OTHER)
    machine = ("--machine", "Quillmere TG-85")
    for command in (
        ("machine", "add", "tg85", "--name", "Quillmere TG-85", "--owner", "harbour office"),
        ("carrier", "add", "tg85-u4", "--kind", "eprom", "--part", "2716", *machine, "--position", "U4"),
        ("carrier", "add", "tg85-u5", "--kind", "mask-rom", *machine, "--note", "window covered with black tape"),
        ("carrier", "add", "spare-disk", "--kind", "floppy", "--label", "tide tables 1986"),
        ("carrier", "read", "tg85-u4", "u4.bin", "--date", "2026-03-02", "--reader", "bench reader"),
        ("carrier", "read", "tg85-u5", "u5.bin", "--date", "2025", "--note", "smoothed pins"),
        ("carrier", "agree", "tg85-u4"),
    ):  # fmt: skip
        assert cli(*command).code == 0, command
    return tmp_path / "harbour"


def run(cli: Cli, *arguments: str, code: int = 0) -> Any:
    ran = cli(*arguments, "--json")
    assert ran.code == code, ran
    return check_document(ran.out)


def ids(cli: Cli, *arguments: str, code: int = 0) -> list[str]:
    return [hit["id"] for hit in run(cli, "search", *arguments, code=code)["hits"]]


@pytest.mark.usefixtures("archive")
def test_words_and_where_they_stand(cli: Cli) -> None:
    hits = run(cli, "search", "quilmere", "smothed")["hits"]
    assert [hit["id"] for hit in hits] == ["tg85-u5"]
    assert [(m["field"], m["text"], m["how"]) for m in hits[0]["matches"]] == [
        ("machine", "Quillmere TG-85", "mistyped"), ("read note", "smoothed pins", "mistyped")
    ]
    shown = cli("search", "black", "tape").out
    assert shown.splitlines() == [
        "tg85-u5  mask-rom in Quillmere TG-85  not settled", "  note: window covered with black tape"
    ]
    assert ids(cli, "tide") == ["spare-disk"]
    assert ids(cli, "U4")[0] == "tg85-u4"


@pytest.mark.usefixtures("archive")
def test_digests(cli: Cli) -> None:
    digest = hashlib.sha256(CHIP).hexdigest()
    for term in (digest, digest[:9].upper(), f"{zlib.crc32(CHIP):08x}"):
        (hit,) = run(cli, "search", term)["hits"]
        assert (hit["id"], hit["matches"][0]["how"]) == ("tg85-u4", "digest")


@pytest.mark.usefixtures("archive")
def test_choices(cli: Cli) -> None:
    assert ids(cli, "--size", "2K") == ["tg85-u4"]
    assert ids(cli, "--size", "4096") == ["tg85-u5"]
    assert ids(cli, "--grade", "single") == ["tg85-u4"]
    assert ids(cli, "--grade", "none") == ["spare-disk"]
    assert ids(cli, "--kind", "machine") == ["tg85"]
    assert ids(cli, "--machine", "tg-85") == ["tg85-u4", "tg85-u5"]
    assert ids(cli, "--read-after", "2026") == ["tg85-u4"]
    assert ids(cli, "--read-before", "2025-06") == ["tg85-u5"]   # some time in 2025
    assert ids(cli, "--added-before", "1999", code=1) == []
    assert len(ids(cli, "--added-after", "1999")) == 4
    assert ids(cli, "window", "--kind", "mask-rom", "--machine", "quill") == ["tg85-u5"]
    limited = run(cli, "search", "--added-after", "1999", "--limit", "2")
    assert (len(limited["hits"]), limited["more"]) == (2, True)


@pytest.mark.usefixtures("archive")
def test_nothing_found_has_exit_code_1_and_a_hint(cli: Cli) -> None:
    ran = cli("search", "zeppelin")
    assert ran.code == 1
    assert ran.out.startswith("Nothing found: ")
    assert "leave out a word" in run(cli, "search", "zeppelin", "tide", code=1)["hint"]
    assert "leave out an option" in run(cli, "search", "tide", "--kind", "eprom", code=1)["hint"]


@pytest.mark.usefixtures("archive")
@pytest.mark.parametrize("term", ['"', "*", "a AND", "NEAR(", "names:", "^x", "{a}", "\x00", "' OR 1=1 --", "é" * 1000])
def test_terms_are_only_words(cli: Cli, term: str) -> None:
    ran = cli("search", "--json", "--", term)
    assert ran.code == 1
    assert check_document(ran.out)["hits"] == []


@pytest.mark.usefixtures("archive")
def test_what_is_no_request(cli: Cli, tmp_path: Path) -> None:
    assert run(cli, "search", code=2)["code"] == "usage"
    assert run(cli, "search", "x" * 100_000, code=2)["code"] == "usage"
    assert run(cli, "search", "--read-after", "soon", code=2)["code"] == "usage"
    assert run(cli, "search", "u4", "--file", "u4.bin", code=2)["code"] == "usage"
    assert run(cli, "search", "--size", "2K", "--file", "u4.bin", code=2)["code"] == "usage"
    assert run(cli, "search", "--limit", "0", "u4", code=2)["code"] == "usage"
    assert run(cli, "search", "--file", "missing.bin", code=5)["code"] == "not-found"


@pytest.mark.usefixtures("archive")
def test_an_image_that_is_kept_and_one_that_is_nearly(cli: Cli, tmp_path: Path) -> None:
    same = run(cli, "search", "--file", "u4.bin")["images"]
    told = [(one["relation"], one["carrier"], one["held_as"]) for one in same]
    assert told == [("same", "tg85-u4", ["r1", "agreed"])]
    (tmp_path / "near.bin").write_bytes(OTHER.replace(b"V2.1", b"V2.2"))
    (near,) = run(cli, "search", "--file", "near.bin")["images"]
    assert (near["relation"], near["carrier"], near["differing_bytes"]) == ("near", "tg85-u5", 1)
    shown = cli("search", "--file", "near.bin").out
    assert "only in a version text" in " ".join(shown.split())
    assert "'TIDE RECORDER V2.2' here, 'TIDE RECORDER V2.1' there" in shown
    (tmp_path / "new.bin").write_bytes(bytes(range(256)) * 4 + b"\x01")
    assert "carrier add" in cli("search", "--file", "new.bin").out
    assert run(cli, "search", "--file", "new.bin", code=1)["images"] == []


@pytest.mark.usefixtures("archive")
def test_control_characters_of_records_stay_off_the_terminal(cli: Cli) -> None:
    assert cli("carrier", "note", "tg85-u4", "bad \x1b[2J bell\x07 words").code == 0
    shown = cli("search", "bell").out
    assert "\x1b" not in shown
    assert "\\x1b[2J" in shown


@pytest.mark.usefixtures("archive")
def test_the_list_by_grade_order_and_number(cli: Cli) -> None:
    def listed(*options: str) -> list[str]:
        return [row["id"] for row in run(cli, "carrier", "list", *options)["carriers"]]

    assert listed() == ["spare-disk", "tg85-u4", "tg85-u5"]
    assert listed("--grade", "none") == ["spare-disk"]
    assert listed("--grade", "single", "--kind", "eprom") == ["tg85-u4"]
    assert listed("--sort", "machine")[-1] == "spare-disk"   # it names no machine
    assert run(cli, "carrier", "list", "--limit", "2")["more"] is True
    assert run(cli, "carrier", "list", "--limit", "3")["more"] is False
    assert "there are more" in cli("carrier", "list", "--limit", "1").out


def test_the_grades_are_those_that_there_are() -> None:
    assert sorted(GRADES) == sorted(GRADE_NAMES)
