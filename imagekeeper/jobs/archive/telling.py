"""What the events of a carrier tell, worked out from its records: by it the events are held, and the records by them.

Each function gives what an event of one kind says when the records are as they are. Only events of this very version
of the program are held word by word, for other versions may have said the same in other words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.archive.history import AtVersion, History
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, MACHINE_TEXTS
from imagekeeper.jobs.carriers.keeping import read_events_say
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import Event, Outcome
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.units import plural

_READ = re.compile(r"(r[1-9][0-9]{0,8}): ")
_MADE = re.compile(r"(d[1-9][0-9]{0,8}) was made from ")
_NEW = re.compile(r"(w[1-9][0-9]{0,8}): ")
_BACKS = re.compile(r"w[1-9][0-9]{0,8}: ([0-9]{1,6}) read-backs? added: ")
_COMPARED = re.compile(r"[0-9]{1,9} reads? compared: ")


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What an event should say; None for what its records do not tell.

    Attributes:
        detail: Its words.
        begins: Whether more words may follow.
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
    if event.type == "accession":
        own = files.own()
        return None if own is None else Telling(
            detail=f"{own.id} was taken into the archive", sources=(), outcomes=(f"urn:uuid:{own.uuid}",),
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
            detail=f"{made.id}: written to {made.part or 'a replacement'}, {made.placed}",
            sources=(f"sha256:{made.sha256}",), outcomes=_named(made.written), outcome="success",
            people=_named(made.operator), instruments=(),
        )  # fmt: skip
    backs = _BACKS.match(event.detail)
    if backs is None:
        return Telling()
    new = made.read_backs[-int(backs[1]):]
    return Telling(
        detail=f"{made.id}: {plural(int(backs[1]), 'read-back')} added: {made.grade}. {made.because}",
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
        said = one_line(notes[-1].text)[:200] if notes else ""
        author = notes[-1].author if notes else None
        return Telling(
            detail=f"remark added: {said}", sources=(), outcomes=(), outcome="success", people=_named(author),
            instruments=(),
        )  # fmt: skip
    if told := "; ".join(said_changes(history, number)):
        return Telling(detail=told, begins=True, sources=(), outcome="success", instruments=())
    return None


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
