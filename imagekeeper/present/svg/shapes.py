"""Drawings as SVG 1.1 text: a few shapes, one palette, nothing fetched, no script."""

from __future__ import annotations

import xml.etree.ElementTree as ET  # written only, never parsed
from typing import Literal

from imagekeeper.legible import visible

#: Colours that colour-blind people can tell apart: M. Okabe and K. Ito, "Color Universal Design", 2008, two of them
#: darkened so that text in them is legible on white.
INK = "#1c1f23"
QUIET = "#5c6670"
PAPER = "#ffffff"
GROUND = "#eef1f4"
ORANGE = "#d55e00"
BLUE = "#0072b2"

#: The same where the reader's screen is dark, for drawings that follow it.
DARK = {
    INK: "#e8e6e1", QUIET: "#b3aea2", PAPER: "#17161a", GROUND: "#34323a", ORANGE: "#ff9a4d", BLUE: "#6bb8ff",
}  # fmt: skip

#: How a shape may be filled besides whole: what colour says, these say too.
Texture = Literal["whole", "hatched", "dotted", "hollow"]

FONT = "DejaVu Sans, Verdana, Helvetica, sans-serif"


class Drawing:
    """A canvas; coordinates in pixels from the upper left corner.

    Args:
        width: [pixel]
        height: [pixel]
        title: What the picture is, for people who cannot see it.
        description: What it shows, in a sentence or two, for the same people.
        follows: Whether it is a file of its own, which becomes dark with the reader's screen and narrow with a small
            one; a drawing inside a page cannot, whose rules forbid a style of its own.

    Example:
        >>> drawing = Drawing(100, 50, "A dot", "One dot.")
        >>> drawing.rectangle(1, 2, 3, 4, BLUE)
        >>> "rect" in drawing.text_of()
        True
    """

    def __init__(self, width: int, height: int, title: str, description: str, *, follows: bool = False) -> None:
        self._width, self._follows = width, follows
        self._root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {width} {height}",
                "width": str(width), "height": str(height), "role": "img", "font-family": FONT,
            },
        )  # fmt: skip
        ET.SubElement(self._root, "title").text = title
        ET.SubElement(self._root, "desc").text = description
        if follows:
            ET.SubElement(self._root, "style").text = _style()
        self.rectangle(0, 0, width, height, PAPER)
        self._ground = self._root[-1]

    def end_at(self, height: float) -> None:
        """Give the canvas another height, once it is known how much was drawn."""
        tall = str(int(height))
        self._root.set("height", tall)
        self._root.set("viewBox", f"0 0 {self._width} {tall}")
        self._ground.set("height", tall)

    def rectangle(
        self, x: float, y: float, width: float, height: float, fill: str, *, opacity: float = 1.0, note: str = "",
        texture: Texture = "whole",
    ) -> None:  # fmt: skip
        """Draw a filled rectangle; the note appears when the pointer rests on it.

        One with a texture has an outline of its colour: hatched, dotted or hollow inside.
        """
        place = {"x": _number(x), "y": _number(y), "width": _number(width), "height": _number(height)}
        attributes = {**place, **self._coloured("fill", fill)}
        if texture != "whole":
            inside, outline = self._coloured("fill", PAPER), self._coloured("stroke", fill)
            both = " ".join(one["class"] for one in (inside, outline) if "class" in one)
            attributes = {**place, **inside, **outline, **({"class": both} if both else {})}
        if opacity != 1.0:
            attributes["fill-opacity"] = _number(opacity)
        shape = ET.SubElement(self._root, "rect", attributes)
        if note:
            ET.SubElement(shape, "title").text = note
        if texture == "hatched":
            self._path(_hatching(x, y, width, height), fill)
        elif texture == "dotted":
            self._path(_dotting(x, y, width, height), fill)

    def line(self, x1: float, y1: float, x2: float, y2: float, colour: str = QUIET) -> None:
        """Draw a thin line."""
        ends = {"x1": _number(x1), "y1": _number(y1), "x2": _number(x2), "y2": _number(y2)}
        ET.SubElement(self._root, "line", {**ends, **self._coloured("stroke", colour), "stroke-width": "1"})

    def _path(self, steps: str, colour: str) -> None:
        if steps:
            ET.SubElement(self._root, "path", {"d": steps, **self._coloured("stroke", colour), "stroke-width": "1.2"})

    def _coloured(self, what: str, colour: str) -> dict[str, str]:
        attributes = {what: colour}
        if self._follows and colour in DARK:
            attributes["class"] = f"{what}-{list(DARK).index(colour)}"
        return attributes

    def text(
        self, x: float, y: float, words: str, *,
        size: int = 12, colour: str = INK, anchor: str = "start", bold: bool = False,
    ) -> None:  # fmt: skip
        """Write words with their base line at y; `anchor` is start, middle or end."""
        attributes = {
            "x": _number(x), "y": _number(y), "font-size": str(size), **self._coloured("fill", colour),
            "text-anchor": anchor,
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


def _style() -> str:
    """Rules that a drawing of its own follows: dark on a dark screen, light on paper, no wider than the screen."""
    rules = " ".join(
        f".{what}-{number} {{ {what}: {colour}; }}" for number, colour in enumerate(DARK.values())
        for what in ("fill", "stroke")
    )  # fmt: skip
    light = " ".join(
        f".{what}-{number} {{ {what}: {colour}; }}" for number, colour in enumerate(DARK) for what in ("fill", "stroke")
    )
    return (
        "svg { max-width: 100%; height: auto; } "
        f"@media (prefers-color-scheme: dark) {{ svg:root {{ background: {DARK[PAPER]}; }} {rules} }} "
        f"@media print {{ svg:root {{ background: {PAPER}; }} {light} }}"
    )


def _hatching(x: float, y: float, width: float, height: float, apart: float = 4.0) -> str:
    """Give slanted lines across a rectangle, as the steps of a path."""
    steps, at = [], apart
    while at < width + height:
        x1, y1 = (x + at, y) if at <= width else (x + width, y + at - width)
        x2, y2 = (x, y + at) if at <= height else (x + at - height, y + height)
        steps.append(f"M{_number(x1)} {_number(y1)}L{_number(x2)} {_number(y2)}")
        at += apart
    return "".join(steps)


def _dotting(x: float, y: float, width: float, height: float, apart: float = 3.0) -> str:
    """Give rows of dots inside a rectangle, as the steps of a path."""
    steps = []
    row = y + apart / 2
    while row < y + height:
        column = x + apart / 2
        while column < x + width:
            steps.append(f"M{_number(column)} {_number(row)}h1")
            column += apart
        row += apart
    return "".join(steps)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
