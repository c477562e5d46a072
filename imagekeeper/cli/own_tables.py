"""The commands `table ...`: a person's own rows of chips, drives, formats and media."""

from __future__ import annotations

from pathlib import Path

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.cli._own_rows import archive_meant
from imagekeeper.jobs.tables.listing import check_own_rows, list_own_rows
from imagekeeper.jobs.tables.templates import KINDS, new_row
from imagekeeper.present.text.own_rows import checked_rows_text, decided_row_text, own_rows_text, template_text


@click.group()
def table() -> None:
    """Keep own rows: chips, drives, formats and disks that the tables lack or have wrong.

    They stand in TOML files in the folder tables of the archive, or in imagekeeper/tables of your own configuration
    folder (IMAGEKEEPER_TABLES names another). Every value says what it rests on, or who measured it when and how.
    """


@table.command(epilog="Example: imagekeeper table new chip -o tables/mine.toml")
@click.argument("kind", type=click.Choice(KINDS), metavar="KIND")
@click.option("-o", "--output", metavar="FILE", help="Write it to this new file, and make its folder.")
@_shell.json_option
def new(kind: str, output: str | None, as_json: bool) -> int:
    """Give a row of a KIND with comments, to be filled in: chip, maker, drive, medium or format."""
    return _shell.show(new_row(kind, output), template_text, as_json)


@table.command(epilog="Example: imagekeeper table check tables/mine.toml")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@_session.archive_option
@_shell.json_option
def check(files: tuple[str, ...], archive_path: str | None, as_json: bool) -> int:
    """Check each FILE of own rows, wherever it lies, and change nothing; the exit code is 1 where a row is wrong."""
    return _shell.show(check_own_rows(files, _archive()), checked_rows_text, as_json)


@table.command("list", epilog="Example: imagekeeper table list")
@_session.archive_option
@_shell.json_option
def list_(archive_path: str | None, as_json: bool) -> int:
    """List the own rows in force with what each rests on, and those from elsewhere that wait for a decision."""
    return _shell.show(list_own_rows(_archive()), own_rows_text, as_json)


@table.command(epilog="Example: imagekeeper table accept 3f5a09c1d2 --confirm")
@click.argument("mark", metavar="MARK")
@click.option("--confirm", is_flag=True, help="Accept it: without this it is only shown, with what it would change.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def accept(mark: str, confirm: bool, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Show the row with this MARK, which came from another archive, and with --confirm let answers rest on it.

    Without --confirm nothing changes, and the exit code is 1. Who accepted it, and when, is kept.
    """
    from imagekeeper.jobs.tables.deciding import accept_row  # the archive's writing side, which a list does without

    result = accept_row(_session.archive(archive_path), mark, _session.session(operator), confirm=confirm)
    return _shell.show(result, decided_row_text, as_json)


@table.command(epilog="Example: imagekeeper table refuse 3f5a09c1d2 --reason 'the sheet gives 21 V'")
@click.argument("mark", metavar="MARK")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def refuse(mark: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Refuse the row with this MARK, also one that was accepted before: no answer rests on it any more."""
    from imagekeeper.jobs.tables.deciding import refuse_row  # as above

    result = refuse_row(_session.archive(archive_path), mark, reason, _session.session(operator))
    return _shell.show(result, decided_row_text, as_json)


def _archive() -> Path | None:
    meant = archive_meant()
    if meant is None:
        return None
    _session.archive(meant)   # says so where it is none: a wrong name is no archive without own rows
    return Path(meant)
