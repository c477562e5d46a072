"""The record of a carrier or of a machine, put together from its files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Protocol, TypeVar

from imagekeeper.errors import ArchiveError, InternalError, NotFoundError, Where
from imagekeeper.evidence.replacements import regraded
from imagekeeper.evidence.standing import standing
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import parse_events
from imagekeeper.provenance.fields import from_json, list_from_json, read_json
from imagekeeper.provenance.machines import Machine, MachineRecord
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier, CarrierRecord, without_withdrawn
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.provenance.testimony import Deaccession, Erased, Examination, MachineTrial, StatedReason, Withdrawal
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder
    from imagekeeper.archive.ocfl.inventory import Inventory

T = TypeVar("T")
N = TypeVar("N", Carrier, Machine, Read)


class RecordFiles(Protocol):
    """The record files of a carrier's newest version."""

    @property
    def state(self) -> Mapping[str, str]:
        """The digest of each, by its logical path."""
        ...

    def data(self, path: str) -> bytes:
        """Give a file's bytes, checked against its digest."""
        ...

    def one(self, cls: type[T], path: str) -> T | None:
        """Read a file that holds one record; None where there is no such file, for those that look first."""
        ...

    def several(self, cls: type[T], path: str) -> Sequence[T]:
        """Read a file that holds a list of records; none where there is no such file."""
        ...


def load_record(archive: ArchiveFolder, carrier_id: str, inventory: Inventory | None = None) -> CarrierRecord:
    """Read everything that the archive knows about a carrier, each file checked against its digest.

    What was taken back is no evidence, and how the evidence stands is derived from the rest.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        inventory: Its inventory where the caller has it already.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged`.
    """
    known = inventory or archive.inventory(carrier_id)
    if places.MACHINE in known.state and places.CARRIER not in known.state:
        raise NotFoundError("carrier-missing/is-a-machine", id=carrier_id)
    files = _Files(archive, carrier_id, known)
    return assembled(files, carrier_id, known.head)


def assembled(
    files: RecordFiles, carrier_id: str | None, head: int, *, in_short: bool = False
) -> CarrierRecord:
    """Put a carrier's record together from its files.

    Args:
        files: They.
        carrier_id: The id that it must have; None for an older version, which may have had another elsewhere.
        head: The number of the newest version.
        in_short: Leave out events and replacements, which no list shows and no verdict rests on.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    carrier = named(files, Carrier, places.CARRIER, carrier_id)
    record = CarrierRecord(
        id=carrier.id,
        kind=carrier.kind,
        machine=carrier.machine,
        board=carrier.board,
        position=carrier.position,
        reads=_reads(files),
        agreed=files.one(Agreed, places.AGREED) if places.AGREED in files.state else None,
        replacements=() if in_short else tuple(
            regraded(one, carrier.kind) for one in files.several(Replacement, places.REPLACEMENTS)
        ),
        events=() if in_short or places.EVENTS not in files.state else parse_events(files.data(places.EVENTS)),
        findings=(),
        uuid=carrier.uuid,
        part=carrier.part,
        label=carrier.label,
        note=carrier.note,
        created=carrier.created,
        notes=tuple(files.several(Note, places.NOTES)),
        photos=tuple(files.several(Photo, places.PHOTOS)),
        version=head,
        markings=carrier.markings,
        date_code=carrier.date_code,
        package=carrier.package,
        condition=carrier.condition,
        derivations=tuple(files.several(Derivation, places.DERIVATIONS)),
        examinations=tuple(files.several(Examination, places.EXAMINATIONS)),
        explanations=tuple(files.several(StatedReason, places.EXPLANATIONS)),
        trials=tuple(files.several(MachineTrial, places.TRIALS)),
        withdrawals=tuple(files.several(Withdrawal, places.WITHDRAWALS)),
        deaccessions=tuple(files.several(Deaccession, places.DEACCESSIONS)),
        erased=files.one(Erased, places.ERASED) if places.ERASED in files.state else None,
    )
    record = without_withdrawn(record)
    return replace(record, standing=standing(record))


def load_machine(archive: ArchiveFolder, machine_id: str, inventory: Inventory | None = None) -> MachineRecord:
    """Read everything that the archive knows about a machine, but for its carriers.

    Raises:
        NotFoundError: `machine-missing`.
        ArchiveError: `archive-damaged`.
    """
    known = inventory or (archive.inventory(machine_id) if archive.has(machine_id) else None)
    if known is None or places.MACHINE not in known.state:
        raise NotFoundError("machine-missing/no-record", id=machine_id)
    return assembled_machine(_Files(archive, machine_id, known), machine_id, known.head)


def assembled_machine(files: RecordFiles, machine_id: str, head: int, *, in_short: bool = False) -> MachineRecord:
    """Put a machine's record together from its files.

    Args:
        files: They.
        machine_id: The id that it must have.
        head: The number of the newest version.
        in_short: Leave out events, which no list shows.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    machine = named(files, Machine, places.MACHINE, machine_id)
    withdrawals = tuple(files.several(Withdrawal, places.WITHDRAWALS))
    back = {one.what for one in withdrawals}
    return MachineRecord(
        **{field.name: getattr(machine, field.name) for field in fields(Machine)},
        notes=tuple(files.several(Note, places.NOTES)),
        photos=tuple(files.several(Photo, places.PHOTOS)),
        events=() if in_short or places.EVENTS not in files.state else parse_events(files.data(places.EVENTS)),
        version=head,
        deaccessions=tuple(one for one in files.several(Deaccession, places.DEACCESSIONS) if one.id not in back),
        withdrawals=withdrawals,
    )


def load_reads(archive: ArchiveFolder, carrier_id: str, inventory: Inventory | None = None) -> tuple[Read, ...]:
    """Read a carrier's reads, in the order they were added, with those that were taken back.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged`.
    """
    known = inventory or archive.inventory(carrier_id)
    files = _Files(archive, carrier_id, known)
    return _reads(files)


def _reads(files: RecordFiles) -> tuple[Read, ...]:
    return tuple(named(files, Read, places.read_record(name), name) for name in places.read_ids(list(files.state)))


def named(files: RecordFiles, cls: type[N], path: str, name: str | None) -> N:
    """Read a record that must be about what lies there: another id would hide it, or stand in another's way.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    found = files.one(cls, path)
    if found is None:
        raise InternalError("internal/no-carrier")
    if name is not None and found.id != name:
        trouble = Phrase("archive-damaged/other-id", id=found.id)
        raise ArchiveError("archive-damaged/record", trouble=trouble, where=Where(file=path))
    return found


class _Files:
    def __init__(self, archive: ArchiveFolder, carrier_id: str, inventory: Inventory) -> None:
        self.archive = archive
        self.carrier_id = carrier_id
        self.inventory = inventory
        self.state = inventory.state

    def data(self, path: str) -> bytes:
        return self.archive.read_file(self.carrier_id, path, self.inventory)

    def one(self, cls: type[T], path: str) -> T:
        name = f"{self.carrier_id}: {path}"
        return from_json(cls, read_json(self.data(path), name), name)

    def several(self, cls: type[T], path: str) -> tuple[T, ...]:
        """Read a file that holds a list of records; none where there is no such file."""
        if path not in self.inventory.state:
            return ()
        name = f"{self.carrier_id}: {path}"
        return list_from_json(cls, read_json(self.data(path), name), name)
