"""The commands `chip ...`: memory chips, their sizes, pins, voltages, and what can take their place."""

from __future__ import annotations

import click

from imagekeeper import chips
from imagekeeper.cli import _shell
from imagekeeper.cli._chip_substitute import substitute
from imagekeeper.cli._chip_unknown import unknown
from imagekeeper.present.text.chips import chip_list_text, chip_text
from imagekeeper.provenance.kinds import KINDS


@click.group()
def chip() -> None:
    """Look up memory chips: sizes, pins, voltages, substitutes.

    Every figure is of the generic type, with its source; the data sheet of the chip's own maker decides.
    """


chip.add_command(substitute)
chip.add_command(unknown)


@chip.command("list", epilog="Example: imagekeeper chip list --kind eprom --size 16K")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="Only this kind, such as eprom or prom.")
@click.option("--size", type=_shell.SIZE, metavar="SIZE", help="Only chips that hold this much, such as 16K.")
@_shell.json_option
def list_(kind: str | None, size: int | None, as_json: bool) -> int:
    """List the chips of the table."""
    return _shell.show(chips.listed(carrier=kind, size=size), chip_list_text, as_json)


@chip.command(epilog="Example: imagekeeper chip show M27C128-15")
@click.argument("part", metavar="PART")
@click.option("--maker", metavar="NAME", help=_shell.MAKER_HELP)
@_shell.json_option
def show(part: str, maker: str | None, as_json: bool) -> int:
    """Show size, voltages and pins of PART, with cautions and sources.

    PART is what stands on the chip: a maker's prefix, the speed and the package do not matter.
    """
    return _shell.show(chips.find(part, maker), chip_text, as_json)
