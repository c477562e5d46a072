"""Independence is counted: what two reads share can be wrong in both."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.evidence.conditions import CONDITIONS, INDEPENDENT, differing, independence
from imagekeeper.provenance.slips import is_slip
from tests.evidence.records import read


def counted(*reads: dict[str, Any], kind: str = "eprom") -> tuple[int, bool]:
    found = independence([read(number, **one) for number, one in enumerate(reads, 1)], kind)
    return found.points, found.enough


BENCH = {"reader": "bench reader", "adapter": "DIP 28", "cable": "short", "vcc": "5.0", "operator": "harbour office"}


def test_another_person_alone_is_not_independent() -> None:
    """Same reader, adapter, cable and voltage: their faults stand in both reads, whoever presses the key."""
    found = independence([read(1, **BENCH), read(2, **{**BENCH, "operator": "visitor"})], "eprom")
    assert (found.points, found.enough, found.differ) == (0, False, ("person",))
    assert found.shared == ("reader bench reader", "supply voltage 5.0", "adapter DIP 28", "cable short")


@pytest.mark.parametrize(("name", "points"), [(name, points) for name, (_, points) in CONDITIONS.items()])
def test_each_difference_counts_as_it_should(name: str, points: int) -> None:
    kind = "floppy" if name in ("drive", "controller") else "eprom"
    assert counted({name: "10"}, {name: "20"}, kind=kind) == (points, points >= INDEPENDENT)


def test_two_small_differences_make_one_large_one() -> None:
    assert counted({**BENCH}, {**BENCH, "adapter": "PLCC 32"}) == (1, False)
    assert counted({**BENCH}, {**BENCH, "adapter": "PLCC 32", "cable": "long"}) == (2, True)


def test_small_differences_of_two_pairs_do_not_add_up() -> None:
    """It takes two reads of which one is free of the other's faults."""
    assert counted(BENCH, {**BENCH, "adapter": "PLCC 32"}, {**BENCH, "cable": "long"})[1]
    assert counted(BENCH, {**BENCH, "adapter": "PLCC 32"}, {**BENCH, "adapter": "SO 28"}) == (1, False)


def test_a_qualified_reader_counts_once_and_not_alone() -> None:
    good = {**BENCH, "qualified": "a known chip was read right"}
    assert counted(good, good) == (1, False)
    assert counted(good, {**good, "cable": "long"}) == (2, True)
    assert counted(good) == (0, False)


def test_a_slip_of_the_pen_is_no_other_reader() -> None:
    assert counted({"reader": "bench reader"}, {"reader": "benhc reader"}) == (0, False)
    insisted = {"reader": "benhc reader", "insisted": ("reader",)}
    assert counted({"reader": "bench reader"}, insisted) == (2, True)
    assert counted({"reader": "reader 1"}, {"reader": "reader 2"}) == (2, True)


def test_numbers_are_never_slips() -> None:
    assert counted({"vcc": "4.75"}, {"vcc": "4.95"}) == (2, True)


@pytest.mark.parametrize("name", ["vcc", "adapter"])
def test_what_a_disk_has_not_does_not_count_for_one(name: str) -> None:
    assert counted({name: "5"}, {name: "4"}, kind="floppy") == (0, False)


@pytest.mark.parametrize("name", ["drive", "controller"])
def test_what_a_chip_has_not_does_not_count_for_one(name: str) -> None:
    assert counted({name: "5"}, {name: "4"}) == (0, False)


def test_what_is_unknown_is_named_and_neither_shared_nor_different() -> None:
    found = independence([read(1, reader="bench reader"), read(2)], "eprom")
    assert (found.differ, found.shared) == ((), ())
    assert found.unknown == ("reader", "supply voltage", "specimen", "person")


def test_thousands_of_reads_are_counted_quickly() -> None:
    reads = [read(number, reader=f"reader {number}") for number in range(3000)]
    assert independence(reads, "eprom").points == 2


texts = st.text("abcde 12", max_size=14)


@given(texts, texts)
def test_slips_are_mutual_and_no_name_is_a_slip_of_itself(a: str, b: str) -> None:
    assert is_slip(a, b) == is_slip(b, a)
    assert not is_slip(a, a.upper())


@pytest.mark.parametrize(
    ("a", "b", "slip"),
    [
        ("bench reader", "benhc reader", True), ("bench reader", "bench reder", True), ("bench", "bensh", True),
        ("bench", "bonsh", False), ("bench reader", "pocket reader", False), ("Ann", "Anna", False),
        ("reader 10", "reader 1", False), ("harbour office", "habour offce", True),
        ("\uff21\uff22\uff23D", "ABCE", True),
    ],
)  # fmt: skip
def test_slips_as_people_make_them(a: str, b: str, slip: bool) -> None:
    assert is_slip(a, b) is slip


def test_differences_are_found_in_both_directions() -> None:
    one, other = read(1, **BENCH), read(2, **{**BENCH, "vcc": "4.5"})
    assert differing(one, other) == differing(other, one) == ("vcc",)


def test_the_points_are_those_of_the_page_on_grades() -> None:
    """docs/explanation/grades.md; our own, no source."""
    assert CONDITIONS == {
        "reader": ("reader", 2), "drive": ("drive", 2), "vcc": ("supply voltage", 2), "specimen": ("specimen", 2),
        "adapter": ("adapter", 1), "cable": ("cable", 1), "controller": ("controller", 1),
        "temperature": ("temperature", 1), "operator": ("person", 0),
    }  # fmt: skip


DRIVE = {"reader": "sector reader", "drive": "drive A", "operator": "harbour office"}


def test_reads_of_a_disk_in_one_drive_share_its_alignment() -> None:
    assert counted(DRIVE, {**DRIVE, "reader": "signal reader"}, kind="floppy") == (1, False)
    assert counted(DRIVE, {**DRIVE, "reader": "signal reader", "controller": "x"}, kind="floppy") == (1, False)
    assert counted(DRIVE, {**DRIVE, "drive": "drive B"}, kind="floppy") == (2, True)
    assert counted(DRIVE, {**DRIVE, "specimen": "1"}, kind="floppy") == (0, False)
    first, spare = {**DRIVE, "specimen": "1"}, {**DRIVE, "specimen": "2"}
    assert counted(first, spare, kind="floppy") == (2, True)
    unknown = {"reader": "sector reader"}
    assert counted(unknown, {**unknown, "reader": "signal reader"}, kind="floppy") == (2, True)
    assert counted(DRIVE, {"reader": "signal reader"}, kind="floppy") == (2, True)   # of one drive nothing is known
    assert counted({"reader": "signal reader"}, DRIVE, kind="floppy") == (2, True)


def test_a_reader_that_was_qualified_for_one_of_the_reads_counts() -> None:
    good = {**BENCH, "qualified": "a known chip was read right"}
    for pair in ((good, {**BENCH, "cable": "long"}), ({**BENCH, "cable": "long"}, good)):
        assert counted(*pair) == (2, True)
    assert counted(good, BENCH) == (1, False)
    assert counted(BENCH, good) == (1, False)
    assert counted(good, BENCH, {**BENCH, "cable": "long"})[0] == 2


def test_numbers_are_compared_as_numbers() -> None:
    assert counted({"temperature": "21"}, {"temperature": "21.0"}) == (0, False)
    assert counted({"temperature": "21"}, {"temperature": "22"}) == (1, False)


def test_what_belongs_to_disks_is_not_missed_of_a_chip() -> None:
    assert independence([read(1), read(2)], "eprom").unknown == ("reader", "supply voltage", "specimen", "person")
    everything = {"reader": "a1", "vcc": "5", "specimen": "1", "operator": "harbour office"}
    assert independence([read(1, **everything), read(2, **everything)], "eprom").unknown == ()
