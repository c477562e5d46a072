"""Record a new chip or disk that was made from an image, and prove it by what is read back."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal

from imagekeeper import chips
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import Image
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ContradictionError, InputError, NotFoundError, UsageError, Where
from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.replacements import regraded
from imagekeeper.jobs.carriers.conditions import Conditions, Judged, insisted_text, judged, modified, understood
from imagekeeper.jobs.carriers.extracting import stored
from imagekeeper.jobs.images.loading import Loaded, Options, all_loaded, loaded, refuse_same
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.facts import Decide, odd_before_replacement, refuse
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.replacements import ReadBack, Replacement, placement
from imagekeeper.provenance.vouching import vouched
from imagekeeper.units import plural


@dataclass(frozen=True)
class Replaced:
    """A replacement with its proof.

    Attributes:
        id: The carrier's id.
        replacement: The new chip or disk.
        differences: For each read-back that differs, how many bytes do, and where the first is.
    """

    SCHEMA: ClassVar[Literal["replacement/1"]] = "replacement/1"

    id: str
    replacement: Replacement
    differences: tuple[BackDifference, ...]

    @property
    def exit_code(self) -> int:
        """1 where something that was read back is not what was written."""
        return 1 if self.replacement.grade == "failed" else 0


@dataclass(frozen=True, kw_only=True)
class BackDifference:
    """Where a read-back is not what was written.

    Attributes:
        file: The file that was read back.
        size_bytes: Its size. [byte]
        expected_bytes: The size of what was written. [byte]
        bytes: How many bytes differ where both have one. [byte]
        first: The first of these, or null. [byte]
    """

    file: str
    size_bytes: int
    expected_bytes: int
    bytes: int
    first: int | None


@dataclass(frozen=True, kw_only=True)
class MadeOf:
    """What is known of the very chip or disk that a replacement is; None for what is not known.

    Attributes:
        markings: What is printed on it.
        date_code: The date code among that.
        blank: A file that was read from it before it was written.
        look_again: When to read it again: a day, a month or a year.
    """

    markings: str | None = None
    date_code: str | None = None
    blank: str | None = None
    look_again: str | None = None


def _known_of(made_of: MadeOf, part: str | None, options: Options) -> dict[str, Any]:
    """Give what is recorded of the very chip, its blank check carried out.

    Raises:
        ContradictionError: `not-blank`.
        UsageError: `usage` for a date that cannot be understood.
        InputError: The file cannot be understood.
    """
    blank = None
    if made_of.blank is not None:
        chip = known_chip(part)
        if chip is not None and chip.carrier == "prom" and chip.blank is None:
            raise ContradictionError("does-not-fit/blank-unknown", chip=chip.id, where=Where(file=made_of.blank))
        erased = 0xFF if chip is None or chip.blank is None else int(chip.blank, 16)
        with loaded(made_of.blank, options) as file:
            data, name = _whole(file.image, file.name), file.name
        wrong = len(data) - data.count(erased)
        short = chip is not None and len(data) != chip.file_bytes
        if wrong or short:
            raise ContradictionError(
                "not-blank", name=name, bytes=wrong, size=len(data), value=erased,
                expected=len(data) if chip is None else chip.file_bytes, where=Where(file=name),
            )  # fmt: skip
        blank = f"{one_line(os.path.basename(name))}: {plural(len(data), 'byte')} of {erased:02X}"
    return {
        "markings": made_of.markings, "date_code": made_of.date_code, "blank": blank,
        "look_again": None if made_of.look_again is None else check_date(made_of.look_again),
    }  # fmt: skip


def add_replacement(
    archive: ArchiveStore, carrier_id: str, part: str | None, written: str, read_backs: Sequence[str], options: Options,
    conditions: Conditions, session: Session, *, what: str = "agreed", note: str | None = None,
    made_of: MadeOf | None = None, decide: Decide = refuse,
) -> Replaced:  # fmt: skip
    """Record a new chip or disk, with what was written to it and what was read back.

    Args:
        archive: The archive.
        carrier_id: The carrier that it replaces.
        part: What it was made of.
        written: The file that was given to the programmer or writer.
        read_backs: Files that were read from it; none where that comes later.
        options: How to take the files.
        conditions: How it was read back, and by whom it was made.
        session: Who works.
        what: From which image it was made: `agreed`, or the id of a read or derived image.
        note: A remark.
        made_of: What is known of the very chip or disk.
        decide: Decides about what cannot be, or looks like a slip.

    Raises:
        ContradictionError: `not-blank` for a chip that was not blank before it was written; `not-of-image`: what was
            written does not hold the image; `does-not-fit`: the chip cannot hold what was written or read back.
        NotFoundError: `carrier-missing`; `not-found` for an image that is not there.
        UsageError: `usage` for a read-back that is the very file that was written; `odd-facts` for what is not insisted
            upon.
        InputError: A file cannot be understood.
    """
    conditions = understood(conditions, session)
    known = load_record(archive, carrier_id)
    with all_loaded(read_backs, options) as files, ExitStack() as stack:
        held = judged(archive, known, conditions, files, session, decide, part=part)
        stack.enter_context(archive.lock())
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        image = stored(archive, record, inventory, what, stack)
        image_bytes = b"".join(piece for _, piece in image.image.pieces())
        with loaded(written, options) as file:
            data, name, identity = _whole(file.image, file.name), file.name, file.identity
            changed = modified(file)
        _refuse_size(part, len(data), name)
        place = placement(image_bytes, data)
        if place is None:
            raise ContradictionError(
                "not-of-image", name=name, size=len(data), id=carrier_id, image=what, image_size=len(image_bytes),
            )  # fmt: skip
        new = f"w{len(record.replacements) + 1}"
        made = Replacement(
            id=new, part=part, sha256=image.sha256, read_back_sha256=None, matches=None,
            operator=held.conditions.operator, date=held.conditions.date, note=note, added=session.now(), image=what,
            written_sha256=sha256_hex(data), placed=place.says, written=places.written(new),
            insisted=tuple(one for one in held.insisted if one in ("operator", "date")), written_bytes=len(data),
            written_file=one_line(os.path.basename(written)), written_modified=changed,
            **_known_of(made_of or MadeOf(), part, options),
        )  # fmt: skip
        changes: dict[str, Source | None] = {places.written(new): data}
        made, differences = _with_backs(
            made, data, image_bytes, files, held, session, changes, identity, record.kind
        )
        _commit(archive, record, inventory.head, made, changes, session, len(files), held.conditions)
    return Replaced(carrier_id, made, differences)


def add_read_backs(
    archive: ArchiveStore, carrier_id: str, replacement_id: str, read_backs: Sequence[str], options: Options,
    conditions: Conditions, session: Session, *, decide: Decide = refuse,
) -> Replaced:  # fmt: skip
    """Add what was read from a replacement later, or on another reader.

    Raises:
        NotFoundError: `carrier-missing`; `not-found` for a replacement that is not there.
        ContradictionError: `does-not-fit`: the chip cannot hold what was read back.
        UsageError: `usage` without a file, or for one that is the very file that was written, as the archive keeps it;
            `odd-facts` for what `decide` does not insist on.
        InputError: A file cannot be understood.
    """
    conditions = understood(conditions, session)
    if not read_backs:
        raise UsageError("usage/nothing-to-add")
    known = load_record(archive, carrier_id)
    made, _ = _replacement(known, replacement_id)
    backwards = [] if conditions.date is None else list(odd_before_replacement(conditions.date, made.id, made.date))
    with all_loaded(read_backs, options) as files, ExitStack() as lock:
        held = judged(archive, known, conditions, files, session, decide, part=made.part, more=backwards)
        lock.enter_context(archive.lock())
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        made, written = _replacement(record, replacement_id)
        data = archive.read_file(carrier_id, written, inventory)
        with ExitStack() as stack:
            image = stored(archive, record, inventory, made.image, stack)
            image_bytes = b"".join(piece for _, piece in image.image.pieces())
        changes: dict[str, Source | None] = {}
        kept = os.stat(archive.content_path(carrier_id, written, inventory))
        made, differences = _with_backs(
            made, data, image_bytes, files, held, session, changes, (kept.st_dev, kept.st_ino), record.kind
        )
        _commit(archive, record, inventory.head, made, changes, session, len(files), held.conditions)
    return Replaced(carrier_id, made, differences)


def _replacement(record: CarrierRecord, replacement_id: str) -> tuple[Replacement, str]:
    """Find a replacement, and where that lies which was written to it."""
    made = next((one for one in record.replacements if one.id == replacement_id), None)
    if made is None or made.written is None:
        known = ", ".join(one.id for one in record.replacements if one.written) or "none"
        raise NotFoundError("not-found/replacement", id=record.id, replacement=replacement_id, known=known)
    return made, made.written


def _whole(image: Image, name: str) -> bytes:
    if len(image.segments) != 1:
        raise InputError("gaps/replacement", pieces=len(image.segments), where=Where(file=name))
    return b"".join(piece for _, piece in image.pieces())


def _refuse_size(part: str | None, size: int, name: str) -> None:
    """Refuse more bytes than the chip holds; of a part that the table does not have, nothing is known."""
    try:
        chip = None if part is None else chips.find(part)
    except NotFoundError:
        return
    if chip is not None and size > chip.file_bytes:
        raise ContradictionError(
            "does-not-fit/replacement", chip=chip.id, name=name, size=size, chip_size=chip.file_bytes,
            where=Where(file=name),
        )  # fmt: skip


def _with_backs(
    made: Replacement, written: bytes, image: bytes, files: Sequence[Loaded], held: Judged, session: Session,
    changes: dict[str, Source | None], written_identity: tuple[int, int] | None, kind: str,
) -> tuple[Replacement, tuple[BackDifference, ...]]:  # fmt: skip
    backs, differences = list(made.read_backs), []
    how = held.conditions
    refuse_same(files)
    for file in files:
        data = _whole(file.image, file.name)
        if (file.identity is not None and file.identity == written_identity) or _is_written(made, written, file, data):
            raise UsageError("usage/read-back-is-written", name=file.name, where=Where(file=file.name))
        _refuse_size(made.part, len(data), file.name)
        matches: Literal["whole", "in-part", "no"] = "no"
        if data == written:
            matches = "whole"
        elif data == image:
            matches = "in-part"
        else:
            differences.append(_difference(file.name, data, written))
        place = places.read_back(made.id, len(backs) + 1)
        changes[place] = data
        backs.append(ReadBack(
            file=one_line(os.path.basename(file.path)), path=place, sha256=sha256_hex(data), matches=matches,
            reader=how.reader, operator=how.operator, vcc=how.vcc, date=how.date, added=session.now(),
            adapter=how.adapter, cable=how.cable, drive=how.drive, controller=how.controller,
            modified=modified(file), insisted=held.insisted_of(file),
        ))  # fmt: skip
    matched = all(back.matches != "no" for back in backs) if backs else None
    last = backs[-1].sha256 if backs else None
    made = replace(made, read_backs=tuple(backs), matches=matched, read_back_sha256=last)
    return regraded(made, kind), tuple(differences)


def _is_written(made: Replacement, written: bytes, file: Loaded, data: bytes) -> bool:
    """Whether a file is evidently the one that was written, long after: the same name, time of change and bytes."""
    name, changed = one_line(os.path.basename(file.path)), modified(file)
    return changed is not None and (name, changed, data) == (made.written_file, made.written_modified, written)


def _difference(name: str, data: bytes, written: bytes) -> BackDifference:
    common = min(len(data), len(written))
    difference = int.from_bytes(data[:common], "big") ^ int.from_bytes(written[:common], "big")
    changed = difference.to_bytes(common, "big")
    first = next((at for at, byte in enumerate(changed) if byte), None)
    return BackDifference(
        file=name, size_bytes=len(data), expected_bytes=len(written), bytes=common - changed.count(0), first=first
    )


def _commit(
    archive: ArchiveStore, record: CarrierRecord, head: int, made: Replacement, changes: dict[str, Source | None],
    session: Session, count: int, conditions: Conditions,
) -> None:  # fmt: skip
    held: list[Any] = [one for one in record.replacements if one.id != made.id]
    held.append(made)
    held.sort(key=lambda one: int(one.id[1:]))
    events = archive.read_file(record.id, places.EVENTS)
    now = session.now()
    new = []
    previous: Any = last_digest(events)
    if made.id not in [one.id for one in record.replacements]:
        new.append(next_event(
            previous, session, now, "exporting",
            f"{made.id}: written to {made.part or 'a replacement'}, {made.placed}{insisted_text(made.insisted)}",
            sources=[f"sha256:{made.sha256}"], outcomes=[places.written(made.id)], operator=conditions.operator,
        ))  # fmt: skip
        previous = new[-1]
    if count:
        new.append(next_event(
            previous, session, now, "validation",
            f"{made.id}: {plural(count, 'read-back')} added: {made.grade}. {made.because}"
            + insisted_text(made.read_backs[-1].insisted),
            sources=[back.path for back in made.read_backs[-count:]], operator=conditions.operator,
            instrument=conditions.reader, outcome="fail" if made.grade == "failed" else "success",
        ))  # fmt: skip
    changes[places.REPLACEMENTS] = write_json(held)
    changes[places.EVENTS] = append_events(events, vouched(new, changes))
    archive.commit(
        record.id, changes, message=f"replacement {made.id}", user=user(session), now=now, expected_head=head
    )
