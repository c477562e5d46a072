"""What a record shows by itself: late reads, and own rows that it rests on."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.standing import standing
from imagekeeper.findings import Finding
from imagekeeper.own import in_force
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.records import CarrierRecord


def with_findings(record: CarrierRecord) -> CarrierRecord:
    """Add what the record itself shows: reads that came after the agreed image was settled, own rows of its parts."""
    late = _outdated(record)
    found = (*record.findings, *([late] if late else []), *_own_rows(record))
    return replace(record, findings=found) if found != record.findings else record


def _own_rows(record: CarrierRecord) -> tuple[Finding, ...]:
    """Name the own rows that its verdict rests on: those of its part, and of the parts that replace it."""
    if record.kind not in CHIPS or not in_force().rows:
        return ()
    chips = map(known_chip, dict.fromkeys((record.part, *(made.part for made in record.replacements))))
    return tuple({own.why: own for chip in chips if chip is not None for own in chip.own}.values())


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
