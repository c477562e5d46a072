"""Whether derived images and replacements still rest on evidence, which may lie in other carriers."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError
from imagekeeper.evidence.resting import resting_finding
from imagekeeper.provenance.records import CarrierRecord

#: So many carriers are looked up for one; no set of chips is larger.
MOST_CARRIERS = 256


def with_resting(archive: ArchiveStore, record: CarrierRecord) -> CarrierRecord:
    """Add a finding where derived images or replacements rest on what is no evidence any more.

    Of a source whose carrier is not in this archive, or cannot be read, nothing is said: an audit names damage.
    """
    if not record.derivations and not record.replacements:
        return record
    found = resting_finding(record, _sources(archive, record))
    return replace(record, findings=(*record.findings, found)) if found else record


def _sources(archive: ArchiveStore, record: CarrierRecord) -> dict[str, CarrierRecord]:
    """Load the carriers that something was derived from, and those that they name in turn."""
    others: dict[str, CarrierRecord] = {}
    seen, todo = {record.id}, [record]
    while todo and len(seen) <= MOST_CARRIERS:
        for made in todo.pop().derivations:
            for name in dict.fromkeys(one.carrier for one in made.sources):
                if name in seen or len(seen) > MOST_CARRIERS:
                    continue
                seen.add(name)
                try:
                    others[name] = load_record(archive, name)
                except ImagekeeperError:
                    continue
                todo.append(others[name])
    return others
