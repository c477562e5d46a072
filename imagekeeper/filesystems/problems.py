"""Findings as they are collected: a damaged or hostile disk gives more of them than anybody reads."""

from __future__ import annotations

from typing import Any

from imagekeeper.errors import Where
from imagekeeper.findings import Finding, Severity

#: So many findings of one code are told one by one; the rest are counted.
TOLD = 100


class Problems:
    """Collects findings about one volume.

    Args:
        start: Where the volume begins in the image: added to every place. [byte]

    Example:
        >>> problems = Problems()
        >>> for cluster in range(102):
        ...     problems.add("entry-damaged/labels", "note", at=cluster)
        >>> len(problems.found()), problems.found()[-1].why
        (101, '2 more of the kind were found')
    """

    def __init__(self, start: int = 0) -> None:
        self._start = start
        self._found: list[Finding] = []
        self._counts: dict[str, int] = {}

    def add(
        self, about: str, severity: Severity, *, at: int | None = None, length: int | None = None,
        confidence: float = 1.0, detail: dict[str, Any] | None = None, **values: Any,
    ) -> None:  # fmt: skip
        """Note one problem by the key of its sentences and their values; `at` is an offset in the volume."""
        code = about.partition("/")[0]
        count = self._counts[code] = self._counts.get(code, 0) + 1
        if count <= TOLD:
            where = Where(address=None if at is None else self._start + at, length=length)
            self._found.append(Finding.of(about, severity, confidence, where, detail=detail, **values))

    def count(self, *codes: str) -> int:
        """Count the problems noted, of some codes or of all."""
        return sum(number for code, number in self._counts.items() if not codes or code in codes)

    def found(self) -> tuple[Finding, ...]:
        """Give what was noted, and for each code how many more there were."""
        more = [
            Finding.of(
                f"{code}/more", next(one.severity for one in self._found if one.code == code), 1.0,
                detail={"more": count - TOLD},
            )
            for code, count in self._counts.items() if count > TOLD
        ]  # fmt: skip
        return (*self._found, *more)
