"""A finding: one thing that a check noticed, with its evidence and the next step."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from imagekeeper.errors import Where

Severity = Literal["note", "warning", "fault"]

#: Every code that a finding can carry, with its meaning: the source of the reference page.
CODES: dict[str, str] = {
    "sizes-differ": "The reads have different sizes; only their common part was compared.",
    "addresses-moved": "A read's addresses were shifted so that the reads could be laid side by side.",
    "same-file": "The same file was given more than once: it proves nothing about the chip.",
    "doubtful-bytes": "A read contains bytes that its container marks as doubtful.",
    "agreed-outdated": "Reads were added to a carrier after its agreed image was settled.",
    "gaps-differ": "Some addresses are present in one read and a gap in another.",
}


@dataclass(frozen=True)
class Finding:
    """One thing that a check noticed.

    Attributes:
        code: One of `CODES`.
        severity: `note`, `warning` or `fault`.
        confidence: From 0 to 1.
        where: The place, as far as it is known.
        why: The evidence, in words with its counts.
        hint: What a person at the bench can do next.
        detail: The same evidence as typed values; its members depend on the code.
    """

    code: str
    severity: Severity
    confidence: float
    where: Where
    why: str
    hint: str
    detail: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        assert self.code in CODES, self.code
        assert 0 <= self.confidence <= 1, self.confidence
