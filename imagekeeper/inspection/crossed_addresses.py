"""Address lines that came out on each other's places, and bytes or lanes in another order, told from one image alone.

The bytes are all there, and each is right; what is broken is what stands beside what. Words are cut up by lines low in
the address, and calls lead elsewhere whichever lines they are. Every exchange of two lines is tried, with a few orders
of whole groups, and what gains most is tried again for a further exchange.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from imagekeeper.findings import Finding
from imagekeeper.inspection.calls import FEWEST, KINDS, SPACE, CallKind, bases, bits, one_of
from imagekeeper.inspection.content import Bytes, Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.inspection.order import LEAST_CONTENT, WINDOW, Order, window
from imagekeeper.inspection.words import words
from imagekeeper.sentences.say import Phrase

Offsets = NDArray[np.int64]

#: Smaller images have too little to put in order. [byte]
SMALLEST = 1024
#: Lines up to this one cut words up.
WORD_LINE = 5
#: Words are looked for in so many bytes, when all exchanges are tried. [byte]
GLANCE = 8192
#: So many calls of a family are followed.
FOLLOWED = 128
#: So many orders are looked at closely.
CLOSELY = 6
#: Up to this size an image is looked at as a whole. [byte]
WHOLE = 0x40000
#: Calls of so many bits, so many of which lead where they should, are in order as they are. [bit]
IN_ORDER, LED_IN_ORDER = 100.0, 0.75
#: So many exchanges are tried one after the other.
STEPS = 4
#: Tables of names make other words in many orders, so that words alone count where there were next to none before.
CUT_UP = 10.0
#: Of whole orders there are few, so that less will do.
CUT_UP_WHOLE = 3.0
#: One more exchange has to gain so much, and such a share of what was gained. [bit]
STEP, STEP_SHARE = 30.0, 0.15
#: Orders within so many bits of the best cannot be told from it. [bit]
ALIKE = 10.0


@dataclass(frozen=True)
class Places:
    """An order of bytes.

    Attributes:
        lines: For each line of the address, A0 first: the line on which it came out.
        turned: Lines that came out upside down, one bit each.
    """

    lines: tuple[int, ...]
    turned: int = 0

    def __call__(self, addresses: Offsets) -> Offsets:
        """Where in the image the bytes of these offsets stand.

        Example:
            >>> Places((1, 0, 2))(np.arange(8)).tolist(), Places((0, 1, 2), 1)(np.arange(4)).tolist()
            ([0, 2, 1, 3, 4, 6, 5, 7], [1, 0, 3, 2])
        """
        low, high, split = self._moved
        found: Offsets = low[addresses & (1 << split) - 1] | high[addresses >> split]
        return found

    def back(self, places: Offsets) -> Offsets:
        """Which offsets the bytes at these places of the image had."""
        return self._undone(places)

    @cached_property
    def _undone(self) -> Places:
        lines = [0] * len(self.lines)
        for line, place in enumerate(self.lines):
            lines[place] = line
        return Places(tuple(lines), sum(1 << line for line, place in enumerate(self.lines) if self.turned >> place & 1))

    @cached_property
    def _moved(self) -> tuple[Offsets, Offsets, int]:
        """Where the lower and the upper half of an address lead, and how many lines the lower has."""
        split = len(self.lines) // 2
        low, high = _spread(self.lines[:split]), _spread(self.lines[split:])
        upside = sum(1 << line for line in self.lines[:split]) & self.turned
        return low ^ upside, high ^ upside ^ self.turned, split

    def exchanged(self, one: int, other: int) -> Places:
        """The same with two lines exchanged."""
        lines = list(self.lines)
        lines[one], lines[other] = lines[other], lines[one]
        return Places(tuple(lines), self.turned)


def _spread(lines: tuple[int, ...]) -> Offsets:
    """Give the address that each number makes whose bits come out on these lines."""
    found = np.zeros(1, np.int64)
    for line in lines:
        found = np.concatenate((found, found | 1 << line))
    return found


def crossed(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Say so where another order of the address lines makes words and programs of the bytes."""
    size = content.size
    if not content.gapless or size < SMALLEST or size & (size - 1) or content.start % size:
        return
    if len(content.rest) < LEAST_CONTENT:
        return
    width = size.bit_length() - 1
    whole = size <= WHOLE
    addresses = np.arange(size) if whole else np.arange(window(content), window(content) + WINDOW)
    as_is = Places(tuple(range(width)))
    # where only a part is looked at, other bytes must not come into it: they may hold more words
    tried_lines = range(width if whole else WINDOW.bit_length() - 1)
    tried = _Tried(content.data, addresses)
    known = Order.of(content.data[addresses])
    if known.calls.bits >= IN_ORDER and known.calls.hits >= LED_IN_ORDER * known.calls.targets:
        return
    best, best_order = as_is, known
    also: list[Places] = []
    for step in range(STEPS):
        near = [best.exchanged(*pair) for pair in combinations(tried_lines, 2)]
        if not step:
            near += [one for one in _whole_orders(width) if whole or one.lines == as_is.lines]
        ranked = sorted(((tried.glance(one), k, one) for k, one in enumerate(near)), key=lambda r: (-r[0], r[1]))
        least = tried.glance(best)
        looked = [
            (one, Order.of(content.data[one(addresses)])) for worth, _, one in ranked[:CLOSELY] if worth > least
        ]
        looked = [(one, order) for one, order in looked if _further(order, best_order, bool(step))]
        if not looked:
            break
        looked.sort(key=lambda pair: -pair[1].bits)
        best, best_order = looked[0]
        also = [one for one, order in looked[1:] if order.bits > best_order.bits - ALIKE]
    times = CUT_UP_WHOLE if best in _whole_orders(width) else CUT_UP
    if not best_order.better(known, times) or _wide_letters(content.data[addresses]) * 2 > best_order.words.bits:
        return
    signs = best_order.better(Order.of(content.data[addresses], anywhere=True), times)
    if signs:
        yield _finding(best, signs, len(also), bench)


def _further(order: Order, before: Order, again: bool) -> bool:
    """Whether an exchange gains enough; a further one has to bring calls, for words come about in many ways."""
    gain = order.calls.bits - before.calls.bits if again else order.gain(before)
    return gain > max(STEP, before.bits * STEP_SHARE)


#: By the lines that are upside down.
_GROUPS = {1: "bytes-exchanged/pairs", 2: "bytes-exchanged/pairs-of-pairs", 3: "bytes-exchanged/four-backwards"}


def _wide_letters(data: Bytes) -> float:
    """How much the words say whose letters take two bytes each, of which any exchange makes words of one byte. [bit]"""
    return max(words(data[0::2]).bits, words(data[1::2]).bits)


def _whole_orders(width: int) -> list[Places]:
    """Bytes of pairs exchanged, two or four lanes one after the other, all lines backwards."""
    lines = tuple(range(width))
    joined = [Places((*lines[-k:], *lines[:-k])) for k in (1, 2)]
    return [
        Places(lines, 1), Places(lines, 3), Places(lines, 2), *joined, Places(joined[0].lines, 1 << (width - 1)),
        Places(lines[::-1]),
    ]  # fmt: skip


@dataclass(frozen=True)
class _Ends:
    """What stands before subroutines, for a family of processors.

    Attributes:
        distances: How far before, in a column. [byte]
        among: For each distance and byte: whether it is one of those that stand there.
        chance: How likely it is that chance has one of them.
    """

    distances: Offsets
    among: NDArray[np.bool_]
    chance: float

    @classmethod
    def of(cls, kind: CallKind, shares: NDArray[np.float64]) -> _Ends:
        among = np.array([one_of(opcodes) for opcodes in kind.ends.values()])
        chance = sum(float(shares[ends].sum()) for ends in among)
        return cls(np.array(list(kind.ends))[:, None], among, min(max(chance, 1 / 256), 0.5))

    @property
    def rows(self) -> Offsets:
        return np.arange(len(self.among))[:, None]


class _Tried:
    """What can be told quickly of an order: the words in a part of the bytes, and where some calls lead."""

    def __init__(self, data: Bytes, addresses: Offsets) -> None:
        self.data, self.size = data, len(data)
        part = data[addresses]
        letters = (part | 0x20) - np.uint8(0x61) < 26
        blocks = letters[: len(letters) // GLANCE * GLANCE].reshape(-1, GLANCE) if len(letters) >= GLANCE else None
        first = int(blocks.sum(axis=1).argmax()) * GLANCE if blocks is not None else 0
        self.glanced = addresses[first : first + GLANCE]
        self.words: dict[tuple[tuple[int, ...], int], float] = {}
        self.sites: list[tuple[CallKind, Offsets]] = []
        small = self.size <= SPACE
        for kind in KINDS:
            if not kind.relative and not small:
                continue
            at = kind.places(part) + int(addresses[0])
            if len(at) >= FEWEST:
                self.sites.append((kind, at[:: -(-len(at) // FOLLOWED)]))
        shares = np.bincount(part, minlength=256) / len(part)
        self.ends = [_Ends.of(kind, shares) for kind, _ in self.sites]

    def glance(self, order: Places) -> float:
        """How good an order looks, in bits that compare only with each other."""
        low = (order.lines[: WORD_LINE + 1], order.turned)
        if low not in self.words:   # lines above only bring other words, and cut up few
            self.words[low] = words(self.data[order(self.glanced)]).bits
        led = (self._led(order, *site, ends) for site, ends in zip(self.sites, self.ends, strict=True))
        return self.words[low] + max(led, default=0.0)

    def _led(self, order: Places, kind: CallKind, at: Offsets, ends: _Ends) -> float:
        true = order.back(at)
        true = true[true < self.size - 1 - kind.width]
        operand = self.data[order(true + np.arange(1, 1 + kind.width)[:, None])]
        targets = kind.targets(true, list(operand.astype(np.int64)))
        if not kind.relative:
            targets = targets - bases(targets, self.size)[0]
        targets = np.unique(targets[(targets >= 3) & (targets < self.size)])
        if len(targets) < FEWEST:
            return 0.0
        hit = ends.among[ends.rows, self.data[order(targets - ends.distances)]].any(axis=0)
        return bits(int(hit.sum()), len(targets), ends.chance)


def _finding(order: Places, signs: list[Phrase], others: int, bench: PinNames) -> Finding:
    width = len(order.lines)
    lines = tuple(range(width))
    moved = [line for line in lines if order.lines[line] != line]
    names = [f"A{line}" for line in moved]
    sure = 0.7 if others else 0.9
    doubt = Phrase("data-lines-exchanged/others", count=others) if others else ""
    detail = {
        "order": {f"A{line}": f"A{order.lines[line]}" for line in moved},
        "turned": [f"A{line}" for line in lines if order.turned >> line & 1], "other_orders": others,
    }
    if not moved:
        return bench.finding(
            "bytes-exchanged/image", "warning", sure, what=Phrase(_GROUPS[order.turned]), signs=signs, doubt=doubt,
            detail=detail,
        )  # fmt: skip
    for lanes, k in ((2, 1), (4, 2)):
        if order.lines == (*lines[-k:], *lines[:-k]):
            return bench.finding(
                "lane-of/joined", "warning", sure, lanes=lanes, signs=signs, doubt=doubt, detail={**detail, "of": lanes}
            )
    rows = [Phrase("data-lines-exchanged/line", line=f"A{line}", on=f"A{order.lines[line]}") for line in moved]
    # measured on programs: one in seven of these is not the whole order, or not the right one
    several = len(moved) > 2
    return bench.finding(
        "address-lines-exchanged/image", "warning", min(sure, 0.7) if several else sure, lines=names, rows=rows,
        signs=signs, doubt=doubt, part=Phrase("address-lines-exchanged/part") if several else "", detail=detail,
    )  # fmt: skip
