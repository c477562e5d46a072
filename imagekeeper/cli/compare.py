"""The command compare."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.comparing import compare_files
from imagekeeper.present.text.comparison import comparison_text


@click.command(epilog="Example: imagekeeper compare u4-first.bin u4-second.hex.gz")
@click.argument("reads", nargs=-1, required=True, metavar="READ READ...")
@click.option(
    "--ranges", type=click.IntRange(0, 1000), default=16, show_default=True, help="How many differing ranges to list."
)
@click.option(
    "--chip", metavar="PART",
    help="The chip that was read, such as 27128: each read is inspected as one of it, and pins are named in hints.",
)  # fmt: skip
@click.option(
    "--vcc", metavar="VOLTS,VOLTS,...", help="The supply voltage of each read in order, such as 4.5,5.5; - for unknown."
)
@click.option(
    "--geometry", metavar="GEOMETRY|FORMAT",
    help="Of the disk that was read, such as 80x2x9x512 (cylinders, heads, sectors, bytes) or 720K. Without it the "
    "content tells whether the reads are of a disk.",
)  # fmt: skip
@click.option("--picture", metavar="FILE", help="Draw the differences over the addresses, as SVG.")
@click.option("--force", is_flag=True, help="Replace the picture if it is there.")
@_shell.reading_options
@_shell.json_option
def compare(
    reads: tuple[str, ...], ranges: int, chip: str | None, vcc: str | None, geometry: str | None, picture: str | None,
    force: bool, options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Tell whether independent READs of one chip or disk agree, and if not, where and why they differ.

    Causes come with a confidence, most likely first: a line that is stuck, loose, exchanged or shorted, bytes lost on
    the way, charge loss, and so on.

    Reads of a disk are compared by cylinder, side and sector, and the causes are those of disks: sides exchanged, a
    step missed, a head that reads nothing, weak sectors, another version of the disk.

    The reads may come in any mix of containers. Agreement of reads proves that they were taken alike; it does not
    prove that they are right: a fault that repeats itself repeats itself in every read. The exit code is 0 only where
    the reads agree, are two files at least, and show no sign of such a fault.
    """
    if len(reads) < 2:
        raise click.UsageError("compare needs two reads or more; read it again into another file")
    result = compare_files(
        reads, options, chip=chip, geometry=geometry, volts=None if vcc is None else _shell.volts(vcc),
        picture_to=picture, force=force, progress=_shell.bar,
    )
    if picture is not None:
        from imagekeeper.present.svg import difference_map  # few comparisons are drawn

        _shell.write_file(difference_map.draw(result, follows=True), picture, force=force)
    return _shell.show(result, lambda r: comparison_text(r, ranges, picture), as_json)
