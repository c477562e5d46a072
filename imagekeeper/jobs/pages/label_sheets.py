"""Labels in their places on sheets of paper, in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.jobs.pages.label_layout import Label
from imagekeeper.jobs.pages.values import Made

#: Sizes of paper: width and height [mm]. Sources: ISO 216; ANSI/ASME Y14.1, 8.5 by 11 inches; both from memory.
PAPERS: dict[str, tuple[float, float]] = {"a4": (210, 297), "letter": (215.9, 279.4)}

#: What printers leave free at the edges, with room to spare. Common practice, no source. [mm]
MARGIN = 10.0

#: Between labels, for the scissors. [mm]
GAP = 2.0


@dataclass(frozen=True)
class Placed:
    """A label in its place.

    Attributes:
        label: The label.
        x: Its left edge. [mm]
        y: Its upper edge. [mm]
    """

    label: Label
    x: float
    y: float


@dataclass(frozen=True)
class LabelSheets:
    """Sheets of labels, as a page that prints at its true size.

    Attributes:
        title: What they are.
        made: When and from what.
        paper: Width and height of a sheet. [mm]
        sheets: The labels of each sheet in their places.
    """

    title: str
    made: Made
    paper: tuple[float, float]
    sheets: tuple[tuple[Placed, ...], ...]


def fits(size: tuple[float, float], paper: str) -> bool:
    """Whether a label of this size fits on the paper.

    Example:
        >>> fits((28, 11), "a4"), fits((200, 11), "a4")
        (True, False)
    """
    wide, high = PAPERS[paper]
    return size[0] <= wide - 2 * MARGIN and size[1] <= high - 2 * MARGIN


def arranged(labels: Sequence[Label], paper: str, skip: int = 0) -> tuple[tuple[Placed, ...], ...]:
    """Put labels on sheets, row by row; each is as high as the tallest of its row.

    Args:
        labels: The labels; each must fit on the paper.
        paper: A key of `PAPERS`.
        skip: How many places of the size of the first label to leave empty, because they were used before.
    """
    wide, high = PAPERS[paper]
    sheets: list[tuple[Placed, ...]] = []
    sheet: list[Placed] = []
    x, y, row = MARGIN, MARGIN, 0.0
    todo: list[Label | None] = [None] * skip if labels else []
    for label in [*todo, *labels]:
        w, h = (label or labels[0]).width, (label or labels[0]).height
        if x > MARGIN and x + w > wide - MARGIN + 1e-6:
            x, y, row = MARGIN, y + row + GAP, 0.0
        if y > MARGIN and y + h > high - MARGIN + 1e-6:
            sheets.append(tuple(sheet))
            sheet, x, y, row = [], MARGIN, MARGIN, 0.0
        if label is not None:
            sheet.append(Placed(label, x, y))
        x, row = x + w + GAP, max(row, h)
    sheets.append(tuple(sheet))
    return tuple(one for one in sheets if one)
