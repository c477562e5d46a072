"""Record what people know of a carrier's image: why a contradiction is none, and how it did in the machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError
from imagekeeper.jobs.carriers.resettling import resettled
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line, printable
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.facts import Decide, odd_date, refuse, settle
from imagekeeper.provenance.fields import read_json, write_json
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.testimony import MachineTrial, StatedReason, TrialOutcome
from imagekeeper.provenance.vouching import vouched


def explain(archive: ArchiveStore, carrier_id: str, code: str, reason: str, session: Session) -> CarrierRecord:
    """Explain why something that speaks against a carrier's image does not.

    The explanation stays beside the grade, and holds as long as what was explained stays the same.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        code: The code of the contradiction; all open ones of that code are explained.
        reason: Why it is none.
        session: Who works.

    Raises:
        UsageError: `usage` for a reason without words.
        NotFoundError: `carrier-missing`; `not-found` where nothing of that code is open.
    """
    words = check_reason(reason)
    archive.inventory(carrier_id)
    with archive.lock():
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        held = [one for one in (record.standing.open if record.standing else ()) if one.code == code]
        if not held:
            raise _nothing_to_explain(record, code)
        now = session.now()
        count = _count(archive, carrier_id, places.EXPLANATIONS, inventory)
        said = tuple(
            StatedReason(
                id=f"e{count + n}", code=one.code, basis=one.basis, why=one.why, reason=words, by=session.operator,
                added=now,
            )
            for n, one in enumerate(held, 1)
        )  # fmt: skip
        after = replace(record, explanations=(*record.explanations, *said))
        told = f"explained {code} ({', '.join(one.id for one in said)}): {one_line(words)[:500]}"
        _write(archive, after, inventory, places.EXPLANATIONS, said, told, session, now)
    return load_record(archive, carrier_id)


def _nothing_to_explain(record: CarrierRecord, code: str) -> NotFoundError:
    """Say why nothing of that code can be explained: it was already, or is not open."""
    standing = record.standing
    said = next((one.explained for one in standing.explained if one.code == code), None) if standing else None
    if said is not None:
        return NotFoundError(
            "not-found/contradiction-explained", id=record.id, code=code, explanation=said.id, reason=said.reason
        )
    known = list(dict.fromkeys(one.code for one in standing.open)) if standing else []
    if not known:
        return NotFoundError("not-found/nothing-open", id=record.id, code=code)
    return NotFoundError("not-found/contradiction", id=record.id, code=code, known=known)


def add_trial(
    archive: ArchiveStore, carrier_id: str, outcome: TrialOutcome, session: Session, *, what: str = "original",
    together: Sequence[str] = (), machine: str | None = None, date: str | None = None, note: str | None = None,
    decide: Decide = refuse,
) -> CarrierRecord:  # fmt: skip
    """Record how a carrier's image did in the machine: in the original, or in a replacement.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        outcome: `started`; `passed` where the machine tested it itself and found it good; `failed`.
        session: Who works.
        what: What was in the socket or drive: `original`, or the id of a replacement.
        together: Ids of the other carriers that were in the machine.
        machine: The machine; that of the record where it is not said.
        date: When; a time, a day, a month or a year.
        note: A remark, such as the message on the screen.
        decide: Decides about a date that cannot be.

    Raises:
        NotFoundError: `carrier-missing`; `not-found` for a replacement that is not there, or without an image.
        UsageError: `usage` for a date that cannot be understood; `odd-facts` for one that is not insisted upon.
    """
    day = None if date is None else check_date(date)
    if day is not None:
        settle(list(odd_date(day, session.now())), decide)
    archive.inventory(carrier_id)
    for other in together:
        archive.inventory(other)
    with archive.lock():
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        sha256 = record.standing.sha256 if record.standing else None
        if what != "original":
            made = next((one for one in record.replacements if one.id == what), None)
            if made is None:
                known = ", ".join(one.id for one in record.replacements) or "none"
                raise NotFoundError("not-found/replacement", id=carrier_id, replacement=what, known=known)
            sha256 = made.sha256
        if sha256 is None:
            raise NotFoundError("not-found/nothing-to-try", id=carrier_id)
        now = session.now()
        trial = MachineTrial(
            id=f"t{_count(archive, carrier_id, places.TRIALS, inventory) + 1}", what=what, sha256=sha256,
            outcome=outcome, together=tuple(together), machine=machine or record.machine, date=day,
            by=session.operator, note=printable(note) if note else None, added=now,
        )  # fmt: skip
        after = replace(record, trials=(*record.trials, trial))
        with_what = f" with {', '.join(together)}" if together else ""
        told = f"{trial.id}: {what} tried in the machine{with_what}: {outcome}"
        _write(archive, after, inventory, places.TRIALS, (trial,), told, session, now)
    return load_record(archive, carrier_id)


def _count(archive: ArchiveStore, carrier_id: str, place: str, inventory: Any) -> int:
    """Tell how many there were ever: those that were taken back keep their numbers."""
    return len(_held(archive, carrier_id, place, inventory))


def _held(archive: ArchiveStore, carrier_id: str, place: str, inventory: Any) -> list[Any]:
    if place not in inventory.state:
        return []
    held = read_json(archive.read_file(carrier_id, place, inventory), place)
    return held if isinstance(held, list) else [held]


def _write(
    archive: ArchiveStore, after: CarrierRecord, inventory: Any, place: str, new: Sequence[Any], told: str,
    session: Session, now: str,
) -> None:  # fmt: skip
    found = resettled(archive, inventory, after)
    events = archive.read_file(after.id, places.EVENTS, inventory)
    event = next_event(
        last_digest(events), session, now, "validation", told + (f"; {found.said}" if found.said else ""),
        sources=[places.AGREED_IMAGE] if places.AGREED_IMAGE in inventory.state else [], outcomes=[place],
    )  # fmt: skip
    changes: dict[str, Source | None] = {
        place: write_json([*_held(archive, after.id, place, inventory), *new]), **found.changes,
    }  # fmt: skip
    changes[places.EVENTS] = append_events(events, vouched([event], changes))
    archive.commit(
        after.id, changes, message=one_line(told)[:500], user=user(session), now=now, expected_head=inventory.head
    )
