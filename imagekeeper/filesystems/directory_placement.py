"""Where the records of a volume of 8-bit machines lie in an image: reserved tracks, order of sides, order of sectors.

Logical bytes are counted from the beginning of block 0, which is that of the directory: the first track behind the
reserved ones. Rule: the system counts tracks and the records on them; how those lie on the disk is the machine's own.
Source: Digital Research, CP/M 2.2 Alteration Guide, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_parameters import DiskParameters
from imagekeeper.filesystems.model import Extent, SectorGrid, joined


class BlockPlacement:
    """Finds logical bytes in an image.

    Args:
        parameters: How the disk is divided.
        size: Of the image. [byte]
        grid: The geometry of the disk where it is known: for the order of sides, and a first track of its own size.

    Example:
        >>> worked = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0, skew=6,
        ... )
        >>> where = BlockPlacement(worked, 256256)
        >>> where.begin, where.extents(0, 384)   # sectors 1, 7 and 13 of track 2
        (6656, (Extent(start=6656, length=128), Extent(start=7424, length=128), Extent(start=8192, length=128)))
    """

    def __init__(self, parameters: DiskParameters, size: int, grid: SectorGrid | None = None) -> None:
        self._parameters, self._size = parameters, size
        self._track = parameters.track_bytes
        first = grid.first_track if grid is not None else None
        self._first = first[0] * first[1] if first is not None else self._track
        cylinders = grid.cylinders if grid is not None else None
        self._cylinders = cylinders or max(-(-size // (2 * self._track)), 1)
        self._slots = [number - 1 for number in parameters.sector_order]
        self._plain = self._slots == list(range(len(self._slots))) and parameters.sides == "alternating"

    @property
    def begin(self) -> int:
        """Where the directory's track begins in the image. [byte]"""
        return self.track_start(self._parameters.reserved_tracks)

    @property
    def logical_bytes(self) -> int:
        """How many logical bytes an image of this size can hold. [byte]"""
        reserved = self._parameters.reserved_tracks
        if self._parameters.sides == "alternating":
            return max(self._size - self.begin, 0)
        return max(2 * self._cylinders - reserved, 0) * self._track

    def track_start(self, number: int) -> int:
        """Where a track begins in the image, tracks counted as the system uses them. [byte]"""
        sides, half = self._parameters.sides, self._cylinders
        if sides != "alternating":
            if number < half:
                number = 2 * number
            else:
                cylinder = number - half if sides == "side-after-side" else 2 * half - 1 - number
                number = 2 * cylinder + 1 if cylinder >= 0 else number
        return self._first + (number - 1) * self._track if number else 0

    def pieces(self, start: int, length: int) -> Iterator[tuple[int | None, int]]:
        """Give the pieces (start in the image, length) of logical bytes; None where the image has nothing."""
        if self._plain:
            yield from self._within(self.begin + start, length)
            return
        sector, end = self._parameters.sector_bytes, start + length
        while start < end:
            track, rest = divmod(start, self._track)
            slot, within = divmod(rest, sector)
            size = min(sector - within, end - start)
            at = self.track_start(self._parameters.reserved_tracks + track) + self._slots[slot] * sector + within
            yield from self._within(at, size)
            start += size

    def _within(self, at: int, length: int) -> Iterator[tuple[int | None, int]]:
        there = min(max(self._size - at, 0), length)
        if there:
            yield at, there
        if there < length:
            yield None, length - there

    def extents(self, start: int, length: int) -> tuple[Extent, ...]:
        """Give the extents of logical bytes."""
        return joined(self.pieces(start, length))

    def read(self, data: Data, start: int, length: int) -> bytes:
        r"""Read logical bytes; what the image does not have is given as free, which is E5.

        Example:
            >>> plain = DiskParameters(
            ...     records_per_track=1, block_bytes=1024, blocks=2, directory_entries=4, reserved_tracks=1,
            ...     extent_mask=0,
            ... )
            >>> BlockPlacement(plain, 384).read(bytes(128) + b"T" * 256, 0, 258)[-3:]
            b'T\xe5\xe5'
        """
        return b"".join(
            b"\xe5" * size if at is None else data[at : at + size] for at, size in self.pieces(start, length)
        )
