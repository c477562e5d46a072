"""Runs of addresses, and what is doubtful about them: what images and the records of reads both say."""

from __future__ import annotations

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
