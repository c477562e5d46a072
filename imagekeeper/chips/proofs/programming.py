"""Ways to program: they exist, their voltages are the row's, and the program pulse goes to a pin that takes it."""

from __future__ import annotations

import re
from collections.abc import Iterator

from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding
from imagekeeper.tables.chips import methods
from imagekeeper.tables.volts import Volts

#: What a way to program asks of a supply, in the first clause of its rule.
_ASKS = re.compile(r"\b(Vcc|Vpp) (\d+(?:\.\d+)?) V\b")

#: How a program pulse is written: its level, and its pin.
_PULSE = re.compile(r"(low|high), on pin (\d+)\b")


def ways_exist(it: RowSubject) -> Iterator[Finding]:
    """Every way to program is one that the table knows."""
    for name in {name for one in it.rows for name in one.methods}:
        if name not in methods():
            yield Finding.of("row-contradicts/method-unknown", "fault", 1, detail={"field": "methods"}, method=name)


def ways_agree(it: RowSubject) -> Iterator[Finding]:
    """The voltages that a way to program asks for are among those of the row, or of the maker whose way it is."""
    for one in it.rows:
        for name in one.methods:
            for supply, volts in asked(name):
                given = one.vpp_v if supply == "Vpp" else one.vcc_programming_v
                if given and not _has(given, volts):
                    yield Finding.of(
                        "row-contradicts/method", "fault", 1,
                        detail={"field": "vpp_v" if supply == "Vpp" else "vcc_programming_v"}, method=name,
                        supply=supply, volts=f"{volts:g} V", given=given.text(),
                    )  # fmt: skip


def asked(name: str) -> tuple[tuple[str, float], ...]:
    """Tell which supplies the rule of a way to program asks for, and their voltages. [V]

    Example:
        >>> asked("quick-100us"), asked("loops")
        ((('Vcc', 6.25), ('Vpp', 12.75)), ())
    """
    way = methods().get(name)
    clause = way.says.partition(";")[0] if way else ""
    return tuple((supply, float(volts)) for supply, volts in _ASKS.findall(clause))


def five_volts_only(it: RowSubject) -> Iterator[Finding]:
    """What is written with 5 V only has no programming voltage."""
    if it.row.programming is not None and it.row.programming.startswith("5 V only") and it.row.vpp_v:
        yield Finding.of("row-contradicts/five-volts-only", "fault", 1, detail={"field": "vpp_v"})


def pulse(it: RowSubject) -> Iterator[Finding]:
    """A low pulse goes to a pin that is active low, a high one to one that is not."""
    if it.row.pulse is None:
        return
    found = _PULSE.match(it.row.pulse)
    if found is None:
        yield Finding.of("row-contradicts/pulse-unclear", "fault", 1, detail={"field": "pulse"}, pulse=it.row.pulse)
        return
    level, pin = found[1], int(found[2])
    names = it.pinout.signals[pin - 1] if 1 <= pin <= len(it.pinout.signals) else ()
    fits = [name for name in names if re.fullmatch(r"/?(?:PGM|CE\d?|CS\d?|WE|PE)", name)]
    program = [name for name in fits if name.lstrip("/") == "PGM"] or fits
    if not any(name.startswith("/") == (level == "low") for name in program):
        yield Finding.of(
            "row-contradicts/pulse", "fault", 1, detail={"field": "pulse"}, level=level, pin=pin,
            names=", ".join(names) or "nothing",
        )  # fmt: skip


def _has(given: Volts, volts: float) -> bool:
    return given.near(volts, 0.001)


PROOFS = (ways_exist, ways_agree, five_volts_only, pulse)
