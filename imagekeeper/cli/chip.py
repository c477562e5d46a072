"""The commands `chip ...`: memory chips, their sizes, pins, voltages, and what can take their place."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import click

from imagekeeper import chips
from imagekeeper.chips import Chip, ChipList, Pin, makers
from imagekeeper.cli import _shell, _text
from imagekeeper.cli._chip_substitute import substitute
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.tables.chips import AVAILABILITY, TECHNOLOGIES, Method
from imagekeeper.units import size_text

#: Texts are set to this width; tables and pinouts are narrower by themselves. [column]
WIDTH = 100

#: What the members of a chip are called in texts.
MEMBERS = {
    "aliases": "other numbers",
    "technology": "technology",
    "words": "words",
    "bits": "width",
    "pins": "number of pins",
    "row_spacing_inch": "row spacing",
    "supplies_v": "supplies",
    "supply_tolerance_percent": "their tolerance",
    "outputs": "outputs",
    "vpp_v": "Vpp",
    "vpp_max_v": "highest Vpp",
    "vcc_programming_v": "Vcc when programming",
    "methods": "ways to program",
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
}


@click.group()
def chip() -> None:
    """Look up memory chips: sizes, pins, voltages, substitutes.

    Every figure is of the generic type, with its source; the data sheet of the chip's own maker decides.
    """


chip.add_command(substitute)


@chip.command("list", epilog="Example: imagekeeper chip list --kind eprom --size 16K")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="Only this kind, such as eprom or prom.")
@click.option("--size", type=_shell.SIZE, metavar="SIZE", help="Only chips that hold this much, such as 16K.")
@_shell.json_option
def list_(kind: str | None, size: int | None, as_json: bool) -> int:
    """List the chips of the table."""
    return _shell.show(chips.listed(carrier=kind, size=size), list_text, as_json)


@chip.command(epilog="Example: imagekeeper chip show M27C128-15")
@click.argument("part", metavar="PART")
@click.option("--maker", metavar="NAME", help="Who made it: where makers differ, no voltage is given without it.")
@_shell.json_option
def show(part: str, maker: str | None, as_json: bool) -> int:
    """Show size, voltages and pins of PART, with cautions and sources.

    PART is what stands on the chip: a maker's prefix, the speed and the package do not matter.
    """
    return _shell.show(chips.find(part, maker), chip_text, as_json)


def list_text(result: ChipList) -> str:
    """Show the list."""
    if not result.chips:
        return "The table has no such chip."
    rows = [["chip", "technology", "words", "bits", "holds", "pins", "Vpp", "other numbers"]]
    rows += [
        [
            one.id, TECHNOLOGIES[one.technology], str(one.words), str(one.bits), size_text(one.bytes), str(one.pins),
            "by maker" if one.by_maker else volts(one.vpp_v), ", ".join(one.aliases),
        ]
        for one in result.chips
    ]  # fmt: skip
    return "\n".join(_text.table(rows, right=[2, 3, 5], indent=""))


def chip_text(one: Chip) -> str:
    """Show one chip."""
    rows = [
        ["holds", f"{one.words} words of {one.bits} bits: {size_text(one.bytes)}"],
        ["package", f"{one.pins} pins in two rows, {one.row_spacing_inch:g} inch apart"],
        ["supply", supplies(one)],
    ]
    if one.file_bytes != one.bytes:
        rows.insert(1, ["as a file", f"{size_text(one.file_bytes)}, with the upper bits of every byte unused"])
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
        parts = [one.programming or "", f"Vpp {volts(one.vpp_v)}" if one.vpp_v else ""]
        parts += [f"Vpp never above {volts(one.vpp_max_v)}" if one.vpp_max_v else ""]
        parts += [f"Vcc {volts(one.vcc_programming_v)}" if one.vcc_programming_v else ""]
        rows.append(["programming", "; ".join(part for part in parts if part)])
    rows += [["method", method(way)] for way in one.methods]
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
        rows.append(["signature", signatures(one)])
    if one.availability:
        rows.append(["to be had", AVAILABILITY[one.availability] + " (from memory)"])
    if one.note:
        rows.append(["note", one.note])
    lines = [f"{one.id}: {TECHNOLOGIES[one.technology]}"]
    for name, text in rows:
        lines += paragraph(text, f"  {name:<13}" if len(name) < 12 else f"  {name}: ", hang=" " * 15)
    lines += ["", *pins_text(one), ""]
    for text in one.cautions:
        lines += paragraph(text, "  caution: ")
    return "\n".join([*lines, *grounds(one)])


def supplies(one: Chip) -> str:
    """Name the supplies for reading."""
    text = ", ".join(f"{name} {value:+g} V" for name, value in one.supplies_v.items())
    if one.supply_tolerance_percent is None:
        return text
    return f"{text}{', each' if len(one.supplies_v) > 1 else ''} ±{one.supply_tolerance_percent:g}%"


def signatures(one: Chip) -> str:
    """Give the electronic signatures; a star marks what is from memory."""
    return ", ".join(
        f"{known.code}{'' if known.sources else '*'} {known.maker}" + (f" ({known.note})" if known.note else "")
        for known in one.signatures
    ) + ("; * from memory" if not all(known.sources for known in one.signatures) else "")


def method(way: Method) -> str:
    """Give a way of programming with its rule."""
    doubts = "".join(f" Disputed: {dispute.says}." for dispute in way.disputed)
    memory = " (From memory, wholly or in part.)" if way.unsourced else ""
    return f"{way.title}: {way.says}{memory}{doubts}"


def volts(values: Sequence[float]) -> str:
    """Give one or more voltages.

    Example:
        >>> volts((12.5, 13.0)), volts(())
        ('12.5, 13 V', '')
    """
    return ", ".join(f"{value:g}" for value in values) + (" V" if values else "")


def pins_text(one: Chip) -> list[str]:
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
    return lines + (paragraph(one.pinout.note, "  ") if one.pinout.note else [])


def grounds(one: Chip) -> list[str]:
    """Say what it all rests on."""
    lines = ["", "  sources"] if one.sources else []
    for basis in one.sources:
        given = ", ".join(MEMBERS.get(name, name) for name in basis.gives)
        lines += paragraph(f"{basis.source}" + (f": {given}" if given else ""), "    ", hang="      ")
    if one.unsourced:
        named = ", ".join(MEMBERS.get(name, name) for name in one.unsourced)
        told = "from memory, so check the data sheet of the chip in your hand"
        lines += ["", *paragraph(f"{told}: {named}", "  ")]
    for dispute in one.disputed:
        lines += paragraph(f"disputed: {MEMBERS.get(dispute.field, dispute.field)}: {dispute.says}", "  ")
    return lines


def paragraph(text: str, first: str, hang: str | None = None) -> list[str]:
    """Set a text in lines, the first behind a word."""
    indent = " " * len(first) if hang is None else hang
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)
