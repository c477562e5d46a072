"""Re-proving: what records conclude is derived again, from the files that were read.

The ladder: the audit reads that bytes are as recorded; its strict part sees that records are well-formed and fit what
they are about; re-proving sees that the conclusions follow.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from imagekeeper.archive.audits.reproof import Conclusion, Reproof, gathered
from imagekeeper.archive.index.remembered import Remembered
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, Where
from imagekeeper.jobs.archive import again
from imagekeeper.jobs.archive.decoding import reads_again
from imagekeeper.jobs.archive.history import History
from imagekeeper.jobs.archive.holding import held_history
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Progress, silent
from imagekeeper.sentences.say import Phrase

#: What a value that makes no sense in a record makes a program raise.
_FAULTS = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError)


def reprove(
    archive: ArchiveStore, ids: Iterable[str] | None = None, *, now: str | None = None, progress: Progress = silent
) -> Reproof:
    """Derive again what the records of carriers and machines conclude; nothing in the archive is changed.

    Args:
        archive: The archive.
        ids: The carriers and machines to look at, or None for all.
        now: The time, RFC 3339, after which nothing can have been recorded.
        progress: Told the carriers looked at.

    Raises:
        ArchiveError: `archive-damaged` where the storage root cannot be read; damage to one carrier is in the result.
    """
    names = tuple(archive.ids() if ids is None else ids)
    found: list[Conclusion] = []
    with progress("Proving again", len(names)) as advance, Remembered(archive) as memory:
        for name in names:
            try:
                found += _sure(archive, archive.inventory(name), memory, now)
            except ImagekeeperError as problem:
                found.append(_unreadable(name, problem.why))
            advance(1)
    return gathered(len(names), found)


def reproved(archive: ArchiveStore, inventory: Inventory) -> Reproof:
    """Derive again what the records of one carrier or machine conclude, from nothing but its files.

    Args:
        archive: The archive that holds it, which is only read.
        inventory: The inventory of the carrier or machine.
    """
    return gathered(1, _sure(archive, inventory, None, None))


def refuse_contradicted(archive: ArchiveStore, inventory: Inventory) -> None:
    """See that nothing speaks against what the records of a carrier or machine conclude.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    found = reproved(archive, inventory).contradicted
    if found:
        first = found[0]
        more = "" if len(found) == 1 else str(Phrase("archive-damaged/and-more", count=len(found) - 1))
        trouble = one_line(f"{first.what}: {first.why}{more}")
        raise ArchiveError(
            "archive-damaged/contradicted", id=inventory.id, path=first.path, trouble=trouble,
            where=Where(file=f"{inventory.id}: {first.path}"),
        )  # fmt: skip


def _sure(
    archive: ArchiveStore, inventory: Inventory, memory: Remembered | None, now: str | None
) -> list[Conclusion]:
    """Derive what can be derived; what cannot even be looked at speaks against the record, never against the rest."""
    try:
        return list(_of(archive, inventory, memory, now))
    except ImagekeeperError as problem:
        return [_unreadable(inventory.id, problem.why)]
    except _FAULTS as odd:   # a value that nobody foresaw
        return [_unreadable(inventory.id, type(odd).__name__)]


def _of(
    archive: ArchiveStore, inventory: Inventory, memory: Remembered | None, now: str | None
) -> Iterator[Conclusion]:
    history = History(archive, inventory)
    yield from held_history(history, now)
    if history.is_machine:
        return
    yield from reads_again(history)
    yield from again.examinations_again(history, memory)
    yield from again.agreed_again(history)
    yield from again.derived_again(history, again.Others(history))
    yield from again.replacements_again(history)


def _unreadable(name: str, why: str) -> Conclusion:
    return Conclusion(
        carrier=name, path="", what="all that it says", outcome="contradicted",
        why=f"its records cannot be followed: {why}",
    )  # fmt: skip
