"""What the events of a carrier tell, worked out from its records: by it the events are held, and the records by them.

Each function gives what an event of one kind says when the records are as they are. Only events of this very version
of the program are held word by word, for other versions may have said the same in other words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields

from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.archive.history import AtVersion, History
from imagekeeper.jobs.carriers.conditions import insisted_text
from imagekeeper.jobs.carriers.deaccessioning import taken_in_again, taken_out
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, MACHINE_TEXTS
from imagekeeper.jobs.carriers.erasing import deleted, why_out
from imagekeeper.jobs.carriers.keeping import read_events_say
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import Event, Outcome
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.provenance.testimony import Deaccession, Erased, MachineTrial, StatedReason, Withdrawal
from imagekeeper.units import plural

_READ = re.compile(r"(r[1-9][0-9]{0,8}): ")
_MADE = re.compile(r"(d[1-9][0-9]{0,8}) was made from ")
_NEW = re.compile(r"(w[1-9][0-9]{0,8}): ")
_BACKS = re.compile(r"w[1-9][0-9]{0,8}: ([0-9]{1,6}) read-backs? added: ")
_TRIED = re.compile(r"(t[1-9][0-9]{0,8}): ")
_COMPARED = re.compile(r"[0-9]{1,9} reads? compared: ")

#: The members of a read that a person can correct.
_CORRECTABLE = (
    "reader", "operator", "date", "vcc", "specimen", "temperature", "adapter", "cable", "drive", "controller",
    "retries", "qualified",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What an event should say; None for what its records do not tell.

    Attributes:
        detail: Its words.
        begins: Whether more words may follow, after a semicolon.
        then: Words that must be among those.
        sources: What went in.
        outcomes: What came out.
        outcome: How it ended.
        people: Who did it.
        instruments: The reader or drive that took part.
        time: When.
        software: The program.
    """

    detail: str | None = None
    begins: bool = False
    then: str = ""
    sources: tuple[str, ...] | None = None
    outcomes: tuple[str, ...] | None = None
    outcome: Outcome | None = None
    people: tuple[str, ...] | None = None
    instruments: tuple[str, ...] | None = None
    time: str | None = None
    software: str | None = None


def telling(history: History, number: int, event: Event) -> Telling | str | None:
    """Work out what an event should say.

    Args:
        history: The carrier or machine.
        number: The version that added the event.
        event: The event.

    Returns:
        What it should say; in words, of what it tells without there being a record of that; None where nothing in the
        records repeats what it says.
    """
    files = history.at(number)
    if event.type == "deaccession" or (event.type == "accession" and " into the collection again: " in event.detail):
        return _of_whereabouts(history, number, event)
    if event.type == "deletion":
        return _of_erasure(files)
    if event.type == "accession":
        own = files.own()
        return None if own is None else Telling(
            detail=f"{own.id} was taken into the archive", begins=True, sources=(), outcomes=(f"urn:uuid:{own.uuid}",),
            outcome="success", time=own.created, instruments=(),
        )  # fmt: skip
    if event.type in ("capture", "message digest calculation"):
        return _of_read(history, files, event)
    if event.type == "normalization":
        return _of_derivation(files, event)
    if event.type in ("exporting", "validation") and _NEW.match(event.detail):
        return _of_replacement(files, event)
    if event.type == "validation" and _COMPARED.match(event.detail):
        return _of_agreed(history, number)
    if event.type == "validation":
        return _of_testimony(history, number, event)
    if event.type == "ingestion" and event.detail.startswith("picture "):
        photos = files.several(Photo, places.PHOTOS)
        return _no_such("picture") if not photos else Telling(
            detail=f"picture {photos[-1].file} was kept as it is", sources=(), outcomes=(photos[-1].path,),
            outcome="success", instruments=(),
        )  # fmt: skip
    if event.type == "metadata modification":
        return _of_words(history, number, event)
    return None


def _no_such(what: str) -> str:
    return f"it tells of {what}, of which there is no record"


def _of_whereabouts(history: History, number: int, event: Event) -> Telling | str:
    """What is told of what was taken out of the collection, and into it again."""
    files = history.at(number)
    own = files.own()
    gone = files.several(Deaccession, places.DEACCESSIONS)
    back = files.several(Withdrawal, places.WITHDRAWALS)
    if event.type == "deaccession" and own is not None and gone:
        told, place, who = taken_out(own.id, gone[-1]), places.DEACCESSIONS, gone[-1].by
    elif event.type == "accession" and own is not None and back:
        told, place, who = taken_in_again(own.id, back[-1]), places.WITHDRAWALS, back[-1].by
    else:
        return _no_such("a deaccession")
    return Telling(
        detail=told, then=_moved(history, number), begins=True, sources=(), outcomes=(place,), outcome="success",
        people=_named(who), instruments=(),
    )  # fmt: skip


def _of_erasure(files: AtVersion) -> Telling | str:
    """What is told of what was erased; the stub says the same in two places."""
    own, found = files.own(), files.several(Erased, places.ERASED)
    gone = files.several(Deaccession, places.DEACCESSIONS)
    if own is None or not found or not gone or gone[0].reason != why_out(found[0]):
        return _no_such("an erasure")
    return Telling(
        detail=deleted(found[0]), sources=(f"urn:uuid:{own.uuid}",), outcomes=(places.ERASED,), outcome="success",
        people=_named(found[0].by), instruments=(), time=found[0].added,
    )  # fmt: skip


def _of_read(history: History, files: AtVersion, event: Event) -> Telling | str:
    found = _READ.match(event.detail)
    read = files.read(found[1]) if found else None
    own = files.own()
    if read is None or own is None:
        return _no_such(found[1] if found else "a read")
    captured, decoded = read_events_say(read)
    if event.type == "capture":
        return Telling(
            detail=captured, sources=(f"urn:uuid:{own.uuid}",), outcomes=(read.original,), outcome="success",
            people=_named(read.operator), instruments=_named(read.reader), time=read.added, software=read.software,
        )  # fmt: skip
    return Telling(
        detail=decoded, sources=(read.original,), outcomes=(read.image_path,),
        outcome="warning" if read.image.doubts else "success", time=read.added, software=read.software, instruments=(),
    )  # fmt: skip


def _of_derivation(files: AtVersion, event: Event) -> Telling | str:
    found = _MADE.match(event.detail)
    held = {one.id: one for one in files.several(Derivation, places.DERIVATIONS)}
    made = held.get(found[1]) if found else None
    if made is None:
        return _no_such(found[1] if found else "a derived image")
    said = " and ".join(f"{one.carrier} {one.what}" for one in made.sources)
    return Telling(
        detail=f"{made.id} was made from {said} by {', '.join(str(step.get('step')) for step in made.steps)}",
        sources=tuple(f"sha256:{one.sha256}" for one in made.sources),
        outcomes=_named(made.path), outcome="success", time=made.added, software=made.software, instruments=(),
    )  # fmt: skip


def _of_replacement(files: AtVersion, event: Event) -> Telling | str:
    found = _NEW.match(event.detail)
    held = {one.id: one for one in files.several(Replacement, places.REPLACEMENTS)}
    made = held.get(found[1]) if found else None
    if made is None:
        return _no_such(found[1] if found else "a replacement")
    if event.type == "exporting":
        return Telling(
            detail=f"{made.id}: written to {made.part or 'a replacement'}, {made.placed}{insisted_text(made.insisted)}",
            sources=(f"sha256:{made.sha256}",), outcomes=_named(made.written), outcome="success",
            people=_named(made.operator), instruments=(),
        )  # fmt: skip
    backs = _BACKS.match(event.detail)
    if backs is None:
        return Telling()
    new = made.read_backs[-int(backs[1]):]
    return Telling(
        detail=f"{made.id}: {plural(int(backs[1]), 'read-back')} added: {made.grade}. {made.because}"
        + (insisted_text(new[-1].insisted) if new else ""),
        sources=tuple(back.path for back in new), outcomes=(), outcome="fail" if made.grade == "failed" else "success",
        people=_named(new[-1].operator) if new else None, instruments=_named(new[-1].reader) if new else None,
    )  # fmt: skip


def _of_agreed(history: History, number: int) -> Telling | str:
    record = history.record(number)
    agreed = record.agreed
    if agreed is None:
        return _no_such("an agreed image")
    found = standing(record)
    return Telling(
        detail=f"{plural(len(record.reads), 'read')} compared: {agreed.grade}. {agreed.because}",
        sources=tuple(read.image_path for read in record.reads),
        outcomes=_named(agreed.image), outcome="warning" if agreed.image is None or found.open else "success",
        instruments=(),
    )  # fmt: skip


def _of_words(history: History, number: int, event: Event) -> Telling | None:
    files = history.at(number)
    if event.detail.startswith("remark added: "):
        notes = files.several(Note, places.NOTES)
        words = one_line(notes[-1].text)[:200] if notes else ""
        author = notes[-1].author if notes else None
        return Telling(
            detail=f"remark added: {words}", begins=True, sources=(), outcomes=(), outcome="success",
            people=_named(author), instruments=(),
        )  # fmt: skip
    told = "; ".join(said_changes(history, number))
    if told:
        place = places.MACHINE if history.is_machine else places.CARRIER
        return _changed(history, number, told, place)
    if (found := _READ.match(event.detail)) and found[1] in places.read_ids(list(files.state)):
        told = said_corrections(history, number, found[1])[0]
        return _changed(history, number, told, places.read_record(found[1]))
    taken_back = files.several(Withdrawal, places.WITHDRAWALS)
    if taken_back and " was taken back; because: " in event.detail:
        what, reason = event.detail.partition(" was ")[0], one_line(taken_back[-1].reason)[:500]
        shown = what if _is_it(history, number, what, taken_back[-1].what) else taken_back[-1].what
        return _changed(history, number, f"{shown} was taken back; because: {reason}", places.WITHDRAWALS)
    return None


def _changed(history: History, number: int, told: str, place: str) -> Telling:
    """Tell of a change after which the evidence was weighed again, which may have moved the grade."""
    return Telling(
        detail=told, then=_moved(history, number), begins=True, sources=(), outcomes=(place,), outcome="success",
        instruments=(),
    )  # fmt: skip


def _moved(history: History, number: int) -> str:
    """Tell how a version moved the grade and the agreed image, as its event does; empty where it did not."""
    if history.is_machine or number < 2:
        return ""
    before, after = history.record(number - 1).agreed, history.record(number).agreed
    if before is None or after is None or before == after:
        return ""
    told = f"; the grade is {after.grade}, it was {before.grade}"
    if after.sha256 != before.sha256:
        told += f"; the agreed image is {after.sha256 or 'none'}, it was {before.sha256 or 'none'}"
    return told


def _is_it(history: History, number: int, said_so: str, what: str) -> bool:
    """Whether people may call by this name what is recorded under another: w1/2, photo-1."""
    files = history.at(number)
    names = {f"photo-{at}": one.path for at, one in enumerate(files.several(Photo, places.PHOTOS), 1)}
    for made in files.several(Replacement, places.REPLACEMENTS):
        names |= {f"{made.id}/{at}": back.path for at, back in enumerate(made.read_backs, 1)}
    return said_so == what or names.get(said_so) == what


def _of_testimony(history: History, number: int, event: Event) -> Telling | None:
    """What is told of explanations and trials, which come with the evidence weighed again."""
    files = history.at(number)
    sources = (places.AGREED_IMAGE,) if places.AGREED_IMAGE in history.state(number - 1) else ()
    trials = {one.id: one for one in files.several(MachineTrial, places.TRIALS)}
    if (found := _TRIED.match(event.detail)) and (one := trials.get(found[1])) is not None:
        others = f" with {', '.join(one.together)}" if one.together else ""
        told = f"{one.id}: {one.what} tried in the machine{others}: {one.outcome}{_moved(history, number)}"
        return Telling(
            detail=told, begins=True, sources=sources, outcomes=(places.TRIALS,), outcome="success",
            people=_named(one.by), instruments=(),
        )  # fmt: skip
    if event.detail.startswith("explained "):
        earlier = history.at(number - 1).several(StatedReason, places.EXPLANATIONS) if number > 1 else ()
        new = [one for one in files.several(StatedReason, places.EXPLANATIONS) if one not in earlier]
        if not new:
            return Telling(detail="", people=())
        told = f"explained {new[0].code} ({', '.join(one.id for one in new)}): {one_line(new[0].reason)[:500]}"
        return Telling(
            detail=told + _moved(history, number), begins=True, sources=sources, outcomes=(places.EXPLANATIONS,),
            outcome="success", people=_named(new[0].by), instruments=(),
        )  # fmt: skip
    return None


def said_corrections(history: History, number: int, name: str) -> tuple[str, list[str]]:
    """Tell how a version corrected a read, as its event does; and name what differs and cannot be corrected."""
    before, after = history.at(number - 1).read(name) if number > 1 else None, history.at(number).read(name)
    told: list[str] = []
    rest: list[str] = []
    for one in fields(Read) if before is not None else ():
        old, new = getattr(before, one.name), getattr(after, one.name)
        if old == new:
            continue
        if one.name in _CORRECTABLE:
            told.append(f"{one.name}: {said(old)} became {said(new)}")
        elif one.name != "insisted":
            rest.append(one.name)
    return f"{name}: {'; '.join(told)}", rest


def said_changes(history: History, number: int) -> list[str]:
    """Tell in what the record of the carrier or machine itself differs from the version before, as its event does."""
    before, after = history.at(number - 1).own() if number > 1 else None, history.at(number).own()
    if before is None or after is None:
        return []
    known: Sequence[str] = CARRIER_TEXTS if isinstance(after, Carrier) else MACHINE_TEXTS
    return [
        f"{name.replace('_', ' ')}: {said(getattr(before, name))} became {said(getattr(after, name))}"
        for name in known
        if getattr(before, name) != getattr(after, name)
    ]


def said(text: object) -> str:
    """Quote a value as events do."""
    return "nothing" if text is None else repr(one_line(str(text))[:120])


def _named(name: str | None) -> tuple[str, ...]:
    return () if name is None else (name,)
