"""Records and events held against each other, version by version.

An event tells of what was recorded with it, and a record is what its events tell: whoever changes one of them alone is
named. Times run forward from event to event and from version to version.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from imagekeeper.archive.audits.reproof import Conclusion
from imagekeeper.digests import sha256_hex
from imagekeeper.jobs.archive.history import History
from imagekeeper.jobs.archive.telling import Telling, said_changes, said_corrections, telling
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, MACHINE_TEXTS
from imagekeeper.jobs.session import SOFTWARE
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import EVENT_TYPES, Event, outcome_uri, type_uri
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.provenance.testimony import Deaccession, Erased, MachineTrial, StatedReason, Withdrawal
from imagekeeper.provenance.vouching import without_vouchers

#: A record states its own moment, taken while the event's was taken too: a slow machine may need so long between them.
_APART = timedelta(minutes=10)

#: Kinds of events that bring in what another archive recorded, which is told there.
_FROM_ELSEWHERE = ("information package merging", "ingestion", "recovery")

#: Source: RFC 9562, section 4.
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)

_ROLES = {"person": "implementer", "software": "executing program", "hardware": "instrument"}


def held_history(history: History, now: str | None = None) -> Iterator[Conclusion]:
    """Hold the events and the records of all versions against each other.

    Args:
        history: The carrier or machine.
        now: The time, RFC 3339; nothing can be from after it. None where that is not looked at.

    Raises:
        ArchiveError: `archive-damaged` where a file cannot be read.
    """
    for number in range(1, history.head + 1):
        yield from _vouched(history, number)
        yield from _times(history, number)
        for event in history.told[number]:
            yield from _event(history, number, event)
        yield from _changes(history, number)
    if now is not None and _moment(history.version(history.head).created) > _moment(now):
        why = "its newest version is from after this moment: a clock was wrong"
        yield history.conclude(places.EVENTS, "the time of the newest version", "not-derivable", why)


# --- record files and the events that vouch for them ---


def _vouched(history: History, number: int) -> Iterator[Conclusion]:
    state, before = history.state(number), history.state(number - 1)
    claims = history.vouched[number]
    for path, sha256 in sorted(claims.items()):
        what = f"{path} of version {number}"
        if path not in state:
            why = "an event vouches for it, and it is not there"
            yield history.conclude(path, what, "contradicted", why, expected=sha256)
            continue
        found = sha256_hex(history.file(state[path]))
        yield history.held(path, what, sha256, found, "it is not the file that its event vouches for")
    unvouched = [
        path
        for path in state
        if places.is_record(path) and state[path] != before.get(path) and path not in claims
    ]
    for path in sorted(unvouched):
        if not history.told[number]:
            why = "its version was made by another program: no event tells of it"
            yield history.conclude(path, f"{path} of version {number}", "not-derivable", why)
        elif claims or any(path in history.vouched[earlier] for earlier in range(1, number)):
            why = "it was changed, and no event of that version vouches for it, as one did before"
            yield history.conclude(path, f"{path} of version {number}", "contradicted", why)
        else:
            why = "no event vouches for it: it was written by another program, or by one older than that"
            yield history.conclude(path, f"{path} of version {number}", "not-derivable", why)


# --- times ---


def _times(history: History, number: int) -> Iterator[Conclusion]:
    version, what = history.version(number), f"the times of version {number}"
    before = history.version(number - 1).created if number > 1 else None
    times = [event.time for event in history.told[number]]
    if before is not None and _moment(version.created) < _moment(before):
        why = f"version {number} is from before version {number - 1}: a clock was wrong, or was set back"
        yield history.conclude(places.EVENTS, what, "not-derivable", why, expected=before, found=version.created)
        return
    if _elsewhere(history, number):
        return
    line = [*([before] if before is not None else []), *times, version.created]
    for one, other in pairwise(line):
        if _moment(other) < _moment(one):
            why = "times run backwards within one version"
            yield history.conclude(places.EVENTS, what, "contradicted", why, expected=f"{one} or later", found=other)
            return
    yield history.conclude(places.EVENTS, what, "proved")


def _moment(time: str) -> datetime:
    try:
        return datetime.fromisoformat(time.upper())
    except ValueError:
        return datetime.fromisoformat("0001-01-01T00:00:00Z")   # the strict audit says that it is none


# --- events ---


def _event(history: History, number: int, event: Event) -> Iterator[Conclusion]:
    what = f"the event {event.id[:36]} ({event.type})"

    def wrong(why: str, expected: object, found: object) -> Conclusion:
        return history.conclude(places.EVENTS, what, "contradicted", why, expected=expected, found=found)

    if event.type not in EVENT_TYPES or event.type_uri != type_uri(event.type):
        yield wrong("its URI is not that of its type", event.type, event.type_uri)
    elif event.outcome_uri != outcome_uri(event.outcome):
        yield wrong("its URI is not that of its outcome", event.outcome, event.outcome_uri)
    elif _UUID.fullmatch(event.id) is None:
        yield wrong("its id is no UUID", "a UUID", event.id)
    elif odd := next((agent for agent in event.agents if _ROLES[agent.kind] != agent.role), None):
        yield wrong(f"a {odd.kind} is no {odd.role}", _ROLES[odd.kind], odd.role)
    elif history.vouched[number] and (doer := _not_the_one(history, number, event)) is not None:
        yield wrong("who did it is not who made the version", *doer)
    elif [agent.name for agent in event.agents if agent.kind == "software"] != [SOFTWARE]:
        why = "it was written by another program or version, whose words may be others"
        yield history.conclude(places.EVENTS, what, "not-derivable", why)
    else:
        yield from _told(history, number, event, what)


def _not_the_one(history: History, number: int, event: Event) -> tuple[object, object] | None:
    """Hold who an event names against who made the version, where both come from one session."""
    user = history.version(number).user
    people = [agent.name for agent in event.agents if agent.kind == "person"]
    programs = [agent.name for agent in event.agents if agent.kind == "software"]
    if user is None or event.type in ("capture", "exporting", "validation"):
        return None   # these name who read
    if user.name not in (people or programs):
        return user.name, ", ".join(people or programs)
    return None


def _told(history: History, number: int, event: Event, what: str) -> Iterator[Conclusion]:
    should = telling(history, number, event)
    if should is None:
        yield history.conclude(places.EVENTS, what, "not-derivable", "nothing in the records repeats what it tells")
        return
    words_known = bool(history.vouched[number])   # before that, the same may have been said in other words
    if not words_known and (isinstance(should, str) or next(_pairs(should, event))[1] not in (None, event.detail)):
        why = "it tells in other words than this version of the program would"
        yield history.conclude(places.EVENTS, what, "not-derivable", why)
        return
    if isinstance(should, str):
        yield history.conclude(places.EVENTS, what, "contradicted", should, found=event.detail)
        return
    for name, expected, found in _pairs(should, event):
        if expected is not None and expected != found:
            why = f"its {name} is not what the records of version {number} give"
            yield history.conclude(places.EVENTS, what, "contradicted", why, expected=expected, found=found)
            return
    yield history.conclude(places.EVENTS, what, "proved")


def _pairs(should: Telling, event: Event) -> Iterator[tuple[str, object, object]]:
    def agents(kind: str) -> tuple[str, ...]:
        return tuple(agent.name for agent in event.agents if agent.kind == kind)

    def linked(role: str) -> tuple[str, ...]:
        return tuple(one.identifier for one in without_vouchers(event) if one.role == role)

    begun = (
        should.begins and should.detail is not None and event.detail.startswith(f"{should.detail}; ")
        and should.then in event.detail
    )  # fmt: skip
    exact = should.detail is None or (event.detail == should.detail and not should.then)
    yield "detail", event.detail if begun or exact else f"{should.detail}{should.then}", event.detail
    yield "person", should.people, agents("person")
    yield "instrument", should.instruments, agents("hardware")
    yield "program", None if should.software is None else (should.software,), agents("software")
    yield "list of sources", should.sources, linked("source")
    yield "list of outcomes", should.outcomes, linked("outcome")
    yield "outcome", should.outcome, event.outcome
    yield "time", should.time, event.time


# --- what changed from version to version ---


def _elsewhere(history: History, number: int) -> bool:
    return any(event.type in _FROM_ELSEWHERE and "picture " not in event.detail for event in history.told[number])


def _changes(history: History, number: int) -> Iterator[Conclusion]:
    """See that what a version changes in a record is told by its events, and that what is new was captured."""
    if _elsewhere(history, number):
        return
    yield from _moments(history, number)
    state, before = history.state(number), history.state(number - 1)
    for path in (places.CARRIER, places.MACHINE):
        if path in state and path in before and state[path] != before[path]:
            told = "; ".join(said_changes(history, number))
            yield _must_be_told(history, number, path, told, _untold(history, number, path))
    for name in places.read_ids(list(state)):
        path = places.read_record(name)
        if path not in before:
            yield _captured(history, number, name)
        elif state[path] != before[path]:
            told, rest = said_corrections(history, number, name)
            yield _must_be_told(history, number, path, told, rest)


def _must_be_told(history: History, number: int, path: str, told: str, rest: list[str]) -> Conclusion:
    what = f"what version {number} changes in {path}"
    if rest:
        why = f"{', '.join(rest)}: changed, which no event can tell"
        return history.conclude(path, what, "contradicted", why)
    if any(event.type == "metadata modification" and told in event.detail for event in history.told[number]):
        return history.conclude(path, what, "proved")
    if path in (places.CARRIER, places.MACHINE) and not history.told[number]:   # no event ever said what it was
        return history.conclude(path, what, "not-derivable", "no event of that version tells of anything")
    return history.conclude(path, what, "contradicted", "it was changed, and no event tells of it", expected=told)


def _untold(history: History, number: int, path: str) -> list[str]:
    """Name members that nobody can correct, and that differ from the version before."""
    before, after = history.at(number - 1).own(), history.at(number).own()
    if before is None or after is None:
        return [path]
    known = {*CARRIER_TEXTS, *MACHINE_TEXTS}
    return [one.name for one in fields(after) if one.name not in known and _differs(before, after, one.name)]


#: What says of itself when it was added, with where it lies.
_ADDED: tuple[tuple[str, Any], ...] = (
    (places.NOTES, Note), (places.PHOTOS, Photo), (places.DERIVATIONS, Derivation), (places.REPLACEMENTS, Replacement),
    (places.EXPLANATIONS, StatedReason), (places.TRIALS, MachineTrial), (places.WITHDRAWALS, Withdrawal),
    (places.DEACCESSIONS, Deaccession), (places.ERASED, Erased),
)  # fmt: skip

def _differs(before: object, after: object, name: str) -> bool:
    return bool(getattr(before, name) != getattr(after, name))


def _captured(history: History, number: int, name: str) -> Conclusion:
    """See that a new read has its two events; that these say what the record says is seen with each event."""
    path, what = places.read_record(name), f"{name}: that it was captured"
    read = history.at(number).read(name)
    kinds = {event.type for event in history.told[number] if event.detail.startswith(f"{name}: ")}
    if {"capture", "message digest calculation"} <= kinds:
        return history.conclude(path, what, "proved")
    told = read is not None and any(
        event.type == "capture" and (read.original, "outcome") in [(o.identifier, o.role) for o in event.objects]
        for event in history.told[number]
    )
    if kinds or told:
        why = "of its two events only one is there, or it tells of another read"
        return history.conclude(path, what, "contradicted", why)
    return history.conclude(path, what, "not-derivable", "no event of that version tells of it")


def _moments(history: History, number: int) -> Iterator[Conclusion]:
    """See that what a version adds says that it was added then."""
    created = _moment(history.version(number).created)
    for path, cls in _ADDED:
        known = history.at(number - 1).several(cls, path) if number > 1 else ()
        for one in history.at(number).several(cls, path):
            if one not in known and not any(_same(one, other) for other in known):
                if abs(_moment(one.added) - created) <= _APART:
                    continue
                why = f"it says that it was added at another time than version {number}, which added it"
                what = f"a record that version {number} adds to {path}"
                yield history.conclude(
                    path, what, "contradicted", why, expected=history.version(number).created, found=one.added
                )


def _same(one: Any, other: Any) -> bool:
    name = getattr(one, "id", None)
    return name is not None and name == getattr(other, "id", None) and one.added == other.added
