"""The command label: labels for chips and disks."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.pages import labelling
from imagekeeper.present.html.label_sheet import render_sheets
from imagekeeper.present.text.labels import labels_text


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
    return _shell.show(result, labels_text, as_json)
