"""Describe carriers and machines: remarks, pictures, corrections, and what machine it all belongs to."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal

from imagekeeper import files
from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.index.sqlite.base import CarrierRow, Index
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.jobs.carriers.belonging import MachineNames, settled_name
from imagekeeper.jobs.carriers.conditions import insisted_text, odd_names
from imagekeeper.jobs.carriers.keeping import TEXTS
from imagekeeper.jobs.carriers.resettling import examined_anew, resettled
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line, printable
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.facts import Decide, OddFact, odd_date_code, refuse, settle
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.provenance.kinds import check_kind
from imagekeeper.provenance.machines import Machine, MachineRecord
from imagekeeper.provenance.pictures import media_type
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.vouching import vouched

#: The members of a carrier that may be corrected, and of a machine.
CARRIER_TEXTS = ("kind", *TEXTS)
MACHINE_TEXTS = ("name", "maker", "model", "serial", "owner", "note")

#: No photograph of a chip is larger. [byte]
PHOTO_LIMIT = 64 << 20


@dataclass(frozen=True, kw_only=True)
class MachineLine:
    """One machine in a list.

    Attributes:
        id: Its id.
        name: What it is called, or null where its record cannot be read.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        carriers: How many carriers belong to it, without those that were taken out of the collection.
        taken_out: Why it was taken out of the collection, or null where it is in it.
    """

    id: str
    name: str | None
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    carriers: int
    taken_out: str | None = None


@dataclass(frozen=True)
class MachineList:
    """The machines of an archive.

    Attributes:
        machines: Those with a record of their own.
        only_named: Names of machines that carriers give, and that have no record.
        taken_out: How many more would be listed, had they not been taken out of the collection.
        set_aside: Machines and carriers whose record cannot be read, and why; what these carriers name is not known.
    """

    SCHEMA: ClassVar[Literal["machine-list/1"]] = "machine-list/1"

    machines: tuple[MachineLine, ...]
    only_named: tuple[str, ...]
    taken_out: int = 0
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.set_aside else 0


class _Changes:
    """What is to be written in one version of an object, and the event that tells of it."""

    def __init__(self, archive: ArchiveStore, inventory: Inventory) -> None:
        self.archive = archive
        self.inventory = inventory
        self.files: dict[str, Source | None] = {}

    def items(self, path: str) -> list[Any]:
        """Read a file that holds a list of records, to which one will be added."""
        if path not in self.inventory.state:
            return []
        held = read_json(self.archive.read_file(self.inventory.id, path, self.inventory), path)
        return held if isinstance(held, list) else [held]


@contextmanager
def _changing(
    archive: ArchiveStore, object_id: str, session: Session, message: str
) -> Iterator[tuple[_Changes, Callable[..., None]]]:
    """Change an object behind the lock: the block fills in files and tells of it once; then all of it is written."""
    archive.inventory(object_id)   # what is not there is told before the lock is waited for
    with archive.lock():
        record_of(archive, object_id)   # what could not be shown afterwards is not changed
        inventory = archive.inventory(object_id)
        changes = _Changes(archive, inventory)
        now = session.now()

        def tell(kind: str, detail: str, outcomes: Sequence[str] = ()) -> None:
            held = archive.read_file(object_id, places.EVENTS, inventory) if places.EVENTS in inventory.state else b""
            event = next_event(last_digest(held), session, now, kind, detail, outcomes=outcomes)
            changes.files[places.EVENTS] = append_events(held, vouched([event], changes.files))

        yield changes, tell
        if changes.files:
            archive.commit(
                object_id, changes.files, message=message, user=user(session), now=now, expected_head=inventory.head
            )


def record_of(archive: ArchiveStore, object_id: str) -> CarrierRecord | MachineRecord:
    """Give the record of a carrier or a machine, whichever goes by this id.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged`.
    """
    inventory = archive.inventory(object_id)
    if places.MACHINE in inventory.state:
        return load_machine(archive, object_id, inventory)
    return load_record(archive, object_id, inventory)


def add_note(
    archive: ArchiveStore, object_id: str, text: str, session: Session, *, decide: Decide = refuse
) -> CarrierRecord | MachineRecord:
    """Add a remark to a carrier or a machine; remarks are never changed.

    Raises:
        UsageError: `usage` for a remark without words; `odd-facts` for a writer whose name may be a slip of one that is
            known, where `decide` does not insist on it.
        NotFoundError: `carrier-missing`.
    """
    words = printable(text).strip()
    if not words:
        raise UsageError("usage/empty-remark")
    archive.inventory(object_id)
    settled = settle(list(odd_names(archive, None, {"operator": session.operator})), decide)
    session = replace(session, operator=settled.names.get("operator", session.operator))
    with _changing(archive, object_id, session, "remark added") as (changes, tell):
        note = Note(words, session.operator, session.now())
        changes.files[places.NOTES] = write_json([*changes.items(places.NOTES), note])
        tell("metadata modification", f"remark added: {one_line(words)[:200]}{insisted_text(settled.insisted)}")
    return record_of(archive, object_id)


def add_photo(
    archive: ArchiveStore, object_id: str, path: str, caption: str | None, session: Session
) -> CarrierRecord | MachineRecord:
    """Keep a picture of a carrier or a machine: the file as it is.

    Raises:
        InputError: `picture-unknown`; `too-large`; the file cannot be read.
        NotFoundError: `carrier-missing`, `not-found`.
    """
    name = files.display_name(path)
    with files.opened(path) as (file, _):
        data = files.read_limited(file, PHOTO_LIMIT, name)
    if media_type(data) is None:
        raise InputError("picture-unknown", where=Where(file=name))
    digest = sha256_hex(data)
    with _changing(archive, object_id, session, "picture kept") as (changes, tell):
        held = changes.items(places.PHOTOS)
        if any(isinstance(one, dict) and one.get("sha256") == digest for one in held):
            raise UsageError("exists/picture", digest=digest, where=Where(file=name))
        place = places.photo(len(held) + 1, path)
        photo = Photo(
            path=place, file=one_line(os.path.basename(files.display_name(path))), sha256=digest, caption=caption,
            added=session.now(),
        )  # fmt: skip
        changes.files[place] = data
        changes.files[places.PHOTOS] = write_json([*held, photo])
        tell("ingestion", f"picture {photo.file} was kept as it is", outcomes=[place])
    return record_of(archive, object_id)


def edit_carrier(
    archive: ArchiveStore, carrier_id: str, texts: Mapping[str, str | None], session: Session, *,
    decide: Decide = refuse,
) -> CarrierRecord:  # fmt: skip
    """Correct what is said of a carrier; what was said before stays in the earlier version and in the event.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        texts: New values by member of `CARRIER_TEXTS`; None takes a value away.
        session: Who works.
        decide: Decides about a machine that may be a slip of one that is known, and a date code that cannot be.

    Raises:
        NotFoundError: `carrier-missing`.
        UsageError: `unknown-name` for a member or kind that is not; `usage` where nothing is given; `odd-facts` for
            what is not insisted upon.
    """
    record = load_record(archive, carrier_id)   # a machine under this id is told as such
    machine, date_code = texts.get("machine"), texts.get("date_code")
    odd: list[OddFact] = []
    if machine and machine != record.machine:
        odd += MachineNames(archive).odd_of_carrier(machine)
    if date_code and date_code != record.date_code:
        odd += odd_date_code(date_code, session.now(), {read.id: read.date for read in record.reads})
    settled = settle(odd, decide)
    return correct_carrier(archive, carrier_id, {**texts, **settled.names}, session, insisted=settled.insisted)


def correct_carrier(
    archive: ArchiveStore, carrier_id: str, texts: Mapping[str, str | None], session: Session, *,
    insisted: Sequence[str] = (),
) -> CarrierRecord:  # fmt: skip
    """Correct what is said of a carrier, where everything odd about it is settled; see `edit_carrier`.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        texts: New values.
        session: Who works.
        insisted: What was insisted upon; the event tells it.
    """
    if "kind" in texts:
        check_kind(texts["kind"] or "")
    _edit(archive, carrier_id, places.CARRIER, Carrier, CARRIER_TEXTS, texts, session, insisted)
    return load_record(archive, carrier_id)


def edit_machine(
    archive: ArchiveStore, machine_id: str, texts: Mapping[str, str | None], session: Session, *,
    decide: Decide = refuse,
) -> MachineRecord:  # fmt: skip
    """Correct what is said of a machine; its carriers name it by name or id, so a new name must suit them.

    Raises:
        NotFoundError: `machine-missing`.
        UsageError: `unknown-name` for a member that is not; `usage` where nothing is given, or the name is taken away;
            `odd-facts` for the name of another machine, or nearly, where `decide` does not insist on it.
    """
    before = load_machine(archive, machine_id)
    name = texts.get("name")
    insisted: tuple[str, ...] = ()
    if "name" in texts and not (name or "").strip():
        raise UsageError("usage/machine-without-name")
    if name and name != before.name:
        name, insisted = settled_name(archive, name, decide, own=machine_id)
        texts = {**texts, "name": name}
    _edit(archive, machine_id, places.MACHINE, Machine, MACHINE_TEXTS, texts, session, insisted)
    return load_machine(archive, machine_id)


def _edit(
    archive: ArchiveStore, object_id: str, place: str, cls: type[Carrier] | type[Machine], known: Sequence[str],
    texts: Mapping[str, str | None], session: Session, insisted: Sequence[str],
) -> None:  # fmt: skip
    odd = [name for name in texts if name not in known]
    if odd:
        raise UsageError("unknown-name/text", name=odd[0], known=known)
    if not texts:
        raise UsageError("usage/nothing-to-change")
    with _changing(archive, object_id, session, "description corrected") as (changes, tell):
        raw = archive.read_file(object_id, place, changes.inventory)
        before = from_json(cls, read_json(raw, place), place)
        corrected: dict[str, Any] = {name: printable(text) if text else None for name, text in texts.items()}
        after = replace(before, **corrected)
        told = [
            f"{name.replace('_', ' ')}: {_said(getattr(before, name))} became {_said(getattr(after, name))}"
            for name in known
            if getattr(before, name) != getattr(after, name)
        ]
        if told:
            changes.files[place] = write_json(after)
            said = _weighed_again(changes, before, after)
            tell("metadata modification", "; ".join([*told, *said]) + insisted_text(insisted), outcomes=[place])


def _weighed_again(changes: _Changes, before: Any, after: Any) -> list[str]:
    """Look at the images anew where another part is named, and settle again what rested on what was said."""
    if not isinstance(after, Carrier) or not isinstance(before, Carrier):
        return []
    archive, inventory = changes.archive, changes.inventory
    told = {name: getattr(after, name) for name in CARRIER_TEXTS}
    record = replace(load_record(archive, after.id, inventory), **told)
    if (before.part, before.kind) != (after.part, after.kind):
        examinations = examined_anew(archive, inventory, record)
        if examinations != record.examinations:
            changes.files[places.EXAMINATIONS] = write_json(list(examinations))
            record = replace(record, examinations=examinations)
    found = resettled(archive, inventory, record)
    changes.files |= found.changes
    return [found.said] if found.said else []


def _said(text: str | None) -> str:
    return "nothing" if text is None else repr(one_line(text)[:120])


def add_machine(
    archive: ArchiveStore, machine_id: str, name: str, session: Session, *, decide: Decide = refuse,
    maker: str | None = None, model: str | None = None, serial: str | None = None, owner: str | None = None,
    note: str | None = None,
) -> MachineRecord:  # fmt: skip
    """Begin the record of a machine, to which carriers belong that name it by its name or its id.

    Raises:
        UsageError: `carrier-id`, `carrier-exists`; `usage` without a name; `odd-facts` for the name of another machine,
            or nearly, where `decide` does not insist on it.
    """
    check_carrier_id(machine_id)
    if not name.strip():
        raise UsageError("usage/machine-without-name")
    name, insisted = settled_name(archive, name, decide, own=machine_id)
    now = session.now()
    machine = Machine(
        id=machine_id, uuid=session.new_uuid(), name=printable(name), maker=maker, model=model, serial=serial,
        owner=owner, note=note, created=now,
    )  # fmt: skip
    event = next_event(
        None, session, now, "accession", f"{machine_id} was taken into the archive{insisted_text(insisted)}",
        outcomes=[f"urn:uuid:{machine.uuid}"],
    )  # fmt: skip
    changes: dict[str, Source | None] = {places.MACHINE: write_json(machine)}
    changes[places.EVENTS] = append_events(b"", vouched([event], changes))
    archive.commit(machine_id, changes, message="machine added", user=user(session), now=now, expected_head=0)
    return show_machine(archive, machine_id)


def belongs(row_machine: str | None, machine_id: str, name: str) -> bool:
    """Whether a carrier that names this machine belongs to the one with this id and name; capitals do not matter.

    Example:
        >>> belongs("quillmere tg-85", "tg85", "Quillmere TG-85"), belongs(None, "tg85", "Quillmere TG-85")
        (True, False)
    """
    return row_machine is not None and row_machine.strip().casefold() in (machine_id.casefold(), name.casefold())


def show_machine(archive: ArchiveStore, machine_id: str, *, all_: bool = False) -> MachineRecord:
    """Give everything about a machine, with the ids of its carriers.

    Args:
        archive: The archive.
        machine_id: The machine.
        all_: Name those carriers as well that were taken out of the collection.

    Raises:
        NotFoundError: `machine-missing`.
        ArchiveError: `archive-damaged`.
    """
    machine = load_machine(archive, machine_id)
    with Index(archive) as index:
        rows = index.rows()
    own = [row for row in rows if belongs(row.machine, machine.id, machine.name)]
    shown = tuple(row.id for row in own if all_ or row.taken_out is None)
    return replace(machine, carriers=shown, carriers_left_out=len(own) - len(shown))


def list_machines(archive: ArchiveStore, *, all_: bool = False) -> MachineList:
    """List the machines, and what carriers name without there being a record of it.

    Args:
        archive: The archive.
        all_: List those as well that were taken out of the collection.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    with Index(archive) as index:
        rows = index.rows()
        found = index.machines()
        unread = index.unread()
    lines = []
    for machine in found:
        own = sum(
            row.taken_out is None and belongs(row.machine, machine.id, machine.name or "") for row in rows
        )
        lines.append(
            MachineLine(
                id=machine.id, name=machine.name, maker=machine.maker, model=machine.model, serial=machine.serial,
                owner=machine.owner, carriers=own, taken_out=machine.taken_out,
            )
        )
    named = {row.machine for row in rows if row.machine and not _recorded(row, lines)}
    shown = tuple(line for line in lines if all_ or line.taken_out is None)
    return MachineList(shown, tuple(sorted(named)), len(lines) - len(shown), unread)


def _recorded(row: CarrierRow, lines: Sequence[MachineLine]) -> bool:
    return any(belongs(row.machine, line.id, line.name or "") for line in lines)
