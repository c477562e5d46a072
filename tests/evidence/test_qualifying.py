"""A reader is shown to work by a chip whose content is known, and by its empty socket."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.drives.bench_file import without_entry
from imagekeeper.drives.bench_form import parse
from imagekeeper.errors import UsageError
from imagekeeper.evidence.qualifying import qualify
from imagekeeper.jobs.bench.equipping import (
    add_to_bench,
    bench_of,
    qualification_of,
    qualify_reader,
    take_from_bench,
)
from imagekeeper.jobs.images.loading import Options
from tests.jobs.test_agreeing import session

KNOWN = random.Random(27).randbytes(4096)
EMPTY = b"\xff" * 4096


def test_a_right_read_and_an_empty_socket_qualify() -> None:
    assert qualify(KNOWN, KNOWN, EMPTY).holds
    assert qualify(KNOWN, KNOWN, bytes(range(256)) * 16).says.endswith("follows the addresses")


@pytest.mark.parametrize(
    ("known", "read", "empty", "codes"),
    [
        (KNOWN, bytes(b & 0xF7 for b in KNOWN), EMPTY, ["reader-misreads"]),
        (KNOWN, KNOWN[:2048], EMPTY, ["reader-misreads"]),
        (KNOWN, KNOWN, KNOWN, ["empty-socket-answers"]),
        (KNOWN, KNOWN, b"", ["empty-socket-answers"]),
        (b"\xff" * 4096, b"\xff" * 4096, EMPTY, ["known-chip-weak"]),
        (KNOWN[:2048] * 2, KNOWN[:2048] * 2, EMPTY, ["known-chip-weak"]),
        (b"\x00\xff" * 2048, b"\x00\xff" * 2048, EMPTY, ["known-chip-weak"]),
    ],
)  # fmt: skip
def test_what_shows_nothing_does_not_qualify(known: bytes, read: bytes, empty: bytes, codes: list[str]) -> None:
    found = qualify(known, read, empty)
    assert not found.holds
    assert [one.code for one in found.findings] == codes


@pytest.fixture
def archive(tmp_path: Path) -> ArchiveStore:
    made = ArchiveStore.create(
        tmp_path / "a", uuid="0195c0de-0000-7000-8000-000000000001", title="", now=session().now()
    )
    add_to_bench(made, "reader", name="bench reader", note="by the window")
    return made


def test_the_bench_remembers_what_was_shown(archive: ArchiveStore, tmp_path: Path) -> None:
    for name, data in (("known.bin", KNOWN), ("read.bin", KNOWN), ("empty.bin", EMPTY)):
        (tmp_path / name).write_bytes(data)
    files = [str(tmp_path / name) for name in ("known.bin", "read.bin", "empty.bin")]
    assert qualification_of(archive, "bench reader") is None
    assert qualify_reader(archive, "bench reader", *files, Options(), session()).exit_code == 0
    said = qualification_of(archive, " Bench  Reader")
    assert said is not None
    assert said.endswith("its empty socket gives FF, seen 2026-03-02")
    assert qualify_reader(archive, "bench reader", *files, Options(), session()).holds   # written again, not beside it
    held = bench_of(archive)
    assert held is not None
    assert [(one.name, one.note) for one in held.readers] == [("bench reader", "by the window")]
    with pytest.raises(UsageError, match="bench"):
        qualify_reader(archive, "another reader", *files, Options(), session())


def test_the_file_that_is_known_is_no_read(archive: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "known.bin").write_bytes(KNOWN)
    (tmp_path / "empty.bin").write_bytes(EMPTY)
    known, empty = str(tmp_path / "known.bin"), str(tmp_path / "empty.bin")
    with pytest.raises(UsageError):
        qualify_reader(archive, "bench reader", known, known, empty, Options(), session())
    assert qualification_of(archive, "bench reader") is None


def test_what_is_taken_from_the_bench_stays_as_a_comment(archive: ArchiveStore) -> None:
    add_to_bench(archive, "medium", **{"class": "5.25-dd", "count": 10})
    left = take_from_bench(archive, "reader", "bench reader", "its socket\nis worn", session())
    assert (left.readers, len(left.media)) == ((), 1)
    text = (archive.path / "bench.toml").read_text("utf-8")
    assert "# taken away: its socket is worn (2026-03-02)\n# [[reader]]\n# name = \"bench reader\"" in text
    with pytest.raises(UsageError, match="bench"):
        take_from_bench(archive, "reader", "bench reader", "again", session())
    with pytest.raises(UsageError, match="reason"):
        take_from_bench(archive, "medium", "5.25-dd", " ", session())


def test_the_right_one_of_two_is_taken(archive: ArchiveStore) -> None:
    text = '[[reader]]  # first\nname = "A"\nnote = "[x]"\n\n[[medium]]\nclass = "5.25-dd"\n\n[[reader]]\nname = "B"\n'
    left = parse(without_entry(text, "reader", "B", "sold"))
    assert ([one.name for one in left.readers], len(left.media)) == (["A"], 1)
