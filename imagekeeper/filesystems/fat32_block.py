"""What the boot sector of a volume with a 32-bit file allocation table says beyond the common parameter block.

From memory, no source: the fields behind byte 36, the sector of information with its three marks, and the copy of the
boot sector. Tests hold them against volumes that other programs make and check.
"""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.floppy.parameter_block import ParameterBlock

#: Where the code of the boot sector can begin, behind all fields. [byte]
CODE_AT = 90

#: The marks of the sector of information: at its beginning, before its figures, and at its end.
_LEAD, _MIDDLE, _TRAIL = b"RRaA", b"rrAa", b"\0\0\x55\xaa"

#: What the sector of information says where nobody counted.
_UNKNOWN = 0xFFFFFFFF


@dataclass(frozen=True, kw_only=True)
class Fat32Block:
    """The fields that only these volumes have.

    Attributes:
        fat_sectors: Of each FAT.
        active: The copy of the FAT that alone is kept up to date, counted from 0, or None where all are.
        version: Of the file system; 0 is the only one known.
        root_cluster: Where the root directory begins.
        info_sector: The sector of information, or None where there is none.
        copy_sector: Where a copy of the boot sector lies, or None where there is none.
        not_closed: Whether a flag says that the volume was not closed.
        volume_number: Or None without an extension.
        volume_label: Or None without an extension.
        file_system: What the volume calls itself, or None without an extension.
    """

    fat_sectors: int
    active: int | None
    version: int
    root_cluster: int
    info_sector: int | None
    copy_sector: int | None
    not_closed: bool
    volume_number: int | None
    volume_label: str | None
    file_system: str | None


@dataclass(frozen=True)
class VolumeInfo:
    """What the sector of information says.

    Attributes:
        free: How many clusters are free, or None where it does not say.
        next: Where to look for a free cluster first, or None.
    """

    free: int | None
    next: int | None


def read(sector: bytes, block: ParameterBlock) -> Fat32Block | None:
    r"""Read the fields, or give None where the boot sector is of another kind of volume.

    Args:
        sector: The boot sector.
        block: The common part of it.

    Example:
        >>> from imagekeeper.floppy import parameter_block
        >>> head = bytes.fromhex("eb5890") + b"HARBOUR " + bytes.fromhex("0002 08 2000 02 0000 0000 f8 0000 3f00 ff00")
        >>> more = bytes.fromhex("00000000 00000100 00010000 0000 0000 02000000 0100 0600")
        >>> sector = (head + more).ljust(510, b"\0") + bytes.fromhex("55aa")
        >>> read(sector, parameter_block.read(sector)).fat_sectors
        256
    """
    if len(sector) < 512 or block.sectors_per_fat or block.root_entries:
        return None

    def number(at: int, length: int) -> int:
        return int.from_bytes(sector[at : at + length], "little")

    fat_sectors, flags, reserved = number(36, 4), number(40, 2), block.reserved_sectors
    if not fat_sectors:
        return None
    extended = sector[66] in (0x28, 0x29)
    label = sector[66] == 0x29
    return Fat32Block(
        fat_sectors=fat_sectors, active=flags & 15 if flags & 0x80 else None, version=number(42, 2),
        root_cluster=number(44, 4), info_sector=_within(number(48, 2), reserved),
        copy_sector=_within(number(50, 2), reserved), not_closed=bool(sector[65] & 1),
        volume_number=number(67, 4) if extended else None,
        volume_label=_text(sector[71:82]) if label else None,
        file_system=_text(sector[82:90]) if label else None,
    )  # fmt: skip


def info(sector: bytes) -> VolumeInfo | None:
    """Read the sector of information, or give None where its marks are not there."""
    if sector[:4] != _LEAD or sector[484:488] != _MIDDLE or sector[508:512] != _TRAIL:
        return None
    free, following = (int.from_bytes(sector[at : at + 4], "little") for at in (488, 492))
    return VolumeInfo(None if free == _UNKNOWN else free, None if following == _UNKNOWN else following)


def _within(sector: int, reserved: int) -> int | None:
    return sector if 0 < sector < reserved else None


def _text(raw: bytes) -> str:
    return "".join(chr(byte) if 32 <= byte < 127 else "." for byte in raw).rstrip()
