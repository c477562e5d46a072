"""Settle the image that a carrier's reads support, and grade the evidence."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal, SupportsIndex, overload

from imagekeeper import files
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.inventory import Inventory
from imagekeeper.archive.reading import Source
from imagekeeper.archive.store import Archive
from imagekeeper.compare.comparison import Comparison, compare
from imagekeeper.containers.model import Data, Image, Segment
from imagekeeper.errors import NotFoundError, UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.grades import grade
from imagekeeper.provenance.records import Agreed, CarrierRecord, Read
from imagekeeper.provenance.references import Reference, check_reference, parse_reference
from imagekeeper.units import plural
from imagekeeper.workflows.archiving import Session, next_event, user


@dataclass(frozen=True)
class Agreement:
    """What the reads of a carrier agree on.

    Attributes:
        id: The carrier's id.
        agreed: The image and its grade.
        comparison: Where the reads differ, or null where they do not.
    """

    SCHEMA: ClassVar[Literal["agreement/1"]] = "agreement/1"

    id: str
    agreed: Agreed
    comparison: Comparison | None

    @property
    def exit_code(self) -> int:
        """1 where the reads dispute the image, else 0."""
        return 1 if self.agreed.grade == "disputed" else 0


def agree(
    archive: Archive,
    carrier_id: str,
    session: Session,
    *,
    references: Mapping[str, str | None] | None = None,
    progress: Progress = silent,
) -> Agreement:
    """Compare all reads of a carrier, and record the image that they support with its grade.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        session: Who works, and when.
        references: Digests from outside with where each comes from; each must be that of the agreed image.
        progress: Told how far it is.

    Raises:
        NotFoundError: `carrier-missing`, `no-reads`.
        InputError: `reference-mismatch`.
    """
    inventory = archive.inventory(carrier_id)
    record = load_record(archive, carrier_id, inventory)
    if not record.reads:
        raise NotFoundError(
            "no-reads", f"{carrier_id} has no read to compare", why="no file was added to it yet",
            hint=f"read the chip or disk, then: imagekeeper carrier read {carrier_id} FILE",
        )  # fmt: skip
    known = [parse_reference(text, source) for text, source in (references or {}).items()]
    agreed = grade(record.reads, references=known)
    support = next((read for read in record.reads if read.id in agreed.reads), None)
    _check_references(archive, carrier_id, known, support, inventory)
    comparison = None
    if support is None:
        comparison = compare_reads(archive, record, inventory, progress=progress)
    now = session.now()
    events = archive.read_file(carrier_id, places.EVENTS, inventory)
    event = next_event(
        last_digest(events), session, now, "validation",
        f"{plural(len(record.reads), 'read')} compared: {agreed.grade}. {agreed.because}",
        sources=[read.image_path for read in record.reads], outcomes=[] if support is None else [places.AGREED_IMAGE],
        outcome="warning" if support is None else "success",
    )  # fmt: skip
    changes: dict[str, Source | None] = {
        places.AGREED: write_json(agreed),
        places.EVENTS: append_events(events, [event]),
    }
    if support is not None:
        changes[places.AGREED_IMAGE] = archive.content_path(carrier_id, support.image_path, inventory)
    elif places.AGREED_IMAGE in inventory.state:
        changes[places.AGREED_IMAGE] = None
    archive.commit(
        carrier_id, changes, message=f"agreed image: {agreed.grade}", user=user(session), now=now,
        expected_head=inventory.head,
    )  # fmt: skip
    return Agreement(carrier_id, agreed, comparison)


def _check_references(
    archive: Archive, carrier_id: str, known: Sequence[Reference], support: Read | None, inventory: Inventory
) -> None:
    if not known:
        return
    if support is None:
        raise UsageError(
            "usage", "a reference cannot settle what the reads dispute", why="the reads of the carrier differ",
            hint="find out why first: imagekeeper carrier agree without --reference shows where they differ",
        )  # fmt: skip
    digests = {"sha256": support.image.sha256, "crc32": support.image.crc32}
    if any(reference.algorithm == "sha1" for reference in known):
        data = archive.read_file(carrier_id, support.image_path, inventory)
        digests["sha1"] = hashlib.sha1(data, usedforsecurity=False).hexdigest()
    for reference in known:
        check_reference(reference, digests)


def compare_reads(
    archive: Archive, record: CarrierRecord, inventory: Inventory, *, progress: Progress = silent
) -> Comparison:
    """Compare the images of all reads of a carrier, as they lie in the archive.

    Raises:
        UsageError: For fewer than two reads.
        ImagekeeperError: A file of the archive cannot be read.
    """
    with ExitStack() as stack:
        images = [_stored_image(archive, record.id, read, inventory, stack) for read in record.reads]
        advance = stack.enter_context(progress("Comparing", sum(image.size_bytes for image in images)))
        return compare(images, [f"{read.id} ({read.file})" for read in record.reads], advance=advance)


def _stored_image(
    archive: Archive, carrier_id: str, read: Read, inventory: Inventory, stack: ExitStack
) -> Image:
    path = archive.content_path(carrier_id, read.image_path, inventory)
    file, about = stack.enter_context(files.opened(path))
    data = files.FileData(file, about.st_size, archive.name_of(path))
    segments, at = [], 0
    for extent in read.image.segments:
        segments.append(Segment(extent.start, _Window(data, at, extent.length)))
        at += extent.length
    addressed = read.image.first_address != 0   # what begins at 0 may do so only for want of an address
    return Image(tuple(segments), container=read.container, wrapped_in=read.wrapped_in, addressed=addressed)


class _Window:
    """Part of some data, as data of its own."""

    def __init__(self, data: Data, start: int, length: int) -> None:
        self._data = data
        self._range = range(start, start + length)

    def __len__(self) -> int:
        return len(self._range)

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        part = self._range[index]
        return self._data[part.start : part.stop : part.step] if isinstance(part, range) else self._data[part]


def with_findings(record: CarrierRecord) -> CarrierRecord:
    """Add what the record itself shows: reads that came after the agreed image was settled."""
    found = _outdated(record)
    return replace(record, findings=(*record.findings, found)) if found else record


def _outdated(record: CarrierRecord) -> Finding | None:
    if record.agreed is None:
        return None
    again = grade(record.reads)
    weighed = {o.identifier for event in record.events if event.type == "validation" for o in event.objects}
    unseen = [read.id for read in record.reads if read.image_path not in weighed]
    if not unseen:
        return None
    verdict = "agree with it" if again.sha256 == record.agreed.sha256 else "do not all agree with it"
    return Finding(
        "agreed-outdated", "warning", 1.0, Where(),
        f"{', '.join(unseen)} came after the agreed image was settled, and {verdict}",
        f"settle it again: imagekeeper carrier agree {record.id}", {"reads": unseen},
    )  # fmt: skip
