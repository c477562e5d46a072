"""What an image says of itself as a disk: whether its file system is whole, what files it has, whether text goes on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from itertools import pairwise

from imagekeeper.filesystems.directory_parameters import RECORD
from imagekeeper.filesystems.directory_reading import KIND as SEARCHED
from imagekeeper.filesystems.directory_seams import Seams
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import Entry, Extent, ReadingOptions, SectorGrid, SectorPlace, Volume
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.geometry.parameters import block_at

#: What a sound parameter block in the first sector, a whole file system, and each thing wrong with it say. [bit]
_BLOCK, _WHOLE, _WRONG = 24.0, 16.0, 10.0

#: So many things wrong with a file system say no more than this many.
_MOST_WRONG = 6

#: Seams of text say something from here on, and no more than that. [bit]
_TELLING, _MOST_OF_SEAMS = 8.0, 40.0

#: Two disks are states of one only if so much of the files of one is on the other.
_SAME_FILES = 0.3

#: What it says where so much of what differs is what the directories have otherwise, and where it is not. [bit]
_TOLD, _ENTERED, _QUIET = 0.9, 30.0, 10.0

#: Where a system writes nothing in use.
_NOT_WRITTEN = ("boot sector", "reserved tracks")

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
    def system_bits(self) -> float:
        """How much the parameter block and the file system speak for the image, beside another of the disk. [bit]"""
        found = _BLOCK if block_at(self._data, 0) is not None else 0.0
        if self.volumes and self.volumes[0].kind != SEARCHED:   # a division that was searched for fits what is there
            found += _WHOLE - _WRONG * min(self.wrong, _MOST_WRONG)
        return found

    @cached_property
    def order_bits(self) -> float:
        """How much text that goes on from sector to sector speaks for their order, beside another of the same. [bit]"""
        told = Seams(self._data).told(pairwise(range(0, len(self._data), RECORD))) * 1.44
        return min(told, _MOST_OF_SEAMS) if told > _TELLING else 0.0

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

    def version_bits(self, other: DiskContent, sectors: Collection[tuple[int, int]]) -> tuple[float, bool]:
        """Weigh whether the two are versions of one disk rather than reads of it.

        What a system writes it enters: files that are in one directory and not as such in the other, and the tables,
        lie where the two differ. A bad sector does not care whose it is.

        Args:
            other: The other.
            sectors: The tracks and sectors in which the two differ, both counted from 0.

        Returns:
            How much speaks for it, and whether the directories tell which sectors differ. [bit]
        """
        if not self.volumes or not other.volumes:
            return 0.0, False
        mine, theirs = _listed(self), _listed(other)
        same = [path for path in mine if mine[path] == theirs.get(path)]
        kin = same and len(same) >= _SAME_FILES * min(len(mine), len(theirs))
        if self.wrong or other.wrong or mine == theirs or not kin:
            return -_QUIET, False
        entered = [
            extent for disk, known in ((self, theirs), (other, mine)) for path, entry in disk.files.items()
            if known.get(path) != _entered(entry) for extent in entry.extents if extent.start is not None
        ]  # fmt: skip
        areas = [
            (area.name, Extent(area.start, area.length)) for volume in self.volumes for area in volume.areas
            if area.name not in _NOT_WRITTEN
        ]  # fmt: skip
        tables = [extent for name, extent in areas if name.startswith("FAT")]
        places = [self._grid.offset(SectorPlace(
            track // self._grid.heads, track % self._grid.heads, sector + self._grid.first_sector
        )) for track, sector in sectors]  # fmt: skip
        told = [at for at in places if self._within(at, [*entered, *(extent for _, extent in areas)])]
        sure = [at for at in places if self._within(at, tables or entered)]
        if sure and len(told) >= _TOLD * len(places):
            return _ENTERED, True
        return -_QUIET, False

    def _within(self, at: int, extents: Sequence[Extent]) -> bool:
        size = self._grid.sector_bytes
        return any(one.start is not None and one.start < at + size and at < one.start + one.length for one in extents)


def _entered(one: Entry) -> tuple[int, str, tuple[Extent, ...]]:
    return one.size_bytes, str(one.modified), one.extents


def _listed(disk: DiskContent) -> dict[str, tuple[int, str, tuple[Extent, ...]]]:
    return {path: _entered(one) for path, one in disk.files.items()}
