"""Lists of bad sectors that came with a read, and the files that they touch.

The list is plain CSV with a head: cylinder,head,sector,state. Cylinders and heads count from 0, sectors as the disk
numbers them. Or its head is start,length,state: stretches of the image in bytes, each as far as it was not read.
"""

from __future__ import annotations

import bisect
import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.filesystems.model import Entry, Extent, SectorGrid, SectorPlace, Volume
from imagekeeper.filesystems.problems import Problems
from imagekeeper.findings import Severity
from imagekeeper.sentences.say import Phrase

SectorState = Literal["good", "doubtful", "bad", "missing"]

#: What each state means; all but good count as bad.
STATES: dict[SectorState, str] = {
    "good": "read, and its check value is right",
    "doubtful": "read, but only after many tries, or not twice alike",
    "bad": "read, and its check value is wrong",
    "missing": "not found: the image holds fill in its place",
}

_COLUMNS = ("cylinder", "head", "sector", "state")

_STRETCH_COLUMNS = ("start", "length", "state")

#: The sectors of a stretch are counted by this where no geometry says otherwise. [byte]
_SECTOR = 512

#: More lines than this no list has: a hard disk of 512 MiB has a million sectors.
_MOST = 2_000_000


@dataclass(frozen=True)
class BadSector:
    """A sector of the list.

    Attributes:
        place: Where it is on the disk.
        state: What became of it.
    """

    place: SectorPlace
    state: SectorState


@dataclass(frozen=True, slots=True)
class BadStretch:
    """A stretch of the list.

    Attributes:
        start: Where it begins in the image. [byte]
        length: Its size. [byte]
        state: What became of it.
    """

    start: int
    length: int
    state: SectorState


#: What a list names: sectors by their place, or stretches of the image.
Bad = BadSector | BadStretch


def parse(text: str, name: str) -> tuple[Bad, ...]:
    r"""Read a list.

    Args:
        text: The CSV text.
        name: The file's name, for messages.

    Raises:
        InputError: `table-form` naming the line that cannot be understood.

    Example:
        >>> parse("cylinder,head,sector,state\n39,1,9,bad\n", "bad.csv")[0].place
        SectorPlace(cylinder=39, head=1, sector=9)
        >>> parse("start,length,state\n8704,1024,missing\n", "bad.csv")
        (BadStretch(start=8704, length=1024, state='missing'),)
    """
    found: list[Bad] = []
    rows = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    try:
        head = [cell.strip().lower() for cell in next(rows, [])]
        read = _stretch if tuple(head[:3]) == _STRETCH_COLUMNS else _sector
        if read is _sector and tuple(head[:4]) != _COLUMNS:
            raise _form("table-form/head-of-sectors", name, 1, head=",".join(head))
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            found.append(read(row, name, rows.line_num))
            if len(found) > _MOST:
                raise _form("table-form/many-sectors", name, rows.line_num, limit=_MOST)
    except csv.Error as problem:
        raise _form("table-form/no-csv", name, rows.line_num, trouble=str(problem)) from problem
    return tuple(found)


def _sector(row: list[str], name: str, line: int) -> BadSector:
    cells = [cell.strip() for cell in row]
    numbers = cells[:3]
    if len(cells) < 3 or not all(cell.isascii() and cell.isdecimal() and len(cell) <= 6 for cell in numbers):
        raise _form("table-form/no-place", name, line, row=",".join(row))
    return BadSector(SectorPlace(*map(int, numbers)), _state(cells[3:], name, line))


def _stretch(row: list[str], name: str, line: int) -> BadStretch:
    cells = [cell.strip() for cell in row]
    numbers = cells[:2]
    if len(cells) < 2 or not all(cell.isascii() and cell.isdecimal() and len(cell) <= 15 for cell in numbers):
        raise _form("table-form/no-stretch", name, line, row=",".join(row))
    start, length = map(int, numbers)
    if not length:
        raise _form("table-form/no-stretch", name, line, row=",".join(row))
    return BadStretch(start, length, _state(cells[2:], name, line))


def _state(cells: list[str], name: str, line: int) -> SectorState:
    state = (cells[0].lower() if cells else "") or "bad"
    for known in STATES:
        if state == known:
            return known
    raise _form("table-form/no-state", name, line, state=state, known=STATES)


def _form(about: str, name: str, line: int, **values: Any) -> InputError:
    return InputError(about, where=Where(file=name, line=line), **values)


def extents(listed: Sequence[Bad], grid: SectorGrid | None) -> tuple[tuple[Extent, SectorState], ...]:
    """Say where what a list names lies in the image, ascending and apart; what is good is left out.

    Args:
        listed: Sectors and stretches; of two that lie on each other the first counts as far as it goes.
        grid: The geometry of the disk, or None, with which only stretches can be placed.

    Raises:
        UsageError: `does-not-fit` for a sector that the disk does not have, or that cannot be placed.
    """
    found: dict[int, tuple[int, SectorState]] = {}
    for one in listed:
        if isinstance(one, BadStretch):
            start, length = one.start, one.length
        elif grid is None:
            raise UsageError("does-not-fit/bad-sectors-unplaced")
        elif not grid.holds(one.place):
            raise UsageError("does-not-fit/bad-sectors", place=one.place, geometry=grid.text)
        else:
            start, length = grid.offset(one.place), grid.size_at(one.place)
        if one.state != "good" and length > found.get(start, (0, ""))[0]:
            found[start] = length, one.state
    apart, end = [], 0
    for start in sorted(found):
        length, state = found[start]
        first = max(start, end)
        if first < start + length:
            apart.append((Extent(first, start + length - first), state))
            end = start + length
    return tuple(apart)


def count(listed: Sequence[Bad], grid: SectorGrid | None) -> int:
    """Count the sectors of a list that are not good; those of a stretch without a geometry by the usual size."""
    size = _SECTOR if grid is None else grid.sector_bytes
    return sum(
        -(-one.length // size) if isinstance(one, BadStretch) else 1 for one in listed if one.state != "good"
    )


def by_sector(
    listed: Sequence[tuple[Extent, SectorState]], grid: SectorGrid, start: int, end: int
) -> Iterator[BadSector]:
    """Give the sectors of a part of the disk that a list names, each once; part of a sector stands for all of it.

    Args:
        listed: As `extents` gives it.
        grid: The geometry of the disk.
        start: Where the part begins. [byte]
        end: Where it ends. [byte]

    Example:
        >>> grid = SectorGrid(heads=1, sectors=4, sector_bytes=512)
        >>> [str(one.place) for one in by_sector([(Extent(1000, 600), "bad")], grid, 0, 4096)]
        ['0/0/2', '0/0/3', '0/0/4']
    """
    at = bisect.bisect_right(listed, start, key=lambda one: (one[0].start or 0) + one[0].length)
    done = start
    for extent, state in listed[at:]:
        first, last = max(extent.start or 0, done), min((extent.start or 0) + extent.length, end)
        if first >= end:
            return
        for place in grid.places(first, last - first) if first < last else ():
            yield BadSector(place, state)
            done = grid.offset(place) + grid.size_at(place)


def mark(volume: Volume, bad: Sequence[tuple[Extent, SectorState]]) -> Volume:
    """Mark every file and area of a volume that bad sectors touch, with a finding for each.

    Args:
        volume: The volume.
        bad: Where bad sectors lie in the image, ascending.

    Example:
        >>> from imagekeeper.filesystems.model import Area
        >>> empty = Volume(
        ...     kind="fat12", title="a volume", start=0, length=4096, unit_bytes=512, units=0, free_units=0, entries=(),
        ...     areas=(Area("FAT 1", 512, 512),),
        ... )
        >>> mark(empty, [(Extent(512, 512), "missing")]).findings[0].why
        'FAT 1: 1 bad sector, at byte 512 (missing)'
    """
    if not bad:
        return volume
    starts = [one.start or 0 for one, _ in bad]
    ends = [(one.start or 0) + one.length for one, _ in bad]
    problems = Problems()

    def touched(extents: Iterable[Extent]) -> tuple[list[int], tuple[Extent, ...]]:
        """Number the bad ones that lie in some extents, each once, and give what of the extents they hold."""
        hit: dict[int, None] = {}
        held = []
        for one in extents:
            if one.start is None:
                continue
            end = one.start + one.length
            for i in range(bisect.bisect_right(ends, one.start), len(starts)):
                if starts[i] >= end:
                    break
                hit[i] = None
                first = max(one.start, starts[i])
                held.append(Extent(first, min(end, ends[i]) - first))
        return list(hit), tuple(held)

    def note(about: str, severity: Severity, hit: list[int], held: Iterable[Extent], **whose: str) -> None:
        problems.add(
            about, severity, at=starts[hit[0]], length=bad[hit[0]][0].length,
            places=_places([bad[i] for i in hit], volume.grid),
            detail={"sectors": _count(held, volume.grid), **whose},
        )  # fmt: skip

    for area in volume.areas:
        hit, held = touched([Extent(area.start, area.length)])
        if hit:
            note("bad-sector-in-system", "fault", hit, held, area=area.name)
    entries: list[Entry] = []
    for entry in volume.entries:
        hit, held = touched(entry.extents)
        if hit:
            entry = replace(entry, bad=held)
            note("bad-sector-in-file", "warning" if entry.deleted else "fault", hit, held, path=entry.path)
        entries.append(entry)
    return replace(volume, entries=tuple(entries), findings=(*volume.findings, *problems.found()))


def _count(bad: Iterable[Extent], grid: SectorGrid | None) -> int:
    """Count sectors; those of a stretch without a geometry by the usual size."""
    size = _SECTOR if grid is None else grid.sector_bytes
    return sum(-(-one.length // size) for one in bad)


def _places(hit: Sequence[tuple[Extent, SectorState]], grid: SectorGrid | None) -> list[Phrase]:
    places = [
        Phrase("bad-sector-in-file/at-byte", at=one.start, state=state) if grid is None
        else Phrase("bad-sector-in-file/at-place", place=str(grid.place(one.start or 0)), state=state)
        for one, state in hit[:3]
    ]  # fmt: skip
    if len(hit) > 3:
        places[-1] = Phrase("bad-sector-in-file/and-more", place=str(places[-1]))
    return places
