"""The commands `archive table`, `archive fill-in` and `archive references`: to and from spreadsheets."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell, _text
from imagekeeper.jobs.carriers import corroborating, tabulating
from imagekeeper.jsonable import one_line
from imagekeeper.units import plural

#: Longer lists are cut here; the JSON document has all.
_SHOWN = 40

_dry_run = click.option("--dry-run", is_flag=True, help="Check everything and say what would happen; change nothing.")


@click.command(epilog="Example: imagekeeper archive table -o carriers.csv")
@click.option("-o", "--output", required=True, metavar="FILE", help="The CSV file to write.")
@click.option("--bom", is_flag=True, help="Begin with the mark by which some spreadsheets recognise UTF-8.")
@click.option("--force", is_flag=True, help="Replace FILE if it is there.")
@_session.archive_option
@_shell.json_option
def table(output: str, bom: bool, force: bool, archive_path: str | None, as_json: bool) -> int:
    """Write the carriers with what is said of them to a CSV file for a spreadsheet.

    The file is in UTF-8, as RFC 4180 has it. A text that a spreadsheet would take for a formula gets an apostrophe in
    front; `archive fill-in` takes it away again.
    """
    result = tabulating.table(
        _session.archive(archive_path), output, bom=bom, force=force, progress=_shell.bar
    )
    return _shell.show(result, _tabulated, as_json)


def _tabulated(result: tabulating.Table) -> str:
    return (
        f"{result.path}: {plural(result.carriers, 'carrier')}, {plural(len(result.columns), 'column')}\n"
        f"  next: fill it in, then: imagekeeper archive fill-in {result.path} --dry-run"
    )


@click.command("fill-in", epilog="Example: imagekeeper archive fill-in carriers.csv --dry-run")
@click.argument("file", metavar="FILE")
@_dry_run
@click.option("--empty-clears", is_flag=True, help="Let an empty cell take a text away; otherwise it says nothing.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def fill_in(
    file: str, dry_run: bool, empty_clears: bool, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Add the carriers that a CSV file names and correct what it says otherwise of those that are here.

    Columns are recognised by their names, in any order: id, kind, part, machine, board, position, label, markings,
    date_code, package, condition, note. Every row is checked before any is applied; what was said before stays in the
    history.
    """
    result = tabulating.fill_in(
        _session.archive(archive_path), file, _session.session(operator), dry_run=dry_run, empty_clears=empty_clears
    )
    return _shell.show(result, _filled_in, as_json)


def _filled_in(result: tabulating.FilledIn) -> str:
    changed = sorted({one.id for one in result.changes})
    would = "would be " if result.dry_run else ""
    lines = [
        f"{result.path}: {plural(len(result.added), 'carrier')} {would}added, {len(changed)} {would}corrected, "
        f"{result.unchanged} with nothing new"
    ]
    lines += [f"  {one}: new" for one in result.added[:_SHOWN]]
    for one in result.changes[:_SHOWN]:
        lines += _text.wrapped(f"  {one.id}: ", f"{one.column}: {_said(one.before)} becomes {_said(one.after)}")
    if max(len(result.added), len(result.changes)) > _SHOWN:
        lines.append("  and more; --json names them all")
    if result.unknown:
        lines += _text.wrapped("  note: ", f"these columns mean nothing here: {', '.join(result.unknown)}")
    if result.dry_run:
        lines.append("Nothing was changed.")
    return "\n".join(lines)


def _said(text: str | None) -> str:
    return "nothing" if text is None else repr(one_line(text)[:60])


@click.command(epilog="Example: imagekeeper archive references service-manual.csv --source 'service manual, page 12'")
@click.argument("file", metavar="FILE")
@click.option("--source", metavar="TEXT", help="Where the list comes from; without it the name of FILE.")
@click.option("--dry-run", is_flag=True, help="Compare, and record nothing.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def references(
    file: str, source: str | None, dry_run: bool, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Hold all images against a CSV list of digests: name, size, and any of crc32, md5, sha1, sha256, sha384, sha512.

    Where an entry fits an agreed image, it is recorded as a reference with it, which can raise its grade. An entry that
    is alike only in size and name is told, and nothing is concluded from it; the exit code is 1 then.
    """
    result = corroborating.corroborate(
        _session.archive(archive_path), file, _session.session(operator), source=source, dry_run=dry_run,
        progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, _corroborated, as_json)


def _corroborated(result: corroborating.Corroboration) -> str:
    borne_out = len({one.carrier for one in result.matches})
    lines = [
        f"{result.path}: {plural(result.entries, 'entry', 'entries')}, "
        f"{plural(borne_out, 'carrier')} with an image that fits"
    ]
    for match in result.matches[:_SHOWN]:
        done = "would be recorded" if result.dry_run else "recorded"
        recorded = done if match.recorded else f"not recorded: {match.because}"
        what = "agreed image" if match.what == "agreed" else match.what
        lines += _text.wrapped(
            f"  {match.carrier}: ", f"{what} fits {_entry(match.line, match.name)} by {', '.join(match.by)}; {recorded}"
        )
    for one in result.unlike[:_SHOWN]:
        lines += _text.wrapped(f"  {one.carrier}: does not fit ", f"{_entry(one.line, one.name)}: {one.why}")
    if result.unmatched:
        lines += _text.wrapped("  nothing in the list about: ", ", ".join(result.unmatched[:_SHOWN]))
    if max(len(result.matches), len(result.unlike), len(result.unmatched)) > _SHOWN:
        lines.append("  and more; --json names them all")
    if result.unknown:
        lines += _text.wrapped("  note: ", f"these columns mean nothing here: {', '.join(result.unknown)}")
    return "\n".join(lines)


def _entry(line: int, name: str | None) -> str:
    return f"line {line}" + (f" ({one_line(name)[:60]})" if name else "")
