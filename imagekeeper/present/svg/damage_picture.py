"""Which files of a disk are hurt, and what to read again: each hurt file as a ribbon from its first to its last byte.

What a mark is stands in words beside it; texture and colour only repeat that.
"""

from __future__ import annotations

from imagekeeper.filesystems.damage_model import DiskDamage, HurtFile, HurtState, HurtStretch, HurtTrack
from imagekeeper.jobs.disks.damage_words import area_means, gives, spare_means, stretch_words
from imagekeeper.jobs.disks.mapping_sectors import SectorMap
from imagekeeper.present.svg.column import LEFT, WIDE, Column, fitted, width_of
from imagekeeper.present.svg.rulers import Stem, draw_rulers
from imagekeeper.present.svg.shapes import GROUND, INK, ORANGE, Drawing, Texture
from imagekeeper.units import plural, ranges

#: How high a ribbon is. [pixel]
_RIBBON = 14

#: So much is drawn, that the picture stays one page; the text and the document have more.
_FILES, _TRACKS, _AREAS = 10, 18, 8

#: The least that a mark on a ribbon is wide. [pixel]
_LEAST = 3.0

_TEXTURES: dict[HurtState, Texture] = {
    "missing": "whole", "bad": "whole", "doubtful": "hatched", "filled": "hatched", "lost": "hollow",
}  # fmt: skip

#: What the textures of a ribbon are, in words.
KEY: tuple[tuple[Texture, str], ...] = (
    ("whole", "not read: bad or missing"), ("hatched", "doubtful, or perhaps not read"),
    ("hollow", "has no place on the disk"),
)  # fmt: skip


def draw(result: SectorMap) -> str:
    """Draw the picture, as an SVG document."""
    damage = result.damage
    named = ", ".join(fitted(one.path) for one in damage.hurt_files[:_FILES])
    drawing = Drawing(
        LEFT * 2 + WIDE, 0, f"What is hurt on {fitted(result.name)}", f"{result.verdict} {named}".rstrip(),
        follows=True,
    )  # fmt: skip
    page = Column(drawing)
    page.verdict(result.verdict)
    listed = (
        "no list of bad sectors was given: only what files hold was looked at" if result.bad_sectors is None
        else f"by a list of {plural(result.bad_sectors, 'sector')} not good"
    )  # fmt: skip
    page.line(fitted(result.name), quiet=True)
    page.line(f"{result.geometry}; {listed}", quiet=True)
    _files(page, damage)
    _again(page, [one for one in damage.tracks if one.purpose != "spare"], damage.tracks_left_out, result.grid.heads)
    _areas(page, damage)
    if damage.spare:
        page.head("No file is the worse for these")
        for one in damage.spare:
            page.sentence(spare_means(one))
    if damage.tracks:
        _whole_disk(page, result)
    drawing.end_at(page.y + LEFT)
    return drawing.text_of()


def _files(page: Column, damage: DiskDamage) -> None:
    if not damage.hurt_files:
        return
    page.head("Hurt, each from its first byte to its last")
    for one in damage.hurt_files[:_FILES]:
        _file(page, one)
    if len(damage.hurt_files) > _FILES:
        page.line(f"and {len(damage.hurt_files) - _FILES} more", quiet=True)
    used = {_TEXTURES[stretch.state] for one in damage.hurt_files for stretch in one.stretches}
    page.key([(texture, ORANGE, words) for texture, words in KEY if texture in used])


def _file(page: Column, one: HurtFile) -> None:
    drawing = page.drawing
    page.y += 22
    name = one.path + ("/" if one.kind == "directory" else "")
    name += "" if one.partition is None else f" (partition {one.partition})"
    share = 100 * one.hurt_bytes // max(one.size_bytes, 1)
    words = f"{one.hurt_bytes} of {plural(one.size_bytes, 'byte')}, {f'{share} %' if share else 'under 1 %'}"
    drawing.text(LEFT, page.y, fitted(name, WIDE - 12 - width_of(words, 12), 13, bold=True), size=13, bold=True)
    drawing.text(LEFT + WIDE, page.y, words, anchor="end")
    page.y += 7
    drawing.rectangle(LEFT, page.y, WIDE, _RIBBON, GROUND, note=f"{name}, {plural(one.size_bytes, 'byte')}")
    for edge in (page.y, page.y + _RIBBON):
        drawing.line(LEFT, edge, LEFT + WIDE, edge)
    marks = _marks(one)
    for x, wide, stretch, words in marks:
        drawing.rectangle(x, page.y, wide, _RIBBON, ORANGE, texture=_TEXTURES[stretch.state], note=words)
    page.y += _RIBBON
    _labels(page, marks, one.left_out)


def _marks(one: HurtFile) -> list[tuple[float, float, HurtStretch, str]]:
    """Give the marks of a ribbon: left edge, width, the first stretch in it, and all of it in words.

    Stretches that would lie on each other are one mark.
    """
    scale = WIDE / max(one.size_bytes, 1)
    marks: list[tuple[float, float, HurtStretch, str]] = []
    for stretch in one.stretches:
        x = min(LEFT + stretch.at * scale, LEFT + WIDE - _LEAST)
        wide = max(min(stretch.length * scale, LEFT + WIDE - x), _LEAST)
        alike = bool(marks) and _TEXTURES[stretch.state] == _TEXTURES[marks[-1][2].state]
        if alike and x < marks[-1][0] + marks[-1][1] - 0.01:
            before, old, first, words = marks[-1]
            more = words if len(words) > 200 else f"{words}, {stretch_words(stretch)}"
            marks[-1] = before, max(x + wide - before, old), first, more
        else:
            marks.append((x, wide, stretch, stretch_words(stretch)))
    return marks


def _labels(page: Column, marks: list[tuple[float, float, HurtStretch, str]], left_out: int) -> None:
    """Write below a ribbon where its marks lie on the disk, in up to three rows; what has no room is counted.

    From the right to the left, each in the first row in which it crosses no line that leads to another.
    """
    starts = [LEFT + WIDE + 8.0] * 3   # where the words of this row or of a lower one begin, and the lines to them
    untold, used = left_out, 0
    for x, wide, _, words in reversed(marks):
        words = fitted(words, 230, 10)
        at = min(x, LEFT + WIDE - width_of(words, 10))
        row = next((number for number, start in enumerate(starts) if at + width_of(words, 10) + 6 <= start), None)
        if row is None:
            untold += 1
            continue
        starts[: row + 1] = [min(start, at) for start in starts[: row + 1]]
        used = max(used, row + 1)
        line = min(x + wide / 2, x + 1.5)
        page.drawing.line(line, page.y, line, page.y + 4 + 13 * row)
        page.drawing.text(at, page.y + 13 + 13 * row, words, size=10)
    page.y += 13 * used
    if untold:
        page.line(f"and {plural(untold, 'stretch', 'stretches')} more", size=10, quiet=True, high=13)


def _again(page: Column, tracks: list[HurtTrack], left_out: int, heads: int) -> None:
    if not tracks:
        return
    page.head("Read again, in this order: the heads move over the disk once")
    for one in tracks[:_TRACKS]:
        page.y += 17
        side = f", side {one.head}" if heads > 1 else ""
        page.drawing.text(LEFT, page.y, f"cylinder {one.cylinder}{side}", size=11, bold=True)
        sectors = f"{'sector' if len(one.sectors) == 1 else 'sectors'} {ranges(one.sectors)}"
        page.drawing.text(LEFT + 130, page.y, fitted(sectors, 110), size=11)
        page.drawing.text(LEFT + 244, page.y, fitted(gives(one), WIDE - 244), size=11)
    more = len(tracks) - _TRACKS + left_out
    if more > 0:
        page.line(f"and {plural(more, 'track')} more", quiet=True)


def _areas(page: Column, damage: DiskDamage) -> None:
    if not damage.areas:
        return
    page.head("The file system's own area")
    for one in damage.areas[:_AREAS]:
        place = ", ".join(map(stretch_words, one.stretches[:2])) + (", …" if len(one.stretches) > 2 else "")
        part = "" if one.partition is None else f" (partition {one.partition})"
        page.line(fitted(f"{one.name}{part}: {place}", bold=True), bold=True)
        page.sentence(area_means(one), high=15)
    if len(damage.areas) > _AREAS:
        page.line(f"and {len(damage.areas) - _AREAS} more", quiet=True)


def _whole_disk(page: Column, result: SectorMap) -> None:
    grid, tracks = result.grid, result.damage.tracks
    page.head("The whole disk, cylinder by cylinder")
    stems = {}
    for one in tracks:
        share = min(len(one.sectors) / grid.sectors, 1.0)
        side = f", side {one.head}" if grid.heads > 1 else ""
        note = f"cylinder {one.cylinder}{side}: {plural(len(one.sectors), 'sector')} not good, {_PURPOSES[one.purpose]}"
        upwards = one.purpose in ("files", "unknown")
        stems[one.cylinder, one.head] = Stem(
            above=share if upwards else 0.0, below=0.0 if upwards else share,
            texture="hatched" if one.purpose == "system" else "hollow", note=note,
        )  # fmt: skip
    track = grid.heads * grid.sectors * grid.sector_bytes
    cylinders = max(grid.cylinders or 0, -(-result.size_bytes // track), 1 + max(one.cylinder for one in tracks))
    page.y = draw_rulers(page.drawing, page.y, cylinders, grid.heads, stems, left=LEFT, width=WIDE)
    page.key(_STEMS)


_PURPOSES = {
    "files": "in a file", "system": "in the file system's own area", "unknown": "of which nothing is known",
    "spare": "in no file",
}  # fmt: skip

_STEMS: tuple[tuple[Texture, str, str], ...] = (
    ("whole", ORANGE, "above: a file is hurt"), ("hatched", INK, "below: the file system"),
    ("hollow", INK, "below: in no file, harmless"),
)  # fmt: skip
