"""The commands `plan ...`: what to give the device, and the sheet for the bench."""

from __future__ import annotations

import click

from imagekeeper.cli._plan_chip import chip
from imagekeeper.cli._plan_disk import disk


@click.group()
def plan() -> None:
    """Plan a replacement: the file for the device, and the sheet for the bench."""


plan.add_command(chip)
plan.add_command(disk)
