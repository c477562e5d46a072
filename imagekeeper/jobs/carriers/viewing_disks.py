"""Add to the record of a disk what is on it."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.carriers.extracting import stored
from imagekeeper.jobs.disks.contents import disk_contents
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.sentences.say import Phrase


def with_contents(archive: ArchiveStore, record: CarrierRecord) -> CarrierRecord:
    """Add to a disk's record what is on it: of its agreed image, or of its first read where none is agreed.

    A file that is damaged or too large is passed over: the audit tells of it.
    """
    if record.kind not in DISKS:
        return record
    agreed = record.agreed is not None and record.agreed.image is not None
    what = "agreed" if agreed else record.reads[0].id if record.reads else None
    if what is None:
        return record
    with ExitStack() as stack:
        try:
            found = stored(archive, record, archive.inventory(record.id), what, stack)
        except ImagekeeperError:
            return record
        if len(found.image.segments) != 1:
            return record
        seen = disk_contents(found.image.segments[0].data, "FILE")
    if seen is None:
        return record
    return replace(record, contents=replace(
        seen, next=str(Phrase("step/take-image-out", id=record.id, image=what, then=seen.next))
    ))  # fmt: skip
