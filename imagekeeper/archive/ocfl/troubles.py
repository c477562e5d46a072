"""The errors that several modules of the archive raise."""

from __future__ import annotations

from imagekeeper.errors import ArchiveError, NotFoundError, Where
from imagekeeper.jsonable import one_line


def missing(carrier_id: str) -> NotFoundError:
    """Say that there is no such carrier."""
    return NotFoundError(
        "carrier-missing", "there is no such carrier", why=f"the archive holds no {one_line(carrier_id)[:80]!r}",
        hint="carrier list shows all ids; carrier add makes a new one",
    )  # fmt: skip


def damaged(name: str, why: str) -> ArchiveError:
    """Say that a file of the archive is damaged."""
    return ArchiveError(
        "archive-damaged", "the archive is damaged", why=f"{name}: {why}",
        hint="run archive audit to see all damage, and restore the file from a copy of the archive",
        where=Where(file=name),
    )  # fmt: skip
