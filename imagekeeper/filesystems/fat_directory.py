"""A directory of a volume with a FAT: its bytes as records, long names joined to the short ones that they belong to.

Source: ECMA-107 and ISO/IEC 9293, the clause on directories, for the record of 32 bytes. From memory: what stands
behind the first entry that was never used does not count, E5 marks a deleted entry, and long names stand in records
before their short name, last part first.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from imagekeeper.filesystems import fat_names as names
from imagekeeper.sentences.say import Phrase

RECORD = struct.Struct("<11sBBBHHHHHHHI")

NEVER_USED, DELETED = 0x00, 0xE5

DOT, DOT_DOT = b".          ", b"..         "


@dataclass(slots=True, kw_only=True)
class ShortEntry:
    """One record that is no part of a long name.

    Attributes:
        at: Offset in the volume. [byte]
        name: The eleven bytes.
        attributes: As they stand.
        flags: The byte behind them: two bits say that base and type of the name are in small letters.
        created: Time, hundredths and date of creation.
        accessed: Date of last use.
        modified: Time and date of last change.
        start: The first cluster, or 0.
        size: [byte]
        long_parts: The parts of its long name in order, or empty.
        parts_at: Offsets of the records that hold them. [byte]
        behind_end: Whether it stands behind a record that was never used.
        long_trouble: What is wrong with the long name before it, if anything is.
    """

    at: int
    name: bytes
    attributes: int
    flags: int
    created: tuple[int, int, int]
    accessed: int
    modified: tuple[int, int]
    start: int
    size: int
    long_parts: bytes = b""
    parts_at: tuple[int, ...] = ()
    behind_end: bool = False
    long_trouble: Phrase | None = None

    @property
    def deleted(self) -> bool:
        """Whether it is marked deleted."""
        return self.name[0] == DELETED

    @property
    def is_directory(self) -> bool:
        """Whether it is a directory."""
        return bool(self.attributes & names.DIRECTORY) and not self.is_label

    @property
    def is_label(self) -> bool:
        """Whether it is the name of the volume."""
        return bool(self.attributes & names.LABEL)

    @property
    def is_dot(self) -> bool:
        """Whether it is the record of the directory itself or of the one above."""
        return self.name in (DOT, DOT_DOT)


def records(pieces: Iterable[tuple[int, bytes]], *, wide: bool = False) -> Iterator[ShortEntry]:
    """Walk the records of a directory.

    Args:
        pieces: Its bytes in order, each piece with its offset in the volume. [byte]
        wide: Whether the two bytes before the time are the upper half of the first cluster, as in FAT32. From memory.

    Example:
        >>> entry = b"TIDE    LOG" + bytes([0x20]) + bytes(10) + bytes.fromhex("9471 a516 0200 c0000000")
        >>> [(one.name, one.start, one.size) for one in records([(0x1400, entry + bytes(32))])]
        [(b'TIDE    LOG', 2, 192)]
    """
    parts: list[tuple[int, bytes]] = []   # records of a long name that wait for their short name
    behind = False
    for base, piece in pieces:
        usable = len(piece) - len(piece) % RECORD.size
        if behind and not any(piece):
            continue
        for number, fields in enumerate(RECORD.iter_unpack(piece[:usable])):
            name, attributes, flags, hundredths, made, made_on, used_on, upper, time, date, start, size = fields
            first = name[0]
            at = base + number * RECORD.size
            if first == NEVER_USED:
                behind = True
                parts.clear()
                continue
            if attributes & 0x3F == names.LONG_NAME:
                parts.append((at, piece[number * RECORD.size : (number + 1) * RECORD.size]))
                continue
            created = (made, hundredths, made_on)
            if wide:
                start |= (upper & 0x0FFF) << 16
            found = ShortEntry(
                at=at, name=name, attributes=attributes, flags=flags, created=created, accessed=used_on,
                modified=(time, date), start=start, size=size,
            )  # fmt: skip
            found.behind_end = behind
            if parts:
                _join(found, parts)
                parts.clear()
            yield found
    if parts and not behind:
        at, raw = parts[0]
        trouble = Phrase("name-damaged/of-no-file")
        yield ShortEntry(
            at=at, name=raw[:11], attributes=names.LONG_NAME, flags=0, created=(0, 0, 0), accessed=0, modified=(0, 0),
            start=0, size=0, long_trouble=trouble,
        )  # fmt: skip


def _join(record: ShortEntry, parts: list[tuple[int, bytes]]) -> None:
    """Put the parts of a long name to their record, or say why they do not belong to it."""
    last_first = [raw for _, raw in parts]
    if record.deleted:   # the numbers of the parts are lost as well
        if all(raw[0] == DELETED and raw[13] == last_first[0][13] for raw in last_first):
            record.long_parts = b"".join(names.long_part(raw) for raw in reversed(last_first))
            record.parts_at = tuple(at for at, _ in parts)
        return
    if all(raw[0] == DELETED for raw in last_first):
        return
    expected = [count | (0x40 if count == len(parts) else 0) for count in range(len(parts), 0, -1)]
    if [raw[0] for raw in last_first] != expected:
        record.long_trouble = Phrase("name-damaged/numbers")
    elif any(raw[13] != names.checksum(record.name) for raw in last_first):
        record.long_trouble = Phrase("name-damaged/other-sum")
    else:
        record.long_parts = b"".join(names.long_part(raw) for raw in reversed(last_first))
        record.parts_at = tuple(at for at, _ in parts)
        if any(raw[26:28] != b"\0\0" or raw[12] for raw in last_first):
            record.long_trouble = Phrase("name-damaged/states-cluster")
