"""Keep what is known of a carrier: begin its record, and add its reads."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

from imagekeeper import fingerprints
from imagekeeper.addresses import Span
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import PIECE_BYTES, Data
from imagekeeper.errors import InputError, Where
from imagekeeper.evidence.examining import examine, merged, shown_alone
from imagekeeper.findings import Finding
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.jobs.images.loading import Loaded, Options, all_loaded, refuse_same
from imagekeeper.jobs.session import SOFTWARE, Session, next_event, timestamp, user
from imagekeeper.jsonable import exact_name, one_line
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.events import Event, append_events, last_digest
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.provenance.kinds import check_kind
from imagekeeper.provenance.reads import Read, ReadImage, check_temperature, check_vcc
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.testimony import Examination
from imagekeeper.units import plural


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Under which conditions reads were taken; None for what is not known.

    Attributes:
        reader: The reader used.
        operator: Who read.
        date: When: a time, a day, a month or a year.
        vcc: The supply voltage as a decimal number. [volt]
        specimen: Which of several equal chips or disks.
        notes: Remarks.
        temperature: As a decimal number. [degree Celsius]
    """

    reader: str | None = None
    operator: str | None = None
    date: str | None = None
    vcc: str | None = None
    specimen: str | None = None
    notes: tuple[str, ...] = ()
    temperature: str | None = None


def add_carrier(
    archive: ArchiveStore, carrier_id: str, kind: str, session: Session, *,
    part: str | None = None, machine: str | None = None, board: str | None = None, position: str | None = None,
    label: str | None = None, note: str | None = None, markings: str | None = None, date_code: str | None = None,
    package: str | None = None, condition: str | None = None,
) -> CarrierRecord:  # fmt: skip
    """Begin the record of a carrier.

    Raises:
        UsageError: `carrier-id`, `carrier-exists`, `unknown-name` for the kind.
    """
    check_carrier_id(carrier_id)
    check_kind(kind)
    now = session.now()
    carrier = Carrier(
        id=carrier_id, uuid=session.new_uuid(), kind=kind, part=part, machine=machine, board=board,
        position=position, label=label, note=note, created=now, markings=markings, date_code=date_code,
        package=package, condition=condition,
    )  # fmt: skip
    event = next_event(
        None, session, now, "accession", f"{carrier_id} was taken into the archive",
        outcomes=[f"urn:uuid:{carrier.uuid}"],
    )  # fmt: skip
    changes: dict[str, Source | None] = {
        places.CARRIER: write_json(carrier),
        places.EVENTS: append_events(b"", [event]),
    }
    archive.commit(
        carrier_id, changes, message="carrier added", user=user(session), now=now, expected_head=0
    )
    return load_record(archive, carrier_id)


def add_reads(
    archive: ArchiveStore,
    carrier_id: str,
    paths: Sequence[str],
    options: Options,
    conditions: Conditions,
    session: Session,
    *,
    progress: Progress = silent,
) -> CarrierRecord:
    """Keep one or more reads of a carrier: each file as it is, and the image it stands for beside it.

    All of them are added, or none.

    Raises:
        NotFoundError: `carrier-missing`, `not-found`.
        UsageError: `usage` for a date or voltage that cannot be understood, or the same file given twice.
        InputError: A file cannot be understood.

    Returns:
        The carrier's record, with what the new reads' images show by themselves as findings.
    """
    date = None if conditions.date is None else check_date(conditions.date)
    vcc = None if conditions.vcc is None else check_vcc(conditions.vcc)
    temperature = None if conditions.temperature is None else check_temperature(conditions.temperature)
    operator = conditions.operator or session.operator
    conditions = replace(conditions, date=date, vcc=vcc, temperature=temperature, operator=operator)
    changes: dict[str, Source | None] = {}
    new_events: list[Event] = []
    examinations: list[Examination] = []
    noticed: list[Finding] = []
    archive.inventory(carrier_id)   # a carrier that is not there is told before any file is looked at
    with all_loaded(paths, options) as files, archive.lock(), ExitStack() as stack:
        refuse_same(files)
        # read behind the lock, so that two programs that add reads at once get numbers of their own
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        taken = list(inventory.state)
        events = archive.read_file(carrier_id, places.EVENTS, inventory)
        total = sum(len(file.data) + file.image.size_bytes for file in files)
        advance = stack.enter_context(progress("Keeping", total))
        for file in files:
            now = session.now()
            figures = fingerprints.take(file.image, file.name, advance=advance)
            read = _read(file, places.next_read_id(taken), conditions, now, figures, advance)
            taken.append(places.read_record(read.id))
            changes[places.read_record(read.id)] = write_json(read)
            changes[read.original] = _unchanged(_pieces(file.data), read.sha256, file.name)
            changes[read.image_path] = _unchanged(
                (piece for _, piece in file.image.pieces()), read.image.sha256, file.name
            )
            previous: Event | str | None = new_events[-1] if new_events else last_digest(events)
            new_events += _read_events(previous, read, record.uuid, session, now)
            if read.image.size_bytes:
                shown = shown_alone(file.image, record.kind, record.part)
                noticed += [replace(one, where=replace(one.where, file=read.id)) for one in shown]
                examinations.append(examine(file.image, record.kind, record.part, taken=figures, shown=shown))
        changes[places.EVENTS] = append_events(events, new_events)
        # one that searched for checksums too, or was held against the same part, says more than a new one
        known = {one.sha256 for one in record.examinations if one.part == record.part}
        fresh = [one for one in examinations if one.sha256 not in known]
        if fresh:
            changes[places.EXAMINATIONS] = write_json(list(merged(record.examinations, fresh)))
        names = ", ".join(file.name for file in files)
        archive.commit(
            carrier_id, changes, message=f"read kept: {names}"[:500], user=user(session), now=session.now(),
            expected_head=inventory.head,
        )  # fmt: skip
    return replace(load_record(archive, carrier_id), findings=tuple(noticed))


def _pieces(data: Data) -> Iterator[bytes]:
    for at in range(0, len(data), PIECE_BYTES):
        yield data[at : at + PIECE_BYTES]


def _unchanged(pieces: Iterable[bytes], sha256: str, name: str) -> Iterator[bytes]:
    """Pass on what is stored, and see that it is what was digested before: the reader may still be writing."""
    digest = hashlib.sha256()
    for piece in pieces:
        digest.update(piece)
        yield piece
    if digest.hexdigest() != sha256:
        raise InputError("cannot-read/changed", where=Where(file=name))


def _read(
    file: Loaded, read_id: str, conditions: Conditions, now: str, figures: Fingerprint,
    advance: Callable[[int], None],
) -> Read:  # fmt: skip
    return Read(
        id=read_id,
        file=one_line(os.path.basename(file.path)),
        file_base64=exact_name(os.path.basename(file.path)),
        original=places.read_original(read_id, file.path),
        size_bytes=len(file.data),
        sha256=_sha256(file.data, advance),
        modified=None if file.modified is None else timestamp(file.modified),
        container=file.image.container,
        wrapped_in=file.image.wrapped_in,
        image=_image_record(figures, file),
        image_path=places.read_image(read_id),
        reader=conditions.reader,
        operator=conditions.operator,
        date=conditions.date,
        vcc=conditions.vcc,
        specimen=conditions.specimen,
        software=SOFTWARE,
        notes=conditions.notes,
        added=now,
        temperature=conditions.temperature,
    )


def _image_record(figures: Fingerprint, file: Loaded) -> ReadImage:
    return ReadImage(
        sha256=figures.sha256,
        crc32=figures.crc32,
        size_bytes=figures.size_bytes,
        first_address=figures.first_address,
        segments=tuple(Span(s.start, len(s.data)) for s in file.image.segments),
        doubts=file.image.doubts,
    )


def _sha256(data: Data, advance: Callable[[int], None]) -> str:
    digest = hashlib.sha256()
    for piece in _pieces(data):
        digest.update(piece)
        advance(len(piece))
    return digest.hexdigest()


def _read_events(
    previous: Event | str | None, read: Read, uuid: str, session: Session, now: str
) -> list[Event]:
    captured = next_event(
        previous, session, now, "capture", f"{read.id}: {read.file} was kept as it is",
        sources=[f"urn:uuid:{uuid}"], outcomes=[read.original], operator=read.operator, instrument=read.reader,
    )  # fmt: skip
    doubts = f", with {plural(len(read.image.doubts), 'doubt')}" if read.image.doubts else ""
    decoded = next_event(
        captured, session, now, "message digest calculation",
        f"{read.id}: decoded as {read.container}{doubts}; SHA-256 of the image {read.image.sha256}",
        sources=[read.original], outcomes=[read.image_path],
        outcome="warning" if read.image.doubts else "success",
    )  # fmt: skip
    return [captured, decoded]
