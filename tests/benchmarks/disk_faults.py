"""How often a fault in the reading of a disk is named first; run by hand.

    python -m tests.benchmarks.disk_faults [--aside] [--trials 8] [--seed 0] [--fresh 0] [--clean 0] [--door] [--worst]

Disks of every kind that the other benchmarks make (FATs with and without a parameter block, volumes that mkfs.fat made
and pyfatfs filled where they are installed, directories of 8-bit machines, no file system), read with faults of many
kinds at three rates. Half of the disks, by the check sum of their names, are set aside: rules are tuned on the other
half and reported with `--aside`. Two reads in either order, or three of which two are right.

A disk on which a fault leaves no trace (a lost track that held the same fill) is left out, and so is one on which it
shows on too little to be told from another: a fault of steps, sides or orders must change three tracks at least.
"""

from __future__ import annotations

import argparse
import random
import time
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import imagekeeper
from imagekeeper.disk_reads.comparing import compare_disk
from imagekeeper.floppy.arrangement import Geometry, passing
from imagekeeper.floppy.order import placed
from imagekeeper.geometry.shapes import Shape, shapes
from tests.filesystems import directory_volumes, fat_volumes
from tests.geometry.disks import WORDS, bare_disk, code, content, directory_disk, fat_disk, in_order
from tests.tools import find

FULL = (0.12, 0.45, 0.97)
FILLS = (b"\x00", b"\xe5", b"\xf6", b"\xff", b"NO DATA ", b"BAD SECTOR!")


@dataclass(frozen=True)
class Disk:
    """A disk, and what it may have become later."""

    name: str
    geometry: Geometry
    data: bytes
    later: Callable[[random.Random], bytes] | None = None

    @property
    def aside(self) -> bool:
        return zlib.crc32(self.name.encode()) % 2 == 1


def of_shape(shape: Shape) -> Geometry:
    return Geometry(
        cylinders=shape.cylinders, heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes
    )


def disks(fresh: int = 0) -> Iterator[Disk]:
    """Give all disks; with a number, as many of the same kinds with other content."""
    for number, shape in enumerate(one for one in shapes() if one.first_track is None and one.bytes < 1_600_000):
        for kind in ("FAT", "no block", "8-bit", "8-bit skew", "bare"):
            seed = zlib.crc32(f"{shape.text}{kind}{number}".encode()) % 100_000 + fresh * 100_000
            full = FULL[seed % 3]
            name = f"{shape.text} {kind} {seed}"
            if kind in ("FAT", "no block"):
                if shape.sector_bytes < 256:
                    continue
                data = fat_disk(shape, seed, full=full, with_block=kind == "FAT", fill=random.Random(seed).choice(
                    [0xF6, 0xE5, 0]))  # fmt: skip
            elif kind == "bare":
                data = bare_disk(shape, seed, full=full)
            elif kind == "8-bit":
                data = directory_disk(shape, seed, full=full)
            elif shape.sector_bytes == 128:
                data = directory_disk(shape, seed, full=full, step=6)
            else:
                continue
            yield Disk(name, of_shape(shape), data)
    for seed in range(fresh * 1000, fresh * 1000 + 40):
        made = worn(seed)
        if made is not None:
            yield made
        yield written(seed)
    yield from by_other_programs(fresh)


def worn(seed: int) -> Disk | None:
    """A disk of an 8-bit machine from the other generator: user areas, skew, deleted files."""
    dice = random.Random(seed)
    shape = directory_volumes.Shape(*dice.choice([
        (77, 1, 26, 128), (40, 1, 16, 256), (40, 2, 16, 256), (80, 2, 9, 512), (40, 2, 9, 512), (80, 1, 10, 512),
    ]), block=2048, directory=64, offset=dice.choice([1, 2, 3]), skew=dice.choice([1, 2, 3]))  # fmt: skip
    if (shape.sectors % shape.skew == 0 and shape.skew > 1) or not shape.possible:
        shape.skew = 1
    full, system = FULL[seed % 3] * 0.8, code(dice, shape.offset * shape.track)
    left = int((shape.blocks - 2) * full)
    files: list[directory_volumes.Content] = []
    while left > 0 and len(files) < 50:
        size = min(int(dice.expovariate(1 / 6000)) + 1, 15000, left * shape.block)
        left -= -(-size // shape.block)
        name = f"{dice.choice(WORDS)[:5]}{len(files):03d}".ljust(8) + dice.choice(["TXT", "DAT", "COM"])
        files.append(directory_volumes.whole(0, name, content(dice, size)))

    def later(dice: random.Random) -> bytes:
        fresh = [directory_volumes.whole(0, f"NEW{n:05d}TXT", content(dice, dice.randint(200, 5000))) for n in range(
            dice.randint(1, 3))]  # fmt: skip
        return directory_volumes.write(shape, [*files, *fresh], system=system)

    geometry = Geometry(
        cylinders=shape.cylinders, heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes
    )
    return Disk(f"8-bit volume {seed}", geometry, directory_volumes.write(shape, files, system=system), later)


def written(seed: int) -> Disk:
    """A volume with FATs of the writer of the tests, and what became of it: files added and changed."""
    dice = random.Random(seed + 5000)
    cylinders, heads, sectors, fat, cluster, media = dice.choice([
        (40, 2, 9, 2, 2, 0xFD), (80, 2, 9, 3, 2, 0xF9), (80, 2, 18, 9, 1, 0xF0), (80, 2, 15, 7, 1, 0xF9),
    ])  # fmt: skip
    shape = fat_volumes.Shape(
        total=cylinders * heads * sectors, track=sectors, heads=heads, fat_sectors=fat, cluster_sectors=cluster,
        media=media, root_entries=112 if fat < 4 else 224,
    )  # fmt: skip
    left = int(shape.clusters * FULL[seed % 3] * 0.85) * cluster * 512
    files = []
    while left > 0 and len(files) < 90:
        size = min(dice.randint(100, 30000), left)
        left -= -(-size // (cluster * 512)) * cluster * 512
        files.append(fat_volumes.File(
            f"{dice.choice(WORDS)[:5]}{len(files):03d}".ljust(8).encode() + b"DAT", content(dice, size)
        ))  # fmt: skip

    def later(dice: random.Random) -> bytes:
        changed = list(files)
        for number in dice.sample(range(len(files)), min(2, len(files))):
            old = files[number]
            changed[number] = fat_volumes.File(
                old.name, content(dice, len(old.content)), date=old.date + 33, time=old.time + 99
            )
        new = [fat_volumes.File(b"NEW00001TXT", content(dice, dice.randint(300, 4000)), date=0x16C7)]
        return fat_volumes.Writer(shape).write([*changed, *new])

    geometry = Geometry(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=512)
    return Disk(f"FAT volume {seed}", geometry, fat_volumes.Writer(shape).write(list(files)), later)


def by_other_programs(fresh: int) -> Iterator[Disk]:
    """Volumes that mkfs.fat lays out and pyfatfs fills."""
    if find("mkfs.fat") is None:
        return
    for kib, geometry in ((360, (40, 2, 9)), (720, (80, 2, 9)), (1200, (80, 2, 15)), (1440, (80, 2, 18))):
        for seed in range(fresh * 3, fresh * 3 + 3):
            data = made_outside(kib, seed, ())
            if data is None:
                return
            cylinders, heads, sectors = geometry
            yield Disk(
                f"mkfs {kib} {seed}", Geometry(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=512),
                data, lambda dice, k=kib, s=seed: made_outside(k, s, (dice.randrange(1000),)) or b"",  # type: ignore[misc]
            )  # fmt: skip


@cache
def made_outside(kib: int, seed: int, more: tuple[int, ...]) -> bytes | None:
    import subprocess
    import warnings

    with TemporaryDirectory() as folder:
        path = Path(folder) / "disk.img"
        tool = find("mkfs.fat")
        subprocess.run([str(tool), "-C", "-i", "12345678", str(path), str(kib)], check=True, capture_output=True)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                from pyfatfs.PyFatFS import PyFatFS
        except ImportError:
            return None
        disk = PyFatFS(str(path))
        dice, left, number = random.Random(seed), kib * 1024 * FULL[seed % 3] * 0.8, 0
        while left > 0:
            size = min(dice.randint(500, 40_000), int(left) + 1)
            with disk.openbin(f"/F{number:05d}.DAT", "w") as file:
                file.write(content(dice, size))
            left -= size + 512
            number += 1
        for one in more:
            with disk.openbin(f"/G{one:05d}.TXT", "w") as file:
                file.write(content(random.Random(one), 1500))
            disk.remove("/F00001.DAT")
        disk.close()
        return path.read_bytes()


class Tracks:
    """A disk taken apart."""

    def __init__(self, disk: Disk) -> None:
        self.disk, self.form = disk, disk.geometry
        size = self.form.track_bytes
        self.all = [disk.data[at : at + size] for at in range(0, len(disk.data), size)]

    @property
    def size(self) -> int:
        return self.form.sector_bytes

    def by(self, source: Callable[[int, int], tuple[int, int] | bytes], cylinders: int = 0) -> bytes:
        """Put a read together: for each cylinder and side the track it comes from, or the bytes it gives."""
        out = []
        for cylinder in range(cylinders or self.form.cylinders):
            for side in range(self.form.heads):
                found = source(cylinder, side)
                if isinstance(found, tuple):
                    found = self.all[found[0] * self.form.heads + found[1]]
                out.append(found)
        return b"".join(out)

    def sectors(self, track: bytes) -> list[bytes]:
        return [track[at : at + self.size] for at in range(0, len(track), self.size)]

    def filled(self, fill: bytes, size: int | None = None) -> bytes:
        """A track of sectors each filled for itself."""
        sector = (fill * self.size)[: self.size]
        return sector * ((size or self.form.track_bytes) // self.size)

    def content_sectors(self) -> list[int]:
        found = []
        for number, at in enumerate(range(0, len(self.disk.data), self.size)):
            sector = self.disk.data[at : at + self.size]
            if len(set(sector)) > 4:
                found.append(number)
        return found


Fault = Callable[[Tracks, random.Random, int], bytes | None]


def two_sides(fault: Fault) -> Fault:
    def only(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
        return fault(t, dice, rate) if t.form.heads == 2 else None

    return only


def somewhere(t: Tracks, dice: random.Random) -> int:
    """A cylinder in the written part."""
    last = max(t.content_sectors(), default=0) // (t.form.heads * t.form.sectors)
    return dice.randint(1, max(min(last - 3, t.form.cylinders - 4), 1))


def swapped(t: Tracks, dice: random.Random, rate: int) -> bytes:
    return t.by(lambda c, s: (c, 1 - s))


def swapped_from(t: Tracks, dice: random.Random, rate: int) -> bytes:
    at = somewhere(t, dice)
    return t.by(lambda c, s: (c, 1 - s if c >= at else s))


def side_twice(t: Tracks, dice: random.Random, rate: int) -> bytes:
    held = dice.randrange(2)
    return t.by(lambda c, s: (c, held))


def side_after_side(t: Tracks, dice: random.Random, rate: int) -> bytes:
    return _ordered(t, "side-after-side")


def side_1_reversed(t: Tracks, dice: random.Random, rate: int) -> bytes:
    return _ordered(t, "side-1-reversed")


def _ordered(t: Tracks, order: str) -> bytes:
    shape = next(one for one in shapes() if (one.cylinders, one.heads) == (t.form.cylinders, 2))
    from dataclasses import replace

    return in_order(
        t.disk.data, replace(shape, sectors=t.form.sectors, sector_bytes=t.form.sector_bytes), order
    )


def side_missing(t: Tracks, dice: random.Random, rate: int) -> bytes:
    kept = dice.choice([0, 0, 1])
    return b"".join(t.all[kept::2])


def missed_step(t: Tracks, dice: random.Random, rate: int) -> bytes:
    at = sorted(somewhere(t, dice) for _ in range(1 + (rate == 2)))
    return t.by(lambda c, s: (c - sum(c >= one for one in at), s))


def step_over(t: Tracks, dice: random.Random, rate: int) -> bytes:
    at, last, by = somewhere(t, dice), t.form.cylinders - 1, 1 + (rate == 2)
    fill = t.filled(dice.choice(FILLS))
    beyond = dice.choice([fill, None])
    return t.by(lambda c, s: (c, s) if c < at else (c + by, s) if c + by <= last else beyond or (last, s))


def off_by_one(t: Tracks, dice: random.Random, rate: int) -> bytes:
    fill = t.filled(dice.choice(FILLS))
    return t.by(lambda c, s: (c + 1, s) if c + 1 < t.form.cylinders else fill)


def single_step(t: Tracks, dice: random.Random, rate: int) -> bytes:
    return t.by(lambda c, s: (c // 2, s), t.form.cylinders * (2 if rate else 1))


def double_step(t: Tracks, dice: random.Random, rate: int) -> bytes:
    half = t.form.cylinders // 2
    if rate == 0:
        return t.by(lambda c, s: (2 * c, s), half)
    fill = t.filled(dice.choice(FILLS))
    beyond = fill if rate == 1 else None
    return t.by(lambda c, s: (2 * c, s) if c < half else beyond or (2 * half - 2, s))


def dead_head(t: Tracks, dice: random.Random, rate: int) -> bytes:
    side, fill = dice.randrange(2), t.filled(dice.choice(FILLS))
    return t.by(lambda c, s: fill if s == side else (c, s))


def dead_head_from(t: Tracks, dice: random.Random, rate: int) -> bytes:
    side, fill, at = dice.randrange(2), t.filled(dice.choice(FILLS)), somewhere(t, dice) // (rate + 1)
    return t.by(lambda c, s: fill if s == side and c >= at else (c, s))


def first_sector(t: Tracks, dice: random.Random, rate: int) -> bytes:
    fill = t.filled(dice.choice(FILLS), t.size)
    early = dice.random() < 0.5

    def track(c: int, s: int) -> bytes:
        sectors = t.sectors(t.all[c * t.form.heads + s])
        return b"".join([*sectors[1:], fill] if early else [fill, *sectors[:-1]])

    return t.by(track)


def rotated(t: Tracks, dice: random.Random, rate: int) -> bytes:
    by = dice.randrange(1, t.form.sectors) * t.size
    return t.by(lambda c, s: (track := t.all[c * t.form.heads + s])[by:] + track[:by])


def rotated_skew(t: Tracks, dice: random.Random, rate: int) -> bytes:
    skew = dice.randrange(1, t.form.sectors)

    def track(c: int, s: int) -> bytes:
        sectors, by = t.sectors(t.all[c * t.form.heads + s]), skew * (c * t.form.heads + s) % t.form.sectors
        return b"".join(sectors[by:] + sectors[:by])

    return t.by(track)


def rotated_each(t: Tracks, dice: random.Random, rate: int) -> bytes:
    def track(c: int, s: int) -> bytes:
        sectors, by = t.sectors(t.all[c * t.form.heads + s]), dice.randrange(t.form.sectors)
        return b"".join(sectors[by:] + sectors[:by])

    return t.by(track)


def interleaved(t: Tracks, dice: random.Random, rate: int) -> bytes:
    step = dice.randrange(2, max(t.form.sectors - 1, 3))
    order = list(passing(t.form.sectors, step)) if rate else list(placed(t.form.sectors, step))
    return t.by(lambda c, s: b"".join(
        (parts := t.sectors(t.all[c * t.form.heads + s]))[0:0] + [parts[one - 1] for one in order]))  # fmt: skip


def shuffled(t: Tracks, dice: random.Random, rate: int) -> bytes:
    order = list(range(t.form.sectors))
    dice.shuffle(order)
    return t.by(lambda c, s: b"".join(t.sectors(t.all[c * t.form.heads + s])[one] for one in order))


def cut_short(t: Tracks, dice: random.Random, rate: int) -> bytes:
    last = max(t.content_sectors(), default=0) // (t.form.heads * t.form.sectors)
    lost = max(t.form.cylinders - last + dice.randint(1, 3 + 3 * rate), 1)
    return t.by(lambda c, s: (c, s), max(t.form.cylinders - lost, 2))


def end_filled(t: Tracks, dice: random.Random, rate: int) -> bytes:
    last = max(t.content_sectors(), default=0) // (t.form.heads * t.form.sectors)
    at, fill = max(last - dice.randint(1, 3 + 3 * rate), 2), t.filled(dice.choice(FILLS))
    return t.by(lambda c, s: (c, s) if c < at else fill)


def end_repeated(t: Tracks, dice: random.Random, rate: int) -> bytes:
    last = max(t.content_sectors(), default=0) // (t.form.heads * t.form.sectors)
    at = max(last - dice.randint(1, 3 + 3 * rate), 2)
    return t.by(lambda c, s: (min(c, at), s))


def lost_track(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    fill = t.filled(dice.choice(FILLS))
    full = [n for n in range(len(t.all)) if sum(
        at // t.form.sectors == n for at in t.content_sectors()) == t.form.sectors]  # fmt: skip
    if len(full) < 6:
        return None
    gone = dice.sample(full[:-2], min((1, 2, 4)[rate], len(full) - 3))
    return b"".join(fill if n in gone else track for n, track in enumerate(t.all))


def neighbour(t: Tracks, dice: random.Random, rate: int) -> bytes:
    at = somewhere(t, dice)
    by = dice.choice([-1, 1])
    if rate == 0 or t.form.heads == 1:
        return t.by(lambda c, s: (c + by if c == at else c, s))
    side = dice.randrange(2)
    return t.by(lambda c, s: (c + by if (c, s) == (at, side) else c, s))


def _sectors_hit(t: Tracks, dice: random.Random, count: int) -> list[int]:
    there = t.content_sectors()
    return dice.sample(there, min(count, len(there) // 3)) if len(there) > 12 else []


def weak(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    data = bytearray(t.disk.data)
    for number in _sectors_hit(t, dice, (1, 5, 25)[rate]):
        for _ in range(dice.randint(1, 6)):
            data[number * t.size + dice.randrange(t.size)] ^= 1 << dice.randrange(8)
    return bytes(data)


def weak_from(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    """From a place in the sector on, or for a stretch, the bytes are others."""
    data = bytearray(t.disk.data)
    for number in _sectors_hit(t, dice, (1, 5, 25)[rate]):
        length = dice.randint(4, t.size // 4)
        at = number * t.size + dice.randrange(t.size - length)
        data[at : at + length] = dice.randbytes(length)
    return bytes(data)


def filled_sectors(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    data, fill = bytearray(t.disk.data), t.filled(dice.choice(FILLS), t.size)
    for number in _sectors_hit(t, dice, (1, 6, 30)[rate]):
        data[number * t.size : (number + 1) * t.size] = fill
    return bytes(data)


def decay(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    data, inward = bytearray(t.disk.data), dice.random() < 0.5
    fill, mode = t.filled(dice.choice(FILLS), t.size), dice.choice(["fill", "weak", "both"])
    there = t.content_sectors()
    first, last = there[0], there[-1]
    hit = 0
    for number in there:
        place = (number - first) / max(last - first, 1)
        chance = (0.25, 0.5, 0.9)[rate] * (place if inward else 1 - place) ** 3
        if dice.random() < chance:
            hit += 1
            if mode == "fill" or (mode == "both" and dice.random() < 0.5):
                data[number * t.size : (number + 1) * t.size] = fill
            else:
                for _ in range(dice.randint(1, 8)):
                    data[number * t.size + dice.randrange(t.size)] ^= 1 << dice.randrange(8)
    return bytes(data) if hit >= 15 else None


def other_disk(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    shape = next((one for one in shapes() if of_shape(one) == t.form and one.first_track is None), None)
    if shape is None:
        return None
    make = directory_disk if "8-bit" in t.disk.name else bare_disk if "bare" in t.disk.name else fat_disk
    return make(shape, dice.randrange(10**6, 2 * 10**6), full=dice.choice(FULL))


def other_version(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    return None if t.disk.later is None else t.disk.later(dice)


#: Each fault with its code, and whether it moves whole tracks or sectors of all tracks.
FAULTS: dict[str, tuple[str, bool, Fault]] = {
    "sides swapped": ("sides-swapped", True, two_sides(swapped)),
    "sides swapped from a cylinder on": ("sides-swapped", True, two_sides(swapped_from)),
    "one side twice": ("side-twice", True, two_sides(side_twice)),
    "side after side": ("sides-order", True, two_sides(side_after_side)),
    "side 1 reversed": ("sides-order", True, two_sides(side_1_reversed)),
    "one side missing": ("side-missing", True, two_sides(side_missing)),
    "missed step": ("cylinder-twice", True, missed_step),
    "cylinder stepped over": ("cylinder-skipped", True, step_over),
    "begun at cylinder 1": ("cylinder-skipped", True, off_by_one),
    "single-stepped": ("single-stepped", True, single_step),
    "double-stepped": ("double-stepped", True, double_step),
    "dead head": ("head-dead", True, two_sides(dead_head)),
    "dead head from a cylinder on": ("head-dead", True, two_sides(dead_head_from)),
    "first sector wrong": ("first-sector-wrong", True, first_sector),
    "tracks turned": ("sectors-rotated", True, rotated),
    "tracks turned by skew": ("sectors-rotated", True, rotated_skew),
    "tracks turned each": ("sectors-rotated", True, rotated_each),
    "interleave": ("sectors-interleaved", True, interleaved),
    "sectors shuffled": ("sectors-interleaved", True, shuffled),
    "cut short": ("last-cylinders-missing", False, cut_short),
    "end filled": ("last-cylinders-missing", False, end_filled),
    "end repeated": ("last-cylinders-missing", True, end_repeated),
    "track lost": ("track-lost", False, lost_track),
    "track of the neighbour": ("track-of-neighbour", False, neighbour),
    "weak bits": ("weak-sectors", False, weak),
    "weak stretches": ("weak-sectors", False, weak_from),
    "sectors filled": ("sectors-filled", False, filled_sectors),
    "radial decay": ("radial-decay", False, decay),
    "another disk": ("other-disk", True, other_disk),
    "another version": ("other-version", False, other_version),
}


@dataclass(frozen=True)
class Trial:
    """One comparison: the reads, which of them is wrong, and the code to be named first."""

    name: str
    fault: str
    code: str
    geometry: Geometry
    reads: tuple[bytes, ...]
    wrong: int


def trials(pool: list[Disk], each: int, seed: int = 0) -> Iterator[Trial]:
    """Every fault on so many disks, at the rates in turn."""
    for fault, (expected, moves, make) in FAULTS.items():
        dice = random.Random(f"{fault}{seed}")
        made = 0
        for attempt in range(each * 12):
            disk = dice.choice(pool)
            t = Tracks(disk)
            if len(t.content_sectors()) < 30:
                continue
            faulty = make(t, dice, attempt % 3)
            if faulty is None or faulty == disk.data or (moves and _touched(t, faulty) < 3):
                continue
            three = dice.random() < 0.4
            reads = [disk.data] * (2 if three else 1)
            place = dice.randint(0, len(reads))
            reads.insert(place, faulty)
            yield Trial(f"{disk.name} rate {attempt % 3}", fault, expected, disk.geometry, tuple(reads), place + 1)
            made += 1
            if made == each:
                break


def _touched(t: Tracks, faulty: bytes) -> int:
    size = t.form.track_bytes
    whole = max(len(faulty), len(t.disk.data))
    return sum(faulty[at : at + size] != t.disk.data[at : at + size] for at in range(0, whole, size))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--aside", action="store_true")
    parser.add_argument("--trials", type=int, default=8)
    parser.add_argument("--clean", type=int, default=0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--fresh", type=int, default=0, help="disks that nobody has seen, by a number of your own")
    parser.add_argument("--worst", action="store_true")
    parser.add_argument("--only", default="")
    parser.add_argument("--door", action="store_true", help="as a user compares them: the geometry is not given")
    options = parser.parse_args()
    right, cases, instead = Counter[str](), Counter[str](), Counter[str]()
    pool = [disk for disk in disks(options.fresh) if disk.aside == options.aside]
    accused = named = 0
    slowest = 0.0
    for trial in trials(pool, options.trials, options.seed):
        if options.only not in trial.fault:
            continue
        started = time.perf_counter()
        names = [f"read {number}" for number in range(1, len(trial.reads) + 1)]
        if options.door:
            found = imagekeeper.compare(*trial.reads).findings
        else:
            _, found = compare_disk(trial.reads, names, trial.geometry)
        slowest = max(slowest, time.perf_counter() - started)
        cases[trial.fault] += 1
        first = found[0].code if found else "nothing"
        right[trial.fault] += first == trial.code
        if first != trial.code:
            instead[f"{trial.fault}: {first}"] += 1
            if options.worst:
                print(f"    {trial.fault}: {trial.name} {trial.geometry.text}, wrong {trial.wrong} of "
                      f"{len(trial.reads)}: " + ", ".join(f"{one.code} {one.confidence}" for one in found[:4]))
        elif found[0].detail.get("wrong"):
            accused += 1
            named += found[0].detail["wrong"] == [trial.wrong]
            if options.worst and found[0].detail["wrong"] != [trial.wrong]:
                print(f"    {trial.fault}: {trial.name}: read {found[0].detail['wrong']} accused for {trial.wrong}")
    for fault, count in cases.items():
        also = ", ".join(f"{key.partition(': ')[2]} {n}" for key, n in instead.items() if key.startswith(f"{fault}: "))
        print(f"{fault:34} {count:4} trials: first {right[fault] / count:6.1%}  {also}")
    total = sum(cases.values())
    print(f"all {total} trials of {len(cases)} faults: right first {sum(right.values()) / total:.1%}; a read called "
          f"wrong in {accused}, the right one in {named}; slowest {slowest:.1f} s")
    if options.clean:
        falsely, taken, known = clean(pool, options.clean)
        print(f"{options.clean} clean pairs: {falsely} with a finding; {taken} taken as of a disk, "
              f"{known} by its own geometry")


def clean(pool: list[Disk], count: int) -> tuple[int, int, int]:
    """Compare equal reads as a user would: how many have a finding, are taken as disks, and by their geometry."""
    dice, wrong, taken, right = random.Random(1), 0, 0, 0
    for _ in range(count):
        disk = dice.choice(pool)
        found = imagekeeper.compare(disk.data, bytes(bytearray(disk.data)))
        wrong += bool(found.findings) or not found.agree
        taken += found.disk is not None
        right += found.disk is not None and found.disk.geometry == disk.geometry.text
    return wrong, taken, right


if __name__ == "__main__":
    main()
