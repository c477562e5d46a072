"""Reads of a disk: which sectors agree, counted by arithmetic of the test's own, and which fault is named."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.disk_reads.comparing import MOST_SECTORS, compare_disk
from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.sentences.disk_reads import SAYS
from tests.benchmarks.disk_faults import FAULTS, Disk, Tracks, written
from tests.geometry.disks import fat_disk, shape_of

FORM = Geometry(cylinders=40, heads=2, sectors=9, sector_bytes=512)
GOOD = fat_disk(shape_of("5.25-40x2x9x512"), 1, full=0.6)
OF_FORM = Tracks(Disk("PC 360K", FORM, GOOD))

#: Where nothing in the reads says which of two is wrong: both hold all sectors, or differ in some.
NEVER_TOLD = {"another disk", "another version"}


def names(count: int) -> list[str]:
    return [f"read {number}" for number in range(1, count + 1)]


def faulty(fault: str, seed: int = 3, rate: int = 1) -> bytes:
    made = FAULTS[fault][2](OF_FORM, random.Random(seed), rate)
    assert made is not None
    assert made != GOOD
    return made


@pytest.mark.parametrize("fault", [name for name in FAULTS if name != "another version"])
@pytest.mark.parametrize("good", [1, 2])
def test_a_fault_is_named_first(fault: str, good: int) -> None:
    """Of two reads, and of three of which two have none; nobody who is right is called wrong."""
    table, found = compare_disk([GOOD] * good + [faulty(fault)], names(good + 1), FORM)
    assert found[0].code == FAULTS[fault][0]
    assert table.agree < table.sectors
    wrong = found[0].detail["wrong"]
    if fault in NEVER_TOLD:
        assert wrong == []
    elif good == 2:
        assert wrong == [3]
    else:
        assert wrong in ([], [2])


def test_the_good_read_is_not_called_wrong_where_it_comes_second() -> None:
    for fault in ("sectors filled", "dead head", "missed step", "single-stepped", "sides swapped", "track lost"):
        _, found = compare_disk([faulty(fault), GOOD], names(2), FORM)
        assert (found[0].code, found[0].detail["wrong"]) == (FAULTS[fault][0], [1]), fault


def test_two_reads_with_fill_do_not_outvote_the_one_with_content() -> None:
    filled = faulty("sectors filled")
    _, found = compare_disk([filled, filled, GOOD], names(3), FORM)
    assert found[0].code == "sectors-filled"
    assert 3 not in found[0].detail["wrong"]


def test_two_reads_with_different_faults_are_each_told_of() -> None:
    reads = [faulty("weak bits", 5), GOOD, faulty("dead head", 6)]
    _, found = compare_disk(reads, names(3), FORM)
    assert {(one.code, tuple(one.detail["wrong"])) for one in found if one.confidence > 0.5} == {
        ("weak-sectors", (1,)), ("head-dead", (3,)),
    }  # fmt: skip


def test_two_reads_that_lack_different_sectors_have_the_whole_disk_together() -> None:
    """Neither is right: what each lacks stands in the other, and none is called wrong where it has the content."""
    size = FORM.sector_bytes
    content = [at for at in range(0, len(GOOD), size) if len(set(GOOD[at : at + size])) > 1]
    reads = []
    for mine in (content[40:42], content[80:81]):
        read = bytearray(GOOD)
        for at in mine:
            read[at : at + size] = b"\xf6" * size
        reads.append(bytes(read))
    _, found = compare_disk(reads, names(2), FORM)
    assert [(one.code, one.detail["wrong"]) for one in found] == [("sectors-filled", [1]), ("sectors-filled", [2])]


def test_a_missed_step_says_from_which_cylinder_on() -> None:
    size = FORM.track_bytes * 2
    _, found = compare_disk([GOOD, GOOD[: 12 * size] + GOOD[11 * size : 39 * size]], names(2), FORM)
    assert (found[0].code, found[0].detail["cylinders"][0]) == ("cylinder-twice", 12)


def test_filled_sectors_are_named_one_by_one() -> None:
    data = bytearray(GOOD)
    places = [(3, 1, 9), (5, 0, 1)]
    for cylinder, side, sector in places:
        at = ((cylinder * 2 + side) * 9 + sector - 1) * 512
        data[at : at + 512] = (b"NOT READ " * 57)[:512]
    table, found = compare_disk([GOOD, bytes(data)], names(2), FORM)
    assert found[0].detail["places"] == [list(place) for place in places]
    assert "NOT READ" in found[0].why
    assert [(one.cylinder, one.side, one.sector, one.fills) for one in table.differing] == [
        (*place, (2,)) for place in places
    ]


def test_another_version_names_the_files() -> None:
    disk = written(0)
    assert disk.later is not None
    _, found = compare_disk([disk.data, disk.later(random.Random(1))], names(2), disk.geometry)
    assert found[0].code == "other-version"
    changed = set(found[0].detail["changed"])
    assert len(changed) == 2
    assert found[0].detail["added"] + found[0].detail["gone"] == ["NEW00001.TXT"]
    assert all(name in found[0].why for name in changed)


def test_a_read_that_ends_within_a_sector_is_short_and_no_other_disk() -> None:
    for size in (100, 512 * 200 + 7):
        table, found = compare_disk([GOOD, GOOD[:size]], names(2), FORM)
        assert (found[0].code, found[0].detail["wrong"]) == ("last-cylinders-missing", [2])
        assert table.agree == size // 512


def test_equal_reads_have_no_finding() -> None:
    table, found = compare_disk([GOOD, bytes(GOOD), bytes(GOOD)], names(3), FORM)
    assert (table.agree, table.sectors, table.differing, found) == (720, 720, (), ())


def test_a_first_track_of_other_sectors_is_laid_out() -> None:
    form = Geometry(cylinders=4, heads=2, sectors=4, sector_bytes=256, first_track=(4, 128))
    dice = random.Random(7)
    good = dice.randbytes(form.bytes)
    bad = bytearray(good)
    bad[3 * 128] ^= 1                    # the last sector of the first track
    bad[4 * 128 + 4 * 256] ^= 1          # the first one of cylinder 1, side 0
    table, _ = compare_disk([good, bytes(bad)], names(2), form)
    assert table.sectors == 4 + 7 * 4
    assert [(one.cylinder, one.side, one.sector) for one in table.differing] == [(0, 0, 4), (1, 0, 1)]


def test_a_disk_of_too_many_sectors_is_counted_and_not_explained() -> None:
    form = Geometry(cylinders=MOST_SECTORS // 16 + 1, heads=1, sectors=16, sector_bytes=32)
    good = bytes(range(256)) * (form.bytes // 256)
    table, found = compare_disk([good, good[:-32] + bytes(32)], names(2), form)
    assert (table.sectors - table.agree, [one.code for one in found]) == (1, ["not-diagnosed"])


def test_reads_beyond_the_geometry_are_refused() -> None:
    with pytest.raises(UsageError) as caught:
        compare_disk([GOOD, GOOD], names(2), Geometry(cylinders=39, heads=2, sectors=9, sector_bytes=512))
    assert caught.value.code == "does-not-fit"


def test_no_sentence_of_disks_speaks_of_memories() -> None:
    for key, one in SAYS.items():
        words = f" {one.what} {one.why} {one.next} ".lower()
        assert not [word for word in (" chip", " pin ", " pins", "volt", "eprom") if word in words] or key == (
            "usage/disk-or-chip"
        ), key


SMALL = st.builds(
    lambda c, h, s, b: Geometry(cylinders=c, heads=h, sectors=s, sector_bytes=b),
    st.integers(1, 12), st.integers(1, 3), st.integers(1, 6), st.sampled_from([32, 64]),
)  # fmt: skip


@st.composite
def of_disk(draw: st.DrawFn) -> tuple[Geometry, list[bytes]]:
    """Reads put together from few contents, so that all that is looked for comes by chance."""
    form = draw(SMALL)
    alphabet = draw(st.lists(st.binary(min_size=form.sector_bytes, max_size=form.sector_bytes), min_size=1, max_size=4))
    alphabet += [bytes(form.sector_bytes), b"\xe5" * form.sector_bytes]
    whole = form.cylinders * form.heads * form.sectors
    reads = draw(st.lists(st.lists(st.sampled_from(alphabet), max_size=2 * whole), min_size=1, max_size=3))
    reads.append(draw(st.lists(st.sampled_from(alphabet), max_size=whole)))
    cut = draw(st.integers(0, form.sector_bytes - 1))
    return form, [b"".join(read)[: max(len(read) * form.sector_bytes - cut, 0)] for read in reads]


@given(of_disk())
@settings(max_examples=150, deadline=None)
def test_whatever_the_reads_are_the_counts_are_those_of_the_bytes(case: tuple[Geometry, list[bytes]]) -> None:
    form, reads = case
    table, found = compare_disk(reads, names(len(reads)), form)
    size = form.sector_bytes
    there = agree = 0
    for at in range(0, form.bytes, size):
        pieces = {read[at : at + size] for read in reads}
        there += pieces != {b""}
        agree += len(pieces) == 1 and pieces != {b""}
    assert (table.sectors, table.agree) == (there, agree)
    assert len(table.differing) == there - agree
    assert sum(track.agree for track in table.tracks) == agree
    for one in found:
        assert isinstance(one, Finding)
        assert "{" not in one.why + one.hint
        assert set(one.detail["wrong"]) <= set(range(1, len(reads) + 1))
