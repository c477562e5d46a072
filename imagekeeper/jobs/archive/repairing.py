"""Repair of the archive, told in the history of every carrier concerned."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace

from imagekeeper.archive.audits.reproof import Conclusion
from imagekeeper.archive.exchange.repair import open_damaged, repair
from imagekeeper.archive.exchange.repair_report import Origin, Repaired, Restored
from imagekeeper.archive.ocfl.founding import MARKER
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError, Where
from imagekeeper.files import display_name
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.units import plural

#: More files than this are not named one by one in the words of an event; its objects name them all.
NAMED = 3

ORIGINS: dict[Origin, str] = {
    "replica": "the replica", "archive": "the archive", "stray": "a file that lay elsewhere in the archive",
}  # fmt: skip


def repair_folder(
    path: str,
    session: Session,
    *,
    replica_path: str | None = None,
    quarantine_unexpected: bool = False,
    jobs: int | None = None,
    progress: Progress = silent,
) -> Repaired:
    """Put the archive in a folder right, whose mark may be damaged too; `repair_archive` says more.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-damaged` where the archive cannot even be recognised.
        UsageError: `archive-busy`, `cannot-write`, `usage`.
    """
    replica = None if replica_path is None else _copy(replica_path)
    return repair_archive(
        open_damaged(path, replica), session, replica=replica, quarantine_unexpected=quarantine_unexpected, jobs=jobs,
        progress=progress,
    )  # fmt: skip


def _copy(path: str) -> ArchiveStore:
    try:
        return ArchiveStore.open(path)
    except NotFoundError as problem:   # it is the copy that is missing, and not the archive
        name = display_name(path)
        raise NotFoundError("archive-missing/no-copy", name=name, marker=MARKER, where=Where(file=name)) from problem


def repair_archive(
    archive: ArchiveStore,
    session: Session,
    *,
    replica: ArchiveStore | None = None,
    quarantine_unexpected: bool = False,
    jobs: int | None = None,
    progress: Progress = silent,
) -> Repaired:
    """Put an archive right, from a copy where one is given, and note it in the carriers' histories.

    Args:
        archive: The archive.
        session: Who works.
        replica: A copy that `archive replicate` made.
        quarantine_unexpected: Move what nothing accounts for to quarantine.
        jobs: How many files are read at a time.
        progress: Told the bytes read.

    Raises:
        UsageError: `archive-busy`, `cannot-write`, `usage` where the copy is one of another archive, or the archive
            itself.
    """
    if replica is not None and os.path.samefile(replica.path, archive.path):   # its lock would never be free
        raise UsageError(
            "usage/repair-from-itself", name=display_name(replica.path), where=Where(file=display_name(replica.path)),
        )  # fmt: skip
    with archive.lock() as interrupted:
        result = repair(
            archive, replica, progress, now=session.now(), quarantine_unexpected=quarantine_unexpected, jobs=jobs
        )
        hurt = {entry.carrier for entry in result.damaged + result.missing}
        told = []
        restored = {one.carrier for one in result.restored if one.carrier}
        # in a copy an event would be a version that the archive never had: its log tells of the repair
        for carrier in () if result.of_copy else sorted(restored - hurt):
            _tell(archive, carrier, [one for one in result.restored if one.carrier == carrier], session)
            told.append(carrier)
        contradicted = _contradicted(archive, sorted(restored - hurt))
    return replace(
        result, interrupted=interrupted + result.interrupted, events=tuple(told), contradicted=contradicted,
        ok=result.ok and not contradicted,
    )  # fmt: skip


def _contradicted(archive: ArchiveStore, restored: Sequence[str]) -> tuple[Conclusion, ...]:
    """See that what the records of restored carriers conclude follows from their files: digests cannot tell that."""
    if not restored:
        return ()
    from imagekeeper.jobs.archive.reproving import reprove  # slow to load, and most repairs restore nothing

    return reprove(archive, restored).contradicted


def _tell(archive: ArchiveStore, carrier: str, restored: Sequence[Restored], session: Session) -> None:
    now = session.now()
    inventory = archive.inventory(carrier)
    events = archive.read_file(carrier, places.EVENTS, inventory) if places.EVENTS in inventory.state else b""
    prefix = f"{archive.name_of(archive.object_path(carrier))}/"
    names = [one.path.removeprefix(prefix) for one in restored]
    shown = ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
    origins = " and ".join(sorted({ORIGINS[one.origin] for one in restored}, reverse=True))
    event = next_event(
        last_digest(events), session, now, "recovery",
        f"{plural(len(names), 'damaged or missing file')} restored from {origins}, each with the digest that it should"
        f" have: {shown}",
        sources=[f"sha512:{one.damaged_sha512}" for one in restored if one.damaged_sha512],
        outcomes=[name for one, name in zip(restored, names, strict=True) for name in _outcomes(one, name)],
    )  # fmt: skip
    archive.commit(
        carrier, {places.EVENTS: append_events(events, [event])}, message="repaired", user=user(session), now=now,
        expected_head=inventory.head,
    )  # fmt: skip


def _outcomes(one: Restored, name: str) -> list[str]:
    return [name] if one.sha512 is None else [name, f"sha512:{one.sha512}"]
