"""The order of sectors on a track: interleave and skew, and how many revolutions reading takes.

The host asks for the sectors by rising number, and needs a while after each before it can take the next. A sector that
has passed by then costs a whole revolution. All of this is arithmetic on the layout; no source is needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Slots:
    """Where the sectors of a track lie.

    Attributes:
        count: How many there are.
        first: Where the first begins. [byte]
        length: From the beginning of one to that of the next. [byte]
        used: From the beginning of one to the end of its data. [byte]
        track: One revolution. [byte]
    """

    count: int
    first: int
    length: int
    used: int
    track: int

    def after(self, slot: int, ready: float) -> float:
        """Give when a sector next begins, counted in bytes from the index of the first revolution."""
        begin = self.first + slot * self.length
        return begin + max(math.ceil((ready - begin) / self.track), 0) * self.track


@dataclass(frozen=True, kw_only=True)
class SectorOrder:
    """The order of sectors, and what reading them takes.

    Attributes:
        interleave: From one number to the next it goes this many sectors on; 1 is the plain order.
        records: The sector numbers in the order in which they pass the head.
        host_delay_ms: What the host needs after a sector. [ms]
        step_delay_ms: What it takes more to go to the next track. [ms]
        revolutions: From the beginning of the first sector to the end of the last, read by number. [revolution]
        skew: How many sectors later each track should begin than the one before.
        revolutions_per_track: From the first sector of a track to that of the next, with this skew. [revolution]
    """

    interleave: int
    records: tuple[int, ...]
    host_delay_ms: float
    step_delay_ms: float
    revolutions: float
    skew: int
    revolutions_per_track: float


def placed(count: int, interleave: int) -> tuple[int, ...]:
    """Number the sectors in the order in which they pass; where a place is taken, the next free one serves.

    Example:
        >>> placed(9, 2), placed(8, 2)
        ((1, 6, 2, 7, 3, 8, 4, 9, 5), (1, 5, 2, 6, 3, 7, 4, 8))
    """
    records = [0] * count
    place = 0
    for record in range(1, count + 1):
        while records[place]:
            place = (place + 1) % count
        records[place] = record
        place = (place + interleave) % count
    return tuple(records)


def _read(slots: Slots, records: tuple[int, ...], delay: float) -> float:
    """Tell when the data of the last record has passed. [byte]"""
    where = {record: slot for slot, record in enumerate(records)}
    end = float(slots.first + where[1] * slots.length + slots.used)
    for record in range(2, len(records) + 1):
        end = slots.after(where[record], end + delay) + slots.used
    return end


def ordered(
    slots: Slots, *, byte_ms: float, interleave: int | None, host_delay_ms: float, step_delay_ms: float
) -> SectorOrder:
    """Place the sectors for a host.

    Args:
        slots: Where they lie.
        byte_ms: How long one byte takes. [ms]
        interleave: The interleave, or None for that which reads the track soonest.
        host_delay_ms: What the host needs after a sector. [ms]
        step_delay_ms: What it takes more to go to the next track. [ms]

    Example:
        >>> nine = Slots(count=9, first=146, length=654, used=574, track=6250)
        >>> best = ordered(nine, byte_ms=0.032, interleave=None, host_delay_ms=10.0, step_delay_ms=0.0)
        >>> best.interleave, round(best.revolutions, 2)
        (2, 1.82)
    """
    delay = host_delay_ms / byte_ms
    tried = range(1, slots.count + 1) if interleave is None else (interleave,)
    ends = [(_read(slots, placed(slots.count, one), delay), one) for one in tried]
    end, chosen = min(ends)
    ready = end + delay + step_delay_ms / byte_ms
    begin, skew = min((slots.after(slot, ready), slot) for slot in range(slots.count))
    return SectorOrder(
        interleave=chosen, records=placed(slots.count, chosen), host_delay_ms=host_delay_ms,
        step_delay_ms=step_delay_ms, revolutions=round((end - slots.first) / slots.track, 4), skew=skew,
        revolutions_per_track=round((begin - slots.first) / slots.track, 4),
    )  # fmt: skip
