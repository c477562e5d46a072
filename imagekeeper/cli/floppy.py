"""The commands `floppy ...`: disks, their formats, tracks and drives; each is in a module of its own."""

from __future__ import annotations

import click

from imagekeeper.cli._floppy_bench import bench
from imagekeeper.cli._floppy_controllers import controllers
from imagekeeper.cli._floppy_drives import drives
from imagekeeper.cli._floppy_formats import list_, show
from imagekeeper.cli._floppy_layout import layout
from imagekeeper.cli._floppy_solve import solve


@click.group()
def floppy() -> None:
    """Work out what a disk is, how it is recorded, and which drive can write it."""


floppy.add_command(list_)
floppy.add_command(show)
floppy.add_command(layout)
floppy.add_command(solve)
floppy.add_command(drives)
floppy.add_command(controllers)
floppy.add_command(bench)
