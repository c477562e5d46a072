"""The answer: which drive reads a disk, which writes it, and what else would do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.findings import Finding
from imagekeeper.ranked import Candidate
from imagekeeper.tables import Source
from imagekeeper.tables.drives import RuleRow, rule_rows

Answer = Literal["yes", "with-care", "no"]


@dataclass(frozen=True, kw_only=True)
class Caution:
    """What a person at the bench must know or do.

    Attributes:
        rule: The name of the rule.
        text: What to know or to do.
        because: Why.
        sources: The ids of the documents that say so; none where it is from memory or computed.
        unsourced: Which of `text` and `because` are from memory or common practice, wholly or in part.
    """

    rule: str
    text: str
    because: str
    sources: tuple[str, ...]
    unsourced: tuple[str, ...]


def caution(name: str) -> Caution:
    """Find a rule by its name.

    Example:
        >>> caution("recalibrate-twice").because
        'It gives up after 77 step pulses.'
    """
    row: RuleRow = rule_rows()[name]
    unsourced = tuple("text" if name == "says" else name for name in row.unsourced)
    return Caution(
        rule=name, text=row.says, because=row.because, sources=tuple(one.id for one in row.sources),
        unsourced=unsourced,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How a drive is set for a disk.

    Attributes:
        mode: The mode of the drive: rotation and kbit/s of MFM.
        data_rate: At the speed of this drive, for the disk's own way of recording. [bit/s]
        rotation: [rev/min]
        encoding: fm, mfm or perpendicular.
        step: single, or double where the head steps twice for every track.
        density: What the density or write current line must say.
        media: The id of the class of disks to buy.
        buy: What to look for when buying.
        coercivity_oe: Figures met for that class. [oersted]
        blank: How a used disk is made blank.
        precompensation: Figures met for writing inner tracks, or null where none applies or none is known.
    """

    mode: str
    data_rate: int
    rotation: int
    encoding: str
    step: Literal["single", "double"]
    density: str
    media: str
    buy: str
    coercivity_oe: tuple[int, ...]
    blank: str
    precompensation: str | None


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What one class of drives can do for the disk.

    Attributes:
        drive: The id of the class.
        title: What it is.
        can_read: yes, with-care or no: the whole disk.
        can_write: yes, with-care or no: so that the drives that it was made for read it.
        settings: How to set it, or null where it can neither read nor write.
        alternatives: Other settings that do as well.
        because: The reasons, the deciding one first.
        cautions: What to know or to do, the weightiest first.
        sources: The ids of the documents that this rests on.
    """

    drive: str
    title: str
    can_read: Answer
    can_write: Answer
    settings: Settings | None
    alternatives: tuple[Settings, ...]
    because: tuple[str, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class CableLine:
    """A line of an 8-inch drive's 50, and where it goes on the 34 of smaller drives.

    Attributes:
        signal: What it carries.
        fifty: The pin of the 50-line interface.
        thirty_four: The pin of the 34-line interface.
        disputed: What speaks against it.
    """

    signal: str
    fifty: int
    thirty_four: int
    disputed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Substitute:
    """A drive that looks the same to the machine's controller, and takes other disks.

    Attributes:
        drive: The id of the class.
        title: What it is.
        instead_of: The id of the class that it replaces.
        same: What is the same.
        settings: How to set it.
        adapt: What must be adapted.
        wires: The lines of an adapter between 50 and 34, where one is needed.
        not_solved: What it does not solve.
        cautions: What to know or to do, the weightiest first.
        sources: The ids of the documents that this rests on.
    """

    drive: str
    title: str
    instead_of: str
    same: str
    settings: Settings
    adapt: tuple[str, ...]
    wires: tuple[CableLine, ...]
    not_solved: tuple[str, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class OwnVerdict:
    """What one drive on the bench can do for the disk.

    Attributes:
        name: What its owner calls it.
        verdict: What it can do, with the best controller of the bench where there are some, and how it is set.
        disks: How many disks of the class to be used are there; null where nobody counted, 0 for none.
        controller: That controller, as its owner calls it; null where the bench has none, or none that can.
    """

    name: str
    verdict: Verdict
    disks: int | None
    controller: str | None = None


@dataclass(frozen=True)
class Wanted:
    """A thing to buy or to borrow.

    Attributes:
        kind: drive, controller, cable or disk.
        classes: The ids of the classes that do, the best first; none where no class of the tables does.
        says: What to ask for.
        because: Why what is at hand does not do, or null where nothing of the kind is.
    """

    kind: Literal["drive", "controller", "cable", "disk"]
    classes: tuple[str, ...]
    says: str
    because: str | None = None


@dataclass(frozen=True, kw_only=True)
class Solution:
    """A drive, what drives it, the cable between them and the disk: one way to write the disk.

    Attributes:
        drive: What its owner calls it, or null where it must be got.
        drive_class: The id of its class.
        controller: What its owner calls it, or null where it must be got or nothing is known of the controllers.
        controller_class: The id of its class, or null.
        cable: What its owner calls it, or null where it must be got or nothing is known of the cables.
        cable_class: The id of its class, or null.
        disks: How many disks of the class to be used are there; null where nobody counted, 0 for none.
        can_write: yes or with-care.
        settings: How the drive is set.
        missing: What must be bought or borrowed.
        shown: What trials with the machine's drive showed of this drive.
        proved: Whether a fresh one showed that the machine reads what it writes.
        cautions: What to know or to do before anything is connected, the weightiest first.
        harm: What a wrong use of the cable destroys, or null where it has none of the table's.
        sources: The ids of the documents on controller and cable.
    """

    drive: str | None
    drive_class: str
    controller: str | None
    controller_class: str | None
    cable: str | None
    cable_class: str | None
    disks: int | None
    can_write: Answer
    settings: Settings
    missing: tuple[Wanted, ...]
    shown: tuple[str, ...]
    proved: bool
    cautions: tuple[Caution, ...]
    harm: str | None
    sources: tuple[str, ...]


@dataclass(frozen=True)
class BenchAnswer:
    """What the bench can do for a disk.

    Attributes:
        says: The answer in a sentence or two.
        drives: Every drive of the bench, the best first.
        solutions: Every way to write the disk, the best first, with what is missing for it.
    """

    says: str
    drives: tuple[OwnVerdict, ...]
    solutions: tuple[Candidate[Solution], ...] = ()


@dataclass(frozen=True, kw_only=True)
class DriveMatch:
    """Which drives can read and write a disk, how to set them, and what else would do for its machine.

    Attributes:
        format: The id of the format in the catalogue, or null.
        other_formats: The ids of other formats that the file may be as well; none where the format was named.
        disk: The disk in words.
        says: The answer in a sentence.
        drives: Every class of drives, the best to write the disk first.
        substitutes: Drives of other disks that would do for the machine, the best first.
        sources: The documents that all of it rests on.
        request: What to ask a friend for, ready to be sent; null where nothing is wanting on the bench.
        bench: What the drives at hand can do, or null where no bench is known.
        own: Which rows that a person wrote it rests on.
        assumes: What is taken for granted of controller and cable, because nothing is known of them, or null.
    """

    SCHEMA: ClassVar[Literal["drive-match/1"]] = "drive-match/1"

    format: str | None
    other_formats: tuple[str, ...]
    disk: str
    says: str
    drives: tuple[Verdict, ...]
    substitutes: tuple[Substitute, ...]
    sources: tuple[Source, ...]
    request: str | None
    bench: BenchAnswer | None
    own: tuple[Finding, ...] = ()
    assumes: str | None = None

    @property
    def exit_code(self) -> int:
        """1 when no drive of the table writes the disk."""
        return 0 if any(one.can_write != "no" for one in self.drives) else 1
