"""Which carriers come first: what is most at risk, and least proved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.provenance.agreed import Grade


@dataclass(frozen=True)
class Risk:
    """How soon the data of a kind of carrier may be gone.

    Attributes:
        weight: From 0 to 1; only their order is meant.
        why: In words.
    """

    weight: float
    why: str


#: By kind of carrier. The order is common practice, no source: what needs a battery goes first, then what sheds or
#: sticks, then what leaks charge, then what was made with the chip.
RISKS: dict[str, Risk] = {
    "ram": Risk(1.0, "its battery holds the data, and may leak"),
    "clock-ram": Risk(1.0, "a battery inside the chip holds the data"),
    "tape": Risk(0.85, "tape sheds and sticks"),
    "floppy": Risk(0.8, "disks shed, and every pass wears them"),
    "hard-disk": Risk(0.8, "bearings and heads fail without warning"),
    "module": Risk(0.6, "what is inside is not known: it may hold a battery"),
    "eprom": Risk(0.55, "its cells lose charge over decades, sooner without a cover on the window"),
    "flash": Risk(0.5, "its cells lose charge over decades"),
    "eeprom": Risk(0.5, "its cells lose charge over decades"),
    "pal": Risk(0.4, "it may be the only copy of its equations"),
    "prom": Risk(0.35, "blown fuses can grow back"),
    "mask-rom": Risk(0.2, "it was made with its data, but chips fail"),
}

#: How much of the risk is left, by what is proved so far; None stands for reads that nobody settled.
_LEFT: dict[Grade | None, float] = {
    "none": 1.0, "disputed": 0.8, "single": 0.6, "voted": 0.55, None: 0.5, "repeated": 0.35, "independent": 0.1,
    "corroborated": 0.0,
}  # fmt: skip

#: As much is left at least while something speaks against the image: less than of reads that differ, for there one
#: knows that something is wrong with them and not yet what.
_LEFT_OPEN = 0.7

#: What is proved so far in words.
_TOLD: dict[Grade | None, str] = {
    "none": "unread",
    "disputed": "its reads differ",
    "single": "a single read",
    "voted": "no read gives it whole",
    None: "its reads were never settled",
    "repeated": "its reads share what could be wrong with them",
    "independent": "read independently",
    "corroborated": "corroborated",
}

#: Below this nothing needs to be done.
DONE = 0.12


@dataclass(frozen=True)
class Urgency:
    """How urgent one carrier is.

    Attributes:
        weight: From 0 (nothing) to 1 (before anything else).
        because: What is at risk, what is proved and what speaks against it, in words.
    """

    weight: float
    because: str


def urgency(kind: str | None, reads: int, grade: Grade | None, held: Sequence[str] = ()) -> Urgency:
    """Tell how urgent a carrier is.

    Args:
        kind: Its kind; None where its record cannot be read, which comes before all else.
        reads: How many reads it has.
        grade: Of its image, or None where none was settled.
        held: The codes of the open contradictions.

    Example:
        >>> [urgency(kind, 0, None).weight for kind in ("ram", "eprom", "mask-rom")]
        [1.0, 0.55, 0.2]
        >>> urgency("eprom", 2, "repeated", ["data-line-stuck"]).because
        'open: data-line-stuck; its cells lose charge over decades, sooner without a cover on the window'
    """
    if kind is None:
        return Urgency(1.0, "its record cannot be read")
    risk = RISKS.get(kind, Risk(0.5, "nothing is known of its kind"))
    known: Grade | None = "none" if not reads else grade
    left, told = _LEFT[known], _TOLD[known]
    if held:
        left, told = max(left, _LEFT_OPEN), f"open: {', '.join(held)}"
    return Urgency(round(risk.weight * left, 3), f"{told}; {risk.why}")
