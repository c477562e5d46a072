"""Accept or refuse a row that came from another archive."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import InputError, NotFoundError, UsageError
from imagekeeper.files import display_name, unwritable
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session
from imagekeeper.jobs.tables.answering import answerless
from imagekeeper.jobs.tables.folders import DECISIONS, FOLDER
from imagekeeper.jobs.tables.holding import held, proved
from imagekeeper.jobs.tables.listing import ShownOwnRow, from_elsewhere
from imagekeeper.jobs.tables.received import ReceivedRow, What, received_rows
from imagekeeper.jsonable import canonical
from imagekeeper.own import standing
from imagekeeper.sentences.say import Phrase

#: Fewer digits name no row.
FEWEST = 6


@dataclass(frozen=True, kw_only=True)
class RowDecided:
    """A row from elsewhere, and what was decided about it.

    Attributes:
        row: The row, with its grounds and what it changes.
        decided: Whether that was noted now; without being confirmed, nothing is.
    """

    SCHEMA: ClassVar[Literal["own-row-decided/1"]] = "own-row-decided/1"

    row: ShownOwnRow
    decided: bool

    @property
    def exit_code(self) -> int:
        """1 where nothing was decided, else 0."""
        return 0 if self.decided else 1


def accept_row(archive: ArchiveStore, mark: str, session: Session, *, confirm: bool = False) -> RowDecided:
    """Show a row from elsewhere, and accept it where that is confirmed: then answers rest on it.

    Args:
        archive: The archive.
        mark: The row's mark, as it is listed.
        session: Who accepts it, and when.
        confirm: Accept it; without this nothing changes.

    Raises:
        NotFoundError: `not-found` where no row has this mark.
        UsageError: `usage` where several do; `archive-busy`, `cannot-write`.
        InputError: `own-rows` where the row cannot be used.
    """
    one = _found(archive, mark)
    others = held(archive.path).rows.rows
    good, wrong = proved([*(row for row in others if row is not one.row), one.row])
    why: Phrase | str | None = next((f.values["trouble"] for f in wrong if f.where == one.row.where), None)
    if why is None:
        with standing(good):
            why = answerless(one.row)
    if why is not None:
        raise InputError("own-rows", row=one.row.name, trouble=str(why), where=one.row.where)
    if confirm:
        _note(archive, one, "accept", session, None)
        one = _found(archive, one.digest)
    return RowDecided(row=from_elsewhere(one, confirm), decided=confirm)


def refuse_row(archive: ArchiveStore, mark: str, reason: str, session: Session) -> RowDecided:
    """Refuse a row from elsewhere, also one that was accepted before: it counts for nothing, and the reason is kept.

    Raises:
        NotFoundError: `not-found` where no row has this mark.
        UsageError: `usage` where several do, or for a reason without words; `archive-busy`, `cannot-write`.
    """
    words = check_reason(reason)
    one = _found(archive, mark)
    _note(archive, one, "refuse", session, words)
    return RowDecided(row=from_elsewhere(_found(archive, one.digest), False), decided=True)


def _found(archive: ArchiveStore, mark: str) -> ReceivedRow:
    rows, _ = received_rows(archive.path)
    wanted = mark.strip().lower()
    found = [one for one in rows if one.digest.startswith(wanted)] if len(wanted) >= FEWEST else []
    if not found:
        raise NotFoundError("not-found/received-row", mark=mark, known=[one.mark for one in rows] or ["none"])
    if len(found) > 1:
        raise UsageError("usage/several-rows", mark=mark, rows=[f"{one.digest[:16]} {one.row.name}" for one in found])
    return found[0]


def _note(archive: ArchiveStore, one: ReceivedRow, what: What, session: Session, reason: str | None) -> None:
    line = {
        "time": session.now(), "what": what, "row": one.digest, "name": one.row.name, "archive": one.archive,
        "by": session.operator, "reason": reason,
    }  # fmt: skip
    with archive.lock():
        folder = archive.path / FOLDER
        try:
            archive.disk.make_folders(folder)
            archive.disk.append(folder / DECISIONS, canonical(line) + b"\n")
        except OSError as problem:
            raise unwritable(display_name(folder / DECISIONS), problem) from problem
