"""The command floppy controllers."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.drives.connections import listed
from imagekeeper.present.text.controllers import connection_list_in_full_text, connection_list_text


@click.command(epilog="Example: imagekeeper floppy controllers --full")
@click.option("--full", is_flag=True, help="Show steps, line 2, connectors, harm, notes and sources.")
@_shell.json_option
def controllers(full: bool, as_json: bool) -> int:
    """List the classes of controllers and cables, to find those of your own for `floppy bench add`.

    Go by the number on the controller's largest circuits, not by the name of its board.
    """
    return _shell.show(listed(), connection_list_in_full_text if full else connection_list_text, as_json)
