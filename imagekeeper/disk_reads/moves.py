"""Ways in which a read may have its tracks from other places: steps missed or made twice, sides exchanged, and so on.

A 40-track disk lies on every second track of 96 tpi, which is arithmetic; that a drive that misses a step goes on one
cylinder too early, and that a side which is not selected gives the other one, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits
from imagekeeper.disk_reads.sectors import ABSENT, Contents, Numbers, padded
from imagekeeper.floppy.arrangement import SIDE_ORDERS, tracks

#: No read is followed that is further off than so many cylinders.
_FURTHEST = 3

#: What one sector counts that does not fit an order of tracks, of which it says nothing, and which is fill then. [bit]
_WRONG, _NOT_FORETOLD, _FILL = 24.0, 2.0, 0.01

#: And a place from which on the order is another. [bit]
_CHANGE = 16.0

#: A stretch of no more cylinders, after which all is as before, held the neighbour's data.
_SHORT = 2


@dataclass(frozen=True, kw_only=True)
class Mishap:
    """One thing that went wrong.

    Attributes:
        code: Of its finding.
        cylinders: The first and the last that it concerns, counted from 0.
        sides: Which sides.
        weight: On how many cylinders it shows.
        values: What else its sentences need.
    """

    code: str
    cylinders: tuple[int, int]
    sides: tuple[int, ...]
    weight: int = 0
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Move:
    """A rule from where the sectors of a read come.

    Attributes:
        events: What went wrong; none where every sector comes from its own place.
        source: For each track and sector of the read the place in the other, counted through; -1 where none is.
        bits: What it takes to say this rule.
    """

    events: tuple[Mishap, ...]
    source: Numbers
    bits: float

    def foretold(self, numbers: Numbers) -> Numbers:
        """Give what the read holds by this rule; `ABSENT` where it says nothing."""
        flat = np.append(numbers.ravel(), ABSENT)
        found: Numbers = flat[np.where(self.source >= len(flat) - 1, -1, self.source)]
        return found


@dataclass(frozen=True)
class Form:
    """How many cylinders, sides and sectors the disk has."""

    cylinders: int
    heads: int
    sectors: int

    @property
    def tracks(self) -> int:
        """How many tracks there are on all sides."""
        return self.cylinders * self.heads

    def of_tracks(self, source: NDArray[np.int64]) -> Numbers:
        """Turn a track for each track into a place for each sector; -1 for none."""
        places = source[:, None] * self.sectors + np.arange(self.sectors)
        inside = (source[:, None] >= 0) & (source[:, None] < self.tracks)
        found: Numbers = np.where(inside, places, -1)
        return found


def own_places(form: Form, count: int) -> Move:
    """Every sector comes from its own place."""
    return Move(events=(), source=form.of_tracks(np.arange(count)), bits=0.0)


def moves(first: Numbers, second: Numbers, form: Form, contents: Contents) -> Iterator[Move]:
    """Propose where the tracks of a read come from.

    Args:
        first: The contents of the other read, with all tracks of the disk.
        second: Those of the read, with at least as many.
        form: How many tracks there are.
        contents: Of which contents are fill.
    """
    yield from _followed(first, second, form, contents)
    yield from steps(second, form)
    yield from orders(second, form)
    yield from stopped(second, form)


def steps(second: Numbers, form: Form) -> Iterator[Move]:
    """Every cylinder twice, or every other one."""
    heads = form.heads
    own = np.arange(len(second))
    cylinder, side = np.divmod(own, heads)
    last = form.cylinders - 1
    yield Move(
        events=(Mishap(
            code="single-stepped", cylinders=(0, last), sides=tuple(range(heads)), weight=form.cylinders,
        ),),
        source=form.of_tracks(cylinder // 2 * heads + side), bits=4.0,
    )  # fmt: skip
    for begin in (0, 1):
        yield Move(
            events=(Mishap(
                code="double-stepped", cylinders=(0, last), sides=tuple(range(heads)), weight=form.cylinders // 2,
            ),),
            source=form.of_tracks((2 * cylinder + begin) * heads + side), bits=4.0 + 4 * begin,
        )  # fmt: skip


def orders(second: Numbers, form: Form) -> Iterator[Move]:
    """One side alone, or the tracks of two sides in another order."""
    if form.heads != 2:
        return
    last = form.cylinders - 1
    own = np.arange(len(second))
    for side in (0, 1):
        source = np.where(own < form.cylinders, 2 * own + side, -1)
        yield Move(
            events=(Mishap(
                code="side-missing", cylinders=(0, last), sides=(1 - side,), weight=form.cylinders,
            ),),
            source=form.of_tracks(source), bits=6.0,
        )  # fmt: skip
    for order in SIDE_ORDERS:
        if order == "alternating":
            continue
        place = np.array([cylinder * 2 + side for cylinder, side in tracks(form.cylinders, order)], np.int64)
        back = np.argsort(place)
        for source, turned in ((place, False), (back, True)):
            whole = np.full(len(second), -1, np.int64)
            whole[: len(source)] = source[: len(second)]
            yield Move(
                events=(Mishap(
                    code="sides-order", cylinders=(0, last), sides=(0, 1), weight=form.cylinders,
                    values={"order": order, "turned": turned},
                ),),
                source=form.of_tracks(whole), bits=5.0,
            )  # fmt: skip


def stopped(second: Numbers, form: Form) -> Iterator[Move]:
    """From a cylinder on the same one comes again and again: the drive went no further."""
    cylinders = [second[at : at + form.heads] for at in range(0, len(second) - form.heads + 1, form.heads)]
    while len(cylinders) > 1 and (cylinders[-1] == ABSENT).all():
        cylinders.pop()
    reached = len(cylinders) - 1
    while reached > 0 and np.array_equal(cylinders[reached - 1], cylinders[-1]):
        reached -= 1
    if len(cylinders) - reached < 2 or reached >= form.cylinders:
        return
    cylinder, side = np.divmod(np.arange(len(second)), form.heads)
    source = np.minimum(cylinder, reached) * form.heads + side
    yield Move(
        events=(Mishap(
            code="last-cylinders-missing", cylinders=(min(reached + 1, form.cylinders - 1), form.cylinders - 1),
            sides=tuple(range(form.heads)), weight=form.cylinders - reached - 1,
            values={"instead": "last-cylinders-missing/repeated", "reached": reached},
        ),),
        source=form.of_tracks(source), bits=choice_bits(form.cylinders) + 2.0,
    )  # fmt: skip


def _followed(first: Numbers, second: Numbers, form: Form, contents: Contents) -> Iterator[Move]:
    """Follow the read cylinder by cylinder: how far it is off, and which side it has on which.

    The cheapest path through all cylinders, by A. J. Viterbi, "Error bounds for convolutional codes", IEEE Transactions
    on Information Theory 13, 1967.
    """
    heads, count = form.heads, len(second) // form.heads
    own = tuple(range(heads))
    maps = [own, (1, 0), (0, 0), (1, 1)] if heads == 2 else [own]
    states = list(product(sorted(range(-_FURTHEST, _FURTHEST + 1), key=abs), maps))
    whole = second[: count * heads].reshape(count, heads, -1)
    unforetold = np.where(contents.is_fill[whole], _FILL, _NOT_FORETOLD)
    other = padded(first, form.tracks)[: form.tracks].reshape(form.cylinders, heads, -1)
    cost = np.zeros((count, len(states)))
    for number, (off, sides) in enumerate(states):
        cylinder = np.arange(count) + off
        inside = (cylinder >= 0) & (cylinder < form.cylinders)
        told = other[np.clip(cylinder, 0, form.cylinders - 1)][:, list(sides)]
        wrong = (told != whole) & (whole != ABSENT)
        cost[:, number] = np.where(
            inside, _WRONG * wrong.sum(axis=(1, 2)), unforetold.sum(axis=(1, 2))
        )
    path = _cheapest(cost)
    kinds = [(states[number], len(list(group))) for number, group in groupby(path)]
    if kinds == [((0, own), count)]:
        return
    runs, at = [], 0
    for (off, sides), length in kinds:
        runs.append((at, at + length, off, sides))
        at += length
    source = np.full(len(second), -1, np.int64)
    for begin, end, off, sides in runs:
        for here in range(begin, end):
            for side in own:
                if 0 <= here + off < form.cylinders:
                    source[here * heads + side] = (here + off) * heads + sides[side]
    each = choice_bits(count) + choice_bits(len(states)) + 1
    changes = len(runs) - (runs[0][2:] == (0, own))
    events = tuple(_events(runs, own, form))
    if events:
        yield Move(events=events, source=form.of_tracks(source), bits=changes * each)


def _cheapest(cost: NDArray[np.float64]) -> list[int]:
    """Give the state of each cylinder on the cheapest path; the first state costs nothing to begin with."""
    count, states = cost.shape
    total = cost[0] + _CHANGE * (np.arange(states) != 0)
    came = np.zeros((count, states), np.int64)
    for at in range(1, count):
        best = int(total.argmin())
        changed = total[best] + _CHANGE < total
        came[at] = np.where(changed, best, np.arange(states))
        total = np.where(changed, total[best] + _CHANGE, total) + cost[at]
    path = [int(total.argmin())]
    for at in range(count - 1, 0, -1):
        path.append(int(came[at][path[-1]]))
    return path[::-1]


def _events(runs: list[tuple[int, int, int, tuple[int, ...]]], own: tuple[int, ...], form: Form) -> Iterator[Mishap]:
    """Say what a path means."""
    before, here = 0, 0   # how far the read was off, and the run that is looked at
    while here < len(runs):
        begin, end, off, sides = runs[here]
        span = (begin, min(end, form.cylinders) - 1)
        back = here + 1 < len(runs) and runs[here + 1][2] == before
        if off != before and back and end - begin <= _SHORT:
            yield Mishap(
                code="track-of-neighbour", cylinders=span, sides=own, weight=end - begin,
                values={"from_cylinder": begin + off},
            )  # fmt: skip
            off = before
        elif off < before:
            yield Mishap(
                code="cylinder-twice", cylinders=(begin, form.cylinders - 1), sides=own, weight=form.cylinders - begin,
                values={"times": before - off},
            )  # fmt: skip
        elif off > before:
            yield Mishap(
                code="cylinder-skipped", cylinders=(begin, form.cylinders - 1), sides=own,
                weight=form.cylinders - begin, values={"times": off - before},
            )  # fmt: skip
        if sides == own[::-1] != own:
            yield Mishap(code="sides-swapped", cylinders=span, sides=own, weight=end - begin)
        elif sides != own:
            wrong = next(side for side in own if sides[side] != side)
            yield Mishap(
                code="side-twice", cylinders=span, sides=(wrong,), weight=end - begin, values={"held": sides[wrong]}
            )
        before, here = off, here + 1
