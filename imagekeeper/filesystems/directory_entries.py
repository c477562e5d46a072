r"""One entry of the directory of 8-bit machines: 32 bytes, which are a part of a file, a label, time stamps, or free.

Byte 0 is the user area, or what the entry is: E5 free or deleted, 20 the label of the directory, 21 time stamps. Bytes
1 to 11 are name and type; their top bits are attributes. Byte 12 is the number of the extent, byte 14 its higher part,
byte 15 the count of records, byte 13 on some systems a count of bytes; bytes 16 to 31 are the numbers of the blocks.
Source: Digital Research, CP/M 2.2 Interface Guide; labels, stamps and passwords: CP/M 3 Programmer's Guide; both from
memory, not held against the print.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from struct import Struct
from typing import Literal

from imagekeeper.filesystems.directory_parameters import EXTENT, RECORD, DiskParameters

SlotKind = Literal["file", "free", "deleted", "label", "stamps", "password", "unknown"]

DELETED, LABEL, STAMPS = 0xE5, 0x20, 0x21

#: User areas of files; what is above is a password where the directory has a label, and a file elsewhere.
USERS, MOST_USERS = 16, 32

#: The highest number of an extent: five bits, and six more behind.
MOST_EXTENTS = 2048

#: Attributes by the character of the name whose top bit they are, counted from 0.
_BITS = {
    8: "read-only", 9: "system", 10: "archive", 0: "user-1", 1: "user-2", 2: "user-3", 3: "user-4", 4: "user-5",
    5: "user-6", 6: "user-7", 7: "user-8",
}  # fmt: skip

_EIGHT_NUMBERS = Struct("<8H")
_SEVEN_BITS = bytes(byte & 0x7F for byte in range(256))
_PRINTED = re.compile(rb"[ -`{-~]+")   # no lower case

#: Day 1 of the time stamps.
_FIRST_DAY = date(1978, 1, 1)


@dataclass(frozen=True)
class Slot:
    """One entry as it stands.

    Attributes:
        index: Its number in the directory, counted from 0.
        at: Where it lies in the image. [byte]
        raw: Its 32 bytes.
    """

    index: int
    at: int
    raw: bytes

    @property
    def user(self) -> int:
        """The user area, or what the entry is."""
        return self.raw[0]

    @property
    def letters(self) -> bytes:
        """Name and type without their attributes: 11 bytes."""
        return self.raw[1:12].translate(_SEVEN_BITS)

    @property
    def name(self) -> str:
        r"""Name and type as people write them; what cannot be printed is an underline.

        Example:
            >>> Slot(0, 0, b"\0TIDE    D\xc1T" + bytes(20)).name
            'TIDE.DAT'
        """
        text = "".join(chr(byte) if 0x20 <= byte < 0x7F else "_" for byte in self.letters)
        name, kind = text[:8].rstrip(), text[8:].rstrip()
        return f"{name}.{kind}" if kind else name

    @property
    def attributes(self) -> tuple[str, ...]:
        r"""In words: those of the type first, then those that programs may use.

        Example:
            >>> Slot(0, 0, b"\0TIDE    \xc4\xc1T" + bytes(20)).attributes
            ('read-only', 'system')
        """
        return tuple(word for place, word in _BITS.items() if self.raw[1 + place] & 0x80)

    @property
    def extent(self) -> int:
        """The number of its extent: of the last one where it holds several."""
        return (self.raw[14] & 0x3F) * 32 + (self.raw[12] & 0x1F)

    def number(self, parameters: DiskParameters) -> int:
        """Which entry of its file it is, counted from 0."""
        return self.extent // (parameters.extent_mask + 1)

    def records(self, parameters: DiskParameters) -> int:
        r"""Count the records from the beginning of the entry to the last that it holds.

        Example:
            >>> two_in_one = DiskParameters(
            ...     records_per_track=52, block_bytes=2048, blocks=243, directory_entries=128, reserved_tracks=2,
            ...     extent_mask=1,
            ... )
            >>> Slot(0, 0, b"\0TIDE    DAT\x01\0\0\x05" + bytes(16)).records(two_in_one)
            133
        """
        if parameters.record_counts == "last-extent":
            return (self.raw[12] & parameters.extent_mask) * (EXTENT // RECORD) + self.raw[15]
        return self.raw[15] or (256 if parameters.extent_mask and any(self.raw[16:]) else 0)

    def numbers(self, parameters: DiskParameters) -> tuple[int, ...]:
        """Give all block numbers of the entry; 0 is none."""
        return tuple(self.raw[16:32]) if parameters.number_bytes == 1 else _EIGHT_NUMBERS.unpack_from(self.raw, 16)


def free(raw: bytes) -> bool:
    r"""Whether an entry marked E5 never held anything that could be had back.

    Example:
        >>> free(b"\xe5" * 32), free(b"\xe5TIDE    DAT" + bytes(20))
        (True, False)
    """
    return raw[0] == DELETED and (raw[1:] == raw[1:2] * 31 or not sound(b"\0" + raw[1:]))


def sound(raw: bytes) -> bool:
    r"""Whether 32 bytes are a well-formed entry of a file, which other bytes seldom are by chance.

    Example:
        >>> sound(b"\0TIDE    DAT\0\0\0\x08\x02" + bytes(15)), sound(b"\0" * 32), sound(b"\0tide" + bytes(27))
        (True, False, False)
    """
    if raw[0] >= MOST_USERS or raw[12] > 31 or raw[14] > 63:
        return False
    name = raw[1:12].translate(_SEVEN_BITS)
    if name[0] == 0x20 or not _PRINTED.fullmatch(name):
        return False
    for part in (name[:8], name[8:]):   # blanks fill the end
        if b" " in part.rstrip(b" "):
            return False
    # a count of all 256 records of an entry of two extents stands as 0
    return raw[15] > 0 or bool(raw[12] & 1) or not any(raw[16:])


def kind_of(raw: bytes, *, labelled: bool = False) -> SlotKind:
    r"""Say what an entry is.

    Args:
        raw: 32 bytes.
        labelled: Whether the directory has a label: then user areas above 15 are passwords.

    Example:
        >>> kind_of(b"\xe5" * 32), kind_of(b"\x20TIDES      \x31" + bytes(19)), kind_of(b"\x91" * 32)
        ('free', 'label', 'unknown')
    """
    user = raw[0]
    if user == DELETED:
        return "free" if free(raw) else "deleted"
    if user == LABEL:
        return "label"
    if user == STAMPS:
        return "stamps"
    if user < USERS or (user < MOST_USERS and not labelled):
        return "file"
    return "password" if user < MOST_USERS else "unknown"


def stamp(raw: bytes) -> str | None:
    """Read a time stamp: the day in two bytes, day 1 being 1 January 1978, then hour and minute in decimal digits.

    Returns:
        RFC 3339 without a zone, or None where there is none or none that can be.

    Source:
        From memory.

    Example:
        >>> stamp(bytes.fromhex("01000930")), stamp(bytes(4)), stamp(bytes.fromhex("01002570"))
        ('1978-01-01T09:30:00', None, None)
    """
    day, hour, minute = int.from_bytes(raw[:2], "little"), f"{raw[2]:02x}", f"{raw[3]:02x}"
    if not day or not (hour + minute).isdecimal() or int(hour) > 23 or int(minute) > 59:
        return None
    return f"{_FIRST_DAY + timedelta(days=day - 1)}T{hour}:{minute}:00"
