"""What to do next: which carriers are most at risk, and what would be gained by reading them."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.provenance.agreed import Grade
from imagekeeper.sentences.say import Phrase


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
    "none": 1.0, "disputed": 0.8, "single": 0.6, None: 0.5, "repeated": 0.35, "independent": 0.1, "corroborated": 0.0,
}  # fmt: skip

#: What is proved so far in words, and what to do next.
_TOLD: dict[Grade | None, tuple[str, Phrase]] = {
    "none": ("unread", Phrase("step/read")),
    "disputed": ("its reads differ", Phrase("step/read-disputed")),
    "single": ("a single read", Phrase("step/read-again")),
    None: ("its reads were never settled", Phrase("step/settle")),
    "repeated": ("always read in the same way", Phrase("step/read-otherwise")),
    "independent": ("read independently", Phrase("step/second-evidence")),
    "corroborated": ("corroborated", Phrase("step/nothing")),
}

#: Below this nothing needs to be done.
DONE = 0.12


@dataclass(frozen=True)
class Urgency:
    """What is to be done with one carrier.

    Attributes:
        weight: From 0 (nothing) to 1 (before anything else).
        because: What is at risk and what is proved, in words.
        next: What to do.
    """

    weight: float
    because: str
    next: str


def urgency(kind: str | None, reads: int, grade: Grade | None) -> Urgency:
    """Tell how urgent a carrier is.

    Args:
        kind: Its kind; None where its record cannot be read, which comes before all else.
        reads: How many reads it has.
        grade: Of its agreed image, or None where none was settled.

    Example:
        >>> [urgency(kind, 0, None).weight for kind in ("ram", "eprom", "mask-rom")]
        [1.0, 0.55, 0.2]
        >>> urgency("eprom", 2, "repeated").next
        'read it on another reader, or at another supply voltage'
    """
    if kind is None:
        return Urgency(1.0, "its record cannot be read", str(Phrase("step/audit")))
    risk = RISKS.get(kind, Risk(0.5, "nothing is known of its kind"))
    known: Grade | None = "none" if not reads else grade
    state, next_step = _TOLD[known]
    weight = round(risk.weight * _LEFT[known], 3)
    because = f"{state}; {risk.why}"
    return Urgency(weight, because, str(next_step))
