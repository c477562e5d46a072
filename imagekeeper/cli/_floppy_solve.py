"""The command floppy solve."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _shell
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.geometry import Known
from imagekeeper.geometry.known import HOLES, INCHES
from imagekeeper.jobs.disks.solving import solve_file
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.geometry import geometry_text
from imagekeeper.tables.other_disks import ENCODINGS

_RECORDINGS = list(dict.fromkeys((*RECORDINGS, *ENCODINGS)))


@click.command(epilog="Example: imagekeeper floppy solve disk.img")
@click.argument("file", metavar="[FILE]", required=False)
@click.option("--size-bytes", type=_shell.SIZE, help="Size of the image, where there is no file.")
@click.option("--cylinders", type=int, metavar="COUNT", help="Tracks on each side, where they are known.")
@click.option("--heads", type=int, metavar="COUNT", help="Sides, where they are known.")
@click.option("--sectors", type=int, metavar="COUNT", help="Sectors on a track, where they are known.")
@click.option("--sector-bytes", type=_shell.SIZE, help="Size of a sector, where it is known.")
@click.option("--encoding", type=click.Choice(_RECORDINGS), help="How it is recorded, where it is known.")
@click.option("--rate", type=float, metavar="KBIT/S", help="Data rate, where it is known.")
@click.option("--rpm", type=float, help="Revolutions per minute of the drive with that rate, where they are known.")
@click.option("--disk-inch", type=click.Choice([f"{one:g}" for one in INCHES]), help="Its size, where it is known.")
@click.option(
    "--holes", type=click.Choice(list(map(str, HOLES))), help="Sector holes beside the index hole, where you looked."
)
@_shell.reading_options
@_shell.json_option
def solve(
    file: str | None, rate: float | None, rpm: float | None, disk_inch: str | None, holes: str | None, options: Options,
    as_json: bool, **same: Any,
) -> int:  # fmt: skip
    """Work out which disk an image is of: tracks, sides, sectors and their size, with the reasons.

    Give a file, or only its size, or what you know of the disk. The exit code is 1 when nothing explains it exactly.
    """
    for name, value, most in (("--rate", rate, 100_000), ("--rpm", rpm, 10_000)):
        if value is not None and not 1 <= value <= most:   # what is no number, too
            raise click.UsageError(f"{name} {value:g} belongs to no floppy disk; give one such as --rate 250 --rpm 300")
    known = Known(
        data_rate=None if rate is None else round(rate * 1000), rotation=rpm,
        disk_inch=None if disk_inch is None else float(disk_inch), holes=None if holes is None else int(holes), **same,
    )  # fmt: skip
    return _shell.show(solve_file(file, options, known), geometry_text, as_json)
