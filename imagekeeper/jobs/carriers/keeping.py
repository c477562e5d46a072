"""Keep what is known of a carrier: begin its record, and add its reads."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace

from imagekeeper import fingerprints
from imagekeeper.addresses import Span
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index.remembered import remember
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import PIECE_BYTES, Data
from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.evidence.examining import examine, merged, shown_alone
from imagekeeper.findings import Finding
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.jobs.carriers.bad_sectors_told import not_read
from imagekeeper.jobs.carriers.belonging import MachineNames
from imagekeeper.jobs.carriers.conditions import Conditions, Judged, insisted_text, judged, modified, understood
from imagekeeper.jobs.images.loading import Loaded, Options, all_loaded, refuse_same
from imagekeeper.jobs.session import SOFTWARE, Session, next_event, user
from imagekeeper.jsonable import exact_name, one_line
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.events import Event, append_events, last_digest
from imagekeeper.provenance.facts import Decide, odd_date_code, refuse, settle
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.provenance.kinds import check_kind
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.testimony import Examination
from imagekeeper.provenance.vouching import vouched
from imagekeeper.units import plural

#: What is said of a carrier besides its kind.
TEXTS = (
    "part", "machine", "board", "position", "label", "markings", "date_code", "package", "condition", "note",
)  # fmt: skip

__all__ = ["Conditions", "add_carrier", "add_reads", "begin_carrier"]


def add_carrier(
    archive: ArchiveStore, carrier_id: str, kind: str, session: Session, *, decide: Decide = refuse,
    part: str | None = None, machine: str | None = None, board: str | None = None, position: str | None = None,
    label: str | None = None, note: str | None = None, markings: str | None = None, date_code: str | None = None,
    package: str | None = None, condition: str | None = None,
) -> CarrierRecord:  # fmt: skip
    """Begin the record of a carrier.

    Raises:
        UsageError: `carrier-id`, `carrier-exists`, `unknown-name` for the kind; `odd-facts` for a machine that may be a
            slip of one that is known, or a date code that is yet to come, where `decide` does not insist on it.
    """
    check_carrier_id(carrier_id)
    check_kind(kind)
    odd = list(MachineNames(archive).odd_of_carrier(machine)) if machine else []
    settled = settle([*odd, *odd_date_code(date_code or "", session.now(), {})], decide)
    texts = {
        "part": part, "machine": settled.names.get("machine", machine), "board": board, "position": position,
        "label": label, "note": note, "markings": markings, "date_code": date_code, "package": package,
        "condition": condition,
    }  # fmt: skip
    return begin_carrier(archive, carrier_id, kind, texts, session, insisted=settled.insisted)


def begin_carrier(
    archive: ArchiveStore, carrier_id: str, kind: str, texts: Mapping[str, str | None], session: Session, *,
    insisted: Sequence[str] = (),
) -> CarrierRecord:  # fmt: skip
    """Begin the record of a carrier, where everything odd about it is settled; see `add_carrier`.

    Args:
        archive: The archive.
        carrier_id: Its id.
        kind: Its kind.
        texts: What is said of it, by the members of its record; what is not there is unknown.
        session: Who works.
        insisted: What was insisted upon; the event tells it.

    Raises:
        UsageError: `carrier-exists`.
    """
    now = session.now()
    said = {name: texts.get(name) for name in TEXTS}
    carrier = Carrier(id=carrier_id, uuid=session.new_uuid(), kind=kind, created=now, **said)
    event = next_event(
        None, session, now, "accession", f"{carrier_id} was taken into the archive{insisted_text(insisted)}",
        outcomes=[f"urn:uuid:{carrier.uuid}"],
    )  # fmt: skip
    changes: dict[str, Source | None] = {places.CARRIER: write_json(carrier)}
    changes[places.EVENTS] = append_events(b"", vouched([event], changes))
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
    lists: Sequence[str] = (),
    geometry: str | None = None,
    decide: Decide = refuse,
    progress: Progress = silent,
) -> CarrierRecord:
    """Keep one or more reads of a carrier: each file as it is, and the image it stands for beside it.

    All of them are added, or none.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        paths: The files.
        options: How to take them.
        conditions: Under which they were taken.
        session: Who works, and when.
        lists: For each file in order the list of what was not read well, `-` for a file without one; or none at all.
        geometry: Of the disk, to place what the lists name; without it the content tells.
        decide: Decides about what cannot be, or looks like a slip.
        progress: Told how far it is.

    Raises:
        NotFoundError: `carrier-missing`, `not-found`.
        UsageError: `usage` for a date or voltage that cannot be understood, or the same file given twice; `odd-facts`
            for what cannot be or looks like a slip, where `decide` does not insist on it.
        InputError: A file cannot be understood.

    Returns:
        The carrier's record, with what the new reads' images show by themselves as findings.
    """
    conditions = understood(conditions, session)
    changes: dict[str, Source | None] = {}
    new_events: list[Event] = []
    examinations: list[Examination] = []
    noticed: list[Finding] = []
    if lists and len(lists) != len(paths):
        raise UsageError("usage/lists-of-merge", lists=len(lists), paths=len(paths))
    before = load_record(archive, carrier_id)   # a carrier that is not there is told before any file is looked at
    with all_loaded(paths, options) as files, ExitStack() as stack:
        refuse_same(files)
        told = [None if name == "-" else not_read(name, file, geometry) for name, file in zip(
            lists or ["-"] * len(files), files, strict=True
        )]  # fmt: skip
        # whoever is asked may take their time: nobody else waits for the lock meanwhile
        held = judged(
            archive, before, conditions, files, session, decide, part=before.part, date_code=before.date_code
        )
        stack.enter_context(archive.lock())
        # read behind the lock, so that two programs that add reads at once get numbers of their own
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        taken = list(inventory.state)
        events = archive.read_file(carrier_id, places.EVENTS, inventory)
        total = sum(len(file.data) + file.image.size_bytes for file in files)
        advance = stack.enter_context(progress("Keeping", total))
        for file, missed in zip(files, told, strict=True):
            now = session.now()
            figures = fingerprints.take(file.image, file.name, advance=advance)
            read = _read(file, places.next_read_id(taken), held, now, figures, advance)
            if missed is not None:
                read = replace(read, listed=True, not_read=missed)
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
                shown_too = (*remarks(file.image), *shown)
                noticed += [replace(one, where=replace(one.where, file=read.id)) for one in shown_too]
                examinations.append(examine(file.image, record.kind, record.part, taken=figures, shown=shown))
        # one that searched for checksums too, or was held against the same part, says more than a new one
        known = {one.sha256 for one in record.examinations if one.part == record.part}
        fresh = [one for one in examinations if one.sha256 not in known]
        if fresh:
            changes[places.EXAMINATIONS] = write_json(list(merged(record.examinations, fresh)))
        changes[places.EVENTS] = append_events(events, vouched(new_events, changes))
        names = ", ".join(file.name for file in files)
        archive.commit(
            carrier_id, changes, message=f"read kept: {names}"[:500], user=user(session), now=session.now(),
            expected_head=inventory.head,
        )  # fmt: skip
        remember(archive, record.kind, fresh)
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
    file: Loaded, read_id: str, held: Judged, now: str, figures: Fingerprint,
    advance: Callable[[int], None],
) -> Read:  # fmt: skip
    conditions = held.conditions
    return Read(
        id=read_id,
        file=one_line(os.path.basename(file.path)),
        file_base64=exact_name(os.path.basename(file.path)),
        original=places.read_original(read_id, file.path),
        size_bytes=len(file.data),
        sha256=_sha256(file.data, advance),
        modified=modified(file),
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
        adapter=conditions.adapter,
        cable=conditions.cable,
        drive=conditions.drive,
        controller=conditions.controller,
        retries=conditions.retries,
        insisted=held.insisted_of(file),
        qualified=held.qualified,
        parity=file.image.parity.kind if file.image.parity else None,
        repeated=file.image.repeats.choice if file.image.repeats else None,
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
    kept, decoding = read_events_say(read)
    captured = next_event(
        previous, session, now, "capture", kept, sources=[f"urn:uuid:{uuid}"], outcomes=[read.original],
        operator=read.operator, instrument=read.reader,
    )  # fmt: skip
    decoded = next_event(
        captured, session, now, "message digest calculation", decoding, sources=[read.original],
        outcomes=[read.image_path], outcome="warning" if read.image.doubts else "success",
    )  # fmt: skip
    return [captured, decoded]


def read_events_say(read: Read) -> tuple[str, str]:
    """Give the words of the two events of a read: that its file was kept, and how it was decoded."""
    doubts = f", with {plural(len(read.image.doubts), 'doubt')}" if read.image.doubts else ""
    parity = f", with {read.parity} parity taken away" if read.parity else ""
    chosen = f", with the {read.repeated} value of addresses that came several times" if read.repeated else ""
    missed = sum(one.length for one in read.not_read)
    listed = f"; its reader's list calls {plural(missed, 'byte')} not read well" if read.listed else ""
    return (
        f"{read.id}: {read.file} was kept as it is{insisted_text(read.insisted)}{listed}",
        f"{read.id}: decoded as {read.container}{parity}{chosen}{doubts}; SHA-256 of the image {read.image.sha256}",
    )
