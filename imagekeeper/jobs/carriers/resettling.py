"""Weigh a carrier again after something of its evidence changed, and give what is to be recorded of that."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace

from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.evidence.contradictions import EXAMINED_BYTES
from imagekeeper.evidence.resting import unfounded
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.carriers.extracting import opened_image
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.testimony import Examination


@dataclass(frozen=True)
class Resettled:
    """How a carrier stands after a change of its evidence.

    Attributes:
        changes: The files to be written with the change.
        said: What came of it, in words for the event; empty where nothing did.
    """

    changes: Mapping[str, Source | None]
    said: str


def examined_anew(
    archive: ArchiveStore, inventory: Inventory, record: CarrierRecord
) -> tuple[Examination, ...]:
    """Look again at every image of a carrier that was looked at: another part may be named since, or a newer rule be.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    from imagekeeper.evidence.examining import examine, merged  # slow to load: only where images are looked at

    known = {one.sha256: one for one in record.examinations}
    fresh: dict[str, Examination] = {}
    for read in (*record.reads, *record.withdrawn):   # what was taken back can be told again, too
        image = read.image
        if image.sha256 in fresh or not 0 < image.size_bytes <= EXAMINED_BYTES:
            continue
        with ExitStack() as stack:
            path = archive.content_path(record.id, read.image_path, inventory)
            held = opened_image(archive, path, image.segments, stack, container=read.container)
            checks = image.sha256 in known and known[image.sha256].checks is not None
            fresh[image.sha256] = examine(held, record.kind, record.part, checks=checks)
    return merged(record.examinations, list(fresh.values()))


def resettled(archive: ArchiveStore, inventory: Inventory, record: CarrierRecord) -> Resettled:
    """Settle the agreed image again, where it was settled: from the evidence that is left.

    Args:
        archive: The archive.
        inventory: The carrier's inventory before the change.
        record: The carrier after the change.
    """
    before = record.agreed
    if before is None:
        return Resettled({}, "")
    base = _base(record, before)
    found = standing(replace(record, agreed=base))
    after = settled_as(found, base)
    if _same(before, after):
        return Resettled({}, "")
    changes: dict[str, Source | None] = {places.AGREED: write_json(after)}
    if after.sha256 != before.sha256 or (after.image is None) != (before.image is None):
        support = next((read for read in record.reads if read.id in after.reads), None)
        if support is not None:
            changes[places.AGREED_IMAGE] = archive.content_path(record.id, support.image_path, inventory)
        elif places.AGREED_IMAGE in inventory.state:
            changes[places.AGREED_IMAGE] = None
    said = f"the grade is {after.grade}, it was {before.grade}"
    if after.sha256 != before.sha256:
        said += f"; the agreed image is {after.sha256 or 'none'}, it was {before.sha256 or 'none'}"
    for made in dependents(record, after):
        said += f"; {made} rests on what is no evidence any more"
    return Resettled(changes, said)


def _base(record: CarrierRecord, before: Agreed) -> Agreed:
    """Keep what a person decided; a vote stands only as long as all that voted do."""
    there = {read.id for read in record.reads}
    if before.voted_by is not None and not there.issuperset(before.voters):
        return replace(before, sha256=None, voted_by=None, voters=(), vote=None)
    return before


def _same(before: Agreed, after: Agreed) -> bool:
    return (before.sha256, before.grade, before.reads, before.open, before.because) == (
        after.sha256, after.grade, after.reads, after.open, after.because,
    )  # fmt: skip


def dependents(record: CarrierRecord, agreed: Agreed | None) -> list[str]:
    """Name the derived images and replacements that were made from images of the carrier which are none any more."""
    return [one.id for one in unfounded(replace(record, agreed=agreed), {})]


def weighed_again(archive: ArchiveStore, inventory: Inventory, record: CarrierRecord) -> Resettled:
    """Look at the images again where one was not held against the part that is named, and settle again.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    changes: dict[str, Source | None] = {}
    seen = {one.sha256 for one in record.examinations if one.part == record.part}
    reads = (*record.reads, *record.withdrawn)
    if any(read.image.size_bytes and read.image.sha256 not in seen for read in reads):
        examinations = examined_anew(archive, inventory, record)
        if examinations != record.examinations:
            changes[places.EXAMINATIONS] = write_json(list(examinations))
            record = replace(record, examinations=examinations)
    found = resettled(archive, inventory, record)
    return Resettled({**changes, **found.changes}, found.said)
