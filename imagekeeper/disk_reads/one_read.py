"""What one read of a disk tells of its own reading: whether the disk checks better after something is undone.

The measure is that of `explaining`: each way to put the sectors in order is held against the disk as the image has it,
by what the file system, the seams of files, the ends of files and free space say, and by what comes twice. Where the
difference is small nothing is said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.certainty import SUREST, shares
from imagekeeper.disk_reads.arrangements import Arrangement, arrangements, slips, turned, untouched
from imagekeeper.disk_reads.expected import Expected, expected
from imagekeeper.disk_reads.moves import Form
from imagekeeper.disk_reads.sector_facts import SectorFacts
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.floppy.arrangement import Geometry

#: What every fault takes beside its own bits, and by how much it must be ahead of a sound disk. Chosen on the tuned
#: half of tests/benchmarks/one_read.py. [bit]
_FAULT, AHEAD = 12.0, 12.0

#: And on a disk with a directory of 8-bit machines, which does not state how it is divided. [bit]
_AHEAD_OF_DIVISION = 60.0

#: What a cylinder says that comes twice as the fault foretells, each time more that it comes, a sector that should come
#: twice and does not. [bit]
_TWICE, _AGAIN, _NOT_TWICE = 40.0, 4.0, 24.0

#: So many cylinders that come twice count, and so many times more that one of them comes.
_MOST_TWICE, _MOST_AGAIN = 40, 10

#: What each content takes that the image has and that the fault leaves unexplained. [bit]
_UNEXPLAINED = 2.0

#: Where so many cylinders come twice, a directory of 8-bit machines is looked for anyway.
_LOOK = 4

#: So many contents a cylinder must have that are no fill, or it comes twice by itself.
_DISTINCT = 3

#: What the first entry of a directory says where one should begin, the end of a file where it should be. [bit]
_HEAD, _END = 14.0, 6.0

#: A geometry in which files end beyond the image is taken where another is ahead by no more. [bit]
_AS_GOOD = 8.0

#: How much of what free and used sectors say of each other counts: they lie in runs.
_OF_FREE = 0.5

#: What each sector of a file takes that the image would lack. [bit]
_LACKING = 0.02

#: From so many seams between tracks on they are held against those within, if one of these says so much; an order of
#: tracks fits, and another does not, from and below these shares. [1, bit]
_SEAMS, _TELLING, _FITS, _MISFITS = 12, 0.3, 0.5, 0.3

#: The directory of an 8-bit machine is looked for in no more ways, which take their time, of the likeliest geometry; of
#: others only as the image is.
_LOOKED_FOR = 7

#: So many of the best ways are read anew, each with its own file system.
_READ_ANEW = 6

#: What is less likely than this is not named beside another.
UNLIKELY = 0.05


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One way to understand an image.

    Attributes:
        geometry: Of the disk.
        arrangement: What the reading did.
        bits: How much speaks for it, beside an image that is no disk. [bit]
        expected: What the file system then says, or None without one.
        twice: How much of it what comes twice says. [bit]
        lacking: Sectors of files that the image does not have.
        filled: Sectors of files that hold nothing but fill.
        fit: How much the seams of files between tracks speak for each other, beside those within a track; None where
            nothing tells.
    """

    geometry: Geometry
    arrangement: Arrangement
    bits: float
    expected: Expected | None
    twice: float
    lacking: tuple[int, ...]
    filled: tuple[int, ...]
    fit: float | None = None


@dataclass(frozen=True, kw_only=True)
class Understood:
    """What an image tells of its reading.

    Attributes:
        best: The likeliest way, which may be that nothing happened.
        plain: The likeliest without a fault.
        confidence: Of the best.
        rivals: What else may have happened, of other kinds, with how likely each is.
        facts: The sectors of the image as of the geometry of the best.
    """

    best: Reading
    plain: Reading
    confidence: float
    rivals: tuple[tuple[Reading, float], ...]
    facts: SectorFacts

    @property
    def told(self) -> bool:
        """Whether a fault is named."""
        return self.best.arrangement.code is not None


def understood(data: bytes, geometries: Iterable[Geometry]) -> Understood | None:
    """Weigh what the reading of a disk may have done to an image.

    Args:
        data: The image, sides alternating.
        geometries: What the disk may be, the likeliest first; those with a first track of its own are left out.

    Returns:
        The likeliest way to understand it, or None without a geometry.
    """
    found: list[Reading] = []
    facts: dict[str, SectorFacts] = {}
    for geometry in geometries:
        if geometry.first_track is None and len(data) >= geometry.track_bytes:
            weighing = _Weighing(data, geometry, _LOOKED_FOR if not facts else 1)
            found += weighing.readings()
            facts[geometry.text] = weighing.facts
    if not found:
        return None
    plain = max((one for one in found if one.arrangement.code is None), key=lambda one: one.bits)
    best = max(found, key=lambda one: one.bits)
    if best.bits < plain.bits + AHEAD or not _believed(best, plain):
        best = plain
    lacking = [
        one for one in found if one.arrangement.code is None and one.lacking and one.bits >= plain.bits - _AS_GOOD
    ]
    if best is plain and lacking:   # no disk was made so that its files end beyond it
        best = plain = max(lacking, key=lambda one: (len(one.lacking), -one.geometry.cylinders))
    kinds: dict[str | None, Reading] = {}
    for one in sorted(found, key=lambda one: -one.bits):
        kinds.setdefault(one.arrangement.code, one)
    belief = dict(zip(kinds, shares([-one.bits for one in kinds.values()]), strict=True))
    rivals = tuple(
        (one, round(belief[code], 3)) for code, one in kinds.items()
        if code not in (None, best.arrangement.code) and belief[code] >= UNLIKELY
    )
    return Understood(
        best=best, plain=plain, confidence=round(min(belief[best.arrangement.code], SUREST), 3), rivals=rivals,
        facts=facts[best.geometry.text],
    )  # fmt: skip


def _believed(best: Reading, plain: Reading) -> bool:
    """Whether a fault may be named that rests on a directory of 8-bit machines: it states no division of its own."""
    system = best.expected
    if system is None or system.kind == "fat":
        return True
    ahead = best.bits - plain.bits - best.twice
    return system.bits > 0 and (best.fit is None or best.fit >= _MISFITS) and (
        best.twice > 0 or ahead >= _AHEAD_OF_DIVISION
    )


class _Weighing:
    """The weighing of one image as of one geometry."""

    def __init__(self, data: bytes, geometry: Geometry, looks: int = 1) -> None:
        self.geometry, self._looks = geometry, looks
        self.form = Form(geometry.cylinders, geometry.heads, geometry.sectors)
        self.facts = SectorFacts(data, geometry)
        self.tracks = -(-self.facts.count // geometry.sectors)
        self.grid = SectorGrid(
            heads=geometry.heads, sectors=geometry.sectors, sector_bytes=geometry.sector_bytes,
            cylinders=geometry.cylinders,
        )  # fmt: skip

    def readings(self) -> list[Reading]:
        """Give every way that is worth a look, each with what speaks for it."""
        plain = untouched(self.form, self.tracks)
        stated = self._expected(plain)
        found = [self._reading(plain, stated)]
        sure = stated is not None and stated.kind == "fat"
        # a directory of 8-bit machines takes its time, and says little where what it leads to goes on well
        look = not sure and (found[0].fit is None or found[0].fit < _FITS)
        for one in arrangements(self.form, self.facts.numbers):
            same = stated is not None and not sure and self._same_system(one, stated)
            twice = self._twice(one) >= _LOOK * _TWICE
            self._looks += twice
            closer = look or twice
            found.append(self._reading(one, stated if same else self._expected(one, directories=closer and not sure)))
        for one in turned(self.form, self.tracks):
            found.append(self._reading(one, self._expected(one, directories=False)))
        for one in slips(self.form, self.facts.numbers):
            found.append(self._reading(one, stated))
        found.sort(key=lambda one: -one.bits)
        moved = [one for one in found if one.arrangement.code in ("cylinder-twice", "cylinder-skipped", "track-lost")]
        again = [
            self._reading(one.arrangement, self._expected(one.arrangement)) for one in moved[:_READ_ANEW] if sure
        ]
        known = {id(one.arrangement) for one in again}
        return [*again, *(one for one in found if id(one.arrangement) not in known)]

    def _same_system(self, one: Arrangement, system: Expected) -> bool:
        """Whether the parts of the file system stand where they stood."""
        back = one.back(self.form, self.facts.count)
        inside = system.system[system.system < len(back)]
        return bool((back[inside] == inside).all())

    def _expected(self, one: Arrangement, *, directories: bool = True) -> Expected | None:
        back = one.back(self.form, self.facts.count)
        disk = self.facts.whole[back]
        disk[back == self.facts.count] = 0xE5
        directories = directories and self._looks > 0
        self._looks -= directories
        return expected(disk.tobytes(), self.grid, directories=directories)

    def _reading(self, one: Arrangement, system: Expected | None) -> Reading:
        twice = self._twice(one) if one.code is not None else 0.0
        bits = twice - one.move.bits - _FAULT if one.code is not None else 0.0
        lacking: tuple[int, ...] = ()
        filled: tuple[int, ...] = ()
        told = 0.0 if system is None else system.bits + self._held(one, system)
        if told <= 0:   # the disk is likelier without that file system
            system = None
        bits += max(told, 0.0)
        fit = None if system is None else self._fit(one, system)
        if system is not None and one.code is None:
            back = one.back(self.form, self.facts.count)
            used = system.used[system.used < len(back)]
            lacking = tuple(used[back[used] == self.facts.count].tolist())
            filled = tuple(used[self.facts.fill[back[used]]].tolist())
        return Reading(
            geometry=self.geometry, arrangement=one, bits=bits, expected=system, twice=twice, lacking=lacking,
            filled=filled, fit=fit,
        )  # fmt: skip

    def _fit(self, one: Arrangement, system: Expected) -> float | None:
        """Hold the seams of files from track to track against those within a track."""
        total, sectors = self.form.tracks * self.form.sectors, self.form.sectors
        inside = (system.before < total) & (system.after < total)
        before, after = system.before[inside], system.after[inside]
        back = one.back(self.form, self.facts.count)
        there = (back[before] != self.facts.count) & (back[after] != self.facts.count)
        across = before // sectors != after // sectors
        apart, within = (
            self._each(back[before[chosen]], back[after[chosen]])
            for chosen in (there & across, there & ~across)
        )
        return None if apart is None or within is None or within < _TELLING else apart / within

    def _each(self, before: NDArray[np.int64], after: NDArray[np.int64]) -> float | None:
        return self.facts.order_bits(before, after) / len(before) if len(before) >= _SEAMS else None

    def _held(self, one: Arrangement, system: Expected) -> float:
        """Hold what the file system foretells against what the image has. [bit]"""
        facts = self.facts
        back = one.back(self.form, facts.count)
        total = len(back)

        def place(sectors: NDArray[np.int64]) -> NDArray[np.int64]:
            return np.where(sectors < total, back[np.minimum(sectors, total - 1)], facts.count)

        bits = facts.order_bits(place(system.before), place(system.after))
        used, free = place(system.used), place(system.unused)
        bits -= _LACKING * float((used == facts.count).sum())
        bits += _OF_FREE * _told_by_free(facts, used, free)
        last, rest = place(system.last), system.rest
        there = last != facts.count
        tail = facts.tails[last]
        bits += _END * float((there & (tail == facts.size - rest)).sum())
        for sector, begins in system.heads:
            at = int(back[sector]) if sector < total else facts.count
            if at != facts.count:
                bits += _HEAD if facts.whole[at, : len(begins)].tobytes() == begins else -_HEAD
        return bits

    def _twice(self, one: Arrangement) -> float:
        """Weigh what comes twice in the image, or should. [bit]"""
        facts, form = self.facts, self.form
        source = one.source(facts.count)
        back = one.back(form, facts.count)
        left = facts.flat[: len(source)][(source < 0) | (source >= len(back))]
        bits = -_UNEXPLAINED * float(np.count_nonzero(~facts.contents.is_fill[np.unique(left)]))
        own = np.arange(len(source))
        again = np.flatnonzero((source >= 0) & (source < len(back)))
        again = again[back[source[again]] != own[again]]
        if not len(again):
            return bits
        first = back[source[again]]
        same = facts.flat[again] == facts.flat[first]
        wrong = float((~same).sum())
        cylinders = again // (form.heads * form.sectors)
        telling = same & ~facts.fill[again]
        contents = Counter(
            facts.flat[again[telling & (cylinders == cylinder)]].tobytes()
            for cylinder in np.unique(cylinders[telling]).tolist()
        )
        often = [
            count for one, count in contents.items() if len(set(np.frombuffer(one, np.int64).tolist())) >= _DISTINCT
        ]
        more = min(sum(often) - len(often), _MOST_AGAIN)   # the same one again and again
        return bits + _TWICE * min(len(often), _MOST_TWICE) + _AGAIN * more - _NOT_TWICE * wrong


def _told_by_free(facts: SectorFacts, used: NDArray[np.int64], free: NDArray[np.int64]) -> float:
    """Give the information that use and fill have of each other, summed over sectors. [bit]"""
    used, free = used[used != facts.count], free[free != facts.count]
    table = np.array([
        [facts.fill[used].sum(), len(used) - facts.fill[used].sum()],
        [facts.fill[free].sum(), len(free) - facts.fill[free].sum()],
    ], float)  # fmt: skip
    whole = table.sum()
    if not whole or table[0, 0] * table[1, 1] > table[0, 1] * table[1, 0]:   # used ones are fill, free ones are not
        return 0.0
    by_chance = table.sum(axis=1)[:, None] * table.sum(axis=0)[None, :] / whole
    seen = table > 0
    return float((table[seen] * np.log2(table[seen] / by_chance[seen])).sum())
