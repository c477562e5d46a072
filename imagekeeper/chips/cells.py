"""The cells of a chip as a model: what is in it after it is erased, written, or written again without erasing.

EPROM: erased cells read 1, and writing turns 1 into 0 only (SGS-Thomson, M27512, page 3); so do those that are erased
electrically, as a whole (from memory). Fuse PROM of the 82S family:
cells read 0, and a blown fuse makes a 1, for good (Signetics, 82S27, July 1975); of other makers the other way round
(from memory), which the blank byte tells. EEPROM, flash memory as its programmers use it, and RAM take any byte.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.chips.model import Chip

Change = Literal["clears", "sets", "any", "none", "unknown"]


@dataclass(frozen=True)
class Written:
    """What a chip holds after it was written, and where that is not what was wanted.

    Attributes:
        content: What it holds, as a file: whole bytes for every word.
        failed: The offsets of the bytes that are not as wanted, up to the most that were asked for. [byte]
        failures: How many there are in all.
    """

    content: bytes
    failed: tuple[int, ...]
    failures: int

    @property
    def right(self) -> bool:
        """Whether every byte is as wanted."""
        return not self.failures


def change(chip: Chip) -> Change:
    """Tell how writing changes the bits of a chip: clears them, sets them, any, or none.

    It is unknown for a PROM of which it is not known what an unwritten one reads.

    Example:
        >>> from imagekeeper.chips import find
        >>> [change(find(part)) for part in ("2716", "1702A", "82S123", "28C64", "2332", "6331-1")]
        ['clears', 'sets', 'sets', 'any', 'none', 'unknown']
    """
    if chip.carrier == "mask-rom":
        return "none"
    if chip.carrier == "prom" and chip.blank is None:
        return "unknown"
    if chip.carrier in ("eprom", "prom") or chip.technology == "electric-eprom":   # this is erased only as a whole
        return "sets" if chip.blank == "00" else "clears"
    return "any"


def programmable_without_erasing(present: bytes, wanted: bytes, blank: int) -> bool:
    r"""Whether every bit that is to change still is as an unwritten cell is.

    With a blank byte of FF that is `present AND wanted == wanted`; with 00 it is `present OR wanted == wanted`.

    Args:
        present: What the chip holds.
        wanted: What it is to hold, of the same length.
        blank: The byte of an unwritten cell, 00 or FF.

    Raises:
        ValueError: When the lengths differ, or blank is another byte.

    Example:
        >>> programmable_without_erasing(b"\xff", b"\xf0", 0xFF)
        True
        >>> programmable_without_erasing(b"\xf0", b"\xff", 0xFF)
        False
        >>> programmable_without_erasing(b"\x00", b"\xf0", 0x00)
        True
    """
    return not stuck_bits(present, wanted, blank)[0]


def stuck_bits(present: bytes, wanted: bytes, blank: int) -> tuple[int, int | None]:
    """Count the bits that writing cannot change: it only moves bits away from the unwritten state.

    Args:
        present: What the chip holds.
        wanted: What it is to hold, of the same length.
        blank: The byte of an unwritten cell, 00 or FF.

    Returns:
        How many bits would have to go back, and the first byte of these.

    Raises:
        ValueError: When the lengths differ, or blank is another byte.

    Example:
        >>> stuck_bits(bytes([0xFF, 0x0F]), bytes([0x12, 0x1F]), 0xFF)
        (1, 1)
        >>> stuck_bits(bytes([0x00, 0x01]), bytes([0x12, 0x01]), 0x00)
        (0, None)
    """
    if len(present) != len(wanted):
        raise ValueError(f"{len(present)} bytes are in the chip and {len(wanted)} are wanted")
    if blank not in (0x00, 0xFF):
        raise ValueError("an unwritten cell reads 00 or FF")
    now, then = int.from_bytes(present, "big"), int.from_bytes(wanted, "big")
    stuck = (then & ~now) if blank else (now & ~then)
    if not stuck:
        return 0, None
    return stuck.bit_count(), len(wanted) - 1 - (stuck.bit_length() - 1) // 8


def blank_content(chip: Chip) -> bytes:
    r"""Give what an unwritten chip holds, as a file.

    A reader gives 0 for the bits of a byte that a four-bit chip does not have.

    Raises:
        ValueError: When the chip has no unwritten state.

    Example:
        >>> from imagekeeper.chips import find
        >>> blank_content(find("2716")) == b"\xff" * 2048
        True
    """
    if chip.blank is None:
        raise ValueError(f"a {chip.id} has no unwritten state")
    byte = int(chip.blank, 16) & (0x0F if chip.bits == 4 else 0xFF)
    return bytes([byte]) * chip.file_bytes


def write(chip: Chip, present: bytes, data: bytes, *, start: int = 0, show: int = 8) -> Written:
    r"""Pretend to write a chip.

    Address lines that the chip does not have are ignored, as the chip ignores them: data beyond its end comes again
    from its beginning. Bits that a four-bit chip does not have stay 0.

    Args:
        chip: The chip.
        present: What it holds, as a file.
        data: What is to be written.
        start: Where it begins. [byte]
        show: How many failures to name at most.

    Raises:
        ValueError: When `present` is not of the size of the chip, start is negative, or it is unknown how writing
            changes its bits.

    Example:
        >>> from imagekeeper.chips import find
        >>> eprom = find("2716")
        >>> done = write(eprom, blank_content(eprom), b"\x55")
        >>> done.content[:2].hex(), done.right
        ('55ff', True)
        >>> write(eprom, done.content, b"\xaa").content[:1].hex(), write(eprom, done.content, b"\xaa").failed
        ('00', (0,))
    """
    size = chip.file_bytes
    if len(present) != size:
        raise ValueError(f"a {chip.id} holds {size} bytes, not {len(present)}")
    if start < 0:
        raise ValueError("there is no address below 0")
    cells = bytearray(present)
    wanted: dict[int, int] = {}
    how = change(chip)
    if how == "unknown":
        raise ValueError(f"what an unwritten {chip.id} reads is not known")
    mask = 0x0F if chip.bits == 4 else 0xFF
    for offset, byte in enumerate(data, start):
        place = offset % size
        wanted[place] = byte & mask
        if how == "clears":
            cells[place] &= byte | ~mask & 0xFF
        elif how == "sets":
            cells[place] |= byte & mask
        elif how == "any":
            cells[place] = byte & mask
    failed = [place for place, byte in sorted(wanted.items()) if cells[place] & mask != byte]
    return Written(bytes(cells), tuple(failed[:show]), len(failed))
