"""Where reads of a disk differ: what explains it, a ruler for each side, and the tracks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.present.svg.column import LEFT, WIDE, Column, fitted
from imagekeeper.present.svg.rulers import Stem, draw_rulers
from imagekeeper.present.svg.shapes import INK, ORANGE, Drawing, Texture
from imagekeeper.provenance.compared_disk import ComparedDisk, ComparedSector
from imagekeeper.units import plural, ranges

#: So many reads and tracks are listed; the text and the document have more.
_READS, _TRACKS = 6, 24

_KEY: tuple[tuple[Texture, str, str], ...] = (
    ("whole", ORANGE, "above: content differs from content"), ("hatched", INK, "below: filled, or missing in a read"),
)  # fmt: skip


def draw(result: Comparison, disk: ComparedDisk, *, follows: bool = False) -> str:
    """Draw the map of a comparison of a disk.

    Above the ruler of a side stand cylinders of which sectors differ in content; below, those of which a read holds
    nothing but fill, or ends before them, where another has content. How long a stem is, is the share of the sectors.

    Args:
        result: The comparison.
        disk: Its disk.
        follows: Whether the picture is a file of its own, which follows the reader's screen.
    """
    cylinders = 1 + max(track.cylinder for track in disk.tracks)
    heads = 1 + max(track.side for track in disk.tracks)
    verdict = _verdict(disk)
    names = ", ".join(fitted(read.name) for read in result.reads[:_READS])
    drawing = Drawing(LEFT * 2 + WIDE, 0, f"Sectors in which {names} differ", verdict, follows=follows)
    page = Column(drawing)
    page.verdict(verdict)
    for number, read in enumerate(result.reads[:_READS], 1):
        page.line(f"{number}  {fitted(read.name, WIDE - 20)}", quiet=True)
    if len(result.reads) > _READS:
        page.line(f"and {plural(len(result.reads) - _READS, 'more read')}", quiet=True)
    if result.findings and disk.differing:
        page.head("What explains it best")
        page.sentence(result.findings[0].why)
        page.sentence(f"next: {result.findings[0].hint}")
    if disk.differing:
        _rulers(page, disk, cylinders, heads)
        _tracks(page, disk, heads)
    drawing.end_at(page.y + LEFT)
    return drawing.text_of()


def _rulers(page: Column, disk: ComparedDisk, cylinders: int, heads: int) -> None:
    page.head("The whole disk, cylinder by cylinder")
    stems = {}
    for place, sectors in _by_track(disk).items():
        filled, others = _parted(sectors)
        whole = next(track.sectors for track in disk.tracks if (track.cylinder, track.side) == place)
        stems[place] = Stem(above=len(others) / whole, below=len(filled) / whole, note=_note(place, sectors))
    page.y = draw_rulers(page.drawing, page.y, cylinders, heads, stems, left=LEFT, width=WIDE)
    page.key(_KEY)


def _tracks(page: Column, disk: ComparedDisk, heads: int) -> None:
    page.head("Where they differ")
    rows = list(_rows(disk, heads))
    for place, words in rows[:_TRACKS]:
        page.y += 17
        page.drawing.text(LEFT, page.y, place, size=11, bold=True)
        page.drawing.text(LEFT + 184, page.y, fitted(words, WIDE - 184), size=11)
    if len(rows) > _TRACKS:
        page.line(f"and {plural(len(rows) - _TRACKS, 'more line')} of tracks", quiet=True)


def _rows(disk: ComparedDisk, heads: int) -> Iterator[tuple[str, str]]:
    """Give places and what differs there; both sides, and cylinders one behind the other, that are alike are one."""
    told: dict[int, dict[int, str]] = defaultdict(dict)
    for (cylinder, side), sectors in _by_track(disk).items():
        told[cylinder][side] = _words(*_parted(sectors))
    runs: list[tuple[list[int], dict[int, str]]] = []
    for cylinder, sides in told.items():
        if runs and runs[-1][0][-1] == cylinder - 1 and runs[-1][1] == sides:
            runs[-1][0].append(cylinder)
        else:
            runs.append(([cylinder], sides))
    for cylinders, sides in runs:
        place = f"cylinder{'' if len(cylinders) == 1 else 's'} {ranges(cylinders)}"
        if heads == 2 and len(sides) == 2 and len(set(sides.values())) == 1:
            yield f"{place}, both sides", sides[0]
        else:
            for side, words in sides.items():
                yield place + (f", side {side}" if heads > 1 else ""), words


def _words(filled: list[int], others: list[int]) -> str:
    told = [f"{ranges(others)} differ{'s' if len(others) == 1 else ''}"] if others else []
    told += [f"{ranges(filled)} filled"] if filled else []
    return f"sector{'' if len(others or filled) == 1 else 's'} {'; '.join(told)}"


def _by_track(disk: ComparedDisk) -> dict[tuple[int, int], list[ComparedSector]]:
    found: dict[tuple[int, int], list[ComparedSector]] = defaultdict(list)
    for sector in disk.differing:
        found[sector.cylinder, sector.side].append(sector)
    return dict(sorted(found.items()))


def _parted(sectors: list[ComparedSector]) -> tuple[list[int], list[int]]:
    """Part sectors of which a read has nothing while another has content from those that differ in content."""
    filled = [one.sector for one in sectors if 0 < len(one.fills) + one.alike.count(0) < len(one.alike)]
    return filled, [one.sector for one in sectors if one.sector not in filled]


def _note(place: tuple[int, int], sectors: list[ComparedSector]) -> str:
    """Say of each read of the first sector of a track what it holds."""
    first = sectors[0]
    groups: dict[int, list[str]] = {}
    for number, like in enumerate(first.alike, 1):
        groups.setdefault(like, []).append(str(number))
    told = [
        f"{', '.join(numbers)} {'end before it' if not like else 'fill' if like in first.fills else 'content'}"
        for like, numbers in groups.items()
    ]
    more = f", and {len(sectors) - 1} more" if len(sectors) > 1 else ""
    return f"cylinder {place[0]}, side {place[1]}, sector {first.sector}: reads {'; '.join(told)}{more}"


def _verdict(disk: ComparedDisk) -> str:
    apart = disk.sectors - disk.agree
    if not apart:
        return f"All {plural(disk.sectors, 'sector')} of the disk are equal in all reads."
    tracks = len({(one.cylinder, one.side) for one in disk.differing})
    verb = "differs" if apart == 1 else "differ"
    return f"{apart} of {plural(disk.sectors, 'sector')} {verb}, on {plural(tracks, 'track')}."
