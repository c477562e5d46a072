"""Memory chips: look one up by what is printed on it, and tell its size, voltages and pins."""

from __future__ import annotations

import re
from dataclasses import replace

from imagekeeper.chips import makers, markings
from imagekeeper.chips.cautions import cautions_of
from imagekeeper.chips.differences import differing
from imagekeeper.chips.model import Chip, ChipLine, ChipList, MakerFigures, Pin, Pinout
from imagekeeper.chips.power import order_steps
from imagekeeper.chips.timing import methods_of
from imagekeeper.errors import NotFoundError
from imagekeeper.findings import Finding
from imagekeeper.own import remembered
from imagekeeper.tables import Basis, resting_on, sources
from imagekeeper.tables.chips import (
    LIGHT,
    ChipRow,
    PinoutRow,
    ambiguous,
    chip_rows,
    methods,
    pinout_rows,
    signatures,
    strangers,
)
from imagekeeper.tables.makers import maker_named, maker_rows
from imagekeeper.tables.volts import Volts, volts_text

__all__ = ["Chip", "ChipLine", "ChipList", "MakerFigures", "Pin", "Pinout", "find", "listed"]


def listed(*, carrier: str | None = None, size: int | None = None) -> ChipList:
    """List the chips, of one kind of carrier or one size if wanted.

    Args:
        carrier: The kind of carrier.
        size: What the chip must hold. [byte]

    Example:
        >>> [chip.id for chip in listed(carrier="eprom", size=16384).chips]
        ['27128', '27128A', '27C128']
    """
    return ChipList(
        tuple(
            ChipLine(
                id=r.id, aliases=r.aliases, technology=r.technology, carrier=r.carrier, words=r.words, bits=r.bits,
                bytes=r.bytes, pins=r.pins, vpp_v=r.vpp_v.figures, vpp_kind=r.vpp_v.kind_or_none,
                by_maker=bool(r.ask_maker), own=bool(_own(r)),
            )
            for r in chip_rows().values()
            if carrier in (None, r.carrier) and size in (None, r.bytes)
        )
    )


def find(part: str, maker: str | None = None) -> Chip:
    """Look a chip up by its marking: a maker's prefix, and what tells speed and package, do not matter.

    A letter that could change the programming voltage does matter: there is no way from 2732B to 2732. Which
    prefixes and endings makers put around the generic number is common practice, no source. A prefix alone is no
    proof of the maker, so that `maker` is asked for.

    Args:
        part: As printed or spoken of: `27C128`, `m27c128-15`, `2716 (25V)`. A voltage is compared with the table.
        maker: Who made the chip in hand: its voltages and methods are then that maker's. Without it there are none
            where makers differ in what destroys the chip.

    Raises:
        NotFoundError: `chip-unknown`, with the nearest chips in its hint; `maker-unknown`.

    Example:
        >>> find("M27C128-15").id, find("2716 (25V)").bytes, find("TMS2716").id
        ('27C128', 2048, '2716-three-supply')
        >>> find("2732A").vpp_v, find("2732A", "TI").vpp_v, find("2732A", "TI").methods[0].pulse_us
        ((), (21.0,), (9000, 11000))
    """
    marking = markings.parse(part)
    found = markings.candidates(marking, _names())
    if len(found) != 1:
        raise _unknown(part, found)
    row = chip_rows()[found[0]]
    twin = makers.twin_named(row, part)
    if twin is None and row.technology in LIGHT and "WINBOND" in part[: markings.LIMIT].upper():
        raise _unknown(part, ())
    chip = _chip(found[0] if twin is None else twin.id, maker)
    known = (chip.vpp, *(one.vpp for one in chip.makers), Volts(tuple(chip.supplies_v.values()), "any"))
    odd = [volts for volts in marking.volts if not any(one.near(volts, 0.5) for one in known)]
    if odd:
        stated = " and ".join(volts_text(v) for v in odd)
        told = f"The table does not know {stated} for the {chip.id}: the marking on the chip and its maker's data "
        chip = replace(chip, cautions=(told + "sheet decide, and another type may be meant.", *chip.cautions))
    return chip


def _unknown(part: str, found: tuple[str, ...]) -> NotFoundError:
    shown = repr(part if len(part) <= markings.LIMIT else part[: markings.LIMIT] + "...")
    if len(found) > 1:
        return NotFoundError("chip-unknown/several", marking=shown, parts=found, first=found[0])
    alike = markings.candidates(markings.parse(part), {name: (name,) for name in strangers()})
    if alike:
        return NotFoundError("chip-unknown/stranger", marking=shown, because=strangers()[alike[0]])
    near = markings.nearest(part, _names())
    if re.search(r"WINBOND|(?<![A-Z])W27", re.sub("[ -]", "", part[: markings.LIMIT].upper())):
        return NotFoundError("chip-unknown/electrically-erased", marking=shown)
    if near:
        return NotFoundError("chip-unknown/near-others", marking=shown, near=near)
    return NotFoundError("chip-unknown", marking=shown)


@remembered()
def _names() -> dict[str, tuple[str, ...]]:
    """Every number under which a chip is found, in capitals, with the ids of the chips."""
    names = {name.upper(): (row.id,) for row in chip_rows().values() for name in (row.id, *row.aliases)}
    return names | ambiguous()


@remembered()
def _chip(row_id: str, maker: str | None) -> Chip:
    row = chip_rows()[row_id] if maker is None else makers.of_maker(chip_rows()[row_id], maker)
    pinout = pinout_rows()[row.pinout]
    pins = tuple(
        Pin(number, signals, known)
        for number, (signals, known) in enumerate(zip(pinout.signals, pinout.sourced, strict=True), 1)
    )
    return Chip(
        id=row.id, aliases=row.aliases, technology=row.technology, carrier=row.carrier, words=row.words, bits=row.bits,
        bytes=row.bytes, file_bytes=row.words * ((row.bits + 7) // 8), pins=row.pins,
        row_spacing_inch=row.row_spacing_inch, supplies_v=row.supplies_v,
        supply_tolerance_percent=row.supply_tolerance_percent, outputs=row.outputs, vpp_v=row.vpp_v.figures,
        vpp_kind=row.vpp_v.kind_or_none, vpp_max_v=row.vpp_max_v, vcc_programming_v=row.vcc_programming_v.figures,
        vcc_programming_kind=row.vcc_programming_v.kind_or_none,
        methods=methods_of(row, row.methods), programming=row.programming, blank=row.blank,
        erase_dose_ws_cm2=row.erase_dose_ws_cm2, access_ns=row.access_ns, signatures=signatures().get(row.id, ()),
        cell=row.cell, availability=row.availability, note=row.note, pinout=Pinout(pinout.id, pinout.note, pins),
        cautions=cautions_of(row, maker_named(maker or "")), power_steps=order_steps(row), sources=_bases(row, pinout),
        derived=row.derived | {"file_bytes": "words x (bits / 8, rounded up)"},
        unsourced=(*row.unsourced, *_unsourced_signatures(row.id), *map(_pins_text, pinout.unsourced)),
        disputed=row.disputed + tuple(replace(one, field=_pins_text(one.field)) for one in pinout.disputed),
        maker=maker_named(maker or ""), ask_maker=row.ask_maker, makers=makers.figures_of(row.id),
        makers_differ_in=differing(maker_rows().get(row.id, ()), signatures().get(row.id, ())), pulse=row.pulse,
        erasing=row.erasing, latches_address=row.latches_address, organisations=row.organisations,
        reading=row.reading, ask_marking=row.ask_marking, protection=row.protection, own=_own(row),
    )  # fmt: skip


def _own(row: ChipRow) -> tuple[Finding, ...]:
    return resting_on(("chip", row.id), ("pinout", row.pinout), ("maker", row.id), ("signature", row.id))


def _unsourced_signatures(part: str) -> tuple[str, ...]:
    return () if all(one.sources for one in signatures().get(part, ())) else ("signatures",)


def _pins_text(pins: str) -> str:
    return f"pins {pins}" if "-" in pins else f"pin {pins}"


def _bases(row: ChipRow, pinout: PinoutRow) -> tuple[Basis, ...]:
    gives: dict[str, tuple[str, ...]] = {}
    for cited in row.sources:
        gives[cited.id] = (*gives.get(cited.id, ()), *cited.gives)
    for cited in pinout.sources:
        gives[cited.id] = gives.get(cited.id, ()) + tuple(map(_pins_text, cited.gives))
    for one in map(methods().__getitem__, row.methods):
        for cited in one.sources:
            gives[cited.id] = tuple(dict.fromkeys((*gives.get(cited.id, ()), "methods")))
    for theirs in makers.figures_of(row.id):
        for known in theirs.sources:
            gives[known] = tuple(dict.fromkeys((*gives.get(known, ()), "makers")))
    for signature in signatures().get(row.id, ()):
        for known in signature.sources:
            gives[known] = tuple(dict.fromkeys((*gives.get(known, ()), "signatures")))
    for dispute in (*row.disputed, *pinout.disputed, *(d for one in row.methods for d in methods()[one].disputed)):
        for known in dispute.sources:
            gives.setdefault(known, ())
    return tuple(Basis(sources()[known], given) for known, given in gives.items())
