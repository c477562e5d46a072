"""A head that gave nothing: all its tracks hold one fill, in every cylinder, while its neighbours hold content."""

from __future__ import annotations

import math
from dataclasses import dataclass

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.floppy.fill import fill_words

#: A grid of more heads, or longer tracks, is no disk's own: the numbers are translated, and stand for no head.
MOST_HEADS, MOST_SECTORS = 16, 63

#: No more of a disk than this is looked at, cylinders spread over all of it. [byte]
_LOOKED_AT = 128 << 20

#: In so many cylinders at least the tracks before and behind must hold content. Our judgement.
_LEAST = 8


@dataclass(frozen=True)
class DeadHead:
    """A head that gave nothing.

    Attributes:
        head: Counted from 0.
        fill: The bytes of each of its sectors.
        cylinders: How many were looked at.
        between: In how many of them the tracks before and behind hold content.
    """

    head: int
    fill: bytes
    cylinders: int
    between: int

    @property
    def says(self) -> str:
        """The fill in words."""
        return fill_words(self.fill)

    @property
    def confidence(self) -> float:
        """How sure it is that the head gave nothing, and not that nothing is written there."""
        return round(min(1 - math.exp2(-self.between / 4), 0.97), 2)


def dead_heads(data: Data, grid: SectorGrid) -> tuple[DeadHead, ...]:
    """Find the heads that gave nothing in any cylinder.

    Args:
        data: The whole disk.
        grid: Its geometry, as the heads of the drive have it.

    Example:
        >>> grid = SectorGrid(heads=2, sectors=4, sector_bytes=4, cylinders=9)
        >>> tide, none = b"TIDEGATEMOLELOCK", bytes(16)
        >>> [one.head for one in dead_heads((tide + none) * 9, grid)]
        [1]
    """
    track = grid.sectors * grid.sector_bytes
    cylinders = len(data) // (track * grid.heads)
    if not 2 <= grid.heads <= MOST_HEADS or grid.sectors > MOST_SECTORS or grid.first_track or not cylinders:
        return ()
    step = -(-cylinders * track * grid.heads // _LOOKED_AT)
    fills: list[set[bytes | None]] = [set() for _ in range(grid.heads)]
    between = [0] * grid.heads
    looked = range(0, cylinders, step)
    allowed = budget.current()
    for cylinder in looked:
        allowed.tick()
        start = cylinder * grid.heads * track
        tracks = [data[start + head * track : start + (head + 1) * track] for head in range(grid.heads)]
        here = [_fill(one, grid.sector_bytes) for one in tracks]
        for head, fill in enumerate(here):
            fills[head].add(fill)
            # the first and the last head have one neighbour in the same cylinder, which serves as well
            around = [here[other] for other in (head - 1, head + 1) if 0 <= other < grid.heads]
            between[head] += fill is not None and all(one is None for one in around)
    return tuple(
        DeadHead(head, fill, len(looked), between[head])
        for head in range(grid.heads)
        if len(fills[head]) == 1 and between[head] >= _LEAST and (fill := next(iter(fills[head]))) is not None
    )


def _fill(track: bytes, size: int) -> bytes | None:
    """Give the sector that a track repeats, or None where its sectors differ."""
    sector = track[:size]
    return sector if sector * (len(track) // size) == track else None
