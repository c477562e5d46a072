"""A map of a disk's sectors: what became of each, and which file it belongs to.

States are shapes, owners are numbers that the list below the map explains; colour only repeats what these say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.filesystems.model import Extent, SectorGrid, Volume
from imagekeeper.jobs.disks.mapping_sectors import DiskSectors
from imagekeeper.present.svg.shapes import GROUND, INK, ORANGE, PAPER, QUIET, Drawing
from imagekeeper.units import plural

_LEFT, _TOP, _WIDE, _HIGH, _APART = 70, 110, 18, 13, 34

#: More cells than this nobody sees; then one cell stands for several sectors.
_MOST_CELLS = 8000

#: Without sides to show, so many cells make a row.
_ROW = 48

#: Files are told apart by number; these light colours repeat in turn. M. Okabe and K. Ito, "Color Universal Design",
#: 2008, lightened so that numbers are legible on them.
_COLOURS = ("#a6d4f2", "#f7d79a", "#a5dcc9", "#e6bfd6", "#f3ee9b", "#c9cfe8")

#: Owners in the legend; the rest are counted.
_LISTED = 60

#: The shape that stands for each state, in words.
STATES = {
    "good": "plain: read well", "doubtful": "one stroke: doubtful, or settled by a vote",
    "bad": "cross: bad, or disputed", "missing": "hollow frame: not found",
}  # fmt: skip

_SHAPES = {"voted": "doubtful", "disputed": "bad"}


@dataclass(frozen=True)
class _Owner:
    number: str
    name: str
    colour: str


def draw(disk: DiskSectors) -> str:
    """Draw the map, as an SVG document.

    Example:
        >>> grid = SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40)
        >>> "side 1" in draw(DiskSectors(
        ...     name="office.img", size_bytes=368640, grid=grid, volumes=(), states=((Extent(512, 512), "missing"),)
        ... ))
        True
    """
    grid = disk.grid
    cells = -(-disk.size_bytes // grid.sector_bytes)
    each = -(-cells // _MOST_CELLS)
    places = _Places(grid, each, -(-cells // each))
    owners = _owners(disk.volumes)
    of_cell: list[_Owner | None] = [None] * places.count
    for owner, extents in owners:
        for extent in extents:
            if extent.start is not None:
                first, last = places.cells(extent)
                of_cell[first:last] = [owner] * (min(last, places.count) - first)
    worst = _worst(places, disk.states)
    verdict = _verdict(owners, disk.states, each)
    height = _TOP + places.height + 120 + 18 * -(-min(len(owners), _LISTED) // 2) + 40
    drawing = Drawing(max(places.width + 24, 720), height, f"Sectors of {disk.name}", verdict)
    drawing.text(24, 32, "What became of the sectors, and whose they are", size=18, bold=True)
    drawing.text(24, 52, disk.name, size=12, colour=QUIET)
    drawing.text(24, 72, verdict, size=12)
    places.label(drawing)
    before = None
    for cell, mine in enumerate(of_cell):
        x, y = places.at(cell)
        _cell(drawing, x, y, mine, worst.get(cell, "good"), mine is not before or places.begins_row(cell),
              places.note(cell, mine, worst.get(cell, "good")))  # fmt: skip
        before = mine
    _legend(drawing, owners, _TOP + places.height + 34)
    return drawing.text_of()


class _Places:
    """Where each cell lies: the two sides of a floppy disk side by side, of another disk row under row."""

    def __init__(self, grid: SectorGrid, each: int, count: int) -> None:
        self.grid, self.each, self.count = grid, each, count
        self.by_track = each == 1 and grid.heads <= 2 and grid.sectors <= 36 and grid.first_track is None
        self.row = grid.sectors if self.by_track else _ROW
        rows = -(-count // (grid.sectors * grid.heads)) if self.by_track else -(-count // _ROW)
        self.height = rows * _HIGH
        self.width = _LEFT + (grid.heads * (grid.sectors * _WIDE + _APART) if self.by_track else _ROW * _WIDE)

    def cells(self, extent: Extent) -> tuple[int, int]:
        """Give the first cell of an extent, and the first behind it."""
        unit = self.grid.sector_bytes * self.each
        start = extent.start or 0
        first = min(start // unit, self.count)
        return first, max(min(-(-(start + extent.length) // unit), self.count), first)

    def at(self, cell: int) -> tuple[int, int]:
        """Give the upper left corner of a cell. [pixel]"""
        if not self.by_track:
            return _LEFT + cell % _ROW * _WIDE, _TOP + cell // _ROW * _HIGH
        track, sector = divmod(cell, self.grid.sectors)
        cylinder, head = divmod(track, self.grid.heads)
        return _LEFT + head * (self.grid.sectors * _WIDE + _APART) + sector * _WIDE, _TOP + cylinder * _HIGH

    def begins_row(self, cell: int) -> bool:
        """Whether it is the first of its row."""
        return cell % self.row == 0

    def label(self, drawing: Drawing) -> None:
        """Write what rows and halves are."""
        if self.by_track:
            for head in range(self.grid.heads):
                x = _LEFT + head * (self.grid.sectors * _WIDE + _APART)
                drawing.text(x, _TOP - 8, f"side {head}, sectors from {self.grid.first_sector}", colour=QUIET)
        for row in range(0, self.height // _HIGH, 5):
            cell = row * (self.grid.sectors * self.grid.heads if self.by_track else _ROW)
            cylinder = self.grid.place(cell * self.each * self.grid.sector_bytes).cylinder
            words = f"{'cyl. ' if row == 0 else ''}{cylinder}"
            drawing.text(_LEFT - 8, _TOP + row * _HIGH + 10, words, size=10, colour=QUIET, anchor="end")

    def note(self, cell: int, owner: _Owner | None, state: str) -> str:
        """Say in words what a cell is; free and good ones say nothing."""
        if owner is None and state == "good":
            return ""
        place = self.grid.place(cell * self.each * self.grid.sector_bytes)
        return f"{place}: {owner.name if owner else 'free'}, {state}"


def _owners(volumes: Sequence[Volume]) -> list[tuple[_Owner, Sequence[Extent]]]:
    """Number everything that owns sectors: the file system's own parts by letters, files by numbers."""
    found: list[tuple[_Owner, Sequence[Extent]]] = []
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    areas = [area for volume in volumes for area in volume.areas]
    for number, area in enumerate(areas):
        owner = _Owner(letters[number % 26], area.name, "#c3ccd5")
        found.append((owner, [Extent(area.start, area.length)]))
    entries = [entry for volume in volumes for entry in volume.entries if entry.extents and not entry.deleted]
    for number, entry in enumerate(entries, 1):
        owner = _Owner(str(number), entry.path, _COLOURS[number % len(_COLOURS)])
        found.append((owner, entry.extents))
    return found


def _worst(places: _Places, states: Sequence[tuple[Extent, str]]) -> dict[int, str]:
    found: dict[int, str] = {}
    ranks = list(STATES)
    for extent, state in states:
        shape = _SHAPES.get(state, state)
        for cell in range(*places.cells(extent)):
            found[cell] = max(found.get(cell, "good"), shape, key=ranks.index)
    return found


def _cell(drawing: Drawing, x: float, y: float, owner: _Owner | None, state: str, named: bool, note: str) -> None:
    wide, high = _WIDE - 2, _HIGH - 2
    fill = GROUND if owner is None else owner.colour
    if state == "missing":
        drawing.rectangle(x, y, wide, high, INK, note=note)
        drawing.rectangle(x + 2, y + 2, wide - 4, high - 4, PAPER)
    else:
        drawing.rectangle(x, y, wide, high, fill, note=note)
    if state == "doubtful":
        drawing.line(x, y + high, x + wide, y, INK)
    elif state == "bad":
        drawing.line(x, y + high, x + wide, y, ORANGE)
        drawing.line(x, y, x + wide, y + high, ORANGE)
        drawing.line(x, y, x + wide, y, INK)
        drawing.line(x, y + high, x + wide, y + high, INK)
    elif owner is not None and named:
        drawing.text(x + wide / 2, y + high - 2, owner.number, size=8 if len(owner.number) < 4 else 6, anchor="middle")


def _verdict(
    owners: Sequence[tuple[_Owner, Sequence[Extent]]], states: Sequence[tuple[Extent, str]], each: int
) -> str:
    files = sum(owner.number.isdecimal() for owner, _ in owners)
    words = f"{plural(files, 'file or directory', 'files and directories')}, "
    words += f"{plural(len(states), 'sector')} not simply good"
    return words + (f"; one cell is {each} sectors" if each > 1 else "") + "."


def _legend(drawing: Drawing, owners: Sequence[tuple[_Owner, Sequence[Extent]]], y: float) -> None:
    for number, (state, words) in enumerate(STATES.items()):
        x, top = _LEFT + number % 2 * 300, y + number // 2 * 22
        _cell(drawing, x, top - 11, _Owner("", "", _COLOURS[0]), state, False, "")
        drawing.text(x + 28, top, words, size=12)
    drawing.text(_LEFT, y + 46, "grey, no number: free; a number or letter stands where a stretch begins", size=12)
    top = y + 74
    for number, (owner, _) in enumerate(owners[:_LISTED]):
        x, row = _LEFT + number % 2 * 330, top + number // 2 * 18
        drawing.rectangle(x, row - 10, _WIDE + 8, _HIGH, owner.colour)
        drawing.text(x + (_WIDE + 8) / 2, row, owner.number, size=9, anchor="middle")
        drawing.text(x + 34, row, owner.name[-44:], size=11)
    if len(owners) > _LISTED:
        row = top + (_LISTED // 2) * 18
        drawing.text(_LEFT, row, f"and {len(owners) - _LISTED} more; rest the pointer on a cell for its name", size=11)
