"""Events: what happened to a carrier or its images, each tied to the one before it by a digest.

The units are those of PREMIS; the form is our own, one JSON object a line.

Source:
    PREMIS Data Dictionary for Preservation Metadata, version 3.0 (2015), Library of Congress;
    Library of Congress, Preservation vocabularies: Event Type, Event Outcome, Event Related Agent Role.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ArchiveError, InternalError
from imagekeeper.jsonable import canonical
from imagekeeper.provenance.dates import check_time, is_time
from imagekeeper.provenance.fields import check_readable, from_json
from imagekeeper.provenance.fitting import decoded
from imagekeeper.sentences.say import Phrase

_VOCABULARY = "http://id.loc.gov/vocabulary/preservation/"

#: The event types used here, with the code that ends their URI.
EVENT_TYPES: dict[str, str] = {
    "accession": "acc",
    "capture": "cap",
    "creation": "cre",
    "deaccession": "dea",   # the code from memory
    "deletion": "del",   # the code from memory
    "exporting": "exp",
    "fixity check": "fix",
    "forensic feature analysis": "ffa",
    "format identification": "for",
    "imaging": "ima",
    "information package merging": "ipm",
    "ingestion": "ing",
    "message digest calculation": "mes",
    "metadata extraction": "mee",
    "metadata modification": "mem",
    "migration": "mig",
    "modification": "mod",
    "normalization": "nor",
    "recovery": "rec",
    "replication": "rep",
    "transfer": "tra",
    "validation": "val",
}

Outcome = Literal["success", "warning", "fail"]

#: The outcomes, with the code that ends their URI.
OUTCOMES: dict[Outcome, str] = {"success": "suc", "warning": "war", "fail": "fai"}


@dataclass(frozen=True)
class Agent:
    """Who or what carried an event out.

    Attributes:
        name: The person's name, the program with its version, or what the reader is called.
        kind: `person`, `software` or `hardware`, as PREMIS has them.
        role: `implementer` for who is responsible, `executing program` for the program that did the work, `instrument`
            (our own word) for the reader or drive that took part.
    """

    name: str
    kind: Literal["person", "software", "hardware"]
    role: Literal["implementer", "executing program", "instrument"]


def person(name: str) -> Agent:
    """Name a person as the one responsible.

    Example:
        >>> person("harbour office").role
        'implementer'
    """
    return Agent(name, "person", "implementer")


def software(name: str) -> Agent:
    """Name a program, with its version, as what did the work.

    Example:
        >>> software("imagekeeper 0.1.0").role
        'executing program'
    """
    return Agent(name, "software", "executing program")


def hardware(name: str) -> Agent:
    """Name a reader or drive as what took part.

    Example:
        >>> hardware("bench reader").kind
        'hardware'
    """
    return Agent(name, "hardware", "instrument")


@dataclass(frozen=True)
class LinkedObject:
    """Something that an event concerns.

    Attributes:
        identifier: A path within the carrier's object, a carrier's `urn:uuid:`, or a digest such as
            `sha256:...`.
        role: `source` for what went in, `outcome` for what came out.
    """

    identifier: str
    role: Literal["source", "outcome"]


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something that happened to a carrier or its images.

    Attributes:
        id: A UUID.
        type: One of the PREMIS event types.
        type_uri: The same as a URI.
        time: When, RFC 3339.
        agents: Who and what carried it out.
        outcome: `success`, `warning` or `fail`.
        outcome_uri: The same as a URI.
        detail: What was done and found, in words.
        objects: What it concerns.
        previous: SHA-256 of the canonical form (RFC 8785) of the event before; null for the first.
    """

    id: str
    type: str
    type_uri: str
    time: str
    agents: tuple[Agent, ...]
    outcome: Outcome
    outcome_uri: str
    detail: str
    objects: tuple[LinkedObject, ...]
    previous: str | None


@dataclass(frozen=True)
class BrokenLink:
    """The first place where a chain of events does not hold.

    Attributes:
        line: Line of the file, counted from 1.
        why: What was found and what was expected.
        expected: The digest that should stand there, or null.
        found: What stands there, or null.
    """

    line: int
    why: str
    expected: str | None = None
    found: str | None = None


def new_event(
    previous: Event | str | None,
    *,
    id: str,   # noqa: A002  the field's name
    type: str,   # noqa: A002
    time: str,
    agents: Sequence[Agent],
    detail: str,
    outcome: Outcome = "success",
    objects: Sequence[LinkedObject] = (),
) -> Event:
    """Make the event that follows another.

    Args:
        previous: The event before, or its digest (`last_digest`), or None for the first.
        id: A new UUID.
        type: A key of `EVENT_TYPES`.
        time: When it happened, RFC 3339.
        agents: Who and what carried it out.
        detail: What was done and found.
        outcome: How it ended.
        objects: What it concerns.

    Raises:
        UsageError: `usage` for a time that is not RFC 3339.

    Example:
        >>> first = new_event(None, id="0195c0de-0000-7000-8000-000000000001", type="capture",
        ...                   time="2026-11-24T22:00:00Z", agents=[person("harbour office")], detail="U4")
        >>> first.type_uri
        'http://id.loc.gov/vocabulary/preservation/eventType/cap'
    """
    if type not in EVENT_TYPES:
        raise InternalError("internal/event", type=type)
    return Event(
        id=id,
        type=type,
        type_uri=type_uri(type),
        time=check_time(time),
        agents=tuple(agents),
        outcome=outcome,
        outcome_uri=outcome_uri(outcome),
        detail=detail,
        objects=tuple(objects),
        previous=event_digest(previous) if isinstance(previous, Event) else previous,
    )


def type_uri(name: str) -> str:
    """Give the URI of a type of event.

    Example:
        >>> type_uri("accession")
        'http://id.loc.gov/vocabulary/preservation/eventType/acc'
    """
    return f"{_VOCABULARY}eventType/{EVENT_TYPES[name]}"


def outcome_uri(outcome: Outcome) -> str:
    """Give the URI of an outcome.

    Example:
        >>> outcome_uri("success")
        'http://id.loc.gov/vocabulary/preservation/eventOutcome/suc'
    """
    return f"{_VOCABULARY}eventOutcome/{OUTCOMES[outcome]}"


def event_digest(event: Event) -> str:
    """Digest the canonical form of an event: what the next one carries as `previous`."""
    return sha256_hex(canonical(event))


def last_digest(data: bytes) -> str | None:
    """Digest the last event of an event file as it is written there; None where there is none.

    Raises:
        ArchiveError: `archive-damaged` for a last line of which no digest can be taken.
    """
    lines = [line for line in data.split(b"\n") if line.strip()]
    if not lines:
        return None
    try:
        return sha256_hex(canonical(_decode(lines[-1])))
    except TypeError as problem:
        raise ArchiveError(
            "archive-damaged/record", trouble=Phrase("archive-damaged/no-json", trouble=str(problem)),
        ) from problem  # fmt: skip


def append_events(data: bytes, events: Sequence[Event]) -> bytes:
    """Add events at the end of an event file's bytes, which stay as they are.

    Raises:
        InternalError: An event could not be read again.
    """
    for event in events:
        check_readable(event)
    if data and not data.endswith(b"\n"):
        data += b"\n"
    return data + b"".join(canonical(event) + b"\n" for event in events)


def parse_events(data: bytes, name: str = "events.jsonl") -> tuple[Event, ...]:
    """Read an event file; the chain is not looked at.

    Raises:
        ArchiveError: `archive-damaged` for a line that is no event.
    """
    return tuple(from_json(Event, _decode(line), f"{name} line {number}") for number, line in _lines(data))


def verify_chain(data: bytes) -> BrokenLink | None:
    r"""Follow the chain of events from the first to the last, and name the first link that does not hold.

    Returns:
        None when the whole chain holds.

    Example:
        >>> verify_chain(b"") is None
        True
        >>> verify_chain(b"{}\n").why.startswith("the line is no event")
        True
    """
    previous: str | None = None
    seen: set[str] = set()
    for number, line in _lines(data):
        raw = _decode(line)
        try:
            event = from_json(Event, raw, "the line")
            digest = sha256_hex(canonical(raw))
        except (ArchiveError, TypeError, UnicodeError) as problem:
            why = problem.why if isinstance(problem, ArchiveError) else str(problem)
            return BrokenLink(number, f"the line is no event: {why}")
        if event.previous != previous:
            return BrokenLink(
                number, "the digest of the event before is not the one recorded", previous, event.previous
            )
        if event.id in seen:
            return BrokenLink(number, f"the event {event.id} was there before")
        if not is_time(event.time):
            return BrokenLink(number, f"the time {event.time!r} is not RFC 3339")
        seen.add(event.id)
        previous = digest
    return None


def _lines(data: bytes) -> list[tuple[int, bytes]]:
    return [(number, line) for number, line in enumerate(data.split(b"\n"), 1) if line.strip()]


def _decode(line: bytes) -> Any:
    try:
        return decoded(line)
    except ValueError:
        return None   # not an object, which the caller reports as such
