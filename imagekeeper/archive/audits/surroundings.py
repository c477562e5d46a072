"""The audit of what lies beside the storage root: the mark, the README and the log of commits.

Evidence, of which a single changed byte is found, are: every file of the storage root, the mark `archive.json`, the
README and the log of commits. The mark and the README repeat each other, and every line of the log of commits repeats
what an inventory says. The other logs are the record of checks, copies and repairs, on which no holdings depend; what
lies in quarantine is what a repair found wanting; the lock and the staging folder mean nothing between changes. What
else a keeper puts into the archive's folder is the keeper's own affair; inside the storage root it is not.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.founding import MARKER, README, Marker
from imagekeeper.archive.ocfl.reading import bytes_if_any
from imagekeeper.provenance.fields import write_json

if TYPE_CHECKING:
    from imagekeeper.archive.audits.audit_report import AuditTally
    from imagekeeper.archive.store import ArchiveStore


def check(archive: ArchiveStore, report: AuditTally, commits: ledger.Commits, *, carriers: bool) -> None:
    """Check the mark, the README and the log of commits.

    Args:
        archive: The archive.
        report: Where to note what is wrong.
        commits: What the log says; its lines are held against the inventories with each carrier.
        carriers: Whether there are any: then commits must have been noted.
    """
    check_identity(archive, report)
    path = archive.log / ledger.COMMITS
    if not carriers and not commits.spoiled:
        return
    if bytes_if_any(path) is None:
        report.missing(None, path, "the log of commits, which tells whether a carrier is gone, cannot be read")
    elif commits.spoiled:
        report.damaged(None, path, f"line {commits.spoiled[0]} is not one that this program wrote")
    elif not commits.notes:
        # a line that a crash cut short is no damage; a log without a single sound line is
        report.damaged(None, path, "the log of commits holds nothing, though there are carriers")


def check_identity(archive: ArchiveStore, report: AuditTally) -> None:
    """Check the mark and the README, which repeat each other."""
    marker, mark = archive.marker, archive.path / MARKER
    path, text = archive.path / README, bytes_if_any(archive.path / README)
    if text is None:
        report.missing(None, path, "the file that explains the archive cannot be read")
    elif text != marker.readme():
        _another_text(report, marker, text, path, mark)
    elif marker.readme_sha512 not in (None, hashlib.sha512(text).hexdigest()):
        report.damaged(None, mark, "it states another SHA-512 of the README, which is whole")
    if bytes_if_any(mark) not in (write_json(marker), write_json(marker.without_digest())):
        report.damaged(None, mark, "it is not as it was written")


def _another_text(report: AuditTally, marker: Marker, text: bytes, path: Path, mark: Path) -> None:
    """Judge a README that is not the one this version writes: of an older version, of another archive, or damaged."""
    found = hashlib.sha512(text).hexdigest()
    lines = text.split(b"\n")
    parts = [part.encode() for part in (marker.title, marker.uuid, marker.created)]
    named = all(any(line.endswith(b" " + part) for line in lines) for part in parts)
    if marker.readme_sha512 in (None, found):
        if not named and marker.readme_sha512:
            report.damaged(None, mark, "it does not name the archive as the README does, which is whole")
        elif not named:
            report.damaged(None, path, "it does not name this archive", marker.uuid)
    else:
        why = "its SHA-512 is not the one in archive.json"
        report.damaged(None, path, why, marker.readme_sha512, found)
