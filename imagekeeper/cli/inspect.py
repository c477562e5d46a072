"""The command inspect."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.inspecting import inspect_file
from imagekeeper.present.text.inspection import inspection_text


@click.command(epilog="Example: imagekeeper inspect u5.bin --chip 27128 --picture u5.svg")
@click.argument("file", metavar="FILE")
@click.option("--chip", "part", metavar="PART", help="The marking of the chip: sizes are checked, pins are named.")
@click.option("--picture", metavar="FILE", help="Draw the image block by block, as SVG.")
@click.option("--force", is_flag=True, help="Replace the picture if it is there.")
@_shell.reading_options
@_shell.json_option
def inspect(file: str, part: str | None, picture: str | None, force: bool, options: Options, as_json: bool) -> int:
    """Tell what one image says of itself, without a second read.

    Looks for a chip that did not answer, for data and address lines that do nothing, for images that repeat themselves,
    and tells what the bytes look like: text, code, tables, fill, and whose program it may be. The exit code is 1 when
    something is to be looked into.
    """
    result = inspect_file(file, options, part=part, picture_to=picture, force=force)
    if picture is not None:
        from imagekeeper.present.svg import image_map  # few inspections are drawn

        _shell.write_file(image_map.draw(result), picture, force=force)
    return _shell.show(result, lambda r: inspection_text(r, picture), as_json)
