"""What an audit found, and the reading by which it finds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Literal

from imagekeeper.archive.audits.reproof import Reproof
from imagekeeper.archive.ocfl.hashing import Digested, FileToDigest, Hashing
from imagekeeper.archive.ocfl.reading import entries
from imagekeeper.archive.ocfl.strays import explained
from imagekeeper.files import reason
from imagekeeper.findings import Finding
from imagekeeper.jsonable import one_line

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore


@dataclass(frozen=True, kw_only=True)
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


Scope = Literal["all", "carriers", "rolling"]


@dataclass(frozen=True, kw_only=True)
class RebuiltImage:
    """One derived or voted image that was made again.

    Attributes:
        carrier: The carrier that keeps it.
        what: The id of the derived image, or `agreed` for one that was voted.
        sha256: What the record says.
        found: SHA-256 of what came out, or null where it could not be made again.
        why: What is wrong, or null.
    """

    carrier: str
    what: str
    sha256: str
    found: str | None
    why: str | None


@dataclass(frozen=True)
class Rebuilt:
    """All derived and voted images, made again from what they were made of.

    Attributes:
        made: How many came out as they are kept.
        wrong: Those that did not.
        ok: Whether all did.
    """

    made: int
    wrong: tuple[RebuiltImage, ...]
    ok: bool


@dataclass(frozen=True, kw_only=True)
class Audit:
    """What an audit found.

    Attributes:
        carriers: How many carriers were checked.
        files: How many files were read.
        bytes: How many bytes were read. [byte]
        damaged: Files that are not what they were.
        missing: Files that should be there.
        unexpected: Files and folders that nothing accounts for.
        ok: Whether all three lists are empty, derived images that were made again are right, and nothing that was
            derived again is contradicted.
        time: When the audit was made, RFC 3339.
        scope: What was checked: `all`, the `carriers` that were named, or in `rolling` those checked longest ago.
        carriers_held: How many carriers the archive holds.
        every_since: The time since which every carrier of the archive was checked, RFC 3339; null where one never was.
        resumed: When the interrupted audit began that this one went on with, or null.
        changed: Carriers that were changed after the interrupted audit had checked them, and were checked again.
        rebuilt: What came of making derived images again, or null where that was not asked for.
        reproof: What came of deriving the conclusions of records again, or null where that was not asked for.
        own_rows: What is wrong with the keeper's own rows of the tables: that is no damage, and they count for nothing.
        checked: The carriers that were checked, in order; it is not among the members for programs.
        noted: Whether the archive's log tells of it, by which later audits know what was checked when.
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
    scope: Scope = "all"
    carriers_held: int = 0
    every_since: str | None = None
    resumed: str | None = None
    changed: tuple[str, ...] = ()
    rebuilt: Rebuilt | None = None
    reproof: Reproof | None = None
    checked: tuple[str, ...] = field(default=(), metadata={"json": False})
    noted: bool = True
    own_rows: tuple[Finding, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 for what is damaged, missing, not as it is made or contradicted, 1 for what is only unexpected, else 0."""
        if self.damaged or self.missing or (self.rebuilt is not None and not self.rebuilt.ok):
            return 4
        if self.reproof is not None and not self.reproof.ok:
            return 4
        return 1 if self.unexpected else 0


@dataclass(frozen=True, kw_only=True)
class PartAudit:
    """What was found in one carrier's folder, or above the carriers.

    Attributes:
        carrier: The carrier, or None.
        files: How many files were read.
        bytes: How many bytes were read. [byte]
        damaged: As in `Audit`.
        missing: As in `Audit`.
        unexpected: As in `Audit`.
    """

    carrier: str | None
    files: int
    bytes: int
    damaged: tuple[Discrepancy, ...]
    missing: tuple[Discrepancy, ...]
    unexpected: tuple[Discrepancy, ...]


class AuditTally:
    """What has been found so far in one part of the archive, and the reading that is counted; for one thread."""

    def __init__(self, archive: ArchiveStore, hashing: Hashing) -> None:
        self._archive = archive
        self._hashing = hashing
        self._files = self._bytes = 0
        self._lists: dict[str, list[Discrepancy]] = {"damaged": [], "missing": [], "unexpected": []}
        self._blamed: set[Path] = set()

    def part(self, carrier: str | None) -> PartAudit:
        """Give what was found."""
        lists = {name: tuple(found) for name, found in self._lists.items()}
        return PartAudit(carrier=carrier, files=self._files, bytes=self._bytes, **lists)

    def blamed(self, path: Path) -> bool:
        """Whether something was said about this path already."""
        return path in self._blamed

    def _say(
        self, kind: str, carrier: str | None, path: Path, why: str, expected: str | None, found: str | None
    ) -> None:
        if path not in self._blamed:
            self._blamed.add(path)
            name = self._archive.name_of(path)
            self._lists[kind].append(Discrepancy(
                carrier=carrier, path=name, why=one_line(why), expected=expected, found=found
            ))

    def damaged(
        self, carrier: str | None, path: Path, why: str, expected: str | None = None, found: str | None = None
    ) -> None:
        """Say that a file is not what it was; only the first word about a path counts."""
        self._say("damaged", carrier, path, why, expected, found)

    def missing(self, carrier: str | None, path: Path, why: str, expected: str | None = None) -> None:
        """Say that a file should be there."""
        self._say("missing", carrier, path, why, expected, None)

    def unexpected(self, carrier: str | None, path: Path, why: str) -> None:
        """Say that nothing accounts for a file or folder, and what it probably is."""
        self._say("unexpected", carrier, path, explained(why, path.name), None, None)

    def read(self, carrier: str | None, path: Path) -> bytes | None:
        """Read a file whole, or say why that is impossible and give None."""
        try:
            data = b"".join(self._hashing.counted(path))
        except OSError as problem:
            self._unreadable(carrier, path, problem)
            return None
        self._files += 1
        self._bytes += len(data)
        return data

    def digest_all(self, carrier: str | None, wanted: Sequence[FileToDigest]) -> list[Digested | None]:
        """Digest files in bounded memory; say of which ones that is impossible, and give None for them."""
        found: list[Digested | None] = []
        for one, result in zip(wanted, self._hashing.digest_all(wanted), strict=True):
            if isinstance(result, OSError):
                self._unreadable(carrier, one.path, result)
                found.append(None)
                continue
            self._files += 1
            self._bytes += result.size
            found.append(result)
        return found

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
