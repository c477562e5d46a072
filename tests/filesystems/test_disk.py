"""Partitioned disks, geometries of hard disks, and lists of bad sectors."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.errors import ImagekeeperError
from imagekeeper.filesystems import bad_sectors
from imagekeeper.filesystems.disk import DiskVolumes, read_disk
from imagekeeper.filesystems.hard_disk import geometries
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid, SectorPlace
from imagekeeper.filesystems.partitions import is_partitioned, partitions
from imagekeeper.filesystems.problems import Problems
from imagekeeper.tables.hard_disks import hard_drives, hard_tracks

from .fat_volumes import File, Shape, Writer
from .hard_disks import disk, record, table

DISK = disk()


def names(read: DiskVolumes) -> list[tuple[int | None, str]]:
    return [(volume.partition, entry.path) for volume in read.volumes for entry in volume.entries]


def test_primary_and_logical_partitions_are_read() -> None:
    read = read_disk(DISK, ReadingOptions())
    assert names(read) == [(1, "TIDE.LOG"), (5, "GAUGE.DAT"), (6, "SURVEY.TXT")]
    assert [(one.number, one.kind, one.type) for one in read.partitions] == [
        (1, "primary", "01"), (2, "extended", "05"), (5, "logical", "01"), (6, "logical", "01"),
    ]  # fmt: skip
    assert read.findings == ()
    entry = read.volumes[1].entries[0]
    assert b"".join(entry.blocks(DISK)) == b"g" * 5000   # offsets are those of the image


def test_the_geometry_follows_from_the_partition_table_and_the_boot_sectors() -> None:
    read = read_disk(DISK, ReadingOptions())
    assert read.grid is not None
    assert read.grid.text == "306x4x17x512"
    assert read.geometries[0].score > 0.9
    assert any("counts to the right sector" in one.says for one in read.geometries[0].evidence)


def test_one_partition_alone() -> None:
    assert names(read_disk(DISK, ReadingOptions(), only=5)) == [(5, "GAUGE.DAT")]


def test_a_ring_of_logical_partitions_is_refused() -> None:
    read = read_disk(disk(loop=True), ReadingOptions())
    assert names(read) == [(1, "TIDE.LOG"), (5, "GAUGE.DAT"), (65, "SURVEY.TXT")]   # the last is found, not told
    assert [one.code for one in read.findings] == ["partition-damaged", "found-not-told"]
    assert "back into itself" in read.findings[0].why


@pytest.mark.parametrize("kind", [6, 5])
def test_a_damaged_record_does_not_hide_a_sound_partition(kind: int) -> None:
    image = bytearray(disk())
    lost = record(kind, 17, 100)[:8] + bytes.fromhex("f0ffffff 64000000")
    image[:512] = table(record(1, 17, 6783, active=True), lost)
    read = read_disk(bytes(image), ReadingOptions())
    assert (1, "TIDE.LOG") in names(read)
    assert "outside-volume" in [one.code for one in read.findings]


def test_partitions_that_overlap_or_leave_the_disk_are_named() -> None:
    problems = Problems()
    data = table(record(1, 17, 500), record(4, 100, 5000)).ljust(1000 * 512, b"\0")
    assert len(partitions(data, problems)) == 2
    assert [one.code for one in problems.found()] == ["outside-volume", "partition-damaged"]


def test_a_boot_sector_is_no_partition_table() -> None:
    data = Writer(Shape()).write([File(b"TIDE    LOG", b"t")])
    assert not is_partitioned(data[:512], len(data))
    assert names(read_disk(data, ReadingOptions())) == [(None, "TIDE.LOG")]


@settings(deadline=None, max_examples=60)
@given(st.binary(min_size=64, max_size=64), st.integers(0, 20))
def test_any_table_ends(raw: bytes, sectors: int) -> None:
    data = bytes(446) + raw + b"\x55\xaa" + (bytes(446) + raw + b"\x55\xaa") * sectors
    problems = Problems()
    assert len(partitions(data, problems)) <= 4 + 4 * 60
    read_disk(data, ReadingOptions(check=True))


@pytest.mark.parametrize(
    ("drive", "track", "size"),
    [
        ("153x4", "mfm-17", 5_326_848), ("306x4", "mfm-17", 10_653_696), ("612x4", "mfm-17", 21_307_392),
        ("615x4", "rll-26", 32_747_520), ("820x6", "mfm-17", 42_823_680), ("977x5", "rll-26", 65_029_120),
        ("900x15", "mfm-17", 117_504_000),
    ],
)  # fmt: skip
def test_sizes_of_classes_of_drives(drive: str, track: str, size: int) -> None:
    """Cylinders x heads x sectors x 512, worked out by hand from the geometries of the AT BIOS table and others."""
    assert hard_drives()[drive].bytes(hard_tracks()[track]) == size
    answers = geometries(size)
    assert drive in {f"{one.answer.cylinders}x{one.answer.heads}" for one in answers}


def test_the_820x6_class_has_no_bios_type() -> None:
    """The AT BIOS table has 820 x 3 and not 820 x 6."""
    assert hard_drives()["820x6"].bios_types == ()
    assert hard_drives()["820x3"].bios_types == (10,)


def test_a_size_alone_that_several_drives_have_stays_open() -> None:
    """306x8 and 612x4 have the same size: without other evidence neither is certain."""
    answers = geometries(612 * 4 * 17 * 512)
    assert {one.answer.text for one in answers[:2]} == {"306x8x17x512", "612x4x17x512"}
    assert answers[0].score < 0.7


# ---- bad sectors


def test_files_that_bad_sectors_touch_are_marked() -> None:
    read = read_disk(DISK, ReadingOptions())
    assert read.grid is not None
    gauge = read.volumes[1].entries[0]
    assert gauge.extents[0].start is not None
    place = read.grid.place(gauge.extents[0].start + 600)
    listed = bad_sectors.parse(
        f"cylinder,head,sector,state\n{place.cylinder},{place.head},{place.sector},missing\n0,0,1,good\n", "bad.csv"
    )
    marked = bad_sectors.mark(read.volumes[1], bad_sectors.extents(listed, read.grid))
    [extent] = marked.entries[0].bad
    assert (extent.start, extent.length) == (gauge.extents[0].start + 512, 512)
    assert [one.code for one in marked.findings] == ["bad-sector-in-file"]
    assert marked.findings[0].detail["path"] == "GAUGE.DAT"
    other = bad_sectors.mark(read.volumes[0], bad_sectors.extents(listed, read.grid))
    assert other == read.volumes[0]


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("", 1, "first line"), ("a,b,c,d\n", 1, "first line"), ("cylinder,head,sector,state\nx,1,1,bad\n", 2, "three"),
        ("cylinder,head,sector,state\n1,1,1,bad\n1,1,2,odd\n", 3, "no state"),
        ("cylinder,head,sector,state\n1,1\n", 2, "three"),
    ],
)  # fmt: skip
def test_a_list_that_is_none_is_refused_with_its_line(text: str, line: int, says: str) -> None:
    with pytest.raises(ImagekeeperError) as caught:
        bad_sectors.parse(text, "bad.csv")
    assert (caught.value.code, caught.value.where.line) == ("table-form", line)
    assert says in caught.value.why


def test_a_sector_that_the_disk_does_not_have_is_refused() -> None:
    listed = bad_sectors.parse("cylinder,head,sector,state\n40,0,1,bad\n", "bad.csv")
    with pytest.raises(ImagekeeperError) as caught:
        bad_sectors.extents(listed, SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40))
    assert caught.value.code == "does-not-fit"


@given(
    st.integers(1, 16), st.integers(1, 63), st.sampled_from([128, 256, 512, 1024]), st.integers(0, 1),
    st.one_of(st.none(), st.tuples(st.integers(1, 30), st.sampled_from([128, 256]))), st.integers(0, 10**7),
)  # fmt: skip
def test_places_and_offsets_are_inverse(
    heads: int, sectors: int, size: int, first: int, first_track: tuple[int, int] | None, offset: int
) -> None:
    grid = SectorGrid(
        heads=heads, sectors=sectors, sector_bytes=size, cylinders=None, first_sector=first, first_track=first_track
    )
    place = grid.place(offset)
    assert grid.holds(place)
    assert grid.offset(place) <= offset < grid.offset(place) + grid.size_at(place)
    assert grid.place(grid.offset(place)) == place
    assert not grid.holds(SectorPlace(place.cylinder, heads, place.sector))
