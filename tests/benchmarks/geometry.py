"""How often the geometry is found, over every format of the table, with invented content; run by hand.

    python -m tests.benchmarks.geometry [SEEDS] [--no-sides]

Two shapes with the same bytes on a track, as 8 x 512 and 16 x 256, or 40 x 2 and 80 x 1 tracks, lay the same bytes in
the same places: without a parameter block little tells them apart, and nothing does where no written sector ends in the
fill. Their share is printed beside the others.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from statistics import median

from imagekeeper.geometry import Known, solve
from imagekeeper.geometry.shapes import Shape, shapes
from imagekeeper.geometry.sides import ORDERS
from tests.geometry.disks import bare_disk, directory_disk, fat_disk, in_order

FULL = (0.1, 0.3, 0.6, 0.97)


def suited(shape: Shape) -> bool:
    """FATs need sectors that the table can count, and one kind of track."""
    return shape.first_track is None


def makers(shape: Shape, seeds: int) -> Iterator[tuple[str, Callable[[], bytes]]]:
    for seed in range(seeds):
        for full in FULL:
            if suited(shape):
                yield "FATs, parameter block", lambda s=seed, f=full: fat_disk(shape, s, full=f)
                yield "FATs, no block", lambda s=seed, f=full: fat_disk(shape, s, full=f, with_block=False)
                yield "8-bit directory", lambda s=seed, f=full: directory_disk(shape, s, full=f)
                if shape.sector_bytes == 128:
                    yield "8-bit directory, skew 6", lambda s=seed, f=full: directory_disk(shape, s, full=f, step=6)
            yield "no file system", lambda s=seed, f=full: bare_disk(shape, s, full=f)


def main() -> None:
    seeds = int(next((a for a in sys.argv[1:] if a.isdecimal()), "2"))
    by_size = Counter[int]()
    first, alike, cases = Counter[str](), Counter[str](), Counter[str]()
    wrong: Counter[str] = Counter()
    times = []
    for shape in shapes():
        found = solve(known=Known(size_bytes=shape.bytes)).candidates
        by_size[next((i for i, one in enumerate(found) if set(one.formats) == set(shape.formats)), 99)] += 1
        for kind, make in makers(shape, seeds):
            data = make()
            started = time.perf_counter()
            best = solve(data).candidates[0]
            times.append(time.perf_counter() - started)
            cases[kind] += 1
            if set(best.formats) == set(shape.formats):
                first[kind] += 1
            else:
                wrong[f"{kind}: {shape.text} ({shape.track.encoding}) taken for {best.geometry} ({best.encoding})"] += 1
                same = best.sectors * best.sector_bytes == shape.track_bytes
                alike[kind] += same
    whole = sum(by_size.values())
    print(f"by size alone, {whole} shapes: first {by_size[0] / whole:.1%}, "
          f"within three {sum(by_size[i] for i in range(3)) / whole:.1%}")
    for kind, count in cases.items():
        print(f"{kind:26} {count:5} disks: first {first[kind] / count:6.1%}, "
              f"taken for a shape with the same tracks {alike[kind] / count:6.1%}")
    systems = [kind for kind in cases if kind != "no file system"]
    print(f"with a file system         {sum(cases[k] for k in systems):5} disks: first "
          f"{sum(first[k] for k in systems) / sum(cases[k] for k in systems):6.1%}, "
          f"or a shape with the same tracks "
          f"{sum(first[k] + alike[k] for k in systems) / sum(cases[k] for k in systems):6.1%}")
    for says, count in wrong.most_common(25):
        print(f"    {count:3} {says}")
    print(f"time: median {median(times) * 1000:.0f} ms, longest {max(times) * 1000:.0f} ms")
    if "--no-sides" not in sys.argv:
        print_sides(seeds)


def print_sides(seeds: int) -> None:
    """Orders of sides: right, wrong, not told."""
    for kind, make in (("FATs", fat_disk), ("8-bit directory", directory_disk), ("no file system", bare_disk)):
        for order in ORDERS:
            told = Counter[str]()
            for shape in shapes():
                if shape.heads == 1 or not suited(shape):
                    continue
                for seed in range(seeds):
                    for full in FULL:
                        best = solve(in_order(make(shape, seed, full=full), shape, order)).candidates[0]
                        if set(best.formats) != set(shape.formats):
                            told["other shape"] += 1
                        else:
                            told["not told" if best.side_order is None else
                                 "right" if best.side_order == order else "wrong"] += 1
            count = sum(told.values())
            print(f"sides, {kind}, {order}: " + ", ".join(f"{k} {v / count:.1%}" for k, v in sorted(told.items())))


if __name__ == "__main__":
    main()
