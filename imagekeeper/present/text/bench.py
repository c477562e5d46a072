"""What is at hand on a bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.drives.bench import Bench
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.tables.drives import drive_rows, medium_rows

if TYPE_CHECKING:
    from imagekeeper.jobs.bench.equipping import Qualification


def bench_text(result: Bench) -> str:
    """Show a bench."""
    rows = [["drive", one.name, f"{one.drive}: {drive_rows()[one.drive].title}", *_speeds(one.speeds, one.note)]
            for one in result.drives]  # fmt: skip
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
    if not rows:
        return "The bench is empty.\n  next: imagekeeper floppy bench add drive NAME --class CLASS"
    return page(parts.table(rows, indent=""))


def qualification_text(result: Qualification) -> str:
    """Show whether a reader was shown to work."""
    head = painted("shown to work", "good") if result.holds else painted("not shown to work", "bad")
    lines = [f"{result.reader}: {head}", *parts.wrapped("  because  ", result.says)]
    for found in result.findings:
        lines += parts.finding(found)
    if result.holds:
        lines.append("  Noted on the bench: it counts for each read that names this reader.")
    return page(lines)


def _speeds(speeds: tuple[int, ...], note: str | None) -> list[str]:
    known = " and ".join(map(str, speeds)) + " rev/min" if speeds else ""
    return ["; ".join(part for part in (known, note) if part)]
