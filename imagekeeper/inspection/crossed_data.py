"""Data lines that came out on each other's places, or upside down, told from one image alone.

Every order of the eight lines is a code for the bytes in which nothing is lost; only what bytes mean tells which is the
right one. How often each byte comes in programs and texts (`tables/frequencies.toml`, our own count) chooses the orders
worth a look; words and calls then have to bear one out by a wide margin, and as it stands the image must have neither.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from imagekeeper.findings import Finding
from imagekeeper.inspection.content import Bytes, Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.inspection.order import LEAST_CONTENT, WIDE, WINDOW, Order, window
from imagekeeper.inspection.words import words
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import load

#: An order has to make the bytes so much likelier, each. [bit/byte]
LIKELIER = 0.02
#: So many orders are looked at closely, the likeliest.
CLOSELY = 24
#: What an order loses by unlikelier bytes: this share of the bits, and at most so many.
DISLIKE, MOST_DISLIKE = 0.5, 150.0
#: Orders within so many bits of the best cannot be told from it. [bit]
ALIKE = 10.0
#: Where the bytes are not likelier, there have to be so many times as many words as there were.
UNLIKELY = 5.0
#: Words are looked for in so many bytes, in parts, when all near orders are tried. [byte]
GLANCE, GLANCE_PART = 16384, 1024
#: Orders that gain less than the best by this factor are out of the question, however likely their bytes.
NEARLY = 3.0
#: Fill of so many bytes or more is left out. [byte]
_FILL = 8

_AS_IS = (0, 1, 2, 3, 4, 5, 6, 7)
_BACKWARDS = _AS_IS[::-1]


@dataclass(frozen=True)
class Lines:
    """An order of data lines.

    Attributes:
        places: For D0 to D7: the line on which it came out.
        inverted: Whether every bit is the opposite.
    """

    places: tuple[int, ...] = _AS_IS
    inverted: bool = False

    @property
    def table(self) -> Bytes:
        """What each byte of the image was.

        Example:
            >>> hex(Lines((1, 0, 2, 3, 4, 5, 6, 7)).table[0xCD]), hex(Lines(inverted=True).table[0xCD])
            ('0xce', '0x32')
        """
        values = np.arange(256)
        found = np.zeros(256, np.int64)
        for line, place in enumerate(self.places):
            found |= (values >> place & 1) << line
        return (found ^ (0xFF if self.inverted else 0)).astype(np.uint8)

    def exchanged(self, one: int, other: int) -> Lines:
        """The same with two lines exchanged."""
        places = list(self.places)
        places[one], places[other] = places[other], places[one]
        return Lines(tuple(places), self.inverted)


_PAIRS = tuple(combinations(range(8), 2))
_STARTS = tuple(
    Lines(places, inverted)
    for inverted in (False, True)
    for places in (_AS_IS, _BACKWARDS, (4, 5, 6, 7, 0, 1, 2, 3), (1, 0, 3, 2, 5, 4, 7, 6), (3, 2, 1, 0, 7, 6, 5, 4))
)
_ROTATED = tuple(
    Lines(places, inverted)
    for inverted in (False, True)
    for k in range(1, 8)
    for places in ((*_AS_IS[k:], *_AS_IS[:k]), (*_BACKWARDS[k:], *_BACKWARDS[:k]))
)
_NEAR = tuple(dict.fromkeys(_STARTS + tuple(
    Lines(inverted=inverted).exchanged(*pair) for inverted in (False, True) for pair in _PAIRS
)))  # fmt: skip


@cache
def _worth() -> NDArray[np.float64]:
    """For each kind of content and each byte: how likely it is, as what images hold is mixed. [bit]"""
    counts = {row["of"]: np.array(row["counts"], float) for row in load("frequencies")["bytes"]}
    shares = {of: one / one.sum() for of, one in counts.items()}
    return np.log2([0.6 * share + 0.25 * shares["text"] + 0.15 / 256 for share in shares.values()])


@cache
def _near_tables() -> NDArray[np.uint8]:
    return np.array([lines.table for lines in _NEAR])


def crossed(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Say so where another order of the data lines makes words and programs of the bytes."""
    if bench.chip is not None and bench.chip.bits < 8:
        return
    at = window(content)
    data = content.data[at : at + WINDOW]
    rest = _without_fill(data)
    if len(rest) < LEAST_CONTENT:
        return
    counts = np.bincount(rest, minlength=256)
    likely = _likely(counts)
    as_is = likely[Lines()]
    chosen = sorted((one for one in likely if likely[one] > as_is + LIKELIER * len(rest)), key=lambda one: -likely[one])
    known = Order.of(data)
    looked = [(one, Order.of(one.table[data])) for one in chosen[:CLOSELY]]
    looked += [(one, Order.of(one.table[data])) for one in _worded(data, known) if one not in chosen[:CLOSELY]]
    most = max((order.gain(known) for _, order in looked), default=0.0)
    good = [(one, order) for one, order in looked if order.gain(known) * NEARLY >= most > 0]
    if not good:
        return
    likeliest = max(likely[one] for one, _ in good)
    weighed = {
        one: order.gain(known) - min(DISLIKE * (likeliest - likely[one]), MOST_DISLIKE) for one, order in good
    }
    best, order = max(good, key=lambda pair: weighed[pair[0]])
    times = 2.0 if best in chosen else UNLIKELY
    if not order.better(known, times):
        return
    signs = order.better(Order.of(data, anywhere=True), times)
    if signs:
        also = [one for one in weighed if one != best and weighed[one] > weighed[best] - ALIKE]
        yield _finding(best, signs, len(also), (likely[best] - as_is) / len(rest), bench)


def _worded(data: Bytes, known: Order) -> list[Lines]:
    """Find the nearest orders with words in them: programs of rare processors have bytes that no table makes likely."""
    if known.words.bits > ALIKE * 2:
        return []
    part = data
    if len(data) > GLANCE:
        part = data[: len(data) // GLANCE_PART * GLANCE_PART].reshape(-1, GLANCE_PART)
        part = part[:: len(part) * GLANCE_PART // GLANCE].reshape(-1)
    found = {lines: words(lines.table[part]).bits for lines in _NEAR}
    worded = [lines for lines in found if found[lines] > known.words.bits + WIDE / 2]
    return sorted(worded, key=lambda lines: -found[lines])[:CLOSELY]


def _without_fill(data: Bytes) -> Bytes:
    edges = np.concatenate(([0], np.flatnonzero(data[1:] != data[:-1]) + 1, [len(data)]))
    lengths = np.diff(edges)
    return data[np.repeat(lengths < _FILL, lengths)]


def _likely(counts: NDArray[np.int64]) -> dict[Lines, float]:
    """Tell how likely the bytes are in the orders worth a look, by the content that fits each best. [bit]"""
    near = (_worth()[:, _near_tables()] * counts).sum(axis=2)   # content, order
    found = dict(zip(_NEAR, near.max(axis=0).tolist(), strict=True))
    if found[Lines()] >= max(found.values()):
        return found
    for kind in range(len(_worth())):
        for start in _STARTS + _ROTATED:
            lines, likely = _climbed(start, kind, counts)
            found[lines] = max(likely, found.get(lines, likely))
    return found


def _climbed(lines: Lines, kind: int, counts: NDArray[np.int64]) -> tuple[Lines, float]:
    """Exchange two lines as long as that makes the bytes likelier, as content of one kind."""
    true = np.zeros(256)   # how often each byte comes in this order
    true[lines.table] = counts
    likely = float(_worth()[kind] @ true)
    while True:
        values = _exchanged_worth()[kind] @ true
        best = int(np.argmax(values))
        if values[best] <= likely + 1e-6:
            return lines, likely
        lines, true, likely = lines.exchanged(*_PAIRS[best]), true[_exchanges()[best]], float(values[best])


@cache
def _exchanges() -> NDArray[np.uint8]:
    """For each pair of lines: every byte with the two exchanged."""
    return np.array([Lines().exchanged(*pair).table for pair in _PAIRS])


@cache
def _exchanged_worth() -> NDArray[np.float64]:
    """For each kind of content and each pair of lines: how likely each byte is with the two exchanged. [bit]"""
    return _worth()[:, _exchanges()]


def _finding(
    lines: Lines, signs: list[Phrase], others: int, likelier: float, bench: PinNames
) -> Finding:
    if likelier >= LIKELIER:
        signs = [*signs, Phrase("data-lines-exchanged/bytes", likelier=likelier)]
    moved = [line for line in range(8) if lines.places[line] != line]
    about = "data-lines-exchanged/image"
    if lines.places == _AS_IS:
        about = "inverted/image"
    elif lines.places == _BACKWARDS:
        about = "bits-reversed/image"
    rows = [Phrase("data-lines-exchanged/line", line=f"D{line}", on=f"D{lines.places[line]}") for line in moved]
    return bench.finding(
        about, "warning", 0.9 if not others else 0.7, lines=[f"D{line}" for line in moved], rows=rows, signs=signs,
        upside=Phrase("data-lines-exchanged/inverted") if lines.inverted and moved else "",
        doubt=Phrase("data-lines-exchanged/others", count=others) if others else "",
        detail={
            "order": {f"D{line}": f"D{lines.places[line]}" for line in moved}, "inverted": lines.inverted,
            "other_orders": others,
        },
    )  # fmt: skip
