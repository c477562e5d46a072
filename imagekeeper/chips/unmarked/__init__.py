"""A chip whose number the table does not have: which ones it could be, and how to find out without harm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log2

from imagekeeper import chips
from imagekeeper.chips.model import Chip
from imagekeeper.chips.unmarked import advice
from imagekeeper.chips.unmarked.pins import expected_at, meaning_of, speaks_against
from imagekeeper.chips.unmarked.results import (
    MEASURED,
    ComparedPin,
    Likeness,
    Measured,
    NextPin,
    PinMeaning,
    UnknownChip,
)
from imagekeeper.errors import UsageError
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.units import plural, size_text

__all__ = [
    "MEASURED", "MOST_PINS", "ComparedPin", "Likeness", "Measured", "NextPin", "PinMeaning", "UnknownChip", "narrow",
]  # fmt: skip

#: What a find that fits one kind of pin only speaks for a chip, and one that a board may have there for others as well.
_STRONG, _WEAK = 1.0, 0.25

#: No package with two rows of pins has more.
MOST_PINS = 64

#: So many pins are proposed for measuring.
_PROPOSED = 3


def narrow(
    pins: int,
    *,
    size: int | None = None,
    bits: int | None = None,
    carrier: str | None = None,
    inch: float | None = None,
    measured: Mapping[int, Measured] | None = None,
) -> UnknownChip:
    """Tell which chips of the table one could be, by its package, its size and what was measured at its socket.

    Args:
        pins: How many pins it has.
        size: What it holds, or None. [byte]
        bits: The width of its words, or None. [bit]
        carrier: The kind of carrier, or None.
        inch: How far its rows of pins are apart, or None. [inch]
        measured: What an ohm-meter found at pins of its socket.

    Raises:
        UsageError: `usage`: a pin was measured that it does not have.

    Example:
        >>> found = narrow(24, size=2048, carrier="eprom")
        >>> [one.part for one in found.candidates], [one.number for one in found.differing]
        (['2716-three-supply', '2716', '27C16'], [18, 19, 20, 21])
        >>> [one.part for one in narrow(24, size=2048, carrier="eprom", measured={21: "5v"}).candidates]
        ['2716', '27C16']
    """
    known = dict(measured or {})
    for pin in known:
        if not 1 <= pin <= pins:
            raise UsageError("usage/pin-beyond", pin=pin, pins=pins)
    could_be, ruled_out = [], {}
    for one in _alike(pins, size, bits, carrier, inch):
        against = [pin for pin, found in known.items() if speaks_against(one, pin, found)]
        if against:
            pin = against[0]
            ruled_out[one.id] = f"pin {pin} goes to {MEASURED[known[pin]]}, and is its {meaning_of(one, pin)}"
        else:
            could_be.append(one)
    weighed = {one.id: _evidence(one, known) for one in could_be}
    whole = sum(_weight(evidence) for evidence in weighed.values())
    ranked = rank(Candidate(one, _weight(weighed[one.id]) / whole, weighed[one.id]) for one in could_be)
    best = [one.answer for one in ranked]
    compared = tuple(_compared(best, pin) for pin in range(1, pins + 1)) if best else ()
    nexts = _next(best, [one.number for one in compared if len(one.meanings) > 1 and one.number not in known])
    return UnknownChip(
        pins=pins, size_bytes=size, bits=bits, carrier=carrier,
        measured={str(pin): what for pin, what in known.items()},
        says=_says(pins, size, best, compared, len(ruled_out)), dangers=tuple(advice.dangers(best)),
        candidates=tuple(
            Likeness(
                part=one.answer.id, technology=one.answer.technology, words=one.answer.words, bits=one.answer.bits,
                supplies_v=one.answer.supplies_v, score=round(one.score, 4), evidence=one.evidence,
            )
            for one in ranked
        ),
        ruled_out=ruled_out, pinout=compared, next_pins=nexts,
        steps=tuple(advice.steps(pins, compared, nexts)),
        own=tuple({own.why: own for one in best for own in one.own}.values()),
    )  # fmt: skip


def _alike(
    pins: int, size: int | None, bits: int | None, carrier: str | None, inch: float | None
) -> list[Chip]:
    found = (chips.find(line.id) for line in chips.listed(carrier=carrier).chips if line.pins == pins)
    return [
        one for one in found
        if (size in (None, one.bytes, one.file_bytes) and inch in (None, one.row_spacing_inch))
        and (bits is None or bits == one.bits or bits in [way.bits for way in one.organisations])
    ]  # fmt: skip


def _evidence(chip: Chip, measured: Mapping[int, Measured]) -> tuple[Evidence, ...]:
    found = []
    for pin, what in sorted(measured.items()):
        name = meaning_of(chip, pin)
        if expected_at(chip, pin) == what:
            found.append(Evidence(f"pin {pin} goes to {MEASURED[what]}: its {name}", _STRONG))
        else:
            found.append(Evidence(f"pin {pin} goes to {MEASURED[what]}, where a board may hold its {name}", _WEAK))
    return tuple(sorted(found, key=lambda one: -one.weight))


def _weight(evidence: Sequence[Evidence]) -> float:
    weight = 1.0
    for one in evidence:
        weight *= one.weight
    return weight


def _compared(found: Sequence[Chip], pin: int) -> ComparedPin:
    meanings: dict[str, list[str]] = {}
    for one in found:
        meanings.setdefault(meaning_of(one, pin), []).append(one.id)
    ordered = sorted(meanings.items(), key=lambda item: -len(item[1]))
    return ComparedPin(pin, tuple(PinMeaning(what, tuple(parts)) for what, parts in ordered))


def _next(found: Sequence[Chip], pins: Sequence[int]) -> tuple[NextPin, ...]:
    """Choose the pins that an ohm-meter tells most of; a select goes to whatever the board has for it."""
    rated = []
    for pin in pins:
        outcomes: dict[str, list[str]] = {}
        for one in found:
            expected = expected_at(one, pin)
            found_there = "a signal or a fixed level" if expected is None else MEASURED[expected]
            outcomes.setdefault(found_there, []).append(one.id)
        shares = [len(parts) / len(found) for parts in outcomes.values()]
        told = -sum(share * log2(share) for share in shares)
        if len(outcomes) > 1:
            rated.append((told, NextPin(pin, {what: tuple(parts) for what, parts in outcomes.items()})))
    rated.sort(key=lambda item: -item[0])
    return tuple(one for _, one in rated[:_PROPOSED])


def _says(pins: int, size: int | None, found: Sequence[Chip], compared: Sequence[ComparedPin], out: int) -> str:
    holds = f" that holds {size_text(size)}" if size is not None else ""
    if not found:
        told = f"; {plural(out, 'chip')} that had it before did not stand what was measured" if out else ""
        return (
            f"The table has no chip of {pins} pins{holds}{told}. That tells nothing of its pins: find them on the "
            "board, and in its data sheet."
        )
    same = sum(len(one.meanings) == 1 for one in compared)
    if len(found) == 1:
        return (
            f"One chip of the table has {pins} pins and could be it{holds and ','}{holds}: {found[0].id}. The table "
            "does not have every chip: this is a lead, and no answer."
        )
    return (
        f"{len(found)} chips of the table could be it: they agree on {same} of {pins} pins and differ on "
        f"{pins - same}. Which one it is, and whether it is any of them, nothing here says."
    )
