"""What an audit found, and the reading by which it finds it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from imagekeeper.archive.reading import entries, file_blocks
from imagekeeper.digests import feed
from imagekeeper.files import reason
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Advance

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
