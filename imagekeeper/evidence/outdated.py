"""What a record shows by itself: reads that came after its agreed image was settled."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.evidence.standing import standing
from imagekeeper.findings import Finding
from imagekeeper.provenance.records import CarrierRecord


def with_findings(record: CarrierRecord) -> CarrierRecord:
    """Add what the record itself shows: reads that came after the agreed image was settled."""
    found = _outdated(record)
    return replace(record, findings=(*record.findings, found)) if found else record


def _outdated(record: CarrierRecord) -> Finding | None:
    if record.agreed is None:
        return None
    weighed = {o.identifier for event in record.events if event.type == "validation" for o in event.objects}
    unseen = [read.id for read in record.reads if read.image_path not in weighed]
    if not unseen:
        return None
    today = record.standing or standing(record)
    about = "agreed-outdated/agree" if today.sha256 == record.agreed.sha256 else "agreed-outdated/differ"
    return Finding.of(about, "warning", 1.0, id=record.id, detail={"reads": unseen})
