"""The rows of parameter_blocks.toml: how the system of 8-bit machines divides disks of the period."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from imagekeeper.tables import Cited, Dispute, bases, load
from imagekeeper.tables.floppy import GROUNDS


@dataclass(frozen=True, kw_only=True)
class ParameterBlockRow:
    """A division as its row gives it.

    Attributes:
        id: The format, the reserved tracks, the size of a block, and the number of directory entries.
        title: What it is.
        format: The id of the format of the disk.
        records_per_track: Records of 128 bytes.
        sector_bytes: Of the sectors between which the skew counts. [byte]
        block_bytes: What files are given at a time. [byte]
        blocks: How many, the directory's included.
        directory_entries: How many.
        reserved_tracks: Before the directory, for the system.
        skew: From one sector to the next it goes this many sectors on; 1 is the plain order.
        extent_mask: The number of extents of 16 KiB that an entry holds, less one.
        allocation: The bits of the directory's blocks, highest bit first.
        record_counts: Whether an entry counts the records of its last extent or all of its records.
        note: What else must be known, or null.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    title: str
    format: str
    records_per_track: int
    sector_bytes: int
    block_bytes: int
    blocks: int
    directory_entries: int
    reserved_tracks: int
    skew: int
    extent_mask: int
    allocation: int
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    record_counts: str = "last-extent"
    note: str | None = None


@cache
def parameter_block_rows() -> dict[str, ParameterBlockRow]:
    """Every division, by its id, in the order of the table.

    Example:
        >>> parameter_block_rows()["8-77x1x26x128-2x1k64"].blocks
        243
    """
    return {
        row["id"]: ParameterBlockRow(
            **{name: value for name, value in row.items() if name not in GROUNDS}, **{"derived": {}} | bases(row)
        )
        for row in load("parameter_blocks")["parameter_block"]
    }
