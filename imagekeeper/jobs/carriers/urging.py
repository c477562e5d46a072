"""The list of what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal, cast

from imagekeeper.archive.index.sqlite.base import CarrierRow
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.evidence.urgency import DONE, urgency
from imagekeeper.provenance.agreed import Grade
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True, kw_only=True)
class TodoLine:
    """One carrier that something is to be done with.

    Attributes:
        id: Its id.
        kind: Its kind, or null where its record cannot be read.
        part: Its type as marked, or null.
        machine: The machine it belongs to, or null.
        board: Its board, or null.
        position: Its place there, or null.
        reads: How many reads it has.
        grade: Of its agreed image, or null where none was settled.
        urgency: From 0 to 1; only the order is meant.
        because: What is at risk and what is proved.
        next: What to do.
        open: The codes of what speaks against its image or record.
    """

    id: str
    kind: str | None
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    reads: int
    grade: str | None
    urgency: float
    because: str
    next: str
    open: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Todo:
    """What to do next, most urgent first.

    Attributes:
        lines: The carriers that something is to be done with, as many as asked for.
        unread: How many carriers have no read.
        done: How many carriers need nothing more for now.
        more: How many more there are than the limit let through.
        taken_out: How many more were taken out of the collection, and need nothing more.
        set_aside: All carriers whose record cannot be read, and why, whatever was asked for.
    """

    SCHEMA: ClassVar[Literal["todo/1"]] = "todo/1"

    lines: tuple[TodoLine, ...]
    unread: int
    done: int
    more: int = 0
    taken_out: int = 0
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.set_aside else 0


def todo(
    rows: Sequence[CarrierRow], limit: int | None = None, taken_out: int = 0, set_aside: tuple[Unfit, ...] = ()
) -> Todo:
    """Put the carriers that something is to be done with in order, most urgent first.

    Args:
        rows: The carriers in the collection, as the index has them.
        limit: How many lines at most, or None for all.
        taken_out: How many were taken out of it.
        set_aside: Carriers whose record cannot be read.
    """
    lines = []
    for row in rows:
        held = tuple((row.open or "").split())
        found = urgency(row.kind, row.reads, cast("Grade | None", row.grade), held)
        if found.weight >= DONE:
            lines.append(
                TodoLine(
                    id=row.id, kind=row.kind, part=row.part, machine=row.machine, board=row.board,
                    position=row.position, reads=row.reads, grade=row.grade, urgency=found.weight,
                    because=found.because, next=str(Phrase("step/audit")) if row.next is None else row.next, open=held,
                )
            )  # fmt: skip
    lines.sort(key=lambda line: (-line.urgency, line.id))
    kept = lines[:limit]
    unread = sum(not row.reads for row in rows)
    return Todo(
        lines=tuple(kept), unread=unread, done=len(rows) - len(lines), more=len(lines) - len(kept), taken_out=taken_out,
        set_aside=set_aside,
    )
