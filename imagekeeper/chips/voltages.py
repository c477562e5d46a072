"""Programming voltages in words: what they rest on, and chips of like number that another letter's voltage destroys."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from imagekeeper.tables import sources
from imagekeeper.tables.chips import ChipRow, chip_rows
from imagekeeper.tables.makers import maker_rows
from imagekeeper.tables.volts import volts_text

#: Kinds of document in which people tell what they believe; a voltage that only these give is told to be so.
HEARSAY = ("forum", "mailing list", "newsgroup", "question and answer site", "web page", "wiki")


def supply_limits(row: ChipRow) -> tuple[float, float]:
    """Give the lowest and the highest supply at which a chip can be read at all, marginal reads included. [V]

    The highest is an absolute maximum: the largest that a maker's sheet gives, or 7 V for a chip of 5 V, which nearly
    all sheets of such chips give (the tables' source `st-m27c256b` for one). The lowest is half the supply: common
    practice, no source. Programming voltages go to another pin, and count for nothing here.

    Example:
        >>> supply_limits(chip_rows()["27128"]), supply_limits(chip_rows()["27C512"])
        ((2.5, 7.0), (2.5, 7.25))
    """
    made_for = row.supplies_v["Vcc"]
    theirs = [one.vcc_max_v for one in maker_rows().get(row.id, ()) if one.vcc_max_v]
    return made_for / 2, max([made_for * 7 / 5, *theirs])


def ground_text(row: ChipRow, field: str) -> str:
    """Say in brackets that no data sheet gives a field; nothing where one does.

    Example:
        >>> [ground_text(chip_rows()[part], "vpp_v") for part in ("2716", "2816", "2732")]
        ['', ' (from memory)', ' (by a mailing list only, no data sheet seen)']
    """
    if field in row.unsourced:
        return " (from memory)"
    kinds = {sources()[one.id].kind for one in row.sources if field in one.gives}
    if kinds and kinds <= set(HEARSAY):
        return f" (by a {' and a '.join(sorted(kinds))} only, no data sheet seen)"
    return ""


def letter_cautions(row: ChipRow) -> tuple[str, ...]:
    """Warn of chips with the same pins whose numbers differ by the last letter: the voltage of one destroys the other.

    Example:
        >>> print(letter_cautions(chip_rows()["2732"])[0].partition(". ")[0])
        A 2732A takes Vpp 21 V and never more than 22 V: the 25 V of a 2732 (by a mailing list only, no data sheet seen) destroys it
        >>> letter_cautions(chip_rows()["2716"])
        ()
    """  # noqa: E501  # an example stands on one line
    return tuple(text for other in chip_rows().values() for text in _between(row, other))


def between_letters(one: str, other: str) -> tuple[str, ...]:
    """Warn of two chips by their ids, as `letter_cautions` does; nothing where neither harms the other.

    Example:
        >>> between_letters("2732A", "2732") == between_letters("2732", "2732A") != ()
        True
        >>> between_letters("2732", "2716")
        ()
    """
    rows = chip_rows()
    return tuple(_between(rows[one], rows[other])) if {one, other} <= set(rows) else ()


def _between(row: ChipRow, other: ChipRow) -> Iterator[str]:
    """The number without its last letter, the pins and the size are the same, and one voltage is past the other's."""
    if row.id == other.id or (_number(row), row.pinout, row.words) != (_number(other), other.pinout, other.words):
        return
    for low, high in ((row, other), (other, row)):
        takes, given, most = _vpp(low), _vpp(high), _most(low)
        if not takes or not given or max(given) <= (most or max(takes)):
            continue
        limit = f" and never more than {volts_text(most)}" if most else ""
        harm = "destroys it" if most else "is more, and counts as what destroys it, for its limit is not known"
        yield (
            f"A {low.id} takes Vpp {_or(takes)}{_ground(low)}{limit}: the {volts_text(max(given))} of a {high.id}"
            f"{_ground(high)} {harm}. Only the last letter of the marking tells the two apart: read all of it."
        )


def _ground(row: ChipRow) -> str:
    """What the voltage rests on; a maker's figure always rests on that maker's sheet."""
    return "" if any(one.vpp_v for one in maker_rows().get(row.id, ())) else ground_text(row, "vpp_v")


def _number(row: ChipRow) -> str:
    return re.sub(r"(?<=[0-9])[A-Z]$", "", row.id)


def _vpp(row: ChipRow) -> tuple[float, ...]:
    theirs = (volts for one in maker_rows().get(row.id, ()) for volts in one.vpp_v.aims)
    return tuple(sorted({*row.vpp_v.aims, *theirs}))


def _most(row: ChipRow) -> float | None:
    theirs = (one.vpp_max_v for one in maker_rows().get(row.id, ()) if one.vpp_max_v)
    return min((*row.vpp_max_v, *theirs), default=None)


def _or(values: Sequence[float]) -> str:
    return " or ".join(map(volts_text, values))
