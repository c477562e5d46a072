"""The logs beside the storage root: every commit, every audit, every copy and every repair, one line each.

The holdings do not depend on them. The log of commits lets an audit notice what no folder can tell about itself: that
a whole carrier, or its newest version, is gone. Every one of its lines repeats what the carrier's inventory says, so
that a changed byte in it is found; a line that a crash cut short is the beginning of a line that comes later.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import entries, file_blocks
from imagekeeper.jsonable import canonical
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from pathlib import Path

    from imagekeeper.archive.ocfl.folder import ArchiveFolder
    from imagekeeper.provenance.testimony import Erased

COMMITS = "commits.jsonl"
AUDITS = "audit.jsonl"

#: A longer line is none of ours. [byte]
LINE_LIMIT = 1 << 20


@dataclass(frozen=True)
class Noted:
    """A line of the log of commits.

    Attributes:
        number: Which line it is, counted from 1.
        version: The version that it notes.
        line: Its bytes, without the line feed.
        stub: Where the line says that the carrier was erased: the id of what remains; else None.
    """

    number: int
    version: int
    line: bytes
    stub: str | None = None


@dataclass
class Commits:
    """What the log of commits says.

    Attributes:
        notes: The lines about each carrier, in their order.
        spoiled: The numbers of the lines that are neither whole nor merely cut short by a crash, in order.
        fragments: What is left of the lines that are not whole, and of which no later line is the whole, in order.
    """

    notes: dict[str, list[Noted]] = field(default_factory=dict)
    spoiled: list[int] = field(default_factory=list)
    fragments: list[bytes] = field(default_factory=list)

    def newest(self, carrier_id: str) -> int:
        """Give the newest version noted for a carrier; 0 for none."""
        return max((noted.version for noted in self.notes.get(carrier_id, ())), default=0)

    def erasure(self, carrier_id: str) -> Noted | None:
        """Give the line that says that a carrier was erased, or None."""
        return next((one for one in reversed(self.notes.get(carrier_id, ())) if one.stub is not None), None)

    def digest(self, carrier_id: str) -> str:
        """Give the SHA-512 of the lines about a carrier's versions, each with its line feed and only once."""
        lines = dict.fromkeys(one.line for one in self.notes.get(carrier_id, ()) if one.stub is None)
        return hashlib.sha512(b"".join(line + b"\n" for line in lines)).hexdigest()

    def first_time(self, carrier_id: str) -> str | None:
        """Give when a carrier's oldest noted version was made, or None."""
        notes = self.notes.get(carrier_id, ())
        time = (_decode(min(notes, key=lambda noted: noted.version).line) or {}).get("time") if notes else None
        return time if isinstance(time, str) else None


def commit_line(carrier_id: str, version: int, created: str, inventory_sha512: str) -> bytes:
    r"""Write the line about a commit, without the line feed.

    Neither ids nor times nor digests hold anything that JSON would write otherwise, so this is the canonical form.

    Example:
        >>> line = commit_line("tg85-u4", 1, "2026-11-24T22:00:00Z", "ab" * 64)
        >>> line == canonical(json.loads(line))
        True
    """
    return (
        f'{{"carrier":"{carrier_id}","inventory_sha512":"{inventory_sha512}","time":"{created}","version":{version}}}'
    ).encode()


def erasure_line(erased: Erased, stub: str) -> bytes:
    """Write the line that says that a carrier was erased, without the line feed.

    It has the members of the line about the carrier's last version, so that a program which knows no erasing keeps it
    and tells that the carrier is gone.

    Args:
        erased: What was erased.
        stub: The id of what remains of it.
    """
    return canonical({
        "carrier": erased.of, "inventory_sha512": erased.inventory_sha512, "stub": stub, "time": erased.added,
        "version": erased.version,
    })  # fmt: skip


def append_commit(archive: ArchiveFolder, inventory: Inventory) -> None:
    """Note a commit.

    Raises:
        OSError: The log cannot be written.
    """
    digest = hashlib.sha512(inventory.to_bytes()).hexdigest()
    append_line(archive, COMMITS, commit_line(inventory.id, inventory.head, inventory.versions[-1].created, digest))


def append(archive: ArchiveFolder, name: str, line: Any) -> None:
    """Add one line to a log.

    Raises:
        OSError: The log cannot be written.
    """
    append_line(archive, name, canonical(line))


def append_line(archive: ArchiveFolder, name: str, line: bytes) -> None:
    """Add a line that is written already to a log.

    Raises:
        OSError: The log cannot be written.
    """
    archive.disk.make_folders(archive.log)
    archive.disk.append(archive.log / name, line + b"\n")


def read_commits(archive: ArchiveFolder, name: str = COMMITS) -> Commits:
    """Read the log of commits, or a file beside it that may be one; where there is none, nothing is known."""
    commits = Commits()
    doubtful: list[tuple[int, bytes, bool]] = []
    whole: list[bytes] = []
    for number, line, ended in _numbered(archive.log / name):
        value = _decode(line)
        carrier, version = (value or {}).get("carrier"), (value or {}).get("version")
        if isinstance(carrier, str) and is_carrier_id(carrier) and type(version) is int and version > 0:
            stub = (value or {}).get("stub")
            noted = Noted(number, version, line, stub if isinstance(stub, str) else None)
            commits.notes.setdefault(carrier, []).append(noted)
            if doubtful:
                whole.append(line)
        else:
            doubtful.append((number, line, ended))
    commits.spoiled = [
        number for number, line, ended in doubtful
        if not (_torn(line, whole) if ended else b"}" not in line)
    ]  # fmt: skip
    commits.fragments = [line for _, line, ended in doubtful if not (ended and _torn(line, whole))]
    return commits


def commits_elsewhere(archive: ArchiveFolder) -> list[Commits]:
    """Read the files beside the log of commits that are one too: renamed, or a second copy that a program made."""
    with contextlib.suppress(OSError):
        names = [name for name, kind in entries(archive.log).items() if kind == "file" and name != COMMITS]
        found = [read_commits(archive, name) for name in names if name.startswith(COMMITS.partition(".")[0])]
        return [commits for commits in found if commits.notes]
    return []


def noted_behind(archive: ArchiveFolder, start: int) -> Iterator[tuple[str, int]]:
    """Give the carriers and versions that the log of commits notes from some byte on; a line cut short notes nothing.

    An erasure is part of the change that makes the stub, and is given as the stub's.

    Args:
        archive: The archive.
        start: How much of the log is left out. [byte]

    Raises:
        OSError: The log cannot be read.
    """
    with open(archive.log / COMMITS, "rb") as file:
        file.seek(start)
        while line := file.readline(LINE_LIMIT):
            value = _decode(line) or {}
            version = value.get("version")
            if line.endswith(b"\n") and line != b"\n":
                yield str(value.get("stub") or value.get("carrier")), version if isinstance(version, int) else 0


def _torn(line: bytes, later: list[bytes]) -> bool:
    return bool(line) and any(other.startswith(line) for other in later)


def lines(archive: ArchiveFolder, name: str) -> Iterator[dict[str, Any]]:
    """Read a log; lines that make no sense are passed over, and where there is no log there is nothing."""
    yield from lines_in(archive.log / name)


def lines_in(path: Path) -> Iterator[dict[str, Any]]:
    """Read a file of one JSON object a line, as `lines` reads a log."""
    for _, line, _ in _numbered(path):
        value = _decode(line)
        if value is not None:
            yield value


def _numbered(path: Path) -> Iterator[tuple[int, bytes, bool]]:
    """Give each line with its number, and whether a line feed ends it."""
    number, rest = 0, b""
    try:
        for block in file_blocks(path):
            *whole, rest = (rest + block).split(b"\n")
            for line in whole:
                number += 1
                yield number, line, True
            rest = rest[: LINE_LIMIT + 1]
    except OSError:
        return   # no log, no knowledge
    if rest:
        yield number + 1, rest, False


def _decode(line: bytes) -> dict[str, Any] | None:
    try:
        value = json.loads(line) if len(line) <= LINE_LIMIT else None
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None
