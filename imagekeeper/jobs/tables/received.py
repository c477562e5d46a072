"""Rows that came from other archives: each decides nothing until a person accepted it, by its mark."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from imagekeeper.archive.ocfl.ledger import lines_in
from imagekeeper.digests import sha256_hex
from imagekeeper.findings import Finding
from imagekeeper.jobs.tables.folders import DECISIONS, FOLDER
from imagekeeper.jobs.tables.places import received_files
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.own import OwnRow
from imagekeeper.tables.own_file import parse

#: How many digits of a row's digest are its mark.
MARK = 10

What = Literal["accept", "refuse"]


@dataclass(frozen=True)
class RowDecision:
    """What was decided about a row from elsewhere.

    Attributes:
        what: `accept` or `refuse`.
        time: When, RFC 3339.
        by: Who, or null.
        reason: Why, or null.
    """

    what: What
    time: str
    by: str | None
    reason: str | None


@dataclass(frozen=True)
class ReceivedRow:
    """A row that came from another archive.

    Attributes:
        row: The row.
        digest: SHA-256 of all that it says, grounds included.
        archive: The identity of the archive that it came from.
        decision: What was decided about it last, or None.
    """

    row: OwnRow
    digest: str
    archive: str
    decision: RowDecision | None

    @property
    def mark(self) -> str:
        """The beginning of its digest, by which a person names it."""
        return self.digest[:MARK]


def digest_of(row: OwnRow) -> str:
    """Digest all that a row says, its grounds and documents included; where it lies does not matter."""
    said = [row.kind, row.members, row.documents]
    return sha256_hex(json.dumps(said, sort_keys=True, default=str).encode())


def received_rows(archive: Path) -> tuple[tuple[ReceivedRow, ...], list[Finding]]:
    """Give the rows that came from other archives, each once, with what was decided about it, and what is wrong."""
    files, faults = received_files(archive)
    if not files:
        return (), faults
    decisions = _decisions(archive)
    found: dict[str, ReceivedRow] = {}
    for file in files:
        origin = file.path.parent.name
        held = parse(file.data, file.name, "accepted")
        faults += held.faults
        for row in held.rows:
            digest = digest_of(row)
            found.setdefault(digest, ReceivedRow(row, digest, one_line(origin), decisions.get(digest)))
    return tuple(found.values()), faults


def accepted_rows(archive: Path) -> tuple[OwnRow, ...]:
    """Give the rows from elsewhere that were accepted, in the order in which they were."""
    rows, _ = received_rows(archive)
    accepted = [one for one in rows if one.decision is not None and one.decision.what == "accept"]
    accepted.sort(key=lambda one: one.decision.time if one.decision else "")
    return tuple(replace(one.row, told=_told(one)) for one in accepted)


def _told(one: ReceivedRow) -> str:
    who = (one.decision.by if one.decision else None) or "somebody"
    return f"{one.archive}, accepted by {who} on {one.decision.time[:10] if one.decision else ''}"


def _decisions(archive: Path) -> dict[str, RowDecision]:
    """Read what was decided, the last for each row; lines that make no sense decide nothing."""
    found: dict[str, RowDecision] = {}
    for line in lines_in(archive / FOLDER / DECISIONS):
        what, time, row = (_text(line, name) for name in ("what", "time", "row"))
        if what in ("accept", "refuse") and time and row:
            by, reason = _text(line, "by"), _text(line, "reason")
            found[row] = RowDecision("accept" if what == "accept" else "refuse", time, by, reason)
    return found


def _text(line: Mapping[str, Any], name: str) -> str | None:
    value = line.get(name)
    return shortened(one_line(value), 200) if isinstance(value, str) and value else None
