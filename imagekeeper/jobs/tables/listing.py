"""List the own rows, and check a file of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar, Literal

from imagekeeper import files
from imagekeeper.findings import Finding
from imagekeeper.jobs.tables.answering import answerless
from imagekeeper.jobs.tables.folders import FOLDER, person_folder
from imagekeeper.jobs.tables.holding import held, proved
from imagekeeper.jobs.tables.places import own_files, read_file
from imagekeeper.jobs.tables.received import ReceivedRow, RowDecision, digest_of, received_rows
from imagekeeper.own import OwnRow, standing
from imagekeeper.tables.own_file import parse, unusable
from imagekeeper.tables.own_grounds import changes_of, grounds_of

#: What a row is: it counts; it came from elsewhere and nobody decided, or it was refused.
State = Literal["in-force", "undecided", "refused"]


@dataclass(frozen=True, kw_only=True)
class ShownOwnRow:
    """An own row, shown.

    Attributes:
        name: Its kind and what names it.
        kind: pinout, chip, maker, signature, medium, drive or format.
        state: in-force; undecided or refused where it came from another archive.
        origin: archive, person (of the person's own folder), accepted (from another archive), or elsewhere (of a file
            that was checked).
        file: Where it stands.
        line: The line that it begins at, or null.
        members: What it says, as it stands there.
        grounds: What each value rests on, in words.
        changes: What it changes in the tables that come with the program; none for a new row.
        mark: The mark by which a row from elsewhere is accepted or refused, else null.
        archive: The identity of the archive that it came from, or null.
        decision: What was decided about it, or null.
    """

    name: str
    kind: str
    state: State
    origin: str
    file: str
    line: int | None
    members: dict[str, Any]
    grounds: tuple[str, ...]
    changes: tuple[str, ...]
    mark: str | None = None
    archive: str | None = None
    decision: RowDecision | None = None


@dataclass(frozen=True, kw_only=True)
class OwnRowList:
    """The own rows that were found, or those of a file that was checked.

    Attributes:
        folders: Where own rows are looked for, or the files that were checked.
        rows: The rows.
        faults: What cannot be used, and why.
    """

    SCHEMA: ClassVar[Literal["own-rows/1"]] = "own-rows/1"

    folders: tuple[str, ...]
    rows: tuple[ShownOwnRow, ...]
    faults: tuple[Finding, ...]

    @property
    def exit_code(self) -> int:
        """1 where something cannot be used, else 0."""
        return 1 if self.faults else 0


def list_own_rows(archive: Path | None) -> OwnRowList:
    """List the own rows in force, and those from elsewhere about which nobody decided or that were refused.

    Args:
        archive: The archive's folder, or None for the person's own alone.
    """
    holding = held(archive)
    faults = list(holding.faults)
    own = [listed(row) for row in holding.rows.rows if row.origin != "accepted"]
    rest: list[ShownOwnRow] = []
    if archive is not None:
        known = {digest_of(row) for row in holding.rows.rows if row.origin != "accepted"}
        received, wrong = received_rows(archive)
        faults += wrong
        in_force = {digest_of(row) for row in holding.rows.rows if row.origin == "accepted"}
        rest = [from_elsewhere(one, one.digest in in_force) for one in received if one.digest not in known]
    folders = [person_folder(), *([str(archive / FOLDER)] if archive is not None else [])]
    return OwnRowList(
        folders=tuple(map(files.display_name, folders)), rows=(*own, *rest), faults=tuple(faults)
    )


def check_own_rows(paths: Sequence[str], archive: Path | None) -> OwnRowList:
    """Check files of own rows, wherever they lie, beside the rows that are in force.

    Args:
        paths: The files.
        archive: The archive whose own rows count as well, or None.

    Raises:
        NotFoundError: `not-found`.
        InputError: It cannot be read.
    """
    folders = tuple(files.display_name(path) for path in paths)
    names = [*folders]
    holding = held(archive)
    lying = {one.path.resolve(): one.name for one in own_files(archive)[0]}
    mine: list[OwnRow] = []
    faults: list[Finding] = []
    for path, name in zip(paths, folders, strict=True):
        called = lying.get(Path(path).resolve())
        if called is not None:   # it counts already, or does not for what another file holds
            names.append(called)
            mine += [row for row in holding.rows.rows if row.file == called]
            faults += [one for one in holding.faults if one.where.file == called]
        else:
            found = parse(read_file(Path(path), name), name, "elsewhere")
            mine += found.rows
            faults += found.faults
    checked = set(map(id, mine))
    good, wrong = proved([*(row for row in holding.rows.rows if id(row) not in checked), *mine])
    faults += [one for one in wrong if one.where.file in names]
    rows = []
    for row in (one for one in good if id(one) in checked):
        with standing(good):
            why = answerless(row)
        if why is None:
            rows.append(row)
        else:
            faults.append(unusable(row, why))
    return OwnRowList(folders=folders, rows=tuple(map(listed, rows)), faults=tuple(faults))


def listed(row: OwnRow) -> ShownOwnRow:
    """Show an own row that counts."""
    return ShownOwnRow(**_plainly(row), state="in-force")


def from_elsewhere(one: ReceivedRow, counts: bool) -> ShownOwnRow:
    """Show a row that came from another archive.

    Args:
        one: The row.
        counts: Whether it is in force.
    """
    refused = one.decision is not None and one.decision.what == "refuse"
    state: State = "in-force" if counts else "refused" if refused else "undecided"
    return ShownOwnRow(
        **_plainly(one.row), state=state, mark=one.mark, archive=one.archive, decision=one.decision
    )


def _plainly(row: OwnRow) -> dict[str, Any]:
    return {
        "name": row.name, "kind": row.kind, "origin": row.origin, "file": row.file, "line": row.line,
        "members": dict(row.members), "grounds": tuple(map(str, grounds_of(row))), "changes": tuple(changes_of(row)),
    }  # fmt: skip
