"""The file allocation table: one entry a cluster, which names the next of the same file.

Source: ECMA-107 and ISO/IEC 9293, the clause on the FAT: 0 is free, the highest values mark the end, the value before
them a bad cluster. That 12-bit entries lie in pairs of three bytes, low byte first, and that of 32 bits the lower 28
count, is from memory.
"""

from __future__ import annotations

from array import array
from typing import Literal

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.sentences.say import Phrase

Ending = Literal["end", "free", "bad", "outside", "loop"]

#: How a chain ends, in words that follow "the chain ...".
ENDINGS: dict[Ending, Phrase] = {
    "end": Phrase("chain-broken/end"),
    "free": Phrase("chain-broken/free"),
    "bad": Phrase("chain-broken/bad"),
    "outside": Phrase("chain-broken/outside"),
    "loop": Phrase("chain-broken/loop"),
}

#: The value of a bad cluster, by the bits of an entry; higher ones mark the end.
_BAD = {12: 0xFF7, 16: 0xFFF7, 32: 0x0FFFFFF7}

#: So many entries are decoded at once; an even number, for those of 12 bits lie in pairs.
_AT_ONCE = 1 << 18

#: Takes away the upper four bits of a byte.
_LOWER_HALF = bytes(byte & 15 for byte in range(256))


class FatTable:
    """One copy of the table, decoded.

    Args:
        entries: The value of every entry, the first two included.
        bits: 12, 16 or 32.
    """

    def __init__(self, entries: array[int], bits: int) -> None:
        self.entries = entries
        self.bits = bits
        self.bad = _BAD[bits]

    @classmethod
    def of(cls, data: Data, layout: FatLayout, number: int) -> FatTable:
        """Decode one copy; what the image lacks reads as free.

        Args:
            data: The volume.
            layout: Where it lies.
            number: Which copy, counted from 0.
        """
        start = layout.fat_start(number)
        count = layout.last + 1
        entries = array("I" if layout.bits == 32 else "H")
        for first in range(0, count, _AT_ONCE):
            many = min(_AT_ONCE, count - first)
            at, needed = start + first * layout.bits // 8, -(-many * layout.bits // 8)
            raw = data[at : at + needed]
            entries += decode(raw + bytes(needed - len(raw)), layout.bits, many)
        return cls(entries, layout.bits)

    def is_end(self, value: int) -> bool:
        """Whether a value marks the end of a chain."""
        return value > self.bad


def decode(raw: bytes, bits: int, count: int) -> array[int]:
    """Decode entries.

    Args:
        raw: The table's bytes.
        bits: 12, 16 or 32.
        count: How many entries.

    Example:
        >>> decode(bytes.fromhex("fdffff 03f0ff"), 12, 4).tolist()
        [4093, 4095, 3, 4095]
        >>> decode(bytes.fromhex("f8ff ffff 0300"), 16, 3).tolist()
        [65528, 65535, 3]
        >>> decode(bytes.fromhex("f8ffff0f ffffffff 030000a0"), 32, 3).tolist()
        [268435448, 268435455, 3]
    """
    if bits == 32:
        counted = bytearray(raw[: 4 * count])
        counted[3::4] = counted[3::4].translate(_LOWER_HALF)
        entries = array("I", counted)
        if entries.itemsize != 4 or array("I", b"\x01\0\0\0")[0] != 1:   # pragma: no cover  another machine's order
            entries.byteswap()
        return entries
    if bits == 16:
        entries = array("H", raw[: 2 * count])
        if entries.itemsize != 2 or array("H", b"\x01\x00")[0] != 1:   # pragma: no cover  another machine's order
            entries.byteswap()
        return entries
    entries = array("H", bytes(2 * (count + count % 2)))
    raw = raw + bytes(3)
    pairs = (count + 1) // 2
    low, middle, high = raw[0 : 3 * pairs : 3], raw[1 : 3 * pairs : 3], raw[2 : 3 * pairs : 3]
    entries[0::2] = array("H", [a | (b & 15) << 8 for a, b in zip(low, middle, strict=True)])
    entries[1::2] = array("H", [b >> 4 | c << 4 for b, c in zip(middle, high, strict=True)])
    return entries[:count]
