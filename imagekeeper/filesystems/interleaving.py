"""Sectors of a hard disk that stand in the image as they lie on the disk, not by number.

The FATs tell it. The first sector of a track stands first in either order, so that tables and boot sectors are found
all the same; the FATs behind them are not. From memory: an interleave of k puts the next number k places on, or on the
next free place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, SupportsIndex, overload

from imagekeeper.containers.model import Data, DataWindow
from imagekeeper.filesystems.fat_layout import FatLayout, weighed_at
from imagekeeper.filesystems.partitions import SECTOR
from imagekeeper.floppy.order import placed

#: A volume is read with certainty in an order from this score on.
_CERTAIN = 0.85

#: So many sectors of the FATs at most are held against each other.
_COMPARED = 256


@dataclass(frozen=True)
class Interleave:
    """The order in which the sectors stand.

    Attributes:
        step: From one number to the next it goes this many places on.
        sectors: Of a track.
        equal: How many sectors of the two FATs that hold something are equal in the order of their numbers.
    """

    step: int
    sectors: int
    equal: int


class ByNumber:
    """Data whose sectors stand as they lie on the disk, given by number; nothing is copied but what is asked for.

    Args:
        data: As it stands.
        sectors: Of a track.
        sector_bytes: Size of a sector. [byte]
        step: From one number to the next it goes this many places on.

    Example:
        >>> ByNumber(b"04152637" + b"89", 8, 1, 2)[:]
        b'0123456789'
    """

    def __init__(self, data: Data, sectors: int, sector_bytes: int, step: int) -> None:
        self._data, self._size, self._track = data, sector_bytes, sectors * sector_bytes
        self._slots = slots(sectors, step)
        self._whole = len(data) - len(data) % self._track   # what is left over at the end stays as it is

    def __len__(self) -> int:
        return len(self._data)

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        if not isinstance(index, slice):
            at = range(len(self))[index]
            return self[at : at + 1][0]
        start, stop, step = index.indices(len(self))
        if step != 1:
            return self[:][index]
        first = start - start % self._track
        pieces = []
        for at in range(first, min(stop, self._whole), self._track):
            raw = self._data[at : at + self._track]
            pieces += [raw[slot * self._size : (slot + 1) * self._size] for slot in self._slots]
        if stop > self._whole:
            first = first if pieces else start
            pieces.append(self._data[max(start, self._whole) : stop])
        return b"".join(pieces)[start - first : stop - first]


@cache
def slots(sectors: int, step: int) -> tuple[int, ...]:
    """Give the place on the track of each sector, by number.

    Example:
        >>> slots(8, 3)
        (0, 3, 6, 1, 4, 7, 2, 5)
    """
    order = placed(sectors, step)
    return tuple(order.index(number) for number in sorted(order))


def interleave(data: Data, volumes: Iterable[tuple[int, int]]) -> Interleave | None:
    """Find the order of the sectors in which the FATs of a disk lie where they should; None where none is needed.

    Args:
        data: The whole disk.
        volumes: Where volumes begin, with the sectors of a track that each states. [byte]
    """
    for start, sectors in volumes:
        sector = data[start : start + SECTOR]
        volume = DataWindow(data, start, len(data) - start)
        plain = weighed_at(sector, volume)
        if plain is None or not 3 <= sectors <= 63 or start % (sectors * SECTOR):
            continue
        if plain.score >= _CERTAIN and _equal(volume, plain.answer.detail):
            continue
        for step in range(2, sectors):
            view = ByNumber(data, sectors, SECTOR, step)
            found = weighed_at(sector, DataWindow(view, start, len(view) - start))
            if found is not None and found.score >= _CERTAIN:
                equal = _equal(DataWindow(view, start, len(view) - start), found.answer.detail)
                if equal:
                    return Interleave(step, sectors, equal)
    return None


def _equal(data: Data, layout: FatLayout) -> int:
    """Count the sectors of the first two FATs that hold something and are equal; 0 where any differ, or it is alone."""
    count = 0
    if layout.fats < 2:
        return 0
    for number in range(min(layout.fat_sectors, _COMPARED)):
        one, other = (
            data[at : at + SECTOR] for at in (layout.fat_start(copy) + number * SECTOR for copy in (0, 1))
        )
        if one != other:
            return 0
        count += any(one)
    return count
