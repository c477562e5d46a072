r"""Printable strings: plain ASCII, with bit 7 set in the last character, or with bit 7 set in all.

Common practice, no source.
"""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterator
from itertools import count

from imagekeeper import budget
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.results import Text, TextForm

#: Shorter strings come about by chance. [character]
LEAST = 6
#: The longest of them are kept, so many.
MOST = 200
#: No string is shown longer. [character]
LONGEST = 120

#: So many are looked at between two looks at the clock.
_A_LOOK = 4096

_PLAIN = re.compile(rb"[\x20-\x7e]{6,}(?P<last>[\xa0-\xfe])?|[\x20-\x7e]{5}(?P<last5>[\xa0-\xfe])")
_HIGH = re.compile(rb"[\xa0-\xfe]{8,}")


def texts(content: Content) -> tuple[tuple[Text, ...], int]:
    r"""Find strings.

    Returns:
        The longest `MOST` of them, in order of addresses, and how many there are in all.

    Example:
        >>> from imagekeeper.containers.model import Image
        >>> found, total = texts(Content.of(Image.from_bytes(b"SET CLOCK" + bytes(2) + b"PAPE" + b"X\xd2")))
        >>> [(t.text, t.form) for t in found], total
        ([('SET CLOCK', 'ascii'), ('PAPEXR', 'bit-7-last')], 2)
    """
    counted = count()
    found = (text for text, _ in zip(_found(content.data.tobytes()), counted, strict=False))
    longest = heapq.nsmallest(MOST, found, key=lambda t: (-t[1], t[0]))
    kept = tuple(
        Text(content.address_of(at), length, form, words) for at, length, form, words in sorted(longest)
    )
    return kept, next(counted)


def _found(data: bytes) -> Iterator[tuple[int, int, TextForm, str]]:
    allowed = budget.current()
    for number, match in enumerate(_PLAIN.finditer(data)):
        if not number % _A_LOOK:
            allowed.tick()
        raw = match[0]
        last = match["last"] or match["last5"]
        words = bytes(c & 0x7F for c in raw[: LONGEST + 1]).decode("ascii")
        if _worth(words):
            yield match.start(), len(raw), "bit-7-last" if last else "ascii", _cut(words)
    for number, match in enumerate(_HIGH.finditer(data)):
        if not number % _A_LOOK:
            allowed.tick()
        words = bytes(c & 0x7F for c in match[0][: LONGEST + 1]).decode("ascii")
        if _worth(words) and sum(c.isalpha() or c == " " for c in words) * 4 >= len(words) * 3:
            yield match.start(), len(match[0]), "bit-7", _cut(words)


def _worth(words: str) -> bool:
    """Leave out fill, and what is mostly signs."""
    return len(set(words)) > 2 and sum(c.isalnum() or c == " " for c in words) * 2 >= len(words)


def _cut(words: str) -> str:
    return words if len(words) <= LONGEST else words[:LONGEST] + "…"
