"""The index: what listing and searching need, kept in a cache that can be deleted and rebuilt at any time.

Everything in it comes from the archive. It lies in the user's cache folder, never in the archive, which may be on
a network disk where SQLite's locks do not hold. A cache that is damaged, locked or cannot be written never stops
a command: the index is then made anew, or in memory; so it is where anything but this program changed the file, which
`seal` tells, or where a row is not as it was written (`imagekeeper.archive.index.sums`). `watch` tells what is looked
at to keep the index up to date, and what it cannot see.
"""

from __future__ import annotations

import contextlib
import functools
import operator
import os
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, TypeVar

from imagekeeper.archive.index.hits import carrier_conditions
from imagekeeper.archive.index.sqlite.seal import is_sealed, resealed, seal
from imagekeeper.archive.index.sqlite.tables import connected, finish, is_sound, prepared, transaction
from imagekeeper.archive.index.sqlite.update import update
from imagekeeper.archive.index.sums import DAMAGE, checked
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.files import flush
from imagekeeper.progress import Progress, silent

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

T = TypeVar("T")

#: Names another folder for the cache than the system's usual one.
CACHE_VARIABLE = "IMAGEKEEPER_CACHE"

#: In what order carriers can be listed, with the columns that it takes.
ORDERS = {
    "id": "c.id", "machine": "c.machine IS NULL, c.machine COLLATE NOCASE, c.board, c.position, c.id",
    "added": "c.added DESC, c.id",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class CarrierRow:
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
        grade: Of the evidence, as it stands today, or null where nothing was settled.
        problem: Why its record cannot be read, or null.
        open: The codes of what speaks against its image or record, with a blank between them, or null.
        explained: The codes of what spoke against it and was explained, or null.
        next: What to do next with it; empty where nothing needs to be done, null where its record cannot be read.
        taken_out: Why it was taken out of the collection, or null where it is in it.
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
    open: str | None = None
    explained: str | None = None
    next: str | None = None
    taken_out: str | None = None


@dataclass(frozen=True, kw_only=True)
class MachineRow:
    """One machine in a list.

    Attributes:
        id: Its id.
        name: What it is called, or null where its record cannot be read.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        problem: Why its record cannot be read, or null.
        taken_out: Why it was taken out of the collection, or null where it is in it.
    """

    id: str
    name: str | None
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    problem: str | None
    taken_out: str | None = None


def results_of(cls: type[T], rows: Iterable[Sequence[Any]]) -> tuple[T, ...]:
    """Make results of rows whose columns stand in the order of the class's fields."""
    names = [field.name for field in fields(cls)]   # type: ignore[arg-type]   # every result is a dataclass
    made = []
    for row in rows:   # a hundred thousand at a time: a frozen class takes thrice as long to fill by its own means
        result = object.__new__(cls)
        vars(result).update(zip(names, row, strict=True))
        made.append(result)
    return tuple(made)


def _results(cls: type[T], cursor: sqlite3.Cursor) -> list[T]:
    """Make results of whole rows of a table, each held against its sum; the class's fields are named as its columns."""
    names = [about[0] for about in cursor.description]
    pick = operator.itemgetter(*(names.index(field.name) for field in fields(cls)))   # type: ignore[arg-type]
    return list(results_of(cls, map(pick, checked(cursor))))


def cache_file(archive: ArchiveStore, cache: str | os.PathLike[str] | None = None) -> Path:
    """Give the place of an archive's index.

    Args:
        archive: The archive.
        cache: The folder; by default `IMAGEKEEPER_CACHE`, else the user's cache folder.
    """
    folder = cache or os.environ.get(CACHE_VARIABLE)
    if not folder:
        import platformdirs  # slow to load: only where no folder is named

        folder = platformdirs.user_cache_dir("imagekeeper", appauthor=False)
    name = "".join(c for c in archive.marker.uuid if c.isalnum() or c == "-")[:64]
    return Path(folder) / f"{name}.sqlite"


class Index:
    """An archive's index; use it in a `with` statement.

    Args:
        archive: The archive.
        cache: The cache folder; by default `IMAGEKEEPER_CACHE`, else the user's cache folder.
        progress: Told the records read while the index is brought up to date.

    Attributes:
        in_memory: Whether the cache could not be used.
    """

    def __init__(
        self, archive: ArchiveStore, cache: str | os.PathLike[str] | None = None, progress: Progress = silent
    ) -> None:
        self.archive = archive
        self._progress = progress
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

    def refresh(self) -> None:
        """Bring the index up to date: only carriers whose inventory changed are read.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read; damage to one carrier is in its
                row's `problem`.
        """
        try:
            if self._base is None:
                self._base = self._opened()
            update(self.archive, self._base, self._progress, None if self.in_memory else self.file)
        except (*DAMAGE, OSError) as problem:
            self._mend(problem)

    def rebuild(self) -> None:
        """Make the index anew beside the old one, and put it in place.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read.
        """
        self.close()
        try:
            self._base = self._built()
        except (*DAMAGE, OSError):
            self._fall_back()

    def rows(
        self, *, machine: str | None = None, kind: str | None = None, grade: str | None = None, sort: str = "id",
        limit: int | None = None, taken_out: bool | None = None,
    ) -> tuple[CarrierRow, ...]:  # fmt: skip
        """Give carriers.

        Args:
            machine: Part of their machine's name or None for any; capitals do not matter.
            kind: Their kind, or None for any.
            grade: Their grade, or None for any; `none` is that of carriers without a read.
            sort: A key of `ORDERS`.
            limit: How many at most, or None for all.
            taken_out: Only those that were taken out of the collection, or only those that were not; None for both.
        """
        conditions, values = carrier_conditions(machine=machine, kind=kind, grade=grade, taken_out=taken_out)
        where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
        query = f"SELECT c.* FROM carrier c{where} ORDER BY {ORDERS[sort]} LIMIT ?"   # noqa: S608  values are bound
        bound = (*values, -1 if limit is None else limit)
        return tuple(self._asked(query, bound, functools.partial(_results, CarrierRow)))

    def count(self) -> tuple[int, int]:
        """Count the carriers, and the carriers and machines whose record cannot be read."""
        query = "SELECT (SELECT count(*) FROM carrier), (SELECT count(*) FROM object WHERE sidecar = '')"
        ((carriers, problems),) = self.query(query)
        return carriers, problems

    def unread(self, *, carriers: bool = True, machines: bool = True) -> tuple[Unfit, ...]:
        """Give the carriers and machines whose record cannot be read, in the order of their ids, and why."""
        tables = [name for name, wanted in (("carrier", carriers), ("machine", machines)) if wanted]
        rows: list[Any] = []
        for table in tables:
            rows += self.query(
                f"SELECT o.id, t.problem FROM {table} t JOIN object o ON o.number = t.object"   # noqa: S608  two names
                " WHERE t.problem IS NOT NULL"
            )
        return tuple(Unfit(one, why) for one, why in sorted(rows))

    def machines(self) -> tuple[MachineRow, ...]:
        """Give all machines that have a record, in the order of their ids."""
        return tuple(self._asked("SELECT * FROM machine ORDER BY id", (), functools.partial(_results, MachineRow)))

    def machine_names(self) -> tuple[str, ...]:
        """Give the different names by which carriers name their machines."""
        return tuple(name for (name,) in self.query("SELECT DISTINCT machine FROM carrier WHERE machine <> ''"))

    def names(self, sort: str) -> tuple[str, ...]:
        """Give the different names of one sort that records give: of readers, people, drives; see `names_in`."""
        return tuple(name for (name,) in self.query("SELECT DISTINCT name FROM named WHERE sort = ?", (sort,)))

    @property
    def full_text(self) -> bool:
        """Whether the index was made with SQLite's full-text search."""
        return bool(self.query("SELECT full_text FROM archive")[0][0])

    def query(self, query: str, values: Iterable[Any] = ()) -> list[Any]:
        """Ask the database; where it is damaged it is made anew first.

        Args:
            query: In SQL; nothing that a user wrote may be in it.
            values: What is bound to its question marks.
        """
        return self._asked(query, values, sqlite3.Cursor.fetchall)

    def checked(self, query: str, values: Iterable[Any] = (), *, absent: int = 0) -> list[Any]:
        """Ask the database for rows that are to be shown, each held against its sum.

        Args:
            query: In SQL, as for `query`; behind the columns wanted come `WHOLE` and all columns of their tables.
            values: What is bound to its question marks.
            absent: In how many of the tables each row has nothing, as a left join finds it.
        """
        return self._asked(query, values, lambda cursor: checked(cursor, absent))

    def _asked(self, query: str, values: Iterable[Any], fetch: Callable[[sqlite3.Cursor], list[T]]) -> list[T]:
        if self._base is None:
            self.refresh()
        assert self._base is not None
        bound = tuple(values)
        try:
            return fetch(self._base.execute(query, bound))
        except DAMAGE as problem:
            self._mend(problem)
            return fetch(self._base.execute(query, bound))

    def write(self, work: Callable[[sqlite3.Connection], None]) -> None:
        """Write what was worked out from images; what cannot be written is worked out again the next time.

        Args:
            work: Does it, within a transaction.
        """
        assert self._base is not None
        writing = transaction(self._base) if self.in_memory else resealed(self._base, self.file)
        with contextlib.suppress(*DAMAGE, OSError), writing:
            work(self._base)

    def _mend(self, problem: Exception) -> None:
        """Make a damaged cache anew, once; do without where it is locked, or no file can be written there."""
        if self.in_memory or _is_busy(problem):
            self._fall_back()
        else:
            self.rebuild()

    def _fall_back(self) -> None:
        self.close()
        self.in_memory = True
        self._base = self._filled(":memory:")

    def _opened(self) -> sqlite3.Connection:
        """Open the cache where it is sound, and make it anew where not.

        Raises:
            sqlite3.Error: It is locked, or cannot be written.
            OSError: Its folder cannot be written.
        """
        while self.file.exists():
            place = _inode(self.file)
            base = connected(str(self.file))
            try:
                base.execute("BEGIN")   # so that nobody writes between the first look and the last
                sound = is_sound(base, self.archive.marker.uuid) and is_sealed(self.file)
                base.execute("COMMIT")
            except DAMAGE as problem:
                if _is_busy(problem):
                    base.close()
                    raise
                sound = False
            if place == _inode(self.file):   # else another program put a new one in its place meanwhile
                if sound:
                    return base
                base.close()
                break
            base.close()
        return self._built()

    def _built(self) -> sqlite3.Connection:
        self.file.parent.mkdir(parents=True, exist_ok=True)
        beside = self.file.with_name(f"{self.file.name}.{os.getpid()}.new")
        beside.unlink(missing_ok=True)
        try:
            self._filled(str(beside)).close()
            with open(beside, "rb+") as file:   # it was filled without waiting for the medium
                flush(file)
            # a journal that a program left which was cut off belongs to the old file, and would spoil the new one
            self.file.with_name(f"{self.file.name}-journal").unlink(missing_ok=True)
            os.replace(beside, self.file)
            seal(self.file)
        finally:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
        return connected(str(self.file))

    def _filled(self, name: str) -> sqlite3.Connection:
        base = prepared(name, self.archive.marker.uuid)
        try:
            update(self.archive, base, self._progress, new=True)
            finish(base)
        except BaseException:
            base.close()
            raise
        return base


def _inode(file: Path) -> int | None:
    try:
        return os.stat(file).st_ino
    except OSError:
        return None


def _is_busy(problem: Exception) -> bool:
    """Whether another program holds a lock on the database."""
    return getattr(problem, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
