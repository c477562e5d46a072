"""What a file system foretells of a disk's sectors: which follow each other, where files end, which hold nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from imagekeeper.filesystems import fat_layout
from imagekeeper.filesystems.directory_options import Given
from imagekeeper.filesystems.directory_reading import read_volume
from imagekeeper.filesystems.directory_search import search
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_table import FatTable
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid
from imagekeeper.floppy.fill import emptiness
from imagekeeper.floppy.parameter_block import ENTRY_BYTES
from imagekeeper.geometry.allocation import FatDivision, root

#: A volume with a FAT is believed from here on.
_BELIEVED = 0.5

#: What a parameter block, the beginning of a FAT, a sector that both FATs have alike, and an entry of the root
#: directory say; each class of them says no more than the last figure. [bit]
_BLOCK, _START, _ALIKE, _ENTRY, _MOST = 24.0, 12.0, 8.0, 3.0, 60.0

#: What the evidence of a division of 8-bit machines counts, which is a logarithm of odds with a grain of salt. [bit]
_OF_DIVISION = 2.0

#: No more directories are entered, and no chain is followed for more clusters.
_MOST_DIRECTORIES, _MOST_CLUSTERS = 500, 8192

_DIRECTORY, _LABEL, _LONG = 0x10, 0x08, 0x0F


@dataclass(kw_only=True)
class Expected:
    """What a disk should be like by its file system; all places are sectors counted from the first of the disk.

    Attributes:
        kind: fat or directory.
        bits: How much its own parts speak for the disk: block, tables, directory. [bit]
        system: Sectors of those parts.
        files: Of each file its sectors, in order.
        ends: The last sector of each file that does not fill it, and how many bytes of it the file has. [1, byte]
        heads: Where a directory begins, and the bytes with which each begins.
        free: Sectors that belong to no file.
    """

    kind: str
    bits: float
    system: NDArray[np.int64]
    files: list[list[int]] = field(default_factory=list)
    ends: list[tuple[int, int]] = field(default_factory=list)
    heads: list[tuple[int, bytes]] = field(default_factory=list)
    free: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        pairs = [pair for one in self.files for pair in pairwise(one)]
        self.before, self.after = (np.array([pair[at] for pair in pairs], np.int64) for at in (0, 1))
        self.used = np.array(sorted({at for one in self.files for at in one}), np.int64)
        self.unused = np.array(self.free, np.int64)
        self.last = np.array([at for at, _ in self.ends], np.int64)
        self.rest = np.array([rest for _, rest in self.ends], np.int64)


def expected(disk: bytes, grid: SectorGrid, *, directories: bool = True) -> Expected | None:
    """Read what the file system of a disk says of its sectors, or None where none is recognised.

    Args:
        disk: The whole disk.
        grid: Its geometry.
        directories: Whether the directory of an 8-bit machine is looked for too, which takes its time.
    """
    found = fat_layout.recognise(disk, grid)
    if found and found[0].score >= _BELIEVED:
        layout: FatLayout = found[0].answer.detail
        if layout.sector_bytes == grid.sector_bytes and layout.bits < 32:
            return _of_fat(disk, layout)
    return _of_directory(disk, grid) if directories else None


def _of_fat(disk: bytes, layout: FatLayout) -> Expected:
    size, tables = layout.sector_bytes, []
    for number in range(layout.fats):
        at = layout.fat_start(number)
        tables.append(disk[at : at + layout.fat_bytes])
    table = FatTable.of(disk, layout, 0).entries.tolist()
    tree = _Tree(disk, layout, table)
    free = [
        sector for cluster in range(2, min(layout.last + 1, len(table))) if table[cluster] == 0
        for sector in tree.sectors(cluster)
    ]
    return Expected(
        kind="fat", bits=_system_bits(disk, layout, tables), system=np.arange(layout.data_start // size),
        files=tree.files, ends=tree.ends, heads=tree.heads, free=free,
    )  # fmt: skip


def _system_bits(disk: bytes, layout: FatLayout, tables: list[bytes]) -> float:
    """Weigh the parts of the file system itself."""
    size = layout.sector_bytes
    alike = 0
    for other in tables[1:2]:
        for at in range(0, layout.fat_bytes, size):
            one, two = tables[0][at : at + size], other[at : at + size]
            if emptiness(one) < 2 or emptiness(two) < 2:
                alike += 1 if one == two else -1
    begins = sum(1 if one[:1] >= b"\xf0" and one[1:2] == b"\xff" else -1 for one in tables)
    where = FatDivision(
        fat_start=layout.fat_start(0), fat_bytes=layout.fat_bytes, fats=layout.fats, root_start=layout.root_start,
        root_entries=layout.root_entries, data_start=layout.data_start, cluster_bytes=layout.cluster_bytes,
        clusters=layout.clusters,
    )  # fmt: skip
    good, wrong = root(disk[layout.root_start : layout.data_start], where)
    return (
        _BLOCK * (layout.block is not None) + _START * begins + _within(_ALIKE * alike)
        + _within(_ENTRY * (good - wrong))
    )


def _within(bits: float) -> float:
    return max(min(bits, _MOST), -_MOST)


class _Tree:
    """The files and directories of a volume with a FAT, as far as its chains can be followed."""

    def __init__(self, disk: bytes, layout: FatLayout, table: list[int]) -> None:
        self._disk, self._layout, self._table = disk, layout, table
        self._left = 2 * len(table)   # of clusters to follow: a sound volume has each in one chain
        self.files: list[list[int]] = []
        self.ends: list[tuple[int, int]] = []
        self.heads: list[tuple[int, bytes]] = []
        seen: set[int] = set()
        waiting = [disk[layout.root_start : layout.root_start + layout.root_bytes]]
        while waiting and len(seen) <= _MOST_DIRECTORIES:
            for attributes, cluster, length in _listed(waiting.pop()):
                if attributes & _DIRECTORY:
                    if cluster in seen or not 2 <= cluster <= layout.last:
                        continue
                    seen.add(cluster)
                    begin = layout.start_of(cluster) // layout.sector_bytes
                    self.heads.append((begin, b".          "))
                    chain = [sector for one in self._chain(cluster) for sector in self.sectors(one)]
                    self.files.append(chain)
                    whole = b"".join(self._sector(at) for at in chain)
                    if whole[:11] == b".          ":
                        waiting.append(whole[2 * ENTRY_BYTES :])
                else:
                    self._file(cluster, length)

    def _sector(self, at: int) -> bytes:
        size = self._layout.sector_bytes
        return self._disk[at * size : (at + 1) * size]

    def sectors(self, cluster: int) -> range:
        """The sectors of a cluster."""
        first = self._layout.start_of(cluster) // self._layout.sector_bytes
        return range(first, first + self._layout.cluster_sectors)

    def _chain(self, cluster: int) -> Iterator[int]:
        seen = set[int]()
        last = min(self._layout.last, len(self._table) - 1)
        while 2 <= cluster <= last and cluster not in seen and self._left > 0:
            yield cluster
            seen.add(cluster)
            cluster, self._left = self._table[cluster], self._left - 1

    def _file(self, cluster: int, length: int) -> None:
        size = self._layout.sector_bytes
        chain = [sector for one in self._chain(cluster) for sector in self.sectors(one)]
        whole, rest = divmod(length, size)
        if not chain or whole + bool(rest) > len(chain):
            return
        mine = chain[: whole + bool(rest)]
        self.files.append(mine)
        if rest:
            self.ends.append((mine[-1], rest))


def _listed(table: bytes) -> Iterable[tuple[int, int, int]]:
    for at in range(0, len(table) - ENTRY_BYTES + 1, ENTRY_BYTES):
        entry = table[at : at + ENTRY_BYTES]
        if entry[0] == 0:
            return
        if entry[0] != 0xE5 and not entry[11] & _LABEL and not entry[11] & 0xC0:
            yield entry[11], int.from_bytes(entry[26:28], "little"), int.from_bytes(entry[28:32], "little")


def _of_directory(disk: bytes, grid: SectorGrid) -> Expected | None:
    found = search(disk, grid, Given())
    if not found:
        return None
    best = found[0]
    volume = read_volume(disk, best.parameters, ReadingOptions(grid=grid), grid, best.evidence)
    size = grid.sector_bytes
    files, ends = [], []
    for entry in volume.entries:
        if entry.deleted or entry.kind != "file":
            continue
        sectors: list[int] = []
        for one in entry.extents:
            if one.start is not None:
                sectors += range(one.start // size, (one.start + one.length - 1) // size + 1)
        mine = list(dict.fromkeys(sectors))
        if mine:
            files.append(mine)
        last = entry.extents[-1] if entry.extents else None
        if last is not None and last.start is not None and (last.start + last.length) % size:
            ends.append(((last.start + last.length) // size, (last.start + last.length) % size))
    free = [
        sector for one in volume.free if one.start is not None
        for sector in range(-(-one.start // size), (one.start + one.length) // size)
    ]
    system = [
        sector for area in volume.areas for sector in range(area.start // size, -(-(area.start + area.length) // size))
    ]
    return Expected(
        kind="directory", bits=_OF_DIVISION * best.weight, system=np.array(sorted(set(system)), np.int64), files=files,
        ends=ends, free=free,
    )  # fmt: skip
