"""The commands `archive table`, `archive fill-in` and `archive references`: to and from spreadsheets."""

from __future__ import annotations

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.jobs.carriers import corroborating, tabulating
from imagekeeper.present.text.tables import corroborated_text, filled_in_text, tabulated_text

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
    return _shell.show(result, tabulated_text, as_json)


@click.command("fill-in", epilog="Example: imagekeeper archive fill-in carriers.csv --dry-run")
@click.argument("file", metavar="FILE")
@_dry_run
@click.option("--empty-clears", is_flag=True, help="Let an empty cell take a text away; otherwise it says nothing.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def fill_in(
    file: str, dry_run: bool, empty_clears: bool, really: bool, operator: str | None, archive_path: str | None,
    as_json: bool,
) -> int:  # fmt: skip
    """Add the carriers that a CSV file names and correct what it says otherwise of those that are here.

    Columns are recognised by their names, in any order: id, kind, part, machine, board, position, label, markings,
    date_code, package, condition, note. Every row is checked before any is applied; what was said before stays in the
    history.
    """
    result = tabulating.fill_in(
        _session.archive(archive_path), file, _session.session(operator), dry_run=dry_run, empty_clears=empty_clears,
        decide=_asking.decider(really),
    )  # fmt: skip
    return _shell.show(result, filled_in_text, as_json)


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
    return _shell.show(result, corroborated_text, as_json)
