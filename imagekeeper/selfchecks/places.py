"""Where a stored check value is looked for, and what it is then taken over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.selfchecks.chance import Tier
from imagekeeper.selfchecks.figures import Ranges
from imagekeeper.selfchecks.fill import FillRun

LEFT_OUT = {"nothing": 0, "6 bytes of vectors": 6, "8 bytes of vectors": 8, "16 bytes": 16}

#: The place of a value whose last bytes look like the fill.
IN_THE_FILL = "used end, in the fill"

#: What stands behind the fill is a check value alone where it is no longer than this. [byte]
_VALUE = 4


@dataclass(frozen=True, kw_only=True)
class CheckPlace:
    """Where a check value is looked for, and what it is taken over.

    Attributes:
        id: Short name of the place.
        at: Offset of the stored value. [byte]
        over: The bytes that the value is taken over. [byte]
        tier: How far the place is usual.
        says: What to add to the title of a check that holds there.
        usual_only: Whether only the usual conventions are tried there.
    """

    id: str
    at: int
    over: Ranges
    tier: Tier
    says: str = ""
    usual_only: bool = False


def places(
    size: int, width: int, asked: int | None, fill: FillRun | None = None, step: int = 1
) -> Iterator[CheckPlace]:
    """Name where a stored value of some width is looked for.

    Args:
        size: Length of the searched range. [byte]
        width: Size of the value. [byte]
        asked: Offset that the user gave, or None; it may lie outside the range. [byte]
        fill: Where the range is filled, if it is.
        step: Length of the words that the figure needs whole. [byte]
    """
    if size <= width + 16:
        return
    found: list[CheckPlace] = []
    if asked is not None:
        if asked >= size or asked <= -width:
            found.append(CheckPlace(id="asked", at=asked, over=((0, size),), tier="asked"))
        elif 0 <= asked <= size - width:
            parts = tuple((a, b) for a, b in ((0, asked), (asked + width, size)) if a < b)
            found.append(CheckPlace(id="asked", at=asked, over=parts, tier="asked"))
            if asked:
                found.append(CheckPlace(id="asked, and before only", at=asked, over=((0, asked),), tier="possible"))
    found.append(CheckPlace(id="end", at=size - width, over=((0, size - width),), tier="usual"))
    found.append(CheckPlace(id="start", at=0, over=((width, size),), tier="possible"))
    if fill is not None:
        found += _around(fill, size, width, step)
    spots = {
        "16 before the end": size - 16,   # AT&T 3B2 off-line diagnostic manual, page 5-8: a tape controller's ROM
        "before 6 bytes of vectors": size - 6 - width,
        "before 8 bytes of vectors": size - 8 - width,
        "before the last 16": size - 16 - width,
    }
    for name, at in spots.items():
        found.append(CheckPlace(id=name, at=at, over=((0, at),), tier="possible"))
        found.append(
            CheckPlace(id=f"{name}, and after", at=at, over=((0, at), (at + width, size)), tier="possible")
        )
    seen = set()
    for place in found:   # an address that the user gave may be one of the others
        if (place.at, place.over) not in seen and not any(edge % step for part in place.over for edge in part):
            seen.add((place.at, place.over))
            yield place


def _around(fill: FillRun, size: int, width: int, step: int) -> Iterator[CheckPlace]:
    """The places that the used part gives: at its end, and behind the fill that is left out."""
    used, after = fill.start + -fill.start % step, fill.end - fill.end % step
    at = used - width
    behind = size - after
    alone = 0 < behind <= _VALUE
    if at <= 0 or after <= used:
        return
    before = fill.says_before
    yield CheckPlace(
        id="used end", at=at, over=((0, at),), tier="possible" if alone else "used", says=f"{before}, at its end"
    )
    for more in range(1, width // 2 + 1) if step == 1 else ():   # the value's last bytes may look like the fill
        yield CheckPlace(
            # with fill to the end there is no value at the end of the image: these take over its share
            id=IN_THE_FILL, at=at + more, over=((0, at + more),), tier="possible" if behind else "usual",
            says=f"{before}, at its end", usual_only=width < _VALUE,
        )  # fmt: skip
    if behind > _VALUE:
        yield CheckPlace(
            id="used end, and after", at=at, over=((0, at), (after, size)), tier="possible", says=fill.says_left_out
        )
    if behind >= width or alone:
        over = ((0, used), (after, size - width)) if behind > max(_VALUE, width) else ((0, used),)
        yield CheckPlace(
            id="behind the fill", at=size - width, over=over, tier="used" if alone else "possible",
            says=fill.says_left_out,
        )  # fmt: skip


def cuts(size: int, asked: int | None, fill: FillRun | None) -> set[int]:
    """Every offset at which a range of the rules starts or ends. [byte]"""
    found = {size - left for left in LEFT_OUT.values() if left < size}
    if fill is not None:
        found.update(fill.start + -fill.start % step for step in (1, 2, 4))
    for step in (1, 2, 4):
        for width in (1, 2, 4):
            for place in places(size, width, asked, fill, step):
                found.update(edge for part in place.over for edge in part)
    return {cut for cut in found if 0 <= cut <= size}
