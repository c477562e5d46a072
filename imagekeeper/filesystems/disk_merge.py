"""Several reads of a disk of any size made into one: merged part by part, so that memory stays bounded.

What is decided of each sector is `sector_merge`'s; here the parts are put together, and what is alike is told as one
stretch.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from imagekeeper.containers.model import Data, DataWindow
from imagekeeper.errors import UsageError
from imagekeeper.filesystems import bad_sectors, sector_merge
from imagekeeper.filesystems.bad_sectors import Bad, BadSector, SectorState
from imagekeeper.filesystems.model import Extent, SectorGrid, SectorPlace
from imagekeeper.filesystems.sector_merge import MERGED_STATES, MergedSector, MergedState

#: So much is merged at once, a whole number of cylinders. [byte]
_PART = 64 << 20

#: No more sectors than this are named one by one; stretches name all.
MOST_SECTORS = 1 << 16

#: Reads that differ in more places than this have nothing in common.
_MOST_STRETCHES = 1 << 18


@dataclass(frozen=True, kw_only=True, slots=True)
class MergedStretch:
    """Sectors that follow each other and are alike: of one state, and taken from one read.

    Attributes:
        first: Cylinder, head and sector of the first.
        last: The same of the last.
        start: Where the first begins in the image. [byte]
        length: Size of all. [byte]
        sectors: How many they are.
        state: good, voted, disputed, doubtful, bad or missing.
        taken_from: The number of the read that they were taken from, counted from 1.
    """

    first: SectorPlace
    last: SectorPlace
    start: int
    length: int
    sectors: int
    state: Literal["good"] | MergedState
    taken_from: int


class DiskMergeAccount:
    """Merges reads part by part, and keeps account of it; complete once all parts were taken.

    Args:
        reads: Images of equal size.
        listed: For each read what was not read well; None where there is no list.
        grid: The geometry of the disk.
        free: Tells of a stretch of the image whether the file system leaves it free; see `sector_merge.merge`.

    Raises:
        UsageError: As `sector_merge.merge`, and for reads that differ nearly everywhere.
    """

    def __init__(
        self, reads: Sequence[Data], listed: Sequence[Sequence[Bad] | None], grid: SectorGrid, *,
        free: Callable[[int, int], bool] = lambda start, length: False,
    ) -> None:  # fmt: skip
        self._reads, self._grid, self._free = reads, grid, free
        self._listed = [None if one is None else bad_sectors.extents(one, grid) for one in listed]
        self.sectors = self.mended = self.left_out = 0
        self.counts: Counter[str] = Counter()
        self.map: list[MergedSector] = []
        self.stretches: list[MergedStretch] = []

    def blocks(self) -> Iterator[bytes]:
        """Give the merged image piece by piece."""
        size, grid = len(self._reads[0]), self._grid
        cylinder = grid.heads * grid.sectors * grid.sector_bytes
        part = size if grid.first_track else max(_PART // cylinder, 1) * cylinder
        for start in range(0, max(size, 1), max(part, 1)):
            end = min(start + part, size)
            # of another size than the first only where all are refused for it
            windows = [DataWindow(one, start, end - start if len(one) == size else len(one)) for one in self._reads]
            base = start // cylinder
            account = sector_merge.merge(
                windows, [None if one is None else self._part(one, start, end, base) for one in self._listed],
                grid if not start else replace(grid, cylinders=None),
                free=partial(self._free_in_part, start),
            )  # fmt: skip
            self._take(account, start, base)
            yield from account.blocks(windows)

    def _free_in_part(self, base: int, start: int, length: int) -> bool:
        return self._free(base + start, length)

    @property
    def supplied(self) -> tuple[int, ...]:
        """How many sectors of the image come from each read."""
        others = Counter[int]()
        for one in self.stretches:
            others[one.taken_from] += one.sectors
        first = self.sectors - sum(count for number, count in others.items() if number > 1)
        return (first, *(others[number] for number in range(2, len(self._reads) + 1)))

    def _part(
        self, listed: Sequence[tuple[Extent, SectorState]], start: int, end: int, base: int
    ) -> list[BadSector]:
        named = bad_sectors.by_sector(listed, self._grid, start, end)
        return [
            BadSector(SectorPlace(one.place.cylinder - base, one.place.head, one.place.sector), one.state)
            for one in named
        ]

    def _take(self, account: sector_merge.SectorMerge, start: int, base: int) -> None:
        self.sectors += account.sectors
        self.mended += account.mended
        self.counts.update(account.counts)
        told = {one.start: one for one in account.map}
        for at in sorted({*told, *account.taken}):
            one = told.get(at)
            if one is None:
                length, read = account.taken[at]
                self._add(start + at, length, "good", read + 1)
                continue
            self._add(start + at, one.length, one.state, one.taken_from)
            if len(self.map) < MOST_SECTORS:
                self.map.append(replace(one, cylinder=one.cylinder + base, start=one.start + start))
            else:
                self.left_out += 1

    def _add(self, at: int, length: int, state: Literal["good"] | MergedState, taken_from: int) -> None:
        place = self._grid.place(at)
        last = self.stretches[-1] if self.stretches else None
        if last is not None and (last.start + last.length, last.state, last.taken_from) == (at, state, taken_from):
            self.stretches[-1] = replace(last, last=place, length=last.length + length, sectors=last.sectors + 1)
            return
        if len(self.stretches) >= _MOST_STRETCHES:
            raise UsageError("usage/merge-of-strangers", limit=_MOST_STRETCHES)
        self.stretches.append(MergedStretch(
            first=place, last=place, start=at, length=length, sectors=1, state=state, taken_from=taken_from,
        ))

    @property
    def not_good(self) -> dict[MergedState, int]:
        """How many sectors are of each state that is not good."""
        return {state: self.counts[state] for state in MERGED_STATES}
