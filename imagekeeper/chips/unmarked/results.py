"""What is known of a chip whose number the table does not have: which chips it could be, and what tells them apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.findings import Finding
from imagekeeper.ranked import Evidence

#: What an ohm-meter finds at a pin of the socket, with the power off.
Measured = Literal["ground", "5v", "other-supply", "bus", "open"]

#: The same in words.
MEASURED: dict[Measured, str] = {
    "ground": "ground",
    "5v": "the +5 V rail",
    "other-supply": "another supply than +5 V",
    "bus": "the address or data bus",
    "open": "nothing",
}


@dataclass(frozen=True, kw_only=True)
class Likeness:
    """A chip of the table that an unknown one could be.

    Attributes:
        part: Its generic part number.
        technology: How it is made.
        words: How many words it holds.
        bits: The width of a word. [bit]
        supplies_v: The supplies for reading, by pin. [V]
        score: Its share of what speaks for any of them; equal shares where nothing was measured.
        evidence: What speaks for it.
    """

    part: str
    technology: str
    words: int
    bits: int
    supplies_v: dict[str, float]
    score: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True)
class PinMeaning:
    """What a pin is in some of the chips.

    Attributes:
        what: Its function, with the voltage of a supply.
        parts: The chips that have it there.
    """

    what: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class ComparedPin:
    """One pin in all the chips that an unknown one could be.

    Attributes:
        number: From 1.
        meanings: What it is, what most chips have first; one meaning where all agree.
    """

    number: int
    meanings: tuple[PinMeaning, ...]


@dataclass(frozen=True)
class NextPin:
    """A pin that is worth measuring.

    Attributes:
        number: From 1.
        outcomes: What each finding would leave: the finding, and the chips.
    """

    number: int
    outcomes: dict[str, tuple[str, ...]]


@dataclass(frozen=True, kw_only=True)
class UnknownChip:
    """What a chip could be whose number the table does not have. It is never said to be one of them.

    Attributes:
        pins: How many pins it has.
        size_bytes: What it holds, or null where that is not known. [byte]
        bits: The width of a word, or null where that is not known. [bit]
        carrier: The kind of carrier, or null where that is not known.
        measured: What was found at pins of its socket.
        says: The answer in words.
        dangers: What can destroy it, or what it holds, because it could be one chip or another: worst first.
        candidates: The chips that it could be, likeliest first.
        ruled_out: Chips of that size and package that it is not, with what was measured against them.
        pinout: Pin by pin, what it is in each candidate.
        next_pins: What to measure next: pins that tell most candidates apart first.
        steps: What to do, in the order in which it is safe.
        own: Which rows that a person wrote the candidates rest on.
    """

    SCHEMA: ClassVar[Literal["unknown-chip/1"]] = "unknown-chip/1"

    pins: int
    size_bytes: int | None
    bits: int | None
    carrier: str | None
    measured: dict[str, str]
    says: str
    dangers: tuple[str, ...]
    candidates: tuple[Likeness, ...]
    ruled_out: dict[str, str]
    pinout: tuple[ComparedPin, ...]
    next_pins: tuple[NextPin, ...]
    steps: tuple[str, ...]
    own: tuple[Finding, ...] = ()

    @property
    def agreed(self) -> tuple[ComparedPin, ...]:
        """The pins that are the same in all candidates."""
        return tuple(one for one in self.pinout if len(one.meanings) == 1)

    @property
    def differing(self) -> tuple[ComparedPin, ...]:
        """The pins that are not."""
        return tuple(one for one in self.pinout if len(one.meanings) > 1)

    @property
    def exit_code(self) -> int:
        """1 where the table has no such chip."""
        return 0 if self.candidates else 1
