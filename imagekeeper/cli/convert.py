"""The command convert."""

from __future__ import annotations

import click

from imagekeeper import containers
from imagekeeper.cli import _shell, _text
from imagekeeper.cli._convert_options import transforming_options
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.jobs.reads.converting import Conversion, convert_file
from imagekeeper.transforms.chip_steps import FillGaps, JoinLanes, Pad, Repeat, SplitLane, Swap, Trim, Window
from imagekeeper.transforms.disk_steps import FitGeometry, OrderSectors, OrderSides
from imagekeeper.transforms.replaying import AnyStep
from imagekeeper.units import plural, size_text


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
            _shell.warn(f"doubtful{f' in {read.name}' if result.joined else ''}: {_text.doubt(doubt)}")
    return _shell.show(result, text, as_json)


def text(result: Conversion) -> str:
    """Show what was written."""
    chosen = {"option": "as asked", "ending": "by its ending", "default": "no ending says otherwise"}[result.chosen_by]
    base = "" if result.base is None else f", first byte at {result.base:04X}"
    rows = []
    for label, read in zip(("from", *("with" for _ in result.joined)), (result.source, *result.joined), strict=True):
        container = _text.container_text(read.container, read.wrapped_in)
        rows.append([label, f"{read.name}: {size_text(read.size_bytes)}, {container}"])
    rows += [
        ["to", f"{result.output}: {result.container} ({chosen}), {size_text(result.file_bytes)} on disk{base}"],
        ["SHA-256", f"{result.sha256} (of the image{' written' if result.steps else ''})"],
    ]
    if result.steps:
        rows.append(["before", f"{result.source.sha256} (of the image read)"])
    if result.source.gaps and not result.steps:
        rows.append(["gaps", f"{plural(len(result.source.gaps), 'gap')} kept"])
    if result.doubts and result.steps:
        rows.append(["doubts", f"{plural(len(result.doubts), 'place')} in the image written, {_doubtful(result)}"])
    return "\n".join(["Converted, and read back equal.", *_text.table(rows), *_steps(result)])


def _doubtful(result: Conversion) -> str:
    return f"first {_text.doubt(result.doubts[0])}"


def _steps(result: Conversion) -> list[str]:
    if not result.steps:
        return []
    rows = [
        [f"{number}", describe(done.record), size_text(done.after_bytes), "" if done.undo else "no way back from OUT"]
        for number, done in enumerate(result.steps, 1)
    ]
    return ["", "Done to the image, in this order:", *_text.table(rows)]


def describe(step: AnyStep) -> str:
    """Say a step in the trade's words.

    Example:
        >>> describe(SplitLane(0, 2, 1)), describe(Pad(8192, 255, "start"))
        ('lane 0 of 2, a byte wide', 'padded at the start with FF')
    """
    match step:
        case Window():
            return f"window from offset {step.offset:04X}"
        case FillGaps():
            return f"{plural(len(step.gaps), 'gap')} filled with {step.fill:02X}"
        case JoinLanes():
            return f"{len(step.others) + 1} lanes joined, each {_wide(step.width_bytes)}"
        case Trim():
            return f"trimmed of {step.fill:02X} at the end"
        case Swap():
            return f"{step.swapped} of {16 if step.swapped == 'bytes' else 32}-bit words swapped"
        case SplitLane():
            return f"lane {step.lane} of {step.lanes}, {_wide(step.width_bytes)}"
        case Pad():
            return f"padded at the {step.at} with {step.fill:02X}"
        case Repeat():
            return "repeated"
        case FitGeometry():
            return f"cut or padded with {step.fill:02X} to {_geometry(step)}"
        case OrderSides():
            return f"sides from {step.sides_from} to {step.sides_to}, {_geometry(step)}"
        case OrderSectors():
            before, after = _sectors(step.interleave_from, step.skew_from), _sectors(step.interleave_to, step.skew_to)
            return f"sectors from {before} to {after}, {_geometry(step)}"
        case _:
            return {"reverse-bits": "bits of every byte reversed", "invert": "every bit inverted"}[step.step]


def _wide(width_bytes: int) -> str:
    return {1: "a byte wide", 2: "a 16-bit word wide"}[width_bytes]


def _geometry(step: FitGeometry | OrderSides | OrderSectors) -> str:
    return step.geometry + (f" with a first track of {step.first_track}" if step.first_track else "")


def _sectors(interleave: int, skew: int) -> str:
    if (interleave, skew) == (1, 0):
        return "order by number"
    return f"interleave {interleave}" + (f" and skew {skew}" if skew else "")
