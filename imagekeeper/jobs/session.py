"""What every job on an archive needs: the archive, who works and when, and the events that tell of it."""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from imagekeeper.archive.ocfl.founding import find
from imagekeeper.archive.ocfl.inventory import User
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError, UsageError
from imagekeeper.files import display_name
from imagekeeper.provenance.events import Event, LinkedObject, Outcome, hardware, new_event, person, software
from imagekeeper.sentences.say import Phrase
from imagekeeper.version import __version__

SOFTWARE = f"imagekeeper {__version__}"


def system_time() -> str:
    """Give the time by which files are stamped, RFC 3339: SOURCE_DATE_EPOCH does not stop that clock."""
    return timestamp(time.time())


@dataclass(frozen=True)
class Session:
    """Who works, when, and what gives new identities: everything that a record takes from its surroundings.

    Attributes:
        now: Gives the time, RFC 3339.
        new_uuid: Gives a new UUID.
        operator: Who works, or None when unknown.
        file_time: Gives the time that a file would get which is changed now, RFC 3339.
    """

    now: Callable[[], str]
    new_uuid: Callable[[], str]
    operator: str | None = None
    file_time: Callable[[], str] = system_time


def now() -> str:
    """Give the time in RFC 3339.

    SOURCE_DATE_EPOCH stops the clock, as the specification of that variable by the Reproducible Builds project says;
    the documentation's sessions are made so.
    """
    fixed = os.environ.get("SOURCE_DATE_EPOCH", "")
    return timestamp(int(fixed) if fixed.isdecimal() and len(fixed) < 12 else time.time())


def this_session(operator: str | None = None) -> Session:
    """Give the surroundings of this run: its clock, and identities that nothing else has."""
    return Session(now, lambda: str(uuid.uuid4()), operator if (operator or "").strip() else None)


def open_archive(named: str | None, start: str = ".") -> ArchiveStore:
    """Open the archive that is named, or the nearest one that encloses a folder.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-newer`, `archive-damaged`.
    """
    return ArchiveStore.open(named if named is not None else find(start))


def next_event(
    previous: Event | str | None,
    session: Session,
    now: str,
    kind: str,
    detail: str,
    *,
    sources: Sequence[str] = (),
    outcomes: Sequence[str] = (),
    operator: str | None = None,
    instrument: str | None = None,
    outcome: Outcome = "success",
) -> Event:
    """Tell of something that happened to a carrier, after the event before.

    Args:
        previous: That event or its digest; None for the first.
        session: Who works.
        now: When, RFC 3339.
        kind: A PREMIS event type.
        detail: What was done and found.
        sources: What went in: paths within the carrier's object, or a carrier's `urn:uuid:`.
        outcomes: What came out.
        operator: Who did it, where that is not the one who works now.
        instrument: The reader or drive that took part.
        outcome: How it ended.
    """
    who = operator or session.operator
    agents = [software(SOFTWARE), *([person(who)] if who else []), *([hardware(instrument)] if instrument else [])]
    return new_event(
        previous, id=session.new_uuid(), type=kind, time=now, agents=agents, detail=detail, outcome=outcome,
        objects=[
            *(LinkedObject(name, "source") for name in sources), *(LinkedObject(name, "outcome") for name in outcomes),
        ],
    )  # fmt: skip


def refuse_inside(archive: ArchiveStore, path: str) -> None:
    """Refuse to put a file among the carriers' folders, where the audit would take it for damage.

    Raises:
        UsageError: `usage`.
    """
    try:
        inside = Path(path).resolve().is_relative_to(archive.root.resolve())
    except (OSError, ValueError, RuntimeError):
        return   # whoever writes there is told why that cannot be
    if inside:
        raise UsageError("usage/among-carriers", name=display_name(path))


def user(session: Session) -> User:
    """Name who makes a version: the one who works, or else the program."""
    return User(session.operator or SOFTWARE)


def timestamp(seconds: float) -> str:
    """Give a time in RFC 3339, in UTC to the second.

    Example:
        >>> timestamp(1772445600)
        '2026-03-02T10:00:00Z'
    """
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


#: More carriers than these are only counted.
_NAMED = 20


def stopped(problem: ImagekeeperError, done: Sequence[str], at: str, left: int) -> ImagekeeperError:
    """Tell how far work on several carriers came, each of which is changed wholly or not at all.

    Args:
        problem: What stopped it.
        done: The carriers that were done.
        at: The carrier at which it stopped, to which nothing was done.
        left: How many would have come after it.
    """
    if not done:
        return problem.adding(why=Phrase("cannot-write/stopped-at-first", at=at, left=left))
    named = [*done[:_NAMED], *([f"{len(done) - _NAMED} more"] if len(done) > _NAMED else [])]
    return problem.adding(why=Phrase("cannot-write/stopped", done=named, at=at, left=left))
