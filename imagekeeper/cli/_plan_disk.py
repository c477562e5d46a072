"""The command plan disk."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.cli._plan_from import from_options, planned_from
from imagekeeper.cli._sheets import write_sheet
from imagekeeper.floppy.arrangement import SIDE_ORDERS, SideOrder
from imagekeeper.jobs.disks.matching_drives import bench_at
from imagekeeper.jobs.disks.planning import FILL, DiskChoice, plan_disk
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.sheet import plan_text

_SIDES = click.Choice(tuple(SIDE_ORDERS))


@click.command(
    epilog="Example: imagekeeper plan disk station.img --format '720K 5.25' --drive 5.25-96tpi-hd-360 -o write.img"
)
@click.argument("file", required=False, metavar="[IMAGE]")
@from_options
@click.option("--drive", required=True, metavar="DRIVE", help="A drive of your bench, or a class of drives.")
@click.option("-o", "--output", required=True, metavar="OUT", help="The file to give to the program that writes.")
@click.option(
    "--format", "name", metavar="FORMAT",
    help="The format; without it the content of the image must tell: its size is not enough.",
)  # fmt: skip
@click.option("--sides-from", type=_SIDES, help="The order of sides in IMAGE; alternating without it.")
@click.option("--sides-to", type=_SIDES, help="The order that the writer wants; alternating without it.")
@click.option(
    "--disk-fill", type=_shell.BYTE, default=f"{FILL:02X}", show_default=True, metavar="BYTE",
    help="What fills up a short image, and what formatting leaves.",
)  # fmt: skip
@click.option(
    "--first-sector", type=int, default=1, show_default=True, metavar="NUMBER", help="Number of the first sector."
)
@click.option("--interleave", type=int, default=1, show_default=True, help="Of the sectors.")
@click.option("--sheet", metavar="FILE", help="Write the sheet to a file too: a page if it ends in .html, else text.")
@click.option("--force", is_flag=True, help="Replace OUT and the sheet if they are there.")
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def disk(
    file: str | None, carrier_id: str | None, what: str | None, drive: str, output: str, name: str | None,
    sides_from: SideOrder | None, sides_to: SideOrder | None, disk_fill: int, first_sector: int, interleave: int,
    sheet: str | None, force: bool, archive_path: str | None, options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Make the file that writes IMAGE to a disk in DRIVE, and show the sheet for the bench.

    The exit code is 1 when that drive cannot write the disk; then those that can are named.
    """
    choice = DiskChoice(
        format=name, sides_from=sides_from, sides_to=sides_to, fill=disk_fill, first_sector=first_sector,
        interleave=interleave,
    )  # fmt: skip
    with planned_from(file, carrier_id, what, archive_path) as (given, grounds):
        result = plan_disk(
            given, output, drive, choice, options, bench=bench_at(archive_path or None), sheet_to=sheet, force=force,
            grounds=grounds,
        )  # fmt: skip
    if sheet is not None:
        write_sheet(result.sheet, sheet, force=force)
    return _shell.show(result, plan_text, as_json)
