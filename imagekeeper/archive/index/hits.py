"""Which carriers and machines are wanted, and what is told of those that are found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

How = Literal["exact", "start", "mistyped", "digest"]


@dataclass(frozen=True, kw_only=True)
class Filters:
    """Which carriers and machines are wanted; None for no matter.

    Attributes:
        kind: Kind of carrier, or `machine`.
        machine: Part of the machine's name.
        grade: Of the agreed image.
        size_bytes: Size of an image or file of a read. [byte]
        read_after: The earliest second of a read, as UTC.
        read_before: The latest.
        added_after: The earliest second at which it was added, as UTC.
        added_before: The latest.
    """

    kind: str | None = None
    machine: str | None = None
    grade: str | None = None
    size_bytes: int | None = None
    read_after: str | None = None
    read_before: str | None = None
    added_after: str | None = None
    added_before: str | None = None

    def conditions(self) -> tuple[list[str], list[Any]]:
        """Give the conditions on an object `o` with its carrier `c`, if it is one, and the values bound to them."""
        found, values = carrier_conditions(
            machine=self.machine, kind=None if self.kind == "machine" else self.kind, grade=self.grade
        )
        if self.kind == "machine":
            found.append("c.object IS NULL")
        if self.size_bytes is not None:
            size = min(self.size_bytes, 1 << 62)
            found.append(
                "o.number IN (SELECT object FROM held WHERE file_bytes = ? UNION ALL"
                " SELECT h.object FROM held h JOIN image i ON i.number = h.image WHERE i.size_bytes = ?)"
            )
            values += [size, size]
        if self.read_after is not None or self.read_before is not None:
            found.append(
                "EXISTS (SELECT 1 FROM held h WHERE h.object = o.number AND h.latest >= ? AND h.earliest <= ?)"
            )
            values += [self.read_after or "", self.read_before or "~"]
        if self.added_after is not None or self.added_before is not None:
            found.append("o.added BETWEEN ? AND ?")
            values += [self.added_after or "", self.added_before or "~"]
        return found, values


@dataclass(frozen=True)
class WordMatch:
    """Where something that was looked for stands.

    Attributes:
        word: What was looked for.
        field: The field of the record.
        text: What stands there, or the part of it around the word.
        how: `exact`, `start` for the beginning of a word, `mistyped`, or `digest`.
    """

    word: str
    field: str
    text: str
    how: How


@dataclass(frozen=True, kw_only=True)
class Hit:
    """A carrier or machine that was found.

    Attributes:
        id: Its id.
        what: `carrier` or `machine`.
        kind: The carrier's kind, or null.
        part: Its type as marked, or null.
        machine: The machine it belongs to, or the name of the machine it is, or null.
        board: Its board, or null.
        position: Its place there, or null.
        reads: How many reads it has.
        grade: Of its agreed image, or null.
        score: From 0 to 1; only the order is meant.
        matches: Where it matched, one for each word.
        open: The codes of what speaks against its image or record, with a blank between them, or null.
        taken_out: Why it was taken out of the collection, or null.
    """

    id: str
    what: Literal["carrier", "machine"]
    kind: str | None
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    reads: int
    grade: str | None
    score: float
    matches: tuple[WordMatch, ...] = ()
    open: str | None = None
    taken_out: str | None = None


def carrier_conditions(
    *, machine: str | None = None, kind: str | None = None, grade: str | None = None, taken_out: bool | None = None
) -> tuple[list[str], list[Any]]:
    """Give the conditions that choose carriers `c`, and the values bound to them."""
    conditions: list[str] = []
    values: list[Any] = []
    if machine is not None:
        # a carrier names its machine by name or by id
        conditions.append(
            "(instr(folded(coalesce(c.machine, '')), ?) OR folded(trim(coalesce(c.machine, ''))) IN (SELECT named.id"
            " FROM machine named WHERE instr(folded(coalesce(named.name, '')), ?)))"
        )
        values += [machine.casefold()] * 2
    if kind is not None:
        conditions.append("c.kind = ?")
        values.append(kind)
    if grade == "none":
        conditions.append("c.reads = 0 AND c.problem IS NULL")
    elif grade is not None:
        conditions.append("c.grade = ?")
        values.append(grade)
    if taken_out is not None:
        conditions.append("c.taken_out IS NOT NULL" if taken_out else "c.taken_out IS NULL")
    return conditions, values
