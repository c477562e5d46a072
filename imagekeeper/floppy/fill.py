r"""Fill: what formatting leaves in a sector, and what a reading program puts where it got nothing.

Formatting leaves one byte over and over; test patterns have two or three; some programs write a text of their own, such
as UNREADABLE, until the sector is full. Common practice, no source.
"""

from __future__ import annotations

#: A sentence of a reading program is no shorter than this, so that a short word of a table is none. [byte]
_SENTENCE = 8

#: Test patterns are no longer than this. [byte]
_PATTERN = 4

#: No more of a fill is written out. [byte]
_SHOWN = 32

_PRINTED = bytes(range(0x20, 0x7F))


def shortest(sector: bytes) -> bytes:
    r"""Give the shortest beginning that a sector repeats, the last time perhaps not to its end; else all of it.

    Example:
        >>> shortest(b"TIDETIDETIDETI"), shortest(bytes(8)), shortest(b"TIDEGATE")
        (b'TIDE', b'\x00', b'TIDEGATE')
    """
    period = sector.find(sector[:2], 1)
    while 0 < 2 * period <= len(sector):
        if sector[period:] == sector[:-period]:
            return sector[:period]
        period = sector.find(sector[:2], period + 1)
    return sector


def emptiness(sector: bytes) -> int:
    r"""How empty a sector is: 0 with content; 1 where it is a text over and over, which may be content; 2 for fill.

    Fill is one byte, or a pattern of up to four, over and over.

    Example:
        >>> emptiness(b"\xe5" * 512), emptiness(b"\x6d\xb6" * 256), emptiness((b"NOT READ! " * 52)[:512])
        (2, 2, 1)
        >>> emptiness(b"TIDE GATE" + bytes(503)), emptiness(b"TIDE")
        (0, 0)
    """
    period = len(shortest(sector))
    return 0 if period == len(sector) else 2 if period <= _PATTERN else 1


def is_message(sector: bytes) -> bool:
    r"""Whether a sector may be one sentence of a reading program, and one byte behind it over and over.

    One such sector proves nothing: a short text ends so. The same one in several places does.

    Example:
        >>> is_message(b"NOT READ!" + bytes(503)), is_message(b"GATE" + bytes(508)), is_message(b"\x03ab" * 40)
        (True, False, False)
    """
    behind = sector.rstrip(sector[-1:])
    return len(behind) >= _SENTENCE and not behind.translate(None, _PRINTED)


def fill_words(fill: bytes) -> str:
    r"""Say what is repeated: a value, values, or a text.

    Example:
        >>> print(fill_words(b"\xe5" * 512), fill_words(b"NO DATA "), fill_words(b"\x6d\xb6"))
        E5 "NO DATA " 6D B6
    """
    least = shortest(fill)[:_SHOWN]
    if len(least) > 1 and all(32 <= byte < 127 for byte in least):
        return f'"{least.decode("ascii")}"'
    return least.hex(" ").upper()
