"""Where the parts of a volume with a file allocation table (FAT) lie: from a parameter block, or from the size.

Sources: the record and the order of the parts, ECMA-107 and ISO/IEC 9293 (FDC descriptor, FAT, directories); offsets of
the fields, Microsoft, Q140418; formats of floppy disks, Microsoft, Q75131. That early disks have no block and are told
by the first byte of their FAT, that the number of clusters alone decides between entries of 12 and 16 bits, and that
the first two entries hold the media byte and an end mark, is from memory. So is all of FAT32: `fat32_block`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from imagekeeper.containers.model import Data
from imagekeeper.filesystems import fat32_block
from imagekeeper.filesystems.fat32_block import Fat32Block
from imagekeeper.filesystems.model import Recognised, SectorGrid
from imagekeeper.floppy.parameter_block import ENTRY_BYTES, FAT12_CLUSTERS, ParameterBlock, read
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables.floppy import FormatRow, format_rows
from imagekeeper.units import plural

#: With so many clusters or more the entries have 32 bits, and the boot sector another form. From memory.
FAT16_CLUSTERS = 65525

#: No FAT32 volume has more clusters: of an entry 28 bits count, and the highest values are marks. From memory.
FAT32_CLUSTERS = 0x0FFFFFF5

#: The fields without which no part of the volume can be found.
_NEEDED = frozenset(("bytes_per_sector", "sectors_per_cluster", "reserved_sectors", "root_entries"))


@dataclass(frozen=True, kw_only=True)
class FatLayout:
    """Where everything lies in a volume.

    Attributes:
        bits: 12, 16 or 32, of an entry of the FAT.
        sector_bytes: [byte]
        reserved_sectors: Before the first FAT.
        fats: How many there are.
        fat_sectors: Sectors of each.
        root_entries: Entries of the root directory.
        cluster_sectors: Sectors of a cluster.
        total_sectors: Of the volume.
        media: The media byte.
        grid: The geometry, or None where none is stated.
        block: The parameter block, or None where there is none or it cannot be used.
        format: The id of the format that took the place of a block, or None.
        wide: What only a FAT32 volume states, or None.

    Example:
        >>> of_format(format_rows()["3.5-80x2x18x512"]).clusters   # Microsoft, Q75131
        2847
    """

    bits: int
    sector_bytes: int
    reserved_sectors: int
    fats: int
    fat_sectors: int
    root_entries: int
    cluster_sectors: int
    total_sectors: int
    media: int
    grid: SectorGrid | None
    block: ParameterBlock | None = None
    format: str | None = None
    wide: Fat32Block | None = None

    @property
    def length(self) -> int:
        """[byte]."""
        return self.total_sectors * self.sector_bytes

    @property
    def fat_bytes(self) -> int:
        """The size of one FAT. [byte]"""
        return self.fat_sectors * self.sector_bytes

    @property
    def root_bytes(self) -> int:
        """The size of the root directory, up to its last entry. [byte]"""
        return self.root_entries * ENTRY_BYTES

    @property
    def root_start(self) -> int:
        """Where the root directory begins. [byte]"""
        return (self.reserved_sectors + self.fats * self.fat_sectors) * self.sector_bytes

    @cached_property
    def data_start(self) -> int:
        """Where cluster 2 begins, the first. [byte]"""
        return self.root_start + -(-self.root_bytes // self.sector_bytes) * self.sector_bytes

    @property
    def cluster_bytes(self) -> int:
        """[byte]."""
        return self.cluster_sectors * self.sector_bytes

    @property
    def clusters(self) -> int:
        """How many clusters there are; their numbers run from 2."""
        return max((self.length - self.data_start) // self.cluster_bytes, 0)

    @property
    def last(self) -> int:
        """The number of the last cluster that there is and that the FAT has an entry for."""
        return min(self.clusters + 1, self.fat_bytes * 8 // self.bits - 1)

    def fat_start(self, number: int) -> int:
        """Where a FAT begins, counted from 0. [byte]"""
        return (self.reserved_sectors + number * self.fat_sectors) * self.sector_bytes

    def start_of(self, cluster: int) -> int:
        """Where a cluster begins. [byte]"""
        return self.data_start + (cluster - 2) * self.cluster_bytes


def recognise(data: Data, grid: SectorGrid | None) -> tuple[Candidate[Recognised], ...]:
    """Say which volumes with a FAT some bytes may be.

    Args:
        data: The volume.
        grid: The geometry of the disk, where it is known.
    """
    if len(data) < 512:
        return ()
    found = []
    if (stated := weighed_at(data[:512], data)) is not None:
        found.append(stated)
    for row in format_rows().values():
        if row.fat is not None and row.bytes == len(data) and row.first_track is None:
            guess = of_format(row)
            if not any(_same(one.answer.detail, guess) for one in found):
                found.append(_weighed(guess, data, _format_evidence(row)))
    good = [one for one in found if one.score >= 0.3]
    return rank(_with_grid(one, grid) for one in good)


def weighed_at(sector: bytes, data: Data) -> Candidate[Recognised] | None:
    """Weigh whether some bytes are the volume that a boot sector describes, which may stand elsewhere.

    Args:
        sector: The boot sector, or a copy of it.
        data: The volume that it would be of, or more.
    """
    block = read(sector)
    if block is None or (stated := of_block(block) or of_wide_block(sector, block)) is None:
        return None
    return _weighed(stated, data, _block_evidence(block, stated, data))


def of_block(block: ParameterBlock) -> FatLayout | None:
    """Take the layout from a parameter block, or None where it cannot be one."""
    wrong = {fault.field for fault in block.faults}
    if wrong & _NEEDED or not block.fats or not block.sectors_per_fat or block.fats > 16:
        return None
    clusters = block.clusters
    if not clusters or clusters >= FAT16_CLUSTERS:
        return None
    return _stated(block, 12 if clusters < FAT12_CLUSTERS else 16, block.sectors_per_fat, None)


def of_wide_block(sector: bytes, block: ParameterBlock) -> FatLayout | None:
    """Take the layout of a FAT32 volume from its boot sector, or None where it cannot be one.

    That no sectors of a FAT and no entries of a root directory are stated in the common fields tells the kind, not the
    number of clusters: programs make small volumes of it too. From memory.
    """
    wide = fat32_block.read(sector, block)
    wrong = {fault.field for fault in block.faults}
    if wide is None or wrong & (_NEEDED - {"root_entries"}) or not block.fats or block.fats > 16 or wide.version:
        return None
    layout = _stated(block, 32, wide.fat_sectors, wide)
    possible = 0 < layout.clusters <= FAT32_CLUSTERS and 2 <= wide.root_cluster <= layout.clusters + 1
    return layout if possible and (wide.active or 0) < block.fats else None


def _stated(block: ParameterBlock, bits: int, fat_sectors: int, wide: Fat32Block | None) -> FatLayout:
    track = block.sectors_per_track
    grid = None
    if 1 <= track <= 255 and 1 <= block.heads <= 255:
        grid = SectorGrid(
            heads=block.heads, sectors=track, sector_bytes=block.bytes_per_sector,
            cylinders=-(-block.total_sectors // (track * block.heads)),
        )  # fmt: skip
    return FatLayout(
        bits=bits, sector_bytes=block.bytes_per_sector, reserved_sectors=block.reserved_sectors, fats=block.fats,
        fat_sectors=fat_sectors, root_entries=block.root_entries, cluster_sectors=block.sectors_per_cluster,
        total_sectors=block.total_sectors, media=block.media, grid=grid, block=block, wide=wide,
    )  # fmt: skip


def of_format(row: FormatRow) -> FatLayout:
    """Take the layout that goes with a format of the table."""
    fat = row.fat
    assert fat is not None, row.id
    total = row.cylinders * row.heads * row.sectors
    return FatLayout(
        bits=12, sector_bytes=row.sector_bytes, reserved_sectors=fat.reserved_sectors, fats=fat.fats,
        fat_sectors=fat.fat_sectors, root_entries=fat.root_entries, cluster_sectors=fat.cluster_sectors,
        total_sectors=total, media=fat.media,
        grid=SectorGrid(heads=row.heads, sectors=row.sectors, sector_bytes=row.sector_bytes, cylinders=row.cylinders),
        format=row.id,
    )  # fmt: skip


def _same(one: FatLayout, other: FatLayout) -> bool:
    """Whether two layouts put everything in the same place."""
    return replace(one, media=0, grid=None, block=None, format=None) == replace(
        other, media=0, grid=None, block=None, format=None
    )


def _with_grid(one: Candidate[Recognised], grid: SectorGrid | None) -> Candidate[Recognised]:
    if grid is None:
        return one
    return replace(one, answer=replace(one.answer, grid=grid))


def _weighed(layout: FatLayout, data: Data, evidence: Iterator[Evidence]) -> Candidate[Recognised]:
    reasons = (*evidence, *_table_evidence(layout, data))
    score = min(max(0.5 + sum(one.weight for one in reasons) / 10, 0.0), 0.99)
    title = f"FAT{layout.bits}, {plural(layout.clusters, 'cluster')} of {plural(layout.cluster_bytes, 'byte')}"
    ordered = tuple(sorted(reasons, key=lambda one: -abs(one.weight)))
    answer = Recognised(reader="fat", kind=f"fat{layout.bits}", title=title, detail=layout, grid=layout.grid)
    return Candidate(answer, round(score, 3), ordered)


def _block_evidence(block: ParameterBlock, layout: FatLayout, data: Data) -> Iterator[Evidence]:
    yield Evidence("a parameter block states where everything lies", 1.0)
    if len(data) == layout.length:
        yield Evidence("its size is exactly that of the space it lies in", 1.5)
    elif len(data) < layout.length:
        missing = layout.length - len(data)
        weight = -2.0 if missing * 2 < len(data) else -4.0
        yield Evidence(f"it states {plural(missing, 'byte')} more than there are", weight)
    if block.jump.startswith(("eb", "e9")):
        yield Evidence(f"the boot sector begins with a jump ({block.jump[:2].upper()})", 0.5)
    if block.media != 0xF0 and block.media < 0xF8:
        yield Evidence(f"a media byte of {block.media:02X}, which no disk has", -1.5)
    for fault in block.faults:
        if fault.field in ("large_total", "sectors_per_fat") and layout.wide is None:
            yield Evidence(fault.says, -1.0)


def _format_evidence(row: FormatRow) -> Iterator[Evidence]:
    yield Evidence(f"the size is that of {row.title}; the parts are taken where that format has them", 1.0)


def _table_evidence(layout: FatLayout, data: Data) -> Iterator[Evidence]:
    """Look whether FATs stand where the layout has them."""
    beginnings = [data[layout.fat_start(i) : layout.fat_start(i) + 3] for i in range(min(layout.fats, 2))]
    first = beginnings[0]
    if len(first) < 3:
        yield Evidence("there is no room for the first FAT", -6.0)
        return
    marks = first[1:] == b"\xff\xff" or (layout.bits == 16 and first[1] == 0xFF)
    if first[0] == layout.media and marks:
        yield Evidence(f"the FAT begins with the media byte {layout.media:02X} and an end mark", 1.5)
    elif first[0] >= 0xF0 and marks:
        yield Evidence(f"the FAT begins as one does, but with media byte {first[0]:02X}", 0.5 if layout.block else -1.5)
    else:
        yield Evidence(f"the FAT begins with {first.hex(' ').upper()}, as none does", -2.0 if layout.block else -4.0)
        if layout.block and any(one[0:1] == bytes([layout.media]) and one[1:] == b"\xff\xff" for one in beginnings[1:]):
            yield Evidence("the second FAT begins as one does", 1.5)
    if len(beginnings) > 1 and marks:
        if beginnings[1] == first:
            yield Evidence("a second FAT begins in the same way where it should", 1.0)
        else:
            yield Evidence("no second FAT begins where it should", -1.0)
