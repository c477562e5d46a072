"""Puts a person's own rows in force while a command runs: they are looked for when a table is first needed."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from imagekeeper.own import NONE, OwnRows

if TYPE_CHECKING:
    from imagekeeper.findings import Finding


def archive_meant() -> str | None:
    """Give the folder of the archive that the running command names or stands in; None where there is none."""
    from imagekeeper.jobs.tables.folders import archive_around  # only where a table is needed

    context = click.get_current_context(silent=True)
    named = context.params.get("archive_path") if context is not None else None
    named = named or os.environ.get("IMAGEKEEPER_ARCHIVE")
    if named:
        return str(named)
    found = archive_around()
    return None if found is None else os.path.relpath(found)   # as a person who stands there would name it


def own_rows() -> OwnRows:
    """Read those of the archive that the command is about, and of the person; what cannot be used is told."""
    from imagekeeper.jobs.tables.folders import may_hold_any  # light: most people have no rows of their own

    archive = archive_meant()
    if not may_hold_any(archive):
        return NONE
    from pathlib import Path  # with all that reads and proves own rows

    from imagekeeper.jobs.tables.holding import rows_in_force  # as above

    return rows_in_force(None if archive is None else Path(archive), _tell)


def _tell(faults: Sequence[Finding]) -> None:
    from imagekeeper.cli import _shell  # only where something is wrong

    first = faults[0]
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    _shell.warn(f"own rows: {first.where}: {first.why}; it counts for nothing{more}: imagekeeper table list tells all")
