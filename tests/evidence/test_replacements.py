"""How well a new chip or disk is proved: by what people state of their read-backs, never by equal bytes alone."""

from __future__ import annotations

from typing import Any

import pytest

from imagekeeper.evidence.replacements import proof, regraded
from imagekeeper.provenance.replacements import ReadBack, Replacement
from tests.evidence.records import A

NIGHT = {"reader": "bench reader", "operator": "harbour office", "date": "2026-03-03", "vcc": "5.0"}


def back(number: int, **changes: Any) -> ReadBack:
    members: dict[str, Any] = {
        "file": f"back-{number}.bin", "path": f"replacements/w1/back-{number}.bin", "sha256": A, "matches": "whole",
        "reader": None, "operator": None, "vcc": None, "date": None, "added": "2026-03-04T12:00:00Z",
    }  # fmt: skip
    return ReadBack(**{**members, **changes})


def made(*backs: ReadBack, **changes: Any) -> Replacement:
    members: dict[str, Any] = {
        "id": "w1", "part": "27C128", "sha256": A, "read_back_sha256": None, "matches": None,
        "operator": "harbour office", "date": "2026-03-02", "note": None, "added": "2026-03-02T12:00:00Z",
        "written_bytes": 16384, "read_backs": backs,
    }  # fmt: skip
    return Replacement(**{**members, **changes})


def graded(*backs: ReadBack, kind: str = "eprom", **changes: Any) -> tuple[str, str]:
    found = regraded(made(*backs, **changes), kind)
    return found.grade, found.because


GOOD = (back(1, **NIGHT), back(2, **{**NIGHT, "reader": "pocket reader", "vcc": "4.5"}))


def test_two_read_backs_that_differ_and_are_stated_prove() -> None:
    grade, because = graded(*GOOD)
    assert grade == "proved"
    assert because == (
        "2 read-backs are what was written; they differ in reader and supply voltage. As stated: bench reader, harbour "
        "office, 2026-03-03; pocket reader, harbour office, 2026-03-03. Read back from 4.5 to 5 V."
    )


def test_the_way_up() -> None:
    assert graded() == ("unread", "Nothing was read back.")
    assert graded(GOOD[0])[0] == "single"
    assert graded(GOOD[0], back(2, **NIGHT))[0] == "repeated"
    assert graded(*GOOD, back(3, **NIGHT, matches="no"))[0] == "failed"


def test_another_person_alone_proves_nothing() -> None:
    grade, because = graded(back(1, **NIGHT), back(2, **{**NIGHT, "operator": "visitor"}))
    assert grade == "repeated"
    assert "another reader" in because


@pytest.mark.parametrize(("name", "word"), [("reader", "the reader"), ("operator", "the person"), ("date", "the time")])
def test_what_is_not_stated_is_asked_for(name: str, word: str) -> None:
    """A copy of the written file has the same bytes as a perfect read-back: only what people state tells them apart."""
    grade, because = graded(back(1, **{**NIGHT, name: None}), back(2, **{**NIGHT, "vcc": "4.5", name: None}))
    assert grade == "repeated"
    assert f"state {word} of each read-back" in because


def test_a_read_back_from_before_the_writing_is_none() -> None:
    grade, because = graded(GOOD[0], back(2, **{**NIGHT, "vcc": "4.5", "date": "2026-03-01"}))
    assert grade == "repeated"
    assert "back-2.bin is dated before the writing" in because
    assert graded(GOOD[0], back(2, **{**NIGHT, "vcc": "4.5", "date": "2026-03"}))[0] == "proved"   # it may be after


@pytest.mark.parametrize(
    ("size", "grade"), [(16384, "proved"), (32768, "repeated"), (8192, "repeated"), (None, "proved")]
)
def test_all_of_the_chip_must_have_been_shown(size: int | None, grade: str) -> None:
    """A 27C128 holds 16384 bytes: two copies in a file of 32 KiB were not written to one."""
    assert graded(*GOOD, written_bytes=size)[0] == grade


def test_of_a_part_that_is_not_known_nothing_is_asked() -> None:
    assert graded(*GOOD, part="no such part", written_bytes=5)[0] == "proved"


def test_the_image_alone_is_told_and_counts_for_less() -> None:
    grade, because = graded(GOOD[0], back(2, **{**NIGHT, "vcc": "4.5"}, matches="in-part"))
    assert grade == "repeated"
    assert "One shows only the image" in because


def test_a_disk_needs_a_second_drive() -> None:
    """Two passes of one drive share its alignment, whatever drives it."""
    one = {"reader": "sector reader", "operator": "harbour office", "date": "2026-03-03", "drive": "drive A"}
    other = {**one, "reader": "signal reader", "controller": "second"}
    grade, because = graded(back(1, **one), back(2, **other), kind="floppy", part=None)
    assert grade == "repeated"
    assert "another drive, best the machine's own" in because
    assert graded(back(1, **one), back(2, **{**one, "vcc": "4.5"}), kind="floppy", part=None)[0] == "repeated"
    grade, because = graded(back(1, **one), back(2, **{**one, "drive": "the recorder's own"}), kind="floppy", part=None)
    assert grade == "proved"
    assert "the recorder's own, harbour office" in because


def test_what_was_taken_back_counts_no_more() -> None:
    assert graded(GOOD[0], back(2, **{**NIGHT, "vcc": "4.5"}, taken_back=True))[0] == "single"
    assert graded(back(1, matches="no", taken_back=True)) == ("unread", "Nothing was read back.")


def test_the_proof_asks_for_the_size_only_where_it_is_known() -> None:
    assert proof(made(*GOOD), "eprom")[0] == "proved"
