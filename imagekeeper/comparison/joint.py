"""Why reads differ: one account over all of them, however many there are.

What most reads give, bit by bit, stands for the content, unless one of the reads serves better. Each read that differs
from it is explained by itself (see `explaining`); then the explanations are weighed together: a cause that several
reads show is paid for by all of them, so that a few wrong bits in each of three reads speak as loud as many in one.
Where the reads were taken at several supply voltages, each cell is looked at over all of them.

Two reads alone have no majority: the causes themselves say in which of the two they lie.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from imagekeeper.comparison import flicker, in_all, voltages
from imagekeeper.comparison.bases import Base, by_vote
from imagekeeper.comparison.certainty import seen_by, shares
from imagekeeper.comparison.explaining import candidates, cause_of, foretell_the_same, rest_of
from imagekeeper.comparison.pair import Account, Explanation, Pair
from imagekeeper.comparison.reads import Reads

#: A read keeps an explanation of its own where that is so much shorter than the one it would share. [bit]
OWN = 6.0

#: Of what a cause leaves, the explanations that are no longer than the shortest by more than this are told. [bit]
AS_LONG = 1.0

#: Other explanations are mentioned when they are at most so many bits longer. [bit]
CLOSE = 12.0

#: A cause that is less likely than this is not mentioned.
UNLIKELY = 0.02

#: With fewer voltages than this, cells that change either way and noise in the outer reads look alike; of three reads
#: the middle one is the clean one by chance once in three. [bit]
MANY_LEVELS, ORDER = 4, 1.6

#: How strange the bytes of one read are tells which of two is ill only beyond so many times its own error.
TELLING = 2.0

#: What happens by chance, and not the same way in two reads.
FLEETING = ("random-noise", "data-line-unstable", "address-line-unstable")

#: What chance does not do twice in the very same way, and what it takes to say that it did. [bit]
NEVER_TWICE, TWICE = ("shifted",), 512.0

#: So many images are each tried as the content, where what most of them give needs several causes.
FEW_IMAGES = 4

#: The most that an explanation may claim which only says what it is not.
MOST = {"content-differs": 0.85}

#: The same for what another cause leaves.
MOST_OF_REST = {"content-differs": 0.6}


#: The same where the content itself was put together, and may be wrong where all reads were.
MOST_OF_REBUILT = 0.6


@dataclass(frozen=True, kw_only=True)
class Ranked:
    """A cause with its confidence.

    Attributes:
        account: The finding that it comes to.
        confidence: From 0 to 1.
        cause: What is the same for all accounts of one cause.
        part: Causes of one number explain the same differences, and rule each other out.
        depth: 0 for what explains the differences themselves, 1 for what explains the rest of them, and so on.
        reads: The numbers of the reads that it lies in; none where the reads cannot tell.
        also: What it comes to in further reads.
        twin: Whether it foretells the very bytes that the best does, so that no read can tell the two apart.
    """

    account: Account
    confidence: float
    depth: int
    cause: object
    reads: tuple[int, ...]
    part: int = 0
    also: tuple[Account, ...] = ()
    twin: bool = False


def explain_all(reads: Reads) -> list[Ranked]:
    """Explain the differences between all reads, the most likely cause first.

    Example:
        >>> data = np.random.default_rng(1).integers(0, 256, 2048, np.uint8)
        >>> three = Reads(images=(data, data | 8), numbers=((1, 3), (2,)), names=("a", "b"), volts=((None,), (None,)))
        >>> best = explain_all(three)[0]
        >>> best.account.code, best.account.detail["line"], best.reads
        ('data-line-stuck', 'D3', (2,))
    """
    differing = _held_against_best(reads)
    by_volts = voltages.explained(reads)
    waiting, parts = differing, []
    while waiting:
        shared = {
            cause: sum(one.shared(cause) for one in waiting) - _saved(waiting, cause) for cause in _causes(waiting)
            if any(one.takes(cause) for one in waiting)
        }
        best = min(shared, key=shared.__getitem__)
        mine = [one for one in waiting if one.takes(best)]
        rivals = {cause: sum(one.alone(cause) for one in mine) - _saved(mine, cause) for cause in _causes(mine)}
        parts.append((mine, best, rivals))
        waiting = [one for one in waiting if one not in mine]
    found = [
        replace(ranked, part=part)
        for part, (mine, best, rivals) in enumerate(parts) for ranked in _told(mine, best, rivals)
    ]  # fmt: skip
    by_cell = by_volts or flicker.explained(reads)
    if by_cell is not None:
        found = _weighed(by_cell, found, sum(rivals[best] for _, best, rivals in parts))
    return sorted(found, key=lambda r: (r.depth, -r.confidence))


def _held_against_best(reads: Reads) -> list[_Differing]:
    """Explain the reads from whatever content makes that the shortest.

    Most often that is what most reads give. Where this needs several causes, one of the reads may have the content, and
    the others one fault in common; and a fault in all reads leaves its own.
    """
    base = by_vote(reads)
    tried = [_held_against(reads, base)]
    once = len(set(map(len, reads.numbers))) == 1
    if once and 2 < len(reads.images) <= FEW_IMAGES and len({cause_of(one.best) for one in tried[0]}) > 1:
        tried += [
            _held_against(reads, Base(image, i)) for i, image in enumerate(reads.images) if i != base.image
        ]
    tried += [
        _held_against(reads, Base(content, None, "what the reads give together", codes))
        for codes, content in in_all.rebuilt(reads)
    ]
    return min(tried, key=_together)


def _held_against(reads: Reads, base: Base) -> list[_Differing]:
    return [
        _Differing(reads, base, i) for i, image in enumerate(reads.images)
        if i != base.image and not np.array_equal(image, base.content)
    ]  # fmt: skip


def _together(differing: Sequence[_Differing]) -> float:
    """Bits to describe all reads by the best explanation of each.

    What was put together for a fault serves only where each read shows that fault first.
    """
    for one in differing:
        if one.base.faults and (one.best.turned or one.best.accounts[0].code not in one.base.faults):
            return math.inf
    return sum(one.length(one.best) for one in differing)


class _Differing:
    """One image that differs from the base, with everything that may explain it."""

    def __init__(self, reads: Reads, base: Base, image: int) -> None:
        name = base.name if base.image is None else reads.names[base.image]
        self.image = image
        self.reads = reads
        self.base = base
        self.pair = Pair(
            first=base.content, second=reads.images[image], names=(name, reads.names[image]), start=reads.start,
            volts=(None if base.image is None else _common(reads.volts[base.image]), _common(reads.volts[image])),
            holds_charge=reads.holds_charge,
        )  # fmt: skip
        self.found = candidates(self.pair, reads.gapless)
        self.causes: dict[tuple[object, ...], Explanation] = {}
        self.either: set[tuple[object, ...]] = set()
        for one in sorted(self.found, key=self.length):
            cause = cause_of(one)
            before = self.causes.setdefault(cause, one)
            if before.turned != one.turned and one.by_chance and self._as_good(before.bits, one.bits):
                self.either.add(cause)
                self.causes[cause] = before if one.turned else replace(one, bits=before.bits)

    @cached_property
    def best(self) -> Explanation:
        """The shortest explanation of this image."""
        return min(self.causes.values(), key=self.length)

    def shared(self, cause: tuple[object, ...]) -> float:
        """Bits to describe this image by a cause that others show too, or else by its own best."""
        own = self.length(self.best) + OWN
        return min(self.length(self.causes[cause]), own) if cause in self.causes else own

    def alone(self, cause: tuple[object, ...]) -> float:
        """Bits to describe this image by a cause, or for want of that by a list of its differences."""
        return self.length(self.causes[cause]) if cause in self.causes else self.pair.plain_bits + OWN

    def takes(self, cause: tuple[object, ...]) -> bool:
        """Whether a cause that explains others is good enough for this image too."""
        if cause not in self.causes:
            return False
        one, best = self.causes[cause], self.best
        if cause != cause_of(best) and one.left(self.pair) * 2 > self.pair.flips:   # then it is another fault here
            return False
        return self.length(one) - one.naming <= self.length(best) + OWN

    def length(self, one: Explanation) -> float:
        """Bits to describe this image so, as often as it was read, where what happens by chance never comes twice."""
        accused = len(self.lies_in(one)) or len(self.reads.numbers[self.image])
        if any(account.code in FLEETING for account in one.accounts):
            return one.bits * accused
        never = any(account.code in NEVER_TWICE for account in one.accounts)
        return one.bits + (TWICE if never and accused > 1 else 0.0)

    def _as_good(self, best: float, other: float) -> bool:
        """Whether nothing tells which of two is ill: neither their number, nor what stands where they differ."""
        if not self._as_many or not self.pair.few:
            return False
        excess, error = self.pair.strangers
        return max(abs(excess), other - best) <= TELLING * error

    @property
    def _as_many(self) -> bool:
        return not self.base.faults and len(self.reads.numbers[self.image]) * 2 == self.reads.total

    def lies_in(self, one: Explanation) -> tuple[int, ...]:
        """Name the reads that an explanation accuses."""
        mine = self.reads.numbers[self.image]
        if self._as_many and (one.either or cause_of(one) in self.either):   # as good the one way as the other
            return ()
        if not one.turned:
            return mine
        return tuple(sorted(n for numbers in self.reads.numbers for n in numbers if n not in mine))


def _common(volts: Sequence[float | None]) -> float | None:
    return volts[0] if len(set(volts)) == 1 else None


def _saved(images: Sequence[_Differing], cause: tuple[object, ...]) -> float:
    """Bits that need not be told again where several images show one cause: which it is, and how often it strikes."""
    naming = [one.causes[cause].naming for one in images if cause in one.causes and one.takes(cause)]
    return sum(naming) - max(naming, default=0.0)


def _causes(images: Sequence[_Differing]) -> list[tuple[object, ...]]:
    return list(dict.fromkeys(cause for one in images for cause in one.causes))


def _told(
    mine: Sequence[_Differing], best: tuple[object, ...], rivals: Mapping[tuple[object, ...], float]
) -> Iterator[Ranked]:
    """Give a cause with its close rivals, and what it leaves."""
    order = sorted(rivals, key=rivals.__getitem__)
    belief = dict(zip(order, shares([rivals[cause] for cause in order]), strict=True))
    most = max(mine, key=lambda one: one.pair.plain_bits - one.causes[best].bits)
    chosen = most.causes[best]
    left = [*_left(mine, best)]
    anew = any(ranked.account.code == "content-differs" for ranked in left)
    for cause in order[:4]:
        here = [one for one in mine if cause in one.causes]
        other = most.causes.get(cause) or here[0].causes[cause]
        twin = cause != best and cause in most.causes and foretell_the_same(chosen, other)
        if cause != best and (rivals[cause] - rivals[best] > CLOSE or belief[cause] < UNLIKELY):
            continue
        surely = min(belief[cause], MOST["content-differs"]) if cause == best and anew else belief[cause]
        yield from _ranked(here, cause, most if most in here else here[0], surely, 0, twin)
    yield from left


def _left(mine: Sequence[_Differing], best: tuple[object, ...]) -> Iterator[Ranked]:
    """Explain what a cause leaves; where that is different content, the cause may be some of it."""
    for one in mine:
        for depth, (pair, rest) in enumerate(rest_of(one.pair, one.causes[best], one.reads.gapless), 1):
            left = list({cause_of(c): c for c in reversed(rest)}.values())
            left.sort(key=lambda c: c.bits)
            for other, share in zip(left, shares([c.bits for c in left]), strict=True):
                if other.bits - left[0].bits > AS_LONG:
                    break
                yield from _of_explanation(one, other, share, depth, max(pair.flips - other.left(pair), 0))


def _ranked(
    here: Sequence[_Differing], cause: tuple[object, ...], most: _Differing, belief: float, depth: int, twin: bool
) -> Iterator[Ranked]:
    one = most.causes[cause]
    told = sum(other.pair.flips - other.causes[cause].left(other.pair) for other in here)
    places = sum(len(other.pair.at) for other in here)
    confidence = belief * seen_by(max(min(told, places), 0))
    numbers = tuple(sorted({n for other in here for n in other.lies_in(other.causes[cause])}))
    for at, account in enumerate(one.accounts):
        yield Ranked(
            account=account, confidence=round(min(confidence, MOST.get(account.code, 1.0)), 3), depth=depth,
            cause=cause, reads=numbers, twin=twin,
            also=tuple(other.causes[cause].accounts[at] for other in here if other is not most),
        )  # fmt: skip


def _of_explanation(
    image: _Differing, one: Explanation, share: float, depth: int, explained: int
) -> Iterator[Ranked]:
    for account in one.accounts:
        most = MOST_OF_REBUILT if image.base.faults else MOST_OF_REST.get(account.code, 1.0)
        confidence = min(share * seen_by(explained), most)
        yield Ranked(
            account=account, confidence=round(confidence, 3), depth=depth, cause=cause_of(one), reads=image.lies_in(one)
        )


def _weighed(by_cell: voltages.ByCell, found: Sequence[Ranked], bits: float) -> list[Ranked]:
    """Weigh what the cells over all reads explain against all the other causes together."""
    kept = by_cell.bits
    if by_cell.account.detail.get("way") == "both ways":   # then the order alone never says much against noise
        noise = all(one.account.code == "random-noise" for one in found if one.depth == 0)
        kept = max(kept, bits - ORDER) if noise and by_cell.levels < MANY_LEVELS else kept
    share, rest = shares([kept, bits])
    if {one.account.code for one in found if one.depth == 0} == {by_cell.account.code}:
        if by_cell.levels == 2:   # which is told from the one read to the other
            return list(found)
        share, rest = 1.0, 0.0   # the same cause, seen from read to read
    ranked = Ranked(
        account=by_cell.account, confidence=round(share * by_cell.explained * seen_by(by_cell.cells), 3), depth=0,
        cause=by_cell.account.code, reads=(),
    )  # fmt: skip
    others = [replace(one, confidence=round(one.confidence * rest, 3)) for one in found]
    return [ranked, *(one for one in others if one.confidence >= UNLIKELY)] if share >= UNLIKELY else others
