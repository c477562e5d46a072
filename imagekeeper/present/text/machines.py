"""Machines and their carriers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.present.text import parts, records
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
    lines = [record.id, *records.described(rows), ""]
    own = ", ".join(record.carriers) or f"none yet: imagekeeper carrier add ID --kind KIND --machine {record.id}"
    lines += parts.wrapped("  carriers  ", own)
    lines += [*records.remarks(record), *records.history(record)]
    return page(lines)


def machine_list_text(result: MachineList) -> str:
    """List machines."""
    if not result.machines and not result.only_named:
        return "no machines"
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
    for name in result.only_named:
        lines.append(f"named by carriers, without a record: {name}")
    return page(lines)
