"""What a row rests on: every member has one ground, and what is derived comes out again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields
from typing import Any

from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding
from imagekeeper.tables.chips import ChipRow, carrier_of

#: What names a row or says something about it, and is no claim itself; the pinout has grounds of its own.
_NO_CLAIMS = frozenset({"id", "pinout", "sources", "derived", "unsourced", "disputed"})

#: How a member that is derived comes out, by its rule.
RULES: dict[str, Callable[[ChipRow], Any]] = {
    "words x bits / 8": lambda row: row.words * row.bits // 8,
    "technology": lambda row: carrier_of(row.technology),
}


def given(row: ChipRow) -> frozenset[str]:
    """Name the members that a row gives a value.

    Example:
        >>> from imagekeeper.tables.chips import chip_rows
        >>> "vpp_v" in given(chip_rows()["2716"]), "vpp_v" in given(chip_rows()["2332"])
        (True, False)
    """
    return frozenset(
        one.name for one in fields(row)
        if one.name not in _NO_CLAIMS and (one.default is MISSING or getattr(row, one.name) != one.default)
    )  # fmt: skip


def one_ground_each(it: RowSubject) -> Iterator[Finding]:
    """Every member that has a value is sourced, derived or from memory, and only one of these."""
    sourced = {field for one in it.row.sources for field in one.gives}
    derived, memory = set(it.row.derived), set(it.row.unsourced)
    for field in sorted(given(it.row) | sourced | derived | memory):
        known = [name for name, group in (("sources", sourced), ("derived", derived), ("unsourced", memory))
                 if field in group]  # fmt: skip
        if field not in given(it.row):
            yield Finding.of("row-contradicts/ground-of-nothing", "fault", 1, detail={"field": field}, grounds=known)
        elif not known:
            yield Finding.of("row-contradicts/no-ground-given", "fault", 1, detail={"field": field})
        elif len(known) > 1:
            yield Finding.of("row-contradicts/grounds", "fault", 1, detail={"field": field}, grounds=known)


def derived_again(it: RowSubject) -> Iterator[Finding]:
    """What is derived is what its rule gives."""
    for field, rule in it.row.derived.items():
        again = RULES.get(rule)
        if again is None:
            yield Finding.of("row-contradicts/rule-unknown", "fault", 1, detail={"field": field}, rule=rule)
        elif getattr(it.row, field, None) != again(it.row):
            yield Finding.of(
                "row-contradicts/derived", "fault", 1, detail={"field": field}, rule=rule,
                given=getattr(it.row, field, None), expected=again(it.row),
            )  # fmt: skip


def disputes(it: RowSubject) -> Iterator[Finding]:
    """What is disputed is a member that has a value, or a reason why none is given."""
    for one in it.row.disputed:
        if one.field not in given(it.row):
            yield Finding.of("row-contradicts/dispute-of-nothing", "fault", 1, detail={"field": one.field})


PROOFS = (one_ground_each, derived_again, disputes)
