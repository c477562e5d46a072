"""The command floppy layout."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _shell
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.jobs.disks.laying_out import layout_of
from imagekeeper.present.text.track import track_text


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
    return _shell.show(result, lambda r: track_text(r, picture), as_json)
