"""Lay out a label: which lines fit, how large, and whether a QR code has room; nothing ever runs over the edge.

All measures are in millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.legible import short, visible

#: Sizes of labels by name: width and height [mm]. Common practice, no source. Those for chips cover the window of a
#: ceramic package (8 to 9 mm across) and end before the pins, and before the notch that marks pin 1; the disk's are
#: those that the labels sold with disks had, from memory.
SIZES: dict[str, tuple[float, float]] = {
    "dip24": (24, 11),
    "dip28": (28, 11),
    "dip32": (32, 11),
    "disk35": (70, 52),
    "disk525": (100, 36),
    "disk8": (120, 44),
}

#: The smallest letters that people read, about 4 point. Common practice, no source. [mm]
SMALLEST = 1.5

#: The smallest module of a QR code that printers make and telephones read. Common practice, no source. [mm]
MODULE = 0.25

#: Empty modules that a QR code needs on each side. Source: ISO/IEC 18004, from memory.
QUIET_MODULES = 4

_EDGE, _PITCH = 0.7, 1.24
_BOLD = 1.1   # how much wider bold letters are

#: Widths of letters as parts of their size; all others count as the widest. Rounded up from sans-serif faces in
#: common use, measured by eye: what is wrong by a little is put right by `textLength` in the drawing.
_WIDTHS = {
    **dict.fromkeys("ijl|!'.,:;", 0.30), **dict.fromkeys(" ftrI()[]/\\-`\"*", 0.40),
    **dict.fromkeys("abcdeghknopqsuvxyz0123456789$?#_{}^+<>=~JLFTZ", 0.62),
    **dict.fromkeys("ABCDEGHKNOPQRSUVXY&", 0.76), **dict.fromkeys("mwMW%@", 0.98), "·": 0.35, "…": 1.0, "–": 0.6,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class LabelLine:
    """A line of a label.

    Attributes:
        text: The words.
        x: Where it begins. [mm]
        y: Its base line. [mm]
        size: Of its letters. [mm]
        width: How wide it is drawn, exactly. [mm]
        bold: Whether it is the first.
    """

    text: str
    x: float
    y: float
    size: float
    width: float
    bold: bool


@dataclass(frozen=True, kw_only=True)
class Label:
    """A label that is laid out.

    Attributes:
        id: The carrier's id.
        width: [mm]
        height: [mm]
        lines: Its lines.
        code: The QR code as a path in modules, or empty.
        code_x: Where that begins. [mm]
        code_y: Where that begins. [mm]
        module: The size of a module. [mm]
        left_out: Texts that had no room.
    """

    id: str
    width: float
    height: float
    lines: tuple[LabelLine, ...]
    code: str
    code_x: float
    code_y: float
    module: float
    left_out: tuple[str, ...]


def width_of(text: str, size: float) -> float:
    """Estimate how wide a text is, rather too wide than too narrow.

    Example:
        >>> width_of("U4", 2.0) > width_of("ii", 2.0)
        True
    """
    return size * sum(_WIDTHS.get(c, 1.0) for c in text)


def fitted(text: str, room: float, size: float) -> tuple[str, float]:
    """Make a text fit: smaller letters first, and where those would be too small, cut with an ellipsis.

    Returns:
        The text and the size of its letters.

    Example:
        >>> fitted("tg85-u4", 20.0, 2.5)
        ('tg85-u4', 2.5)
        >>> fitted("A" * 40, 10.0, 2.5)[0]
        'AAAAAAA…'
    """
    whole = width_of(text, 1.0)
    if whole * size <= room:
        return text, size
    if whole * SMALLEST <= room:
        return text, room / whole
    cut = text[: int(room / (0.3 * SMALLEST)) + 1]   # no letter is narrower
    while cut and width_of(cut + "…", SMALLEST) > room:
        cut = cut[:-1]
    return cut.rstrip() + "…" if width_of("…", SMALLEST) <= room else "", SMALLEST


def laid_out(carrier_id: str, texts: Sequence[tuple[int, str]], size: tuple[float, float]) -> Label:
    """Lay out a label.

    Args:
        carrier_id: Goes into the QR code.
        texts: The lines from top to bottom, each with its importance; 0 stays longest.
        size: Width and height. [mm]
    """
    wide, high = size
    path, modules = qr_path(carrier_id)
    side = min(high - 1.0, wide * 0.4)
    module = side / (modules + 2 * QUIET_MODULES)
    has_code = module >= MODULE
    module = min(module, 0.6)
    taken = module * (modules + 2 * QUIET_MODULES) if has_code else _EDGE
    room, tall = wide - taken - _EDGE, high - 2 * _EDGE
    lines = [(importance, short(visible(text), 400)) for importance, text in texts if text.strip()]
    most = max(int(tall / (SMALLEST * _PITCH)), 1)
    kept = sorted(sorted(range(len(lines)), key=lambda i: lines[i][0])[:most])
    letters = min(tall / (max(len(kept), 1) * _PITCH), 2.6 if high < 20 else 4.6, tall)
    drawn = []
    top = (high - len(kept) * letters * _PITCH) / 2
    for row, i in enumerate(kept):
        heavier = _BOLD if row == 0 else 1.0
        text, own = fitted(lines[i][1], room / heavier, letters)
        y = top + (row + 0.80) * letters * _PITCH
        drawn.append(LabelLine(
            text=text, x=taken, y=y, size=own, width=min(width_of(text, own) * heavier, room), bold=row == 0
        ))
    left_out = tuple(text for i, (_, text) in enumerate(lines) if i not in kept)
    middle = (high - module * (modules + 2 * QUIET_MODULES)) / 2
    return Label(
        id=carrier_id, width=wide, height=high, lines=tuple(drawn), code=path if has_code else "",
        code_x=module * QUIET_MODULES, code_y=middle + module * QUIET_MODULES, module=module, left_out=left_out,
    )  # fmt: skip


def qr_path(text: str) -> tuple[str, int]:
    """Give a QR code as the path of an SVG drawing, in modules, and how many modules it is wide.

    Example:
        >>> path, modules = qr_path("tg85-u4")
        >>> path.startswith("M0 0h7v1h-7z"), modules   # the upper edge of the first finder pattern
        (True, 21)
    """
    import segno  # slow to load: only for a label with a code

    rows = segno.make(text, error="m", micro=False, boost_error=False).matrix
    parts = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = 0
            while x + run < len(row) and row[x + run]:
                run += 1
            if run:
                parts.append(f"M{x} {y}h{run}v1h-{run}z")
            x += max(run, 1)
    return "".join(parts), len(rows)
