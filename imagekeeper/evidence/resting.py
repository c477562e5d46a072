"""Which derived images and replacements rest on what is no evidence any more, over the carriers that they name."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from imagekeeper.findings import Finding
from imagekeeper.provenance.derivations import DerivationSource
from imagekeeper.provenance.records import CarrierRecord


@dataclass(frozen=True)
class Unfounded:
    """A derived image or a replacement that was made from an image which is none any more.

    Attributes:
        id: Its id within its carrier: d1, w1.
        sources: What it was made from and cannot be relied upon, each with its carrier.
    """

    id: str
    sources: tuple[str, ...]


def unfounded(record: CarrierRecord, others: Mapping[str, CarrierRecord]) -> tuple[Unfounded, ...]:
    """Name what was made from images which are none any more.

    A read that was taken back is none, unless another holds the same bytes; nor is an image that was agreed on and is
    not the agreed one now, nor what was derived from such. Of carriers whose records are not given nothing is said.

    Args:
        record: The carrier.
        others: Records of carriers that its derived images name as sources, and so on from there, by their ids.

    Returns:
        Derived images first, then replacements, each in the order of the record.
    """
    records = {**others, record.id: record}
    sound = _sound(records)
    found = []
    for made in record.derivations:
        if (record.id, made.id) not in sound:
            gone = [one for one in made.sources if not _stands(records, sound, one)]
            found.append(Unfounded(made.id, tuple(dict.fromkeys(f"{one.carrier} {one.what}" for one in gone))))
    for new in record.replacements:
        if not _stands(records, sound, DerivationSource(record.id, new.image, new.sha256)):
            found.append(Unfounded(new.id, (f"{record.id} {new.image}",)))
    return tuple(found)


def resting_finding(record: CarrierRecord, others: Mapping[str, CarrierRecord]) -> Finding | None:
    """Say which derived images and replacements rest on what is no evidence any more; None where all is well."""
    found = unfounded(record, others)
    if not found:
        return None
    made = [one.id for one in found]
    sources = list(dict.fromkeys(name for one in found for name in one.sources))
    return Finding.of("derived-outdated", "warning", 1.0, id=record.id, detail={"made": made, "sources": sources})


_Made = tuple[str, str]


def _sound(records: Mapping[str, CarrierRecord]) -> dict[_Made, str]:
    """Give the derived images that can be relied upon, from those made of reads and agreed images on, with digests.

    What goes round in a circle rests on nothing.
    """
    digests = {(one.id, made.id): made.sha256 for one in records.values() for made in one.derivations}
    sound: dict[_Made, str] = {}
    waiting: dict[_Made, list[tuple[_Made, DerivationSource]]] = {}
    missing: dict[_Made, int] = {}
    ready: deque[_Made] = deque()
    for record in records.values():
        for made in record.derivations:
            key = (record.id, made.id)
            derived = [one for one in made.sources if (one.carrier, one.what) in digests]
            missing[key] = len(made.sources)   # a source that fails is never met
            missing[key] -= sum(_stands(records, sound, one) for one in made.sources if one not in derived)
            for one in derived:
                waiting.setdefault((one.carrier, one.what), []).append((key, one))
            if not missing[key]:
                ready.append(key)
    while ready:
        key = ready.popleft()
        sound[key] = digests[key]
        for other, source in waiting.get(key, ()):
            missing[other] -= source.sha256 == digests[key]
            if not missing[other]:
                ready.append(other)
    return sound


def _stands(records: Mapping[str, CarrierRecord], sound: Mapping[_Made, str], source: DerivationSource) -> bool:
    record = records.get(source.carrier)
    if record is None:
        return True   # it cannot be told
    if source.what == "agreed":
        return record.agreed is not None and record.agreed.sha256 == source.sha256
    if any(made.id == source.what for made in record.derivations):
        return sound.get((source.carrier, source.what)) == source.sha256
    return any(read.image.sha256 == source.sha256 for read in record.reads)
