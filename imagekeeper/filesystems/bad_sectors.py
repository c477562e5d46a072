"""Lists of bad sectors that came with a read, and the files that they touch.

The list is plain CSV with a head: cylinder,head,sector,state. Cylinders and heads count from 0, sectors as the disk
numbers them.
"""

from __future__ import annotations

import bisect
import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.filesystems.model import Entry, Extent, SectorGrid, SectorPlace, Volume
from imagekeeper.filesystems.problems import Problems
from imagekeeper.units import plural

SectorState = Literal["good", "doubtful", "bad", "missing"]

#: What each state means; all but good count as bad.
STATES: dict[SectorState, str] = {
    "good": "read, and its check value is right",
    "doubtful": "read, but only after many tries, or not twice alike",
    "bad": "read, and its check value is wrong",
    "missing": "not found: the image holds fill in its place",
}

_COLUMNS = ("cylinder", "head", "sector", "state")

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


def parse(text: str, name: str) -> tuple[BadSector, ...]:
    r"""Read a list.

    Args:
        text: The CSV text.
        name: The file's name, for messages.

    Raises:
        InputError: `table-form` naming the line that cannot be understood.

    Example:
        >>> parse("cylinder,head,sector,state\n39,1,9,bad\n", "bad.csv")[0].place
        SectorPlace(cylinder=39, head=1, sector=9)
    """
    found = []
    rows = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    try:
        head = [cell.strip().lower() for cell in next(rows, [])]
        if tuple(head[:4]) != _COLUMNS:
            found_head = ",".join(head)[:60]
            raise _form(name, 1, f"its first line is {found_head!r}", "begin it with cylinder,head,sector,state")
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            found.append(_sector(row, name, rows.line_num))
            if len(found) > _MOST:
                raise _form(name, rows.line_num, f"it has more than {_MOST} sectors", "look whether it is a list")
    except csv.Error as problem:
        raise _form(name, rows.line_num, str(problem), "save it as plain CSV") from problem
    return tuple(found)


def _sector(row: list[str], name: str, line: int) -> BadSector:
    cells = [cell.strip() for cell in row]
    numbers = cells[:3]
    if len(cells) < 3 or not all(cell.isascii() and cell.isdecimal() and len(cell) <= 6 for cell in numbers):
        raise _form(name, line, f"{','.join(row)[:60]!r} does not begin with three numbers", "such as 39,1,9,bad")
    state = (cells[3].lower() if len(cells) > 3 else "") or "bad"
    for known in get_args(SectorState):
        if state == known:
            return BadSector(SectorPlace(*map(int, numbers)), known)
    raise _form(name, line, f"there is no state {state[:30]!r}", f"give one of {', '.join(STATES)}")


def _form(name: str, line: int, why: str, hint: str) -> InputError:
    return InputError(
        "table-form", "the list of bad sectors cannot be understood", why=why, hint=hint,
        where=Where(file=name, line=line),
    )  # fmt: skip


def extents(sectors: Sequence[BadSector], grid: SectorGrid) -> tuple[tuple[Extent, SectorState], ...]:
    """Say where bad sectors lie in the image, ascending; good ones are left out.

    Raises:
        UsageError: `does-not-fit` for a sector that the disk does not have.
    """
    found = {}
    for one in sectors:
        if not grid.holds(one.place):
            raise UsageError(
                "does-not-fit", "the list of bad sectors does not fit the disk",
                why=f"it names {one.place}, and the geometry is {grid.text}",
                hint="look whether the list belongs to this disk, or give its geometry with --geometry",
            )  # fmt: skip
        if one.state != "good":
            found[grid.offset(one.place)] = (Extent(grid.offset(one.place), grid.size_at(one.place)), one.state)
    return tuple(found[at] for at in sorted(found))


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

    def touched(start: int, length: int) -> Iterator[int]:
        for i in range(bisect.bisect_right(ends, start), len(starts)):
            if starts[i] >= start + length:
                return
            yield i

    for area in volume.areas:
        hit = list(touched(area.start, area.length))
        if hit:
            problems.add(
                "bad-sector-in-system", "fault", _says(area.name, [bad[i] for i in hit], volume.grid),
                "what is listed may be wrong: read these sectors again, or use the copy of the FAT",
                at=starts[hit[0]], length=bad[hit[0]][0].length, sectors=len(hit), area=area.name,
            )  # fmt: skip
    entries: list[Entry] = []
    for entry in volume.entries:
        hit = [i for one in entry.extents if one.start is not None for i in touched(one.start, one.length)]
        if hit:
            entry = replace(entry, bad=tuple(bad[i][0] for i in hit))
            problems.add(
                "bad-sector-in-file", "warning" if entry.deleted else "fault",
                _says(entry.path, [bad[i] for i in hit], volume.grid),
                "read these sectors again, or take the file from another copy",
                at=starts[hit[0]], length=bad[hit[0]][0].length, sectors=len(hit), path=entry.path,
            )  # fmt: skip
        entries.append(entry)
    return replace(volume, entries=tuple(entries), findings=(*volume.findings, *problems.found()))


def _says(name: str, hit: Sequence[tuple[Extent, SectorState]], grid: SectorGrid | None) -> str:
    places = [f"at byte {one.start}" if grid is None else str(grid.place(one.start or 0)) for one, _ in hit[:3]]
    said = ", ".join(f"{place} ({state})" for place, (_, state) in zip(places, hit, strict=False))
    return f"{name}: {plural(len(hit), 'bad sector')}, {said}" + (" and more" if len(hit) > 3 else "")
