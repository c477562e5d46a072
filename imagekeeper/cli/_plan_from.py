"""The image that a plan is made of: a file, or one of the archive with what it rests on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

import click

from imagekeeper.cli import _session
from imagekeeper.cli._shell import Command

if TYPE_CHECKING:
    from imagekeeper.jobs.images.loading import Given
    from imagekeeper.planning.grounds import Grounds


def from_options(command: Command) -> Command:
    """Add the options that take the image out of the archive."""
    for option in reversed((
        click.option("--carrier", "carrier_id", metavar="ID", help="Take the image of this carrier instead of IMAGE."),
        click.option("--what", metavar="ITEM", help="Which of its images: agreed, r1, d1; agreed without it."),
    )):  # fmt: skip
        command = option(command)
    return command


@contextmanager
def planned_from(
    file: str | None, carrier_id: str | None, what: str | None, archive_path: str | None
) -> Iterator[tuple[Given, Grounds | None]]:
    """Give the image to plan with, and what it rests on where that is known."""
    if (file is None) == (carrier_id is None):
        raise click.UsageError("give one IMAGE, or --carrier for an image of the archive")
    if carrier_id is None:
        if what is not None:
            raise click.UsageError("--what goes with --carrier")
        yield file or "", None
        return
    from imagekeeper.archive.carriers import load_record  # the archive, only where the image comes from it
    from imagekeeper.jobs.carriers.extracting import stored
    from imagekeeper.planning.grounds import grounds_of

    archive = _session.archive(archive_path)
    inventory = archive.inventory(carrier_id)
    record = load_record(archive, carrier_id, inventory)
    with ExitStack() as stack:
        found = stored(archive, record, inventory, what or "agreed", stack)
        yield found.image, grounds_of(record, what or "agreed")
