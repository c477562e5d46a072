"""Runs of addresses, and what is doubtful about them: what images and the records of reads both say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A run of addresses.

    Attributes:
        start: First address. [byte]
        length: How many addresses. [byte]
    """

    start: int
    length: int

    @property
    def end(self) -> int:
        """The first address after the run."""
        return self.start + self.length


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """Addresses whose bytes were imported although the file speaks against them.

    Attributes:
        start: First address. [byte]
        length: How many addresses; 0 where the doubt is about the file as a whole. [byte]
        code: The error code that a strict import would have raised.
        why: What was found and what was expected.
        line: Line of the file, counted from 1, or null.
    """

    start: int
    length: int
    code: str
    why: str
    line: int | None = None


def common(spans: Iterable[Span], others: Iterable[Span]) -> tuple[Span, ...]:
    """Give the addresses that lie in both: each once, in ascending order.

    Example:
        >>> common([Span(0, 8), Span(12, 4)], [Span(6, 8)])
        (Span(start=6, length=2), Span(start=12, length=2))
    """
    mine, theirs = joined(spans), joined(others)
    found: list[Span] = []
    i = j = 0
    while i < len(mine) and j < len(theirs):
        start, end = max(mine[i].start, theirs[j].start), min(mine[i].end, theirs[j].end)
        if start < end:
            found.append(Span(start, end - start))
        if mine[i].end < theirs[j].end:
            i += 1
        else:
            j += 1
    return tuple(found)


def joined(spans: Iterable[Span | Doubt]) -> tuple[Span, ...]:
    """Lay runs of addresses together: each address once, in ascending order; empty runs are left out.

    Example:
        >>> joined([Span(8, 4), Span(0, 2), Span(2, 1), Span(9, 1), Span(30, 0)])
        (Span(start=0, length=3), Span(start=8, length=4))
    """
    found: list[Span] = []
    for start, length in sorted((one.start, one.length) for one in spans if one.length):
        if found and start <= found[-1].end:
            last = found.pop()
            start, length = last.start, max(last.end, start + length) - last.start
        found.append(Span(start, length))
    return tuple(found)
