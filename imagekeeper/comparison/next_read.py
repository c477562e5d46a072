"""The one read that would tell most: which experiment parts the causes that are still possible, and what it would show.

Each cause foretells what another read shows when one thing about it is changed. The experiment is taken whose outcome
is the least certain beforehand, for that is the one that teaches most (the expected gain of information: D. V. Lindley,
On a measure of the information provided by an experiment, Annals of Mathematical Statistics 27, 1956, 986-1005). Of two
that tell as much the one that costs less is taken. What each cause foretells is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from imagekeeper.sentences.say import Phrase

#: What another read may show: no differences any more; fewer; more; the same ones; others, in other places.
Sees = Literal["gone", "fewer", "more", "same", "elsewhere"]

#: That in words.
_SEEN: dict[Sees, str] = {
    "gone": "experiment/gone-seen", "fewer": "experiment/fewer-seen", "more": "experiment/more-seen",
    "same": "experiment/same-seen", "elsewhere": "experiment/elsewhere-seen",
}  # fmt: skip


@dataclass(frozen=True)
class Foretold:
    """What another read may show, and what it would mean.

    Attributes:
        sees: gone, fewer, more, same or elsewhere.
        causes: The codes of the causes that foretell it, likeliest first; none for what nobody expects.
        says: Both in a sentence.
    """

    sees: Sees
    causes: tuple[str, ...]
    says: str


@dataclass(frozen=True)
class NextRead:
    """The read to take next.

    Attributes:
        experiment: again, slower, cleaned, lower-volts, size, transfer, other-reader or specimen.
        does: What to do, in a sentence.
        gain: How much it tells of the causes still possible, on average. [bit]
        outcomes: What it may show, the likeliest first.
    """

    experiment: str
    does: str
    gain: float
    outcomes: tuple[Foretold, ...]


#: For each experiment, by its sentence and from the cheapest on: what each cause foretells, where that is not "same".
_EXPERIMENTS: dict[str, dict[str, Sees]] = {
    "experiment/again": {
        "random-noise": "elsewhere", "data-line-unstable": "elsewhere", "address-line-unstable": "elsewhere",
        "contact-lost": "elsewhere", "not-selected-at-times": "elsewhere", "shifted": "elsewhere",
        "flow-control-lost": "same", "weak-cells": "fewer",
    },
    "experiment/slower": {
        "slow-outputs": "gone", "previous-byte-repeated": "gone", "random-noise": "elsewhere",
        "data-line-unstable": "elsewhere", "address-line-unstable": "elsewhere", "not-selected-at-times": "elsewhere",
        "contact-lost": "elsewhere", "shifted": "elsewhere",
    },
    "experiment/cleaned": {
        "data-line-unstable": "gone", "address-line-unstable": "gone", "contact-lost": "gone",
        "not-selected-at-times": "gone", "data-line-stuck": "gone", "address-line-stuck": "gone",
        "data-lines-shorted": "gone", "address-lines-shorted": "gone", "blank": "gone", "not-selected": "gone",
        "floating-bus": "gone",
        "random-noise": "elsewhere", "shifted": "elsewhere",
    },
    "experiment/lower-volts": {
        "charge-loss": "fewer", "weak-cells": "more", "slow-outputs": "more", "random-noise": "elsewhere",
        "data-line-unstable": "elsewhere", "address-line-unstable": "elsewhere", "not-selected-at-times": "elsewhere",
        "contact-lost": "elsewhere", "previous-byte-repeated": "more",
    },
    "experiment/size": {
        "truncated": "gone", "mirrored": "gone", "half-missing": "gone", "block-missing": "gone",
        "ends-in-fill": "gone", "lane-of": "gone", "address-line-stuck": "same",
    },
    "experiment/transfer": {
        "shifted": "gone", "line-endings-changed": "gone", "flow-control-lost": "gone", "parity-in-bit-7": "gone",
        "truncated": "gone", "random-noise": "elsewhere",
    },
    "experiment/other-reader": {
        "data-line-stuck": "gone", "data-lines-shorted": "gone", "data-lines-exchanged": "gone",
        "bits-reversed": "gone", "inverted": "gone", "address-line-stuck": "gone", "address-lines-shorted": "gone",
        "address-lines-exchanged": "gone", "bytes-exchanged": "gone", "contention": "gone", "half-missing": "gone",
        "block-missing": "gone", "data-line-unstable": "gone", "address-line-unstable": "gone",
        "not-selected-at-times": "gone", "contact-lost": "gone", "blank": "gone", "not-selected": "gone",
        "random-noise": "elsewhere", "slow-outputs": "fewer", "previous-byte-repeated": "gone",
    },
    "experiment/specimen": {"content-differs": "gone"},
}  # fmt: skip

#: What nobody thought of is believed so much, and foretells the same differences whatever is changed.
_OTHER = 0.06

#: What it is worth that the fault is gone if it is what was thought. [bit]
_MENDS = 0.2

#: One step down the list must tell so much more. [bit]
_DEARER = 0.02

#: Its place in the list.
_ORDER = {name: place for place, name in enumerate(_EXPERIMENTS)}


def next_read(causes: Sequence[tuple[str, float]]) -> NextRead | None:
    """Choose the read that parts the causes still possible best.

    Args:
        causes: Their codes, each with how likely it is; codes that no experiment knows are left out.

    Returns:
        None where nothing is left to tell apart.

    Example:
        >>> step = next_read([("slow-outputs", 0.5), ("charge-loss", 0.4)])
        >>> step.experiment, [(one.sees, one.causes) for one in step.outcomes]
        ('lower-volts', [('more', ('slow-outputs',)), ('fewer', ('charge-loss',)), ('same', ())])
        >>> next_read([("slow-outputs", 0.99)]).experiment
        'slower'
    """
    beliefs = _beliefs(causes)
    if not beliefs:
        return None
    gains = {
        name: _gain(foretold, beliefs) - _DEARER * _ORDER[name] + _MENDS * _mended(foretold, beliefs)
        for name, foretold in _EXPERIMENTS.items()
    }
    best = max(gains, key=gains.__getitem__)
    told = _gain(_EXPERIMENTS[best], beliefs)
    if told < 1e-6:   # all of them foretell the same everywhere
        best, told = "experiment/again", 0.0
    experiment = best.partition("/")[2]
    return NextRead(experiment, str(Phrase(best)), round(told, 3), _outcomes(_EXPERIMENTS[best], beliefs))


def _beliefs(causes: Sequence[tuple[str, float]]) -> dict[str, float]:
    known = {code for foretold in _EXPERIMENTS.values() for code in foretold}
    beliefs: dict[str, float] = {}
    for code, confidence in causes:
        if code in known and confidence > 0:
            beliefs[code] = beliefs.get(code, 0.0) + confidence
    total = sum(beliefs.values())
    return {code: belief / total * (1 - _OTHER) for code, belief in beliefs.items()}


def _gain(foretold: Mapping[str, Sees], beliefs: Mapping[str, float]) -> float:
    """The entropy of the outcome: what it tells, as each cause foretells one."""
    chances: dict[str, float] = {"same": _OTHER}
    for code, belief in beliefs.items():
        sees = foretold.get(code, "same")
        chances[sees] = chances.get(sees, 0.0) + belief
    return -sum(chance * math.log2(chance) for chance in chances.values() if chance > 0)


def _mended(foretold: Mapping[str, Sees], beliefs: Mapping[str, float]) -> float:
    """How likely it is that the fault is gone, so that the read is the one that is wanted."""
    return sum(belief for code, belief in beliefs.items() if foretold.get(code) == "gone")


def _outcomes(foretold: Mapping[str, Sees], beliefs: Mapping[str, float]) -> tuple[Foretold, ...]:
    groups: dict[Sees, list[str]] = {}
    for code in sorted(beliefs, key=lambda c: -beliefs[c]):
        groups.setdefault(foretold.get(code, "same"), []).append(code)
    groups.setdefault("same", [])
    found = []
    for sees, codes in groups.items():
        names = [str(Phrase(f"cause/{code}")) for code in codes]
        seen = Phrase(_SEEN[sees])
        none = Phrase("experiment/means-none", seen=seen)
        says = Phrase("experiment/means", seen=seen, causes=names) if codes else none
        found.append(Foretold(sees, tuple(codes), str(says)))
    return tuple(found)
