"""The command inspect."""

from __future__ import annotations

from collections.abc import Iterator

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.inspecting import inspect_file
from imagekeeper.jsonable import one_line
from imagekeeper.units import address_digits, plural, range_text, size_text

#: What the letters of the map in text mean, and the map in pictures as well.
KINDS = {
    "fill": (".", "fill"), "sparse": (":", "mostly one value"), "text": ("T", "text"), "table": ("/", "table"),
    "varied": ("c", "varied, as code is"), "dense": ("#", "as chance makes it"),
}  # fmt: skip

_ROW_BLOCKS = 64


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
    return _shell.show(result, lambda r: text(r, picture), as_json)


def text(result: Inspection, picture: str | None = None) -> str:
    """Show an inspection: the conclusion and the findings first, then the facts."""
    faults = any(found.severity == "fault" for found in result.findings)
    says = _shell.paint(result.says, fg="red", bold=True) if faults else result.says
    lines = [result.name]
    if result.disk is not None:
        lines += [*_text.disk_contents(result.disk), ""]
    lines += [says] if faults else _text.wrapped("", says)
    for found in result.findings:
        lines += ["", *_text.finding(found)]
    if result.entropy is None:
        return "\n".join(lines)
    lines += ["", *_facts(result)]
    if result.processors:
        lines += ["", "  hints at the processor, no verdict:"]
        for hint in result.processors[:3]:
            lines += _text.wrapped(
                f"    {hint.processor}, weight {hint.weight:.2f}: ", "; ".join(e.says for e in hint.evidence)
            )
    if result.texts:
        lines += ["", *_strings(result)]
    lines += ["", *_map(result)]
    if picture is not None:
        lines += ["", f"picture: {picture}"]
    return "\n".join(lines)


def _facts(result: Inspection) -> list[str]:
    digits = address_digits(result.start + result.size_bytes)
    rows = [
        ["size", size_text(result.size_bytes) + f" from {result.start:0{digits}X}"],
        ["container", _text.container_text(result.container, result.wrapped_in)],
        ["bytes", f"{plural(result.distinct, 'different value')}, {result.entropy:.2f} bits each"],
        ["ones", ", ".join(f"{d.line} {d.ones / result.size_bytes:.0%}" for d in reversed(result.data_lines))],
    ]
    if result.fills:
        longest = max(result.fills, key=lambda fill: fill.length)
        rows.append(
            ["fill", f"{size_text(result.fill_bytes)} in runs, the longest of {longest.value} at "
             f"{range_text(longest.start, longest.length, digits)}"]
        )  # fmt: skip
    return _text.table(rows)


def _strings(result: Inspection) -> Iterator[str]:
    digits = address_digits(result.start + result.size_bytes)
    longest = sorted(sorted(result.texts, key=lambda t: -t.length)[: _text.SHOWN], key=lambda t: t.start)
    yield f"  {plural(result.texts_total, 'string')}" + (", the longest:" if result.texts_total > len(longest) else ":")
    for one in longest:
        form = {"ascii": "", "bit-7-last": "  (bit 7 marks the end)", "bit-7": "  (bit 7 set)"}[one.form]
        yield f"    {one.start:0{digits}X}  {one_line(one.text)}{form}"


def _map(result: Inspection) -> Iterator[str]:
    digits = address_digits(result.start + result.size_bytes)
    yield f"  a block is {size_text(result.block_bytes)}:"
    for first in range(0, len(result.blocks), _ROW_BLOCKS):
        row = result.blocks[first : first + _ROW_BLOCKS]
        yield f"    {row[0].start:0{digits}X}  {''.join(KINDS[block.kind][0] for block in row)}"
    present = {block.kind for block in result.blocks}
    yield "    " + ", ".join(f"{letter} {words}" for kind, (letter, words) in KINDS.items() if kind in present)
