"""The partition table of a PC's hard disk: up to four primary partitions, and logical ones in a chain.

From memory, no source: four records of 16 bytes at byte 446 of the first sector, 55 AA at its end; an extended
partition begins with a sector of the same form, whose first record is the logical partition, counted from that sector,
and whose second leads to the next, counted from the beginning of the extended partition.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import SectorPlace
from imagekeeper.filesystems.problems import Problems
from imagekeeper.tables.hard_disks import partition_titles
from imagekeeper.units import plural

SECTOR = 512

EXTENDED = (0x05, 0x0F)

#: More logical partitions than this no system of the period could name.
_MOST_LOGICAL = 60

_RECORDS, _RECORD = 446, 16


@dataclass(frozen=True, kw_only=True)
class Partition:
    """One partition.

    Attributes:
        number: 1 to 4 by its place in the table, 5 and more for logical ones in the order of their chain.
        kind: primary, extended or logical.
        type: The byte that says what is in it, in hexadecimal.
        title: What that byte usually stands for, from memory, or unknown.
        active: Whether it is marked as the one to start from.
        start: Where it begins in the image. [byte]
        length: Its size. [byte]
        first: Cylinder, head and sector of its first sector as the table states them, or null where it states none.
        last: The same of its last sector.
    """

    number: int
    kind: str
    type: str
    title: str
    active: bool
    start: int
    length: int
    first: SectorPlace | None
    last: SectorPlace | None

    @property
    def is_extended(self) -> bool:
        """Whether it only holds logical ones."""
        return self.kind == "extended"


@dataclass(frozen=True, kw_only=True)
class _Record:
    active: int
    kind: int
    first: SectorPlace | None
    last: SectorPlace | None
    start: int
    count: int

    @property
    def plausible(self) -> bool:
        return self.active in (0, 0x80) and self.kind != 0 and self.count > 0

    @property
    def empty(self) -> bool:
        return self.kind == 0


def is_partitioned(sector: bytes, size: int) -> bool:
    """Whether the first sector of a disk is one with a partition table.

    One partition that begins on the disk is enough: a damaged record beside it must not hide it.

    Args:
        sector: The first sector.
        size: Of the disk. [byte]

    Example:
        >>> one = bytes.fromhex("80010100 04031119 11000000 ef4f0000") + bytes(48)
        >>> is_partitioned(bytes(446) + one + bytes.fromhex("55aa"), 20_000 * 512)
        True
    """
    if len(sector) < SECTOR or sector[510:512] != b"\x55\xaa":
        return False
    records = list(_records(sector))
    used = [one for one in records if not one.empty]
    return (
        bool(used) and all(one.active in (0, 0x80) for one in records)
        and all(one.plausible and one.start > 0 for one in used)
        and any(one.start < max(size // SECTOR, 1) for one in used)
    )  # fmt: skip


def partitions(data: Data, problems: Problems) -> tuple[Partition, ...]:
    """Read the table and the chain of logical partitions.

    Args:
        data: The whole disk.
        problems: Where to note what cannot be.
    """
    found: list[Partition] = []
    for number, record in enumerate(_records(data[:SECTOR]), 1):
        if record.empty:
            continue
        extended = record.kind in EXTENDED
        found.append(_partition(number, "extended" if extended else "primary", record, record.start))
    for one in [one for one in found if one.is_extended]:
        found += _logical(data, one, 5 + sum(p.kind == "logical" for p in found), problems)
    _judge(found, len(data), problems)
    return tuple(found)


def _records(sector: bytes) -> Iterator[_Record]:
    for at in range(_RECORDS, _RECORDS + 4 * _RECORD, _RECORD):
        raw = sector[at : at + _RECORD]
        yield _Record(
            active=raw[0], kind=raw[4], first=_place(raw[1:4]), last=_place(raw[5:8]),
            start=int.from_bytes(raw[8:12], "little"), count=int.from_bytes(raw[12:16], "little"),
        )  # fmt: skip


def _place(raw: bytes) -> SectorPlace | None:
    """Take a place apart: the two top bits of the cylinder lie above the sector."""
    if raw == b"\0\0\0" or not raw[1] & 63:
        return None
    return SectorPlace(raw[2] | (raw[1] & 0xC0) << 2, raw[0], raw[1] & 63)


def _partition(number: int, kind: str, record: _Record, start: int) -> Partition:
    return Partition(
        number=number, kind=kind, type=f"{record.kind:02X}", title=partition_titles().get(record.kind, "unknown"),
        active=record.active == 0x80, start=start * SECTOR, length=record.count * SECTOR, first=record.first,
        last=record.last,
    )  # fmt: skip


def _logical(data: Data, extended: Partition, number: int, problems: Problems) -> Iterator[Partition]:
    """Follow the chain of an extended partition."""
    base = at = extended.start // SECTOR
    seen: set[int] = set()
    while True:
        if at in seen or len(seen) >= _MOST_LOGICAL:
            problems.add(
                "partition-damaged", "fault",
                "the chain of logical partitions leads back into itself" if at in seen
                else f"there are more than {plural(_MOST_LOGICAL, 'logical partition')}",
                "what was found up to there is listed; look at the sectors of the chain with hexdump",
                at=at * SECTOR, length=SECTOR,
            )  # fmt: skip
            return
        seen.add(at)
        sector = data[at * SECTOR : (at + 1) * SECTOR]
        if len(sector) < SECTOR or sector[510:512] != b"\x55\xaa":
            problems.add(
                "partition-damaged", "fault",
                f"the chain of logical partitions leads to sector {at}, "
                + ("which the image does not have" if len(sector) < SECTOR else "which has no table"),
                "partitions behind it are not found; read the disk again", at=at * SECTOR, length=SECTOR,
            )  # fmt: skip
            return
        here, onward, *_ = _records(sector)
        if here.plausible and here.kind not in EXTENDED:
            yield _partition(number, "logical", here, at + here.start)
            number += 1
        if onward.kind not in EXTENDED or not onward.count:
            return
        at = base + onward.start


def _judge(found: list[Partition], size: int, problems: Problems) -> None:
    """Note partitions that overlap or leave the disk."""
    solid = sorted((one for one in found if not one.is_extended), key=lambda one: one.start)
    for one in found:
        if one.start + one.length > size:
            problems.add(
                "outside-volume", "fault",
                f"partition {one.number} ends at byte {one.start + one.length}, and the image has {size}",
                "the image may be cut short, or the table damaged; read the disk again",
                at=one.start, length=one.length, partition=one.number,
            )  # fmt: skip
    for one, other in pairwise(solid):
        if other.start < one.start + one.length:
            problems.add(
                "partition-damaged", "fault", f"partitions {one.number} and {other.number} overlap",
                "at most one of them is right: see which holds a file system that makes sense",
                at=other.start, partitions=[one.number, other.number],
            )  # fmt: skip
