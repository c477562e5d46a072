"""Settle the image that a carrier's reads support, and grade the evidence."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper import files, fingerprints
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index.remembered import remember
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source, file_blocks
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.comparison.majority import By, Majority
from imagekeeper.containers.model import Image
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.evidence.support import counted_reads
from imagekeeper.jobs.carriers.extracting import opened_image
from imagekeeper.jobs.reads.comparing import facts_of
from imagekeeper.jobs.reads.comparing_disks import as_disk, disk_of, voted_as_disk
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import Reference, check_reference, parse_reference
from imagekeeper.provenance.standing import Standing
from imagekeeper.provenance.testimony import Examination
from imagekeeper.provenance.vouching import vouched
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural, size_text


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """What the reads of a carrier agree on.

    Attributes:
        id: The carrier's id.
        agreed: The image and its grade.
        comparison: Where the reads differ, or null where they do not and after a vote.
        vote: The vote that was asked for, or null.
        recorded: Whether the archive was changed: a vote that leaves ties, in which fill outvotes content, or a sector
            of a disk has no majority, is not.
        standing: How the evidence stands, with what speaks against the image.
    """

    SCHEMA: ClassVar[Literal["agreement/1"]] = "agreement/1"

    id: str
    agreed: Agreed
    comparison: Comparison | None
    vote: Majority | None = None
    recorded: bool = True
    standing: Standing | None = None

    @property
    def exit_code(self) -> int:
        """1 where the reads dispute the image, or something open speaks against it, else 0."""
        return 1 if self.agreed.grade == "disputed" or (self.standing is not None and self.standing.open) else 0


def agree(
    archive: ArchiveStore,
    carrier_id: str,
    session: Session,
    *,
    references: Mapping[str, str | None] | None = None,
    by_vote: By | None = None,
    progress: Progress = silent,
) -> Agreement:
    """Compare all reads of a carrier, and record the image that they support with its grade.

    A vote is accepted only where every address has a majority, fill outvotes no content, and no sector of a disk is put
    together of several reads; otherwise nothing is recorded.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        session: Who works, and when.
        references: Digests from outside with where each comes from; each must be that of the agreed image.
        by_vote: Settle what the reads dispute by the majority of bytes or bits, or None to leave it disputed.
        progress: Told how far it is.

    Raises:
        NotFoundError: `carrier-missing`, `no-reads`.
        ContradictionError: `reference-mismatch`.
        ArchiveError: `archive-damaged` for a read that is not what it was.
        UsageError: `usage` for a vote of fewer than three reads that count, or of reads that hold different addresses.
    """
    inventory = archive.inventory(carrier_id)
    record = load_record(archive, carrier_id, inventory)
    if not record.reads:
        raise NotFoundError("no-reads", id=carrier_id)
    given = [parse_reference(text, source) for text, source in (references or {}).items()]
    with ExitStack() as stack:
        _refuse_damaged(archive, record, inventory, progress)
        majority, image, settled = None, None, None
        if by_vote is not None:
            majority, image = _voted(archive, record, inventory, by_vote, stack, progress)
            if majority.disputed.ties or majority.fill_outvotes or majority.mixed:
                plain = standing(replace(record, agreed=None))
                return Agreement(
                    id=carrier_id, agreed=settled_as(plain), comparison=None, vote=majority, recorded=False,
                    standing=plain,
                )  # fmt: skip
            settled = Agreed(
                sha256=majority.sha256, grade="voted", because="", raise_by=None, reads=(), image=None,
                voted_by=by_vote, voters=tuple(read.id for read in counted_reads(record.reads)[0]),
                vote=_because(majority, record, session),
            )  # fmt: skip
        plain = standing(replace(record, agreed=settled))
        support = next((read for read in record.reads if read.id in plain.reads), None)
        if image is None and support is not None:
            image = _stored_image(archive, carrier_id, support, inventory, stack)
        comparison = None
        if image is None:
            if given:
                raise UsageError("usage/reference-settles-nothing")
            comparison = compare_reads(archive, record, inventory, progress=progress)
            examinations = _examined_all(archive, record, inventory, stack)
        else:
            examinations, settled = _with_second_evidence(record, image, settled, given)
        found = standing(replace(record, agreed=settled, examinations=examinations))
        agreed = settled_as(found, settled)
        now = session.now()
        events = archive.read_file(carrier_id, places.EVENTS, inventory)
        event = next_event(
            last_digest(events), session, now, "validation",
            f"{plural(len(record.reads), 'read')} compared: {agreed.grade}. {agreed.because}",
            sources=[read.image_path for read in record.reads], outcomes=[] if image is None else [places.AGREED_IMAGE],
            outcome="warning" if image is None or found.open else "success",
        )  # fmt: skip
        changes: dict[str, Source | None] = {places.AGREED: write_json(agreed)}
        if examinations != record.examinations:
            changes[places.EXAMINATIONS] = write_json(list(examinations))
        changes[places.EVENTS] = append_events(events, vouched([event], changes))
        if support is not None:
            changes[places.AGREED_IMAGE] = archive.content_path(carrier_id, support.image_path, inventory)
        elif image is not None:
            changes[places.AGREED_IMAGE] = (piece for _, piece in image.pieces())
        elif places.AGREED_IMAGE in inventory.state:
            changes[places.AGREED_IMAGE] = None
        archive.commit(
            carrier_id, changes, message=f"agreed image: {agreed.grade}", user=user(session), now=now,
            expected_head=inventory.head,
        )  # fmt: skip
    remember(archive, record.kind, [one for one in examinations if one not in record.examinations])
    shown = replace(found, settled=True, recorded=agreed.grade)
    return Agreement(id=carrier_id, agreed=agreed, comparison=comparison, vote=majority, standing=shown)


def _voted(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, by: By, stack: ExitStack, progress: Progress
) -> tuple[Majority, Image]:
    """Vote over the reads that count, each file once.

    Raises:
        UsageError: `usage` for fewer than three, or for reads that hold different addresses.
        ArchiveError: `archive-damaged` for a read that is not what its record says.
    """
    # numpy, only where there is a vote
    from imagekeeper.comparison.voting import vote
    from imagekeeper.jobs.reads.voting import unused

    reads, copies = counted_reads(record.reads)
    if len(reads) < 3:
        raise UsageError(
            "usage/vote-of-few", reads=" ".join([f"{record.id} has {len(reads)} that count.", *copies]).rstrip("."),
            id=record.id,
        )  # fmt: skip
    first = reads[0].image
    if any(_shape(read.image) != _shape(first) for read in reads):
        held = (f"{r.id} {size_text(r.image.size_bytes)} from {r.image.first_address:04X}" for r in reads[:8])
        raise UsageError("usage/vote-over-addresses", ranges=held)
    images = [
        _stored_image(archive, record.id, read, inventory, stack).moved(first.first_address) for read in reads
    ]
    with progress("Voting", sum(image.size_bytes for image in images)) as advance:
        names = [f"{read.id} ({read.file})" for read in reads]
        volts = [None if read.vcc is None else float(read.vcc) for read in reads]
        weighed = volts if by == "bit" and any(volt is not None for volt in volts) else None
        kept_disk = record.kind in DISKS
        majority, image = vote(
            images, names, by=by, volts=weighed, free=unused(images), of_chip=not kept_disk, advance=advance
        )
        disk = disk_of(images, names, None) if kept_disk else None
        if disk is not None:
            majority = voted_as_disk(majority, images, names, disk)
    for read, voter in zip(reads, majority.reads, strict=True):
        if voter.sha256 != read.image.sha256:   # damaged bytes must not vote
            path = archive.content_path(record.id, read.image_path, inventory)
            raise damaged(archive.name_of(path), Phrase("archive-damaged/kept-otherwise", read=read.id))
    return majority, image


def _shape(image: ReadImage) -> list[tuple[int, int]]:
    """Give where the bytes lie, seen from the first: a shift of the whole does not matter."""
    return [(segment.start - image.first_address, segment.length) for segment in image.segments]


def _because(majority: Majority, record: CarrierRecord, session: Session) -> str:
    """Say how a vote was formed and who accepted it, without the full stop."""
    disputed, voted = majority.disputed.addresses, majority.size_bytes
    names = [read.id for read in counted_reads(record.reads)[0]]
    who = f", accepted by {session.operator}," if session.operator else ""
    return (
        f"A vote by {majority.by}s of {', '.join(names[:-1])} and {names[-1]}{who} settled {disputed} of "
        f"{plural(voted, 'address', 'addresses')}"
    )


def _refuse_damaged(archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, progress: Progress) -> None:
    """See that every read's image is what it was when it was kept: else damage would become the agreed image.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    with progress("Checking the reads", sum(read.image.size_bytes for read in record.reads)) as advance:
        for read in record.reads:
            path = archive.content_path(record.id, read.image_path, inventory)
            digest = hashlib.sha256()
            try:
                for block in file_blocks(path):
                    digest.update(block)
                    advance(len(block))
            except OSError as problem:
                raise damaged(archive.name_of(path), files.reason(problem)) from problem
            if digest.hexdigest() != read.image.sha256:
                raise damaged(archive.name_of(path), Phrase("archive-damaged/kept-otherwise", read=read.id))


def _with_second_evidence(
    record: CarrierRecord, image: Image, settled: Agreed | None, given: Sequence[Reference]
) -> tuple[tuple[Examination, ...], Agreed]:
    """Look at the image by itself, and hold references against it: those given now, and those given before.

    One that was given before and no longer fits stays with the image, as something that speaks against it.

    Raises:
        ContradictionError: `reference-mismatch` for one that was given now.
    """
    figures = fingerprints.take(image, "")
    digests = {"sha256": figures.sha256, "crc32": figures.crc32, "sha1": figures.sha1}
    for reference in given:
        check_reference(reference, digests)
    before = record.agreed.references if record.agreed else ()
    known = [*given, *(r for r in before if all(r.digest != other.digest for other in given))]
    # slow to load, and `carrier show` does without
    from imagekeeper.evidence.examining import examine, merged

    seen = examine(image, record.kind, record.part, taken=figures, checks=True)
    base = settled or Agreed(
        sha256=figures.sha256, grade="single", because="", raise_by=None, reads=(), image=None
    )
    return merged(record.examinations, [seen]), replace(base, references=tuple(known))


def _examined_all(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, stack: ExitStack
) -> tuple[Examination, ...]:
    """Look at the image of each read while they differ: what one of them shows by itself may say which is wrong."""
    from imagekeeper.evidence.examining import examine, merged  # slow to load, and `carrier show` does without

    known = {one.sha256 for one in record.examinations if one.part == record.part}
    fresh = []
    for read in record.reads:
        if read.image.size_bytes and read.image.sha256 not in known:
            known.add(read.image.sha256)
            fresh.append(examine(_stored_image(archive, record.id, read, inventory, stack), record.kind, record.part))
    return merged(record.examinations, fresh)


def compare_reads(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, *, map_columns: int = 0,
    progress: Progress = silent,
) -> Comparison:  # fmt: skip
    """Compare the images of all reads of a carrier, as they lie in the archive.

    Args:
        archive: The archive.
        record: The carrier.
        inventory: Of its newest version.
        map_columns: Into how many columns of addresses to count the differing bits; 0 for no map.
        progress: Told how far it is.

    Raises:
        UsageError: For fewer than two reads.
        ImagekeeperError: A file of the archive cannot be read.
    """
    counted = counted_reads(record.reads)[0]
    with ExitStack() as stack:
        images = [_stored_image(archive, record.id, read, inventory, stack) for read in record.reads]
        names = [f"{read.id} ({read.file})" for read in record.reads]
        kept_disk = record.kind in DISKS
        disk = disk_of(images, names, None) if kept_disk else None
        advance = stack.enter_context(progress("Comparing", sum(image.size_bytes for image in images)))
        result = compare(
            images,
            names,
            volts=[None if read.vcc is None else float(read.vcc) for read in record.reads],
            readers=[read.reader for read in record.reads],
            copies=[number for number, read in enumerate(record.reads) if read not in counted],
            map_columns=map_columns,
            **({} if kept_disk else facts_of(known_chip(record.part))),
            of_chip=not kept_disk,
            advance=advance,
        )
        return result if disk is None else as_disk(result, images, names, disk)


def _stored_image(
    archive: ArchiveStore, carrier_id: str, read: Read, inventory: Inventory, stack: ExitStack
) -> Image:
    path = archive.content_path(carrier_id, read.image_path, inventory)
    return opened_image(
        archive, path, read.image.segments, stack, container=read.container, wrapped_in=read.wrapped_in
    )
