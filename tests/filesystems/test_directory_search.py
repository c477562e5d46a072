"""The division of a disk found without its parameter block, given in part or whole, and refused where it cannot be.

What is right often enough on many more disks is measured by tests/benchmarks/directory_volumes.py.
"""

from __future__ import annotations

import random
import time
from collections import Counter

import pytest
from hypothesis import given as given_values
from hypothesis import settings
from hypothesis import strategies as st

from imagekeeper import budget
from imagekeeper.errors import InputError, UsageError
from imagekeeper.filesystems.directory_options import Given, parse
from imagekeeper.filesystems.directory_parameters import DiskParameters
from imagekeeper.filesystems.directory_system import DirectoryReader
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid, Volume
from imagekeeper.tables.parameter_blocks import parameter_block_rows
from tests.filesystems.directory_volumes import Content, Shape, filled, lay, text, whole, write
from tests.geometry.disks import bare_disk, fat_disk, shape_of
from tests.refusals import refuses

pytestmark = pytest.mark.long

SHAPES = {
    "8-inch, skew 6": Shape(),
    "no reserved tracks": Shape(40, 1, 9, 512, 1024, 64, 0, 1),
    "two-byte numbers": Shape(80, 2, 5, 1024, 2048, 128, 4, 1),
    "two extents in an entry": Shape(40, 2, 10, 512, 2048, 128, 2, 1),
    "skew of large sectors": Shape(40, 1, 10, 256, 2048, 64, 3, 2),
    "side after side": Shape(40, 2, 9, 512, 2048, 64, 2, 1, sides="side-after-side"),
    "back along side 1": Shape(80, 2, 10, 512, 2048, 128, 2, 3, sides="side-1-reversed"),
    "blocks of 4 KiB": Shape(77, 2, 8, 1024, 4096, 256, 2, 1),
}


def first(
    disk: bytes, given: Given | None = None, grid: SectorGrid | None = None
) -> tuple[DiskParameters, Volume, float]:
    reader = DirectoryReader(given or Given())
    best = reader.recognise(disk, grid)[0]
    return best.answer.detail.parameters, reader.read(disk, best.answer, ReadingOptions(check=True)), best.score


def same_files(disk: bytes, volume: Volume, files: list[Content]) -> bool:
    got = Counter((one.group, one.raw_name, b"".join(one.blocks(disk))) for one in volume.entries)
    return got == Counter((str(one.user), one.name, one.expected) for one in files)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=list(SHAPES))
@pytest.mark.parametrize("worn", [False, True])
@pytest.mark.parametrize("full", [0.3, 0.8])
def test_a_division_is_found_from_the_disk_alone(shape: Shape, worn: bool, full: float) -> None:
    disk, files = filled(shape, 5, full, worn=worn)
    division, volume, score = first(disk)
    assert same_files(disk, volume, files)
    assert division.block_bytes == shape.block
    if full > 0.5:   # on an emptier disk nothing may lie on the other side
        assert division.sides == shape.sides
    assert 0.5 < score < 0.95   # a disk states nothing of its division, so that a stated file system goes first
    assert {one.severity for one in volume.findings} <= {"note"}
    if not worn:
        assert (division.directory_entries, division.extent_mask) == (shape.directory, shape.exm)


def test_the_answers_are_ranked_with_their_evidence() -> None:
    disk, _ = filled(SHAPES["8-inch, skew 6"], 9, 0.6)
    found = DirectoryReader().recognise(disk, None)
    assert 1 < len(found) <= 5
    assert [one.score for one in found] == sorted((one.score for one in found), reverse=True)
    says = [one.says for one in found[0].evidence]
    assert "26 sectors of 128 bytes mostly lie 6 apart" in says
    assert "it is a row of the table: 8-inch single density: the worked example" in says
    assert "text goes on where one sector ends and the next begins" in says
    assert "files begin with block 2, the first behind the directory" in says
    weights = [abs(one.weight) for one in found[0].evidence]
    assert weights == sorted(weights, reverse=True)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("name", ["8-77x1x26x128-fm", "5.25-40x2x9x512", "5.25-40x1x16x256", "3.5-80x2x9x512"])
def test_other_disks_are_not_taken_for_one(name: str, seed: int) -> None:
    for disk in (bare_disk(shape_of(name), seed), fat_disk(shape_of(name), seed)):
        assert not DirectoryReader().recognise(disk, None)


@pytest.mark.parametrize(
    "disk", [b"", b"\xe5", bytes(256256), b"\xe5" * 256256, b"\xe5" * 1000, bytes(range(256)) * 1001]
)
def test_empty_and_odd_images_are_not_taken_for_one(disk: bytes) -> None:
    assert list(DirectoryReader().recognise(disk, None)) == []


def test_files_with_holes_and_two_user_areas_do_not_mislead() -> None:
    shape, dice = Shape(), random.Random(2)
    sparse = Content(1, b"INDEX   DAT", {i: text(dice, 128) for i in [*range(8), *range(200, 216)]})
    files = [whole(0, "TIDE    TXT", text(dice, 9000)), sparse, whole(1, "TIDE    TXT", text(dice, 5000))]
    disk = write(shape, files)
    _, volume, _ = first(disk)
    assert same_files(disk, volume, files)
    index = volume.entries[1]
    assert index.size_bytes == 216 * 128
    assert any(one.start is None for one in index.extents)


def test_both_ways_to_count_records_are_told_apart_where_they_differ() -> None:
    dice = random.Random(3)
    for counts in ("last-extent", "whole-entry"):
        shape = Shape(40, 2, 10, 512, 2048, 128, 1, 1, counts=counts)
        files = [whole(0, f"TIDE{i}   TXT", text(dice, 20_000 + 3000 * i)) for i in range(6)]
        disk = write(shape, files)
        division, volume, _ = first(disk)
        assert division.record_counts == counts
        assert same_files(disk, volume, files)


def test_what_is_given_is_kept_and_the_rest_found() -> None:
    shape = Shape(skew=6)
    disk, files = filled(shape, 11, 0.5)
    division, volume, score = first(disk, parse("skew=6,reserved=2"))
    assert same_files(disk, volume, files)
    assert score >= 0.95
    assert first(disk, parse("directory=32"))[0].directory_entries == 32
    assert first(disk, parse("skew=1"))[0].skew == 1
    assert division.block_bytes == 1024


def test_an_empty_disk_is_read_once_its_division_is_said() -> None:
    shape = Shape()
    empty = write(shape, [])
    assert list(DirectoryReader().recognise(empty, None)) == []
    division, volume, _ = first(empty, parse("block=1024,directory=64,reserved=2,skew=6"))
    assert division == DiskParameters.of(parameter_block_rows()["8-77x1x26x128-2x1k64"])
    assert (volume.entries, volume.units, volume.free_units) == ((), 243, 241)


def test_a_row_of_the_table_and_the_bytes_of_a_block_can_be_given() -> None:
    disk, files = filled(Shape(skew=6), 12, 0.5)
    for said in ("8-77x1x26x128-2x1k64", "1A00 0307 00 F200 3F00 C000 1000 0200"):
        division, volume, _ = first(disk, parse(said))
        assert (division.blocks, division.skew) == (243, 6)
        assert same_files(disk, volume, files)


def test_a_division_says_itself_as_the_option_that_gives_it_again() -> None:
    for shape in SHAPES.values():
        disk, _ = filled(shape, 13, 0.5)
        grid = SectorGrid(
            heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes, cylinders=shape.cylinders
        )
        division, _, _ = first(disk, grid=grid)
        assert first(disk, parse(division.text), grid)[0] == division


def test_an_order_of_sectors_that_no_skew_gives_can_be_given() -> None:
    shape = Shape(40, 1, 5, 1024, 1024, 64, 3, 1)
    disk, files = filled(shape, 14, 0.5)
    order, track = (1, 4, 2, 5, 3), shape.track
    tracks = [disk[at : at + track] for at in range(0, len(disk), track)]
    turned = b"".join(
        one if number < 3 else b"".join(one[1024 * order.index(s) : 1024 * order.index(s) + 1024] for s in range(1, 6))
        for number, one in enumerate(tracks)
    )
    _, volume, _ = first(turned, parse("order=1/4/2/5/3,reserved=3"))
    assert same_files(turned, volume, files)


@pytest.mark.parametrize(
    "said",
    ["", " , ", "block", "block=", "block=x", "block=1000", "block=1k,block=1k", "colour=2", "skew=0", "skew=99",
     "order=1/1/2", "order=a/b", "track=0x128", "track=26", "sides=odd", "counts=none", "directory=99999", "offset=-1",
     "mask=2", "block=1024,mask=1", "00" * 15, "1A00030700F2003F00C0001000020", "offset=99999999999", "block=1024=2",
     "blocks=70000", "last=maybe", "records=0", "\0", "block=１０２４x"],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_a_hint(said: str) -> None:
    disk, _ = filled(Shape(), 15, 0.3)
    with pytest.raises(UsageError) as refused:
        DirectoryReader(parse(said)).recognise(disk, None)
    assert refused.value.code == "usage"
    assert refused.value.why
    assert refused.value.hint


def test_an_image_of_no_known_size_asks_for_the_track() -> None:
    shape = Shape(cylinders=61, sectors=23, skew=6)
    disk, files = filled(shape, 16, 0.4)
    with refuses(UsageError, "usage", "that is no disk parameter block") as refused:
        DirectoryReader(parse("block=1024,directory=64,reserved=2,skew=6")).recognise(disk, None)
    assert "track=26x128" in refused.value.hint
    _, volume, _ = first(disk, parse("block=1024,directory=64,reserved=2,skew=6,track=23x128"))
    assert same_files(disk, volume, files)


@settings(max_examples=200, deadline=None)
@given_values(st.text(max_size=60))
def test_any_text_is_understood_or_refused(said: str) -> None:
    try:
        assert parse(said).any
    except UsageError as refused:
        assert refused.code == "usage"


@settings(max_examples=30, deadline=None)
@given_values(st.integers(0, 1 << 32), st.sampled_from(list(SHAPES)))
def test_a_damaged_disk_is_answered_soon_whatever_it_holds(seed: int, name: str) -> None:
    dice, shape = random.Random(seed), SHAPES[name]
    disk = bytearray(filled(shape, seed % 50, 0.5)[0])
    start = shape.offset * shape.track
    for _ in range(dice.randint(1, 200)):
        disk[dice.randrange(start, start + 4096)] = dice.randrange(256)
    reader = DirectoryReader()
    started = time.process_time()
    for one in reader.recognise(bytes(disk), None):
        assert 0 <= one.score <= 1
        volume = reader.read(bytes(disk), one.answer, ReadingOptions(check=True, deleted=True))
        assert volume.units == one.answer.detail.parameters.blocks
    assert time.process_time() - started < 60


def test_a_directory_that_fills_the_whole_disk_is_answered_soon() -> None:
    shape = Shape(80, 2, 26, 128, 2048, 256, 0, 1)
    entries = b"".join(
        bytes([i % 16]) + b"%08dDAT" % i + bytes([1, 0, 0, 128]) + bytes([i % 250 + 1] * 16) for i in range(16640)
    )  # fmt: skip
    disk = lay(shape, entries.ljust(shape.size, b"\xe5"))
    started = time.process_time()
    found = DirectoryReader().recognise(disk, None)
    assert time.process_time() - started < 30
    assert all(one.score < 0.3 for one in found)


def test_a_disk_full_of_directories_is_searched_within_bounds_and_says_so() -> None:
    entry = b"\0TIDE    DAT\0\0\0\x08\x02\x03" + bytes(14)
    allowed = budget.Budget()
    with budget.spending(allowed):
        found = DirectoryReader().recognise(entry * (960 * 32), None)
        while allowed.steps_left > 0:   # as for the partitions of a disk
            found = DirectoryReader().recognise(entry * (960 * 32), None)
        assert any("not all divisions were tried" in one.says for one in found[0].evidence)
        with refuses(InputError, "too-much-work", "how the disk is divided takes too much searching"):
            DirectoryReader().recognise(entry * (960 * 32), None)
