"""The command convert."""

from __future__ import annotations

import click

from imagekeeper import containers
from imagekeeper.cli import _shell, _text
from imagekeeper.units import plural, size_text
from imagekeeper.workflows.converting import Conversion, convert_file
from imagekeeper.workflows.loading import Options


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
@_shell.reading_options
@_shell.json_option
def convert(
    file: str, output: str, to: str | None, base: int | None, force: bool, options: Options, as_json: bool
) -> int:
    """Write what IN stands for in another container.

    What is written is decoded again and compared before it takes its place. Gaps stay gaps unless --fill closes them;
    a raw file cannot show gaps, so they must be closed there.
    """
    result = convert_file(
        file, output, options, to=to, base=base, force=force, progress=_shell.bar
    )
    for doubt in result.source.doubts[:10]:
        _shell.warn(f"doubtful: {_text.doubt(doubt)}")
    return _shell.show(result, text, as_json)


def text(result: Conversion) -> str:
    """Show what was written."""
    chosen = {"option": "as asked", "ending": "by its ending", "default": "no ending says otherwise"}[result.chosen_by]
    source = result.source
    base = "" if result.base is None else f", first byte at {result.base:04X}"
    container = _text.container_text(source.container, source.wrapped_in)
    rows = [
        ["from", f"{source.name}: {size_text(source.size_bytes)}, {container}"],
        ["to", f"{result.output}: {result.container} ({chosen}), {size_text(result.file_bytes)} on disk{base}"],
        ["SHA-256", f"{source.sha256} (of the image)"],
    ]
    if source.gaps:
        rows.append(["gaps", f"{plural(len(source.gaps), 'gap')} kept"])
    return "\n".join(["Converted, and read back equal.", *_text.table(rows)])
