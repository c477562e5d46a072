"""Machines and their carriers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.present.text import parts, records, standing
from imagekeeper.present.text.paper import page

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.jobs.carriers.describing import MachineList
    from imagekeeper.provenance.machines import MachineRecord


def machine_text(record: MachineRecord) -> str:
    """Show everything about a machine."""
    rows = (
        ("name", record.name), ("maker", record.maker), ("model", record.model), ("serial", record.serial),
        ("owner", record.owner), ("note", record.note), ("added", record.created),
    )  # fmt: skip
    lines = [record.id, *standing.taken_out(record.deaccessions), *records.described(rows), ""]
    none = "none" if record.carriers_left_out else "none yet"
    own = ", ".join(record.carriers) or f"{none}: imagekeeper carrier add ID --kind KIND --machine {record.id}"
    lines += parts.wrapped("  carriers  ", own)
    lines += [f"            {one}" for one in parts.left_out(record.carriers_left_out)]
    for back in record.withdrawals:
        lines += parts.wrapped("  taken back ", f"{back.what}: {back.reason}")
    lines += [*records.remarks(record), *records.history(record)]
    return page(lines)


def machine_list_text(result: MachineList) -> str:
    """List machines."""
    if not result.machines and not result.only_named:
        return page(["no machines", *parts.left_out(result.taken_out), *parts.set_aside(result.set_aside)])
    lines = []
    if result.machines:
        rows = [["machine", "name", "maker", "model", "serial", "owner", "carriers"]]
        rows += [
            [
                m.id, m.name or "(its record cannot be read)", m.maker or "-", m.model or "-", m.serial or "-",
                m.owner or "-", str(m.carriers),
            ]
            for m in result.machines
        ]
        lines += parts.table(rows, right=[6], indent="")
    for m in result.machines:
        if m.taken_out is not None:
            lines += parts.wrapped("", f"{m.id}: taken out of the collection: {m.taken_out}")
    for name in result.only_named:
        lines.append(f"named by carriers, without a record: {name}")
    return page([*lines, *parts.left_out(result.taken_out), *parts.set_aside(result.set_aside)])
