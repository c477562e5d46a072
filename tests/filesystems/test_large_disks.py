"""Hard disks of 8 GiB: nothing that is done with one takes more than 512 MiB of memory. The files are sparse."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from array import array
from pathlib import Path

import pytest

from .fat32_volumes import COPY, INFO, RESERVED, Writer32
from .hard_disks import record, table

SIZE = 8 << 30

MOST = 512 << 20

#: Runs a command, or something else, and writes the most memory that it held to the end of what it says.
HEAD = """
import sys
from imagekeeper.cli import run
def held():
    with open("/proc/self/status") as lines:
        return next(int(line.split()[1]) * 1024 for line in lines if line.startswith("VmHWM"))
"""
COMMAND = HEAD + "code = run(sys.argv[1:]); print(); print(code, held())"

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not say what a program holds"),
]


def ran(*arguments: str, program: str = COMMAND) -> tuple[int, str]:
    """Run it on its own; its exit code and output."""
    done = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=True)
    out, last = done.stdout.rstrip().rsplit("\n", 1)
    code, most = map(int, last.split())
    assert most < MOST, f"{most >> 20} MiB"
    return code, out


def disk(
    path: Path, *, cluster_sectors: int = 8, first: bool = True, worst: bool = False, size: int = SIZE
) -> bytes:
    """A disk with a FAT32 volume that fills it; gives what TIDE.LOG holds, which ends near the end of the disk."""
    start = 63
    room = size // 512 - start - RESERVED
    clusters = room * 512 // (cluster_sectors * 512 + 8) - 2
    fat_sectors = -(-(clusters + 2) * 4 // 512)
    small = Writer32(clusters=100, cluster_sectors=cluster_sectors, hidden=start, track=63)
    data = start + RESERVED + 2 * fat_sectors
    content = bytes(range(256)) * 16 * cluster_sectors
    with path.open("wb") as file:
        def put(sector: int, what: bytes) -> None:
            file.seek(sector * 512)
            file.write(what)

        file.truncate(size)
        total = RESERVED + 2 * fat_sectors + clusters * cluster_sectors
        if first:
            put(0, table(record(0x0C, start, total, at=start)))
        boot = bytearray(small.boot_sector())
        struct.pack_into("<I", boot, 32, total)
        struct.pack_into("<I", boot, 36, fat_sectors)
        info = b"RRaA".ljust(484, b"\0") + b"rrAa" + b"\xff" * 8
        for at, what in ((0, bytes(boot)), (INFO, info.ljust(510, b"\0") + b"\x55\xaa")):
            put(start + at, what)
            put(start + COPY + at, what)
        count = len(content) // (cluster_sectors * 512)
        begin = clusters - count
        root = small.plain(b"TIDE    LOG", 0x20, begin, len(content), 0x16A5, 0x7194)
        if worst:   # eight files that run through all of the disk, and a second FAT that says something else
            root += b"".join(
                small.plain(b"RUN%d    DAT" % i, 0x20, 6 + 1000 * i, 0xFFFF_FFFF, 0, 0) for i in range(8)
            )
            first_fat = array("I", range(1, begin + 1))
            first_fat[6 - 1] = first_fat[-1] = 0x0FFF_FFFF
            other = array("I", [0, 5]) * (begin // 2)
        else:
            first_fat = other = array("I", [0] * 6)
        for copy, fat in enumerate((first_fat, other)):
            fat[0], fat[1], fat[5] = 0x0FFF_FFF8, 0x0FFF_FFFF, 0x0FFF_FFFF
            put(start + RESERVED + copy * fat_sectors, fat.tobytes())
            file.seek((start + RESERVED + copy * fat_sectors) * 512 + begin * 4)
            file.write(struct.pack(f"<{count}I", *range(begin + 1, begin + count), 0x0FFF_FFFF))
        put(data + 3 * cluster_sectors, root)
        put(data + (begin - 2) * cluster_sectors, content)
    return content


def test_listing_checking_and_taking_out(tmp_path: Path) -> None:
    path = tmp_path / "disk.img"
    content = disk(path)
    code, out = ran("files", "check", str(path), "--json")
    assert (code, json.loads(out)["findings"]) == (0, [])
    code, out = ran("files", "list", str(path), "--json")
    assert [one["path"] for one in json.loads(out)["volumes"][0]["entries"]] == ["TIDE.LOG"]
    code, out = ran("files", "extract", str(path), "-o", str(tmp_path / "out"), "--json")
    assert code == 0
    assert (tmp_path / "out" / "TIDE.LOG").read_bytes() == content


def test_a_disk_without_its_first_sector_is_looked_through_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "disk.img"
    disk(path, first=False)
    code, out = ran("files", "list", str(path), "--json")
    document = json.loads(out)
    assert code == 1
    assert [one["kind"] for one in document["partitions"]] == ["found"]
    assert [one["path"] for one in document["volumes"][0]["entries"]] == ["TIDE.LOG"]


def test_the_worst_that_a_table_can_say(tmp_path: Path) -> None:
    """Clusters of one sector, copies of the FAT that differ everywhere, files that all run through the whole disk."""
    path = tmp_path / "disk.img"
    disk(path, cluster_sectors=1, worst=True, size=2 << 30)   # four times the memory, one sector a cluster
    code, out = ran("files", "check", str(path), "--json")
    assert code == 1
    found = {one["code"] for one in json.loads(out)["findings"]}
    assert {"tables-differ", "space-shared"} <= found


def test_merging_reads_of_8_gib(tmp_path: Path) -> None:
    """Two reads that lack different parts, and a list of the stretches of each."""
    names = []
    for number in (0, 1):
        path = tmp_path / f"{number}.img"
        disk(path)
        with path.open("r+b") as file:   # 192 MiB of each were not read
            for at in range(0, 192 << 20, 8 << 20):
                file.seek((2 + 3 * number << 30) + at)
                file.write(b"\xf6" * 4096)
        names.append(str(path))
    program = HEAD + """
from imagekeeper import files
from imagekeeper.filesystems.bad_sectors import BadStretch
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.disk_merge import DiskMergeAccount
from imagekeeper.filesystems.model import ReadingOptions
with open(sys.argv[1], "rb") as one, open(sys.argv[2], "rb") as other:
    reads = [files.FileData(file, 8 << 30, "read") for file in (one, other)]
    grid = read_disk(reads[0], ReadingOptions()).grid
    lists = [[BadStretch((2 + 3 * number) << 30, 192 << 20, "missing")] for number in (0, 1)]
    account = DiskMergeAccount(reads, lists, grid)
    size = sum(map(len, account.blocks()))
print(size, sum(account.not_good.values()), account.supplied)
print(0, held())
"""
    _, out = ran(*names, program=program)
    size, left, _, taken = out.replace("(", "").replace(")", "").replace(",", "").split()
    assert (int(size), int(left)) == (SIZE, 0)
    assert int(taken) == 8 * 24   # the sectors that are not alike in both
