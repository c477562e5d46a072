"""What commands on an archive share: which archive, who works, what time it is."""

from __future__ import annotations

import click

from imagekeeper.archive.ocfl.founding import find
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.cli._shell import Command
from imagekeeper.jobs.session import Session, now, open_archive, this_session

__all__ = [
    "archive", "archive_folder", "archive_option", "between_options", "now", "operator_option", "session",
]  # fmt: skip


def archive_option(command: Command) -> Command:
    """Add --archive; the command receives its value as `archive_path`."""
    return click.option(
        "--archive", "archive_path", metavar="DIR", envvar="IMAGEKEEPER_ARCHIVE",
        help="The archive; without it IMAGEKEEPER_ARCHIVE, or the nearest folder above that is one.",
    )(command)  # fmt: skip


def operator_option(command: Command) -> Command:
    """Add --operator."""
    return click.option(
        "--operator", metavar="NAME", envvar="IMAGEKEEPER_OPERATOR",
        help="Who does this; without it IMAGEKEEPER_OPERATOR, or nobody is named.",
    )(command)  # fmt: skip


def between_options(command: Command) -> Command:
    """Add what lies between a reader and what it reads: --adapter, --cable, --drive, --controller."""
    for option in reversed((
        click.option("--adapter", metavar="NAME", help="The adapter between reader and chip."),
        click.option("--cable", metavar="NAME", help="The cable between reader and chip or drive."),
        click.option("--drive", metavar="NAME", help="The drive that read the disk."),
        click.option("--controller", metavar="NAME", help="What the drive hung on."),
    )):  # fmt: skip
        command = option(command)
    return command


def session(operator: str | None = None) -> Session:
    """Give the surroundings of this run."""
    return this_session(operator)


def archive(path: str | None) -> ArchiveStore:
    """Open the archive that the options name."""
    return open_archive(path or None)


def archive_folder(path: str | None) -> str:
    """Give the folder of the archive that the options name, which may be damaged."""
    return path or str(find("."))
