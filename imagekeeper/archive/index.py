"""The index: what listing and searching need, kept in a cache that can be deleted and rebuilt at any time.

Everything in it comes from the archive. It lies in the user's cache folder, never in the archive, which may be on
a network disk where SQLite's locks do not hold. A cache that is damaged, locked or cannot be written never stops
a command: the index is then made in memory.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index_tables import TABLES_VERSION, connected, prepared, transaction
from imagekeeper.archive.inventory import SIDECAR, sidecar_digest
from imagekeeper.archive.reading import file_bytes
from imagekeeper.errors import ImagekeeperError
from imagekeeper.progress import Progress, silent

if TYPE_CHECKING:
    from imagekeeper.archive.store import Archive
    from imagekeeper.provenance.records import CarrierRecord

#: Names another folder for the cache than the system's usual one.
CACHE_VARIABLE = "IMAGEKEEPER_CACHE"

_ROW = "id, kind, part, machine, board, position, reads, agreed_sha256, grade, problem"


@dataclass(frozen=True)
class Row:
    """One carrier in a list.

    Attributes:
        id: Its id.
        kind: Its kind, or null where its record cannot be read.
        part: Its type as marked, or null.
        machine: The machine it belongs to, or null.
        board: Its board, or null.
        position: Its place there, or null.
        reads: How many reads it has.
        agreed_sha256: Of its agreed image, or null.
        grade: Of the evidence for that, or null where nothing was settled.
        problem: Why its record cannot be read, or null.
    """

    id: str
    kind: str | None
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    reads: int
    agreed_sha256: str | None
    grade: str | None
    problem: str | None


@dataclass(frozen=True)
class Hit:
    """A file or image that a search by digest or size found.

    Attributes:
        carrier: The carrier's id.
        what: `image` for a read's decoded bytes, `file` for the reader's own file, `agreed` for the agreed image.
        read: The read's id, or null for the agreed image.
        algorithm: `sha256` or `crc32`.
        digest: The digest.
        size_bytes: Its size, or null where only its digest is known. [byte]
    """

    carrier: str
    what: str
    read: str | None
    algorithm: str
    digest: str
    size_bytes: int | None


def cache_file(archive: Archive, cache: str | os.PathLike[str] | None = None) -> Path:
    """Give the place of an archive's index.

    Args:
        archive: The archive.
        cache: The folder; by default `IMAGEKEEPER_CACHE`, else the user's cache folder.
    """
    folder = cache or os.environ.get(CACHE_VARIABLE)
    if not folder:
        import platformdirs

        folder = platformdirs.user_cache_dir("imagekeeper", appauthor=False)
    name = "".join(c for c in archive.marker.uuid if c.isalnum() or c == "-")[:64]
    return Path(folder) / f"{name}.sqlite"


class Index:
    """An archive's index; use it in a `with` statement.

    Args:
        archive: The archive.
        cache: The cache folder; by default `IMAGEKEEPER_CACHE`, else the user's cache folder.

    Attributes:
        in_memory: Whether the cache could not be used.
    """

    def __init__(self, archive: Archive, cache: str | os.PathLike[str] | None = None) -> None:
        self.archive = archive
        self.file = cache_file(archive, cache)
        self.in_memory = False
        self._base: sqlite3.Connection | None = None

    def __enter__(self) -> Self:
        """Open the index and bring it up to date."""
        self.refresh()
        return self

    def __exit__(self, *problem: object) -> None:
        """Close the index."""
        self.close()

    def close(self) -> None:
        """Close the index."""
        if self._base is not None:
            self._base.close()
            self._base = None

    def refresh(self, progress: Progress = silent) -> None:
        """Bring the index up to date: only carriers whose inventory changed are read.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read; damage to one carrier is in its
                row's `problem`.
        """
        if self._base is None:
            self._base = self._opened()
        try:
            self._update(self._base, progress)
        except (sqlite3.Error, OSError):
            self._fall_back(progress)

    def rebuild(self, progress: Progress = silent) -> None:
        """Make the index anew beside the old one, and put it in place.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read.
        """
        self.close()
        try:
            self._base = self._built(progress)
        except (sqlite3.Error, OSError):
            self._fall_back(progress)

    def rows(self) -> tuple[Row, ...]:
        """Give all carriers, in the order of their ids."""
        return tuple(Row(*row) for row in self._query(f"SELECT {_ROW} FROM carrier ORDER BY id"))   # noqa: S608

    def find_text(self, term: str) -> tuple[Row, ...]:
        """Find carriers by a part of what is written about them; every word must be there, capitals do not matter."""
        words = term.casefold().split()
        condition = " AND ".join("instr(words, ?)" for _ in words) or "0"
        query = f"SELECT {_ROW} FROM carrier WHERE {condition} ORDER BY id"   # noqa: S608  no text of the user's in it
        return tuple(Row(*row) for row in self._query(query, words))

    def find_digest(self, start: str) -> tuple[Hit, ...]:
        """Find files and images by a digest or its beginning."""
        digits = start.strip().lower()
        if not digits or not all(c in "0123456789abcdef" for c in digits):
            return ()
        rows = self._query(
            "SELECT carrier, what, read, algorithm, digest, size_bytes FROM digest"
            " WHERE digest >= ? AND digest < ? ORDER BY carrier, read, what", (digits, digits + "g"),
        )  # fmt: skip
        return tuple(_hit(row) for row in rows)

    def find_size(self, size_bytes: int) -> tuple[Hit, ...]:
        """Find files and images of a size; each once, by its SHA-256."""
        rows = self._query(
            "SELECT carrier, what, read, algorithm, digest, size_bytes FROM digest"
            " WHERE size_bytes = ? AND algorithm = 'sha256' ORDER BY carrier, read, what", (min(size_bytes, 1 << 62),),
        )  # fmt: skip
        return tuple(_hit(row) for row in rows)

    def _query(self, query: str, values: Iterable[str | int] = ()) -> list[Any]:
        if self._base is None:
            self.refresh()
        assert self._base is not None
        try:
            return self._base.execute(query, tuple(values)).fetchall()
        except sqlite3.Error:
            self._fall_back(silent)
            return self._base.execute(query, tuple(values)).fetchall()

    def _fall_back(self, progress: Progress) -> None:
        self.close()
        self.in_memory = True
        self._base = prepared(":memory:", self.archive.marker.uuid)
        self._update(self._base, progress)

    def _opened(self) -> sqlite3.Connection:
        """Open the cache where it is sound, make it anew where not, and do without where that fails."""
        try:
            if self.file.exists():
                base = connected(str(self.file))
                try:
                    version = base.execute("PRAGMA user_version").fetchone()[0]
                    if version == TABLES_VERSION:
                        uuid = base.execute("SELECT uuid FROM archive").fetchone()
                        base.execute("SELECT count(*) FROM carrier, digest LIMIT 1").fetchone()
                        if uuid == (self.archive.marker.uuid,):
                            return base
                except sqlite3.OperationalError:
                    base.close()
                    raise   # locked, or not to be written: another program may be using it
                except sqlite3.DatabaseError:
                    pass
                base.close()
            return self._built(silent)
        except (sqlite3.Error, OSError):
            self.in_memory = True
            return prepared(":memory:", self.archive.marker.uuid)

    def _built(self, progress: Progress) -> sqlite3.Connection:
        self.file.parent.mkdir(parents=True, exist_ok=True)
        beside = self.file.with_name(f"{self.file.name}.{os.getpid()}.new")
        beside.unlink(missing_ok=True)
        try:
            base = prepared(str(beside), self.archive.marker.uuid)
            try:
                self._update(base, progress)
            finally:
                base.close()
            os.replace(beside, self.file)
        finally:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
        return connected(str(self.file))

    def _update(self, base: sqlite3.Connection, progress: Progress) -> None:
        known: dict[str, str] = dict(base.execute("SELECT id, sidecar FROM carrier").fetchall())
        now = {carrier: self._sidecar(carrier) for carrier in self.archive.ids()}
        gone = known.keys() - now.keys()
        changed = [carrier for carrier, sidecar in now.items() if not sidecar or known.get(carrier) != sidecar]
        if not gone and not changed:
            return
        with transaction(base), progress("Indexing", len(changed)) as advance:
            base.executemany("DELETE FROM carrier WHERE id = ?", [(carrier,) for carrier in (*gone, *changed)])
            for carrier in changed:
                self._add(base, carrier, now[carrier])
                advance(1)

    def _sidecar(self, carrier: str) -> str:
        """Give the digest of a carrier's inventory; empty where it cannot be told, so that it is looked at again."""
        try:
            return sidecar_digest(file_bytes(self.archive.object_path(carrier) / SIDECAR)) or ""
        except OSError:
            return ""

    def _add(self, base: sqlite3.Connection, carrier: str, sidecar: str) -> None:
        insert = f"INSERT INTO carrier ({_ROW}, sidecar, words) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"   # noqa: S608
        try:
            record = load_record(self.archive, carrier)
        except ImagekeeperError as problem:   # damage elsewhere must not hide the other carriers
            base.execute(insert, (carrier, *[None] * 5, 0, None, None, problem.why, "", carrier))
            return
        agreed = record.agreed
        values = (
            carrier, record.kind, record.part, record.machine, record.board, record.position, len(record.reads),
            agreed.sha256 if agreed else None, agreed.grade if agreed else None, None, sidecar, _words(record),
        )  # fmt: skip
        base.execute(insert, values)
        base.executemany("INSERT INTO digest VALUES (?, ?, ?, ?, ?, ?)", _digests(record))


def _hit(row: Any) -> Hit:
    hit = Hit(*row)
    return replace(hit, digest=hit.digest.upper()) if hit.algorithm == "crc32" else hit


def _words(record: CarrierRecord) -> str:
    parts = [record.id, record.kind, record.part, record.machine, record.board, record.position]
    parts += [record.label, record.note]
    parts += [note.text for note in record.notes]
    for read in record.reads:
        parts += [read.file, read.reader, read.operator, read.specimen, *read.notes]
    return "\n".join(part.casefold() for part in parts if part)


def _digests(record: CarrierRecord) -> Iterator[tuple[str, str, str | None, str, str, int | None]]:
    for read in record.reads:
        image = read.image
        yield record.id, "file", read.id, "sha256", read.sha256.lower(), read.size_bytes
        yield record.id, "image", read.id, "sha256", image.sha256.lower(), image.size_bytes
        yield record.id, "image", read.id, "crc32", image.crc32.lower(), image.size_bytes
    if record.agreed and record.agreed.sha256:
        like = [read.image for read in record.reads if read.image.sha256 == record.agreed.sha256]
        size = like[0].size_bytes if like else None
        yield record.id, "agreed", None, "sha256", record.agreed.sha256.lower(), size
