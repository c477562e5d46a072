"""The shape of what is said."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Says:
    """What is said of one case: three templates.

    Attributes:
        what: The failure, without a full stop; empty for findings, whose code says it.
        why: The evidence: what was found and what was expected.
        next: What a person can do.
    """

    what: str = ""
    why: str = ""
    next: str = ""
