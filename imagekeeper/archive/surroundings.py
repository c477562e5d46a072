"""The audit of what lies beside the storage root: the README and the log of commits.

What else a keeper puts into the archive's folder is the keeper's own affair; inside the storage root it is not.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive import ledger
from imagekeeper.archive.founding import README
from imagekeeper.archive.reading import file_bytes

if TYPE_CHECKING:
    from imagekeeper.archive.audit_report import Report
    from imagekeeper.archive.store import Archive


def check(archive: Archive, report: Report, *, carriers: int) -> None:
    """Check the README and the log of commits.

    Args:
        archive: The archive.
        report: Where to note what is wrong.
        carriers: How many carriers there are: where there are any, commits must have been noted.
    """
    path = archive.path / README
    text = _bytes(path)
    if text is None:
        report.missing(None, path, "the file that explains the archive cannot be read")
    elif archive.marker.uuid.encode() not in text:
        report.damaged(None, path, "it does not name this archive", archive.marker.uuid)
    path = archive.log / ledger.COMMITS
    if not carriers:
        return
    if _bytes(path) is None:
        report.missing(None, path, "the log of commits, which tells whether a carrier is gone, cannot be read")
    elif not ledger.committed_versions(archive):
        # a line that a crash cut short is no damage; a log without a single sound line is
        report.damaged(None, path, "the log of commits holds nothing, though there are carriers")


def _bytes(path: Path) -> bytes | None:
    """Read a file; it does not count among the archive's holdings."""
    try:
        return file_bytes(path)
    except OSError:
        return None
