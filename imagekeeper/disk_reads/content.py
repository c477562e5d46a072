"""What an image says of itself as a disk: whether its file system is whole, what files it has, whether text goes on."""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

from imagekeeper.filesystems.directory_parameters import RECORD
from imagekeeper.filesystems.directory_seams import Seams
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import Entry, ReadingOptions, SectorGrid, Volume
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.geometry.parameters import block_at

#: What a sound parameter block in the first sector, a whole file system, and each thing wrong with it say. [bit]
_BLOCK, _WHOLE, _WRONG = 24.0, 16.0, 6.0

#: So many things wrong with a file system say no more than this many.
_MOST_WRONG = 6

#: Seams of text say something from here on, and no more than that. [bit]
_TELLING, _MOST_OF_SEAMS = 8.0, 40.0

#: So many names of files are given.
NAMES = 12


class DiskContent:
    """What is on a disk, found where somebody asks.

    Args:
        data: An image, sides alternating.
        geometry: How it is divided.
    """

    def __init__(self, data: bytes, geometry: Geometry) -> None:
        self._data = data
        self._grid = SectorGrid(
            heads=geometry.heads, sectors=geometry.sectors, sector_bytes=geometry.sector_bytes,
            cylinders=geometry.cylinders, first_track=geometry.first_track,
        )  # fmt: skip

    @cached_property
    def volumes(self) -> tuple[Volume, ...]:
        """The file systems on it."""
        how = ReadingOptions(check=True, grid=self._grid)
        return tuple(read_disk(self._data, how, iter([self._grid])).volumes) if self._data else ()

    @cached_property
    def wrong(self) -> int:
        """How many things are wrong with its file systems."""
        return sum(one.severity != "note" for volume in self.volumes for one in volume.findings)

    @cached_property
    def files(self) -> dict[str, Entry]:
        """Its files by path."""
        return {
            f"{entry.group or ''} {entry.path}".strip(): entry
            for volume in self.volumes for entry in volume.entries if entry.kind == "file" and not entry.deleted
        }  # fmt: skip

    @cached_property
    def order_bits(self) -> float:
        """How much speaks for the order of its tracks and sectors, beside another order of the same. [bit]"""
        found = _BLOCK if block_at(self._data, 0) is not None else 0.0
        if self.volumes:
            found += _WHOLE - _WRONG * min(self.wrong, _MOST_WRONG)
        told = Seams(self._data).told(pairwise(range(0, len(self._data), RECORD))) * 1.44
        return found + (min(told, _MOST_OF_SEAMS) if told > _TELLING else 0.0)

    def changed(self, other: DiskContent) -> tuple[list[str], list[str], list[str]]:
        """Name the files that the other has besides, lacks, and holds otherwise."""
        mine, theirs = self.files, other.files
        both = [path for path in mine if path in theirs]
        differing = [
            path for path in both
            if mine[path].size_bytes != theirs[path].size_bytes
            or b"".join(mine[path].blocks(self._data)) != b"".join(theirs[path].blocks(other._data))
        ]  # fmt: skip
        return [path for path in theirs if path not in mine], [path for path in mine if path not in theirs], differing

    def version_bits(self, other: DiskContent) -> float:
        """How much speaks for it that the two are versions of one disk rather than reads of it. [bit]"""
        if not self.volumes or not other.volumes:
            return 0.0
        if self.wrong or other.wrong:
            return -10.0
        return 30.0 if _listing(self) != _listing(other) else -10.0


def _listing(disk: DiskContent) -> list[tuple[str, int, str]]:
    return sorted((path, one.size_bytes, str(one.modified)) for path, one in disk.files.items())
