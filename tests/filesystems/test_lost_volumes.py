"""Volumes of hard disks that no table tells of: a lost first sector, a broken chain, sectors too many or too few."""

from __future__ import annotations

import json
import random
import subprocess
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.cli import run
from imagekeeper.filesystems import lost_volumes
from imagekeeper.filesystems.disk import DiskVolumes, read_disk
from imagekeeper.filesystems.disk_marks import MOST_MARKS, marks
from imagekeeper.filesystems.model import ReadingOptions
from imagekeeper.filesystems.partitions import partitions
from imagekeeper.filesystems.problems import Problems
from tests import tools

from .fat32_volumes import Writer32
from .fat_volumes import File, Shape, Writer
from .hard_disks import HEADS, SECTORS, disk, record, table

DISK = disk()
CYLINDER = HEADS * SECTORS * 512
FILES = ["TIDE.LOG", "GAUGE.DAT", "SURVEY.TXT"]


def changed(at: int, value: bytes, data: bytes = DISK) -> bytes:
    return data[:at] + value + data[at + len(value) :]


def found(read: DiskVolumes) -> list[tuple[int, str]]:
    return [(one.start, one.kind) for one in read.partitions]


def names(read: DiskVolumes) -> list[str]:
    return [entry.path for volume in read.volumes for entry in volume.entries]


def abouts(read: DiskVolumes) -> list[str]:
    return [one.about for one in read.findings]


STARTS = [17 * 512, 100 * CYLINDER + 17 * 512, 200 * CYLINDER + 17 * 512]


@pytest.mark.parametrize("fill", [0x00, 0xE5, 0xF6, 0x6C])
def test_a_lost_first_sector(fill: int) -> None:
    read = read_disk(changed(0, bytes([fill]) * 512), ReadingOptions())
    assert found(read) == [(start, "found") for start in STARTS]
    assert names(read) == FILES
    assert abouts(read) == ["found-not-told/no-table"] + ["found-not-told/volume"] * 3
    for one in read.partitions:
        assert one.confidence is not None
        assert 0.9 <= one.confidence < 1   # found is never as sure as told
        assert one.evidence
    assert [one.number for one in read.partitions] == [65, 66, 67]
    assert read.grid is not None
    assert read.grid.text == "306x4x17x512"


def test_a_whole_first_track_lost() -> None:
    read = read_disk(changed(0, bytes(17 * 512)), ReadingOptions())
    assert names(read) == FILES


def test_what_was_found_says_that_it_was_not_told() -> None:
    read = read_disk(changed(0, bytes(512)), ReadingOptions())
    boot = read.volumes[0].boot
    assert boot is not None
    assert any("no table states where it lies" in one.says for one in boot.evidence)
    assert "found by its boot sector" in read.findings[1].why
    assert "no table tells of it" in read.findings[1].why
    assert read.partitions[0].type == ""


@pytest.mark.parametrize("link", [100, 200])
@pytest.mark.parametrize("value", [bytes(512), b"\xf6" * 512])
def test_one_broken_link_of_the_chain(link: int, value: bytes) -> None:
    """What lies behind the link is found; what the table and the rest of the chain tell is told."""
    read = read_disk(changed(link * CYLINDER, value), ReadingOptions())
    assert sorted(names(read)) == sorted(FILES)
    kinds = {one.start: one.kind for one in read.partitions}
    assert kinds[STARTS[0]] == "primary"
    assert kinds[STARTS[2]] == "found"
    assert kinds[STARTS[1]] == ("found" if link == 100 else "logical")
    assert "partition-damaged/no-table" in abouts(read)


def test_a_link_that_leads_nowhere_leaves_its_table_as_evidence() -> None:
    """The onward record of the first link is lost: the second table is not, and speaks for what it states."""
    read = read_disk(changed(100 * CYLINDER + 446 + 16, bytes(16)), ReadingOptions())
    [one] = [one for one in read.partitions if one.kind == "found"]
    assert one.start == STARTS[2]
    assert any("to which nothing leads" in reason.says for reason in one.evidence)


def test_a_table_to_which_nothing_leads_is_offered_where_the_boot_sector_is_lost_too() -> None:
    data = changed(100 * CYLINDER + 446 + 16, bytes(16))
    read = read_disk(changed(STARTS[2], bytes(512), data), ReadingOptions())
    [one] = [one for one in read.partitions if one.kind == "found"]
    assert (one.start, one.type) == (STARTS[2], "01")
    assert "found-not-told/table" in abouts(read)


@pytest.mark.parametrize(("data", "starts", "about", "count"), [
    (DISK[512:], [start - 512 for start in STARTS], "earlier", 1),                             # the first is left out
    (DISK[:1024] + DISK[1536:], [start - 512 for start in STARTS], "earlier", 1),
    (DISK[:512] + DISK[:512] + DISK[512:], [start + 512 for start in STARTS], "later", 1),     # the first stands twice
    (DISK[:4096] + bytes(1024) + DISK[4096:], [start + 1024 for start in STARTS], "later", 2),
])  # fmt: skip
def test_sectors_too_many_or_too_few_before_the_volumes(
    data: bytes, starts: list[int], about: str, count: int
) -> None:
    read = read_disk(data, ReadingOptions())
    assert [one.start for one in read.partitions if one.kind == "found"] == starts
    assert names(read) == FILES
    shifts = [one for one in read.findings if one.code == "sectors-shifted"]
    assert shifts
    assert {(one.about, one.detail["sectors"]) for one in shifts} == {
        (f"sectors-shifted/{about}", -count if about == "earlier" else count)
    }


def test_a_floppy_image_in_a_file_is_no_volume_of_the_disk() -> None:
    floppy = Writer(Shape()).write([File(b"INSIDE  TXT", b"i")])
    volume = Writer(Shape(
        cluster_sectors=4, fat_sectors=12, root_entries=512, total=6783, media=0xF8, track=SECTORS, heads=HEADS
    )).write([File(b"FLOPPY  IMG", floppy)])  # fmt: skip
    data = changed(0, bytes(512), changed(STARTS[0], volume))
    read = read_disk(data, ReadingOptions())
    assert [one.start for one in read.partitions] == STARTS
    assert names(read) == ["FLOPPY.IMG", *FILES[1:]]


def test_nothing_is_searched_for_on_a_sound_disk() -> None:
    read = read_disk(DISK, ReadingOptions())
    assert [one.kind for one in read.partitions] == ["primary", "extended", "logical", "logical"]
    assert read.findings == ()


def test_the_second_half_of_fat32_is_found_by_the_copy_of_its_boot_sector() -> None:
    writer = Writer32(hidden=68, track=17)
    volume = writer.write([File(b"TIDE    LOG", b"t" * 900)])
    data = bytes(68 * 512) + bytes(512) + volume[512:] + bytes(17 * 512)
    read = read_disk(data, ReadingOptions(check=True))
    [one] = read.partitions
    assert (one.start, one.kind) == (68 * 512, "found")
    assert any("the copy of it" in reason.says for reason in one.evidence)
    assert names(read) == ["TIDE.LOG"]


@tools.needs("mkfs.fat")
def test_volumes_of_mkfs_are_found_where_it_puts_them(tmp_path: Path) -> None:
    """mkfs.fat writes how many sectors lie before the volume (-h); a disk of them with its first sector lost."""
    disk_of = bytearray(64 << 20)
    starts = []
    for number, (kind, kib, start) in enumerate([("12", 4000, 63), ("16", 20_000, 16 * 63 * 20)]):
        path = tmp_path / f"{number}.img"
        subprocess.run(
            [tools.path("mkfs.fat"), "-C", "-F", kind, "-h", str(start), "-n", f"VOLUME{number}", str(path), str(kib)],
            check=True, capture_output=True,
        )  # fmt: skip
        data = path.read_bytes()
        disk_of[start * 512 : start * 512 + len(data)] = data
        starts.append(start * 512)
    read = read_disk(bytes(disk_of), ReadingOptions(check=True))
    assert [one.start for one in read.partitions] == starts
    assert [one.label for one in read.volumes] == ["VOLUME0", "VOLUME1"]
    assert all(any("which is where it lies" in reason.says for reason in one.evidence) for one in read.partitions)


# ---- clean disks, and hostile ones


def test_random_bytes_hold_no_volume() -> None:
    """No mark is offered as a volume in 64 MiB of bytes without any sense."""
    chance = random.Random("found in nothing")
    data = chance.randbytes(64 << 20)
    assert lost_volumes.search(data, (), ()).found == ()


@settings(deadline=None, max_examples=100)
@given(st.binary(min_size=512, max_size=512), st.integers(0, 9000), st.integers(0, 511))
def test_any_bytes_in_the_place_of_boot_sectors_end(raw: bytes, sector: int, cut: int) -> None:
    boot = DISK[STARTS[0] : STARTS[0] + 512]
    sick = boot[:cut] + raw[cut:]
    data = changed(0, bytes(512), changed(STARTS[0], sick, changed(sector * 512, sick)))
    read = read_disk(data[: 12_000 * 512], ReadingOptions(check=True))
    for one in read.partitions:
        assert 0 <= one.start < one.end <= 12_000 * 512


def test_a_disk_full_of_boot_sectors_is_bounded() -> None:
    boot = DISK[STARTS[0] : STARTS[0] + 2048]   # with the beginning of its FAT
    data = bytes(512) + boot * (32 << 20 >> 11)
    begun = time.process_time()
    assert len(list(marks(data, [(0, len(data))]))) == MOST_MARKS
    read = read_disk(data, ReadingOptions())
    assert time.process_time() - begun < 60
    assert sum(one.kind == "found" for one in read.partitions) <= lost_volumes.MOST_FOUND
    assert "found-not-told/more-volumes" in abouts(read)


def test_one_partition_that_holds_others_overlaps_each_of_them() -> None:
    problems = Problems()
    data = table(record(1, 17, 5000), record(1, 100, 50), record(1, 400, 50), record(1, 6000, 10))
    partitions(data.ljust(6500 * 512, b"\0"), problems)
    overlaps = [one.detail["partitions"] for one in problems.found() if one.about == "partition-damaged/overlap"]
    assert overlaps == [[1, 2], [1, 3]]


def test_partitions_that_all_begin_at_one_place_cost_no_more_than_the_entries_of_a_disk(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("imagekeeper.filesystems.disk.MOST_ENTRIES", 2)
    data = table(*[record(1, 17, 6783)] * 4) + DISK[512 : 6800 * 512] + bytes(2 << 20)
    read = read_disk(data, ReadingOptions())
    assert len(read.volumes) == 2
    assert abouts(read).count("directory-damaged/too-many-of-all") == 2


def test_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "office.img"
    path.write_bytes(changed(0, bytes(512)))
    assert run(["files", "list", str(path)]) == 1
    text = capsys.readouterr().out
    assert "found by its boot sector" in " ".join(text.split())
    assert run(["files", "list", str(path), "--partition", "66", "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    assert [one["path"] for volume in document["volumes"] for one in volume["entries"]] == ["GAUGE.DAT"]
    assert document["partitions"][1]["confidence"] >= 0.9
    folder = tmp_path / "out"
    assert run(["files", "extract", str(path), "SURVEY.TXT", "-o", str(folder)]) == 1   # taken out, not vouched for
    assert (folder / "partition-67" / "SURVEY.TXT").read_bytes() == b"s" * 100
    assert run(["files", "list", str(path), "--partition", "5"]) != 0
    said = capsys.readouterr()
    assert "65, 66, 67" in said.out + said.err


@pytest.mark.parametrize("lost", [100, 511])
def test_an_image_that_lost_part_of_a_sector(lost: int) -> None:
    read = read_disk(DISK[lost:], ReadingOptions())
    assert names(read) == FILES
    assert [one.start for one in read.partitions] == [start - lost for start in STARTS]
    assert any("behind the beginning of a sector" in one.says for one in read.partitions[0].evidence)
