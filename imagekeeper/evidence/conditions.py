"""In what conditions reads differ, what they share, and whether that makes them independent.

Two reads that share reader, adapter, cable and voltage share their faults too: a bent pin of the adapter stands in
both, whoever presses the key. So independence is counted, in points, over the pair of reads that differ most:

- another reader, drive, supply voltage or specimen: two points, for each of these can take a fault away
- another adapter, cable, controller or temperature: one point, for each can take away some
- another person: none
- the reader had been shown to work (`qualified`) when it was read: one point, once

Two points make reads independent. Only what is known of both reads, and is no slip of the pen, counts as different. For
a disk the supply voltage is nothing that a person can vary, and all reads in one drive share its alignment: they are
never independent.

Source: none; the points are our own, after what faults are common to two reads of one bench.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.replacements import ReadBack
from imagekeeper.provenance.slips import is_slip

#: So many points make reads independent.
INDEPENDENT = 2

#: The conditions of a read: how they are called, and how many points a difference gives.
CONDITIONS: dict[str, tuple[str, int]] = {
    "reader": ("reader", 2), "drive": ("drive", 2), "vcc": ("supply voltage", 2), "specimen": ("specimen", 2),
    "adapter": ("adapter", 1), "cable": ("cable", 1), "controller": ("controller", 1),
    "temperature": ("temperature", 1), "operator": ("person", 0),
}  # fmt: skip

_CHIPS_ONLY = ("vcc", "adapter")
_DISKS_ONLY = ("drive", "controller")
_NUMBERS = ("vcc", "temperature")


@dataclass(frozen=True, kw_only=True)
class Independence:
    """How independent reads are.

    Attributes:
        points: Of the two reads that differ most.
        differ: The conditions in which any two are known to differ, as they are called.
        shared: What is known to be the same in all of them, each with its value.
        unknown: What is not recorded for all of them.
        qualified: Whether a reader had been shown to work.
    """

    points: int
    differ: tuple[str, ...]
    shared: tuple[str, ...]
    unknown: tuple[str, ...]
    qualified: bool

    @property
    def enough(self) -> bool:
        """Whether the reads are independent."""
        return self.points >= INDEPENDENT


def independence(reads: Sequence[Read] | Sequence[ReadBack], kind: str) -> Independence:
    """Count how independent equal reads are.

    Args:
        reads: Reads that give the same image.
        kind: The kind of their carrier.
    """
    names = [name for name in CONDITIONS if name not in (_CHIPS_ONLY if kind in DISKS else _DISKS_ONLY)]
    distinct = _distinct(reads, names)
    points, differ = 0, set[str]()
    qualified = any(_held(read, "qualified") for read in reads)
    for a, b in combinations(distinct, 2):
        found = differing(a, b, names)
        differ.update(found)
        trusted = bool(_held(a, "qualified") or _held(b, "qualified"))
        points = max(points, _points(a, b, found) + trusted)
    if len(reads) > 1 and qualified:
        points = max(points, 1)
    known = {name: [value for read in reads if (value := _held(read, name)) and value.strip()] for name in names}
    # what nobody records as a rule is not called unknown
    usual = [name for name in names if CONDITIONS[name][1] != 1]
    return Independence(
        points=points,
        differ=tuple(CONDITIONS[name][0] for name in names if name in differ),
        shared=tuple(
            f"{CONDITIONS[name][0]} {known[name][0]}"
            for name in names
            if reads and name not in differ and len(known[name]) == len(reads)
        ),
        unknown=tuple(
            CONDITIONS[name][0] for name in usual if name not in _DISKS_ONLY and len(known[name]) < len(reads)
        ),
        qualified=qualified,
    )


def _held(read: Read | ReadBack, name: str) -> str | None:
    """Give a condition of a read or read-back; a read-back has fewer."""
    value: str | None = getattr(read, name, None)
    return value


def _points(a: Read | ReadBack, b: Read | ReadBack, found: Sequence[str]) -> int:
    """Count what differs; in one drive, whatever drives it, a disk is read with one alignment."""
    drives = [comparable("drive", _held(one, "drive")) for one in (a, b)]
    one_drive = drives[0] is not None and drives[0] == drives[1]
    total = sum(CONDITIONS[name][1] for name in found)
    return min(total, 1) if one_drive and "specimen" not in found else total


def differing(a: Read | ReadBack, b: Read | ReadBack, names: Sequence[str] = tuple(CONDITIONS)) -> tuple[str, ...]:
    """Name the conditions that are known for both reads and differ.

    Returns:
        Keys of `CONDITIONS`.
    """
    found = []
    for name in names:
        x, y = comparable(name, _held(a, name)), comparable(name, _held(b, name))
        if x is None or y is None or x == y:
            continue
        insisted = name in a.insisted or name in b.insisted
        if name in _NUMBERS or insisted or not is_slip(str(x), str(y)):
            found.append(name)
    return tuple(found)


def comparable(name: str, value: str | None) -> object:
    """Bring spellings of one thing together: 5, 5.0 and 5.00 volts; capitals and blanks in names.

    Example:
        >>> comparable("vcc", "5.00") == comparable("vcc", "5"), comparable("reader", " Bench  reader")
        (True, 'bench reader')
    """
    if value is None or not value.strip():
        return None
    return Decimal(value) if name in _NUMBERS else " ".join(value.split()).casefold()


def _distinct(reads: Sequence[Read] | Sequence[ReadBack], names: Sequence[str]) -> list[Read | ReadBack]:
    """Keep one read of each set of conditions, so that pairs of thousands of reads need not be formed."""
    by_conditions = {
        (tuple(comparable(n, _held(r, n)) for n in names), r.insisted, bool(_held(r, "qualified"))): r for r in reads
    }
    return list(by_conditions.values())[:200]
