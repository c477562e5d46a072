"""Sizes and addresses: how they are printed and how they are typed."""

from __future__ import annotations

import re
from collections.abc import Iterable

KIB = 1024
MIB = 1024 * KIB
GIB = 1024 * MIB

#: Addresses are below this: no machine of the period, and none of the text containers, goes beyond 32 bits.
ADDRESS_LIMIT = 1 << 32

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:V|mA|ns|us|ms|s|min|uF|nm|cm|mm|W s/cm2|mW/cm2|bits?|bytes?)\b)")

_SUFFIXES = {"": 1, "K": KIB, "M": MIB, "G": GIB}


def customary(size: int) -> str:
    """Give a size as labels print it, or an empty string where no round figure exists.

    Example:
        >>> customary(16384), customary(1474560), customary(100), customary(2 * 1024 * 1024)
        ('16K', '1440K', '', '2M')
    """
    if size >= MIB and size % MIB == 0:
        return f"{size // MIB}M"
    if size >= KIB and size % KIB == 0:
        return f"{size // KIB}K"
    return ""


def size_text(size: int) -> str:
    """Give a size in bytes with the customary figure beside it.

    Example:
        >>> size_text(16384), size_text(1), size_text(0)
        ('16384 bytes (16K)', '1 byte', '0 bytes')
    """
    short = customary(size)
    return f"{size} byte{'' if size == 1 else 's'}" + (f" ({short})" if short else "")


def together(text: str) -> str:
    r"""Join every figure with its unit by a space at which no line is broken: `22` at its end could be taken for all.

    Example:
        >>> together("Vpp 21 V, by 1 maker")
        'Vpp 21\xa0V, by 1 maker'
    """
    return _BEFORE_UNIT.sub("\u00a0", text)


def address_digits(end: int) -> int:
    """Count the hexadecimal digits that the addresses below `end` need: an even number, at least four.

    Example:
        >>> address_digits(0x4000), address_digits(0x10000), address_digits(0x10001), address_digits(1 << 32)
        (4, 4, 6, 8)
    """
    digits = 4
    while (1 << (4 * digits)) < end:
        digits += 2
    return digits


def range_text(start: int, length: int, digits: int = 4) -> str:
    """Give an address range with both ends included.

    Example:
        >>> range_text(0x100, 16), range_text(0x100, 1), range_text(0, 0)
        ('0100 to 010F', '0100', 'nothing')
    """
    if length <= 0:
        return "nothing"
    if length == 1:
        return f"{start:0{digits}X}"
    return f"{start:0{digits}X} to {start + length - 1:0{digits}X}"


def parse_address(text: str) -> int:
    """Read a hexadecimal address, as typed: `1F00`, `0x1F00`, `$1F00` or `1F00h`.

    Raises:
        ValueError: When it is none of these, or not below 4 GiB.

    Example:
        >>> parse_address("0x1F00") == parse_address("$1f00") == parse_address("1F00h") == 7936
        True
    """
    match = re.fullmatch(r"(?:0[xX]|\$)?([0-9A-Fa-f]{1,8})[hH]?", text.strip())
    if match is None:
        raise ValueError(f"{text!r} is not a hexadecimal address such as 1F00 or 0x1F00")
    return int(match[1], 16)


def parse_size(text: str) -> int:
    """Read a size in decimal, with K, M or G where wanted, or in hexadecimal behind 0x.

    Raises:
        ValueError: When it is neither, or is 0.

    Example:
        >>> parse_size("16K"), parse_size("720k"), parse_size("0x800"), parse_size("100")
        (16384, 737280, 2048, 100)
    """
    match = re.fullmatch(r"(\d{1,15})\s*([KMG]?)(?:I?B)?|0X([0-9A-F]{1,10})", text.strip().upper())
    if match is None:
        raise ValueError(f"{text!r} is not a size such as 16384, 16K or 0x4000")
    size = int(match[3], 16) if match[3] else int(match[1]) * _SUFFIXES[match[2]]
    if size == 0:
        raise ValueError("a size of 0 holds nothing")
    return size


def parse_byte(text: str) -> int:
    """Read one byte in hexadecimal, as typed: `FF`, `0xFF` or `$FF`.

    Raises:
        ValueError: When it is not one.

    Example:
        >>> parse_byte("FF"), parse_byte("0x0")
        (255, 0)
    """
    match = re.fullmatch(r"(?:0[xX]|\$)?([0-9A-Fa-f]{1,2})[hH]?", text.strip())
    if match is None:
        raise ValueError(f"{text!r} is not a byte in hexadecimal such as FF or 00")
    return int(match[1], 16)


def plural(count: int, noun: str, many: str | None = None) -> str:
    """Count things in words.

    Example:
        >>> plural(1, "line"), plural(3, "line"), plural(2, "entry", "entries")
        ('1 line', '3 lines', '2 entries')
    """
    return f"{count} {noun if count == 1 else many or noun + 's'}"


def ranges(numbers: Iterable[int]) -> str:
    """Write ascending numbers as ranges.

    Example:
        >>> ranges([1, 2, 3, 7])
        '1-3, 7'
    """
    parts: list[list[int]] = []
    for number in numbers:
        if parts and parts[-1][-1] == number - 1:
            parts[-1][1:] = [number]
        else:
            parts.append([number])
    return ", ".join("-".join(map(str, one)) for one in parts)
