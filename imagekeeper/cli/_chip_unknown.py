"""The command chip unknown."""

from __future__ import annotations

import re
from functools import partial
from typing import cast

import click

from imagekeeper.chips.unmarked import MEASURED, MOST_PINS, Measured, narrow
from imagekeeper.cli import _shell
from imagekeeper.present.text.unmarked import unknown_chip_text
from imagekeeper.provenance.kinds import KINDS


def _measured(context: click.Context, parameter: click.Parameter, values: tuple[str, ...]) -> dict[int, Measured]:
    found: dict[int, Measured] = {}
    for text in values:
        match = re.fullmatch(r"([0-9]{1,2})=([a-z0-9-]+)", text)
        if match is None or match[2] not in MEASURED:
            known = ", ".join(MEASURED)
            raise click.BadParameter(f"{text!r} is not a pin and what it goes to, such as 12=ground: {known}")
        pin, what = int(match[1]), cast("Measured", match[2])
        if found.setdefault(pin, what) != what:
            raise click.BadParameter(f"pin {pin} cannot go to both {MEASURED[found[pin]]} and {MEASURED[what]}")
    return found


@click.command(epilog="Example: imagekeeper chip unknown --pins 24 --size 2K --measured 21=5v")
@click.option("--pins", type=click.IntRange(1, MOST_PINS), required=True, metavar="N", help="How many pins it has.")
@click.option("--size", type=_shell.SIZE, metavar="SIZE", help="What it holds, where that is known, such as 8K.")
@click.option("--bits", type=click.IntRange(1, 32), metavar="N", help="The width of its words.")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="What it surely is, such as eprom.")
@click.option("--row-spacing", type=float, metavar="INCH", help="How far its two rows of pins are apart, such as 0.6.")
@click.option(
    "--measured", multiple=True, callback=_measured, metavar="PIN=WHAT",
    help="Where a pin of its socket goes, the power off: ground, 5v, other-supply, bus or open. Repeat it for several.",
)
@click.option("--all", "everything", is_flag=True, help="Name every chip at every pin.")
@_shell.json_option
def unknown(
    pins: int, size: int | None, bits: int | None, kind: str | None, row_spacing: float | None,
    measured: dict[int, Measured], everything: bool, as_json: bool,
) -> int:  # fmt: skip
    """Tell what a chip could be whose number is not in the table, and how to find out without harm.

    It is worked out from the pins of all chips of that package and size: where they agree, where they differ, what can
    destroy it, and what to measure first. It is never said to be one of them.

    The exit code is 1 when the table has no chip like it.
    """
    result = narrow(pins, size=size, bits=bits, carrier=kind, inch=row_spacing, measured=measured)
    return _shell.show(result, partial(unknown_chip_text, everything=everything), as_json)
