"""Sectors of a hard disk that begin something: boot sectors and partition tables, looked for where nothing leads to.

Every sector is looked at, whatever the geometry: where the ones stand that matter is weighed later. Two bytes of each
sector decide whether the rest of it is read, so that a disk of any size is gone through about as fast as it is read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.filesystems.partitions import SECTOR, is_table

#: So many bytes are looked through at once, a whole number of sectors. [byte]
_PIECE = 1 << 20

#: No more boot sectors and tables than this are taken: a disk full of them is no disk that anybody used.
MOST_MARKS = 4096

_JUMPS = (0xEB, 0xE9)

#: A jump, any name, 512 bytes a sector, sectors of a cluster and those kept, one or two FATs.
_BOOT_SECTOR = re.compile(rb"(?s)(?=[\xeb\xe9].{10}\x00\x02[\x01\x02\x04\x08\x10 @\x80]..[\x01\x02])")


@dataclass(frozen=True)
class Mark:
    """A sector that begins something.

    Attributes:
        at: Where it stands in the image. [byte]
        sector: Its bytes.
        is_boot: Whether it looks like the boot sector of a volume; else it looks like a partition table.
    """

    at: int
    sector: bytes
    is_boot: bool


def marks(data: Data, stretches: Iterable[tuple[int, int]]) -> Iterator[Mark]:
    """Look through stretches of a disk for boot sectors and partition tables, ascending.

    Args:
        data: The whole disk.
        stretches: Where to look: beginning and end, whole sectors. [byte]

    Example:
        >>> boot = bytes.fromhex("eb3c90") + b"HARBOUR " + bytes.fromhex("0002040100020002") + bytes(489)
        >>> disk = bytes(17 * 512) + boot + bytes.fromhex("0000 55aa") + bytes(5120)
        >>> [(one.at, one.is_boot) for one in marks(disk, [(0, len(disk))])]
        [(8704, True)]
    """
    allowed, found = budget.current(), 0
    for start, end in stretches:
        for at in range(start, end, _PIECE):
            allowed.tick()
            piece = data[at : min(at + _PIECE, end)]
            for offset in _likely(piece):
                sector = piece[offset : offset + SECTOR]
                boot = is_boot_sector(sector)
                if boot or is_table(sector):
                    found += 1
                    yield Mark(at + offset, sector, boot)
                    if found >= MOST_MARKS:
                        return


def marks_off_the_grid(data: Data, limit: int) -> Iterator[Mark]:
    """Look for boot sectors at every byte, as far as a limit: an image may have lost or gained part of a sector.

    Args:
        data: The whole disk.
        limit: How far to look. [byte]
    """
    allowed, found = budget.current(), 0
    for at in range(0, min(limit, len(data)), _PIECE):
        allowed.tick()
        piece = data[at : min(at + _PIECE + SECTOR, len(data))]
        for one in _BOOT_SECTOR.finditer(piece, 0, _PIECE + 17):
            sector = piece[one.start() : one.start() + SECTOR]
            if is_boot_sector(sector):
                found += 1
                yield Mark(at + one.start(), sector, True)
                if found >= MOST_MARKS:
                    return


def is_boot_sector(sector: bytes) -> bool:
    """Whether a sector has what every boot sector of a volume with a FAT on a hard disk has.

    From memory: a jump, 512 bytes a sector, a power of two of sectors a cluster, a sector kept, one or two FATs.
    """
    cluster = sector[13] if len(sector) == SECTOR else 0
    return (
        cluster > 0 and not cluster & (cluster - 1) and sector[0] in _JUMPS and sector[11:13] == b"\0\x02"
        and sector[14:16] != b"\0\0" and sector[16] in (1, 2)
    )  # fmt: skip


def _likely(piece: bytes) -> list[int]:
    """Give the offsets of sectors with a jump at their beginning or 55 AA at their end."""
    first, last, before = piece[0::SECTOR], piece[511::SECTOR], piece[510::SECTOR]
    found = {number for value in _JUMPS for number in _places(first, value)}
    found.update(number for number in _places(last, 0xAA) if before[number] == 0x55)
    return [number * SECTOR for number in sorted(found)]


def _places(values: bytes, value: int) -> Iterator[int]:
    at = values.find(value)
    while at >= 0:
        yield at
        at = values.find(value, at + 1)
