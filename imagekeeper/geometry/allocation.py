"""Evidence from file allocation tables (FATs), with or without a parameter block.

Rule: the first FAT stands behind the boot sector, the second behind it; each begins with the media byte and two bytes
FF, in every disk of 12-bit entries. The root directory follows. Source: Microsoft, Q75131, for where they stand on each
format; that the entries of a FAT have 12 bits and begin so, and the form of directory entries, is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.floppy.parameter_block import ENTRY_BYTES, ParameterBlock, sectors_for_root
from imagekeeper.geometry.media import MEDIA, says_media
from imagekeeper.geometry.parameters import block_at
from imagekeeper.geometry.proposals import Proposal
from imagekeeper.geometry.shapes import Shape
from imagekeeper.ranked import Evidence
from imagekeeper.tables.floppy import FatParameters, format_rows

_SECTOR_SIZES = (128, 256, 512, 1024)
_MOST_FAT_SECTORS = 16
_NEVER_WRITTEN = tuple(bytes([fill]) * ENTRY_BYTES for fill in (0xF6, 0x4E, 0x40))


@dataclass(frozen=True, kw_only=True)
class FatDivision:
    """How a disk is divided, counted from its first sector.

    Attributes:
        fat_start: [byte]
        fat_bytes: Of one FAT. [byte]
        fats: How many.
        root_start: [byte]
        root_entries: How many.
        data_start: Where cluster 2 begins. [byte]
        cluster_bytes: [byte]
        clusters: How many.
    """

    fat_start: int
    fat_bytes: int
    fats: int
    root_start: int
    root_entries: int
    data_start: int
    cluster_bytes: int
    clusters: int


def stated(block: ParameterBlock) -> FatDivision:
    """Take the division that a sound block states."""
    return FatDivision(
        fat_start=block.fat_start, fat_bytes=block.sectors_per_fat * block.bytes_per_sector, fats=block.fats,
        root_start=block.root_start, root_entries=block.root_entries, data_start=block.data_start,
        cluster_bytes=block.sectors_per_cluster * block.bytes_per_sector, clusters=block.clusters or 0,
    )  # fmt: skip


def tabled(fat: FatParameters, shape: Shape) -> FatDivision:
    """Take the division that the table gives for a format."""
    size = shape.sector_bytes
    start, fat_bytes = fat.reserved_sectors * size, fat.fat_sectors * size
    root = start + fat.fats * fat_bytes
    data = root + sectors_for_root(fat.root_entries, size) * size
    cluster = fat.cluster_sectors * size
    clusters = (shape.bytes - data) // cluster
    return FatDivision(
        fat_start=start, fat_bytes=fat_bytes, fats=fat.fats, root_start=root, root_entries=fat.root_entries,
        data_start=data, cluster_bytes=cluster, clusters=clusters,
    )  # fmt: skip


def division(data: bytes, start: int, shape: Shape) -> FatDivision | None:
    """Find the division of a disk: the block's, or the table's where two FATs stand as it says."""
    block = block_at(data, start)
    if block is not None and block.bytes_per_sector == shape.sector_bytes:
        return stated(block)
    if block is None:
        for name in shape.formats:
            fat = format_rows()[name].fat
            if fat is not None and _begin(data, start, tabled(fat, shape)) == fat.media:
                return tabled(fat, shape)
    return None


def _identifier(data: bytes, at: int) -> int | None:
    """The media byte at the beginning of a FAT, or None where none begins."""
    head = data[at : at + 3]
    return head[0] if len(head) == 3 and head[1:] == b"\xff\xff" and head[0] in MEDIA else None


def _begin(data: bytes, start: int, where: FatDivision) -> int | None:
    """The media byte with which every FAT begins, or None where one does not begin, or with another."""
    found = {_identifier(data, start + where.fat_start + i * where.fat_bytes) for i in range(where.fats)}
    return found.pop() if len(found) == 1 else None


def _sector_sizes(data: bytes, start: int) -> dict[int, int]:
    """Sector sizes after whose first sector a FAT begins, and a second one some sectors on; with the media byte."""
    found = {}
    for size in _SECTOR_SIZES:
        media = _identifier(data, start + size)
        second = (_identifier(data, start + size * (1 + sectors)) for sectors in range(1, _MOST_FAT_SECTORS + 1))
        # a track full of FF would pass, but for the byte before
        if media is not None and any(other == media for other in second) and data[start + size - 1] != 0xFF:
            found[size] = media
    return found


def begins(data: bytes, start: int) -> bool:
    """Whether two FATs begin as on a disk, after a first sector of some size."""
    return bool(_sector_sizes(data, start))


def weigh(one: Proposal, data: bytes) -> Iterator[Evidence]:
    """Weigh FATs and root directory against a shape."""
    shape, start = one.shape, one.start
    where = division(data, start, shape)
    if where is None:
        if block_at(data, start) is not None:
            return
        sizes = _sector_sizes(data, start)
        if shape.sector_bytes in sizes:
            yield Evidence(f"two FATs begin as after a first sector of {shape.sector_bytes} bytes", 1.5)
            yield from says_media(sizes[shape.sector_bytes], shape)
        elif sizes:
            yield Evidence(f"two FATs begin as after a first sector of {', '.join(map(str, sizes))} bytes", -3.0)
        return
    if block_at(data, start) is None:
        yield Evidence(
            f"no parameter block, but two FATs begin where they do on {shape.formats[0]}: bytes {where.fat_start} and "
            f"{where.fat_start + where.fat_bytes}", 3.0,
        )  # fmt: skip
        yield from says_media(data[start + where.fat_start], shape)
    elif _begin(data, start, where) is None:
        yield Evidence("the FATs do not begin where the parameter block puts them", -2.0)
    files, wrong = root(data[start + where.root_start :], where)
    if files and not wrong:
        yield Evidence(f"the root directory stands where it should, with {files} entries", 1.5)
    elif wrong > files:
        yield Evidence(f"no root directory stands where it should: {wrong} entries of it cannot be", -1.5)


def root(table: bytes, where: FatDivision) -> tuple[int, int]:
    """Count the entries of a root directory that can be, and those that cannot.

    Returns:
        Entries in use that are well formed, and entries that are neither free nor well formed.

    Example:
        >>> where = FatDivision(
        ...     fat_start=512, fat_bytes=512, fats=2, root_start=1536, root_entries=2, data_start=1600,
        ...     cluster_bytes=512, clusters=100,
        ... )
        >>> root(b"TIDE    DAT" + bytes(21) + bytes(32), where), root(bytes([200]) * 64, where)
        ((1, 0), (0, 2))
    """
    good = wrong = 0
    for at in range(0, min(where.root_entries * ENTRY_BYTES, len(table)), ENTRY_BYTES):
        entry = table[at : at + ENTRY_BYTES]
        if entry[0] in (0, 0xE5) or entry in _NEVER_WRITTEN:
            continue
        name_ok = entry[0] != 0x20 and all(c >= 32 and c != 127 for c in entry[:11])
        cluster = int.from_bytes(entry[26:28], "little")
        if name_ok and not entry[11] & 0xC0 and (cluster == 0 or 2 <= cluster < where.clusters + 2):
            good += 1
        else:
            wrong += 1
    return good, wrong


def entries(fat: bytes, clusters: int) -> list[int]:
    """Unpack 12-bit entries: two in three bytes, low bits first (from memory).

    Example:
        >>> [hex(entry) for entry in entries(bytes.fromhex("f0ffff034000"), 2)]
        ['0xff0', '0xfff', '0x3', '0x4']
    """
    found = []
    for number in range(min(clusters + 2, len(fat) * 2 // 3)):
        at = number * 3 // 2
        pair = int.from_bytes(fat[at : at + 2], "little")
        found.append(pair >> 4 if number % 2 else pair & 0xFFF)
    return found
