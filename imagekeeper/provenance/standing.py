"""How the evidence for a carrier's image stands: what the rules of `evidence` derive, and every display shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from imagekeeper.findings import Severity
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.references import Reference
from imagekeeper.provenance.testimony import StatedReason


@dataclass(frozen=True, kw_only=True)
class Contradiction:
    """Something that speaks against an image, or against what is said of its carrier.

    Attributes:
        code: What it is: a code of findings.
        severity: `warning` or `fault`.
        where: What it is seen in: ids of reads, or a member of the carrier's record such as `part`.
        why: The evidence, in words.
        settle: What would settle it.
        basis: A digest of what it rests on, by which an explanation is tied to it.
        detail: The evidence as values.
        explained: Why it is none, as somebody said, or null while it is open.
        before: An explanation of the same code that new evidence has overtaken, or null.
    """

    code: str
    severity: Severity
    where: tuple[str, ...]
    why: str
    settle: str
    basis: str
    detail: dict[str, Any] = field(default_factory=dict)
    explained: StatedReason | None = None
    before: StatedReason | None = None


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """What to do next about a carrier: the one answer that every display gives.

    Attributes:
        does: In words; empty where nothing needs to be done.
        because: Why this before anything else.
        passes: How many more passes over the carrier it takes: each one wears a disk.
        outcomes: What may come of it, and what each would mean, as far as that is known.
    """

    does: str
    because: str
    passes: int = 0
    outcomes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How the evidence for a carrier's image stands.

    Attributes:
        sha256: Of the image that the evidence supports, or null where it supports none.
        grade: `none`, `disputed`, `single`, `repeated`, `independent` or `corroborated`: never more than open
            contradictions let it be.
        because: What the grade rests on.
        reads: Ids of the reads that give exactly this image.
        differ: The conditions in which these reads are known to differ.
        shared: What is known to be the same in all of them.
        evidence: What else speaks for the image, one sentence each.
        contradictions: What speaks against it, open or explained, the gravest first.
        damage: Files of the carrier that are not what was kept, as far as somebody looked.
        settled: Whether somebody has settled the agreed image.
        recorded: The grade that was recorded when that was done, or null.
        figures: Digests and sums of the image by name, as far as they are known.
        references: Digests from outside that agree with the image.
        next: What to do next.
        rules: The versions of the rules and tables.
    """

    sha256: str | None
    grade: Grade
    because: str
    reads: tuple[str, ...]
    differ: tuple[str, ...]
    shared: tuple[str, ...]
    evidence: tuple[str, ...]
    contradictions: tuple[Contradiction, ...]
    damage: tuple[str, ...]
    settled: bool
    recorded: Grade | None
    figures: dict[str, str]
    references: tuple[Reference, ...]
    next: NextStep
    rules: str

    @property
    def open(self) -> tuple[Contradiction, ...]:
        """The contradictions that nobody has explained."""
        return tuple(one for one in self.contradictions if one.explained is None)

    @property
    def explained(self) -> tuple[Contradiction, ...]:
        """The contradictions that somebody has explained, each with its reason."""
        return tuple(one for one in self.contradictions if one.explained is not None)
