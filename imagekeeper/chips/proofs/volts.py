"""Voltages: each has its pin, lies within its limits, and is written as what it is."""

from __future__ import annotations

import re
from collections.abc import Iterator

from imagekeeper.chips.differences import dangers
from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding
from imagekeeper.tables.volts import Volts, volts_text

#: No supply of such a chip is beyond this, and no programming voltage, but for PMOS. [V] Common practice, no source.
MOST_SUPPLY, MOST_VPP, MOST_PMOS = 15.0, 30.0, 60.0


def vpp_has_a_pin(it: RowSubject) -> Iterator[Finding]:
    """A programming voltage has a pin: Vpp, or the program pin of the early kinds; and Vpp a voltage, or a reason."""
    given = bool(it.row.vpp_v or it.row.vpp_max_v or any(one.vpp_v for one in it.makers))
    if given and not {"Vpp", "PGM"} & it.names:
        yield Finding.of("row-contradicts/vpp-without-pin", "fault", 1, detail={"field": "vpp_v"})
    told = it.row.ask_maker is not None or dangers(it.makers) or re.search(r"\bVpp\b", it.remarks)
    if "Vpp" in it.names and not it.row.vpp_v and not told:
        pins = it.pins_of("Vpp")
        yield Finding.of("row-contradicts/pin-without-vpp", "fault", 1, detail={"field": "vpp_v"}, pins=pins)


def shapes(it: RowSubject) -> Iterator[Finding]:
    """A range begins with its lower end; a choice has different figures, lowest first."""
    for field, volts in _all(it):
        figures = volts.figures
        ordered = list(figures) == sorted(figures) or volts.kind == "steps"
        many = 2 if volts.kind == "range" else max(len(figures), 2) if volts.kind != "single" else min(len(figures), 1)
        if not ordered or len(set(figures)) != len(figures) or len(figures) != many:
            yield Finding.of(
                "row-contradicts/voltage-shape", "fault", 1, detail={"field": field}, kind=volts.kind, figures=figures
            )
    if list(it.row.vpp_max_v) != sorted(set(it.row.vpp_max_v)):
        yield Finding.of(
            "row-contradicts/voltage-shape", "fault", 1, detail={"field": "vpp_max_v"}, kind="any",
            figures=it.row.vpp_max_v,
        )  # fmt: skip


def limits(it: RowSubject) -> Iterator[Finding]:
    """No figure is past its own absolute maximum, a maker's or the row's; the row has the lowest of the makers'."""
    pairs = [("vpp_v", it.row.vpp_v, most, it.row.id) for most in it.row.vpp_max_v]
    for one in it.makers:
        pairs += [("vpp_v", one.vpp_v, one.vpp_max_v, one.maker)] if one.vpp_max_v is not None else []
        pairs += [("vcc_programming_v", one.vcc_programming_v, one.vcc_max_v, one.maker)] if one.vcc_max_v else []
    for field, volts, most, whose in pairs:
        if volts and max(volts.figures) > most:
            yield Finding.of(
                "row-contradicts/limit", "fault", 1, detail={"field": field}, whose=whose,
                volts=volts_text(max(volts.figures)), most=volts_text(most),
            )  # fmt: skip
    theirs = [one.vpp_max_v for one in it.makers if one.vpp_max_v is not None]
    if it.row.vpp_max_v and theirs and min(it.row.vpp_max_v) > min(theirs):
        yield Finding.of(
            "row-contradicts/lowest-limit", "fault", 1, detail={"field": "vpp_max_v"},
            most=volts_text(min(it.row.vpp_max_v)), lowest=volts_text(min(theirs)),
        )  # fmt: skip


def signs(it: RowSubject) -> Iterator[Finding]:
    """Vcc is positive and Vbb negative; nothing is beyond what such chips take; negative Vpp is that of PMOS."""
    pmos = it.row.technology == "pmos-eprom"
    for name, value in it.row.supplies_v.items():
        wrong_sign = value <= 0 if name == "Vcc" else value >= 0 if name == "Vbb" and not pmos else value == 0
        if wrong_sign or abs(value) > MOST_SUPPLY:
            yield Finding.of(
                "row-contradicts/supply", "fault", 1, detail={"field": "supplies_v"}, name=name,
                volts=f"{value:+g} V",
            )  # fmt: skip
    for field, volts in _all(it):
        low = 0.0 if field == "vcc_programming_v" else -MOST_PMOS if pmos else 5.0
        high = 0.0 if pmos else MOST_SUPPLY if field == "vcc_programming_v" else MOST_VPP
        for value in volts.figures:
            if not low <= value <= high:
                yield Finding.of(
                    "row-contradicts/voltage", "fault", 1, detail={"field": field}, volts=f"{value:+g} V",
                    low=volts_text(low), high=volts_text(high),
                )  # fmt: skip
    tolerance = it.row.supply_tolerance_percent
    if tolerance is not None and not 0 < tolerance <= 20:
        yield Finding.of(
            "row-contradicts/tolerance", "fault", 1, detail={"field": "supply_tolerance_percent"}, tolerance=tolerance
        )


def makers_agree(it: RowSubject) -> Iterator[Finding]:
    """A row that gives a voltage, limit or way to program for all makers has none whom it would harm."""
    given = it.row.vpp_v or it.row.vpp_max_v or it.row.vcc_programming_v or it.row.methods or it.row.programming
    if it.row.ask_maker is not None and given:
        yield Finding.of(
            "row-contradicts/asks-and-gives", "fault", 1, detail={"field": "ask_maker"}, because=it.row.ask_maker
        )
    if given and it.row.ask_maker is None:
        for danger in dangers(it.makers)[:1]:
            yield Finding.of(
                "row-contradicts/makers-differ", "fault", 1, detail={"field": "ask_maker"}, because=danger
            )


def _all(it: RowSubject) -> Iterator[tuple[str, Volts]]:
    for one in it.rows:
        yield from (("vpp_v", one.vpp_v), ("vcc_programming_v", one.vcc_programming_v))


PROOFS = (vpp_has_a_pin, shapes, limits, signs, makers_agree)
