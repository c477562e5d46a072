"""A person's own rows, and what was decided about rows from elsewhere."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.jobs.tables.deciding import RowDecided
from imagekeeper.jobs.tables.listing import OwnRowList, ShownOwnRow
from imagekeeper.jobs.tables.templates import RowTemplate
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.tables.overlay import GROUNDS, words
from imagekeeper.units import plural

WHOSE = {"archive": "of this archive", "person": "of your own folder", "accepted": "from another archive",
         "elsewhere": "of neither this archive nor your own folder"}  # fmt: skip

_DECIDED = {"accept": "Accepted: from now on answers may rest on this row.",
            "refuse": "Refused: no answer rests on this row."}  # fmt: skip


def own_rows_text(result: OwnRowList) -> str:
    """Show the own rows: those in force, those that wait, those that were refused, and what is wrong."""
    lines: list[str] = []
    for state, title in (
        ("in-force", "In force:"), ("undecided", "From elsewhere, undecided: no answer rests on them:"),
        ("refused", "From elsewhere, refused:"),
    ):  # fmt: skip
        rows = [one for one in result.rows if one.state == state]
        if rows:
            lines += [*([""] if lines else []), title, *(line for one in rows for line in _row(one))]
    if not lines:
        lines = ["No own rows: the tables that come with the program give every answer."]
        lines += [f"  looked for in {folder}" for folder in result.folders]
        lines.append("  next: imagekeeper table new chip prints a row to be filled in")
    waiting = next((one.mark for one in result.rows if one.state == "undecided"), None)
    if waiting is not None:
        lines += ["", f"  next: imagekeeper table accept {waiting} shows what it would change"]
    return page([*lines, *_faults(result)])


def checked_rows_text(result: OwnRowList) -> str:
    """Show what came of checking files of own rows."""
    lines = [line for one in result.rows for line in _row(one)]
    if not result.rows and not result.faults:
        lines.append("  next: imagekeeper table new chip prints a row to be filled in; nothing may have been saved")
    good = f"{plural(len(result.rows), 'row')} can be used"
    bad = f", {plural(len(result.faults), 'fault')}" if result.faults else ""
    return page([f"{', '.join(result.folders)}: {good}{bad}", *lines, *_faults(result)])


def decided_row_text(result: RowDecided) -> str:
    """Show a row from elsewhere, with what it says, rests on and changes, and what was decided."""
    one = result.row
    lines = _row(one)
    if result.decided and one.decision is not None:
        lines.insert(0, _DECIDED[one.decision.what])
    for name, value in one.members.items():
        if name not in GROUNDS:
            lines += parts.wrapped(f"    {name}: ", words(value))
    if not result.decided:
        lines += ["Nothing was changed.", f"  next: imagekeeper table accept {one.mark} --confirm"]
    elif one.state == "in-force":
        lines.append(f"  to take it back: imagekeeper table refuse {one.mark} --reason TEXT")
    return page(lines)


def template_text(result: RowTemplate) -> str:
    """Show a row to be filled in, or where it was written to."""
    if result.output is None:
        return page(result.text.rstrip("\n").split("\n"))
    return page([f"{result.output}: a {result.kind} to be filled in",
                 f"  next: imagekeeper table check {result.output}, when it is"])  # fmt: skip


def _row(one: ShownOwnRow) -> list[str]:
    line = f", line {one.line}" if one.line is not None else ""
    mark = f"{one.mark}  " if one.mark else ""
    lines = parts.wrapped("  ", f"{mark}{one.name} ({WHOSE.get(one.origin, one.origin)}: {one.file}{line})")
    for text in one.changes:
        lines += parts.wrapped("    corrects ours: ", text)
    for text in one.grounds:
        lines += parts.wrapped("    ", text)
    return [*lines, *_decision(one)]


def _decision(one: ShownOwnRow) -> Iterator[str]:
    if one.archive is not None:
        yield f"    from the archive {one.archive}"
    if one.decision is not None:
        what = "accepted" if one.decision.what == "accept" else "refused"
        why = f": {one.decision.reason}" if one.decision.reason else ""
        yield from parts.wrapped("    ", f"{what} by {one.decision.by or 'somebody'} on {one.decision.time[:10]}{why}")


def _faults(result: OwnRowList) -> list[str]:
    lines = []
    for one in result.faults[:40]:
        lines += [*parts.wrapped("  wrong: ", f"{one.where}: {one.why}"), *parts.wrapped("    next: ", one.hint)]
    if len(result.faults) > 40:
        lines.append(f"  and {len(result.faults) - 40} more; --json names them all")
    return ["", *lines] if lines else []
