"""How often one image alone tells what its reading did to it; run by hand.

    python -m tests.benchmarks.one_read [--aside] [--trials 6] [--seed 0] [--fresh 0] [--clean 0] [--worst] [--only ...]

The disks and faults of `disk_faults`, and some faults more that one image can show. Half of the disks, by the check sum
of their names, are set aside: the rules are tuned on the other half and reported with `--aside`. The geometry is found
as a user's command finds it.

Counted by kind of disk: with a FAT and a parameter block; with a FAT of a format of the table but no block; with a
directory of an 8-bit machine; and with neither, of which only what comes twice can tell. `--clean` counts findings on
sound disks: fresh, full, empty, with blank tracks, with files that are alike, worn ones with deleted files.
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator

from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.geometry import solve
from imagekeeper.geometry.shapes import shapes
from imagekeeper.jobs.disks.one_read import reading_faults
from imagekeeper.tables.floppy import format_rows
from tests.benchmarks import disk_faults
from tests.benchmarks.disk_faults import FAULTS, FILLS, Disk, Fault, Tracks, disks, of_shape
from tests.filesystems import directory_volumes, fat_volumes
from tests.geometry.disks import WORDS, content, directory_disk, fat_disk

KINDS = ("FAT", "FAT without block", "8-bit", "neither")


def kind_of(disk: Disk) -> str:
    """Which kind of evidence a disk holds."""
    if "8-bit" in disk.name:
        return "8-bit"
    if "no block" in disk.name:
        known = any(row.fat is not None and Geometry.of(row) == disk.geometry for row in format_rows().values())
        return "FAT without block" if known else "neither"
    return "neither" if "bare" in disk.name else "FAT"


def track_left_out(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    """A reader that leaves out a track that it cannot read, so that all behind moves up."""
    if t.form.heads == 1:
        return None
    at = 2 * disk_faults.somewhere(t, dice) + dice.randrange(2)
    return b"".join(track for number, track in enumerate(t.all) if number != at)


def track_filled(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    """A track that could not be read, between two tracks of content."""
    full = {at // t.form.sectors for at in t.content_sectors()}
    inside = [n for n in range(1, len(t.all) - 1) if {n - 1, n, n + 1} <= full]
    if not inside:
        return None
    gone, fill = dice.choice(inside), t.filled(dice.choice(FILLS))
    return b"".join(fill if number == gone else track for number, track in enumerate(t.all))


def last_missing(t: Tracks, dice: random.Random, rate: int) -> bytes | None:
    """The image ends before the last cylinders that files lie on."""
    last = max(t.content_sectors(), default=0) // (t.form.heads * t.form.sectors)
    kept = last - rate
    return None if kept < 2 * t.form.cylinders // 3 else t.by(lambda c, s: (c, s), kept)


#: Of no disk with more cylinders can each be read twice: no drive goes so far.
MOST_DOUBLED = 45

#: Each fault with its code.
OF_ONE: dict[str, tuple[str, Fault]] = {
    **{name: (FAULTS[name][0], FAULTS[name][2]) for name in (
        "sides swapped", "one side twice", "side after side", "side 1 reversed", "one side missing", "missed step",
        "cylinder stepped over", "single-stepped", "double-stepped", "first sector wrong", "tracks turned",
        "tracks turned by skew", "interleave", "end repeated",
    )},
    "track left out": ("track-lost", track_left_out),
    "track filled": ("track-lost", track_filled),
    "last cylinders missing": ("last-cylinders-missing", last_missing),
}  # fmt: skip

_SOME = ("FAT", "FAT without block", "8-bit")
_FATS = _SOME[:2]

#: On which kinds a fault leaves evidence at all, by what each states: a directory of 8-bit machines states no order of
#: sectors, and what is without a file system shows only what comes twice. Without its block, half of a disk with a FAT
#: shows no geometry. This was written down after looking at the half that tunes.
CAN_TELL: dict[str, tuple[str, ...]] = {
    "sides swapped": _SOME, "one side twice": KINDS, "side after side": _SOME, "side 1 reversed": _SOME,
    "one side missing": ("FAT",), "missed step": KINDS, "cylinder stepped over": _SOME, "single-stepped": KINDS,
    "double-stepped": _FATS, "first sector wrong": _FATS, "tracks turned": _FATS, "tracks turned by skew": _FATS,
    "interleave": _FATS, "end repeated": KINDS, "track left out": _SOME, "track filled": _SOME,
    "last cylinders missing": _FATS,
}  # fmt: skip

#: A track alone may be hurt; of all else at least three must be other ones, or nothing can tell.
_OF_ONE_TRACK = ("track filled", "last cylinders missing")


def trials(pool: list[Disk], each: int, seed: int = 0) -> Iterator[tuple[str, str, str, Disk, bytes]]:
    """Every fault on so many disks of each kind: its name, code, the kind, the disk, and the read."""
    for fault, (code, make) in OF_ONE.items():
        dice, made = random.Random(f"{fault}{seed}"), Counter[str]()
        for attempt in range(each * 120):
            disk = dice.choice(pool)
            kind, t = kind_of(disk), Tracks(disk)
            if fault == "single-stepped" and disk.geometry.cylinders > MOST_DOUBLED:
                continue
            if made[kind] >= each or len(t.content_sectors()) < 30:
                continue
            read = make(t, dice, attempt % 3)
            if read is None or read == disk.data:
                continue
            if fault not in _OF_ONE_TRACK and disk_faults._touched(t, read) < 3:
                continue
            made[kind] += 1
            yield fault, code, kind, disk, read


def told(read: bytes) -> tuple[Finding, ...]:
    """Ask as a user's command does."""
    return reading_faults(read, solve(read))


def sound(count: int, seed: int) -> Iterator[Disk]:
    """Sound disks of all sorts, with seeds of their own."""
    dice = random.Random(f"sound{seed}")
    plain = [one for one in shapes() if one.first_track is None and 70_000 <= one.bytes < 1_600_000]
    makers: list[Callable[[], Disk]] = [
        lambda: _full_fat(dice, plain), lambda: _same_files(dice), lambda: _eight_bit(dice, plain),
        lambda: _worn(dice), lambda: _sparse(dice), lambda: _blank_tracks(dice, plain),
    ]
    for number in range(count):
        yield makers[number % len(makers)]()


def _full_fat(dice: random.Random, plain: list) -> Disk:   # type: ignore[type-arg]
    shape = dice.choice([one for one in plain if one.sector_bytes >= 256])
    full = dice.choice([0.0, 0.02, 0.3, 0.7, 1.0])
    data = fat_disk(shape, dice.randrange(10**9), full=full, with_block=dice.random() < 0.7, fill=dice.choice(
        [0xF6, 0xE5, 0]))  # fmt: skip
    return Disk(f"FAT {full}", of_shape(shape), data)


def _same_files(dice: random.Random) -> Disk:
    """Files that are alike one behind the other, some of just a cylinder, and directories."""
    cylinders, sectors, fat, cluster, media = dice.choice([
        (40, 9, 2, 2, 0xFD), (80, 9, 3, 2, 0xF9), (80, 18, 9, 1, 0xF0),
    ])  # fmt: skip
    shape = fat_volumes.Shape(
        total=cylinders * 2 * sectors, track=sectors, fat_sectors=fat, cluster_sectors=cluster, media=media,
        root_entries=112 if fat < 4 else 224,
    )  # fmt: skip
    left, inside = shape.clusters * cluster * 512 * dice.choice([0.3, 0.9]), []
    while left > 0 and len(inside) < 90:
        size = dice.choice([sectors * 1024, sectors * 512, dice.randint(100, 30000)])
        same = content(dice, size)
        for _ in range(dice.choice([1, 2, 3])):
            left -= size + 1024
            if left > 0:
                name = f"{dice.choice(WORDS)[:5]}{len(inside):03d}".ljust(8).encode() + b"DAT"
                inside.append(fat_volumes.File(name, same))
    half = len(inside) // 2
    tree = [*inside[:half], fat_volumes.Directory(b"OLD        ", inside[half:])] if dice.random() < 0.5 else inside
    return Disk("files alike", Geometry(cylinders=cylinders, heads=2, sectors=sectors, sector_bytes=512),
                fat_volumes.Writer(shape).write(list(tree)))  # fmt: skip


def _eight_bit(dice: random.Random, plain: list) -> Disk:   # type: ignore[type-arg]
    shape = dice.choice([one for one in plain if one.bytes < 1_000_000])
    full, step = dice.choice([0.05, 0.4, 1.0]), 6 if shape.sectors == 26 else 1
    return Disk(f"8-bit {full}", of_shape(shape), directory_disk(shape, dice.randrange(10**9), step=step, full=full))


def _volume(dice: random.Random) -> directory_volumes.Shape:
    while True:
        cylinders, heads, sectors, size = dice.choice([
            (77, 1, 26, 128), (40, 1, 16, 256), (40, 2, 16, 256), (80, 2, 9, 512), (40, 2, 9, 512), (80, 1, 10, 512),
        ])  # fmt: skip
        shape = directory_volumes.Shape(
            cylinders, heads, sectors, size, block=dice.choice([1024, 2048]), directory=dice.choice([64, 128]),
            offset=dice.choice([1, 2, 3]), skew=dice.choice([1, 2, 3]) if sectors % 2 else 1,
            sides=dice.choice(["alternating", "side-after-side", "side-1-reversed"]) if heads == 2 else "alternating",
        )  # fmt: skip
        if shape.possible and not (shape.skew > 1 and sectors % shape.skew == 0):
            return shape


def _worn(dice: random.Random) -> Disk:
    shape = _volume(dice)
    data, _ = directory_volumes.filled(shape, dice.randrange(10**9), dice.choice([0.1, 0.6, 0.98]), worn=True)
    return Disk("8-bit worn", _of_volume(shape), data)


def _sparse(dice: random.Random) -> Disk:
    shape = _volume(dice)
    data, _ = directory_volumes.sparse(shape, dice.randrange(10**9))
    return Disk("8-bit sparse", _of_volume(shape), data)


def _of_volume(shape: directory_volumes.Shape) -> Geometry:
    return Geometry(
        cylinders=shape.cylinders, heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes
    )


def _blank_tracks(dice: random.Random, plain: list) -> Disk:   # type: ignore[type-arg]
    """Tracks that nobody wrote between others, with or without a file system; and files full of one value."""
    shape = dice.choice(plain)
    form = of_shape(shape)
    fill, size = bytes([dice.choice([0xE5, 0xF6, 0, 0xFF])]), shape.track_bytes
    if shape.sector_bytes >= 256 and dice.random() < 0.5:
        data = bytearray(fat_disk(shape, dice.randrange(10**9), full=0.4, fill=fill[0]))
        from_track = shape.tracks // 2 + 1
    else:
        data, from_track = bytearray(fill * shape.bytes), 0
    for track in range(from_track, shape.tracks):
        if dice.random() < 0.4:
            data[track * size : (track + 1) * size] = content(dice, size)
    return Disk("blank tracks", form, bytes(data))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--aside", action="store_true")
    parser.add_argument("--trials", type=int, default=6)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--fresh", type=int, default=0, help="disks that nobody has seen, by a number of your own")
    parser.add_argument("--clean", type=int, default=0)
    parser.add_argument("--worst", action="store_true")
    parser.add_argument("--only", default="")
    options = parser.parse_args()
    pool = [one for one in disks(options.fresh) if one.aside == options.aside and one.geometry.bytes >= 70_000]
    right, wrong, cases = Counter[tuple[str, str]](), Counter[tuple[str, str]](), Counter[tuple[str, str]]()
    slowest = 0.0
    for fault, code, kind, disk, read in trials(pool, options.trials, options.seed):
        if options.only not in fault:
            continue
        started = time.perf_counter()
        found = told(read)
        slowest = max(slowest, time.perf_counter() - started)
        first = found[0].code if found else None
        cases[fault, kind] += 1
        right[fault, kind] += first == code
        wrong[fault, kind] += first not in (code, None)
        if options.worst and first != code:
            print(f"    {fault}: {disk.name} {disk.geometry.text}: {first}")
    for fault in OF_ONE:
        parts = [
            f"{kind} {right[fault, kind]}/{cases[fault, kind]}, {wrong[fault, kind]} wrong"
            for kind in KINDS if cases[fault, kind]
        ]  # fmt: skip
        print(f"{fault:24} {'; '.join(parts)}")
    for kind in KINDS:
        of_kind = [key for key in cases if key[1] == kind]
        total = sum(cases[key] for key in of_kind)
        if total:
            named = sum(right[key] for key in of_kind)
            print(f"{kind}: right first {named / total:.1%} of {total}, another named {sum(wrong[k] for k in of_kind)}")
    able = [key for key in cases if key[1] in CAN_TELL[key[0]]]
    if able:
        total, named = sum(cases[key] for key in able), sum(right[key] for key in able)
        print(f"where it can tell: right first {named / total:.1%} of {total}")
    print(f"slowest {slowest:.1f} s")
    if options.clean:
        named_on = Counter[str]()
        count = Counter[str]()
        for disk in sound(options.clean, options.seed + (1000 if options.aside else 0)):
            found = told(disk.data)
            count[disk.name] += 1
            for one in found:
                named_on[f"{disk.name}: {one.about}"] += 1
                if options.worst:
                    print(f"    sound {disk.name} {disk.geometry.text}: {one.about} {one.confidence} {one.why}")
        print(f"{sum(count.values())} sound disks: {sum(named_on.values())} findings {dict(named_on)}")


if __name__ == "__main__":
    main()
