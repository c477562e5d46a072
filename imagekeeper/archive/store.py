"""The archive: made, opened, locked and written to."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from imagekeeper.archive.ocfl import founding
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.ocfl.folder import ArchiveFolder
from imagekeeper.archive.ocfl.inventory import Inventory, User
from imagekeeper.archive.ocfl.layout import LAYOUTS, StorageLayout
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.errors import NotFoundError, UsageError, Where
from imagekeeper.files import display_name, unwritable
from imagekeeper.jsonable import printable

if TYPE_CHECKING:
    from imagekeeper.archive.writing.recovery import Repair
    from imagekeeper.provenance.testimony import Erased

#: How long another program's lock is waited for. [second]
LOCK_TIMEOUT = 20.0


class ArchiveStore(ArchiveFolder):
    """An archive that is there; make one with `ArchiveStore.create` or `ArchiveStore.open`.

    Attributes:
        lock_timeout: How long another program's lock is waited for. [second]
    """

    def __init__(
        self, path: Path, marker: founding.Marker, layout: StorageLayout, disk: FlushedDisk | None = None
    ) -> None:
        super().__init__(path, marker, layout, disk)
        self.lock_timeout = LOCK_TIMEOUT
        self._lock: Any = None
        self._held = 0

    @classmethod
    def create(
        cls, path: str | os.PathLike[str], *, uuid: str, title: str, now: str, layout: str = "0002"
    ) -> ArchiveStore:
        """Make an archive in a folder that is new or empty.

        Args:
            path: The folder.
            uuid: A new UUID.
            title: What its keeper calls it.
            now: The time, RFC 3339.
            layout: `0002`, or `0003` for tens of thousands of carriers.

        Raises:
            UsageError: `archive-exists`, `cannot-write`, `unknown-name`, `usage`.
        """
        disk = FlushedDisk()
        marker = founding.found(path, disk, uuid=uuid, title=title, now=now, layout=layout)
        return cls(Path(path).absolute(), marker, LAYOUTS[layout], disk)

    @classmethod
    def open(cls, path: str | os.PathLike[str]) -> ArchiveStore:
        """Open an archive.

        Raises:
            NotFoundError: `archive-missing`.
            ArchiveError: `archive-newer`, `archive-damaged`.
        """
        marker = founding.recognise(path)
        return cls(Path(path).absolute(), marker, LAYOUTS[marker.layout])

    def inventory(self, carrier_id: str) -> Inventory:
        """Read a carrier's inventory, checked against its digest; one that was erased is told as such.

        Raises:
            NotFoundError: `carrier-missing`.
            ArchiveError: `archive-damaged`.
        """
        try:
            return super().inventory(carrier_id)
        except NotFoundError as problem:
            from imagekeeper.archive.ocfl.erasures import stubs  # only where a carrier is not there

            for stub_id, _ in stubs(self, carrier_id):
                raise NotFoundError("carrier-missing/erased", id=carrier_id, stub=stub_id) from problem
            raise

    @contextlib.contextmanager
    def lock(self) -> Iterator[tuple[Repair, ...]]:
        """Keep other programs from writing, and first finish or undo what an interrupted one left.

        Calls may be nested.

        Returns:
            A context that gives the repairs made.

        Raises:
            UsageError: `archive-busy`, `cannot-write`.
        """
        from filelock import FileLock, Timeout  # slow to load, and reading takes no lock

        if self._lock is None:
            self._lock = FileLock(str(self.path / "lock"), timeout=self.lock_timeout)
        try:
            self._lock.acquire(timeout=self.lock_timeout)
        except Timeout as problem:
            raise UsageError("archive-busy", seconds=self.lock_timeout, where=Where(file=str(self.path))) from problem
        except (OSError, NotImplementedError) as problem:
            known = problem if isinstance(problem, OSError) else OSError(None, str(problem))
            raise unwritable(display_name(self.path / "lock"), known) from problem
        self._held += 1
        try:
            repairs: tuple[Repair, ...] = ()
            if self._held == 1:
                repairs = self.recover()
            yield repairs
        finally:
            self._held -= 1
            self._lock.release()

    def recover(self, *, everything: bool = False) -> tuple[Repair, ...]:
        """Finish or undo interrupted changes; taking the lock does this by itself.

        Args:
            everything: Look at every carrier, not only at those that a change was under way for.

        Raises:
            UsageError: `archive-busy`, `cannot-write`.
        """
        from imagekeeper.archive.writing.recovery import recover  # slow to load, and reading does without

        if not self._held:
            with self.lock() as repairs:
                return repairs + (self.recover(everything=True) if everything else ())
        return recover(self, everything)

    @contextlib.contextmanager
    def whole(self, carrier_id: str) -> Iterator[None]:
        """Undo all that was done to a carrier unless the block ends well: its commits count together or not at all.

        Calls about one carrier may be nested; the lock is taken.

        Raises:
            UsageError: `archive-busy`, `cannot-write`.
            ArchiveError: `archive-damaged`.
        """
        from imagekeeper.archive.writing.savepoint import whole  # slow to load, and reading does without

        with self.lock():
            head = self.inventory(carrier_id).head if self.has(carrier_id) else 0
            try:
                with whole(self, carrier_id, head):
                    yield
            except OSError as problem:
                raise unwritable(self.name_of(self.object_path(carrier_id)), problem) from problem

    def commit(
        self,
        carrier_id: str,
        changes: Mapping[str, Source | None],
        *,
        message: str,
        user: User | None,
        now: str,
        expected_head: int,
    ) -> Inventory:
        """Write a carrier's first or next version: all of it or nothing.

        Args:
            carrier_id: The carrier; a new one's id must be acceptable.
            changes: Logical paths with what to store there; None leaves a path out from now on.
            message: Why.
            user: Who.
            now: The time, RFC 3339.
            expected_head: The version that the changes are based on; 0 for a new carrier.

        Returns:
            The new inventory; the old one where nothing changed.

        Raises:
            UsageError: `carrier-exists`, `carrier-id`, `archive-busy` (another program changed the carrier, or
                holds the lock), `cannot-write`.
            NotFoundError: `carrier-missing`.
            ArchiveError: `archive-damaged`.
        """
        from imagekeeper.archive.writing.commit import commit  # slow to load, and reading does without

        named = None if user is None else User(printable(user.name), user.address)
        with self.lock():
            return commit(
                self, carrier_id, changes, message=printable(message), user=named, now=now, expected_head=expected_head
            )

    def erase(
        self, erased: Erased, stub_id: str, files: Mapping[str, Source | None], *, message: str, user: User | None
    ) -> None:
        """Erase a carrier for good: its whole folder goes, and only what is given here stays.

        Args:
            erased: What is erased, and why.
            stub_id: The id of what stays: free, or that of a stub which tells just this.
            files: What is stored there, where it is free.
            message: Why.
            user: Who.

        Raises:
            UsageError: `archive-busy`, `cannot-write`.
            ArchiveError: `archive-damaged`.
        """
        from imagekeeper.archive.writing.erasing import erase  # slow to load, and reading does without

        named = None if user is None else User(printable(user.name), user.address)
        with self.lock():
            erase(self, erased, stub_id, files, message=printable(message), user=named)
