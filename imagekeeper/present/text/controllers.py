"""The classes of controllers and cables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from imagekeeper.drives.connections import ConnectionList
from imagekeeper.present.text import parts
from imagekeeper.present.text.formats import RECORDED
from imagekeeper.present.text.paper import page
from imagekeeper.tables import Source
from imagekeeper.tables.controllers import CONNECTORS, CableRow, ControllerRow


def connection_list_text(result: ConnectionList) -> str:
    """Show what a person needs to find the class of a controller or a cable; (in brackets) what only some have."""
    rows = [["controller", "kbit/s in MFM", "recording", "what it is"]]
    rows += [[one.id, _rates(one), _recording(one), one.title] for one in result.controllers]
    lines = [*parts.table(rows), "", "  (in brackets: only some of the class, by clock or wires of the board)"]
    rows = [["cable", "controller", "drive", "what it is"]]
    rows += [[one.id, str(one.controller_lines), str(one.drive_lines), one.title] for one in result.cables]
    return page([*lines, "", *parts.table(rows, right=[1, 2]), "", "  --full: steps, line 2, harm, notes and sources"])


def connection_list_in_full_text(result: ConnectionList) -> str:
    """Show everything, with where it is from."""
    lines: list[str] = []
    known = {one.id: one for one in result.sources}
    for controller in result.controllers:
        lines += ["", f"{controller.id}: {controller.title}"]
        for label, words in _controller(controller):
            lines += parts.wrapped(f"  {label:<11}", words)
        lines += _grounds(controller, known)
    for cable in result.cables:
        lines += ["", f"{cable.id}: {cable.title}"]
        for label, words in _cable(cable):
            lines += parts.wrapped(f"  {label:<11}", words)
        lines += _grounds(cable, known)
    return page(lines[1:])


def _rates(one: ControllerRow) -> str:
    sure = ", ".join(f"{rate / 1000:g}" for rate in one.data_rates)
    some = ", ".join(f"{rate / 1000:g}" for rate in one.some_data_rates)
    return " ".join(part for part in (sure, f"({some})" if some else "") if part)


def _recording(one: ControllerRow) -> str:
    sure = ", ".join(RECORDED.get(name, name) for name in one.encodings)
    some = ", ".join(RECORDED.get(name, name) for name in one.some_encodings)
    return " ".join(part for part in (sure, f"({some})" if some else "") if part)


def _controller(one: ControllerRow) -> Iterator[tuple[str, str]]:
    yield "rates", f"{_rates(one)} kbit/s in MFM; in FM half"
    yield "recording", _recording(one)
    for steps in one.steps:
        figures = ", ".join(f"{ms:g}" for ms in steps.ms)
        if steps.every is not None:
            figures = f"{' to '.join(f'{ms:g}' for ms in steps.ms)}, in steps of {steps.every:g}"
        yield "step", f"{figures} ms at {steps.data_rate / 1000:g} kbit/s"
    if one.recalibrate_steps is not None:
        yield "track 00", f"it gives up after {one.recalibrate_steps} steps"
    yield "line 2", one.line_2
    yield "connector", " or ".join(CONNECTORS.get(name, name) for name in one.connectors) or "its board decides"
    if one.note:
        yield "note", one.note


def _cable(one: CableRow) -> Iterator[tuple[str, str]]:
    yield "lines", f"{one.controller_lines} at the controller, {one.drive_lines} at the drive"
    yield "twist", "lines 10 to 16 are exchanged before the last plug" if one.twist else "none"
    yield "plugs", " or ".join(CONNECTORS.get(name, name) for name in one.plugs)
    if one.open_lines:
        yield "open lines", ", ".join(map(str, one.open_lines))
    yield "longest", f"{one.longest_m:g} m"
    yield "harm", one.harm


def _grounds(one: ControllerRow | CableRow, known: Mapping[str, Source]) -> Iterator[str]:
    for dispute in one.disputed:
        yield from parts.wrapped(f"  {'disputed':<11}", f"{_named([dispute.field])}: {dispute.says}")
    if one.unsourced:
        yield from parts.wrapped(f"  {'memory':<11}", _named(one.unsourced))
    for cited in one.sources:
        yield from parts.wrapped(f"  {'source':<11}", str(known.get(cited.id, cited.id)))


def _named(members: Sequence[str]) -> str:
    return ", ".join(member.replace("_", " ") for member in members)
