"""Settle the image that a carrier's reads support, and grade the evidence."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper import files, fingerprints
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source, file_blocks
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.comparison.majority import By, Majority
from imagekeeper.containers.model import Image
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jobs.carriers.extracting import opened_image
from imagekeeper.jobs.reads.comparing import pin_names
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.grades import Vote, counted_reads, grade
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import NAMES, Reference, check_reference, parse_reference
from imagekeeper.units import plural, size_text


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """What the reads of a carrier agree on.

    Attributes:
        id: The carrier's id.
        agreed: The image and its grade.
        comparison: Where the reads differ, or null where they do not and after a vote.
        vote: The vote that was asked for, or null.
        recorded: Whether the archive was changed: a vote that leaves ties, or in which fill outvotes content, is not.
    """

    SCHEMA: ClassVar[Literal["agreement/1"]] = "agreement/1"

    id: str
    agreed: Agreed
    comparison: Comparison | None
    vote: Majority | None = None
    recorded: bool = True

    @property
    def exit_code(self) -> int:
        """1 where the reads dispute the image, else 0."""
        return 1 if self.agreed.grade == "disputed" else 0


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

    A vote is accepted only where every address has a majority, and fill outvotes no content; otherwise nothing is
    recorded.

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
        raise NotFoundError(
            "no-reads", f"{carrier_id} has no read to compare", why="no file was added to it yet",
            hint=f"read the chip or disk, then: imagekeeper carrier read {carrier_id} FILE",
        )  # fmt: skip
    given = [parse_reference(text, source) for text, source in (references or {}).items()]
    with ExitStack() as stack:
        _refuse_damaged(archive, record, inventory, progress)
        majority, image, accepted = None, None, None
        if by_vote is not None:
            majority, image = _voted(archive, record, inventory, by_vote, stack, progress)
            if majority.disputed.ties or majority.fill_outvotes:
                return Agreement(
                    id=carrier_id, agreed=grade(record.reads), comparison=None, vote=majority, recorded=False
                )
            accepted = Vote(majority.sha256, _because(majority, record, session))
        plain = grade(record.reads, accepted)
        support = next((read for read in record.reads if read.id in plain.reads), None)
        if image is None and support is not None:
            image = _stored_image(archive, carrier_id, support, inventory, stack)
        agreed = plain if image is None else _with_second_evidence(record, image, accepted, given)
        if majority is not None and by_vote is not None:
            agreed = replace(agreed, voted_by=by_vote, voters=tuple(read.id for read in counted_reads(record.reads)[0]))
        if image is None and given:
            raise UsageError(
                "usage", "a reference cannot settle what the reads dispute", why="the reads of the carrier differ",
                hint="find out why first: imagekeeper carrier agree without --reference shows where they differ",
            )  # fmt: skip
        comparison = None
        if image is None:
            comparison = compare_reads(archive, record, inventory, progress=progress)
        now = session.now()
        events = archive.read_file(carrier_id, places.EVENTS, inventory)
        event = next_event(
            last_digest(events), session, now, "validation",
            f"{plural(len(record.reads), 'read')} compared: {agreed.grade}. {agreed.because}",
            sources=[read.image_path for read in record.reads], outcomes=[] if image is None else [places.AGREED_IMAGE],
            outcome="warning" if image is None else "success",
        )  # fmt: skip
        changes: dict[str, Source | None] = {
            places.AGREED: write_json(agreed),
            places.EVENTS: append_events(events, [event]),
        }
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
    return Agreement(id=carrier_id, agreed=agreed, comparison=comparison, vote=majority)


def _voted(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, by: By, stack: ExitStack, progress: Progress
) -> tuple[Majority, Image]:
    """Vote over the reads that count, each file once.

    Raises:
        UsageError: `usage` for fewer than three, or for reads that hold different addresses.
        ArchiveError: `archive-damaged` for a read that is not what its record says.
    """
    from imagekeeper.comparison.voting import vote  # numpy, only where there is a vote

    reads, copies = counted_reads(record.reads)
    if len(reads) < 3:
        raise UsageError(
            "usage", "a vote needs at least three reads",
            why=" ".join([f"{record.id} has {len(reads)} that count.", *copies]).rstrip("."),
            hint=f"read it again, then: imagekeeper carrier read {record.id} FILE",
        )  # fmt: skip
    first = reads[0].image
    if any(_shape(read.image) != _shape(first) for read in reads):
        held = (f"{r.id} {size_text(r.image.size_bytes)} from {r.image.first_address:04X}" for r in reads[:8])
        raise UsageError(
            "usage", "a vote cannot settle which addresses belong to the image",
            why=f"the reads hold different ones: {', '.join(held)}",
            hint="find out which size is right, and read again; imagekeeper carrier agree shows where they differ",
        )  # fmt: skip
    images = [
        _stored_image(archive, record.id, read, inventory, stack).moved(first.first_address) for read in reads
    ]
    with progress("Voting", sum(image.size_bytes for image in images)) as advance:
        names = [f"{read.id} ({read.file})" for read in reads]
        volts = [None if read.vcc is None else float(read.vcc) for read in reads]
        weighed = volts if by == "bit" and any(volt is not None for volt in volts) else None
        majority, image = vote(images, names, by=by, volts=weighed, advance=advance)
    for read, voter in zip(reads, majority.reads, strict=True):
        if voter.sha256 != read.image.sha256:   # damaged bytes must not vote
            path = archive.content_path(record.id, read.image_path, inventory)
            raise damaged(archive.name_of(path), f"its SHA-256 is not the one that {read.id} was kept with")
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
                raise damaged(archive.name_of(path), f"its SHA-256 is not the one that {read.id} was kept with")


def _with_second_evidence(
    record: CarrierRecord, image: Image, accepted: Vote | None, given: Sequence[Reference]
) -> Agreed:
    """Grade again with what else speaks for the image: digests from outside, and checksums inside it.

    References that were given before are held against the image again. One that no longer fits, because another image
    was settled since, is set aside, and the reason for the grade says so.

    Raises:
        ContradictionError: `reference-mismatch` for one that was given now.
    """
    figures = fingerprints.take(image, "")
    digests = {"sha256": figures.sha256, "crc32": figures.crc32, "sha1": figures.sha1}
    for reference in given:
        check_reference(reference, digests)
    known, aside = list(given), []
    for reference in record.agreed.references if record.agreed else ():
        if digests.get(reference.algorithm) != reference.digest:   # also where another program wrote another digest
            aside.append(reference)
        elif all(reference.digest != other.digest for other in known):
            known.append(reference)
    # slow to load, and `carrier show` does without
    from imagekeeper.selfchecks.search import own_checks

    agreed = grade(record.reads, accepted, references=known, own_checks=own_checks(image))
    if not aside:
        return agreed
    said = ", ".join(
        f"{NAMES.get(r.algorithm, r.algorithm)} {r.digest}" + (f" from {r.source}" if r.source else "") for r in aside
    )
    return replace(agreed, because=f"{agreed.because} A reference given earlier is not that of this image: {said}.")


def compare_reads(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, *, progress: Progress = silent
) -> Comparison:
    """Compare the images of all reads of a carrier, as they lie in the archive.

    Raises:
        UsageError: For fewer than two reads.
        ImagekeeperError: A file of the archive cannot be read.
    """
    with ExitStack() as stack:
        images = [_stored_image(archive, record.id, read, inventory, stack) for read in record.reads]
        advance = stack.enter_context(progress("Comparing", sum(image.size_bytes for image in images)))
        return compare(
            images,
            [f"{read.id} ({read.file})" for read in record.reads],
            volts=[None if read.vcc is None else float(read.vcc) for read in record.reads],
            pins=_pins(record),
            advance=advance,
        )


def _pins(record: CarrierRecord) -> dict[str, str]:
    """Name the pins of the carrier's part, where the tables know it."""
    if record.part is None:
        return {}
    with suppress(NotFoundError):
        return pin_names(record.part)
    return {}


def _stored_image(
    archive: ArchiveStore, carrier_id: str, read: Read, inventory: Inventory, stack: ExitStack
) -> Image:
    path = archive.content_path(carrier_id, read.image_path, inventory)
    return opened_image(
        archive, path, read.image.segments, stack, container=read.container, wrapped_in=read.wrapped_in
    )
