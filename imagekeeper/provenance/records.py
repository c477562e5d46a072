"""The record of a carrier: what is written into its files, and the whole as the commands show it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from imagekeeper.findings import Finding
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.contents import DiskContents
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import Event
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import Replacement
from imagekeeper.provenance.standing import Standing
from imagekeeper.provenance.testimony import Deaccession, Erased, Examination, MachineTrial, StatedReason, Withdrawal


@dataclass(frozen=True, kw_only=True)
class Carrier:
    """The physical thing that holds data.

    Attributes:
        id: Its id in this archive, which is also its folder's name.
        uuid: Its identity across archives.
        kind: One of the kinds of carrier.
        part: Its type as marked, such as 27128; null when unknown.
        machine: The machine it belongs to, or null.
        board: The board it sits on, or null.
        position: The designator beside its socket, the drive, or the place on the shelf, or null.
        label: What is written on it, line by line as it stands there, or null.
        note: Anything else that was known when it was added, or null.
        created: When it was added to the archive, RFC 3339.
        markings: What its maker printed on it, line by line, or null.
        date_code: The date code among the markings, as it stands there, such as 8512, or null.
        package: Its package, such as a 28-pin ceramic DIP with a window, or null.
        condition: What can be seen of its state, or null.
    """

    id: str
    uuid: str
    kind: str
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    label: str | None
    note: str | None
    created: str
    markings: str | None = None
    date_code: str | None = None
    package: str | None = None
    condition: str | None = None


@dataclass(frozen=True, kw_only=True)
class CarrierRecord:
    """Everything that the archive knows about one carrier.

    Attributes:
        id: The carrier's id.
        kind: One of the kinds of carrier.
        machine: The machine it belongs to, or null.
        board: The board it sits on, or null.
        position: Where it sits on the board or elsewhere, or null.
        reads: Its reads, in the order they were added.
        agreed: The agreed image and its grade, or null where none was settled yet.
        replacements: New chips or disks made from its images.
        events: What happened to it, in order.
        findings: What checks noticed.
        uuid: Its identity across archives.
        part: Its type as marked, or null.
        label: What is written on it, or null.
        note: What was known when it was added, or null.
        created: When it was added, RFC 3339.
        notes: Remarks, in the order they were made.
        photos: Pictures of it.
        version: How often its record was changed, counting its creation.
        markings: What its maker printed on it, or null.
        date_code: The date code among the markings, or null.
        package: Its package, or null.
        condition: What can be seen of its state, or null.
        derivations: Images made from its images.
        contents: What is on a disk, or null where it was not looked at, or nothing is recognised.
        examinations: What images showed by themselves.
        explanations: Why contradictions are none, as people said.
        trials: How images did in the machine.
        withdrawals: What was taken back, with the reasons.
        withdrawn: The reads that were taken back: kept, and no evidence any more.
        deaccessions: Where it is not in the collection any more: that it was taken out, when and why.
        erased: Where it is only the stub of an erased carrier: what that was; else null.
        standing: How the evidence stands today: derived from all this, never kept.
    """

    SCHEMA: ClassVar[str] = "carrier/1"

    id: str
    kind: str
    machine: str | None
    board: str | None
    position: str | None
    reads: tuple[Read, ...]
    agreed: Agreed | None
    replacements: tuple[Replacement, ...]
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    uuid: str
    part: str | None
    label: str | None
    note: str | None
    created: str
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    version: int = 1
    markings: str | None = None
    date_code: str | None = None
    package: str | None = None
    condition: str | None = None
    derivations: tuple[Derivation, ...] = ()
    contents: DiskContents | None = None
    examinations: tuple[Examination, ...] = ()
    explanations: tuple[StatedReason, ...] = ()
    trials: tuple[MachineTrial, ...] = ()
    withdrawals: tuple[Withdrawal, ...] = ()
    withdrawn: tuple[Read, ...] = ()
    deaccessions: tuple[Deaccession, ...] = ()
    erased: Erased | None = None
    standing: Standing | None = None


def without_withdrawn(record: CarrierRecord) -> CarrierRecord:
    """Set apart what was taken back: it is no evidence any more, and a deaccession holds no longer."""
    back = {one.what for one in record.withdrawals}
    if not back:
        return record
    return replace(
        record,
        reads=tuple(read for read in record.reads if read.id not in back),
        withdrawn=(*record.withdrawn, *(read for read in record.reads if read.id in back)),
        explanations=tuple(one for one in record.explanations if one.id not in back),
        trials=tuple(one for one in record.trials if one.id not in back),
        photos=tuple(one for one in record.photos if one.path not in back),
        deaccessions=tuple(one for one in record.deaccessions if one.id not in back),
    )
