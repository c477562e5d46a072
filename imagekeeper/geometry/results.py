"""The answer: which disk it may be."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.ranked import Evidence

#: What is on a disk speaks for an answer when it weighs so much at least: as two FATs, or a directory on its track.
SPEAKS = 1.0


@dataclass(frozen=True, kw_only=True)
class GeometryCandidate:
    """One possible answer.

    Attributes:
        format: The id of the format in the table, the most usual of `formats`, or null where the table has none.
        formats: The ids of all formats of this very geometry and recording: they differ in the disk, which a file does
            not show.
        cylinders: Tracks on each side.
        heads: Sides: 1 or 2.
        sectors: On each track.
        sector_bytes: Their size. [byte]
        encoding: fm, mfm or perpendicular.
        data_rate: At `rotation`; another drive must write as many bits in a revolution. [bit/s]
        rotation: [rev/min]
        short_bytes: What the file lacks of this geometry. [byte]
        extra_bytes: What the file has beyond it. [byte]
        data_start: Where in the file the first sector begins: 0 unless there is a header in front. [byte]
        side_order: In which order the file has the tracks of two sides: alternating (side 0, side 1, next cylinder),
            side-after-side (all of side 0, then all of side 1), side-1-reversed (the same, side 1 from its last track
            to its first); null where the content does not tell, and on one side.
        score: From 0 (excluded) to 1 (certain), comparable only within one ranking: the share of this candidate when
            the weights are taken as logarithms of odds, beside an unknown disk.
        evidence: The reasons, strongest first.
        content: The weight of those reasons that what a system wrote on the disk gives: parameter block, FATs,
            directory. 0 where only the size, how usual the format is, and the fill speak.
    """

    format: str | None
    formats: tuple[str, ...]
    cylinders: int
    heads: int
    sectors: int
    sector_bytes: int
    encoding: str
    data_rate: int
    rotation: float
    short_bytes: int
    extra_bytes: int
    data_start: int
    side_order: SideOrder | None
    score: float
    evidence: tuple[Evidence, ...]
    content: float = 0.0

    @property
    def exact(self) -> bool:
        """Whether the file has all of this geometry and nothing else."""
        return self.short_bytes == self.extra_bytes == 0

    @property
    def geometry(self) -> str:
        """Cylinders, heads, sectors and bytes, as the trade writes them."""
        return f"{self.cylinders}x{self.heads}x{self.sectors}x{self.sector_bytes}"


@dataclass(frozen=True, kw_only=True)
class GeometryRival:
    """A disk of another recording that has the very size, or the facts: no common controller writes it.

    Attributes:
        format: Its id in the table.
        title: What it is.
        geometry: Cylinders x heads x sectors x bytes; where tracks differ, the fewest and the most sectors of one.
        encoding: fm, mfm, m2fm, mmfm (IDs in FM, data in modified MFM) or gcr (group code).
        disk_inch: Size of the disk. [inch]
        holes: Sector holes beside the index hole: 0 where it is soft-sectored.
        machines: Whose disk it may be, or null.
        score: From 0 (excluded) to 1 (certain), on one scale with the candidates.
        evidence: The reasons, strongest first.
        content: The weight of those reasons that what a system wrote on the disk gives.
    """

    format: str
    title: str
    geometry: str
    encoding: str
    disk_inch: float
    holes: int
    machines: str | None
    score: float
    evidence: tuple[Evidence, ...]
    content: float = 0.0


#: Either kind of answer.
GeometryAnswer = GeometryCandidate | GeometryRival


def together(
    candidates: tuple[GeometryCandidate, ...], rivals: tuple[GeometryRival, ...]
) -> list[GeometryAnswer]:
    """Give all answers, best first."""
    answers: list[GeometryAnswer] = [*candidates, *rivals]
    return sorted(answers, key=lambda one: -one.score)


@dataclass(frozen=True, kw_only=True)
class GeometrySolution:
    """Which disk a file, a size, or a few facts may be.

    Attributes:
        name: The file's name made printable, or null without a file.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        says: The conclusion in a sentence.
        hint: What to do next.
        size_bytes: Of the image, or null where it is not known. [byte]
        candidates: Best first; at most 12.
        own: Which rows that a person wrote its formats rest on.
        rivals: Disks of other recordings that have the size or the facts too, best first.
        tells: How the answers are told apart, one step each; none where nothing is to be told apart.
        findings: What the reading of the disk did to its image, as far as that alone shows it.
    """

    SCHEMA: ClassVar[str] = "geometry/1"

    name: str | None
    name_base64: str | None
    says: str
    hint: str
    size_bytes: int | None
    candidates: tuple[GeometryCandidate, ...]
    own: tuple[Finding, ...] = ()
    rivals: tuple[GeometryRival, ...] = ()
    tells: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def answers(self) -> list[GeometryAnswer]:
        """Candidates and rivals together, best first."""
        return together(self.candidates, self.rivals)

    @property
    def leading_rival(self) -> GeometryRival | None:
        """The disk of another recording that is likelier than every candidate, if there is one."""
        best = next(iter(self.answers), None)
        return best if isinstance(best, GeometryRival) else None

    def named(self, name: str, name_base64: str | None) -> GeometrySolution:
        """Give the same answer with the file's name."""
        return replace(self, name=name, name_base64=name_base64)

    @property
    def exit_code(self) -> int:
        """0 when a candidate or a rival explains everything exactly, and the disk was read well, else 1."""
        if self.findings:
            return 1
        return 0 if self.rivals or any(one.exact for one in self.candidates) else 1
