"""Erase a carrier that was taken out of the collection, asked for twice: a stub with its digests stays, and why."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import dropwhile
from typing import ClassVar, Literal

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.exchange.copy_mark import is_copy
from imagekeeper.archive.ocfl.erasures import stub_ids, stubs, told
from imagekeeper.archive.ocfl.inventory import INVENTORY, Inventory
from imagekeeper.archive.ocfl.ledger import Commits, read_commits
from imagekeeper.archive.ocfl.reading import Source, entries, file_bytes, is_file, size_if_any
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.testimony import Deaccession, Erased, ErasedFile
from imagekeeper.provenance.vouching import vouched
from imagekeeper.units import plural

#: So many digits of the last inventory's digest are the word that confirms.
WORD_DIGITS = 8


@dataclass(frozen=True, kw_only=True)
class Erasure:
    """What was erased, or would be.

    Attributes:
        id: The carrier.
        erased: Whether it was erased now; otherwise nothing was changed.
        word: What confirms it: the first digits of `inventory_sha512`.
        reason: Why.
        version: Its last version.
        inventory_sha512: SHA-512 of its last inventory.
        files: How many files lie in its folder, of all versions.
        bytes: How much they hold. [byte]
        holds: The files of the last version.
        stub: The id under which the digests and the reason stay, or would.
    """

    SCHEMA: ClassVar[Literal["erasure/1"]] = "erasure/1"

    id: str
    erased: bool
    word: str
    reason: str
    version: int
    inventory_sha512: str
    files: int
    bytes: int
    holds: tuple[ErasedFile, ...]
    stub: str

    @property
    def exit_code(self) -> int:
        """0 where it was erased, else 1."""
        return int(not self.erased)


def erase_carrier(
    archive: ArchiveStore, carrier_id: str, reason: str, session: Session, *, confirm: str | None = None
) -> Erasure:
    """Erase a carrier for good, or say what would be erased.

    Args:
        archive: The archive.
        carrier_id: The carrier, which must have been taken out of the collection.
        reason: Why.
        session: Who works.
        confirm: The word that confirms it, as it was given for the newest version; without it nothing is erased.

    Raises:
        NotFoundError: `carrier-missing`.
        UsageError: `usage` for a reason without words, a carrier in the collection, a stub, a word that is not the
            right one, or an archive that is a copy.
    """
    words = check_reason(reason)
    load_record(archive, carrier_id)   # a machine under this id is told as such
    if confirm is None:
        return _planned(archive, carrier_id, words, session)[0]
    with archive.lock():
        if not archive.has(carrier_id):   # one that was cut off had erased it, which is finished now
            load_record(archive, carrier_id)
        plan, erased, record = _planned(archive, carrier_id, words, session)
        if confirm.strip().lower() != plan.word:
            raise UsageError("usage/erase-word", id=carrier_id, given=confirm, version=plan.version)
        archive.erase(
            erased, plan.stub, _stub(record, erased, plan.stub, session),
            message=one_line(deleted(erased))[:500], user=user(session),
        )  # fmt: skip
    return Erasure(**{**vars(plan), "erased": True})


def deleted(erased: Erased) -> str:
    """Say in an event that a carrier was erased."""
    return (
        f"{erased.of} was erased with its whole record of {plural(erased.version, 'version')}; the last inventory had "
        f"the SHA-512 {erased.inventory_sha512}; because: {one_line(erased.reason)[:500]}"
    )


def why_out(erased: Erased) -> str:
    """Say why a stub is not in the collection."""
    return f"erased: {erased.reason}"


def _planned(
    archive: ArchiveStore, carrier_id: str, words: str, session: Session
) -> tuple[Erasure, Erased, CarrierRecord]:
    inventory = archive.inventory(carrier_id)
    record = load_record(archive, carrier_id, inventory)
    commits = read_commits(archive)
    _refuse(archive, record, commits)
    digest = hashlib.sha512(file_bytes(archive.object_path(carrier_id) / INVENTORY)).hexdigest()
    erased = Erased(
        of=carrier_id, reason=words, by=session.operator, added=session.now(), version=inventory.head,
        inventory_sha512=digest, log_sha512=commits.digest(carrier_id), files=_files(archive, inventory),
    )  # fmt: skip
    stub_id, erased = _place(archive, commits, erased)
    sizes = _sizes(archive, carrier_id)
    plan = Erasure(
        id=carrier_id, erased=False, word=digest[:WORD_DIGITS], reason=erased.reason, version=inventory.head,
        inventory_sha512=digest, files=len(sizes), bytes=sum(sizes), holds=erased.files, stub=stub_id,
    )  # fmt: skip
    return plan, erased, record


def _refuse(archive: ArchiveStore, record: CarrierRecord, commits: Commits) -> None:
    if is_copy(archive):
        raise UsageError("usage/erase-in-copy")
    if record.erased is not None:
        raise UsageError("usage/erase-stub", id=record.id, of=record.erased.of)
    if not record.deaccessions:
        raise UsageError("usage/erase-held", id=record.id)
    for other in (one for one in commits.notes if commits.erasure(one) is not None):
        if record.id == next(stub_ids(other)):   # the way to the stub of that one begins here
            raise UsageError("usage/erase-in-the-way", id=record.id, other=other)


def _place(archive: ArchiveStore, commits: Commits, erased: Erased) -> tuple[str, Erased]:
    """Find where the stub goes; one that is there already, and tells of just this, is used as it is."""
    known = told(archive, commits, erased.of)
    for stub_id, found in [*([known] if known else []), *stubs(archive, erased.of)]:
        if (found.inventory_sha512, found.log_sha512) == (erased.inventory_sha512, erased.log_sha512):
            return stub_id, found
    if known is not None:
        raise UsageError("usage/erased-another", id=erased.of, stub=known[0])
    return next(dropwhile(archive.has, stub_ids(erased.of))), erased


def _files(archive: ArchiveStore, inventory: Inventory) -> tuple[ErasedFile, ...]:
    folder, place = archive.object_path(inventory.id), inventory.by_digest()
    found = []
    for path, digest in sorted(inventory.state.items()):
        content = folder / place[digest]
        size = size_if_any(content) if is_file(content) else None
        found.append(ErasedFile(path=path, size_bytes=size, sha512=digest))
    return tuple(found)


def _sizes(archive: ArchiveStore, carrier_id: str) -> Sequence[int]:
    """Give the sizes of all files in a carrier's folder. [byte]"""
    sizes = []
    pending = [archive.object_path(carrier_id)]
    while pending:
        folder = pending.pop()
        for name, kind in entries(folder).items():
            if kind == "folder":
                pending.append(folder / name)
            else:
                sizes.append(size_if_any(folder / name))
    return sizes


def _stub(record: CarrierRecord, erased: Erased, stub_id: str, session: Session) -> dict[str, Source | None]:
    carrier = Carrier(
        id=stub_id, uuid=record.uuid, kind=record.kind, part=None, machine=None, board=None, position=None, label=None,
        note=None, created=erased.added,
    )  # fmt: skip
    gone = Deaccession(id="x1", reason=why_out(erased), by=erased.by, added=erased.added)
    changes: dict[str, Source | None] = {
        places.CARRIER: write_json(carrier), places.ERASED: write_json(erased), places.DEACCESSIONS: write_json([gone]),
    }  # fmt: skip
    event = next_event(
        None, session, erased.added, "deletion", deleted(erased), sources=[f"urn:uuid:{record.uuid}"],
        outcomes=[places.ERASED], operator=erased.by,
    )  # fmt: skip
    return {**changes, places.EVENTS: append_events(b"", vouched([event], changes))}
