r"""The size of a chip's image: a window of it, gaps closed, padded, repeated, trimmed. Bytes in, bytes out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.units import GIB, MIB

#: The largest image that any step may make: the guard against mistaken and hostile figures. [byte]
LIMIT = 256 * MIB
assert LIMIT < GIB   # data, result and one copy must fit the memory of a small computer

#: Where the fill goes.
End = Literal["end", "start"]


def window(data: bytes, offset: int, size: int) -> bytes:
    """Take a part.

    Args:
        data: The whole.
        offset: Where the part begins. [byte]
        size: How much of it. [byte]

    Raises:
        UsageError: `does-not-fit` where it is not all there, saying by how many bytes.

    Example:
        >>> window(b"TIDE GAUGE", 5, 5)
        b'GAUGE'
    """
    beyond = offset + size - len(data)
    if beyond > 0:
        raise UsageError("does-not-fit/beyond-end", missing=beyond, size=len(data))
    return data[offset : offset + size]


def fill_gaps(data: bytes, gaps: Sequence[tuple[int, int]], fill: int) -> bytes:
    r"""Close gaps with one byte value.

    Args:
        data: The bytes present, one after the other.
        gaps: (offset, length) of each, ascending; offsets count in the result. [byte]
        fill: The byte, 0 to 255.

    Raises:
        UsageError: `does-not-fit` where the gaps do not ascend, or lie beyond the data.

    Example:
        >>> fill_gaps(b"ABC", [(2, 2)], 0xFF)
        b'AB\xff\xffC'
    """
    pieces, taken, made = [], 0, 0
    for offset, length in gaps:
        present = offset - made
        if present < 0 or taken + present > len(data):
            raise UsageError("does-not-fit/gaps", length=length, at=offset)
        pieces += [data[taken : taken + present], bytes([fill]) * length]
        taken, made = taken + present, offset + length
    return b"".join([*pieces, data[taken:]])


def pad(data: bytes, size: int, fill: int, at: End = "end") -> bytes:
    r"""Pad to a size.

    Args:
        data: The image.
        size: The size wanted. [byte]
        fill: The byte to pad with, 0 to 255.
        at: Where: behind the image, or before it.

    Raises:
        UsageError: `does-not-fit` where the image is larger, saying by how many bytes.

    Example:
        >>> pad(b"AB", 4, 0xFF), pad(b"AB", 4, 0xFF, "start")
        (b'AB\xff\xff', b'\xff\xffAB')
    """
    missing = size - len(data)
    if missing < 0:
        raise UsageError("does-not-fit/larger-than-padded", over=-missing, size=size)
    more = bytes([fill]) * missing
    return data + more if at == "end" else more + data


def repeat(data: bytes, size: int) -> bytes:
    """Repeat an image until it fills a size, as for a chip larger than the one that it replaces.

    Raises:
        UsageError: `does-not-fit` where a whole number of copies does not fill it, saying by how many bytes.

    Example:
        >>> repeat(b"AB", 6)
        b'ABABAB'
    """
    copies, over = divmod(size, len(data) or 1)
    if over or not copies:
        raise UsageError("does-not-fit/whole-copies", copies=copies, size=len(data), over=over, wanted=size)
    return data * copies


def trimmed_size(data: bytes, fill: int) -> int:
    r"""Find the smallest power of two that holds everything but the fill at the end. [byte]

    Raises:
        UsageError: `would-lose` where all is fill, `does-not-fit` where that power is larger than the image.

    Example:
        >>> trimmed_size(b"TIDE5" + b"\xff" * 27, 0xFF)
        8
    """
    used = len(data.rstrip(bytes([fill])))
    if not used:
        raise UsageError("would-lose/all-fill", fill=fill)
    size = 1 << (used - 1).bit_length()
    if size > len(data):
        raise UsageError("does-not-fit/power-of-two", used=used, wanted=size, missing=size - len(data))
    return size


def trim(data: bytes, size: int, fill: int) -> bytes:
    r"""Cut fill away at the end, down to a size; nothing else is ever cut away.

    Raises:
        UsageError: `would-lose` where that is not all fill; `does-not-fit` where the image is smaller than the size.

    Example:
        >>> trim(b"TIDE\xff\xff\xff\xff", 4, 0xFF)
        b'TIDE'
    """
    rest = data[size:]
    lost = len(rest) - rest.count(fill)
    if lost:
        used = len(data.rstrip(bytes([fill])))
        raise UsageError("would-lose/trimmed", size=len(rest), lost=lost, fill=fill, used=used)
    if size > len(data):
        raise UsageError("does-not-fit/smaller-than-trimmed", missing=size - len(data), wanted=size)
    return data[:size]
