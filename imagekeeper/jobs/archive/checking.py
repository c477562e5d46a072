"""The archive as a whole: make it, list it, check it, rebuild its index."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.archive.index.sqlite.base import CarrierRow, Index
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.recovery import Repair
from imagekeeper.jobs.session import Session
from imagekeeper.progress import Progress, silent


@dataclass(frozen=True, kw_only=True)
class Founded:
    """A new archive.

    Attributes:
        path: Its folder, made printable.
        uuid: Its identity.
        title: What its keeper calls it.
        layout: The OCFL storage layout: 0002 with readable folders, or 0003 for very large collections.
        created: When it was made, RFC 3339.
    """

    SCHEMA: ClassVar[Literal["archive/1"]] = "archive/1"

    path: str
    uuid: str
    title: str
    layout: str
    created: str


@dataclass(frozen=True)
class CarrierList:
    """The carriers of an archive.

    Attributes:
        carriers: One a carrier, in the order asked for.
        more: Whether there are more than the limit let through.
        taken_out: How many more would be listed, had they not been taken out of the collection.
        set_aside: All carriers whose record cannot be read, and why, whatever was asked for: none can be ruled out.
    """

    SCHEMA: ClassVar[Literal["carrier-list/1"]] = "carrier-list/1"

    carriers: tuple[CarrierRow, ...]
    more: bool = False
    taken_out: int = 0
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.set_aside else 0


@dataclass(frozen=True, kw_only=True)
class Reindexed:
    """What rebuilding the index did.

    Attributes:
        carriers: How many carriers the index holds.
        problems: How many of them have a record that cannot be read.
        repairs: What an interrupted program had left, and what was done about it.
        index: Where the index lies, or null where it could only be kept in memory.
        set_aside: The carriers and machines whose record cannot be read, and why.
    """

    SCHEMA: ClassVar[Literal["reindex/1"]] = "reindex/1"

    carriers: int
    problems: int
    repairs: tuple[Repair, ...]
    index: str | None
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.problems else 0


def found_archive(path: str, title: str, layout: str, session: Session) -> Founded:
    """Make an archive in a folder that is new or empty.

    Raises:
        UsageError: `archive-exists`, `cannot-write`.
    """
    archive = ArchiveStore.create(path, uuid=session.new_uuid(), title=title, now=session.now(), layout=layout)
    marker = archive.marker
    return Founded(path=path, uuid=marker.uuid, title=marker.title, layout=marker.layout, created=marker.created)


def list_carriers(
    archive: ArchiveStore, *, machine: str | None = None, kind: str | None = None, grade: str | None = None,
    sort: str = "id", limit: int | None = None, all_: bool = False, progress: Progress = silent,
) -> CarrierList:  # fmt: skip
    """List the carriers in the collection, of one machine, kind or grade if wanted; capitals do not matter.

    Args:
        archive: The archive.
        machine: Part of the machine's name, or None for any.
        kind: The kind, or None for any.
        grade: The grade, or None for any.
        sort: `id`, `machine`, or `added` for the newest first.
        limit: How many at most, or None for all.
        all_: List those as well that were taken out of the collection.
        progress: Told the carriers that the index has to read.
    """
    with Index(archive, progress=progress) as index:
        more = None if limit is None else limit + 1
        rows = index.rows(
            machine=machine, kind=kind, grade=grade, sort=sort, limit=more, taken_out=None if all_ else False
        )
        gone = () if all_ else index.rows(machine=machine, kind=kind, grade=grade, taken_out=True)
        unread = index.unread(machines=False)
    shown = rows if limit is None else rows[:limit]
    return CarrierList(shown, len(rows) > len(shown), len(gone), unread)


def reindex(archive: ArchiveStore, *, progress: Progress = silent) -> Reindexed:
    """Put right what an interrupted program left, and build the index anew from the folders.

    Raises:
        UsageError: `archive-busy`.
    """
    repairs = archive.recover(everything=True)
    with closing(Index(archive, progress=progress)) as index:
        index.rebuild()
        carriers, problems = index.count()
        unread = index.unread()
        place = None if index.in_memory else str(index.file)
    return Reindexed(
        carriers=carriers, problems=problems, repairs=repairs, index=place, set_aside=unread
    )
