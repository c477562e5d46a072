"""What went to a spreadsheet or came from one."""

from __future__ import annotations

from imagekeeper.jobs.carriers import corroborating, tabulating
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural

#: Longer lists are cut here; the JSON document has all.
_SHOWN = 40


def tabulated_text(result: tabulating.Table) -> str:
    """Show the table that was written."""
    return page([
        f"{result.path}: {plural(result.carriers, 'carrier')}, {plural(len(result.columns), 'column')}",
        *parts.set_aside(result.set_aside),
        f"  next: fill it in, then: imagekeeper archive fill-in {result.path} --dry-run",
    ])  # fmt: skip


def filled_in_text(result: tabulating.FilledIn) -> str:
    """Show what a table added and corrected, or would."""
    changed = sorted({one.id for one in result.changes})
    would = "would be " if result.dry_run else ""
    lines = [
        f"{result.path}: {plural(len(result.added), 'carrier')} {would}added, {len(changed)} {would}corrected, "
        f"{result.unchanged} with nothing new"
    ]
    lines += [f"  {one}: new" for one in result.added[:_SHOWN]]
    for one in result.changes[:_SHOWN]:
        lines += parts.wrapped(f"  {one.id}: ", f"{one.column}: {_said(one.before)} becomes {_said(one.after)}")
    if max(len(result.added), len(result.changes)) > _SHOWN:
        lines.append("  and more; --json names them all")
    if result.unknown:
        lines += parts.wrapped("  note: ", f"these columns mean nothing here: {', '.join(result.unknown)}")
    lines += parts.set_aside(result.set_aside)
    if result.dry_run:
        lines.append("Nothing was changed.")
    return page(lines)


def _said(text: str | None) -> str:
    return "nothing" if text is None else repr(shortened(one_line(text), 60))


def corroborated_text(result: corroborating.Corroboration) -> str:
    """Show which images a list of digests bears out, and which it does not."""
    borne_out = len({one.carrier for one in result.matches})
    lines = [
        f"{result.path}: {plural(result.entries, 'entry', 'entries')}, "
        f"{plural(borne_out, 'carrier')} with an image that fits"
    ]
    for match in result.matches[:_SHOWN]:
        done = "would be recorded" if result.dry_run else "recorded"
        recorded = done if match.recorded else f"not recorded: {match.because}"
        what = "agreed image" if match.what == "agreed" else match.what
        lines += parts.wrapped(
            f"  {match.carrier}: ", f"{what} fits {_entry(match.line, match.name)} by {', '.join(match.by)}; {recorded}"
        )
    for one in result.unlike[:_SHOWN]:
        lines += parts.wrapped(f"  {one.carrier}: does not fit ", f"{_entry(one.line, one.name)}: {one.why}")
    if result.unmatched:
        lines += parts.wrapped("  nothing in the list about: ", ", ".join(result.unmatched[:_SHOWN]))
    if max(len(result.matches), len(result.unlike), len(result.unmatched)) > _SHOWN:
        lines.append("  and more; --json names them all")
    if result.unknown:
        lines += parts.wrapped("  note: ", f"these columns mean nothing here: {', '.join(result.unknown)}")
    return page([*lines, *parts.set_aside(result.set_aside)])


def _entry(line: int, name: str | None) -> str:
    return f"line {line}" + (f" ({shortened(one_line(name), 60)})" if name else "")
