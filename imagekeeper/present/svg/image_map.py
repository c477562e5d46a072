"""A map of one image: a cell a block, with its kind and how much each byte says."""

from __future__ import annotations

from collections import Counter

from imagekeeper.inspection.results import Block, BlockKind, Inspection
from imagekeeper.present.svg.shapes import BLUE, GROUND, INK, ORANGE, QUIET, Drawing
from imagekeeper.units import address_digits, plural, range_text, size_text

_LEFT, _TOP, _CELL, _HIGH = 84, 92, 44, 40
_COLUMNS = 16
_BAR = 5   # width of the bar that shows the entropy

#: For each kind: its letter, its colour, the colour of letters on it, and what it means. The colours are those of
#: M. Okabe and K. Ito, "Color Universal Design", 2008, two of them darkened; they differ in lightness as well.
KINDS: dict[BlockKind, tuple[str, str, str, str]] = {
    "fill": ("F", GROUND, INK, "fill: one value"),
    "sparse": ("S", "#c3ccd5", INK, "sparse: mostly one value"),
    "text": ("T", "#f0e442", INK, "text: printable ASCII"),
    "table": ("/", "#56b4e9", INK, "table: neighbours near each other"),
    "varied": ("C", BLUE, "#ffffff", "varied, as code and most data are"),
    "dense": ("D", ORANGE, INK, "dense: as varied as chance makes it"),
}


def draw(result: Inspection) -> str:
    """Draw the map of an inspection.

    Each cell is one block, named by a letter; fill shows its byte. The bar at its left edge is as high as the bytes
    say much, from 0 bits at the bottom to 8 at the top. Letters carry the meaning, colour only repeats it.
    """
    blocks = result.blocks
    rows = max(-(-len(blocks) // _COLUMNS), 1)
    columns = min(len(blocks), _COLUMNS)
    wide = max(_CELL * columns, 620)
    width, height = _LEFT + wide + 24, _TOP + rows * _HIGH + 136
    count = Counter(block.kind for block in blocks)
    verdict = _verdict(result, count)
    drawing = Drawing(width, height, f"Map of {result.name}", verdict)
    drawing.text(24, 32, "What the image holds", size=18, bold=True)
    drawing.text(24, 52, result.name, size=12, colour=QUIET)
    drawing.text(24, 72, verdict, size=12)
    digits = address_digits(result.start + result.size_bytes)
    for number, block in enumerate(blocks):
        x, y = _LEFT + number % _COLUMNS * _CELL, _TOP + number // _COLUMNS * _HIGH
        if number % _COLUMNS == 0:
            drawing.text(_LEFT - 10, y + _HIGH / 2 + 4, f"{block.start:0{digits}X}", size=12, anchor="end")
        _cell(drawing, block, x, y, digits)
    _legend(drawing, result, _TOP + rows * _HIGH + 28)
    return drawing.text_of()


def _cell(drawing: Drawing, block: Block, x: float, y: float, digits: int) -> None:
    letter, colour, ink, about = KINDS[block.kind]
    high = _HIGH - 3
    drawing.rectangle(
        x, y, _CELL - 3, high, colour,
        note=f"{range_text(block.start, block.length, digits)}: {about}; {block.entropy:.2f} bits a byte, "
        f"{plural(block.distinct, 'different byte')}, {block.commonest_share:.0%} are {block.commonest}",
    )  # fmt: skip
    drawing.rectangle(x, y, _BAR, high, "#ffffff")
    drawn = high * block.entropy / 8
    drawing.rectangle(x, y + high - drawn, _BAR - 1, drawn, INK)
    words = block.commonest if block.kind == "fill" else letter
    drawing.text(x + _BAR + (_CELL - 3 - _BAR) / 2, y + high / 2 + 5, words, size=13, colour=ink, anchor="middle")


def _verdict(result: Inspection, count: Counter[BlockKind]) -> str:
    if not result.blocks:
        return result.says
    kinds = ", ".join(f"{number} {kind}" for kind, number in count.most_common())
    return f"{size_text(result.size_bytes)} in {plural(len(result.blocks), 'block')}: {kinds}."


def _legend(drawing: Drawing, result: Inspection, y: float) -> None:
    for number, (kind, (letter, colour, ink, about)) in enumerate(KINDS.items()):
        left, top = _LEFT + number % 2 * 310, y + number // 2 * 24
        drawing.rectangle(left, top - 13, 30, 18, colour)
        drawing.text(left + 15, top, "FF" if kind == "fill" else letter, size=12, colour=ink, anchor="middle")
        drawing.text(left + 40, top, about + (" (shown)" if kind == "fill" else ""), size=12)
    top = y + 3 * 24
    drawing.rectangle(_LEFT + 12, top - 13, _BAR - 1, 18, INK)
    drawing.text(
        _LEFT + 40, top, "black bar: how much each byte says, from 0 bits (no bar) to 8 (full height)", size=12
    )
    drawing.text(_LEFT + 40, top + 22, f"one cell is {size_text(result.block_bytes)}", size=12, colour=QUIET)
