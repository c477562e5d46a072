"""Text whose characters carry a parity bit: taken from a serial line of seven data bits by a port set to eight.

Even parity makes the number of ones in a character even, odd parity odd, and mark sets bit 7 always. From
memory: ITU-T Recommendation V.4, General structure of signals of International Alphabet No. 5 code, has even parity;
odd and mark parity: common practice, no source.

Blank tape (00) and rubout (all holes, FF) are punched without regard to parity, and are not counted: from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

ParityKind = Literal["even", "odd", "mark"]

#: Fewer characters show no parity.
FEWEST = 8

#: Fewer of the characters than this fit no parity: it is data, or another text. [share]
LEAST_FITTING = 0.9

#: What a text may hold once bit 7 is taken away, and how much may be none of it. [share]
_PLAIN = bytes([0, 2, 3, 7, 8, 9, 10, 12, 13, 17, 19, 26, 27, *range(32, 128)])
_MOST_FOREIGN = 0.02

#: A text in which more characters break its parity is not taken as one: each is kept account of.
_MOST_BROKEN = 200_000

_SEVEN_BITS = bytes(value & 0x7F for value in range(256))
_HIGH = bytes(range(128, 256))
_UNCOUNTED = b"\x00\xff"
_FITTING: dict[ParityKind, bytes] = {
    "even": bytes(value for value in range(256) if value.bit_count() % 2 == 0),
    "odd": bytes(value for value in range(256) if value.bit_count() % 2),
    "mark": _HIGH,
}


@dataclass(frozen=True)
class Parity:
    """The parity that the characters of a text carry.

    Attributes:
        kind: Which.
        characters: How many characters were counted.
        broken: How many of them break it.
    """

    kind: ParityKind
    characters: int
    broken: int


def find_parity(text: bytes) -> Parity | None:
    r"""Find the parity that a text carries in bit 7, or None where it is no text with parity.

    Example:
        >>> record = b":0300300002337A1E\r\n:00000001FF\r\n"
        >>> find_parity(bytes(c | (c.bit_count() % 2) << 7 for c in record))
        Parity(kind='even', characters=32, broken=0)
        >>> find_parity(record) is None, find_parity(bytes(range(256))) is None
        (True, True)
    """
    counted = len(text.translate(None, _UNCOUNTED))
    high = counted - len(text.translate(None, _HIGH + _UNCOUNTED))
    if counted < FEWEST or not high:
        return None
    foreign = len(text.translate(_SEVEN_BITS).translate(None, _PLAIN))
    if foreign > _MOST_FOREIGN * len(text):
        return None
    broken = {kind: len(text.translate(None, fitting + _UNCOUNTED)) for kind, fitting in _FITTING.items()}
    kind = min(broken, key=lambda one: broken[one])
    if broken[kind] >= high:   # fewer characters would break what has no parity
        return None
    if broken[kind] > min((1 - LEAST_FITTING) * counted, _MOST_BROKEN):
        return None
    return Parity(kind, counted, broken[kind])


def stripped(text: bytes) -> bytes:
    """Take bit 7 away."""
    return text.translate(_SEVEN_BITS)


def broken_lines(text: bytes, kind: ParityKind) -> dict[int, int]:
    r"""Count the characters that break a parity, by the line that they are on, counted from 1.

    Lines end in LF, CR LF or CR once bit 7 is taken away.

    Example:
        >>> broken_lines(b"\xc1\xc2\x8d\x8a\xc3\x44\x8a", "mark")
        {2: 1}
    """
    plain, fitting = stripped(text), _FITTING[kind] + _UNCOUNTED
    bad = re.compile(b"[" + re.escape(bytes(range(256)).translate(None, fitting)) + b"]")
    found: dict[int, int] = {}
    line, before = 1, 0
    for match in bad.finditer(text):
        at = match.start()
        line += _line_ends(plain, before, at)
        found[line] = found.get(line, 0) + 1
        before = at
    return found


def _line_ends(text: bytes, start: int, end: int) -> int:
    """Count the lines that end between two offsets; the LF of a CR LF counts as the end."""
    # a CR counts where no LF follows it, so that CR LF counts once, at its LF
    crs = text.count(b"\r", start, end) - text.count(b"\r\n", start, end + 1)
    return text.count(b"\n", start, end) + crs
