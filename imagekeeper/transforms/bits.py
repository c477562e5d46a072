"""Bytes and bits in another order, or inverted, as crossed wires and inverting bus drivers make them.

Each of these undoes itself.
"""

from __future__ import annotations

from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.transforms.lanes import words

#: What changes places: the bytes of 16-bit words, or the 16-bit words of 32-bit ones.
Swapped = Literal["bytes", "words"]

_INVERTED = bytes(value ^ 0xFF for value in range(256))
_REVERSED = bytes(int(f"{value:08b}"[::-1], 2) for value in range(256))


def swap(data: bytes, what: Swapped) -> bytes:
    """Exchange the two halves of every word.

    Args:
        data: The image.
        what: `bytes` exchanges the bytes of 16-bit words, `words` the 16-bit halves of 32-bit words.

    Raises:
        UsageError: `does-not-fit` where the image does not divide, saying by how many bytes.

    Example:
        >>> swap(b"TIDE", "bytes"), swap(b"TIDE", "words")
        (b'ITED', b'DETI')
    """
    word = 2 if what == "bytes" else 4
    over = len(data) % word
    if over:
        raise UsageError("does-not-fit/words", bits=8 * word, size=len(data), over=over, short=word - over)
    swapped = bytearray(len(data))
    view, source = words(swapped, word // 2), words(data, word // 2)
    view[0::2], view[1::2] = source[1::2], source[0::2]
    return bytes(swapped)


def invert(data: bytes) -> bytes:
    r"""Invert every bit, as behind inverting bus drivers.

    Example:
        >>> invert(b"\x00\xf0")
        b'\xff\x0f'
    """
    return data.translate(_INVERTED)


def reverse(data: bytes) -> bytes:
    r"""Reverse the bits of every byte, D0 with D7, D1 with D6 and so on.

    Example:
        >>> reverse(b"\x01\xc0")
        b'\x80\x03'
    """
    return data.translate(_REVERSED)
