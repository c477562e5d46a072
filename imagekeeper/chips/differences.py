"""Makers' parts of one number that differ: in what destroys the other's part, or only in what serves it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import permutations
from typing import Any

from imagekeeper.tables.chips import Method, Signature, methods
from imagekeeper.tables.makers import MakerRow
from imagekeeper.tables.volts import volts_text

#: Programming voltages that are further apart than this are of different kinds of cell. [V] Common practice, no source.
APART_V = 3.0

#: A supply above this is raised for programming, and may be past another maker's limit. [V] 5 V and a tenth.
RAISED_V = 5.5


def dangers(makers: Iterable[MakerRow]) -> tuple[str, ...]:
    """Say where what one maker's part takes destroys another's of the same number, gravest first.

    Args:
        makers: What is known of each maker's part.

    Example:
        >>> from imagekeeper.tables.makers import maker_rows
        >>> print(*dangers(maker_rows()["2732A"]), sep="; ")
        SGS-Thomson's part takes pulses of 45 ms or more, and Texas Instruments's 11 ms at most
        >>> dangers(maker_rows()["27C010"])
        ()
    """
    pairs = tuple(permutations(makers, 2))
    found = [text for look in (_vpp, _vcc, _pulse) for one, other in pairs for text in look(one, other)]
    return tuple(dict.fromkeys(found))


def differing(makers: Sequence[MakerRow], known: Sequence[Signature] = ()) -> tuple[str, ...]:
    """Name the members in which makers' parts of one number differ, as far as their sheets were seen.

    Args:
        makers: What is known of each maker's part.
        known: What makers' parts answer when asked for their signature.

    Example:
        >>> from imagekeeper.tables.makers import maker_rows
        >>> differing(maker_rows()["2732A"]), differing(maker_rows()["27C010"])
        (('methods',), ('vpp_v', 'vcc_programming_v', 'methods'))
    """
    seen: dict[str, set[Any]] = {
        "vpp_v": {one.vpp_v.figures for one in makers if one.vpp_v},
        "vcc_programming_v": {one.vcc_programming_v.figures for one in makers if one.vcc_programming_v},
        "methods": {one.methods for one in makers if one.methods},
        "signatures": {one.code for one in known} if len({one.maker for one in known}) > 1 else set(),
    }
    return tuple(name for name, values in seen.items() if len(values) > 1)


def _vpp(one: MakerRow, other: MakerRow) -> Iterator[str]:
    if not one.vpp_v:
        return
    takes = max(one.vpp_v.aims)
    if other.vpp_max_v is not None and takes > other.vpp_max_v:
        yield (
            f"the Vpp of {volts_text(takes)} that {one.maker}'s part takes is past the {volts_text(other.vpp_max_v)} "
            f"that {other.maker}'s stands"
        )
    elif other.vpp_v and takes - max(other.vpp_v.aims) > APART_V:
        yield (
            f"{one.maker}'s part takes a Vpp of {volts_text(takes)}, and {other.maker}'s "
            f"{volts_text(max(other.vpp_v.aims))}"
        )


def _vcc(one: MakerRow, other: MakerRow) -> Iterator[str]:
    raised = max(one.vcc_programming_v.figures, default=0.0)
    if raised > RAISED_V and other.vcc_max_v is not None and raised >= other.vcc_max_v and one.vcc_max_v != raised:
        yield (
            f"the Vcc of {volts_text(raised)} that {one.maker}'s part takes is the limit of {other.maker}'s, or past it"
        )


def _pulse(one: MakerRow, other: MakerRow) -> Iterator[str]:
    longest = max((way.pulse_us[-1] for way in _single(other)), default=None)
    shortest = min((way.pulse_us[0] for way in _single(one)), default=None)
    if longest is not None and shortest is not None and shortest > longest:
        yield (
            f"{one.maker}'s part takes pulses of {shortest / 1000:g} ms or more, and {other.maker}'s "
            f"{longest / 1000:g} ms at most"
        )


def _single(row: MakerRow) -> tuple[Method, ...]:
    """The ways in which every byte takes one pulse of a fixed length."""
    return tuple(way for way in (methods()[name] for name in row.methods) if way.most_pulses == 1 and way.pulse_us)
