"""One rule for the next step: what is weighed is what another pass costs."""

from __future__ import annotations

from typing import Any

import pytest

from imagekeeper.evidence.standing import standing
from imagekeeper.provenance.references import parse_reference
from imagekeeper.provenance.standing import NextStep
from imagekeeper.provenance.testimony import StatedReason
from tests.evidence.records import A, B, C, agreed, carrier, read


def step(*reads: Any, damage: tuple[str, ...] = (), **changes: Any) -> NextStep:
    return standing(carrier(reads, **changes), damage).next


FLOPPY = {"kind": "floppy", "examinations": ()}
SHEDDING = {**FLOPPY, "condition": "the coating sheds"}


def test_damage_comes_before_all_else() -> None:
    assert "another copy" in step(read(1), read(2, B), damage=("reads/r1/image.bin",)).does


@pytest.mark.parametrize("kind", ["eprom", "floppy"])
def test_the_way_up_for_a_carrier_that_wears_well(kind: str) -> None:
    disk = {"kind": kind}
    assert step(agreed=None, **disk).does == "read it"
    assert "read it again" in step(read(1), agreed=None, **disk).does
    assert step(read(1), read(2), agreed=None, **disk).does == "settle the agreed image of u4"
    again = step(read(1), **disk)
    assert ("another drive" in again.does) == (kind == "floppy")
    assert again.passes == 1
    otherwise = step(read(1), read(2), **disk)
    assert ("supply voltage" in otherwise.does) == (kind == "eprom")
    independent = (read(1, reader="bench reader"), read(2, reader="pocket reader"))
    assert "second kind of evidence" in step(*independent, **disk).does
    assert step(*independent, agreed=agreed(references=(parse_reference(A),)), **disk).does == ""
    assert "stronger" in step(*independent, agreed=agreed(references=(parse_reference("CBF43926"),)), **disk).does
    assert step(read(1), read(2, B), **disk).does.startswith("compare the reads")


def test_a_shedding_disk_is_not_read_again_just_so() -> None:
    """Stop, clean, capture once with all turns: a pass may be the last."""
    first = step(agreed=None, **SHEDDING)
    assert first.does.startswith("stop before the next pass")
    assert "all turns" in first.does
    single = step(read(1), **SHEDDING)
    assert (single.passes, "second kind of evidence" in single.does) == (0, True)
    differ = step(read(1), read(2, B), **SHEDDING)
    assert differ.does.startswith("compare the reads before anything else")
    assert differ.passes == 0
    known = step(read(1), agreed=agreed(references=(parse_reference(A),)), **SHEDDING)
    assert known.does.startswith("clean it and the heads")


@pytest.mark.parametrize("said", ["sheds on the head", "mould on the surface", "Mold", "sticky", "flaking"])
def test_what_people_write_of_such_a_disk_is_understood(said: str) -> None:
    assert step(agreed=None, **FLOPPY, condition=said).does.startswith("stop")
    assert step(agreed=None, condition=said).does == "read it"   # of a chip it means nothing


def test_what_all_reads_share_is_named() -> None:
    assert step(read(1, reader="a1", vcc="5"), read(2, reader="a1", vcc="5")).because == (
        "all reads share reader a1, supply voltage 5"
    )
    assert step(read(1), read(2)).because == "reader and supply voltage and specimen not recorded for all reads"


def test_each_step_says_how_many_passes_it_takes() -> None:
    for kind in ("eprom", "floppy", "tape"):
        assert step(agreed=None, kind=kind).passes == 1
        assert step(read(1), read(2, B), kind=kind).passes == 1
        assert step(read(1), kind=kind).passes == 1
        assert step(read(1), read(2), kind=kind).passes == 1
    known = step(read(1), agreed=agreed(references=(parse_reference(A),)), **SHEDDING)
    assert known.passes == 1
    assert step(agreed=None, kind="tape", condition="sticky").does.startswith("stop")


def test_a_voted_image_asks_for_a_read_that_gives_it_whole() -> None:
    voted = agreed(C, voted_by="byte", voters=("r1", "r2", "r3"))
    found = step(read(1), read(2, B), read(3, A, reader="x"), agreed=voted)
    assert found.because == "no read gives it whole"
    assert found.passes == 1


def test_one_strong_reference_is_enough_and_then_nothing_is_asked() -> None:
    pair = (read(1, reader="bench reader"), read(2, reader="pocket reader"))
    both = agreed(references=(parse_reference("CBF43926"), parse_reference(A)))
    assert step(*pair, agreed=both) == NextStep(does="", because="corroborated")


def test_what_was_explained_asks_for_nothing() -> None:
    record = carrier([read(1, reader="bench reader"), read(2, reader="pocket reader")], label="CS 0001")
    one = standing(record).open[0]
    said = StatedReason(
        id="e1", code=one.code, basis=one.basis, why=one.why, reason="an older label", by=None,
        added="2026-11-25T12:00:00Z",
    )  # fmt: skip
    assert "second kind of evidence" in standing(carrier(record.reads, label="CS 0001", explanations=(said,))).next.does
