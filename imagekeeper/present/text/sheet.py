"""The bench sheet, for a printer or a terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from imagekeeper.jsonable import one_line
from imagekeeper.planning.sheet import Sheet
from imagekeeper.present.text.paper import page
from imagekeeper.units import together

if TYPE_CHECKING:   # each plan is slow to load, and a sheet is of one of them
    from imagekeeper.jobs.chips.planning import ChipPlan
    from imagekeeper.jobs.disks.planning import DiskPlan

#: A sheet of paper takes this much in a common size of type. [column]
WIDTH = 84


MEMORY = "*"


def sheet_text(sheet: Sheet) -> str:
    """Set a sheet: facts, then steps to be ticked, then cautions.

    Example:
        >>> from imagekeeper.planning.sheet import Fact, SheetPart
        >>> disk = SheetPart("The disk", (Fact("fill", "E5", True),))
        >>> print(sheet_text(Sheet(title="Write a disk", parts=(disk,), steps=("Go.",), cautions=(), sources=())))
        Write a disk
        ============
        <BLANKLINE>
        The disk
          fill  E5 *
        <BLANKLINE>
        [ ] 1. Go.
        <BLANKLINE>
        * from memory: check the data sheet or manual before anything depends on it.
        The maker's data sheet or manual decides. Leave work on mains, picture tubes and
        other high voltages to somebody qualified, under the rules of the place.
    """
    title = _set(sheet.title, "")
    lines = [*title, "=" * max(map(len, title)), ""]
    for danger in sheet.dangers:
        lines += [*_set(danger, "DANGER: "), ""]
    for part in sheet.parts:
        wide = max(len(fact.name) for fact in part.facts)
        lines.append(part.title)
        for fact in part.facts:
            lines += _set(fact.value + (f" {MEMORY}" if fact.memory else ""), f"  {fact.name:<{wide}}  ")
        lines.append("")
    for number, step in enumerate(sheet.steps, 1):
        lines += _set(step, f"[ ] {number}. ")
    lines += [""] if sheet.steps else []
    for caution in sheet.cautions:
        lines += _set(caution, "caution: ")
    lines += [""] if sheet.cautions else []
    if sheet.from_memory:
        lines += _set(f"{MEMORY} from memory: check the data sheet or manual before anything depends on it.", "")
    lines += _set(sheet.defer, "")
    if sheet.sources:
        lines += ["", *_set("; ".join(sheet.sources), "Sources: ")]
    return page(lines)


def plan_text(result: ChipPlan | DiskPlan) -> str:
    """Show the sheet of a plan."""
    return sheet_text(result.sheet)


def _set(words: str, first: str) -> list[str]:
    lines = textwrap.wrap(
        together(one_line(words)), WIDTH, initial_indent=first, subsequent_indent=" " * len(first),
        break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\u00a0", " ") for line in lines] or [first.rstrip()]
