"""Two reads laid side by side, with what every explanation needs to know of them; and the explanation itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, content_bits, noise_bits, subset_bits
from imagekeeper.findings import Severity

Bytes = NDArray[np.uint8]


#: A difference in content below this, and a small part of the whole, is within the error of the estimate. [bit]
DEAD_ZONE = 64.0


def ones(array: NDArray[Any]) -> int:
    """Count the bits that are 1.

    Example:
        >>> ones(np.array([3, 255], np.uint8))
        10
    """
    return int(np.bitwise_count(array).sum(dtype=np.int64))


def planes(data: Bytes) -> Bytes:
    """Take the data lines apart: one row a line, D0 first, eight addresses to a byte; padded with 0.

    Example:
        >>> planes(np.array([1] * 8, np.uint8))[:, 0].tolist()
        [255, 0, 0, 0, 0, 0, 0, 0]
    """
    rows = [np.packbits((data >> bit) & 1) for bit in range(8)]
    padded = np.zeros((8, -(-len(rows[0]) // 8) * 8), np.uint8)
    padded[:, : len(rows[0])] = rows
    return padded


def plane_ones(plane: Bytes) -> int:
    """Count the ones of a row of `planes`."""
    return ones(plane.view(np.uint64))


#: So many places are looked at, and the rest taken to be like them.
MOST_PLACES = 4_000

#: How strongly a byte's share in the whole weighs against what stood beside the neighbour. [byte]
PRIOR = 4.0


def bits_among_neighbours(
    first: Bytes, second: Bytes, at: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], int]:
    """Estimate how many bits each of two reads takes at the places that differ, when the neighbours are known.

    What stands beside what is learned where the two agree: a byte that never stands beside its neighbour there is a
    stranger, and takes many bits.

    Returns:
        The bits at some of the places in the first and in the second, and which places those are: every so many.

    Args:
        first: Bytes of the one.
        second: Bytes of the other.
        at: The places that differ.

    Example:
        >>> text = np.frombuffer(b"the tide is in, the tide is out; " * 40, np.uint8)
        >>> wrong = text.copy()
        >>> wrong[100:900:90] ^= 4
        >>> right, strange, _ = bits_among_neighbours(text, wrong, np.flatnonzero(text != wrong))
        >>> bool(strange.sum() > right.sum() + 40)
        True
    """
    step = max(-(-len(at) // MOST_PLACES), 1)
    places = at[::step]
    inside = (places > 0) & (places < len(first) - 1)
    some = places[inside]
    agree = first == second
    both = agree[:-1] & agree[1:]
    pairs = (first[:-1].astype(np.int64) << 8 | first[1:])[both]
    beside = np.bincount(pairs, minlength=1 << 16).astype(np.float64)
    share = (np.bincount(first[agree], minlength=256) + 0.25) / (np.count_nonzero(agree) + 64.0)
    table = beside.reshape(256, 256)
    after = np.log2((table + PRIOR * share[None, :]) / (table.sum(axis=1, keepdims=True) + PRIOR))
    ahead = np.log2((table + PRIOR * share[:, None]) / (table.sum(axis=0, keepdims=True) + PRIOR))
    own = np.log2(share)
    left, right = some - 1, some + 1
    likely = np.broadcast_to(own, (len(some), 256)).copy()   # of every value at every place
    likely += np.where(agree[left][:, None], after[first[left]] - own, 0.0)
    likely += np.where(agree[right][:, None], ahead[:, first[right]].T - own, 0.0)
    likely -= np.log2(np.exp2(likely).sum(axis=1, keepdims=True))
    takes = []
    for data in (first, second):
        every = np.zeros(len(places))
        every[inside] = -likely[np.arange(len(some)), data[some]]
        takes.append(every)
    return takes[0], takes[1], step


#: Places so far apart or less lie in one stretch. [byte]
STRETCH = 8


def stretches_of(places: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Give where places lie together: the begin and the end of each stretch, in order.

    Example:
        >>> stretches_of(np.array([3, 4, 9, 40]))
        [(3, 10), (40, 41)]
    """
    if not len(places):
        return []
    breaks = np.flatnonzero(np.diff(places) > STRETCH)
    begins = places[np.concatenate(([0], breaks + 1))]
    ends = places[np.concatenate((breaks, [len(places) - 1]))] + 1
    return list(zip(begins.tolist(), ends.tolist(), strict=True))


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two reads of the same length over the same addresses.

    Attributes:
        first: Bytes of the one.
        second: Bytes of the other.
        names: What to call them.
        start: Address of the first byte. [byte]
        volts: Their supply voltages, where they are known. [volt]
        holds_charge: Whether the memory is of a kind that can lose its charge, as far as is known.
    """

    first: Bytes
    second: Bytes
    names: tuple[str, str]
    start: int = 0
    volts: tuple[float | None, float | None] = (None, None)
    holds_charge: bool = True

    @property
    def size(self) -> int:
        """How many addresses there are. [byte]"""
        return len(self.first)

    @cached_property
    def at(self) -> NDArray[np.int64]:
        """The places that differ, counted from the first byte."""
        return np.flatnonzero(self.first != self.second)

    @cached_property
    def stretches(self) -> list[tuple[int, int]]:
        """Where the places that differ lie together: begin and end of each stretch, counted from the first byte."""
        return stretches_of(self.at)

    @cached_property
    def other_content_bits(self) -> float:
        """Bits to give what the second holds in those stretches as content of its own."""
        told = sum(end - begin for begin, end in self.stretches)
        return min(8.0 * told, self.contents[1]) + len(self.stretches) * 2 * choice_bits(self.size)

    @cached_property
    def up(self) -> Bytes:
        """At those places: the bits that are 0 in the first and 1 in the second."""
        return ~self.first[self.at] & self.second[self.at]

    @cached_property
    def down(self) -> Bytes:
        """At those places: the bits that are 1 in the first and 0 in the second."""
        return self.first[self.at] & ~self.second[self.at]

    @cached_property
    def flips(self) -> int:
        """How many bits differ."""
        return ones(self.up) + ones(self.down)

    @cached_property
    def by_line(self) -> list[int]:
        """How many bits differ on each data line, D0 first."""
        differing = self.up | self.down
        return [int(np.count_nonzero(differing & np.uint8(1 << line))) for line in range(8)]

    @cached_property
    def planes(self) -> tuple[Bytes, Bytes]:
        """The data lines of both."""
        return planes(self.first), planes(self.second)

    @cached_property
    def address_lines(self) -> int:
        """How many address lines the size needs; a size that is no power of two counts the lines below it."""
        return max((self.size - 1).bit_length(), 0)

    @cached_property
    def plain_bits(self) -> float:
        """Bits to describe the differences without any idea of their cause."""
        return noise_bits(self.size, self.flips)

    @cached_property
    def contents(self) -> tuple[float, float]:
        """The bits that each read takes by itself."""
        return content_bits(self.first.tobytes()), content_bits(self.second.tobytes())

    @property
    def few(self) -> bool:
        """Whether the places that differ are few enough for their neighbours to tell of them."""
        return len(self.at) * 4 <= self.size

    @cached_property
    def taken_at(self) -> tuple[NDArray[np.float64], NDArray[np.float64], int]:
        """At every so many of the places that differ: the bits that each read takes there; and every how many."""
        return bits_among_neighbours(self.first, self.second, self.at)

    @cached_property
    def strange_at(self) -> tuple[NDArray[np.float64], int]:
        """At every so many of the places that differ: how many bits more the second takes there; and every how many."""
        first, second, step = self.taken_at
        return second - first, step

    @cached_property
    def strangers(self) -> tuple[float, float]:
        """How many bits the second read takes by itself beyond the first, and how far that may be off."""
        if self.few:
            told, step = self.strange_at
            return float(told.sum()) * step, float(np.sqrt((told * told).sum())) * step
        first, second = self.contents
        return second - first, DEAD_ZONE + min(first, second) / 4000

    @cached_property
    def content_excess(self) -> float:
        """How many bits the second read takes by itself beyond the first; 0 where the estimate cannot tell."""
        excess, spread = self.strangers
        return 0.0 if abs(excess) <= spread else excess

    @cached_property
    def sample(self) -> NDArray[np.int64]:
        """Some places spread over the reads, always the same ones: a quick look before a full one.

        The step is odd, so that every address line takes both values.
        """
        return np.arange(0, self.size, self.size // 4096 | 1)

    def turned(self) -> Pair:
        """The same pair in the other order."""
        turned = replace(
            self, first=self.second, second=self.first, names=self.names[::-1], volts=self.volts[::-1]
        )
        known: dict[str, Any] = {
            "at": self.at, "up": self.down, "down": self.up, "strangers": (-self.strangers[0], self.strangers[1]),
        }  # fmt: skip
        if self.few:
            known["taken_at"] = (self.taken_at[1], self.taken_at[0], self.taken_at[2])
        turned.__dict__.update(known)   # what takes a while to find, and is the same
        if "contents" in self.__dict__:
            turned.__dict__["contents"] = self.contents[::-1]
        return turned


@dataclass(frozen=True, kw_only=True)
class Account:
    """One finding that an explanation comes to; `of` makes one.

    Attributes:
        about: The key of its sentences.
        severity: How bad it is.
        lines: The lines it names, such as D3 or A12.
        detail: The evidence as typed values.
        values: What the sentences need beside the detail.
    """

    about: str
    severity: Severity
    lines: tuple[str, ...]
    detail: dict[str, Any]
    values: dict[str, Any]

    @classmethod
    def of(
        cls, about: str, severity: Severity = "fault", *, lines: tuple[str, ...] = (),
        detail: dict[str, Any] | None = None, **values: Any,
    ) -> Account:  # fmt: skip
        """Make an account of the key of its sentences and their values; those of the detail need no repeating."""
        return cls(about=about, severity=severity, lines=lines, detail=detail or {}, values=values)

    @property
    def code(self) -> str:
        """Its code."""
        return self.about.partition("/")[0]


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """A possible cause of the differences between two reads.

    Attributes:
        accounts: The findings that it comes to; more than one where causes go together.
        bits: Length of describing the second read from the first in this way.
        foretold: The first read as the cause makes it: what is left to explain is its difference from the second.
        turned: Whether the cause lies in the first read, so that `foretold` is to be held against the first.
        richer_by: Bits that the read it starts from takes by itself beyond the other, where the rule can tell better
            than compression can; None otherwise.
        by_chance: Whether it says that something happened at some places by chance, rather than by a rule everywhere.
        either: Whether it leads from either read to the other.
        naming: Of the bits, those that name the cause and how often it strikes, beyond what it takes to say how many
            single bits are wrong: where several reads show it, they are paid once.
    """

    accounts: tuple[Account, ...]
    bits: float
    foretold: Bytes
    turned: bool = False
    richer_by: float | None = None
    by_chance: bool = False
    either: bool = False
    naming: float = 0.0

    def left(self, pair: Pair) -> int:
        """How many differing bits it leaves unexplained."""
        return ones(self.foretold ^ (pair.first if self.turned else pair.second))

    def rest(self, pair: Pair) -> Pair:
        """The pair that is left to explain."""
        if self.turned:
            return replace(pair, second=self.foretold)
        return replace(pair, first=self.foretold)


def told_bits(told: NDArray[np.bool_], context: Bytes) -> tuple[float, bool]:
    """Estimate the bits that a yes or no at each address takes, when the rest of the byte or the ones before are known.

    Args:
        told: What is to be told, one an address.
        context: The rest of the byte, one an address.

    Returns:
        The bits, and whether it looks like chance: no less to tell when something near it is known, and one answer
        much rarer than the other.

    Example:
        >>> data = np.arange(4096) % 256
        >>> told_bits(data > 99, data.astype(np.uint8))[1]
        False
    """
    count = int(np.count_nonzero(told))
    plain = subset_bits(len(told), count)
    before = np.zeros(len(told), np.uint8)
    for bit, back in enumerate((1, 2, 3, 4)):   # neighbours, also in tables of 16-bit words
        before[back:] |= told[:-back].astype(np.uint8) << bit
    known = min(told_within(told, context), told_within(told, before))
    rare = min(count, len(told) - count) * 5 < len(told) * 2
    return min(plain, known), rare and known >= plain


def told_within(told: NDArray[np.bool_], context: Bytes) -> float:
    """Bits to tell it when each context has a share of its own."""
    totals = np.bincount(context, minlength=256)
    yes = np.bincount(context[told], minlength=256)
    return sum(subset_bits(int(n), int(k)) for n, k in zip(totals, yes, strict=True) if n)


def listed(words: Sequence[str]) -> str:
    """Join words as a sentence does.

    Example:
        >>> listed(["D0"]), listed(["D0", "D3", "D7"])
        ('D0', 'D0, D3 and D7')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
