"""What came of re-proving: the conclusions of records, derived again from the files that were read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

ReproofOutcome = Literal["proved", "stale", "contradicted", "not-derivable"]


@dataclass(frozen=True, kw_only=True)
class Conclusion:
    """One thing that a record says and that follows, or should follow, from something else.

    Attributes:
        carrier: The id of the carrier or machine.
        path: The record, within its folder.
        what: What was derived again, in words.
        outcome: `proved`: the same came out. `stale`: a newer rule, table or program says otherwise, and it would be
            settled anew. `contradicted`: something else came out, and no rule explains that. `not-derivable`: nothing
            it follows from is there, or none is known.
        why: What was found, or why nothing could be; null for what is proved.
        expected: What should stand there, or null.
        found: What stands there, or null.
    """

    carrier: str
    path: str
    what: str
    outcome: ReproofOutcome
    why: str | None = None
    expected: str | None = None
    found: str | None = None


@dataclass(frozen=True, kw_only=True)
class Reproof:
    """What came of deriving the conclusions of records again.

    Attributes:
        carriers: How many carriers and machines were looked at.
        proved: How many conclusions came out as they are recorded.
        contradicted: Those that did not, and no rule explains it.
        stale: Those that today's rules, tables or program give otherwise: to be settled anew, and no damage.
        not_derivable: Those that could not be derived, each with the reason.
        ok: Whether nothing is contradicted.
    """

    carriers: int
    proved: int
    contradicted: tuple[Conclusion, ...]
    stale: tuple[Conclusion, ...]
    not_derivable: tuple[Conclusion, ...]
    ok: bool


def gathered(carriers: int, found: Iterable[Conclusion]) -> Reproof:
    """Sort conclusions by what came of them.

    Example:
        >>> gathered(1, [Conclusion(carrier="u4", path="agreed.json", what="the grade", outcome="proved")]).proved
        1
    """
    sorted_out: dict[ReproofOutcome, list[Conclusion]] = {
        "proved": [], "stale": [], "contradicted": [], "not-derivable": [],
    }  # fmt: skip
    for one in found:
        sorted_out[one.outcome].append(one)
    return Reproof(
        carriers=carriers, proved=len(sorted_out["proved"]), contradicted=tuple(sorted_out["contradicted"]),
        stale=tuple(sorted_out["stale"]), not_derivable=tuple(sorted_out["not-derivable"]),
        ok=not sorted_out["contradicted"],
    )  # fmt: skip
