"""The record of an agreed image: what the reads of a carrier support, and how good the evidence is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from imagekeeper.provenance.references import Reference

Grade = Literal["none", "single", "voted", "repeated", "independent", "corroborated", "disputed"]

#: Their names, for options; what each means, and which is the stronger, stands in `evidence.standing`.
GRADE_NAMES: tuple[Grade, ...] = get_args(Grade)


@dataclass(frozen=True, kw_only=True)
class Agreed:
    """The image that the reads of a carrier support, and how good the evidence is.

    Attributes:
        sha256: Of the image, or null where the reads support none.
        grade: `none`, `single`, `voted`, `repeated`, `independent`, `corroborated` or `disputed`.
        because: What the grade rests on.
        raise_by: What would raise it; null for the highest.
        reads: Ids of the reads that give exactly this image.
        image: Path of its bytes within the carrier's object, or null.
        references: Digests from outside that agree with it; they are held against it again when it is settled anew.
        voted_by: `byte` or `bit` for the majority of reads, or null where reads give the image whole.
        voters: Ids of the reads that voted.
        vote: How the vote was formed and who accepted it, as a sentence's beginning, or null.
        rules: The versions of the rules and tables by which it was graded, or null for what is older than they are.
        open: The codes of the contradictions that were open.
    """

    sha256: str | None
    grade: Grade
    because: str
    raise_by: str | None
    reads: tuple[str, ...]
    image: str | None
    references: tuple[Reference, ...] = ()
    voted_by: Literal["byte", "bit"] | None = None
    voters: tuple[str, ...] = ()
    vote: str | None = None
    rules: str | None = None
    open: tuple[str, ...] = ()
