"""A map of one track: the whole revolution as a strip, and its first sector field by field."""

from __future__ import annotations

from imagekeeper.floppy.layout import Field, TrackLayout
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.present.svg.shapes import BLUE, GROUND, INK, ORANGE, QUIET, Drawing

_LEFT, _WIDE, _HIGH = 24, 900, 56
_TRACK, _SECTOR = 100, 220

#: For each kind of field: its colour, the colour of letters on it, its letter, and what it means. The colours are
#: those of M. Okabe and K. Ito, "Color Universal Design", 2008; they differ in lightness as well.
KINDS: dict[str, tuple[str, str, str, str]] = {
    "gap": (GROUND, INK, "G", "gap: what separates, and takes up errors of speed"),
    "sync": ("#f0e442", INK, "S", "sync: zeros by which the reader finds the rate"),
    "mark": (INK, "#ffffff", "M", "mark: bytes that miss clocks, which no data can look like"),
    "id": (ORANGE, INK, "I", "ID: cylinder, head, sector number and size, with CRC"),
    "data": (BLUE, "#ffffff", "D", "data, with CRC"),
}


def kind_of(field: Field) -> str:
    """Tell of which kind a field is.

    Example:
        >>> kind_of(Field(
        ...     name="id crc", start=0, length=2, fill=None, sector=1
        ... )), kind_of(Field(name="gap 3", start=0, length=80, fill="4E", sector=1))
        ('id', 'gap')
    """
    for kind in ("gap", "sync", "mark"):
        if kind in field.name:
            return kind
    return field.name.partition(" ")[0]


def draw(layout: TrackLayout) -> str:
    """Draw the map of a track.

    Letters carry the meaning of the colours; the line marks where a drive that turns too fast comes to its index.
    """
    title = (
        f"{layout.sectors} x {layout.sector_bytes} bytes, {RECORDINGS[layout.encoding].title}, "
        f"{layout.data_rate / 1000:g} kbit/s at {layout.rotation:g} rev/min"
    )
    drawing = Drawing(_LEFT * 2 + _WIDE, 500, f"Map of a track: {title}", layout.says)
    drawing.text(_LEFT, 32, "The fields of a track", size=18, bold=True)
    drawing.text(_LEFT, 52, title, colour=QUIET)
    drawing.text(_LEFT, 72, layout.says)
    scale = _WIDE / max(layout.total, layout.bytes_per_track)
    for field in layout.fields:
        _bar(drawing, field, _LEFT + field.start * scale, field.length * scale, _TRACK)
    if layout.order is not None:
        for field in layout.fields:
            if field.name == "data" and field.sector is not None and field.length * scale > 18:
                record = str(layout.order.records[field.sector - 1])
                middle = _LEFT + (field.start + field.length / 2) * scale
                drawing.text(middle, _TRACK + 34, record, size=13, colour="#ffffff", anchor="middle")
    ends = ((layout.limit, "fast drive", 14), (layout.bytes_per_track, "exact speed", 30))
    for end, words, low in ends:
        x = _LEFT + end * scale
        drawing.line(x, _TRACK - 6, x, _TRACK + _HIGH + low, INK)
        drawing.text(x - 4, _TRACK + _HIGH + low, f"index, {words}: {end} bytes", size=11, anchor="end")
    _first_sector(drawing, layout)
    for number, (colour, ink, letter, about) in enumerate(KINDS.values()):
        y = 374 + number * 24
        drawing.rectangle(_LEFT, y - 13, 30, 18, colour)
        drawing.text(_LEFT + 15, y, letter, colour=ink, anchor="middle")
        drawing.text(_LEFT + 40, y, about)
    return drawing.text_of()


def _bar(drawing: Drawing, field: Field, x: float, width: float, y: float) -> None:
    filled = f", filled with {field.fill}" if field.fill else ""
    note = f"{field.name}: {field.length} bytes from {field.start}{filled}"
    drawing.rectangle(x, y, max(width, 0.25), _HIGH, KINDS[kind_of(field)][0], note=note)


def _first_sector(drawing: Drawing, layout: TrackLayout) -> None:
    """Draw the first sector with all fields wide enough to be named, not to scale."""
    fields = [field for field in layout.fields if field.sector == 1]
    drawing.text(_LEFT, _SECTOR - 10, "Its first sector, not to scale", bold=True)
    cell = _WIDE / len(fields)
    for number, field in enumerate(fields):
        x = _LEFT + number * cell
        _, ink, letter, _ = KINDS[kind_of(field)]
        _bar(drawing, field, x, cell - 3, _SECTOR)
        middle = x + (cell - 3) / 2
        drawing.text(middle, _SECTOR + 34, letter, size=14, colour=ink, anchor="middle", bold=True)
        drawing.text(middle, _SECTOR + _HIGH + 16, field.name, size=11, anchor="middle")
        drawing.text(middle, _SECTOR + _HIGH + 32, str(field.length), size=11, anchor="middle")
        if field.fill:
            drawing.text(middle, _SECTOR + _HIGH + 48, field.fill, size=11, colour=QUIET, anchor="middle")
    drawing.text(_LEFT, _SECTOR + _HIGH + 72, "below each field its length in bytes, and what it holds", colour=QUIET)
