"""Disks as rulers: one for each side, its cylinders from left to right, with stems where something is to be told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from imagekeeper.present.svg.shapes import GROUND, INK, ORANGE, QUIET, Drawing, Texture

#: Of a ruler: how far it is from the left, how high its scale and its longest stems are. [pixel]
_LABEL, _SCALE, _LONGEST = 52, 14, 18

#: The least that a stem is high and wide. [pixel]
_LEAST, _NARROWEST = 5, 3.0

#: With more sides, only those with stems are drawn; and where these are more too, all sides are one ruler.
_SIDES = 4

#: The scale is numbered by the first of these that leaves room. [cylinder]
_STEPS = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)


Key = TypeVar("Key")


@dataclass(frozen=True)
class Stem:
    """What stands on a ruler at one cylinder of a side.

    Attributes:
        above: How long the stem above is, from 0 to 1.
        below: How long the stem below is, from 0 to 1.
        texture: Of the stem below.
        note: In words.
    """

    above: float = 0.0
    below: float = 0.0
    texture: Texture = "hatched"
    note: str = ""


def draw_rulers(
    drawing: Drawing, y: float, cylinders: int, heads: int, stems: Mapping[tuple[int, int], Stem], *,
    left: float, width: float,
) -> float:  # fmt: skip
    """Draw the rulers of a disk.

    Args:
        drawing: Where to.
        y: The upper edge. [pixel]
        cylinders: How many the disk has.
        heads: How many sides it has.
        stems: What is to be told, by cylinder and side.
        left: The left edge. [pixel]
        width: Of everything. [pixel]

    Returns:
        The lower edge. [pixel]
    """
    wide = (width - _LABEL) / max(cylinders, 1)
    for label, mine in _sides(heads, stems):
        scale = y + _LONGEST + 14
        drawing.text(left, scale + 11, label, size=11)
        _scale(drawing, left + _LABEL, scale, cylinders, wide)
        for above in (True, False):
            _stems(drawing, left + _LABEL, scale, wide, mine, above=above)
        y = scale + _SCALE + _LONGEST + 14
    return y


def _sides(heads: int, stems: Mapping[tuple[int, int], Stem]) -> Iterator[tuple[str, dict[int, Stem]]]:
    hit = sorted({side for _, side in stems})
    shown = list(range(heads)) if heads <= _SIDES else hit
    if len(shown) > _SIDES:
        yield "all sides", _merged(stems, lambda place: place[0])
        return
    for side in shown:
        yield f"side {side}", {cylinder: stem for (cylinder, mine), stem in stems.items() if mine == side}


def _merged(stems: Mapping[Key, Stem], place: Callable[[Key], int]) -> dict[int, Stem]:
    """Put stems together that come to stand in one place: the longest counts."""
    found: dict[int, Stem] = {}
    for key, stem in stems.items():
        at, here = place(key), found.get(place(key))
        found[at] = stem if here is None else Stem(
            max(here.above, stem.above), max(here.below, stem.below),
            stem.texture if stem.below > here.below else here.texture, here.note,
        )  # fmt: skip
    return found


def _scale(drawing: Drawing, x: float, y: float, cylinders: int, wide: float) -> None:
    drawing.rectangle(x, y, cylinders * wide, _SCALE, GROUND)
    drawing.line(x, y, x + cylinders * wide, y, QUIET)
    drawing.line(x, y + _SCALE, x + cylinders * wide, y + _SCALE, QUIET)
    step = next((one for one in _STEPS if one * wide >= 34), _STEPS[-1])
    for at in range(0, cylinders, step // 10):
        long = at % step == 0
        if long or wide * step / 10 >= 3:
            drawing.line(x + at * wide, y, x + at * wide, y + (_SCALE if long else 3), QUIET)
        if long and (cylinders - at) * wide > 22:
            drawing.text(x + at * wide + 2, y + 12, str(at), size=9)


def _stems(
    drawing: Drawing, x: float, scale: float, wide: float, stems: Mapping[int, Stem], *, above: bool
) -> None:
    together = max(1, -int(-_NARROWEST // wide))
    thick = min(max(wide * together * 0.75, _NARROWEST), 9.0)
    told = -1.0   # how far labels reach
    mine = {at: stem for at, stem in sorted(stems.items()) if (stem.above if above else stem.below)}
    for at, stem in _merged(mine, lambda at: at // together).items():
        share = stem.above if above else stem.below
        high = _LEAST + (_LONGEST - _LEAST) * share
        middle = x + (at + 0.5) * together * wide
        top = scale - high if above else scale + _SCALE
        drawing.rectangle(
            middle - thick / 2, top, thick, high, ORANGE if above else INK, note=stem.note,
            texture="whole" if above else stem.texture,
        )  # fmt: skip
        words = str(next(one for one in mine if one // together == at))
        half = len(words) * 3.2
        if middle - half > told:
            drawing.text(middle, top - 3 if above else top + high + 9, words, size=9, anchor="middle")
            told = middle + half + 4
