"""A map of where reads of a disk differ: cylinders from left to right, a strip for each side, sectors downwards."""

from __future__ import annotations

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.present.svg.shapes import BLUE, GROUND, INK, ORANGE, QUIET, Drawing
from imagekeeper.provenance.compared_disk import ComparedDisk, ComparedSector
from imagekeeper.units import plural

_LEFT, _TOP, _WIDE, _HIGH, _APART = 84, 104, 8, 8, 34

#: A disk of more cylinders, sides or sectors is drawn smaller, so that its picture stays one. [pixel]
_MOST_WIDE, _MOST_HIGH = 1600, 1200


def draw(result: Comparison, disk: ComparedDisk) -> str:
    """Draw the map of a comparison of a disk.

    A whole square is a sector of which content differs from content; one with a bar through it holds fill in a read
    and content in another: that read has nothing of it. Where all agree the strip is plain.

    Args:
        result: The comparison.
        disk: Its disk.
    """
    cylinders = 1 + max(track.cylinder for track in disk.tracks)
    heads = 1 + max(track.side for track in disk.tracks)
    sectors = max(track.sectors for track in disk.tracks)
    wide = min(_WIDE, _MOST_WIDE / cylinders)
    high = min(_HIGH, _MOST_HIGH / (heads * sectors))
    apart = _APART if heads <= 4 else 4
    strip = sectors * high + apart
    names = ", ".join(read.name for read in result.reads[:3]) + (", …" if len(result.reads) > 3 else "")
    verdict = _verdict(disk)
    width, height = max(_LEFT + cylinders * wide + 24, 560), _TOP + heads * strip + 64
    drawing = Drawing(int(width), int(height), f"Sectors in which {names} differ", verdict)
    drawing.text(24, 32, "What to read again, by cylinder and side", size=18, bold=True)
    drawing.text(24, 52, names, size=12, colour=QUIET)
    drawing.text(24, 72, verdict, size=12)
    for side in range(heads):
        y = _TOP + side * strip
        if heads <= 4:
            drawing.text(_LEFT - 10, y + sectors * high / 2 + 4, f"side {side}", anchor="end")
        drawing.rectangle(_LEFT, y, cylinders * wide, sectors * high, GROUND)
        for cylinder in range(0, cylinders, 10 if cylinders <= 200 else 100):
            drawing.text(_LEFT + cylinder * wide, y - 4, str(cylinder), size=9, colour=QUIET)
    for sector in disk.differing:
        x, y = _LEFT + sector.cylinder * wide, _TOP + sector.side * strip + (sector.sector - 1) * high
        filled = _filled(sector)
        drawing.rectangle(x, y, wide * 0.9, high * 0.9, ORANGE if filled else BLUE, note=_note(sector))
        if filled:
            drawing.line(x, y + high * 0.45, x + wide * 0.9, y + high * 0.45, INK)
    y = _TOP + heads * strip + 10
    drawing.rectangle(_LEFT, y, _WIDE, _HIGH, BLUE)
    drawing.text(_LEFT + 16, y + 8, "content differs from content", size=11)
    drawing.rectangle(_LEFT + 240, y, _WIDE, _HIGH, ORANGE)
    drawing.line(_LEFT + 240, y + _HIGH / 2, _LEFT + 240 + _WIDE, y + _HIGH / 2, INK)
    drawing.text(_LEFT + 256, y + 8, "a read has fill, or ends before it", size=11)
    return drawing.text_of()


def _filled(sector: ComparedSector) -> bool:
    """Whether a read has nothing of a sector where another has content."""
    nothing = len(sector.fills) + sector.alike.count(0)
    return 0 < nothing < len(sector.alike)


def _note(sector: ComparedSector) -> str:
    groups: dict[int, list[str]] = {}
    for number, first in enumerate(sector.alike, 1):
        groups.setdefault(first, []).append(str(number))
    told = [
        f"{', '.join(numbers)} {'end before it' if not first else 'fill' if first in sector.fills else 'content'}"
        for first, numbers in groups.items()
    ]
    return f"cylinder {sector.cylinder}, side {sector.side}, sector {sector.sector}: {'; '.join(told)}"


def _verdict(disk: ComparedDisk) -> str:
    apart = disk.sectors - disk.agree
    if not apart:
        return f"All {plural(disk.sectors, 'sector')} of the disk are equal in all reads."
    return f"{apart} of {plural(disk.sectors, 'sector')} differ."
