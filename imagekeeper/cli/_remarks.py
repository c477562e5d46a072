"""The commands that add to a record by hand, the same for carriers and machines: a remark, a picture."""

from __future__ import annotations

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.present.text.records import noted_text, pictured_text


def note_command(of: str, epilog: str) -> click.Command:
    """Make the command that adds a remark.

    Args:
        of: `carrier` or `machine`.
        epilog: The example below its help.
    """

    @click.command("note", help=f"Add a remark to a {of}'s record; remarks stay as they are.", epilog=epilog)
    @click.argument("of_id", metavar="ID")
    @click.argument("text")
    @_asking.really_option
    @_session.operator_option
    @_session.archive_option
    @_shell.json_option
    def note(
        of_id: str, text: str, really: bool, operator: str | None, archive_path: str | None, as_json: bool
    ) -> int:
        from imagekeeper.jobs.carriers import describing  # slow to load, and a list of carriers does without

        record = describing.add_note(
            _session.archive(archive_path), of_id, text, _session.session(operator), decide=_asking.decider(really)
        )
        return _shell.show(record, noted_text, as_json)

    return note


def photo_command(of: str, epilog: str) -> click.Command:
    """Make the command that keeps a picture.

    Args:
        of: `carrier` or `machine`.
        epilog: The example below its help.
    """

    @click.command("photo", help=f"Keep a picture of the {of}: FILE as it is.", epilog=epilog)
    @click.argument("of_id", metavar="ID")
    @click.argument("file", metavar="FILE")
    @click.option("--caption", metavar="TEXT", help="What it shows.")
    @_session.operator_option
    @_session.archive_option
    @_shell.json_option
    def photo(
        of_id: str, file: str, caption: str | None, operator: str | None, archive_path: str | None, as_json: bool
    ) -> int:
        from imagekeeper.jobs.carriers import describing  # slow to load, and a list of carriers does without

        session = _session.session(operator)
        record = describing.add_photo(_session.archive(archive_path), of_id, file, caption, session)
        return _shell.show(record, pictured_text, as_json)

    return photo
