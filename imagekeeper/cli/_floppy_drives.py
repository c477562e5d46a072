"""The command floppy drives."""

from __future__ import annotations

import sys

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.disks.matching_drives import drives_for
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.drives import drive_request_text, drives_in_full_text, drives_text


@click.command(epilog="Example: imagekeeper floppy drives 360K")
@click.argument("disk", metavar="FORMAT-OR-FILE")
@click.option("--full", is_flag=True, help="Show all reasons, settings, adaptations, cautions and sources.")
@click.option("--request", is_flag=True, help="Show only what to ask a friend for, ready to be sent.")
@_session.archive_option
@_shell.json_option
def drives(disk: str, full: bool, request: bool, archive_path: str | None, as_json: bool) -> int:
    """Tell which drive can write a disk, which can read it, how to set it, and what else would do.

    FORMAT-OR-FILE is a format such as 360K or 8-77x1x26x128-fm (see `floppy list`), or an image, of which the format is
    worked out. `-` is standard input. Where the archive has a bench (see `floppy bench`), your own drives come first.

    The exit code is 1 when no drive of the table writes it.
    """
    options = Options(stdin=sys.stdin.buffer)
    text = drive_request_text if request else drives_in_full_text if full else drives_text
    return _shell.show(drives_for(disk, options, archive_path or None), text, as_json)
