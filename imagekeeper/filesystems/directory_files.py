"""Entries of a directory of 8-bit machines put together to files: the parts of each in order, by user area and name.

Rule: a file has an entry for each part of it, numbered; an entry holds as many extents of 16 KiB as the extent mask
says. A part that is not there, or a block number 0, is a hole: the system lets programs write where they like.
Source: Digital Research, CP/M 2.2 Interface Guide and Alteration Guide, from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_entries import Slot, kind_of
from imagekeeper.filesystems.directory_parameters import ENTRY, RECORD, DiskParameters
from imagekeeper.filesystems.directory_placement import BlockPlacement


@dataclass(frozen=True)
class File:
    """The entries of one file.

    Attributes:
        parts: In the order of the file; no two have the same number.
        deleted: Whether they are marked deleted.
        copy: 0, or which copy it is, where the directory has parts of a file more than once.
    """

    parts: tuple[Slot, ...]
    deleted: bool = False
    copy: int = 0

    @property
    def first(self) -> Slot:
        """The entry that gives name and attributes."""
        return self.parts[0]

    def blocks(self, parameters: DiskParameters) -> Iterator[tuple[int, int]]:
        """Give the blocks in order: the number, 0 for a hole, and how many bytes of it belong to the file. [1, byte]"""
        block, whole = parameters.block_bytes, parameters.entry_records * RECORD
        expected, last = 0, self.parts[-1]
        for part in self.parts:
            number = part.number(parameters)
            if number > expected:
                yield 0, (number - expected) * whole
            expected = number + 1
            left = part.records(parameters) * RECORD if part is last else whole
            for name in part.numbers(parameters)[: parameters.entry_blocks]:
                if left > 0:
                    yield name, min(left, block)
                left -= block

    def size(self, parameters: DiskParameters) -> int:
        """Give the size: whole records, but for systems that keep how much of the last one is used. [byte]"""
        last = self.parts[-1]
        records = last.number(parameters) * parameters.entry_records
        records += min(last.records(parameters), parameters.entry_records)
        spare, kept = last.raw[13], parameters.last_bytes
        if kept == "not-kept" or not 0 < spare < RECORD or not records:
            return records * RECORD
        return records * RECORD - (spare if kept == "unused" else RECORD - spare)


def slots(data: Data, where: BlockPlacement, parameters: DiskParameters) -> tuple[Slot, ...]:
    """Read all entries of the directory; those that the image does not have are left out."""
    found: list[Slot] = []
    for at, length in where.pieces(0, parameters.directory_entries * ENTRY):
        if at is not None:
            raw = data[at : at + length]
            found += (Slot(0, at + i, raw[i : i + ENTRY]) for i in range(0, length - ENTRY + 1, ENTRY))
    return tuple(Slot(index, one.at, one.raw) for index, one in enumerate(found))


def labelled(entries: Iterable[Slot]) -> bool:
    """Whether a directory has a label or time stamps."""
    return any(kind_of(one.raw) in ("label", "stamps") for one in entries)


def files(entries: Iterable[Slot], parameters: DiskParameters, *, deleted: bool = False) -> tuple[File, ...]:
    r"""Put entries together to files, in the order in which the directory has them first.

    Args:
        entries: Those of files, all of them deleted or none.
        parameters: How the disk is divided.
        deleted: Whether they are deleted.

    Example:
        >>> worked = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0, skew=6,
        ... )
        >>> name, rest = b"\0TIDE    DAT", bytes(16)
        >>> parts = [Slot(0, 0, name + b"\x01\0\0\x05" + rest), Slot(1, 32, name + b"\0\0\0\x80" + rest)]
        >>> [(one.first.index, one.size(worked)) for one in files(parts, worked)]
        [(1, 17024)]
    """
    found: dict[tuple[int, bytes, int], dict[int, Slot]] = {}
    copies: dict[tuple[int, bytes, int], int] = {}
    for one in entries:
        number = one.number(parameters)
        copy = copies.get((one.user, one.letters, number), 0)
        copies[one.user, one.letters, number] = copy + 1
        found.setdefault((one.user, one.letters, copy), {})[number] = one
    return tuple(
        File(tuple(parts[number] for number in sorted(parts)), deleted, copy)
        for (_, _, copy), parts in found.items()
    )  # fmt: skip
