"""The commands floppy list and floppy show: the formats of the table."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.floppy import formats
from imagekeeper.floppy.other_formats import describe_other
from imagekeeper.present.text.formats import format_list_text, format_text
from imagekeeper.present.text.other_formats import other_format_text


@click.command("list", epilog="Example: imagekeeper floppy list --size 368640")
@click.option("--size", type=_shell.SIZE, metavar="SIZE", help="Only formats whose image has this size, such as 720K.")
@click.option("--disk-inch", type=float, metavar="INCH", help="Only disks of this size: 8, 5.25, 3.5 or 3.")
@_shell.json_option
def list_(size: int | None, disk_inch: float | None, as_json: bool) -> int:
    """List the formats of the table: the common disks from about 1975 to 1995."""
    if disk_inch not in (None, 8, 5.25, 3.5, 3):
        raise click.UsageError(f"there are no disks of {disk_inch:g} inch in the table; give 8, 5.25, 3.5 or 3")
    return _shell.show(formats.listed(size=size, disk_inch=disk_inch), format_list_text, as_json)


@click.command(epilog="Example: imagekeeper floppy show 360K")
@click.argument("name", metavar="FORMAT")
@_shell.json_option
def show(name: str, as_json: bool) -> int:
    """Show one format: its geometry, recording, medium and file system, with sources.

    FORMAT is an id of the list, another name such as 360K, or a geometry such as 40x2x9x512 that only one format has.
    """
    other = formats.find_other(name)
    if other is not None:
        return _shell.show(describe_other(other), other_format_text, as_json)
    return _shell.show(formats.describe(formats.find(name)), format_text, as_json)
