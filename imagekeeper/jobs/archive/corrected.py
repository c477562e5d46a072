"""What was said of one thing in two archives, and corrected in either: which of it stands.

A value that the other side knew and replaced gives way. Where neither knew the other's, or both did, the later one
stands, and that is an open question.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from imagekeeper.jobs.archive.sides import Side, merged_version
from imagekeeper.jsonable import one_line
from imagekeeper.provenance.fields import read_json
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.replacements import ReadBack

T = TypeVar("T", Read, ReadBack)

_NOTHING_YET = object()


@dataclass(frozen=True)
class Value:
    """What a record said from some version on.

    Attributes:
        version: The version.
        time: When that was made, RFC 3339.
        value: What it said.
    """

    version: int
    time: str
    value: Any


class Corrected:
    """Tells which of two values stands, by the versions of both sides."""

    def __init__(self, ours: Side, theirs: Side) -> None:
        self.ours = ours
        self.theirs = theirs
        common = 0
        for a, b in zip(ours.inventory.versions, theirs.inventory.versions, strict=False):
            if a != b:
                break
            common += 1
        self.start = max(common, 1)   # the last version that both have, whose values both know
        self.told_them = merged_version(ours, theirs)
        self.told_us = merged_version(theirs, ours)

    def values(self, side: Side, place: str, look: Callable[[Any], Any]) -> list[Value]:
        """Give the values that a record had since the last common version, each with the time of the change.

        Args:
            side: The archive.
            place: Where the record lies.
            look: Takes the value out of the record, or of None in a version that has none.
        """
        found: list[Value] = []
        for number in range(self.start, side.inventory.head + 1):
            data = side.at(place, number)
            value = look(None if data is None else read_json(data, place))
            if value is not _NOTHING_YET and (not found or found[-1].value != value):
                found.append(Value(number, side.inventory.versions[number - 1].created, value))
        return found

    def later(self, ours: Sequence[Value], theirs: Sequence[Value]) -> tuple[Literal["ours", "theirs"], bool]:
        """Tell which of two values stands, and whether that is an open question."""
        a, b = ours[-1], theirs[-1]
        a_known = a.version <= self.told_them or any(one.value == a.value for one in theirs[:-1])
        b_known = b.version <= self.told_us or any(one.value == b.value for one in ours[:-1])
        if a_known != b_known:
            return ("theirs" if a_known else "ours"), False
        newer = (a.time, json.dumps(a.value)) > (b.time, json.dumps(b.value))
        return ("ours" if newer else "theirs"), not a_known

    def members(
        self, mine: T, other: T, places: tuple[str, str], names: Iterable[str],
        look: Callable[[T, str], Callable[[Any], Any]],
    ) -> tuple[dict[str, Any], list[str]]:  # fmt: skip
        """Tell what is to be taken over of what was corrected of a read or read-back.

        Args:
            mine: As it is here.
            other: As it is there.
            places: Where the records lie, here and there.
            names: The members that people correct.
            look: Gives what takes a member out of a record.

        Returns:
            New values by member, and what that is in words.
        """
        taken: dict[str, Any] = {}
        said: list[str] = []
        for name in names:
            a, b = getattr(mine, name), getattr(other, name)
            if a == b:
                continue
            winner, open_question = self.later(
                self.values(self.ours, places[0], look(mine, name)),
                self.values(self.theirs, places[1], look(other, name)),
            )
            if winner == "theirs":
                taken[name] = b
            kept, left = (a, b) if winner == "ours" else (b, a)
            if winner == "theirs" or open_question:
                said.append(one_of(name, kept, left, open_question))
        if taken:
            if "reader" in taken and isinstance(other, Read):
                taken["qualified"] = other.qualified
            insisted = dict.fromkeys((*mine.insisted, *other.insisted))
            taken["insisted"] = tuple(n for n in insisted if n in (other if n in taken else mine).insisted)
        return taken, said


def one_of(name: str, kept: Any, left: Any, open_question: bool) -> str:
    """Say which of two values stands."""
    both = " (both archives had changed it)" if open_question else ""
    return f"{name.replace('_', ' ')} is {shown(kept)}, not {shown(left)}{both}"


def of_read(_: Read, name: str) -> Callable[[Any], Any]:
    """Give what takes a member out of a read's record."""
    return lambda raw: raw.get(name) if isinstance(raw, dict) else _NOTHING_YET


def of_read_back(back: ReadBack, name: str) -> Callable[[Any], Any]:
    """Give what takes a member of a read-back out of the records of replacements."""

    def look(raw: Any) -> Any:
        for made in raw if isinstance(raw, list) else [raw or {}]:
            for one in made.get("read_backs", ()):
                if one.get("path") == back.path:
                    return one.get(name)
        return _NOTHING_YET

    return look


def shown(text: Any) -> str:
    """Quote a value."""
    return "nothing" if text is None else repr(one_line(str(text))[:80])
