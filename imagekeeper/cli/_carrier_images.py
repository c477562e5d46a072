"""The commands carrier extract and carrier derive: images out of the archive, and images made from others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from imagekeeper import containers
from imagekeeper.cli import _session, _shell
from imagekeeper.cli._convert_options import transforming_options
from imagekeeper.present.text.images import derived_text, extraction_text

if TYPE_CHECKING:   # slow to load, and all other commands of the group do without
    from imagekeeper.jobs.images.wanting import WantedSteps


@click.command("extract", epilog="Example: imagekeeper carrier extract tg85-u4 -o u4.hex")
@click.argument("carrier_id", metavar="ID")
@click.option("-o", "--output", required=True, metavar="OUT", help="The file to write.")
@click.option(
    "--image", "what", default="agreed", show_default=True, metavar="IMAGE",
    help="Which image: agreed, or the id of a read or derived image, such as r1 or d1.",
)  # fmt: skip
@click.option(
    "--to", type=click.Choice(containers.WRITABLE_NAMES), metavar="KIND",
    help="The kind to write; without it the ending of OUT decides, and raw where it says nothing.",
)  # fmt: skip
@click.option("--force", is_flag=True, help="Replace OUT if it is there.")
@_session.archive_option
@_shell.json_option
def extract_command(
    carrier_id: str, output: str, what: str, to: str | None, force: bool, archive_path: str | None, as_json: bool
) -> int:
    """Write an image of the carrier to a file, and read it back."""
    from imagekeeper.jobs.carriers.extracting import extract  # slow to load, and a list does without

    result = extract(
        _session.archive(archive_path), carrier_id, output, what=what, to=to, force=force, progress=_shell.bar
    )
    if result.grade == "single":
        _shell.warn(f"{carrier_id}: the grade of this image is single: one read proves little")
    return _shell.show(result, extraction_text, as_json)


@click.command("derive", epilog="Example: imagekeeper carrier derive tg85-u4 --join tg85-u5 --title 'whole program'")
@click.argument("carrier_id", metavar="ID")
@click.option(
    "--image", "what", default="agreed", show_default=True, metavar="IMAGE",
    help="From which image: agreed, or the id of a read or derived image.",
)  # fmt: skip
@click.option("--title", metavar="TEXT", help="What it is for.")
@click.option("--fill", type=_shell.BYTE, metavar="BYTE", help="Close gaps and pad with this byte, such as FF.")
@transforming_options
@_session.operator_option
@_session.archive_option
@_shell.json_option
def derive_command(
    carrier_id: str, what: str, title: str | None, fill: int | None, wanted: WantedSteps, operator: str | None,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Make an image from one of the carrier's, and keep it with the steps that made it.

    The steps are those of convert, in the same order; --join names other carriers, whose agreed images are joined. The
    audit can make every derived image again: archive audit --rebuild-derived.
    """
    from imagekeeper.jobs.carriers.deriving import derive  # slow to load, and a list does without

    result = derive(
        _session.archive(archive_path), carrier_id, wanted, _session.session(operator), what=what, fill=fill,
        title=title,
    )  # fmt: skip
    return _shell.show(result, derived_text, as_json)
