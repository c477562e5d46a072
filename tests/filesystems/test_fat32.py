"""FAT32 volumes: as our own writer makes them, and as mkfs.fat, pyfatfs and fsck.fat see them."""

from __future__ import annotations

import random
import subprocess
import tracemalloc
import warnings
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.fat32_block import info
from imagekeeper.filesystems.model import Entry, ReadingOptions, Volume
from tests import tools

from .fat32_volumes import COPY, INFO, RESERVED, ROOT, Writer32
from .fat_volumes import Directory, File
from .fsck_agreement import MESSAGES, fsck

FILES = [
    File(b"TIDE    LOG", b"tide " * 900, long_name="Tide readings of march.log"),
    Directory(b"SURVEY     ", [File(b"GAUGE%03dDAT" % i, b"g" * (i * 40)) for i in range(40)]),
    File(b"EMPTY   TXT"),
]  # fmt: skip


def read(data: bytes, **how: Any) -> Volume:
    candidates = registry.recognise(data)
    assert candidates[0].answer.kind == "fat32"
    assert candidates[0].score >= 0.9
    return registry.read(data, candidates[0].answer, ReadingOptions(check=True, **how))


def codes(volume: Volume, least: str = "note") -> list[str]:
    weights = ("note", "warning", "fault")
    return [one.about for one in volume.findings if weights.index(one.severity) >= weights.index(least)]


def content(data: bytes, entry: Entry) -> bytes:
    return b"".join(entry.blocks(data))


@pytest.fixture(scope="module")
def sound() -> bytes:
    return Writer32().write(FILES)


def changed(data: bytes, at: int, value: bytes) -> bytes:
    return data[:at] + value + data[at + len(value) :]


def test_what_was_written_is_read(sound: bytes) -> None:
    volume = read(sound)
    assert codes(volume) == []
    files = {one.path: content(sound, one) for one in volume.entries if one.kind == "file"}
    assert files == {
        "Tide readings of march.log": b"tide " * 900, "EMPTY.TXT": b"",
        **{f"SURVEY/GAUGE{i:03d}.DAT": b"g" * (i * 40) for i in range(40)},
    }  # fmt: skip
    assert volume.title == "FAT32, 66000 clusters of 512 bytes"
    assert volume.parameters["root_cluster"] == ROOT
    assert volume.serial == "1234-5678"
    [root] = [one for one in volume.areas if one.name == "root directory"]
    assert root.start == Writer32().start_of(ROOT)


def test_a_root_directory_of_many_clusters_and_a_file_beyond_cluster_65535() -> None:
    writer = Writer32(clusters=70_000)
    writer.free = [one for one in writer.free if one > 69_000]   # the upper half of the first cluster is needed
    data = writer.write([File(b"GAUGE%03dDAT" % i, bytes([i]) * 700) for i in range(60)])
    volume = read(data)
    assert codes(volume) == []
    assert [content(data, one) for one in volume.entries] == [bytes([i]) * 700 for i in range(60)]
    assert {(one.extents[0].start or 0) > writer.start_of(69_000) for one in volume.entries} == {True}


FAT = RESERVED * 512


@pytest.mark.parametrize(("at", "value", "about"), [
    (FAT + 4 * ROOT, b"\x05\0\0\0", "chain-broken"),                     # the root directory leads back into itself
    (FAT + 4 * ROOT, b"\xff\xff\xff\x0e", "outside-volume/chain"),       # and outside
    (COPY * 512 + 13, b"\x08", "volume-header/copy"),
    (COPY * 512, bytes(512), "volume-header/copy"),
    (INFO * 512, b"x", "volume-header/no-info"),
    (INFO * 512 + 488, b"\x01\0\0\0", "volume-header/free"),
    (65, b"\x01", "volume-header/not-closed"),
    (FAT + 7, b"\x07", "table-start/flags"),
    (FAT + 7, b"\x0b", "table-start/flags"),
    (FAT + 4 * 66_000, b"\xff\xff\xff\x0f", "space-lost"),
    (82, b"FAT16   ", "volume-header/kind"),
    (36, b"\x02\0\0\0", "volume-header/room"),
])  # fmt: skip
def test_what_is_wrong_is_named(sound: bytes, at: int, value: bytes, about: str) -> None:
    data = changed(sound, at, value)
    if FAT <= at < FAT + 4 * 66_002:   # both copies alike
        data = changed(data, at + Writer32().shape.fat_sectors * 512, value)
    candidates = registry.recognise(data)
    volume = registry.read(data, candidates[0].answer, ReadingOptions(check=True))
    assert about in codes(volume)


def test_the_upper_four_bits_of_an_entry_do_not_count(sound: bytes) -> None:
    raw = bytearray(sound)
    size = Writer32().shape.fat_sectors * 512
    raw[FAT + 11 : FAT + 2 * size : 4] = bytes(byte | 0xA0 for byte in raw[FAT + 11 : FAT + 2 * size : 4])
    assert codes(read(bytes(raw))) == []


def test_where_one_copy_alone_is_kept_the_other_does_not_count(sound: bytes) -> None:
    data = changed(sound, 40, b"\x81\0")
    data = changed(data, COPY * 512 + 40, b"\x81\0")
    data = changed(data, FAT, b"\xf6" * 5120)
    volume = registry.read(data, registry.recognise(data)[0].answer, ReadingOptions(check=True))
    assert codes(volume) == []
    assert content(data, volume.entries[0]) == b"tide " * 900


@pytest.mark.parametrize("value", [b"\0\0\0\0", b"\x01\0\0\0", b"\xff\xff\xff\xff", b"\xd3\x01\x01\0"])
def test_a_root_directory_that_cannot_be_makes_no_volume(sound: bytes, value: bytes) -> None:
    assert registry.recognise(changed(sound, 44, value)) == ()


@pytest.mark.parametrize(("at", "value"), [
    (36, b"\xff\xff\xff\xff"), (32, b"\xff\xff\xff\xff"), (14, b"\xff\xff"), (13, b"\x80"), (42, b"\x01\0"),
])  # fmt: skip
def test_huge_values_cost_nothing(sound: bytes, at: int, value: bytes) -> None:
    data = changed(sound, at, value)
    tracemalloc.start()
    for one in registry.recognise(data):
        registry.read(data, one.answer, ReadingOptions(check=True, deleted=True))
    assert tracemalloc.get_traced_memory()[1] < 64 << 20
    tracemalloc.stop()


def made(path: Path, kib: int, *options: str) -> None:
    subprocess.run(
        [tools.path("mkfs.fat"), "-C", "-F", "32", *options, str(path), str(kib)], check=True, capture_output=True
    )


@tools.needs("mkfs.fat", "fsck.fat")
@pytest.mark.parametrize(
    ("kib", "options"), [
        (36_000, ("-s", "1")), (140_000, ("-s", "4", "-R", "9", "-b", "3")), (70_000, ("-S", "1024", "-s", "1")),
        (36_000, ("-s", "1", "-f", "1")), (4_000, ("-s", "1")),   # fewer clusters than the kind should have
    ],
)  # fmt: skip
def test_volumes_of_mkfs_filled_by_pyfatfs(tmp_path: Path, kib: int, options: tuple[str, ...]) -> None:
    """What mkfs.fat lays out and pyfatfs fills is read as pyfatfs reads it, and found as sound as fsck.fat finds it."""
    with warnings.catch_warnings():   # it asks setuptools for something that is going away
        warnings.simplefilter("ignore")
        from pyfatfs.PyFatFS import PyFatFS
    path = tmp_path / "a.img"
    made(path, kib, "-n", "HARBOUR", *options)
    chance = random.Random(kib)
    theirs: dict[str, bytes] | None = None
    if kib > 4_000:   # pyfatfs takes the small one for another kind
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with PyFatFS(str(path), encoding="cp437") as writer:
                for number in range(24):
                    folder = ["", "/LOGS", "/LOGS/MARCH", "/SURVEY"][number % 4]
                    writer.makedirs(folder or "/", recreate=True)
                    size = chance.choice([0, 1, 511, 512, 513, 4096, 70_000])
                    writer.writebytes(f"{folder}/TIDE{number}.DAT", chance.randbytes(size))
                writer.writebytes("/Gauge readings of march.txt", b"long")
            with PyFatFS(str(path), encoding="cp437", read_only=True) as reader:
                theirs = {name.lstrip("/"): reader.readbytes(name) for name in reader.walk.files("/")}
    data = path.read_bytes()
    volume = read(data)
    assert volume.label == "HARBOUR"
    if theirs is not None:
        assert {one.path: content(data, one) for one in volume.entries if one.kind == "file"} == theirs
    said = subprocess.run([tools.path("fsck.fat"), "-n", "-v", str(path)], capture_output=True, check=False)
    # pyfatfs does not keep the count of free clusters, which fsck.fat says as well
    ours = [one for one in codes(volume) if one != "volume-header/free"]
    assert ours == []
    assert (b"Free cluster summary wrong" in said.stdout) == ("volume-header/free" in codes(volume))
    figures = said.stdout.decode("latin-1")
    assert f"{volume.units - volume.free_units}/{volume.units} clusters" in figures


@tools.needs("fsck.fat")
def test_damaged_volumes_against_fsck(tmp_path: Path) -> None:
    """Whatever fsck.fat reports of a damaged FAT32 volume, a finding of ours stands beside it."""
    sound = Writer32().write(FILES)
    size = Writer32().shape.fat_sectors * 512
    path = tmp_path / "a.img"
    reported = 0
    for seed in range(25):
        chance = random.Random(f"fat32 {seed}")
        data = bytearray(sound)
        for _ in range(chance.randrange(1, 5)):
            first, last = chance.choice([(FAT + 8, FAT + 800), (Writer32().start_of(2), Writer32().start_of(60))])
            data[chance.randrange(first, last)] = chance.choice([0, 0xFF, chance.randrange(256)])
        data[FAT + size : FAT + 2 * size] = data[FAT : FAT + size]
        path.write_bytes(data)
        lines = fsck(tools.path("fsck.fat"), path, 0)
        reported += bool(lines)
        volume = registry.read(bytes(data), registry.recognise(bytes(data))[0].answer, ReadingOptions(check=True))
        ours = {one.partition("/")[0] for one in codes(volume)}
        if lines:
            assert ours, (seed, lines)
        assert any_of(lines, ours), (seed, lines, ours)
    assert reported >= 15


def any_of(lines: list[str], ours: set[str]) -> bool:
    import re

    wanted = [codes for line in lines for pattern, codes in MESSAGES if re.search(pattern, line)]
    return all(one & ours for one in wanted)


def test_the_sector_of_information_needs_its_marks() -> None:
    sector = bytearray(b"RRaA".ljust(484, b"\0") + b"rrAa" + b"\xff" * 8 + bytes(14) + b"\x55\xaa")
    told = info(bytes(sector))
    assert told is not None
    assert (told.free, told.next) == (None, None)
    sector[510] = 0
    assert info(bytes(sector)) is None
