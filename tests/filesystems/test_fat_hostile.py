"""Volumes made to do harm: circles, everything shared with everything, absurd numbers. All end soon, with findings."""

from __future__ import annotations

import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.model import ReadingOptions, Volume

from .fat_volumes import Directory, File, Shape, Writer, shape_for

#: Far above what any of them takes. [s]
SOON = 5.0


def read(data: bytes) -> Volume:
    started = time.process_time()
    candidates = registry.recognise(data)
    assert candidates
    volume = registry.read(data, candidates[0].answer, ReadingOptions(check=True, deleted=True))
    assert time.process_time() - started < SOON
    return volume


def codes(volume: Volume) -> set[str]:
    return {one.code for one in volume.findings}


def test_a_directory_that_holds_itself() -> None:
    writer = Writer(Shape())
    image = bytearray(writer.write([Directory(b"RING       ", [Directory(b"INNER      ")])]))
    at = image.index(b"INNER      ")
    image[at + 26 : at + 28] = b"\x02\0"   # the first cluster of RING
    volume = read(bytes(image))
    assert [one.path for one in volume.entries] == ["RING", "RING/INNER"]
    assert codes(volume) >= {"space-shared", "directory-damaged"}


def test_directories_that_hold_each_other() -> None:
    writer = Writer(Shape())
    first, second = File(b"A       TXT"), File(b"B       TXT")
    image = bytearray(writer.write([Directory(b"ONE        ", [first]), Directory(b"TWO        ", [second])]))
    for name, cluster in ((b"A       TXT", 3), (b"B       TXT", 2)):
        at = image.index(name)
        image[at + 11], image[at + 26] = 0x10, cluster
    volume = read(bytes(image))
    assert len(volume.entries) < 8
    assert "directory-damaged" in codes(volume)


def test_a_chain_that_is_a_ring() -> None:
    writer = Writer(Shape())
    writer.write([File(b"RING    DAT", bytes(3000))])
    writer.fat[4] = 2
    volume = read(rewritten(writer))
    [entry] = volume.entries
    assert sum(one.length for one in entry.extents) == 3000
    assert any("leads back into itself" in one.why for one in volume.findings)


def rewritten(writer: Writer) -> bytes:
    image, table, shape = bytearray(writer.image), writer.table(), writer.shape
    for number in range(shape.fats):
        at = (shape.reserved + number * shape.fat_sectors) * shape.sector
        image[at : at + len(table)] = table
    return bytes(image)


def test_every_file_is_the_whole_disk() -> None:
    """Thousands of entries that all follow one chain of 60,000 clusters do not take thousands of chains' time."""
    writer = Writer(shape_for(60000, cluster_sectors=1, root_entries=4096))
    writer.write([File(b"%08dDAT" % number) for number in range(4000)])
    for cluster in range(2, 60001):
        writer.fat[cluster] = cluster + 1
    writer.fat[60001] = writer.end
    image = bytearray(rewritten(writer))
    for number in range(4000):
        at = writer.shape.root_start + 32 * number
        image[at + 26 : at + 32] = (2).to_bytes(2, "little") + (60000 * 512).to_bytes(4, "little")
    volume = read(bytes(image))
    assert "space-shared" in codes(volume)
    assert len(volume.findings) < 1000


def test_a_volume_full_of_directories() -> None:
    """Every cluster is a directory that holds all others: each is read once."""
    writer = Writer(shape_for(1500, cluster_sectors=1))
    writer.write([])
    record = [writer.plain(b"D%07d   " % n, 0x10, n, 0, 0x16A5, 0) for n in range(2, 1502)]
    image = bytearray(writer.image)
    chance = random.Random(1)
    for cluster in range(2, 1502):
        writer.fat[cluster] = writer.end
        inside = b"".join(chance.choices(record, k=16))
        image[writer.start_of(cluster) : writer.start_of(cluster) + 512] = inside
    image[writer.shape.root_start : writer.shape.root_start + 32] = record[0]
    writer.image = image
    volume = read(rewritten(writer))
    assert len(volume.entries) <= 16 * 1501
    assert "directory-damaged" in codes(volume)


def test_directories_deeper_than_any_system_goes() -> None:
    writer = Writer(Shape(cluster_sectors=1, fat_sectors=9, root_entries=224, total=2880, media=0xF0, track=18))
    tree: list[File | Directory] = []
    for _ in range(200):
        tree = [Directory(b"DEEPER     ", tree)]
    volume = read(writer.write(tree))
    assert len(volume.entries) <= 65
    assert any("directories deep" in one.why for one in volume.findings)


@settings(deadline=None, max_examples=150)
@given(st.dictionaries(st.integers(0, 61), st.integers(0, 255), max_size=12))
def test_absurd_parameter_blocks(fields: dict[int, int]) -> None:
    image = bytearray(Writer(Shape()).write([File(b"TIDE    LOG", b"t" * 3000)]))
    for at, value in fields.items():
        image[at] = value
    started = time.process_time()
    for one in registry.recognise(bytes(image)):
        registry.read(bytes(image), one.answer, ReadingOptions(check=True, deleted=True))
    assert time.process_time() - started < SOON


@settings(deadline=None, max_examples=100)
@given(st.binary(min_size=0, max_size=4096), st.integers(0, 3))
def test_anything_can_be_looked_at(noise: bytes, cut: int) -> None:
    """Noise behind a sound boot sector, and an image cut anywhere, are read without an error."""
    sector = Writer(Shape()).boot_sector()
    data = (sector + noise)[: len(sector) + len(noise) - cut]
    for one in registry.recognise(data):
        volume = registry.read(data, one.answer, ReadingOptions(check=True, deleted=True))
        for entry in volume.entries:
            assert all(part.start is None or part.start + part.length <= len(data) for part in entry.extents)


@pytest.mark.parametrize("size", [0, 1, 511, 512])
def test_next_to_nothing(size: int) -> None:
    assert registry.recognise(bytes(size)) == ()
