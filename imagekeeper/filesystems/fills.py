"""What a sector holds that holds the same over and over."""

from __future__ import annotations

#: No more of a fill is written out. [byte]
_SHOWN = 32


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
