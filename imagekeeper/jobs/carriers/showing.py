"""Everything that is known of a carrier, with what the record shows by itself."""

from __future__ import annotations

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.evidence.outdated import with_findings
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.records import CarrierRecord


def show_carrier(archive: ArchiveStore, carrier_id: str) -> CarrierRecord:
    """Give a carrier's record, with a word on reads that came after its image was settled, and what is on a disk.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged`.
    """
    record = with_findings(load_record(archive, carrier_id))
    if record.kind not in DISKS:
        return record
    from imagekeeper.jobs.carriers.viewing_disks import with_contents  # the readers of disks, only for a disk

    return with_contents(archive, record)
