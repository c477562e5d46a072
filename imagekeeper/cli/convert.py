"""The command convert."""

from __future__ import annotations

import click

from imagekeeper import containers
from imagekeeper.cli import _shell
from imagekeeper.cli._convert_options import transforming_options
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.jobs.reads.converting import convert_file
from imagekeeper.present.text import parts
from imagekeeper.present.text.conversion import conversion_text


@click.command(epilog="Example: imagekeeper convert u4.hex -o u4.bin --fill FF")
@click.argument("file", metavar="IN")
@click.option("-o", "--output", required=True, metavar="OUT", help="The file to write.")
@click.option(
    "--to", type=click.Choice(containers.WRITABLE_NAMES), metavar="KIND",
    help="The kind to write: " + ", ".join(containers.WRITABLE_NAMES)
    + ". Without it the ending of OUT decides, and raw where it says nothing.",
)  # fmt: skip
@click.option("--base", type=_shell.ADDRESS, metavar="ADDRESS", help="Put the first byte at this address.")
@click.option("--force", is_flag=True, help="Replace OUT if it is there.")
@transforming_options
@_shell.reading_options
@_shell.json_option
def convert(
    file: str, output: str, to: str | None, base: int | None, force: bool, wanted: WantedSteps, options: Options,
    as_json: bool,
) -> int:  # fmt: skip
    """Write what IN stands for in another container, and change its bytes on the way if asked.

    What is written is decoded again and compared before it takes its place. Gaps stay gaps unless --fill closes them;
    a raw file cannot show gaps, so they must be closed there, and for everything that changes bytes.

    \b
    What is asked for is done in this order, whatever the order of the options:
      any image  --window, --fill
      chips      --join, --trim, --swap, --reverse-bits, --invert, --lane, --pad-to, --repeat-to
      disks      --fit-geometry, --interleave-from, --sides-from/-to, --interleave-to
      any image  --base

    Another order takes two conversions. Each step is recorded with its parameters in the JSON document. A lane, a
    whole made of lanes, and an image padded before its start begin at address 0 unless --base says where.
    """  # noqa: D301  the backspace is click's sign that lines stay as they are
    result = convert_file(
        file, output, options, wanted=wanted, to=to, base=base, force=force, progress=_shell.bar
    )
    for read in (result.source, *result.joined):
        for doubt in read.doubts[:10]:
            _shell.warn(f"doubtful{f' in {read.name}' if result.joined else ''}: {parts.doubt(doubt)}")
    return _shell.show(result, conversion_text, as_json)
