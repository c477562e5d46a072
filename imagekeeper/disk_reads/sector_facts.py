"""What the sectors of one image are like: what tells whether they belong where they stand."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from imagekeeper.disk_reads.sectors import ABSENT, Contents, Numbers, laid_out
from imagekeeper.filesystems.directory_seams import Seams
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.geometry.sides import TEXT

#: What a sector holds, as far as it is told at a glance.
FILL, TEXT_KIND, OTHER, UNKNOWN = range(4)

#: So many pairs are taken as seen and as foretold of each, and no pair tells more than so much. [1, bit]
_DOUBT, _MOST_OF_KINDS = 2.0, 3.0

_NATS = 1.4427


class SectorFacts:
    """The sectors of an image, numbered through; the last place stands for one that is not there.

    Args:
        data: The image, sides alternating.
        geometry: How its tracks are divided; it may have more or fewer of them than the disk.

    Example:
        >>> form = Geometry(cylinders=2, heads=1, sectors=2, sector_bytes=64)
        >>> facts = SectorFacts(b"high water at noon" + bytes(46) + b"A" * 63 + b"B" + b"tide" * 16, form)
        >>> facts.count, facts.kinds.tolist(), facts.tails.tolist()
        (3, [2, 1, 0, 3], [46, 1, 1, 0])
    """

    def __init__(self, data: bytes, geometry: Geometry) -> None:
        size = geometry.sector_bytes
        self.count = len(data) // size
        self.data, self.size = data[: self.count * size], size
        self.contents = Contents()
        self.numbers: Numbers = laid_out(self.data, geometry, self.contents)
        flat = self.numbers.ravel()
        self.flat = np.append(flat[: self.count], ABSENT)
        bytes_of = np.frombuffer(self.data, np.uint8).reshape(self.count, size)
        self.whole = np.concatenate((bytes_of, np.zeros((1, size), np.uint8)))
        text = np.zeros(256, bool)
        text[np.frombuffer(TEXT, np.uint8)] = True
        self.fill: NDArray[np.bool_] = self.contents.is_fill[self.flat]
        self.kinds = np.where(self.fill, FILL, np.where(text[self.whole].all(axis=1), TEXT_KIND, OTHER))
        self.kinds[-1] = UNKNOWN
        self.fill[-1] = False
        apart = self.whole != self.whole[:, -1:]
        self.tails = np.where(apart.any(axis=1), apart[:, ::-1].argmax(axis=1), size)
        self.tails[-1] = 0
        self._told = np.full(1 << 16, np.nan)

    @cached_property
    def _seams(self) -> Seams:
        return Seams(self.data)

    @cached_property
    def _of_kinds(self) -> NDArray[np.float64]:
        """How much two kinds that follow each other speak for it, by how often they do within tracks. [bit]"""
        before, after = self.kinds[: self.count - 1], self.kinds[1 : self.count]
        seen = np.zeros((4, 4))
        np.add.at(seen, (before, after), 1)
        whole = max(seen.sum(), 1)
        by_chance = seen.sum(axis=1)[:, None] * seen.sum(axis=0)[None, :] / whole
        told = np.log2((seen + _DOUBT) / (by_chance + _DOUBT)).clip(-_MOST_OF_KINDS, _MOST_OF_KINDS)
        told[UNKNOWN, :] = told[:, UNKNOWN] = 0
        found: NDArray[np.float64] = told
        return found

    def order_bits(self, before: NDArray[np.int64], after: NDArray[np.int64]) -> float:
        """Tell how much speaks for sectors to follow each other, beside any two; the same two count once. [bit]"""
        there = (before != self.count) & (after != self.count)
        before, after = before[there], after[there]
        _, first = np.unique(self.flat[before] << 32 | self.flat[after], return_index=True)
        before, after = before[first], after[first]
        pairs = self.whole[before, -1].astype(np.int64) << 8 | self.whole[after, 0]
        for pair in np.unique(pairs[np.isnan(self._told[pairs])]).tolist():
            self._told[pair] = self._seams.between(pair >> 8, pair & 255) * _NATS
        kinds = self._of_kinds[self.kinds[before], self.kinds[after]]
        return float(self._told[pairs].sum() + kinds.sum())
