"""What commands on an archive share: which archive, who works, what time it is."""

from __future__ import annotations

import os
import time
import uuid

import click

from imagekeeper.archive.ocfl.founding import find
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.cli._shell import Command
from imagekeeper.jobs.session import Session, open_archive, timestamp


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


def now() -> str:
    """Give the time in RFC 3339.

    SOURCE_DATE_EPOCH stops the clock, as the specification of that variable by the Reproducible Builds project says;
    the documentation's sessions are made so.
    """
    fixed = os.environ.get("SOURCE_DATE_EPOCH", "")
    return timestamp(int(fixed) if fixed.isdecimal() and len(fixed) < 12 else time.time())


def session(operator: str | None = None) -> Session:
    """Give the surroundings of this run."""
    return Session(now, lambda: str(uuid.uuid4()), operator)


def archive(path: str | None) -> ArchiveStore:
    """Open the archive that the options name."""
    return open_archive(path or None)


def archive_folder(path: str | None) -> str:
    """Give the folder of the archive that the options name, which may be damaged."""
    return path or str(find("."))
