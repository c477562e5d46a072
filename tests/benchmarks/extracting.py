"""Whether a damaged disk gives a wrong file without a word; run by hand.

    python -m tests.benchmarks.extracting [VOLUMES] [--from SEED] [--sound]

Volumes with FATs, which mkfs.fat lays out and pyfatfs fills or the tests' own writer makes, and directories of 8-bit
machines, are damaged where the file system keeps its own, or sectors are replaced by what readers leave (F6, E5, 00,
FF, a text). Every file that is extracted is held against what was put in. A wrong byte counts as silent where the
answer is 0 and nothing was found. What stands in place of the last part of a cluster or block, because only the size
was changed, is counted apart: no system keeps a second copy of a size. So are files that lost sectors to 00 or FF,
which programs hold themselves. `--sound` damages nothing, and counts false alarms.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from imagekeeper.jobs.disks.extracting_files import extract_files
from imagekeeper.jobs.disks.looking_into import Look
from imagekeeper.jobs.images.loading import Options
from tests import tools
from tests.filesystems import directory_volumes as eight
from tests.filesystems.fat_volumes import Directory, File, Writer
from tests.filesystems.fsck_agreement import SHAPES

MESSAGE = b"SECTOR COULD NOT BE READ "
FILLS = (b"\xf6" * 512, b"\xe5" * 512, bytes(512), b"\xff" * 512, (MESSAGE * 21)[:512])


@dataclass
class Disk:
    """A sound volume, what is in it, and how it is harmed.

    Attributes:
        data: The image.
        files: By path, and by user area where there are any.
        system: Where the file system keeps its own: from, to. [byte]
        harm: Gives a damaged image.
        unit: Of clusters or blocks. [byte]
        block: The parameter block that is given with it, or None.
    """

    data: bytes
    files: dict[tuple[str | None, str], bytes]
    system: list[tuple[int, int]]
    harm: Callable[[random.Random, bytes], bytes]
    unit: int
    sector: int = 512
    block: str | None = None


def texts(dice: random.Random, size: int) -> bytes:
    return (eight.text if dice.random() < 0.5 else eight.code)(dice, size) if size else b""


def fat(dice: random.Random) -> Disk:
    """A volume of the tests' own writer, its clusters in a row or scattered."""
    shape = dice.choice(SHAPES)
    writer = Writer(shape, dice.randrange(1000) if dice.random() < 0.3 else None)
    files: dict[tuple[str | None, str], bytes] = {}

    def inside(above: str, depth: int) -> list[File | Directory]:
        found: list[File | Directory] = []
        for number in range(dice.randrange(1, 9)):
            if depth < 3 and dice.random() < 0.2:
                name = f"D{depth}{number}"
                found.append(Directory(name.encode().ljust(11), inside(f"{above}{name}/", depth + 1)))
            else:
                content = texts(dice, dice.choice([0, 1, 100, 512, 1024, 3000, 9000]))
                files[None, f"{above}F{number:03d}.LOG"] = content
                found.append(File(b"F%03d    LOG" % number, content))
        return found

    data = writer.write(inside("", 0))
    unit, length = shape.cluster_sectors * shape.sector, shape.fat_sectors * shape.sector
    table = shape.reserved * shape.sector
    own = [at for at in range(shape.data_start, len(data) - unit + 1, unit) if data[at : at + 2] == b". "]

    def harm(dice: random.Random, data: bytes) -> bytes:
        found = bytearray(data)
        for _ in range(dice.randrange(1, 6)):
            spots = [(table, table + length), (shape.root_start, shape.root_start + 320), (table, table + 200)]
            spots += [(at, at + 192) for at in own]
            at = dice.randrange(*dice.choice(spots))
            found[at] = dice.choice([0, 0xFF, dice.randrange(256), found[at] ^ 1 << dice.randrange(8)])
        if dice.random() < 0.6:   # both copies alike, so that what is wrong in them is looked at
            found[table + length : table + 2 * length] = found[table : table + length]
        return bytes(found)

    return Disk(data, files, [(0, shape.data_start)], harm, unit)


LAYOUTS = ((160, ()), (360, ()), (720, ()), (1440, ("-s", "4")), (1200, ()), (4096, ("-F", "12", "-s", "8")))


def pyfat(dice: random.Random) -> Disk:
    """A volume that mkfs.fat lays out and pyfatfs fills."""
    from pyfatfs.PyFatFS import PyFatFS

    kib, options = dice.choice(LAYOUTS)
    files: dict[tuple[str | None, str], bytes] = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "a.img")
        subprocess.run([tools.path("mkfs.fat"), "-C", *options, str(path), str(kib)], check=True, capture_output=True)
        with PyFatFS(str(path), encoding="cp437") as writer:
            for number in range(dice.randrange(2, 12)):
                above = ["", "/LOGS", "/LOGS/MARCH"][number % 3]
                writer.makedirs(above or "/", recreate=True)
                content = texts(dice, dice.choice([0, 1, 511, 512, 4096, 7000, 20000]))
                writer.writebytes(f"{above}/TIDE{number}.DAT", content)
                files[None, f"{above}/TIDE{number}.DAT".lstrip("/")] = content
        data = path.read_bytes()
    size, reserved = int.from_bytes(data[11:13], "little"), int.from_bytes(data[14:16], "little")
    table = int.from_bytes(data[22:24], "little") * size
    root = reserved * size + data[16] * table
    end = root + int.from_bytes(data[17:19], "little") * 32

    def harm(dice: random.Random, data: bytes) -> bytes:
        found = bytearray(data)
        for _ in range(dice.randrange(1, 6)):
            first, last = dice.choice([(reserved * size, reserved * size + 300), (root, root + 640)])
            at = dice.randrange(first, min(last, end))
            found[at] = dice.choice([0, 0xFF, dice.randrange(256), found[at] ^ 1 << dice.randrange(8)])
        if dice.random() < 0.6:
            found[reserved * size + table : reserved * size + 2 * table] = found[reserved * size :][:table]
        return bytes(found)

    return Disk(data, files, [(0, end)], harm, data[13] * size)


EIGHT = (
    eight.Shape(), eight.Shape(40, 1, 16, 256, 1024, 64, 2, 1), eight.Shape(40, 2, 9, 512, 2048, 64, 1, 1),
    eight.Shape(80, 2, 10, 512, 2048, 128, 2, 1), eight.Shape(35, 1, 10, 512, 1024, 64, 3, 2),
    eight.Shape(40, 2, 16, 256, 2048, 64, 2, 1, sides="side-after-side"),
)   # fmt: skip


def eight_bit(dice: random.Random) -> Disk:
    """A disk of an 8-bit machine; half of them with its parameter block."""
    shape = dice.choice(EIGHT)
    data, found = eight.filled(shape, dice.randrange(1 << 30), dice.choice([0.1, 0.4, 0.8]), worn=dice.random() < 0.3)
    files = {}
    for one in found:
        name, kind = one.name[:8].decode().rstrip(), one.name[8:].decode().rstrip()
        files[str(one.user), f"{name}.{kind}"] = one.expected
    order = eight.order_of(shape.sectors, shape.skew)
    begin = shape.offset * shape.track * (2 if shape.sides != "alternating" else 1)
    spots = [
        begin + order[at // shape.sector_bytes] * shape.sector_bytes + at % shape.sector_bytes
        for at in range(min(shape.directory * 32, shape.track))
    ]
    used = [at for at in spots if data[at // 32 * 32] != 0xE5]

    def harm(dice: random.Random, data: bytes) -> bytes:
        damaged = bytearray(data)
        for _ in range(dice.randrange(1, 5)):
            at = dice.choice(used or spots)
            damaged[at] = dice.choice([0, 0xE5, dice.randrange(256), damaged[at] ^ 1 << dice.randrange(8)])
        return bytes(damaged)

    block = None
    if dice.random() < 0.5:
        block = f"block={shape.block},directory={shape.directory},reserved={shape.offset},skew={shape.skew}"
        block += f",track={shape.sectors}x{shape.sector_bytes},sides={shape.sides}"
    return Disk(data, files, [(spots[0], spots[0] + 512)], harm, shape.block, shape.sector_bytes, block)


def filled(dice: random.Random, disk: Disk) -> tuple[bytes, int]:
    """Replace some sectors by what a reader leaves; the byte of it, or 256 for a text."""
    fill = dice.choice(FILLS)
    data = bytearray(disk.data)
    for _ in range(dice.randrange(1, 4)):
        if dice.random() < 0.4:
            first, last = dice.choice(disk.system)
            at = dice.randrange(first, last)
        else:   # where content is
            for _ in range(100):
                at = dice.randrange(len(data))
                if len(set(data[at // disk.sector * disk.sector :][: disk.sector])) > 2:
                    break
        at -= at % disk.sector
        data[at : at + disk.sector] = fill[: disk.sector]
    return bytes(data), fill[0] if len(set(fill)) == 1 else 256


@dataclass
class Account:
    """What came of all volumes."""

    volumes: Counter[str] = field(default_factory=Counter)
    files: Counter[str] = field(default_factory=Counter)
    silent: list[str] = field(default_factory=list)


def judge(disk: Disk, data: bytes, label: str, account: Account, seed: int, fill: int | None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        image = Path(folder, "disk.img")
        image.write_bytes(data)
        try:
            found = extract_files(str(image), str(Path(folder, "out")), [], Options(), Look(parameter_block=disk.block))
        except Exception as problem:   # an answer of ours, with its code
            account.volumes[f"{label}: refused, {getattr(problem, 'code', type(problem).__name__)}"] += 1
            return
        quiet = found.exit_code == 0 and not found.findings
        account.volumes[f"{label}: " + ("exit 0, no finding" if quiet else f"exit {found.exit_code}, findings"
                                        if found.findings else f"exit {found.exit_code}")] += 1
        for one in found.files:
            got = Path(folder, "out", one.written).read_bytes()
            truth = disk.files.get((one.group, one.path))
            names = [path for path, content in disk.files.items() if content == got]
            if got == truth or (truth is None and names):
                kind = "right" if truth is not None else "right, under another name"
            elif truth is not None and got == truth[: len(got)]:
                kind = "shorter than it was"
            elif truth is not None and got[: len(truth)] == truth and -(-len(got) // disk.unit) == -(
                -len(truth) // disk.unit
            ):
                kind = "longer than it was, within its last unit"
            elif truth is not None and fill in (0, 0xFF):
                kind = "sectors lost to 00 or FF, or worse"
            else:
                kind = "WRONG BYTES"
            account.files[f"{kind}, {'silent' if quiet else 'told'}"] += 1
            if quiet and kind == "WRONG BYTES":
                account.silent.append(f"seed {seed}, {label}, {one.group} {one.path}, {len(got)} bytes"
                                      f" of {'-' if truth is None else len(truth)}, fill {fill}")  # fmt: skip


def main() -> None:
    numbers = [int(a) for a in sys.argv[1:] if a.isdecimal()]
    count, first = [*numbers, 2000][0], int(sys.argv[sys.argv.index("--from") + 1]) if "--from" in sys.argv else 0
    warnings.simplefilter("ignore")
    account = Account()
    makers = {"FAT": fat, "FAT by mkfs.fat and pyfatfs": pyfat, "8-bit": eight_bit}
    for seed in range(first, first + count):
        dice = random.Random(seed)
        label = ["FAT", "8-bit", "FAT by mkfs.fat and pyfatfs", "8-bit"][seed % 4]
        disk = makers[label](dice)
        if not disk.files:
            continue
        if "--sound" in sys.argv:
            data, fill = disk.data, None
        elif dice.random() < 0.5:
            data, fill = disk.harm(dice, disk.data), None
        else:
            data, fill = filled(dice, disk)
        if data != disk.data or "--sound" in sys.argv:
            judge(disk, data, label + (", fill" if fill is not None else ", changed"), account, seed, fill)
    for says, number in sorted(account.volumes.items()):
        print(f"{number:6} volumes  {says}")
    for says, number in sorted(account.files.items()):
        print(f"{number:6} files    {says}")
    for says in account.silent[:40]:
        print("   ", says)
    print(f"{sum(account.volumes.values())} damaged volumes, {len(account.silent)} files with wrong bytes and no word")


if __name__ == "__main__":
    main()
