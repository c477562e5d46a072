"""What is at hand on a bench."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from imagekeeper.drives.bench import Bench, Interchange, OwnController
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.tables.controllers import CONNECTORS, CableRow, ControllerRow, cable_rows, controller_rows
from imagekeeper.tables.drives import drive_rows, medium_rows
from imagekeeper.units import ranges

if TYPE_CHECKING:
    from imagekeeper.jobs.bench.equipping import Qualification
    from imagekeeper.jobs.bench.interchanging import InterchangeNoted


def bench_text(result: Bench) -> str:
    """Show a bench."""
    rows = [["drive", one.name, f"{one.drive}: {drive_rows()[one.drive].title}", *_speeds(one.speeds, one.note)]
            for one in result.drives]  # fmt: skip
    rows += [
        ["controller", one.name, _class(controller_rows(), one.controller), _controller(one)]
        for one in result.controllers
    ]
    rows += [
        ["cable", one.name, _class(cable_rows(), one.cable),
         _remarks(*(CONNECTORS.get(plug, plug) for plug in one.plugs), one.note)]
        for one in result.cables
    ]
    rows += [
        ["disks", "" if one.count is None else str(one.count), f"{one.medium}: {medium_rows()[one.medium].title}",
         one.note or ""]
        for one in result.media
    ]  # fmt: skip
    rows += [
        ["reader", one.name, f"qualified {(one.qualified_on or '')[:10]}" if one.qualified else "", one.note or ""]
        for one in result.readers
    ]
    rows += [["programmer", one.name, "", one.note or ""] for one in result.programmers]
    if not rows and not result.interchanges:
        return "The bench is empty.\n  next: imagekeeper floppy bench add drive NAME --class CLASS"
    lines = parts.table(rows, indent="") if rows else []
    for one in result.interchanges:
        lines += parts.wrapped("trial  ", trial(one))
    return page(lines)


def interchange_text(result: InterchangeNoted) -> str:
    """Show what a disk that went between two drives showed."""
    head = painted("not all of it was read", "bad") if result.failed else painted("all of it was read", "good")
    lines = [f"{result.drive} and {result.machine_drive}: {head}", *parts.wrapped("  noted: ", result.says)]
    if result.still is not None:
        lines += parts.wrapped("  next: ", result.still)
    return page(lines)


def qualification_text(result: Qualification) -> str:
    """Show whether a reader was shown to work."""
    head = painted("shown to work", "good") if result.holds else painted("not shown to work", "bad")
    lines = [f"{result.reader}: {head}", *parts.wrapped("  because  ", result.says)]
    for found in result.findings:
        lines += parts.finding(found)
    if result.holds:
        lines.append("  Noted on the bench: it counts for each read that names this reader.")
    return page(lines)


def trial(one: Interchange) -> str:
    """Say what one trial was, as the bench keeps it."""
    wrote, read = (one.drive, one.machine_drive) if one.wrote == "here" else (one.machine_drive, one.drive)
    failed = f"failed: {ranges(one.failed)}" if one.failed else f"all {one.cylinders} cylinders read"
    tries = ", ".join(f"{each.cylinder} ({each.times})" for each in one.retried)
    again = f"; tried again: {tries}" if tries else ""
    return f"{one.on}  {wrote} wrote {one.format}, {read} read it: {failed}{again}{f'; {one.note}' if one.note else ''}"


def _class(rows: Mapping[str, ControllerRow | CableRow], name: str) -> str:
    return f"{name}: {rows[name].title}" if name in rows else name


def _controller(one: OwnController) -> str:
    rates = " and ".join(map(str, one.rates)) + " kbit/s" if one.rates else ""
    fm = "" if one.fm is None else "FM" if one.fm else "no FM"
    return _remarks(rates, fm, CONNECTORS.get(one.connector or "", one.connector), one.note)


def _remarks(*parts: str | None) -> str:
    return "; ".join(part for part in parts if part)


def _speeds(speeds: tuple[int, ...], note: str | None) -> list[str]:
    known = " and ".join(map(str, speeds)) + " rev/min" if speeds else ""
    return ["; ".join(part for part in (known, note) if part)]
