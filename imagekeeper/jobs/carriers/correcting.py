"""Correct what was said of a read, and take back what should not have been kept: nothing is lost by either.

The old value stays in the earlier version and in the event that tells of the change; what was taken back stays as it
is, and is no evidence any more. What rested on it is weighed again in the same step.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Any

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.evidence.replacements import regraded
from imagekeeper.jobs.bench.equipping import qualification_of
from imagekeeper.jobs.carriers.conditions import Conditions, insisted_text, odd_conditions
from imagekeeper.jobs.carriers.deaccessioning import taken_in_again
from imagekeeper.jobs.carriers.resettling import resettled
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line, printable
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.facts import Decide, refuse, settle
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.reads import check_retries, check_temperature, check_vcc
from imagekeeper.provenance.records import CarrierRecord, without_withdrawn
from imagekeeper.provenance.replacements import ReadBack, Replacement
from imagekeeper.provenance.testimony import Withdrawal
from imagekeeper.provenance.vouching import vouched

#: What may be corrected of a read, with the check of its form.
READ_TEXTS: dict[str, Callable[[str], str]] = {
    "reader": printable, "operator": printable, "date": check_date, "vcc": check_vcc, "specimen": printable,
    "temperature": check_temperature, "adapter": printable, "cable": printable, "drive": printable,
    "controller": printable, "retries": check_retries,
}  # fmt: skip


def correct_read(
    archive: ArchiveStore, carrier_id: str, read_id: str, texts: Mapping[str, str], reason: str, session: Session, *,
    decide: Decide = refuse,
) -> CarrierRecord:  # fmt: skip
    """Correct what was said of a read.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        read_id: The read.
        texts: New values by member of `READ_TEXTS`; an empty one takes a value away.
        reason: Why.
        session: Who works.
        decide: Decides about what cannot be, or looks like a slip.

    Raises:
        NotFoundError: `carrier-missing`; `not-found` for a read that is not there.
        UsageError: `usage` for a reason without words, a date or voltage that cannot be understood, or nothing to
            change; `unknown-name` for a member that is not; `odd-facts` for what is not insisted upon.
    """
    words = check_reason(reason)
    odd = [name for name in texts if name not in READ_TEXTS]
    if odd:
        raise UsageError("unknown-name/text", name=odd[0], known=list(READ_TEXTS))
    given: dict[str, Any] = {name: READ_TEXTS[name](text) if text.strip() else None for name, text in texts.items()}
    held = load_record(archive, carrier_id)
    others = replace(held, reads=tuple(read for read in held.reads if read.id != read_id))
    settled = settle(list(odd_conditions(
        archive, others, Conditions(**given), session.now(), part=held.part, date_code=held.date_code
    )), decide)   # before the lock: whoever is asked may take their time
    given |= settled.names
    if "reader" in given:   # that another one had been shown to work says nothing of this
        given["qualified"] = qualification_of(archive, given["reader"])
    with archive.lock():
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        backs = {name: one for made in record.replacements for name, one in _read_backs(made, set()).items()}
        if read_id in backs:
            return _correct_back(
                archive, inventory, record, read_id, backs[read_id], given, words, settled.insisted, session
            )
        before = next((read for read in record.reads if read.id == read_id), None)
        if before is None:
            known = [*(read.id for read in record.reads), *backs] or ["none"]
            raise NotFoundError("not-found/read", id=carrier_id, read=read_id, known=known)
        insisted = (*(name for name in before.insisted if name not in given), *settled.insisted)
        after = replace(before, **given, insisted=insisted)
        told = _told(before, given)
        if not told and insisted == before.insisted:
            raise UsageError("usage/nothing-to-change")
        reads = tuple(after if read.id == read_id else read for read in record.reads)
        changes: dict[str, Source | None] = {places.read_record(read_id): write_json(after)}
        detail = f"{read_id}: {'; '.join(told)}{insisted_text(settled.insisted)}; because: {one_line(words)[:500]}"
        _commit(
            archive, replace(record, reads=reads), inventory, changes, detail, places.read_record(read_id), session
        )
    return load_record(archive, carrier_id)


def _told(before: Any, given: Mapping[str, Any]) -> list[str]:
    """Say what changes, in the order in which a record has it, however it was given."""
    return [
        f"{one.name}: {_said(getattr(before, one.name))} became {_said(given[one.name])}"
        for one in fields(before)
        if one.name in given and getattr(before, one.name) != given[one.name]
    ]


def _correct_back(
    archive: ArchiveStore, inventory: Inventory, record: CarrierRecord, name: str, path: str, given: Mapping[str, Any],
    words: str, insisted: tuple[str, ...], session: Session,
) -> CarrierRecord:  # fmt: skip
    """Correct what was said of a read-back."""
    odd = [member for member in given if member not in {field.name for field in fields(ReadBack)}]
    if odd:
        raise UsageError("unknown-name/text", name=odd[0], known=[one for one in READ_TEXTS if one not in odd])
    before = next(back for made in record.replacements for back in made.read_backs if back.path == path)
    told = _told(before, given)
    if not told:
        raise UsageError("usage/nothing-to-change")
    kept = (*(member for member in before.insisted if member not in given), *insisted)
    after = _with_back(record, path, {**given, "insisted": kept})
    detail = f"{name}: {'; '.join(told)}{insisted_text(insisted)}; because: {one_line(words)[:500]}"
    changes: dict[str, Source | None] = {places.REPLACEMENTS: write_json(list(after.replacements))}
    _commit(archive, after, inventory, changes, detail, places.REPLACEMENTS, session)
    return load_record(archive, record.id)


def _with_back(record: CarrierRecord, path: str, changed: Mapping[str, Any]) -> CarrierRecord:
    """Change one read-back, and grade its replacement again."""
    return replace(
        record,
        replacements=tuple(
            regraded(
                replace(
                    made,
                    read_backs=tuple(replace(b, **changed) if b.path == path else b for b in made.read_backs),
                ),
                record.kind,
            )
            for made in record.replacements
        ),
    )


def withdraw(archive: ArchiveStore, carrier_id: str, what: str, reason: str, session: Session) -> CarrierRecord:
    """Take back what should not have been kept of a carrier: its file stays, and is no evidence any more.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        what: A read (r2), an explanation (e1), a trial (t1), a read-back (w1/2), a deaccession (x1), or a picture (by
            its path or number: photo-1).
        reason: Why.
        session: Who works.

    Raises:
        NotFoundError: `carrier-missing`; `not-found` for what is not there.
        UsageError: `usage` for a reason without words, or for what remains of an erased carrier.
    """
    words = check_reason(reason)
    archive.inventory(carrier_id)
    with archive.lock():
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        known = _known(record)
        name = known.get(what)
        if name is None:
            raise NotFoundError("not-found/to-withdraw", id=carrier_id, what=what, known=list(known) or ["nothing"])
        now = session.now()
        new = Withdrawal(what=name, reason=words, by=session.operator, added=now)
        withdrawals = (*record.withdrawals, new)
        after = without_withdrawn(replace(record, withdrawals=withdrawals))
        changes: dict[str, Source | None] = {places.WITHDRAWALS: write_json(list(withdrawals))}
        if "/back-" in name:
            after = _with_back(after, name, {"taken_back": True})
            changes[places.REPLACEMENTS] = write_json(list(after.replacements))
        if any(name == one.id for one in record.deaccessions):
            if record.erased is not None:
                raise UsageError("usage/erased-stays-out", id=carrier_id, of=record.erased.of)
            detail, kind = taken_in_again(carrier_id, new), "accession"
        else:
            detail, kind = f"{what} was taken back; because: {one_line(words)[:500]}", "metadata modification"
        _commit(archive, after, inventory, changes, detail, places.WITHDRAWALS, session, kind)
    return load_record(archive, carrier_id)


def _known(record: CarrierRecord) -> dict[str, str]:
    """Give what can be taken back: as people call it, and as the record does."""
    ids = [one.id for one in record.reads] + [one.id for one in record.explanations]
    ids += [one.id for one in record.trials] + [one.id for one in record.deaccessions]
    known = {name: name for name in ids}
    for number, photo in enumerate(record.photos, 1):
        known |= {f"photo-{number}": photo.path, photo.path: photo.path}
    for made in record.replacements:
        known |= _read_backs(made, {one.what for one in record.withdrawals})
    return known


def _read_backs(made: Replacement, back: set[str]) -> dict[str, str]:
    return {
        f"{made.id}/{number}": one.path
        for number, one in enumerate(made.read_backs, 1)
        if one.path not in back
    }


def _said(text: str | None) -> str:
    return "nothing" if text is None else repr(one_line(text)[:120])


def _commit(
    archive: ArchiveStore, after: CarrierRecord, inventory: Inventory, changes: dict[str, Source | None], detail: str,
    place: str, session: Session, kind: str = "metadata modification",
) -> None:  # fmt: skip
    found = resettled(archive, inventory, after)
    now = session.now()
    events = archive.read_file(after.id, places.EVENTS, inventory)
    event = next_event(
        last_digest(events), session, now, kind, detail + (f"; {found.said}" if found.said else ""), outcomes=[place],
    )  # fmt: skip
    changes |= found.changes
    changes[places.EVENTS] = append_events(events, vouched([event], changes))
    archive.commit(
        after.id, changes, message=one_line(detail)[:500], user=user(session), now=now, expected_head=inventory.head
    )
