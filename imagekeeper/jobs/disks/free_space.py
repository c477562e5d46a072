"""Which parts of a disk the file systems of all its reads leave free."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from functools import cache
from operator import itemgetter

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid
from imagekeeper.jobs.disks.looking_into import Solving


def free_in_all(reads: Sequence[Data], grid: SectorGrid | None = None) -> Callable[[int, int], bool]:
    """Give a function that tells of a stretch, its start and length, whether every read's file system leaves it free.

    A read without a file system, or with another one than the others, makes nothing free: its table may be what was
    not read. The reads are looked into when the function is first asked.

    Args:
        reads: Images of one disk, of equal size.
        grid: The geometry where it is certain.
    """

    @cache
    def stretches() -> tuple[tuple[tuple[int, int], ...], ...]:
        return tuple(tuple(_free(data, grid)) for data in reads)

    def free(start: int, length: int) -> bool:
        for mine in stretches():
            at = bisect_right(mine, start, key=itemgetter(0)) - 1
            if at < 0 or mine[at][1] < start + length:
                return False
        return True

    return free


def _free(data: Data, grid: SectorGrid | None) -> list[tuple[int, int]]:
    """The free stretches of one read, from and to, joined and ascending. [byte]"""
    disk = read_disk(data, ReadingOptions(grid=grid), Solving(data).grids())
    found: list[tuple[int, int]] = []
    for start, length in sorted(
        (one.start, one.length) for volume in disk.volumes for one in volume.free if one.start is not None
    ):  # fmt: skip
        if found and start <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], start + length)
        else:
            found.append((start, start + length))
    return found
