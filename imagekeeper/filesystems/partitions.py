"""The partition table of a PC's hard disk: up to four primary partitions, and logical ones in a chain.

From memory, no source: four records of 16 bytes at byte 446 of the first sector, 55 AA at its end; an extended
partition begins with a sector of the same form, whose first record is the logical partition, counted from that sector,
and whose second leads to the next, counted from the beginning of the extended partition.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import SectorPlace
from imagekeeper.filesystems.problems import Problems
from imagekeeper.ranked import Evidence
from imagekeeper.tables.hard_disks import partition_titles

SECTOR = 512

EXTENDED = (0x05, 0x0F)

#: More logical partitions than this no system of the period could name.
_MOST_LOGICAL = 60

_RECORDS, _RECORD = 446, 16


@dataclass(frozen=True, kw_only=True)
class Partition:
    """One partition.

    Attributes:
        number: 1 to 4 by its place in the table, 5 and more for logical ones in the order of their chain, 65 and more
            for those that were found.
        kind: primary, extended or logical, or found: by its boot sector or a table to which nothing leads.
        type: The byte that says what is in it, in hexadecimal; empty where no table states it.
        title: What that byte usually stands for, from memory, or unknown.
        active: Whether it is marked as the one to start from.
        start: Where it begins in the image. [byte]
        length: Its size. [byte]
        first: Cylinder, head and sector of its first sector as the table states them, or null where it states none.
        last: The same of its last sector.
        confidence: How sure it is that it is there, where it was found and not told; else null.
        evidence: What speaks for one that was found, and against it.
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
    confidence: float | None = None
    evidence: tuple[Evidence, ...] = ()

    @property
    def is_extended(self) -> bool:
        """Whether it only holds logical ones."""
        return self.kind == "extended"

    @property
    def is_told(self) -> bool:
        """Whether a table states it that the first sector leads to."""
        return self.kind != "found"

    @property
    def end(self) -> int:
        """Where the next byte lies. [byte]"""
        return self.start + self.length


@dataclass(frozen=True, kw_only=True)
class Record:
    """A record of a partition table, as it stands.

    Attributes:
        active: 80 for the partition to start from, else 00.
        kind: The byte that says what is in it.
        first: Cylinder, head and sector of its first sector, or None.
        last: The same of its last sector.
        start: Its first sector, counted from the table or from the beginning of the chain. [sector]
        count: How many it has. [sector]
    """

    active: int
    kind: int
    first: SectorPlace | None
    last: SectorPlace | None
    start: int
    count: int

    @property
    def plausible(self) -> bool:
        """Whether it can be one of a partition."""
        return self.active in (0, 0x80) and self.kind != 0 and self.count > 0

    @property
    def empty(self) -> bool:
        """Whether it is one of no partition."""
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
    return is_table(sector) and any(one.start < max(size // SECTOR, 1) for one in records(sector) if not one.empty)


def is_table(sector: bytes) -> bool:
    """Whether a sector has the form of a partition table with a partition in it."""
    if len(sector) < SECTOR or sector[510:512] != b"\x55\xaa":
        return False
    all_four = list(records(sector))
    used = [one for one in all_four if not one.empty]
    return (
        bool(used) and all(one.active in (0, 0x80) for one in all_four)
        and all(one.plausible and one.start > 0 for one in used)
    )  # fmt: skip


def partitions(data: Data, problems: Problems) -> tuple[Partition, ...]:
    """Read the table and the chain of logical partitions.

    Args:
        data: The whole disk.
        problems: Where to note what cannot be.
    """
    found: list[Partition] = []
    for number, record in enumerate(records(data[:SECTOR]), 1):
        if record.empty:
            continue
        extended = record.kind in EXTENDED
        found.append(_partition(number, "extended" if extended else "primary", record, record.start))
    for one in [one for one in found if one.is_extended]:
        found += _logical(data, one, 5 + sum(p.kind == "logical" for p in found), problems)
    _judge(found, len(data), problems)
    return tuple(found)


def records(sector: bytes) -> Iterator[Record]:
    """Give the four records of a table."""
    for at in range(_RECORDS, _RECORDS + 4 * _RECORD, _RECORD):
        raw = sector[at : at + _RECORD]
        yield Record(
            active=raw[0], kind=raw[4], first=_place(raw[1:4]), last=_place(raw[5:8]),
            start=int.from_bytes(raw[8:12], "little"), count=int.from_bytes(raw[12:16], "little"),
        )  # fmt: skip


def _place(raw: bytes) -> SectorPlace | None:
    """Take a place apart: the two top bits of the cylinder lie above the sector."""
    if raw == b"\0\0\0" or not raw[1] & 63:
        return None
    return SectorPlace(raw[2] | (raw[1] & 0xC0) << 2, raw[0], raw[1] & 63)


def _partition(number: int, kind: str, record: Record, start: int) -> Partition:
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
            if at in seen:
                problems.add("partition-damaged/circle", "fault", at=at * SECTOR, length=SECTOR)
            else:
                problems.add(
                    "partition-damaged/many-partitions", "fault", at=at * SECTOR, length=SECTOR, limit=_MOST_LOGICAL
                )
            return
        seen.add(at)
        sector = data[at * SECTOR : (at + 1) * SECTOR]
        if len(sector) < SECTOR or sector[510:512] != b"\x55\xaa":
            problems.add(
                "partition-damaged/beyond" if len(sector) < SECTOR else "partition-damaged/no-table", "fault",
                at=at * SECTOR, length=SECTOR, sector=at,
            )  # fmt: skip
            return
        here, onward, *_ = records(sector)
        if here.plausible and here.kind not in EXTENDED:
            yield _partition(number, "logical", here, at + here.start)
            number += 1
        if onward.kind not in EXTENDED or not onward.count:
            return
        at = base + onward.start


def _judge(found: list[Partition], size: int, problems: Problems) -> None:
    """Note partitions that overlap or leave the disk."""
    solid = sorted((one for one in found if not one.is_extended), key=lambda one: (one.start, -one.length))
    for one in found:
        if one.end > size:
            problems.add(
                "outside-volume/partition", "fault", at=one.start, length=one.length, end=one.end,
                size=size, detail={"partition": one.number},
            )  # fmt: skip
    reaching: Partition | None = None   # the one that ends last of those before
    for one in solid:
        if reaching is not None and one.start < reaching.end:
            problems.add(
                "partition-damaged/overlap", "fault", at=one.start, first=reaching.number, second=one.number,
                detail={"partitions": [reaching.number, one.number]},
            )  # fmt: skip
        if reaching is None or one.end > reaching.end:
            reaching = one
