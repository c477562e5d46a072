"""What the pages show: values only, gathered by whoever has the archive."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.pages.risks import Risk
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.standing import Standing

#: How a carrier stands: the grade of its evidence, or that its record or files are not what was kept.
State = Grade | Literal["unreadable", "damaged"]

#: From what needs a person most to what needs nobody.
STATES: tuple[State, ...] = (
    "unreadable", "damaged", "none", "disputed", "single", "voted", "repeated", "independent", "corroborated",
)  # fmt: skip


@dataclass(frozen=True)
class Made:
    """When and from what a page was made.

    Attributes:
        time: RFC 3339.
        software: The program and its version.
        title: What the keeper of the archive calls it; may be empty.
        uuid: The archive's identity.
    """

    time: str
    software: str
    title: str
    uuid: str


@dataclass(frozen=True, kw_only=True)
class CarrierEntry:
    """A carrier in a list.

    Attributes:
        id: Its id.
        kind: Its kind, or None where its record cannot be read; so are all that follow.
        part: Its type as marked.
        machine: The machine that it names.
        board: Its board.
        position: Its place there.
        label: What is written on it.
        reads: How many reads it has.
        state: How it stands.
        recorded: Whether that was recorded by `carrier agree`, or is only how its reads stand.
        problem: What is damaged, or None.
        open: The codes of what speaks against its image or record.
        explained: The codes of what did, and was explained.
        taken_out: Why it was taken out of the collection, or None where it is in it.
    """

    id: str
    kind: str | None
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    label: str | None
    reads: int
    state: State
    recorded: bool
    problem: str | None = None
    open: tuple[str, ...] = ()
    explained: tuple[str, ...] = ()
    taken_out: str | None = None


@dataclass(frozen=True, kw_only=True)
class KeptFile:
    """A file of a carrier, read again when the page was made.

    Attributes:
        path: Within the carrier's object.
        about: What it is.
        size_bytes: Its size, or None where it cannot be read. [byte]
        sha256: Its SHA-256, or None.
        problem: Why it is not what it was when it was kept, or None.
    """

    path: str
    about: str
    size_bytes: int | None
    sha256: str | None
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A photograph on a page.

    Attributes:
        alt: What it shows, for people who cannot see it.
        caption: What it shows, for all; may be empty.
        data_uri: The picture itself, or None where it is not on the page.
        href: The whole file beside the pages, or None.
        why: Why it is not shown or not copied, or empty.
    """

    alt: str
    caption: str
    data_uri: str | None
    href: str | None
    why: str = ""


@dataclass(frozen=True)
class MachineEntry:
    """A machine in a list.

    Attributes:
        name: What it is called.
        href: Its page.
        rows: Its carriers in the collection.
        taken_out: Why it was taken out of the collection, or None where it is in it.
    """

    name: str
    href: str
    rows: tuple[CarrierEntry, ...]
    taken_out: str | None = None


@dataclass(frozen=True, kw_only=True)
class IndexPage:
    """The collection, and apart from it what was taken out."""

    title: str
    made: Made
    machines: tuple[MachineEntry, ...]
    rows: tuple[CarrierEntry, ...]
    risks: tuple[Risk, ...]
    whole: bool
    taken_out: tuple[CarrierEntry, ...] = ()


@dataclass(frozen=True, kw_only=True)
class MachinePage:
    """One machine; `record` is None where only carriers name it."""

    title: str
    made: Made
    record: MachineRecord | None
    rows: tuple[CarrierEntry, ...]
    pictures: tuple[Picture, ...] = ()
    problem: str | None = None
    taken_out: tuple[CarrierEntry, ...] = ()

    @property
    def boards(self) -> tuple[tuple[str | None, tuple[CarrierEntry, ...]], ...]:
        """The boards in order, each with its carriers in the order of their designators; no board comes last."""
        names = sorted({row.board for row in self.rows}, key=lambda name: (name is None, in_order(name or "")))
        return tuple((name, sorted_rows([row for row in self.rows if row.board == name])) for name in names)


@dataclass(frozen=True, kw_only=True)
class CarrierPage:
    """One carrier.

    Attributes:
        title: Of the page.
        made: When and from what.
        record: What is known of it, or None where that cannot be read; then `problem` says why.
        row: The same in short.
        standing: How its evidence stands.
        files: Its files, read again.
        machine_href: The page of its machine, from the index.
        pictures: Its photographs.
        comparison: Of its reads, with a map where bytes differ; None where all are equal, or it could not be made.
        uncompared: Why reads that are not all equal were not compared, or empty.
        inspection: Of the agreed image, or of the first read.
        inspected: Of which of them.
        problem: What is damaged.
        hint: What to do about it.
    """

    title: str
    made: Made
    record: CarrierRecord | None
    row: CarrierEntry
    standing: Standing | None
    files: tuple[KeptFile, ...]
    machine_href: str | None = None
    pictures: tuple[Picture, ...] = ()
    comparison: Comparison | None = None
    uncompared: str = ""
    inspection: Inspection | None = None
    inspected: str = ""
    problem: str | None = None
    hint: str | None = None

    @property
    def damaged(self) -> tuple[KeptFile, ...]:
        """The files that are not what they were."""
        return tuple(file for file in self.files if file.problem)


def sorted_rows(rows: Sequence[CarrierEntry]) -> tuple[CarrierEntry, ...]:
    """Sort carriers by their designators as people count: U4 before U17."""
    return tuple(sorted(rows, key=lambda row: (row.position is None, in_order(row.position or ""), in_order(row.id))))


def in_order(text: str) -> list[tuple[int, int, str]]:
    """Give a key that sorts numbers within names by their value.

    Example:
        >>> sorted(["U17", "U4", "IC2"], key=in_order)
        ['IC2', 'U4', 'U17']
    """
    parts: list[tuple[int, int, str]] = []
    word = number = ""
    for c in text.casefold()[:200] + "\0":
        if c.isascii() and c.isdigit():
            number += c
            continue
        if number:
            parts += [(1, 0, word), (0, int(number), "")]
            word = number = ""
        word += c
    return [*parts, (1, 0, word)]


#: What a report consists of.
Page = IndexPage | MachinePage | CarrierPage
