"""The command plan chip."""

from __future__ import annotations

import click

from imagekeeper import containers
from imagekeeper.cli import _session, _shell
from imagekeeper.cli._convert_options import transforming_options
from imagekeeper.cli._plan_from import from_options, planned_from
from imagekeeper.cli._sheets import write_sheet
from imagekeeper.jobs.chips.planning import LAMP_CM, LAMP_MW_CM2, plan_chip
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.present.text.sheet import plan_text


@click.command(epilog="Example: imagekeeper plan chip program.bin --chip 27C128 --lane 0/2 -o u4.hex --sheet u4.html")
@click.argument("file", required=False, metavar="[IMAGE]")
@from_options
@click.option("--chip", "part", required=True, metavar="PART", help="The chip to program, by its marking.")
@click.option("--maker", metavar="NAME", help=_shell.MAKER_HELP)
@click.option("-o", "--output", required=True, metavar="OUT", help="The file to give to the programmer.")
@click.option(
    "--socket", metavar="PART", help="The chip that the socket was made for: its pins then place the image."
)
@click.option(
    "--offset", type=_shell.ADDRESS, metavar="ADDRESS", help="Place the image here in the chip; --fill fills the rest."
)
@click.option("--present", metavar="FILE", help="What the chip holds now: tells whether it must be erased first.")
@click.option(
    "--lamp", "lamp_mw_cm2", type=float, default=LAMP_MW_CM2, show_default=True, metavar="MW/CM2",
    help="The intensity of your lamp, 2.5 cm from it.",
)  # fmt: skip
@click.option("--lamp-distance", "lamp_cm", type=float, default=LAMP_CM, show_default=True, metavar="CM", help="To it.")
@click.option("--label", metavar="TEXT", help="The text of the sticker; the part and its sum without it.")
@click.option(
    "--to", type=click.Choice(containers.WRITABLE_NAMES), metavar="KIND",
    help="The kind to write; without it the ending of OUT decides, and raw where it says nothing.",
)  # fmt: skip
@click.option("--sheet", metavar="FILE", help="Write the sheet to a file too: a page if it ends in .html, else text.")
@click.option("--force", is_flag=True, help="Replace OUT and the sheet if they are there.")
@_session.archive_option
@transforming_options
@_shell.reading_options
@_shell.json_option
def chip(
    file: str | None, carrier_id: str | None, what: str | None, archive_path: str | None, part: str,
    maker: str | None, output: str, socket: str | None, offset: int | None, present: str | None, lamp_mw_cm2: float,
    lamp_cm: float, label: str | None, to: str | None, sheet: str | None, force: bool, wanted: WantedSteps,
    options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Make the file that programs IMAGE into a chip, and show the burn sheet.

    The steps of convert come first, in their order; then the image must fill the chip, or you say how it is placed. The
    exit code is 1 when it cannot work.
    """
    with planned_from(file, carrier_id, what, archive_path) as (given, grounds):
        result = plan_chip(
            given, output, part, wanted, options, maker=maker, socket=socket, offset=offset, present=present,
            label=label, lamp_mw_cm2=lamp_mw_cm2, lamp_cm=lamp_cm, to=to, sheet_to=sheet, force=force, grounds=grounds,
        )  # fmt: skip
    if sheet is not None:
        write_sheet(result.sheet, sheet, force=force)
    return _shell.show(result, plan_text, as_json)
