"""The command floppy solve."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.geometry import GeometryCandidate, GeometrySolution, Known
from imagekeeper.jobs.disks.solving import solve_file
from imagekeeper.jobs.images.loading import Options
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural, size_text

#: So much evidence is shown; the JSON document has all.
_SHOWN = 8


@click.command(epilog="Example: imagekeeper floppy solve disk.img")
@click.argument("file", metavar="[FILE]", required=False)
@click.option("--size-bytes", type=_shell.SIZE, help="Size of the image, where there is no file.")
@click.option("--cylinders", type=int, metavar="COUNT", help="Tracks on each side, where they are known.")
@click.option("--heads", type=int, metavar="COUNT", help="Sides, where they are known.")
@click.option("--sectors", type=int, metavar="COUNT", help="Sectors on a track, where they are known.")
@click.option("--sector-bytes", type=_shell.SIZE, help="Size of a sector, where it is known.")
@click.option("--encoding", type=click.Choice(list(RECORDINGS)), help="How it is recorded, where it is known.")
@click.option("--rate", type=float, metavar="KBIT/S", help="Data rate, where it is known.")
@click.option("--rpm", type=float, help="Revolutions per minute of the drive with that rate, where they are known.")
@click.option("--disk-inch", type=click.Choice(["8", "5.25", "3.5"]), help="Size of the disk, where it is known.")
@_shell.reading_options
@_shell.json_option
def solve(
    file: str | None, rate: float | None, rpm: float | None, disk_inch: str | None, options: Options, as_json: bool,
    **same: Any,
) -> int:  # fmt: skip
    """Work out which disk an image is of: tracks, sides, sectors and their size, with the reasons.

    Give a file, or only its size, or what you know of the disk. The exit code is 1 when nothing explains it exactly.
    """
    for name, value, most in (("--rate", rate, 100_000), ("--rpm", rpm, 10_000)):
        if value is not None and not 1 <= value <= most:   # what is no number, too
            raise click.UsageError(f"{name} {value:g} belongs to no floppy disk; give one such as --rate 250 --rpm 300")
    known = Known(
        data_rate=None if rate is None else round(rate * 1000), rotation=rpm,
        disk_inch=None if disk_inch is None else float(disk_inch), **same,
    )  # fmt: skip
    return _shell.show(solve_file(file, options, known), text, as_json)


def text(result: GeometrySolution) -> str:
    """Show an answer: the conclusion, the candidates, the reasons for the first two, and what to do next."""
    lines = _text.wrapped("", result.says)
    if result.candidates:
        rows = [["geometry", "recording", "formats", "score"]]
        rows += [[_geometry(one), _recording(one), _formats(one), f"{one.score:.2f}"] for one in result.candidates]
        lines += ["", *_text.table(rows, right=[3])]
        best, *others = result.candidates
        lines += ["", *_reasons(best)]
        if others:
            lines += ["", *_reasons(others[0])]
    size = "" if result.size_bytes is None else f"  size: {size_text(result.size_bytes)}"
    lines += ["", *([size] if size else []), *_text.wrapped("  next: ", result.hint)]
    return "\n".join(lines)


def _geometry(one: GeometryCandidate) -> str:
    off = [f"{'-' if short else '+'}{count}" for short, count in ((1, one.short_bytes), (0, one.extra_bytes)) if count]
    return " ".join([one.geometry, *off])


def _recording(one: GeometryCandidate) -> str:
    name = {"fm": "FM", "mfm": "MFM", "perpendicular": "perp."}[one.encoding]
    return f"{name} {one.data_rate / 1000:g} kbit/s {one.rotation:g} rev/min"


def _formats(one: GeometryCandidate) -> str:
    more = f" and {len(one.formats) - 1} more" if len(one.formats) > 1 else ""
    return one.formats[0] + more if one.formats else "-"


def _reasons(one: GeometryCandidate) -> list[str]:
    """Give the reasons, those for it and those against it apart."""
    lines = [f"  {one.geometry}" + (f", sides {one.side_order.replace('-', ' ')}" if one.side_order else "")]
    for label, evidence in (
        ("for", [e for e in one.evidence if e.weight >= 0]), ("against", [e for e in one.evidence if e.weight < 0])
    ):  # fmt: skip
        for item in evidence[:_SHOWN]:
            lines += _text.wrapped(f"    {label + ':':<8} ", _weighed(item))
        if len(evidence) > _SHOWN:
            lines.append(f"             and {plural(len(evidence) - _SHOWN, 'reason')} more")
    return lines


def _weighed(item: Evidence) -> str:
    return f"{item.says} ({item.weight:+g})"
