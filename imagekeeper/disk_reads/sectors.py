"""Reads of a disk as arrays of sectors: equal contents have one number, so that whole disks are compared at once."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import noise_bits
from imagekeeper.floppy.arrangement import Geometry, SideOrder, tracks

#: Numbers of contents: one row a track, cylinder by cylinder and side by side; one column a sector.
Numbers = NDArray[np.int64]

#: What a place holds of which a read has nothing.
ABSENT = -1

#: A text that a reader writes in place of what it cannot read is no longer than this. [byte]
LONGEST_TEXT = 32

#: Bits to say that a sector is fill, where fill is what is usual.
FILL_BITS = 0.02

#: So many cylinders beyond those of the geometry are looked at, in shares of it.
MOST_TIMES = 3


def fill_of(sector: bytes) -> bytes | None:
    r"""Give what fills a sector, one byte or one text over and over; None where it is content.

    Example:
        >>> fill_of(b"\xe5" * 512), fill_of((b"NOT READ " * 60)[:512]), fill_of(b"level at the gauge 3.41 m")
        (b'\xe5', b'NOT READ ', None)
    """
    for period in range(1, min(LONGEST_TEXT, len(sector) // 3) + 1):
        if sector[period:] == sector[:-period]:
            return sector[:period]
    return None


#: A content is another with some of it wrong where no more than this share of its bytes are others.
_MOST_WRONG = 0.5


class Contents:
    """All contents of sectors that the reads hold, each with its number.

    Example:
        >>> contents = Contents()
        >>> contents.number(b"tide" * 8), contents.number(b"gate" * 8), contents.number(b"tide" * 8)
        (0, 1, 0)
    """

    def __init__(self) -> None:
        self._numbers: dict[bytes, int] = {}
        self.sectors: list[bytes] = []
        self.fills: list[bytes | None] = []
        self._bits: list[float] = []
        self._between: dict[tuple[int, int], tuple[float, bool]] = {}

    def number(self, sector: bytes) -> int:
        """Give the number of a content; an empty one is `ABSENT`."""
        if not sector:
            return ABSENT
        found = self._numbers.setdefault(sector, len(self.sectors))
        if found == len(self.sectors):
            fill = fill_of(sector)
            self.sectors.append(sector)
            self.fills.append(fill)
            self._bits.append(8.0 * len(zlib.compress(sector, 1)) if fill is None else FILL_BITS)
        return found

    @property
    def bits(self) -> NDArray[np.float64]:
        """What each content takes by itself, at its number; the last is that of `ABSENT`. [bit]"""
        return np.array([*self._bits, 0.0])

    @property
    def is_fill(self) -> NDArray[np.bool_]:
        """Whether each content is fill, at its number; `ABSENT` is."""
        return np.array([*(one is not None for one in self.fills), True])

    def between(self, first: int, second: int) -> tuple[float, bool]:
        """Tell the second content when the first is known.

        Returns:
            The bits, and whether it is the first with some of it wrong: single bits, or a stretch of others.
        """
        found = self._between.get((first, second))
        if found is None:
            found = self._between[first, second] = self._compared(first, second)
        return found

    def _compared(self, first: int, second: int) -> tuple[float, bool]:
        one, other = (np.frombuffer(self.sectors[number], np.uint8) for number in (first, second))
        whole = self._bits[second]
        if len(one) != len(other) or self.fills[first] is not None or self.fills[second] is not None:
            return whole, False
        differing = one ^ other
        at = np.flatnonzero(differing)
        stretch = 2 * math.log2(len(one)) + 8.0 * float(at[-1] - at[0] + 1)
        bits = min(noise_bits(len(one), int(np.bitwise_count(differing).sum())), stretch)
        return (min(bits, whole), True) if len(at) <= _MOST_WRONG * len(one) else (whole, False)


@dataclass(frozen=True, kw_only=True, eq=False)
class SectorRead:
    """One image of the disk, with the reads that gave it.

    Attributes:
        numbers: Its contents by track and sector; as many tracks as it holds.
        reads: The numbers of the reads that gave it, counted from 1.
        name: What to call them.
        data: Its bytes as they lie on the disk, sides alternating.
    """

    numbers: Numbers
    reads: tuple[int, ...]
    name: str
    data: bytes

    @cached_property
    def tracks(self) -> int:
        """How many tracks it has something of."""
        return len(self.numbers)


def laid_out(data: bytes, geometry: Geometry, contents: Contents) -> Numbers:
    """Number the contents of an image by track and sector; its last track may be cut short.

    A first track of other sectors has them in the first columns; columns that it lacks are `ABSENT`.

    Args:
        data: The image, sides alternating.
        geometry: How it is divided.
        contents: Where contents have their numbers.

    Example:
        >>> disk = Geometry(cylinders=2, heads=1, sectors=2, sector_bytes=32)
        >>> laid_out(bytes(64) + b"tide" * 8, disk, Contents()).tolist()
        [[0, 0], [1, -1]]
    """
    count, size = geometry.first_track or (geometry.sectors, geometry.sector_bytes)
    first, each = geometry.first_track_bytes, geometry.track_bytes
    whole = 1 + max(-(-(len(data) - first) // each), 0)
    found = np.full((whole, max(count, geometry.sectors)), ABSENT, np.int64)
    for track in range(whole):
        start = 0 if not track else first + (track - 1) * each
        if track:
            count, size = geometry.sectors, geometry.sector_bytes
        for sector in range(count):
            found[track, sector] = contents.number(data[start + sector * size : start + (sector + 1) * size])
    return found


def in_order(data: bytes, geometry: Geometry, order: SideOrder) -> bytes:
    """Put the tracks of an image into the order of the disk; what it lacks at its end may then lie anywhere.

    Example:
        >>> disk = Geometry(cylinders=2, heads=2, sectors=1, sector_bytes=32)
        >>> in_order(b"a" * 32 + b"b" * 32 + b"A" * 32 + b"B" * 32, disk, "side-after-side")[::32]
        b'aAbB'
    """
    if order == "alternating" or geometry.heads != 2:
        return data
    size, first = geometry.track_bytes, geometry.first_track_bytes
    pieces: dict[tuple[int, int], bytes] = {}
    at = 0
    for track in tracks(geometry.cylinders, order):
        length = size if at else first
        pieces[track] = data[at : at + length]
        at += length
    joined = b"".join(pieces[track] for track in tracks(geometry.cylinders, "alternating"))
    return joined + data[at:] if all(pieces.values()) else data


def padded(numbers: Numbers, count: int) -> Numbers:
    """Give an image so many tracks; those that it lacks are `ABSENT`."""
    if len(numbers) >= count:
        return numbers
    more = np.full((count - len(numbers), numbers.shape[1]), ABSENT, np.int64)
    return np.concatenate((numbers, more))


def alike(images: Sequence[Numbers], count: int) -> NDArray[np.int64]:
    """For every image, track and sector the first image with the same content; -1 where it has none.

    Example:
        >>> alike([np.array([[5, 6]]), np.array([[5, 7]])], 1).tolist()
        [[[0, 0]], [[0, 1]]]
    """
    whole = np.stack([padded(one, count)[:count] for one in images])
    found = np.zeros_like(whole)
    for number in range(len(images) - 1, -1, -1):
        found = np.where(whole == whole[number], number, found)
    return np.where(whole == ABSENT, -1, found)
