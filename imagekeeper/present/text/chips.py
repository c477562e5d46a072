"""Memory chips: sizes, pins, voltages."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from imagekeeper.chips import Chip, ChipLine, ChipList, Pin, makers
from imagekeeper.chips.sourcing import DECISIVE, on_memory
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.tables.chips import AVAILABILITY, TECHNOLOGIES, Method
from imagekeeper.units import size_text

#: Texts are set to this width; tables and pinouts are narrower by themselves. [column]
WIDTH = 100


#: What the members of a chip are called in texts.
MEMBERS = DECISIVE | {
    "aliases": "other numbers",
    "row_spacing_inch": "row spacing",
    "supply_tolerance_percent": "their tolerance",
    "outputs": "outputs",
    "vpp_max_v": "highest Vpp",
    "programming": "programming",
    "blank": "blank byte",
    "erase_dose_ws_cm2": "erase dose",
    "access_ns": "access time",
    "signatures": "signatures",
    "cell": "battery",
    "availability": "whether still made",
    "note": "note",
    "makers": "makers' figures",
    "ask_maker": "how makers differ",
    "pulse": "program pulse",
    "erasing": "erasing",
    "organisations": "how its words are cut",
    "reading": "reading",
    "ask_marking": "why the exact marking is asked for",
    "protection": "protection",
    "latches_address": "how it takes the address in",
}


def chip_list_text(result: ChipList) -> str:
    """Show the list."""
    if not result.chips:
        return "The table has no such chip."
    rows = [["chip", "technology", "words", "bits", "holds", "pins", "Vpp", "other numbers"]]
    rows += [
        [
            one.id + ("*" if one.own else ""), TECHNOLOGIES[one.technology], str(one.words), str(one.bits),
            size_text(one.bytes), str(one.pins),
            "by maker" if one.by_maker else _short(one), ", ".join(one.aliases),
        ]
        for one in result.chips
    ]  # fmt: skip
    lines = parts.table(rows, right=[2, 3, 5], indent="")
    return page([*lines, *parts.own_star(one.own for one in result.chips)])


def chip_text(one: Chip) -> str:
    """Show one chip."""
    rows = [
        ["holds", f"{one.words} words of {one.bits} bits: {size_text(one.bytes)}"],
        ["package", f"{one.pins} pins in two rows, {one.row_spacing_inch:g} inch apart"],
        ["supply", _supplies(one)],
    ]
    if one.file_bytes != one.bytes:
        rows.insert(1, ["as a file", f"{size_text(one.file_bytes)}, with the upper bits of every byte unused"])
    for way in one.organisations:
        rows.append(["words", f"{way.words} of {way.bits} bits, {way.address_bits} bits of address: {way.when}"])
    if one.reading:
        rows.append(["reading", one.reading])
    if one.ask_marking:
        rows.append(["EA", f"no voltage without the exact marking: {one.ask_marking}"])
    if one.protection:
        rows.append(["protection", one.protection])
    if one.aliases:
        rows.insert(0, ["also", ", ".join(one.aliases)])
    if one.maker:
        rows.append(["maker", f"{one.maker}; another maker's chip may take other voltages and pulses"])
    if one.voltage_unknown:
        rows.append(["programming", f"no voltage without the maker (--maker): {one.ask_maker}"])
    rows += [[f"by {known.maker}", makers.said(known)] for known in one.makers if one.maker in (None, known.maker)]
    if gaps := makers.missing(one):
        rows.append(["not known", gaps])
    if one.vpp_v or one.programming:
        says = [one.programming or "", f"Vpp {one.vpp.text(one.by)}" if one.vpp else ""]
        says += [f"Vpp never above {_volts((min(one.vpp_max_v),))}" if one.vpp_max_v else ""]
        says += [f"Vcc {one.vcc_programming.text(one.by)}" if one.vcc_programming else ""]
        rows.append(["programming", "; ".join(part for part in says if part)])
    rows += [["method", _method(way)] for way in one.methods]
    if one.pulse:
        rows.append(["pulse", one.pulse])
    if one.blank:
        rows.append(["blank", f"{one.blank} {'after erasing' if one.carrier != 'prom' else 'before it is written'}"])
    if one.erase_dose_ws_cm2:
        doses = " or ".join(f"{dose:g}" for dose in one.erase_dose_ws_cm2)
        rows.append(["erasing", f"{doses} W s/cm2 of 253.7 nm, where it has a window"])
    if one.erasing:
        rows.append(["erasing", f"{one.erasing}: never with a lamp"])
    if one.outputs:
        rows.append(["outputs", one.outputs])
    if one.access_ns:
        rows.append(["access", ", ".join(map(str, one.access_ns)) + " ns"])
    if one.signatures:
        rows.append(["signature", _signatures(one)])
    if one.makers_differ_in and one.maker is None:
        named = ", ".join(MEMBERS[name] for name in one.makers_differ_in)
        rows.append(["by maker", f"makers' parts of this number differ in: {named}. Name the maker (--maker)"])
    if one.availability:
        rows.append(["to be had", AVAILABILITY[one.availability] + " (from memory)"])
    if one.note:
        rows.append(["note", one.note])
    lines = [f"{one.id}: {TECHNOLOGIES[one.technology]}"]
    for name, text in rows:
        lines += _paragraph(text, f"  {name:<13}" if len(name) < 12 else f"  {name}: ", hang=" " * 15)
    lines += ["", *_pins(one), ""]
    for text in one.cautions:
        lines += _paragraph(text, "  caution: ")
    return page([*lines, *parts.own(one.own), *_grounds(one)])


def _supplies(one: Chip) -> str:
    """Name the supplies for reading."""
    text = ", ".join(f"{name} {value:+g} V" for name, value in one.supplies_v.items())
    if one.supply_tolerance_percent is None:
        return text
    return f"{text}{', each' if len(one.supplies_v) > 1 else ''} ±{one.supply_tolerance_percent:g}%"


def _signatures(one: Chip) -> str:
    """Give the electronic signatures; a star marks what is from memory."""
    if not one.its_signatures:
        return f"none of {one.maker}'s chip is in the table"
    return ", ".join(
        f"{known.code}{'' if known.sources else '*'} {known.maker}" + (f" ({known.note})" if known.note else "")
        for known in one.its_signatures
    ) + ("; * from memory" if not all(known.sources for known in one.its_signatures) else "")


def _method(way: Method) -> str:
    """Give a way of programming with its rule."""
    doubts = "".join(f" Disputed: {dispute.says}." for dispute in way.disputed)
    memory = " (From memory, wholly or in part.)" if way.unsourced else ""
    return f"{way.title}: {way.says}{memory}{doubts}"


def _short(one: ChipLine) -> str:
    """Give the programming voltage in a table."""
    if one.vpp_kind == "range":
        return " to ".join(f"{value:g}" for value in one.vpp_v) + " V"
    return _volts(one.vpp_v)


def _volts(values: Sequence[float]) -> str:
    """Give one or more voltages.

    Example:
        >>> _volts((12.5, 13.0)), _volts(())
        ('12.5, 13 V', '')
    """
    return ", ".join(f"{value:g}" for value in values) + (" V" if values else "")


def _pins(one: Chip) -> list[str]:
    """Draw the pins, notch up; a star marks what is from memory."""
    pins = one.pinout.pins
    mixed = any(pin.sources for pin in pins) and not all(pin.sources for pin in pins)

    def label(pin: Pin) -> str:
        return ", ".join(pin.signals) + ("*" if mixed and not pin.sources else "")

    half = len(pins) // 2
    left, right = pins[:half], pins[:half - 1:-1]
    wide = max(len(label(pin)) for pin in left)
    lines = ["  pins, seen from above, notch up" + ("; * from memory" if mixed else "")]
    for a, b in zip(left, right, strict=True):
        lines.append(f"    {label(a):>{wide}}  {a.number:>2} |      | {b.number:<2}  {label(b)}".rstrip())
    return lines + (_paragraph(one.pinout.note, "  ") if one.pinout.note else [])


def _grounds(one: Chip) -> list[str]:
    """Say what it all rests on."""
    lines = ["", "  sources"] if one.sources else []
    for basis in one.sources:
        given = ", ".join(MEMBERS.get(name, name) for name in basis.gives)
        lines += _paragraph(f"{basis.source}" + (f": {given}" if given else ""), "    ", hang="      ")
    decisive = on_memory(one)
    others = [MEMBERS.get(name, name) for name in one.unsourced if MEMBERS.get(name, name) not in decisive]
    if decisive or others:
        told = "from memory, so check the data sheet of the chip in your hand"
        lines += ["", *_paragraph(f"{told}: {', '.join(decisive or others)}", "  ")]
    if decisive and others:
        lines += _paragraph(f"and, on which no voltage and no place in a socket rests: {', '.join(others)}", "  ")
    for dispute in one.disputed:
        lines += _paragraph(f"disputed: {MEMBERS.get(dispute.field, dispute.field)}: {dispute.says}", "  ")
    return lines


def _paragraph(text: str, first: str, hang: str | None = None) -> list[str]:
    """Set a text in lines, the first behind a word."""
    indent = " " * len(first) if hang is None else hang
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)
