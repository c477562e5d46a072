"""The audit: everything in the storage root read again and held against the digests and the records.

Source:
    Oxford Common File Layout Specification 1.1, sections 3 and 4. Stricter than the standard in one respect:
    whatever this program did not put there is reported, even where the standard lets it lie.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from imagekeeper.archive import ledger, surroundings
from imagekeeper.archive.inventory import INVENTORY, SIDECAR
from imagekeeper.archive.layout import OBJECT_MARK
from imagekeeper.archive.reading import entries, file_blocks
from imagekeeper.digests import feed
from imagekeeper.errors import UsageError
from imagekeeper.files import reason
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Advance, Progress, silent
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.store import Archive


@dataclass(frozen=True)
class Discrepancy:
    """One place where the archive is not as it should be.

    Attributes:
        carrier: The carrier's id, or null.
        path: The file or folder, relative to the archive.
        why: What is wrong with it.
        expected: The digest or value that belongs there, or null.
        found: What is there, or null.
    """

    carrier: str | None
    path: str
    why: str
    expected: str | None = None
    found: str | None = None


@dataclass(frozen=True)
class Audit:
    """What an audit found.

    Attributes:
        carriers: How many carriers were checked.
        files: How many files were read.
        bytes: How many bytes were read. [byte]
        damaged: Files that are not what they were.
        missing: Files that should be there.
        unexpected: Files and folders that nothing accounts for.
        ok: Whether all three lists are empty.
        time: When the audit was made, RFC 3339.
    """

    SCHEMA: ClassVar[str] = "audit/1"

    carriers: int
    files: int
    bytes: int
    damaged: tuple[Discrepancy, ...]
    missing: tuple[Discrepancy, ...]
    unexpected: tuple[Discrepancy, ...]
    ok: bool
    time: str

    @property
    def exit_code(self) -> int:
        """4 where something is damaged or missing, 1 where something is only unexpected, else 0."""
        if self.damaged or self.missing:
            return 4
        return 1 if self.unexpected else 0


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


class Report:
    """What has been found so far, and the reading that is counted."""

    def __init__(self, archive: Archive, advance: Advance) -> None:
        self._archive = archive
        self._advance = advance
        self._carriers = self._files = self._bytes = 0
        self._lists: dict[str, list[Discrepancy]] = {"damaged": [], "missing": [], "unexpected": []}
        self._blamed: set[Path] = set()

    def result(self, time: str) -> Audit:
        """Give the whole result."""
        lists = {
            name: tuple(sorted(found, key=lambda entry: entry.path)) for name, found in self._lists.items()
        }
        return Audit(
            self._carriers, self._files, self._bytes, **lists, ok=not any(lists.values()), time=time
        )

    def count_carrier(self) -> None:
        """Count a carrier."""
        self._carriers += 1

    def blamed(self, path: Path) -> bool:
        """Whether something was said about this path already."""
        return path in self._blamed

    def _say(
        self, kind: str, carrier: str | None, path: Path, why: str, expected: str | None, found: str | None
    ) -> None:
        if path not in self._blamed:
            self._blamed.add(path)
            name = self._archive.name_of(path)
            self._lists[kind].append(Discrepancy(carrier, name, one_line(why), expected, found))

    def damaged(
        self, carrier: str | None, path: Path, why: str, expected: str | None = None, found: str | None = None
    ) -> None:
        """Say that a file is not what it was; only the first word about a path counts."""
        self._say("damaged", carrier, path, why, expected, found)

    def missing(self, carrier: str | None, path: Path, why: str, expected: str | None = None) -> None:
        """Say that a file should be there."""
        self._say("missing", carrier, path, why, expected, None)

    def unexpected(self, carrier: str | None, path: Path, why: str) -> None:
        """Say that nothing accounts for a file or folder."""
        self._say("unexpected", carrier, path, why, None, None)

    def read(self, carrier: str | None, path: Path) -> bytes | None:
        """Read a file whole, or say why that is impossible and give None."""
        try:
            data = b"".join(self._counted(file_blocks(path)))
        except OSError as problem:
            self._unreadable(carrier, path, problem)
            return None
        self._files += 1
        return data

    def digests(self, carrier: str | None, path: Path, names: list[str]) -> dict[str, str] | None:
        """Digest a file in bounded memory, or say why that is impossible and give None."""
        found = {name: hashlib.new(name) for name in names}
        try:
            feed(self._counted(file_blocks(path)), found.values())
        except OSError as problem:
            self._unreadable(carrier, path, problem)
            return None
        self._files += 1
        return {name: digest.hexdigest() for name, digest in found.items()}

    def _counted(self, blocks: Iterator[bytes]) -> Iterator[bytes]:
        for block in blocks:
            self._bytes += len(block)
            self._advance(len(block))
            yield block

    def _unreadable(self, carrier: str | None, path: Path, problem: OSError) -> None:
        if isinstance(problem, (FileNotFoundError, NotADirectoryError)):
            self.missing(carrier, path, "it is not there")
        else:
            self.damaged(carrier, path, f"it cannot be read; {reason(problem)}")

    def list_folder(self, carrier: str | None, folder: Path) -> dict[str, str]:
        """List a folder, or say why that is impossible and give nothing."""
        try:
            return entries(folder)
        except OSError as problem:
            self._unreadable(carrier, folder, problem)
            return {}


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
