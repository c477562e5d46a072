"""What is at hand on a bench."""

from __future__ import annotations

from imagekeeper.drives.bench import Bench
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.tables.drives import drive_rows, medium_rows


def bench_text(result: Bench) -> str:
    """Show a bench."""
    rows = [["drive", one.name, f"{one.drive}: {drive_rows()[one.drive].title}", *_speeds(one.speeds, one.note)]
            for one in result.drives]  # fmt: skip
    rows += [
        ["disks", "" if one.count is None else str(one.count), f"{one.medium}: {medium_rows()[one.medium].title}",
         one.note or ""]
        for one in result.media
    ]  # fmt: skip
    rows += [["reader", one.name, "", one.note or ""] for one in result.readers]
    rows += [["programmer", one.name, "", one.note or ""] for one in result.programmers]
    if not rows:
        return "The bench is empty.\n  next: imagekeeper floppy bench add drive NAME --class CLASS"
    return page(parts.table(rows, indent=""))


def _speeds(speeds: tuple[int, ...], note: str | None) -> list[str]:
    known = " and ".join(map(str, speeds)) + " rev/min" if speeds else ""
    return ["; ".join(part for part in (known, note) if part)]
