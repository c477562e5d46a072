"""How faults are put into reads: the words in which `faults` and the other modules of kinds are written.

A *fault* draws its parameters once and then says what it does to the bytes of one read: `Made`. What happens by chance
may be done to several reads, each time differently. A *kind* makes a whole `Trial`: some reads of one content, what is
known of each, and the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Dice = np.random.Generator

#: Fewer differing bytes than this are no case of a fault that comes at a rate.
LEAST = 16


@dataclass(frozen=True)
class Draw:
    """Where the randomness comes from, and other content where two chips speak at once."""

    dice: Dice
    other: Callable[[int], Bytes]

    def whole(self, low: int, high: int) -> int:
        """Give a whole number from low up to but not including high."""
        return int(self.dice.integers(low, high))

    def chance(self, share: float = 0.5) -> bool:
        return bool(self.dice.random() < share)

    def rate(self, low: float = 1e-4, high: float = 0.9) -> float:
        """Give a rate; each order of magnitude is as likely."""
        return float(np.exp(self.dice.uniform(np.log(low), np.log(high))))

    def hits(self, count: int, rate: float) -> NDArray[np.bool_]:
        return self.dice.random(count) < rate

    def one_of(self, *what: Any) -> Any:
        return what[self.whole(0, len(what))]


@dataclass(frozen=True)
class Cause:
    """The truth about one fault.

    Attributes:
        code: The code that a finding should have.
        detail: What its detail should hold, where it says anything about it.
        also: Codes that describe the very same bytes.
        allowed: Codes that are no answer and not wrong either.
        reads: The ill reads, counted from 1, where they can be told; else None.
    """

    code: str
    detail: Mapping[str, Any] = field(default_factory=dict)
    also: tuple[str, ...] = ()
    allowed: tuple[str, ...] = ()
    reads: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Made:
    """A fault with its parameters drawn: what it does to a read, each time anew where it is chance."""

    apply: Callable[[Bytes, Draw], Bytes]
    cause: Cause
    by_chance: bool = False


Fault = Callable[[Bytes, Draw], Made]


@dataclass(frozen=True)
class Trial:
    """Some reads, what is known of each, and the truth.

    Attributes:
        never: Codes that must not be named at all, whatever their confidence.
        least: So many bytes must differ for the trial to count.
    """

    reads: tuple[Bytes, ...]
    causes: tuple[Cause, ...]
    volts: tuple[float | None, ...] = ()
    readers: tuple[str | None, ...] = ()
    technology: str | None = None
    never: tuple[str, ...] = ()
    least: int = LEAST

    @property
    def differing(self) -> int:
        """At how many addresses the reads are not all alike."""
        size = min(map(len, self.reads))
        unlike = np.zeros(size, np.bool_)
        for read in self.reads[1:]:
            unlike |= read[:size] != self.reads[0][:size]
        return int(np.count_nonzero(unlike)) + max(map(len, self.reads)) - size


Kind = Callable[[Bytes, Draw], Trial]


def differing(a: Bytes, b: Bytes) -> int:
    size = min(len(a), len(b))
    return int(np.count_nonzero(a[:size] != b[:size])) + abs(len(a) - len(b))


def lines_of(a: Bytes) -> int:
    return (len(a) - 1).bit_length()


def addresses(a: Bytes) -> NDArray[np.int64]:
    return np.arange(len(a))


def flipped(a: Bytes, rate: float, draw: Draw) -> Bytes:
    """Flip single bits at a rate of bytes."""
    out = a.copy()
    at = np.flatnonzero(draw.hits(len(a), rate))
    out[at] ^= (1 << draw.dice.integers(0, 8, len(at))).astype(np.uint8)
    return out


def in_one(fault: Fault, *, most: int = 5) -> Kind:
    """Make a kind of a fault: one of two to five reads is ill, the others are right."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        made = fault(a, draw)
        count = draw.whole(2, most + 1)
        ill = draw.whole(0, count)
        reads = [a] * count
        reads[ill] = made.apply(a, draw)
        cause = replace(made.cause, reads=(ill + 1,) if count > 2 else None)
        return Trial(tuple(reads), (cause,))

    return kind


def in_all(fault: Fault) -> Kind:
    """Make a kind of a fault of chance: it comes and goes in every read."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        made = fault(a, draw)
        reads = tuple(made.apply(a, draw) for _ in range(draw.whole(2, 5)))
        return Trial(reads, (made.cause,))

    return kind


def by_reader(fault: Fault) -> Kind:
    """Make a kind of a fault that a reader has: it is in every read made there, and in none from the other."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        made = fault(a, draw)
        readers = ["bench reader"] * draw.whole(1, 4) + ["pocket reader"] * draw.whole(1, 4)
        readers = [readers[int(n)] for n in draw.dice.permutation(len(readers))]
        reads = tuple(made.apply(a, draw) if name == "pocket reader" else a for name in readers)
        ill = tuple(number for number, name in enumerate(readers, 1) if name == "pocket reader")
        cause = replace(made.cause, reads=ill if 2 * len(ill) < len(readers) else None)
        return Trial(reads, (cause,), readers=tuple(readers))

    return kind


def in_every_read_and(shared: Fault, fault: Fault) -> Kind:
    """Make a kind of two faults: the first is in every read alike, so that only the second makes them differ."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        first, second = shared(a, draw), fault(a, draw)
        base = first.apply(a, draw)
        reads = tuple(second.apply(base, draw) for _ in range(draw.whole(2, 5)))
        cause = replace(second.cause, allowed=(*second.cause.allowed, first.cause.code, *first.cause.also))
        return Trial(reads, (cause,))

    return kind


def together(first: Fault, second: Fault) -> Kind:
    """Make a kind of two faults in one read, the first nearer to the chip."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        one, two = first(a, draw), second(a, draw)
        count = draw.whole(2, 5)
        ill = draw.whole(0, count)
        reads = [a] * count
        after_one = one.apply(a, draw)
        after_both = two.apply(after_one, draw)
        if min(differing(after_both, after_one), differing(after_both, two.apply(a, draw))) >= LEAST:
            reads[ill] = after_both   # else one of the two would not show, and the trial does not count
        where = (ill + 1,) if count > 2 else None
        return Trial(tuple(reads), (replace(one.cause, reads=where), replace(two.cause, reads=where)))

    return kind


def apart(first: Fault, second: Fault) -> Kind:
    """Make a kind of two faults, each in a read of its own; at least one more read is right."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        one, two = first(a, draw), second(a, draw)
        count = draw.whole(3, 6)
        x, y = (int(n) for n in draw.dice.choice(count, 2, replace=False))
        reads = [a] * count
        ill = one.apply(a, draw), two.apply(a, draw)
        if min(differing(a, read) for read in ill) >= LEAST:
            reads[x], reads[y] = ill
        # with one right read of three nothing tells which of them is the chip's
        told = count > 3
        causes = (
            replace(one.cause, reads=(x + 1,) if told else None), replace(two.cause, reads=(y + 1,) if told else None)
        )  # fmt: skip
        return Trial(tuple(reads), causes)

    return kind


def wiring_of(lines: Sequence[int], letter: str) -> list[dict[str, str]]:
    return [{"line": f"{letter}{i}", "carries": f"{letter}{j}"} for i, j in enumerate(lines) if i != j]


def exchanged_lines(a: Bytes, lines: Sequence[int]) -> Bytes:
    """Let bit i of the result be bit `lines[i]`."""
    out = np.zeros_like(a)
    for i, j in enumerate(lines):
        out |= ((a >> j) & 1) << i
    return out


def exchanged_address(a: Bytes, lines: Sequence[int]) -> Bytes:
    """Let line i of the result's address lead to line `lines[i]` of the chip."""
    at = addresses(a)
    source = np.zeros_like(at)
    for i, j in enumerate(lines):
        source |= ((at >> i) & 1) << j
    return a[source]
