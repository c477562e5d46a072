"""Take a carrier or machine out of the collection, and in again: its record, its files and the reason stay."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jobs.carriers.describing import show_machine
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import read_json, write_json
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.testimony import Deaccession, Withdrawal
from imagekeeper.provenance.vouching import vouched


def deaccession_carrier(archive: ArchiveStore, carrier_id: str, reason: str, session: Session) -> CarrierRecord:
    """Take a carrier out of the collection: lists and pages set it apart from then on, and nothing of it is lost.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        reason: Why.
        session: Who works.

    Raises:
        NotFoundError: `carrier-missing`.
        UsageError: `usage` for a reason without words, or a carrier that was taken out already.
    """
    words = check_reason(reason)
    load_record(archive, carrier_id)   # a machine under this id is told as such
    with archive.lock():
        inventory = archive.inventory(carrier_id)
        _take_out(archive, load_record(archive, carrier_id, inventory), inventory, words, session)
    return load_record(archive, carrier_id)


def deaccession_machine(archive: ArchiveStore, machine_id: str, reason: str, session: Session) -> MachineRecord:
    """Take a machine out of the collection; its carriers stay in it, for each is a thing of its own.

    Raises:
        NotFoundError: `machine-missing`.
        UsageError: `usage` for a reason without words, or a machine that was taken out already.
    """
    words = check_reason(reason)
    load_machine(archive, machine_id)
    with archive.lock():
        inventory = archive.inventory(machine_id)
        _take_out(archive, load_machine(archive, machine_id, inventory), inventory, words, session)
    return show_machine(archive, machine_id)


def withdraw_of_machine(
    archive: ArchiveStore, machine_id: str, what: str, reason: str, session: Session
) -> MachineRecord:
    """Take back that a machine was taken out of the collection.

    Args:
        archive: The archive.
        machine_id: The machine.
        what: The deaccession, such as x1.
        reason: Why.
        session: Who works.

    Raises:
        NotFoundError: `machine-missing`; `not-found` for what is not there.
        UsageError: `usage` for a reason without words.
    """
    words = check_reason(reason)
    load_machine(archive, machine_id)
    with archive.lock():
        inventory = archive.inventory(machine_id)
        record = load_machine(archive, machine_id, inventory)
        known = [one.id for one in record.deaccessions]
        if what not in known:
            raise NotFoundError("not-found/to-withdraw", id=machine_id, what=what, known=known or ["nothing"])
        new = Withdrawal(what=what, reason=words, by=session.operator, added=session.now())
        told = taken_in_again(machine_id, new)
        _write(archive, inventory, places.WITHDRAWALS, [*record.withdrawals, new], "accession", told, session)
    return show_machine(archive, machine_id)


def taken_out(object_id: str, gone: Deaccession) -> str:
    """Say in an event that something is not in the collection any more."""
    return f"{object_id} was taken out of the collection ({gone.id}); because: {one_line(gone.reason)[:500]}"


def taken_in_again(object_id: str, back: Withdrawal) -> str:
    """Say in an event that something is in the collection again."""
    why = one_line(back.reason)[:500]
    return f"{object_id} was taken into the collection again: {back.what} was taken back; because: {why}"


def _take_out(
    archive: ArchiveStore, record: CarrierRecord | MachineRecord, inventory: Inventory, words: str, session: Session
) -> None:
    if record.deaccessions:
        known = record.deaccessions[-1]
        raise UsageError("usage/taken-out-already", id=record.id, what=known.id, day=known.added, reason=known.reason)
    held: list[Any] = []   # those that were taken back keep their numbers
    if places.DEACCESSIONS in inventory.state:
        kept = read_json(archive.read_file(record.id, places.DEACCESSIONS, inventory), places.DEACCESSIONS)
        held = kept if isinstance(kept, list) else [kept]
    new = Deaccession(id=f"x{len(held) + 1}", reason=words, by=session.operator, added=session.now())
    told = taken_out(record.id, new)
    _write(archive, inventory, places.DEACCESSIONS, [*held, new], "deaccession", told, session)


def _write(
    archive: ArchiveStore, inventory: Inventory, place: str, items: Sequence[Any], kind: str, told: str,
    session: Session,
) -> None:  # fmt: skip
    now = session.now()
    held = archive.read_file(inventory.id, places.EVENTS, inventory) if places.EVENTS in inventory.state else b""
    event = next_event(last_digest(held), session, now, kind, told, outcomes=[place])
    changes: dict[str, Source | None] = {place: write_json(items)}
    changes[places.EVENTS] = append_events(held, vouched([event], changes))
    archive.commit(
        inventory.id, changes, message=one_line(told)[:500], user=user(session), now=now, expected_head=inventory.head
    )
