"""What the reading of a disk may have done to the order of its sectors, proposed from one image alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits
from imagekeeper.disk_reads.moves import Form, Mishap, Move, orders, own_places, steps, stopped
from imagekeeper.disk_reads.sectors import Numbers
from imagekeeper.disk_reads.turns import of_slots
from imagekeeper.floppy.arrangement import passing

#: No more steps are missed or made too many in one place.
_MOST_STEPS = 2

#: No drive steps further. Common practice, no source.
_MOST_CYLINDERS = 90

#: What it takes to say that a track was left out, and yet the image is as long as the disk. [bit]
_FILLED_UP = 20.0

#: With more sectors on a track no order of them is proposed: no floppy disk has as many.
_MOST_SECTORS = 64


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """One thing that the reading may have done, and how it is undone.

    Attributes:
        move: From where on the disk the sectors of the image come.
        turns: Whether it leaves every sector on its track.
    """

    move: Move
    turns: bool = False

    @property
    def code(self) -> str | None:
        """The code of its finding; None where every sector stands in its place."""
        return self.move.events[0].code if self.move.events else None

    @property
    def event(self) -> Mishap:
        """What went wrong."""
        return self.move.events[0]

    def back(self, form: Form, count: int) -> NDArray[np.int64]:
        """Give for every sector of the disk its place in the image; `count` where the image does not have it.

        Args:
            form: Of the disk.
            count: How many sectors the image has.

        Example:
            >>> form = Form(cylinders=3, heads=1, sectors=2)
            >>> twice = next(one for one in slips(form, np.arange(6).reshape(3, 2)) if one.event.cylinders[0] == 1)
            >>> twice.code, twice.back(form, 6).tolist()
            ('cylinder-twice', [0, 1, 4, 5, 6, 6])
        """
        source = self.source(count)
        found = np.full(form.tracks * form.sectors, count, np.int64)
        there = np.flatnonzero((source >= 0) & (source < len(found)))[::-1]
        found[source[there]] = there   # the first that holds it
        return found

    def source(self, count: int) -> Numbers:
        """Give for every sector of the image its place on the disk, or -1."""
        flat: Numbers = self.move.source.ravel()[:count]
        return flat


def untouched(form: Form, tracks: int) -> Arrangement:
    """Every sector stands in its place."""
    return Arrangement(move=own_places(form, tracks))


def arrangements(form: Form, numbers: Numbers) -> Iterator[Arrangement]:
    """Propose what may have been done to a disk as a whole.

    Args:
        form: Of the disk.
        numbers: The contents of the image, by track.
    """
    tracks = len(numbers)
    wide = np.full((max(tracks, form.tracks), form.sectors), -1, np.int64)
    wide[:tracks] = numbers
    few = tracks <= form.cylinders   # as many as one side has
    for one in orders(wide, form):
        # a file by turns of what belongs otherwise is what a machine makes that uses its sides so: no fault
        if (one.events[0].code == "side-missing") == few and not one.events[0].values.get("turned"):
            yield Arrangement(move=one)
    if form.heads == 2:
        yield from _sides(form, tracks)
    for one in steps(wide, form):
        if one.events[0].code != "single-stepped" or tracks <= _MOST_CYLINDERS * form.heads:
            yield Arrangement(move=one)
    yield from (Arrangement(move=one) for one in stopped(numbers, form))


def _sides(form: Form, tracks: int) -> Iterator[Arrangement]:
    cylinder, side = np.divmod(np.arange(tracks), 2)
    all_of = (0, form.cylinders - 1)
    yield _moved(form, cylinder * 2 + 1 - side, Mishap(
        code="sides-swapped", cylinders=all_of, sides=(0, 1), weight=form.cylinders,
    ), 3.0)  # fmt: skip
    for held in (0, 1):
        yield _moved(form, cylinder * 2 + held, Mishap(
            code="side-twice", cylinders=all_of, sides=(1 - held,), weight=form.cylinders, values={"held": held},
        ), 4.0)  # fmt: skip


def _moved(form: Form, tracks: NDArray[np.int64], event: Mishap, bits: float) -> Arrangement:
    return Arrangement(move=Move(events=(event,), source=form.of_tracks(tracks), bits=bits))


def slips(form: Form, numbers: Numbers) -> Iterator[Arrangement]:
    """Propose steps missed or made too many, and tracks left out, at every place.

    Args:
        form: Of the disk.
        numbers: The contents of the image, by track. Where its last cylinders are alike, none begins there.
    """
    tracks = len(numbers)
    differing = tracks // form.heads
    cylinders = numbers[: differing * form.heads].reshape(differing, -1)
    while differing > 1 and np.array_equal(cylinders[differing - 1], cylinders[differing - 2]):
        differing -= 1
    number = np.arange(tracks)
    cylinder, side = np.divmod(number, form.heads)
    last, sides = form.cylinders - 1, tuple(range(form.heads))
    bits = choice_bits(form.cylinders)
    for at in range(min(form.cylinders - 1, differing)):
        for times in range(1, _MOST_STEPS + 1):
            for by in (-times, times):
                source = np.where(cylinder >= at, cylinder + by, cylinder)
                if at + by < 0 or at + by > last or (by > 0 and at == 0 and times > 1):
                    continue
                yield _moved(form, np.where((source <= last) & (source >= 0), source * form.heads + side, -1), Mishap(
                    code="cylinder-twice" if by < 0 else "cylinder-skipped", cylinders=(at, last), sides=sides,
                    weight=form.cylinders - at, values={"times": times},
                ), bits + 3.0 * times)  # fmt: skip
    if form.heads == 2:
        for track in range(1, form.tracks - 1):
            source = np.where(number >= track, number + 1, number)
            yield _moved(form, np.where(source < form.tracks, source, -1), Mishap(
                code="track-lost", cylinders=(track // 2, last), sides=(track % 2,), weight=form.cylinders,
                values={"cylinder": track // 2, "side": track % 2},
            ), bits + (4.0 if tracks < form.tracks else _FILLED_UP))  # fmt: skip


def turned(form: Form, tracks: int) -> Iterator[Arrangement]:
    """Propose other orders of the sectors of every track.

    Args:
        form: Of the disk.
        tracks: How many the image has.
    """
    sectors = form.sectors
    if sectors > _MOST_SECTORS:
        return
    own, track = np.arange(sectors), np.arange(tracks)[:, None]
    choice = choice_bits(sectors)

    def give(code: str, slots: NDArray[np.int64], bits: float, **values: object) -> Arrangement:
        return Arrangement(move=of_slots(code, slots, form, tracks, bits, **values), turns=True)

    for by in range(1, sectors):
        yield give("sectors-rotated", (own + by) % sectors, 3 + choice, how="sectors-rotated/alike", by=by)
        yield give("sectors-rotated", (own + by * track) % sectors, 4 + choice, how="sectors-rotated/skew", by=by)
    for by in (1, -1):
        slots = own + by
        slots[(slots < 0) | (slots >= sectors)] = -1
        yield give("first-sector-wrong", slots, 4.0, by=by)
    seen = set()
    for step in range(2, sectors):
        known = np.array(passing(sectors, step)) - 1
        for slots in (known, np.argsort(known)):
            if slots.tobytes() not in seen:
                seen.add(slots.tobytes())
                yield give("sectors-interleaved", slots, 4 + 2 * choice, how="sectors-interleaved/step",
                           order=(slots + 1).tolist(), step=step)  # fmt: skip
