"""The command label: labels for chips and disks."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.pages import labelling
from imagekeeper.jobs.pages.labelling import Labels
from imagekeeper.present.html.label_sheet import render_sheets
from imagekeeper.units import plural


@click.command(epilog="Example: imagekeeper label tg85-u4 tg85-u5 -o labels.html")
@click.argument("ids", nargs=-1, required=True, metavar="ID...")
@click.option("-o", "--output", required=True, metavar="FILE", help="The file to write: a page to print.")
@click.option(
    "--size", metavar="SIZE",
    help="dip24, dip28, dip32, disk35, disk525, disk8, or width and height in millimetres such as 28x11; "
    "without it, what suits each carrier.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="The paper to print on."
)
@click.option(
    "--skip", type=click.IntRange(0, labelling.MOST_SKIPPED), default=0, metavar="N",
    help="Leave the first N places empty: they were used before.",
)  # fmt: skip
@click.option("--force", is_flag=True, help="Replace FILE if it is there.")
@_session.archive_option
@_shell.json_option
def label(
    ids: tuple[str, ...], output: str, size: str | None, paper: str, skip: int, force: bool,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Write labels for the carriers with these IDs, on sheets that print at their true size.

    A label bears the id, in letters and as a QR code where it has room, what was written on the old one, the type, the
    16-bit sum (CS) and CRC-32 of the agreed image, and the date of its latest read. Words are made small or cut to fit.
    """
    result = labelling.write_labels(
        _session.archive(archive_path), ids, output, _session.session(), size=size, paper=paper, skip=skip, force=force,
        render=render_sheets,
    )  # fmt: skip
    return _shell.show(result, _text, as_json)


def _text(result: Labels) -> str:
    lines = [
        f"{plural(len(result.labels), 'label')} on {plural(result.sheets, 'sheet')} of {result.paper} "
        f"in {result.output}: print it at 100 %."
    ]
    for one in result.labels:
        code = "" if one.qr else ", without QR code: it has no room"
        lines.append(f"  {one.id}: {one.width_mm:g} x {one.height_mm:g} mm{code}")
        if one.sum16 is None:
            lines.append(f"    no agreed image, so no sums: imagekeeper carrier agree {one.id}")
        if one.left_out:
            lines.append(f"    no room for: {', '.join(' '.join(text.split())[:40] for text in one.left_out)}")
    return "\n".join(lines)
