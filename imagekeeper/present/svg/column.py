"""Pictures that are read from top to bottom, in one narrow column: the verdict, then one thing below the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from imagekeeper.legible import shortened, visible
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
        for line in broken(words, 17, bold=True):
            self.line(line, size=17, bold=True, high=24)

    def sentence(self, words: str, *, high: int = 17) -> None:
        """Write a sentence on as many lines as it takes."""
        for line in broken(words):
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
            wide = 16 + width_of(words, 10)
            if x + wide > LEFT + WIDE:
                x, self.y = float(LEFT), self.y + 15
            self.drawing.rectangle(x, self.y, 10, 10, colour, texture=texture)
            self.drawing.text(x + 16, self.y + 9, words, size=10)
            x += wide + 12
        self.y += 12


def width_of(words: str, size: int = 11, *, bold: bool = False) -> float:
    """Estimate how wide words are in a wide sans-serif; nothing measures fonts here. [pixel]

    Example:
        >>> width_of("tide") < width_of("TIDE") < width_of("TIDE", bold=True)
        True
    """
    ems = sum(
        1.0 if not one.isascii() else 0.72 if one.isupper() else 0.6 if one.isalnum() else 0.42 for one in words
    )
    return ems * size * (1.1 if bold else 1.0)


def fitted(words: str, width: float = WIDE, size: int = 11, *, bold: bool = False) -> str:
    """Take out the middle of words that are too wide for their place.

    Example:
        >>> fitted("the log of the outer mole", 100)
        'the log of…mole'
    """
    words = visible(shortened(words, 1000))   # an escape is as wide as it is written
    keep = len(words)
    while keep > 2 and width_of(_without_middle(words, keep), size, bold=bold) > width:
        keep -= 1
    return _without_middle(words, keep)


def _without_middle(words: str, keep: int) -> str:
    if keep >= len(words):
        return words
    behind = keep // 3
    return f"{words[: keep - behind]}…{words[len(words) - behind :]}"


def broken(words: str, size: int = 11, *, bold: bool = False) -> Iterator[str]:
    """Break a sentence into lines that fit the column."""
    line = ""
    for word in visible(shortened(words, 1000)).split():
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size, bold=bold) > WIDE:
            yield line
            longer = word
        line = fitted(longer, size=size, bold=bold)
    yield line
