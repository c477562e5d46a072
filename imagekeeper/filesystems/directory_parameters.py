"""The disk parameter block of 8-bit machines: how a disk is divided into reserved tracks, directory and blocks.

The names in brackets are those of the published block. Its rules, and that of the example below, are those of Digital
Research, CP/M 2.2 Alteration Guide, from memory: they were not held against the print.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.floppy.order import placed
from imagekeeper.tables.parameter_blocks import ParameterBlockRow, parameter_block_rows

#: Everything is counted in records. An extent is 128 records, an entry of the directory is 32 bytes. [byte]
RECORD, EXTENT, ENTRY = 128, 16384, 32

BLOCK_SIZES = (1024, 2048, 4096, 8192, 16384)

#: An entry names its blocks in so many bytes; the allocation bits name so many blocks of the directory.
NUMBER_BYTES, ALLOCATION_BITS = 16, 16

#: What an entry's count of records counts: those of the last of its extents, as published, or all of the entry. The
#: second is met where a system was written by others (from memory, no source): one byte, in which 256 stands as 0.
RecordCounts = Literal["last-extent", "whole-entry"]

#: What the byte before the last of the counts says of the last record, on systems that keep it: nothing, how many of
#: its bytes are used, or how many are not. The two ways contradict each other, and no disk states which is its own.
LastBytes = Literal["not-kept", "used", "unused"]


def largest_extent_mask(block_bytes: int, blocks: int) -> int:
    """Give the extent mask [EXM] of an entry that is filled with block numbers.

    Rule: an entry names 16 blocks in a byte each, or 8 in two bytes where there are more than 256.

    Example:
        >>> largest_extent_mask(1024, 243), largest_extent_mask(2048, 243), largest_extent_mask(2048, 390)
        (0, 1, 0)
    """
    numbers = NUMBER_BYTES if blocks <= 256 else NUMBER_BYTES // 2
    return max(numbers * block_bytes // EXTENT, 1) - 1


@dataclass(frozen=True, kw_only=True)
class DiskParameters:
    """How a disk is divided.

    Attributes:
        records_per_track: Records of 128 bytes [SPT].
        block_bytes: What files are given at a time: 1 to 16 KiB, a power of two. [byte]
        blocks: How many, the directory's included [DSM + 1].
        directory_entries: How many [DRM + 1].
        reserved_tracks: Before the directory, for the system [OFF].
        extent_mask: The number of extents that an entry holds, less one [EXM].
        skew: From one sector to the next it goes this many sectors on; 1 is the plain order.
        sector_bytes: Of the sectors between which the skew counts. [byte]
        order: The sectors of a track in the order in which they are used, counted from 1; empty where `skew` gives it.
        record_counts: What an entry's count of records counts.
        last_bytes: What an entry says of the last record of a file.
        sides: In which order the tracks of two sides are used.

    Raises:
        UsageError: `usage`, where no disk can be divided so.

    Example:
        >>> worked = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0, skew=6,
        ... )
        >>> worked.block_shift, worked.block_mask, worked.directory_blocks, worked.check_vector_bytes
        (3, 7, 2, 16)
        >>> worked.as_bytes().hex(" ")
        '1a 00 03 07 00 f2 00 3f 00 c0 00 10 00 02 00'
        >>> worked.sector_order[:6]
        (1, 7, 13, 19, 25, 5)
    """

    records_per_track: int
    block_bytes: int
    blocks: int
    directory_entries: int
    reserved_tracks: int
    extent_mask: int
    skew: int = 1
    sector_bytes: int = RECORD
    order: tuple[int, ...] = ()
    record_counts: RecordCounts = "last-extent"
    last_bytes: LastBytes = "not-kept"
    sides: SideOrder = "alternating"

    def __post_init__(self) -> None:
        _check(self)

    @classmethod
    def of(cls, row: ParameterBlockRow) -> DiskParameters:
        """Take the division of a row of the table.

        Example:
            >>> from imagekeeper.tables.parameter_blocks import parameter_block_rows
            >>> DiskParameters.of(parameter_block_rows()["8-77x1x26x128-2x1k64"]).allocation
            49152
        """
        counts: RecordCounts = "whole-entry" if row.record_counts == "whole-entry" else "last-extent"
        return cls(
            records_per_track=row.records_per_track, block_bytes=row.block_bytes, blocks=row.blocks,
            directory_entries=row.directory_entries, reserved_tracks=row.reserved_tracks, extent_mask=row.extent_mask,
            skew=row.skew, sector_bytes=row.sector_bytes, record_counts=counts,
        )  # fmt: skip

    @property
    def block_shift(self) -> int:
        """[BSH]: a block is 128 << BSH bytes."""
        return (self.block_bytes // RECORD).bit_length() - 1

    @property
    def block_mask(self) -> int:
        """[BLM]: the records of a block, less one."""
        return self.block_bytes // RECORD - 1

    @property
    def directory_blocks(self) -> int:
        """Blocks that the directory takes."""
        return -(-self.directory_entries * ENTRY // self.block_bytes)

    @property
    def kept_blocks(self) -> int:
        """Blocks that no file is given: the directory's, and those that the table's disk so divided keeps beside them.

        Example:
            >>> from imagekeeper.tables.parameter_blocks import parameter_block_rows
            >>> kept = DiskParameters.of(parameter_block_rows()["5.25-40x1x10x512-1x1k64"])
            >>> kept.directory_blocks, kept.kept_blocks
            (2, 4)
        """
        division = (
            self.records_per_track, self.block_bytes, self.blocks, self.directory_entries, self.reserved_tracks
        )
        return max(self.directory_blocks, _kept().get(division, 0))

    @property
    def allocation(self) -> int:
        """[AL0 and AL1]: a bit for each block that no file is given, the highest first."""
        return (0xFFFF << (ALLOCATION_BITS - self.kept_blocks)) & 0xFFFF

    @property
    def check_vector_bytes(self) -> int:
        """[CKS] of a disk that can be changed: a sum for each record of the directory. [byte]"""
        return -(-self.directory_entries // (RECORD // ENTRY))

    @property
    def number_bytes(self) -> int:
        """Size of a block number in an entry. [byte]"""
        return 1 if self.blocks <= 256 else 2

    @property
    def entry_records(self) -> int:
        """Records that an entry can hold."""
        return (self.extent_mask + 1) * (EXTENT // RECORD)

    @property
    def entry_blocks(self) -> int:
        """Block numbers of an entry that can be in use."""
        return self.entry_records * RECORD // self.block_bytes

    @property
    def track_bytes(self) -> int:
        """[byte]"""
        return self.records_per_track * RECORD

    @property
    def sector_order(self) -> tuple[int, ...]:
        """The sectors of a track in the order in which they are used, counted from 1.

        Rule: `skew` sectors on from one to the next; where that one has been used, the next free one. It gives the
        published table of the worked example, 1 7 13 19 25 5 11 17 23 3 9 15 21 2 8 and so on.
        """
        if self.order:
            return self.order
        places = placed(self.records_per_track * RECORD // self.sector_bytes, self.skew)
        at = {number: place for place, number in enumerate(places, 1)}
        return tuple(at[number] for number in range(1, len(places) + 1))

    def as_bytes(self) -> bytes:
        """Write the block as the system keeps it: 15 bytes, low bytes first."""
        return b"".join(
            value.to_bytes(size, "little")
            for value, size in (
                (self.records_per_track, 2), (self.block_shift, 1), (self.block_mask, 1), (self.extent_mask, 1),
                (self.blocks - 1, 2), (self.directory_entries - 1, 2), (self.allocation >> 8, 1),
                (self.allocation & 0xFF, 1), (self.check_vector_bytes, 2), (self.reserved_tracks, 2),
            )
        )  # fmt: skip

    @property
    def text(self) -> str:
        """Say it in words, as `--parameter-block` takes it.

        Example:
            >>> DiskParameters(
            ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
            ...     extent_mask=0, skew=6,
            ... ).text
            'block=1024,directory=64,reserved=2,skew=6'
        """
        parts = [f"block={self.block_bytes}", f"directory={self.directory_entries}", f"reserved={self.reserved_tracks}"]
        if self.order:
            parts.append("order=" + "/".join(map(str, self.order)))
        elif self.skew != 1:
            parts.append(f"skew={self.skew}")
        if self.extent_mask != largest_extent_mask(self.block_bytes, self.blocks):
            parts.append(f"mask={self.extent_mask}")
        for name, value, usual in (
            ("sides", self.sides, "alternating"), ("counts", self.record_counts, "last-extent"),
            ("last", self.last_bytes, "not-kept"),
        ):  # fmt: skip
            parts += [f"{name}={value}"] if value != usual else []
        return ",".join(parts)


@cache
def _kept() -> dict[tuple[int, ...], int]:
    """The blocks that the disks of the table keep, by the numbers of their division."""
    return {
        (row.records_per_track, row.block_bytes, row.blocks, row.directory_entries, row.reserved_tracks):
        row.allocation.bit_count()
        for row in parameter_block_rows().values()
    }  # fmt: skip


def _check(one: DiskParameters) -> None:
    """Refuse what no disk can be divided into.

    Raises:
        UsageError: `usage`.
    """
    track = one.records_per_track * RECORD
    largest = largest_extent_mask(one.block_bytes, one.blocks) if one.block_bytes in BLOCK_SIZES else 0
    most_entries = ALLOCATION_BITS * one.block_bytes // ENTRY
    if one.block_bytes not in BLOCK_SIZES:
        raise UsageError("usage/bytes-of-block", value=one.block_bytes)
    if not 1 <= one.records_per_track <= 65535:
        raise UsageError("usage/records-of-track", value=one.records_per_track)
    if not 1 <= one.blocks <= (65536 if one.block_bytes > 1024 else 256):
        raise UsageError("usage/blocks-of-disk", value=one.blocks)
    if not 0 <= one.reserved_tracks <= 65535:
        raise UsageError("usage/reserved-tracks", value=one.reserved_tracks)
    if not 1 <= one.directory_entries <= most_entries:
        raise UsageError("usage/entries-of-directory", value=one.directory_entries, most=most_entries)
    if one.extent_mask not in (0, 1, 3, 7, 15) or one.extent_mask > largest:
        raise UsageError("usage/extent-mask", value=one.extent_mask, most=largest)
    if one.sector_bytes <= 0 or one.sector_bytes % RECORD or track % one.sector_bytes:
        raise UsageError("usage/bytes-of-sector", value=one.sector_bytes)
    if one.record_counts == "whole-entry" and one.extent_mask > 1:
        raise UsageError("usage/mask-of-whole-entries", value=one.extent_mask)
    sectors = track // one.sector_bytes
    if not 1 <= one.skew <= max(sectors - 1, 1):
        raise UsageError("usage/skew-of-block", value=one.skew, sectors=sectors, most=max(sectors - 1, 1))
    if one.order and sorted(one.order) != list(range(1, sectors + 1)):
        raise UsageError("usage/order-of-block", order="/".join(map(str, one.order[:32])), sectors=sectors)
    if one.directory_blocks > one.blocks:
        raise UsageError("usage/directory-beyond-disk")

