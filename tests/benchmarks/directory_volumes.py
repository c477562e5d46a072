"""How often the division of a volume of 8-bit machines is found without its disk parameter block; run by hand.

    python -m tests.benchmarks.directory_volumes [SEEDS] [--grid] [--worn]

Disks as people have them, of every geometry of the table, filled to several degrees, with blocks of several sizes. The
answer is right when every file is read back exactly; it is exact when all parameters are those of the disk. `--grid`
gives the geometry along; `--worn` scatters blocks and entries, and half of the files were deleted. At the end, what is
claimed wrongly is counted on disks without such a directory.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from statistics import median

from imagekeeper.filesystems.directory_system import DirectoryReader
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid
from imagekeeper.tables.floppy import format_rows
from tests.filesystems.directory_volumes import Content, Shape, filled
from tests.geometry.disks import bare_disk, fat_disk, shape_of

FULL = (0.1, 0.4, 0.8)


def shapes(seed: int) -> Iterator[Shape]:
    """One division of each geometry, drawn by the seed."""
    dice = random.Random(seed)
    seen = set()
    for row in format_rows().values():
        key = (row.cylinders, row.heads, row.sectors, row.sector_bytes)
        if key in seen or row.first_track is not None or row.bytes > 1_300_000:
            continue
        seen.add(key)
        small = row.bytes < 270_000
        shape = Shape(
            *key, block=dice.choice([1024, 2048] if small else [2048, 2048, 4096]),
            directory=dice.choice([32, 64, 64] if small else [64, 128, 256]), offset=dice.choice([0, 1, 2, 2, 3, 4]),
            skew=6 if row.sectors == 26 and row.sector_bytes == 128 else dice.choice([1, 1, 2, 3]),
            sides=dice.choice(["alternating", "alternating", "side-after-side", "side-1-reversed"])
            if row.heads == 2 else "alternating",
        )  # fmt: skip
        if row.sectors % shape.skew == 0 and shape.skew > row.sectors // 2:
            shape.skew = 1
        if shape.possible:
            yield shape


def read_exactly(disk: bytes, files: list[Content], shape: Shape, grid: SectorGrid | None) -> tuple[bool, bool, float]:
    """Whether the first answer gives every file, and whether it is exact; and its score."""
    reader = DirectoryReader()
    found = reader.recognise(disk, grid)
    if not found:
        return False, False, 0.0
    best = found[0]
    division = best.answer.detail.parameters
    volume = reader.read(disk, best.answer, ReadingOptions())
    got = Counter((one.group, one.raw_name, b"".join(one.blocks(disk))) for one in volume.entries)
    right = got == Counter((str(one.user), one.name, one.expected) for one in files)
    exact = (division.block_bytes, division.directory_entries, division.reserved_tracks, division.extent_mask,
             division.skew, division.sides) == (
        shape.block, shape.directory, shape.offset, shape.exm, shape.skew, shape.sides)   # fmt: skip
    return right, exact, best.score


def main() -> None:
    seeds = int(next((a for a in sys.argv[1:] if a.isdecimal()), "2"))
    with_grid, worn = "--grid" in sys.argv, "--worn" in sys.argv
    right, exact, cases = Counter[float](), Counter[float](), Counter[float]()
    by_skew: dict[str, list[bool]] = defaultdict(list)
    times, wrong, wrong_scores = [], Counter[str](), []
    for seed in range(seeds):
        for shape in shapes(seed):
            for full in FULL:
                disk, files = filled(shape, seed, full, worn=worn)
                if not files:
                    continue
                whole = SectorGrid(
                    heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes,
                    cylinders=shape.cylinders,
                )  # fmt: skip
                grid = whole if with_grid else None
                started = time.process_time()
                is_right, is_exact, score = read_exactly(disk, files, shape, grid)
                times.append(time.process_time() - started)
                cases[full] += 1
                right[full] += is_right
                exact[full] += is_exact
                by_skew["skewed" if shape.skew > 1 else "plain"].append(is_right)
                by_skew[shape.sides].append(is_right)
                if not is_right:
                    wrong[f"{full:.0%} full, {len(files)} files: {shape}"] += 1
                    wrong_scores.append(score)
    for full in FULL:
        print(f"{full:4.0%} full: {cases[full]:4} disks, all files read {right[full] / cases[full]:6.1%}, "
              f"division exact {exact[full] / cases[full]:6.1%}")
    for kind, found in by_skew.items():
        print(f"{kind:16} {len(found):4} disks, all files read {sum(found) / len(found):6.1%}")
    for says, _ in wrong.most_common(12):
        print("   ", says)
    print(f"all: {sum(right.values()) / sum(cases.values()):.1%} read, time: median {median(times) * 1000:.0f} ms, "
          f"longest {max(times) * 1000:.0f} ms")
    print(f"scores of wrong answers: {[round(one, 2) for one in sorted(wrong_scores)]}")
    claimed = []
    for name in ("8-77x1x26x128-fm", "5.25-40x2x9x512", "3.5-80x2x9x512", "5.25-40x1x16x256"):
        for seed in range(4 * seeds):
            for other in (bare_disk(shape_of(name), seed), fat_disk(shape_of(name), seed)):
                claimed += [one.score for one in DirectoryReader().recognise(other, None)[:1]]
    print(f"without a directory: {8 * 4 * seeds} disks, claimed {len(claimed)}, "
          f"highest score {max(claimed, default=0)}")


if __name__ == "__main__":
    main()
