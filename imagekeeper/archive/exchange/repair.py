"""Putting right what an audit finds: from what the archive itself bears out, else from a replica.

A file is replaced only by one whose digest is the right one: that of the inventory, of which two witnesses agree, or
that of the log of commits. Each is read before and after. What was damaged goes to quarantine; nothing is deleted, and
what nobody bears out is left as it is.

Source:
    PREMIS 3.0, event type `recovery`; NDSA Levels of Digital Preservation 2.0, integrity, level 4: replace or repair
    damaged content.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.copy_mark import is_copy
from imagekeeper.archive.exchange.proofs import Witness
from imagekeeper.archive.exchange.repair_beside import right_marker
from imagekeeper.archive.exchange.repair_report import Repaired
from imagekeeper.archive.exchange.repair_work import RepairWork
from imagekeeper.archive.exchange.replica import enter_lock, put
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.layout import LAYOUTS
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError
from imagekeeper.files import display_name, unwritable
from imagekeeper.progress import Progress, silent

REPAIRS = "repairs.jsonl"

#: Some damage shows only when other damage is gone: the line about an inventory that could not be read, say.
ROUNDS = 3


def repair(
    archive: ArchiveStore,
    replica: ArchiveStore | None = None,
    progress: Progress = silent,
    *,
    now: str,
    quarantine_unexpected: bool = False,
    jobs: int | None = None,
) -> Repaired:
    """Finish or undo interrupted changes, then restore what is damaged or missing.

    The carriers' own histories are not written to; `imagekeeper.jobs.archive.repairing` adds the events.

    Args:
        archive: The archive.
        replica: A copy of it, from which to take what the archive lacks.
        progress: Told the bytes read.
        now: The time, RFC 3339.
        quarantine_unexpected: Move what nothing accounts for to quarantine.
        jobs: How many files are read at a time; None for one a processor.

    Raises:
        UsageError: `archive-busy`, `cannot-write`, `usage` where the replica is one of another archive.
    """
    if replica is not None and replica.marker.uuid != archive.marker.uuid:
        raise UsageError("usage/copy-of-another", theirs=replica.marker.uuid, ours=archive.marker.uuid)
    with contextlib.ExitStack() as stack:
        interrupted = stack.enter_context(archive.lock())
        ours = Witness(ledger.read_commits(archive))   # before anything is noted in it
        interrupted += archive.recover(everything=True)
        ours.complete &= not any(one.path == f"log/{ledger.COMMITS}" for one in interrupted)
        if not ours.complete:
            for commits in ledger.commits_elsewhere(archive):
                ours.hear(commits)
        if replica is not None:
            enter_lock(stack, replica)
        found = audit(archive, progress, now=now, jobs=jobs)
        work = RepairWork(archive, replica, ours, quarantine_unexpected=quarantine_unexpected)
        for _ in range(ROUNDS):
            done = work.done
            try:
                work.run(found)
            except OSError as problem:
                raise unwritable(display_name(archive.path), problem) from problem
            if done == work.done:
                break
            interrupted += archive.recover(everything=True)
            found = audit(archive, progress, now=now, jobs=jobs)
        refused = work.refusals(found)
        result = Repaired(
            interrupted=interrupted, restored=tuple(work.restored), set_aside=tuple(work.set_aside), events=(),
            damaged=found.damaged, missing=found.missing, unexpected=found.unexpected,
            ok=found.ok and not any(one.here for one in refused), time=found.time, refused=refused,
            second=work.second_histories(), log_incomplete=bool(found.carriers) and not ours.complete,
            of_copy=is_copy(archive),
        )  # fmt: skip
        if result.interrupted or result.restored or result.set_aside or result.refused or result.second:
            _note(archive, result)
    return result


def _note(archive: ArchiveStore, result: Repaired) -> None:
    line: dict[str, object] = {
        "time": result.time,
        "ok": result.ok,
        "interrupted": result.interrupted,
        "restored": result.restored,
        "set_aside": result.set_aside,
    }
    for name in ("refused", "second"):
        if getattr(result, name):
            line[name] = getattr(result, name)
    try:
        ledger.append(archive, REPAIRS, line)
    except OSError as problem:
        raise unwritable(display_name(archive.log), problem) from problem


def open_damaged(path: str, replica: ArchiveStore | None) -> ArchiveStore:
    """Open an archive whose mark may be damaged or missing; then it is put right first.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-damaged` where neither its README nor the replica bears a mark out; `archive-newer`.
    """
    try:
        return ArchiveStore.open(path)
    except (ArchiveError, NotFoundError) as problem:
        if problem.code not in ("archive-damaged", "archive-missing") or not (Path(path) / "carriers").is_dir():
            raise
        data = right_marker(Path(path), replica)
        if data is None:
            raise
        archive = _opened_with(path, data)
        with archive.lock():
            try:
                put(archive, archive.path / founding.MARKER, data, None)
            except OSError as refused:
                raise unwritable(display_name(path), refused) from refused
        return ArchiveStore.open(path)


def _opened_with(path: str, data: bytes) -> ArchiveStore:
    marker = founding.parse_marker(data)
    return ArchiveStore(Path(path).absolute(), marker, LAYOUTS[marker.layout])
