"""Whether a carrier's records say of its files what the files are."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from imagekeeper.archive.ocfl.hashing import Digested
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import file_bytes
from imagekeeper.errors import ArchiveError
from imagekeeper.files import reason
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import verify_chain
from imagekeeper.provenance.fields import list_from_json, read_json
from imagekeeper.provenance.machines import Machine
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.provenance.testimony import Deaccession, Erased, Examination, MachineTrial, StatedReason, Withdrawal

if TYPE_CHECKING:
    from imagekeeper.archive.audits.audit_report import AuditTally

T = TypeVar("T")

_DIGESTED = re.compile(r"reads/r[0-9]+/(?:image\.bin|original/.+)|agreed\.bin|derived/.+|replacements/.+|photos/.+")


def needs_sha256(logical_path: str) -> bool:
    """Whether a record states the SHA-256 of this file.

    Example:
        >>> needs_sha256("reads/r1/image.bin"), needs_sha256("carrier.json")
        (True, False)
    """
    return _DIGESTED.fullmatch(logical_path) is not None


def check_records(
    report: AuditTally, carrier: str, folder: Path, inventory: Inventory, whole: Mapping[str, Digested]
) -> None:
    """Check a carrier's records; files that are damaged or missing already are passed over.

    Args:
        report: Where discrepancies go.
        carrier: The carrier's id.
        folder: Its folder.
        inventory: Its inventory.
        whole: The files whose SHA-512 is right, by content path.
    """
    _Records(report, carrier, folder, inventory, whole).check()


class _Records:
    def __init__(
        self, report: AuditTally, carrier: str, folder: Path, inventory: Inventory, whole: Mapping[str, Digested]
    ) -> None:
        self.report = report
        self.carrier = carrier
        self.folder = folder
        self.inventory = inventory
        self.whole = whole
        self.content = inventory.by_digest()

    def check(self) -> None:
        kinds: tuple[tuple[type[Carrier] | type[Machine], str], ...] = (
            (Carrier, places.CARRIER), (Machine, places.MACHINE),
        )  # fmt: skip
        for cls, place in kinds:
            known = self.one(cls, place)
            if known is not None and known.id != self.carrier:
                self.report.damaged(self.carrier, self.place(place), "it names another id", self.carrier, known.id)
        for read_id in places.read_ids(list(self.inventory.state)):
            self.read(read_id)
        agreed = self.one(Agreed, places.AGREED)
        if agreed is not None and agreed.image is not None:
            self.hold(places.AGREED, agreed.image, agreed.sha256)
        for made in self.several(Derivation, places.DERIVATIONS):
            if made.path is not None:
                self.hold(places.DERIVATIONS, made.path, made.sha256, made.size_bytes)
        for new in self.several(Replacement, places.REPLACEMENTS):
            if new.written is not None:
                self.hold(places.REPLACEMENTS, new.written, new.written_sha256)
            for back in new.read_backs:
                self.hold(places.REPLACEMENTS, back.path, back.sha256)
        for photo in self.several(Photo, places.PHOTOS):
            self.hold(places.PHOTOS, photo.path, photo.sha256)
        others: tuple[tuple[type[object], str], ...] = (
            (Note, places.NOTES), (Examination, places.EXAMINATIONS), (StatedReason, places.EXPLANATIONS),
            (MachineTrial, places.TRIALS), (Withdrawal, places.WITHDRAWALS), (Deaccession, places.DEACCESSIONS),
            (Erased, places.ERASED),
        )  # fmt: skip
        for kind, place in others:
            self.several(kind, place)   # which tells where they are none
        self.events()

    def read(self, read_id: str) -> None:
        name = places.read_record(read_id)
        read = self.one(Read, name)
        if read is None:
            return
        if read.id != read_id:
            self.report.damaged(self.carrier, self.place(name), "it names another id", read_id, read.id)
        self.hold(name, read.original, read.sha256, read.size_bytes)
        self.hold(name, read.image_path, read.image.sha256, read.image.size_bytes)

    def events(self) -> None:
        data = self.data(places.EVENTS)
        if data is None:
            return
        broken = verify_chain(data)
        if broken is not None:
            why = f"line {broken.line}: {broken.why}"
            self.report.damaged(self.carrier, self.place(places.EVENTS), why, broken.expected, broken.found)
        past: dict[str, int] = {}   # the oldest version that holds each state of the file
        for number in range(self.inventory.head - 1, 0, -1):
            digest = self.inventory.versions[number - 1].state.get(places.EVENTS)
            if digest is not None:
                past[self.content[digest]] = number
        running, at = hashlib.sha512(), 0
        for path in sorted(past.keys() & self.whole.keys(), key=lambda path: self.whole[path].size):
            size, digest = self.whole[path].size, self.inventory.manifest[path]
            running.update(data[at:size])
            at = size
            if len(data) < size or running.hexdigest() != digest:
                why = f"events that version {past[path]} held were changed or taken away"
                self.report.damaged(self.carrier, self.place(places.EVENTS), why)
                return

    def place(self, logical_path: str) -> Path:
        return self.folder / (self.content_path(logical_path) or logical_path)

    def content_path(self, logical_path: str) -> str | None:
        digest = self.inventory.state.get(logical_path)
        return None if digest is None else self.content[digest]

    def data(self, logical_path: str) -> bytes | None:
        found = self.whole.get(self.content_path(logical_path) or "")
        if found is None or self.report.blamed(self.place(logical_path)):
            return None
        if found.data is not None:
            return found.data
        try:
            return file_bytes(self.place(logical_path))   # too large to have been kept
        except OSError as problem:
            self.report.damaged(self.carrier, self.place(logical_path), f"it cannot be read; {reason(problem)}")
            return None

    def one(self, cls: type[T], logical_path: str) -> T | None:
        found = self.several(cls, logical_path)
        return found[0] if found else None

    def several(self, cls: type[T], logical_path: str) -> list[T]:
        data = self.data(logical_path)
        if data is None:
            return []
        try:
            return list(list_from_json(cls, read_json(data, logical_path), logical_path))
        except ArchiveError as problem:
            self.report.damaged(self.carrier, self.place(logical_path), problem.why)
            return []

    def hold(self, record: str, logical_path: str, stated: str | None, size: int | None = None) -> None:
        """Hold a file's digest, and its size, against those that a record states."""
        content = self.content_path(logical_path)
        if content is None:
            why = f"it names {logical_path[:200]}, which the carrier does not hold"
            self.report.damaged(self.carrier, self.place(record), why)
            return
        found = self.whole.get(content)
        if found is not None and found.digests.get("sha256", stated) != stated:
            why = f"its SHA-256 is not the one that {record} states"
            self.report.damaged(self.carrier, self.folder / content, why, stated, found.digests["sha256"])
        elif found is not None and size not in (None, found.size):
            why = f"it states {size} bytes for {logical_path[:200]}, which holds {found.size}"
            self.report.damaged(self.carrier, self.place(record), why)
