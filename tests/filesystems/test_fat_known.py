"""Volumes that other programs make: mkfs.fat lays them out, pyfatfs fills them, and all three must agree."""

from __future__ import annotations

import random
import subprocess
import warnings
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.filesystems import fat_layout, registry
from imagekeeper.filesystems.model import Entry, ReadingOptions, Volume
from imagekeeper.tables.floppy import format_rows
from tests import tools

#: Cluster counts that Microsoft prints in Q75131, by the size in KiB; it prints none for 8 inch that is right.
PUBLISHED = {160: 313, 180: 351, 320: 315, 360: 354, 720: 713, 1200: 2371, 1440: 2847, 2880: 2863}


def made(path: Path, kib: int, *options: str) -> bytes:
    subprocess.run([tools.path("mkfs.fat"), "-C", *options, str(path), str(kib)], check=True, capture_output=True)
    return path.read_bytes()


def volume(data: bytes, **how: Any) -> Volume:
    candidates = registry.recognise(data)
    assert candidates, "nothing was recognised"
    assert candidates[0].answer.reader == "fat"
    return registry.read(data, candidates[0].answer, ReadingOptions(check=True, **how))


def content(data: bytes, entry: Entry) -> bytes:
    return b"".join(entry.blocks(data))


@pytest.mark.parametrize("kib", PUBLISHED)
def test_published_cluster_counts(kib: int) -> None:
    """The layout taken from the table has as many clusters as Microsoft, Q75131, prints."""
    rows = [row for row in format_rows().values() if row.bytes == kib * 1024 and row.title.startswith("PC")]
    assert rows
    assert {fat_layout.of_format(row).clusters for row in rows if row.fat} == {PUBLISHED[kib]}


def test_the_8_inch_disk_counts_its_root_directory() -> None:
    """The rule gives 493 where Q75131 prints 497, which forgets the root directory."""
    assert fat_layout.of_format(format_rows()["8-77x1x26x128-fm"]).clusters == 493


@tools.needs("mkfs.fat")
@pytest.mark.parametrize("kib", [360, 720, 1200, 1440, 2880])
def test_floppy_sizes_as_mkfs_lays_them_out(tmp_path: Path, kib: int) -> None:
    """For the sizes that mkfs.fat knows its cluster counts are those published."""
    data = made(tmp_path / "a.img", kib)
    read = volume(data)
    assert (read.units, read.free_units) == (PUBLISHED[kib], PUBLISHED[kib])
    assert read.length == len(data)
    assert read.kind == "fat12"
    assert read.findings == ()


@tools.needs("mkfs.fat")
@pytest.mark.parametrize(
    ("kib", "options"),
    [
        (160, ()), (180, ()), (320, ()), (1440, ("-s", "4")), (1440, ("-s", "1", "-R", "7")), (2880, ("-f", "1")),
        (8192, ("-F", "16", "-s", "1")), (20480, ("-F", "16", "-s", "4", "-R", "8")), (40960, ("-F", "16")),
        (4096, ("-F", "12", "-s", "8", "-r", "512")), (720, ("-S", "1024", "-r", "128")),
        (65536, ("-F", "16", "-s", "8", "-S", "1024")),
    ],
)  # fmt: skip
def test_odd_layouts_filled_by_pyfatfs(tmp_path: Path, kib: int, options: tuple[str, ...]) -> None:
    """Whatever the cluster size and the number of reserved sectors, names and contents are those that pyfatfs gives."""
    with warnings.catch_warnings():   # it asks setuptools for something that is going away
        warnings.simplefilter("ignore")
        from pyfatfs.PyFatFS import PyFatFS
    path = tmp_path / "a.img"
    made(path, kib, *options)
    chance = random.Random(kib)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with PyFatFS(str(path), encoding="cp437") as writer:
            for number in range(12):
                folder = ["", "/LOGS", "/LOGS/MARCH", "/SURVEY"][number % 4]
                writer.makedirs(folder or "/", recreate=True)
                size = chance.choice([0, 1, 511, 512, 513, 4096, 7000])
                writer.writebytes(f"{folder}/TIDE{number}.DAT", chance.randbytes(size))
            writer.writebytes("/Gauge readings of march.txt", b"long")
        with PyFatFS(str(path), encoding="cp437", read_only=True) as reader:
            theirs = {name.lstrip("/"): reader.readbytes(name) for name in reader.walk.files("/")}
            folders = {name.lstrip("/") for name in reader.walk.dirs("/")}
    data = path.read_bytes()
    read = volume(data)
    assert {one.path: content(data, one) for one in read.entries if one.kind == "file"} == theirs
    assert {one.path for one in read.entries if one.kind == "directory"} == folders
    assert all(one.complete and one.modified for one in read.entries)
    assert [one.code for one in read.findings if one.severity != "note"] == []
    used = sum(-(-one.size_bytes // read.unit_bytes) for one in read.entries if one.kind == "file") + sum(
        sum(part.length for part in one.extents) // read.unit_bytes for one in read.entries if one.kind == "directory"
    )
    assert read.free_units == read.units - used
