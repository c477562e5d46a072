"""Ways in which the sectors of every track may have come in another order: turned, or with another interleave."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, permutation_bits
from imagekeeper.disk_reads.moves import Form, Mishap, Move
from imagekeeper.disk_reads.sectors import Contents, Numbers
from imagekeeper.floppy.arrangement import passing

#: An order must be seen in so many sectors.
_LEAST = 4

#: With more pairs of sectors than this no order is looked for. No floppy disk has as many.
_MOST_WORK = 1 << 24


def turns(first: Numbers, second: Numbers, form: Form, contents: Contents) -> Iterator[Move]:
    """Propose in which order the sectors of a read came.

    Args:
        first: The contents of the other read, with all tracks of the disk.
        second: Those of the read, with at least as many.
        form: How many tracks and sectors there are.
        contents: Of which contents are fill: it says nothing of an order.
    """
    count = min(form.tracks, len(second))
    one, other = first[:count], second[:count]
    if count * form.sectors**2 > _MOST_WORK:
        return
    telling = ~contents.is_fill[one]
    # how many tracks hold in slot j what the other read has in slot i of the same track
    equal = (one[:, :, None] == other[:, None, :]) & telling[:, :, None]
    votes = equal.sum(axis=0)
    if votes.sum() - np.trace(votes) < _LEAST:
        return
    yield from _first_sector(votes, form, len(second))
    yield from _permuted(votes, form, len(second))
    yield from _turned(equal, form, len(second))


def of_slots(code: str, slots: NDArray[np.int64], form: Form, count: int, bits: float, **values: object) -> Move:
    """Make the rule that the sector in each slot of every track comes from another slot of it."""
    track = np.arange(count)[:, None]
    if slots.ndim == 1:
        slots = np.broadcast_to(slots, (count, form.sectors))
    source = np.where((slots >= 0) & (track < form.tracks), track * form.sectors + slots, -1)
    event = Mishap(
        code=code, cylinders=(0, form.cylinders - 1), sides=tuple(range(form.heads)), weight=form.cylinders,
        values=dict(values),
    )  # fmt: skip
    return Move(events=(event,), source=source, bits=bits)


def _first_sector(votes: NDArray[np.int64], form: Form, count: int) -> Iterator[Move]:
    """The sectors asked for began with another number than those of the disk: one was not there."""
    own = np.arange(form.sectors)
    for by in (1, -1):
        slots = own + by
        slots[(slots < 0) | (slots >= form.sectors)] = -1
        if sum(int(votes[slot, at]) for at, slot in enumerate(slots) if slot >= 0) >= _LEAST:
            yield of_slots("first-sector-wrong", slots, form, count, 4.0, by=by)


def _permuted(votes: NDArray[np.int64], form: Form, count: int) -> Iterator[Move]:
    """One order on all tracks: the one that most tracks show."""
    sectors = form.sectors
    slots = np.full(sectors, -1, np.int64)
    left = votes.astype(np.float64)
    for _ in range(sectors):
        slot, at = divmod(int(left.argmax()), sectors)
        if left[slot, at] <= 0:
            break
        slots[at] = slot
        left[slot, :], left[:, at] = -1, -1
    unseen = [slot for slot in range(sectors) if slot not in set(slots.tolist())]
    for at in range(sectors):
        if slots[at] < 0:
            slots[at] = at if at in unseen else unseen[0]
            unseen.remove(int(slots[at]))
    moved = int(np.count_nonzero(slots != np.arange(sectors)))
    if not moved:
        return
    by = int(slots[0])
    if np.array_equal(slots, (np.arange(sectors) + by) % sectors):
        yield of_slots("sectors-rotated", slots, form, count, 2 + choice_bits(sectors), how="sectors-rotated/alike",
                    by=by)  # fmt: skip
        return
    order = [int(slot) + 1 for slot in slots]
    for step in range(2, sectors):
        known = passing(sectors, step)
        back = np.argsort(np.array(known)) + 1
        if order in (list(known), back.tolist()):
            yield of_slots("sectors-interleaved", slots, form, count, 3 + choice_bits(2 * sectors),
                        how="sectors-interleaved/step", order=order, step=step)  # fmt: skip
            return
    bits = 6 + permutation_bits(sectors, moved)
    yield of_slots("sectors-interleaved", slots, form, count, bits, how="sectors-interleaved/own", order=order, step=0)


def _turned(equal: NDArray[np.bool_], form: Form, count: int) -> Iterator[Move]:
    """Every track turned by an amount of its own: an image that begins wherever the head was."""
    sectors, tracks = form.sectors, len(equal)
    own = np.arange(sectors)
    fits = np.stack([equal[:, (own + by) % sectors, own].sum(axis=1) for by in range(sectors)], axis=1)
    by = fits.argmax(axis=1)
    seen = fits.max(axis=1) > 0
    if np.count_nonzero(seen) < _LEAST or len(set(by[seen].tolist())) < 2:
        return
    by = np.where(seen, by, 0)
    steps = Counter(int(b - a) % sectors for a, b, x, y in zip(by, by[1:], seen, seen[1:], strict=False) if x and y)
    skew = steps.most_common(1)[0][0] if steps else 0
    begin = (by - skew * np.arange(tracks)) % sectors
    regular = bool(skew and len(set(begin[seen].tolist())) == 1)
    if regular:
        by = (int(begin[seen][0]) + skew * np.arange(tracks)) % sectors
    turned = np.zeros(count, np.int64)
    turned[:tracks] = by
    bits = 4 + (2 if regular else int(np.count_nonzero(seen))) * choice_bits(sectors)
    slots = (own + turned[:, None]) % sectors
    yield of_slots("sectors-rotated", slots, form, count, bits,
                how="sectors-rotated/skew" if regular else "sectors-rotated/each", by=skew)  # fmt: skip
