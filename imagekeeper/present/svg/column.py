"""Pictures that are read from top to bottom, in one narrow column: the verdict, then one thing below the other."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from imagekeeper.present.svg.shapes import INK, QUIET, Drawing, Texture

#: Where the column begins, and how wide it is: narrow, so that it can be read on a telephone. [pixel]
LEFT, WIDE = 18, 464


class Column:
    """Lines one below the other, and marks with their key.

    Args:
        drawing: Where to; its height is set by whoever knows the last line.

    Attributes:
        drawing: Where to.
        y: The base of the last line. [pixel]
    """

    def __init__(self, drawing: Drawing) -> None:
        self.drawing, self.y = drawing, 18.0

    def line(self, words: str, *, size: int = 11, bold: bool = False, quiet: bool = False, high: int = 17) -> None:
        """Write a line."""
        self.y += high
        self.drawing.text(LEFT, self.y, words, size=size, bold=bold, colour=QUIET if quiet else INK)

    def verdict(self, words: str) -> None:
        """Write what the picture says, first of all."""
        for line in textwrap.wrap(words, 46):
            self.line(line, size=17, bold=True, high=24)

    def sentence(self, words: str, *, high: int = 17) -> None:
        """Write a sentence on as many lines as it takes."""
        for line in textwrap.wrap(words, 82):
            self.line(line, high=high)

    def head(self, words: str) -> None:
        """Begin a section."""
        self.y += 22
        self.drawing.line(LEFT, self.y, LEFT + WIDE, self.y)
        self.line(words, size=13, bold=True, high=20)
        self.y += 2

    def key(self, marks: Sequence[tuple[Texture, str, str]]) -> None:
        """Say what marks are: texture, colour, and the words."""
        self.y += 8
        x = float(LEFT)
        for texture, colour, words in marks:
            wide = 16 + len(words) * 5.4
            if x + wide > LEFT + WIDE:
                x, self.y = float(LEFT), self.y + 15
            self.drawing.rectangle(x, self.y, 10, 10, colour, texture=texture)
            self.drawing.text(x + 16, self.y + 9, words, size=10)
            x += wide + 12
        self.y += 12


def cut(words: str, most: int) -> str:
    """Take out the middle of words that are too long for their place.

    Example:
        >>> cut("the log of the outer mole", 12)
        'the log …ole'
    """
    if len(words) <= most:
        return words
    return f"{words[: most * 2 // 3]}…{words[-(most - most * 2 // 3 - 1) :]}"
