"""The command vote."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper import containers
from imagekeeper.cli import _shell
from imagekeeper.comparison.majority import By, Ties
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.vote import majority_text
from imagekeeper.units import parse_byte


class _Ties(click.ParamType[str | int]):
    """What becomes of a tie: `gap`, `first`, or a byte."""

    name = "ties"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str | int:
        if value in ("gap", "first") or isinstance(value, int):
            return value   # type: ignore[no-any-return]  # one of the two, or parsed already
        try:
            return parse_byte(value)
        except ValueError:
            self.fail(f"{value!r} is not gap, first, or a byte in hexadecimal such as FF", param, ctx)


@click.command(epilog="Example: imagekeeper vote u5-first.bin u5-second.bin u5-third.bin -o u5.bin")
@click.argument("reads", nargs=-1, required=True, metavar="READ READ READ...")
@click.option("-o", "--output", required=True, metavar="OUT", help="The file to write.")
@click.option(
    "--by", type=click.Choice(["byte", "bit"]),
    help="Vote on whole bytes, or on each bit for itself: then a byte may come out that no read gives. "
    "Bytes by default, bits with --vcc.",
)  # fmt: skip
@click.option(
    "--ties", type=_Ties(), metavar="gap|first|BYTE", default="gap", show_default=True,
    help="What to write where no value has a majority: a gap, the first read's value, or a byte such as FF. A raw file "
    "cannot show gaps: then nothing is written.",
)  # fmt: skip
@click.option(
    "--vcc", metavar="VOLTS,VOLTS,...",
    help="The supply voltage of each read in order, such as 5.0,5.0,4.5; - for unknown. A 0 read at a lower voltage "
    "then weighs more.",
)  # fmt: skip
@click.option(
    "--geometry", metavar="GEOMETRY|FORMAT",
    help="Of the disk that was read, such as 80x2x9x512 (cylinders, heads, sectors, bytes) or 720K. Without it the "
    "content tells whether the reads are of a disk.",
)  # fmt: skip
@click.option(
    "--to", type=click.Choice(containers.WRITABLE_NAMES), metavar="KIND",
    help="The kind to write: " + ", ".join(containers.WRITABLE_NAMES)
    + ". Without it the ending of OUT decides, and raw where it says nothing.",
)  # fmt: skip
@click.option(
    "--list", "shown", type=click.IntRange(0, 2000), default=16, show_default=True,
    help="How many disputed addresses to list.",
)  # fmt: skip
@click.option("--force", is_flag=True, help="Replace OUT if it is there.")
@_shell.reading_options
@_shell.json_option
def vote(
    reads: tuple[str, ...], output: str, by: By | None, ties: str | int, vcc: str | None, geometry: str | None,
    to: str | None, shown: int, force: bool, options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Write the majority of three or more READs of one carrier.

    At every address the value wins that more than half of the reads give. Where none does, the address stays disputed
    and the exit code is 1, whatever --ties puts there. It is 1 too when the reads differ in size, as only their common
    part is voted on, when the voted image shows the sign of a fault, and when fill would outvote what another read
    holds, but where the file system of every read leaves it free: then nothing is written.

    Of a disk it is told by cylinder, side and sector what was disputed; the exit code is 1 too where a sector had to be
    put together of bytes of several reads. `files merge` takes whole sectors, and the lists of readers.

    A vote mends random faults only. It keeps what most reads have in common, right or wrong: find the cause with
    compare, and mend it, before you vote.
    """
    from imagekeeper.jobs.reads.voting import vote_files  # numpy comes with it, which --help does not need

    volts = None if vcc is None else _shell.volts(vcc)
    leave = Ties("fill", ties) if isinstance(ties, int) else Ties("first" if ties == "first" else "gap")
    result = vote_files(
        reads, output, options, by=by or ("byte" if volts is None else "bit"), ties=leave, volts=volts,
        geometry=geometry, to=to, force=force, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, lambda r: majority_text(r, shown), as_json)
