"""What disks that went between a drive of the bench and the machine's own show of that drive.

No instrument looks at the drive's alignment here: what it writes is read by the drive that must read it in the end, and
the other way, cylinder by cylinder. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from imagekeeper.drives import fit
from imagekeeper.drives.bench import Interchange, Wrote
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.provenance.dates import time_span
from imagekeeper.tables.floppy import FormatRow, format_rows
from imagekeeper.units import ranges

#: A trial loses half of its weight in so many days: heads wear and get dirty, mechanics shift. Our judgement. [day]
HALF = 365

#: A trial younger than this lets a drive pass without a safer one being named. Our judgement. [day]
FRESH = 365


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What the last trial in one direction shows.

    Attributes:
        wrote: here where the drive of the bench wrote, there where the machine's did.
        says: That, in words, with its day and its age.
        holds: Whether every cylinder that the disk needs was read right.
        age: How old it is at most, or null where nobody knows what day it is. [day]
        weight: From 1 for a trial of today towards 0; below 0 where cylinders failed.
    """

    wrote: Wrote
    says: str
    holds: bool
    age: int | None
    weight: float


def shown(disk: DiskForDrive, trials: Iterable[Interchange], today: str | None) -> tuple[Shown, ...]:
    """Find what the last trials of a drive with disks of this kind show, for each direction and drive of a machine.

    Args:
        disk: The disk in question: trials with disks of other tracks or another density say nothing of it.
        trials: Those of one drive, the oldest first.
        today: The day, from which ages are told, or None.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> trial = Interchange(drive="B", machine_drive="drive A of the TG-85", wrote="here",
        ...                     format="5.25-40x2x9x512", cylinders=40, on="2026-03-02", failed=(38, 39))
        >>> found = shown(DiskForDrive.of(find("360K")), [trial], "2026-03-05")
        >>> print(found[0].says, round(found[0].weight, 2))
        it wrote a disk of which drive A of the TG-85 could not read cylinders 38-39, on 2026-03-02 -0.99
    """
    last: dict[tuple[str, str], Interchange] = {}
    for one in trials:
        if _alike(disk, format_rows().get(one.format)):
            before = last.get((one.machine_drive, one.wrote))
            if before is None or _until(one) >= _until(before):
                last[one.machine_drive, one.wrote] = one
    return tuple(_shown(disk, one, today) for one in last.values())


def proved(found: Iterable[Shown]) -> bool:
    """Whether a fresh trial shows that the machine reads what the drive writes, and none shows the contrary.

    Example:
        >>> proved([Shown(wrote="here", says="", holds=True, age=3, weight=0.99)]), proved([])
        (True, False)
    """
    wrote = [one for one in found if one.wrote == "here"]
    fresh = any(one.holds and one.age is not None and one.age <= FRESH for one in wrote)
    return fresh and all(one.holds for one in wrote)


def _alike(disk: DiskForDrive, row: FormatRow | None) -> bool:
    """Whether a trial with a disk of a format says something of this disk."""
    if row is None:
        return False
    other = DiskForDrive.of(row)
    return (
        (other.disk_inch, other.tracks_per_inch, other.encoding, other.medium)
        == (disk.disk_inch, disk.tracks_per_inch, disk.encoding, disk.medium)
        and abs(other.bits_per_revolution / disk.bits_per_revolution - 1) < fit.SAME
    )


def _until(one: Interchange) -> str:
    return time_span(one.on)[1] or ""


def _shown(disk: DiskForDrive, one: Interchange, today: str | None) -> Shown:
    age = None if today is None else _age(one, today)
    failed = [cylinder for cylinder in one.failed if cylinder < disk.cylinders]
    read = f"cylinders 0-{one.cylinders - 1}" if one.cylinders < disk.cylinders else f"all {one.cylinders} cylinders"
    if one.wrote == "here":
        says = f"it wrote a disk of which {one.machine_drive}"
        says += f" could not read {_cylinders(failed)}" if failed else f" read {read}"
    else:
        says = f"of a disk that {one.machine_drive} wrote"
        says += f" it could not read {_cylinders(failed)}" if failed else f" it read {read}"
    if one.retried:
        times = sum(each.times for each in one.retried)
        where = _cylinders([each.cylinder for each in one.retried])
        says += f", after {times} more {'try' if times == 1 else 'tries'} on {where}"
    says += f", on {one.on}{_aged(age)}"
    holds = not failed and one.cylinders >= disk.cylinders
    weight = 0.5 ** ((age or 0) / HALF)
    if not failed:   # tries that were needed, and cylinders that nobody tried, leave less of what speaks for the drive
        weight *= (0.5 if one.retried else 1.0) * min(1.0, one.cylinders / disk.cylinders)
    return Shown(wrote=one.wrote, says=says, holds=holds, age=age, weight=-weight if failed else weight)


def _age(one: Interchange, today: str) -> int | None:
    """Give the age of a trial; where only its month or year is known, that of the first day that it may have been."""
    began, now = time_span(one.on)[0], time_span(today)[0]
    if began is None or now is None:
        return None
    return max(0, (date.fromisoformat(now[:10]) - date.fromisoformat(began[:10])).days)


def _aged(age: int | None) -> str:
    if age is None or age <= FRESH:
        return ""
    years = int(age / 365.25)
    return f", more than {years} years ago: try again" if years > 1 else ", more than a year ago: try again"


def _cylinders(cylinders: Sequence[int]) -> str:
    """Name cylinders in short.

    Example:
        >>> _cylinders([3]), _cylinders([37, 38, 39, 12])
        ('cylinder 3', 'cylinders 12, 37-39')
    """
    numbers = sorted(set(cylinders))
    return f"cylinder{'s' if len(numbers) > 1 else ''} {ranges(numbers)}"
