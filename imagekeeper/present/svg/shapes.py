"""Drawings as SVG 1.1 text: a few shapes, one palette, nothing fetched, no script."""

from __future__ import annotations

import xml.etree.ElementTree as ET  # written only, never parsed

from imagekeeper.legible import visible

#: Colours that colour-blind people can tell apart: M. Okabe and K. Ito, "Color Universal Design", 2008, two of them
#: darkened so that text in them is legible on white.
INK = "#1c1f23"
QUIET = "#5c6670"
PAPER = "#ffffff"
GROUND = "#eef1f4"
ORANGE = "#d55e00"
BLUE = "#0072b2"

FONT = "DejaVu Sans, Verdana, Helvetica, sans-serif"


class Drawing:
    """A canvas; coordinates in pixels from the upper left corner.

    Args:
        width: [pixel]
        height: [pixel]
        title: What the picture is, for people who cannot see it.
        description: What it shows, in a sentence or two, for the same people.

    Example:
        >>> drawing = Drawing(100, 50, "A dot", "One dot.")
        >>> drawing.rectangle(1, 2, 3, 4, BLUE)
        >>> "rect" in drawing.text_of()
        True
    """

    def __init__(self, width: int, height: int, title: str, description: str) -> None:
        self._root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {width} {height}",
                "width": str(width), "height": str(height), "role": "img", "font-family": FONT,
            },
        )  # fmt: skip
        ET.SubElement(self._root, "title").text = title
        ET.SubElement(self._root, "desc").text = description
        self.rectangle(0, 0, width, height, PAPER)

    def rectangle(
        self, x: float, y: float, width: float, height: float, fill: str, *, opacity: float = 1.0, note: str = ""
    ) -> None:
        """Draw a filled rectangle; the note appears when the pointer rests on it."""
        place = {"x": _number(x), "y": _number(y), "width": _number(width), "height": _number(height)}
        attributes = {**place, "fill": fill}
        if opacity != 1.0:
            attributes["fill-opacity"] = _number(opacity)
        shape = ET.SubElement(self._root, "rect", attributes)
        if note:
            ET.SubElement(shape, "title").text = note

    def line(self, x1: float, y1: float, x2: float, y2: float, colour: str = QUIET) -> None:
        """Draw a thin line."""
        ends = {"x1": _number(x1), "y1": _number(y1), "x2": _number(x2), "y2": _number(y2)}
        ET.SubElement(self._root, "line", {**ends, "stroke": colour, "stroke-width": "1"})

    def text(
        self, x: float, y: float, words: str, *,
        size: int = 12, colour: str = INK, anchor: str = "start", bold: bool = False,
    ) -> None:  # fmt: skip
        """Write words with their base line at y; `anchor` is start, middle or end."""
        attributes = {
            "x": _number(x), "y": _number(y), "font-size": str(size), "fill": colour, "text-anchor": anchor,
        }  # fmt: skip
        if bold:
            attributes["font-weight"] = "bold"
        ET.SubElement(self._root, "text", attributes).text = words

    def text_of(self) -> str:
        r"""Give the SVG document: what would be unseen in it, or what XML cannot carry, stands there as an escape.

        Source:
            XML 1.0, section 2.2, for the characters that XML cannot carry.

        Example:
            >>> "u4\\u202e\\x07\\ufffe" in Drawing(100, 50, "u4\u202e\x07\ufffe", "").text_of()
            True
        """
        ET.indent(self._root)
        return visible(ET.tostring(self._root, encoding="unicode")) + "\n"


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
