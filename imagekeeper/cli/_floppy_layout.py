"""The command floppy layout."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.floppy.layout import Field, TrackLayout
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.jobs.disks.laying_out import layout_of
from imagekeeper.units import plural


@click.command(epilog="Example: imagekeeper floppy layout --sectors 9 --sector-bytes 512 --gap3 80")
@click.option(
    "--encoding", type=click.Choice(list(RECORDINGS)), default="mfm", show_default=True, help="How it is recorded."
)
@click.option(
    "--rate", type=float, metavar="KBIT/S",
    help="Data rate; without it 125 for fm, 250 for mfm, 1000 for perpendicular.",
)
@click.option("--rpm", type=float, default=300.0, show_default=True, help="Revolutions per minute.")
@click.option("--sectors", type=int, metavar="COUNT", help="Sectors on the track; without it as many as fit.")
@click.option("--sector-bytes", type=_shell.SIZE, default=512, show_default=True, help="Size of a sector.")
@click.option("--gap3", type=int, metavar="BYTES", help="Gap after each sector; without it midway between its limits.")
@click.option(
    "--tolerance", type=float, default=1.5, show_default=True, metavar="PERCENT",
    help="By how much the drive that formats may turn too fast.",
)
@click.option(
    "--rewrite-tolerance", type=float, metavar="PERCENT",
    help="By how much the drives that format and that write later may each be off; without it as --tolerance.",
)
@click.option(
    "--index-gap", type=int, metavar="BYTES", help="Leave out the index mark, and begin with a gap of this length."
)
@click.option(
    "--interleave", type=int, metavar="COUNT",
    help="How many sectors on the next number is; without it what the host delay makes best.",
)
@click.option(
    "--host-delay", type=float, default=0.0, show_default=True, metavar="MS",
    help="What the host needs after a sector before it can read the next.",
)
@click.option(
    "--step-delay", type=float, default=0.0, show_default=True, metavar="MS",
    help="What it takes more to come to the next track; decides the skew.",
)
@click.option("--picture", metavar="FILE", help="Draw the track, as SVG.")
@click.option("--force", is_flag=True, help="Replace the picture if it is there.")
@_shell.json_option
def layout(
    encoding: str, rate: float | None, rpm: float, sector_bytes: int, tolerance: float,
    rewrite_tolerance: float | None, host_delay: float, step_delay: float, picture: str | None, as_json: bool,
    force: bool, **same: Any,
) -> int:  # fmt: skip
    """Lay out a track: its fields, what fits on it, the limits of gap 3, and the order of its sectors.

    The exit code is 1 when the sectors do not fit on a drive that turns as much too fast as --tolerance allows.
    """
    if rate is not None and not 1 <= rate <= 100_000:   # what is no number, too, cannot become bit/s
        raise click.UsageError(f"{rate:g} kbit/s is no data rate of a floppy disk; give one such as 250 or 500")
    result = layout_of(
        encoding, data_rate=None if rate is None else round(rate * 1000), rotation=rpm, sector_bytes=sector_bytes,
        tolerance_percent=tolerance, rewrite_tolerance_percent=rewrite_tolerance, host_delay_ms=host_delay,
        step_delay_ms=step_delay, picture_to=picture, force=force, **same,
    )  # fmt: skip
    if picture is not None:
        from imagekeeper.present.svg import track_map  # few tracks are drawn

        _shell.write_file(track_map.draw(result), picture, force=force)
    return _shell.show(result, lambda r: text(r, picture), as_json)


def text(result: TrackLayout, picture: str | None = None) -> str:
    """Show a layout: whether it fits, the limits, then the fields of one sector."""
    head = _text.wrapped("", result.says)
    if not result.fits:
        head = [_shell.paint(line, fg="red", bold=True) for line in head]
    lines = [*head, "", *_text.table(list(_facts(result))), ""]
    lines += _text.table([["field", "start", "bytes", "holds"], *_fields(result)], right=[1, 2])
    rows = [[str(c.sector_bytes), str(c.sectors), _gap(c.gap3_max)] for c in result.capacity]
    lines += ["", *_text.table([["sector size", "fit", "largest gap 3"], *rows], right=[0, 1, 2])]
    if picture is not None:
        lines += ["", f"picture: {picture}"]
    return "\n".join(lines)


def _gap(size: int | None) -> str:
    return "-" if size is None else str(size)


def _facts(result: TrackLayout) -> Iterator[list[str]]:
    title = RECORDINGS[result.encoding].title
    yield ["recording", f"{title}, {result.data_rate / 1000:g} kbit/s at {result.rotation:g} rev/min"]
    yield [
        "track",
        f"{result.bytes_per_track} bytes; {result.limit} on a drive that turns {result.tolerance_percent:g} % too fast",
    ]
    yield ["used", f"{result.total} bytes; {'spare' if result.spare >= 0 else 'too many'}: {abs(result.spare)}"]
    yield ["gap 3", f"{result.gap3}" + ("" if result.gap3_given else ", midway between its limits")]
    most = "no gap fits" if result.gap3_max is None else f"{result.gap3_max} at most fits"
    error = f"{result.rewrite_tolerance_percent:g} %"
    yield ["", f"{result.gap3_min} or more outlives a sector written again, each drive off by {error}"]
    yield ["", f"{result.gap3_min_published} or more gives controllers what the data sheet asks for; {most}"]
    order = result.order
    if order is None:
        return
    numbers = textwrap.wrap(" ".join(map(str, order.records)) + f" (interleave {order.interleave})", 86)
    yield from (["" if at else "order", line] for at, line in enumerate(numbers))
    yield [
        "reading",
        f"{order.revolutions:.2f} revolutions, {order.host_delay_ms:g} ms of the host's after each sector",
    ]
    yield [
        "next track",
        f"begin it {plural(order.skew, 'sector')} later: {order.revolutions_per_track:.2f} revolutions a track",
    ]


def _fields(result: TrackLayout) -> Iterator[list[str]]:
    def row(field: Field, name: str = "") -> list[str]:
        varied = {"id": "cylinder, head, number, size code", "data": "the data"}
        return [name or field.name, str(field.start), str(field.length), field.fill or varied.get(field.name, "CRC")]

    for field in result.fields:
        if field.sector in (None, 1):
            yield row(field, f"sector 1: {field.name}" if field.sector else "")
        elif field.name == "sync" and field.sector == 2 and field.start == _second(result):
            rest = [f for f in result.fields if f.sector not in (None, 1)]
            size = sum(f.length for f in rest)
            yield [f"{plural(result.sectors - 1, 'more sector')} like it", str(field.start), str(size), ""]


def _second(result: TrackLayout) -> int:
    return next(field.start for field in result.fields if field.sector == 2)
