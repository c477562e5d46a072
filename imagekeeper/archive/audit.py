"""The audit: everything in the storage root read again and held against the digests and the records.

Source:
    Oxford Common File Layout Specification 1.1, sections 3 and 4. Stricter than the standard in one respect:
    whatever this program did not put there is reported, even where the standard lets it lie.
"""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive import ledger, surroundings
from imagekeeper.archive.audit_report import Audit, Report
from imagekeeper.archive.inventory import INVENTORY, SIDECAR
from imagekeeper.archive.layout import OBJECT_MARK
from imagekeeper.archive.reading import entries
from imagekeeper.errors import UsageError
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.store import Archive


def audit(archive: Archive, progress: Progress = silent, *, now: str) -> Audit:
    """Check the whole archive, and note the result in its log.

    What an interrupted program left is put right first, unless the archive cannot be written to.

    Args:
        archive: The archive.
        progress: Told the bytes read.
        now: The time, RFC 3339.

    Raises:
        UsageError: `archive-busy` while another program writes; damage is never raised, it is in the result.
    """
    time = check_time(now)
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(archive.lock())
        except UsageError as problem:
            if problem.code == "archive-busy":
                raise
            # a read-only copy can still be audited
        ledger_versions = ledger.committed_versions(archive)
        with progress("Checking", _total(archive.root)) as advance:
            report = Report(archive, advance)
            root = _Root(archive, report, ledger_versions)
            root.check()
            surroundings.check(archive, report, carriers=len(root.seen))
        result = report.result(time)
        with contextlib.suppress(OSError):
            ledger.append(archive, ledger.AUDITS, _log_line(result))
    return result


def _log_line(result: Audit) -> dict[str, object]:
    return {
        "time": result.time,
        "ok": result.ok,
        "carriers": result.carriers,
        "files": result.files,
        "bytes": result.bytes,
        "damaged": [entry.path for entry in result.damaged],
        "missing": [entry.path for entry in result.missing],
        "unexpected": [entry.path for entry in result.unexpected],
    }


def _total(folder: Path) -> int:
    """Sum the sizes below a folder, for the progress bar."""
    total = 0
    pending = [folder]
    while pending:
        with contextlib.suppress(OSError):
            here = pending.pop()
            for name, kind in entries(here).items():
                if kind == "folder":
                    pending.append(here / name)
                elif kind == "file":
                    total += (here / name).stat().st_size
    return total


class _Root:
    """The check of the storage root and of what lies above the carriers."""

    def __init__(self, archive: Archive, report: Report, committed: dict[str, int]) -> None:
        self.archive = archive
        self.report = report
        self.committed = committed
        self.seen: set[str] = set()

    def check(self) -> None:
        expected = self.archive.layout.root_files()
        for name, data in expected.items():
            path = self.archive.root / name
            found = self.report.read(None, path)
            if found is not None and found != data:
                self.report.damaged(
                    None, path, "it is not as it was written", hashlib.sha512(data).hexdigest(),
                    hashlib.sha512(found).hexdigest(),
                )  # fmt: skip
        self.folder("", self.archive.layout.depth, set(expected))
        for carrier in sorted(self.committed.keys() - self.seen):
            if is_carrier_id(carrier):
                path = self.archive.object_path(carrier)
                self.report.missing(carrier, path, "the log of commits names this carrier, and its folder is gone")

    def folder(self, above: str, depth: int, expected: set[str]) -> None:
        listing = self.report.list_folder(None, self.archive.root / above)
        if not listing and above:
            self.report.unexpected(None, self.archive.root / above, "it is an empty folder")
        for name, kind in listing.items():
            place = above + name
            if place in expected:
                continue
            if any(known.startswith(f"{place}/") for known in expected) and kind == "folder":
                self.known_folder(place, expected)
            elif kind != "folder":
                self.report.unexpected(None, self.archive.root / place, "nothing accounts for it")
            elif depth:
                self.folder(f"{place}/", depth - 1, expected)
            else:
                self.object(place)

    def known_folder(self, place: str, expected: set[str]) -> None:
        """Look through the folder of the layout's parameters."""
        for name, kind in self.report.list_folder(None, self.archive.root / place).items():
            inside = f"{place}/{name}"
            if inside in expected:
                continue
            if kind == "folder" and any(known.startswith(f"{inside}/") for known in expected):
                self.known_folder(inside, expected)
            else:
                self.report.unexpected(None, self.archive.root / inside, "nothing accounts for it")

    def object(self, place: str) -> None:
        from imagekeeper.archive.object_audit import ObjectAudit

        folder = self.archive.root / place
        carrier = self.archive.layout.object_id(place)
        at_home = is_carrier_id(carrier) and self.archive.layout.object_folder(carrier) == place
        listing = self.report.list_folder(None, folder)
        looks = {OBJECT_MARK, INVENTORY, SIDECAR, "v1"} & listing.keys() or carrier in self.committed
        if not at_home or not looks:
            why = "it is no carrier's folder" if not looks else "the layout puts no carrier there"
            self.report.unexpected(None, folder, why)
            return
        self.seen.add(carrier)
        self.report.count_carrier()
        ObjectAudit(self.archive, self.report, carrier, self.committed.get(carrier, 0)).check(listing)
