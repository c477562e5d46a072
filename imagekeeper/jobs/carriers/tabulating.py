"""The carriers as a table for a spreadsheet, and a filled-in table back into the archive."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper import files
from imagekeeper.archive.carriers import load_reads, load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.troubles import Unfit, unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, InputError, UsageError
from imagekeeper.jobs.carriers.belonging import MachineNames
from imagekeeper.jobs.carriers.csv_tables import CsvTable, TableLine, read_sheet, write_sheet, wrong
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, correct_carrier
from imagekeeper.jobs.carriers.keeping import begin_carrier
from imagekeeper.jobs.session import Session, stopped
from imagekeeper.jsonable import printable
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.facts import Answer, Decide, OddFact, odd_date_code, refuse, settle
from imagekeeper.provenance.fields import from_json, read_json
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.provenance.records import Carrier
from imagekeeper.sentences.say import Phrase

#: What a table shows besides, and what is not taken back from it.
SHOWN_ONLY = ("uuid", "created", "reads", "grade", "agreed_sha256", "open")

COLUMNS = ("id", *CARRIER_TEXTS, *SHOWN_ONLY)


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table that was written.

    Attributes:
        path: The file, made printable.
        carriers: How many carriers it lists.
        columns: Its columns.
        bytes: Its size. [byte]
        set_aside: Carriers that it does not list, because their record cannot be read.
    """

    SCHEMA: ClassVar[Literal["table/1"]] = "table/1"

    path: str
    carriers: int
    columns: tuple[str, ...]
    bytes: int
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.set_aside else 0


@dataclass(frozen=True, kw_only=True)
class Change:
    """One text that a table changes.

    Attributes:
        id: The carrier.
        line: Line of the table, counted from 1.
        column: Which text.
        before: What was said before, or null.
        after: What is said now, or null.
    """

    id: str
    line: int
    column: str
    before: str | None
    after: str | None


@dataclass(frozen=True, kw_only=True)
class FilledIn:
    """What a table that was filled in changed, or would change.

    Attributes:
        path: The file, made printable.
        dry_run: Whether this only says what would happen.
        added: The ids of new carriers.
        changes: The texts of known carriers that changed.
        unchanged: How many known carriers the table says nothing new of.
        shown_only: Columns that a table shows and that are not taken back.
        unknown: Columns that mean nothing here, as they are written.
        set_aside: Carriers that the table names and whose record cannot be read; their rows were not applied.
    """

    SCHEMA: ClassVar[Literal["fill-in/1"]] = "fill-in/1"

    path: str
    dry_run: bool
    added: tuple[str, ...]
    changes: tuple[Change, ...]
    unchanged: int
    shown_only: tuple[str, ...]
    unknown: tuple[str, ...]
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a record cannot be read, else 0."""
        return 4 if self.set_aside else 0


def table(
    archive: ArchiveStore, output: str, *, bom: bool = False, force: bool = False, progress: Progress = silent
) -> Table:
    """Write the carriers with what is said of them to a CSV file.

    Args:
        archive: The archive.
        output: The file.
        bom: Begin with the mark by which some spreadsheets recognise UTF-8.
        force: Replace the file if it is there.
        progress: Told the carriers done.

    Raises:
        UsageError: `exists`, `cannot-write`.
        ArchiveError: `archive-damaged` where the storage root cannot be read.
    """
    rows = []
    aside: list[Unfit] = []
    ids = archive.ids()
    with progress("Listing", 0) as advance:
        for one in ids:
            try:
                rows += [[one, *(getattr(carrier, name) for name in CARRIER_TEXTS), *shown]
                         for carrier, shown in _row(archive, one)]   # fmt: skip
            except ImagekeeperError as problem:
                aside.append(unfit(one, problem))
            advance(1)
    data = write_sheet(COLUMNS, rows, bom=bom)
    size = files.write_whole(output, [data], force=force)
    return Table(
        path=files.display_name(output), carriers=len(rows), columns=COLUMNS, bytes=size, set_aside=tuple(aside)
    )


def _row(archive: ArchiveStore, object_id: str) -> Iterator[tuple[Carrier, tuple[str, ...]]]:
    """Give a carrier with what is only shown of it; nothing for a machine."""
    inventory = archive.inventory(object_id)
    if places.MACHINE in inventory.state and places.CARRIER not in inventory.state:
        return
    carrier = _carrier(archive, inventory)
    record = load_record(archive, object_id, inventory)
    found, agreed = record.standing, record.agreed
    settled = found if agreed is not None else None
    yield carrier, (
        carrier.uuid, carrier.created, str(len(record.reads)), settled.grade if settled else "",
        (agreed.sha256 or "") if agreed else "", " ".join(dict.fromkeys(c.code for c in found.open)) if found else "",
    )  # fmt: skip


def _carrier(archive: ArchiveStore, inventory: Inventory) -> Carrier:
    name = f"{inventory.id}: {places.CARRIER}"
    return from_json(Carrier, read_json(archive.read_file(inventory.id, places.CARRIER, inventory), name), name)


@dataclass(frozen=True, kw_only=True)
class _Row:
    id: str
    line: int
    new: bool
    texts: dict[str, str | None]
    changes: tuple[Change, ...]
    insisted: tuple[str, ...] = ()

    @property
    def news(self) -> dict[str, str]:
        """The texts that the archive does not have yet."""
        texts = self.texts if self.new else {one.column: one.after for one in self.changes}
        return {name: text for name, text in texts.items() if text}

    def with_names(self, names: Mapping[str, str]) -> _Row:
        """Take older spellings for what was a slip of them."""
        changes = (replace(one, after=names.get(one.column, one.after)) for one in self.changes)
        return replace(
            self, texts={**self.texts, **names},
            changes=tuple(one for one in changes if (one.before or "") != (one.after or "")),
        )  # fmt: skip


def fill_in(
    archive: ArchiveStore, path: str, session: Session, *, dry_run: bool = False, empty_clears: bool = False,
    decide: Decide = refuse,
) -> FilledIn:  # fmt: skip
    """Add the carriers of a table that are new, and correct what it says otherwise of those that are known.

    All rows are checked before any is applied. Each row is then one change of one carrier, whole or not at all.

    Args:
        archive: The archive.
        path: The table; of its columns only `id` must be there.
        session: Who works, and when.
        dry_run: Change nothing, and say what would happen.
        empty_clears: Let an empty cell take away what is said; otherwise it says nothing.
        decide: Decides about machines that may be slips of known ones, and date codes that cannot be.

    Raises:
        NotFoundError: `not-found`.
        InputError: `table-form` with line and column, for the first row that cannot be taken, or that holds what is
            odd and not insisted upon.
        UsageError: `archive-busy`, `cannot-write`.
    """
    sheet = read_sheet(path, COLUMNS, need=("id",))
    aside: list[Unfit] = []
    rows = _settled(archive, sheet, _checked(archive, sheet, empty_clears, aside), session.now(), decide)
    if not dry_run:
        with archive.lock():
            work = [row for row in rows if row.new or row.changes]
            for number, row in enumerate(work):
                try:
                    _apply(archive, row, session)
                except ImagekeeperError as problem:
                    done = [one.id for one in work[:number]]
                    raise stopped(problem, done, row.id, len(work) - number - 1) from problem
    return FilledIn(
        path=sheet.name, dry_run=dry_run, added=tuple(row.id for row in rows if row.new),
        changes=tuple(change for row in rows for change in row.changes),
        unchanged=sum(not row.new and not row.changes for row in rows),
        shown_only=tuple(one for one in sheet.columns if one in SHOWN_ONLY), unknown=sheet.unknown,
        set_aside=tuple(aside),
    )  # fmt: skip


def _settled(
    archive: ArchiveStore, sheet: CsvTable, rows: Sequence[_Row], now: str, decide: Decide
) -> list[_Row]:
    """Have it decided what becomes of odd facts, each once, however many rows have it."""
    names = MachineNames(archive)
    answers: dict[str, Answer] = {}

    def once(fact: OddFact) -> Answer:
        said = str(fact.says)
        if said not in answers:
            answers[said] = decide(fact)
        return answers[said]

    done = []
    for row in rows:
        machine, date_code = row.news.get("machine"), row.news.get("date_code")
        odd = list(names.odd_of_carrier(machine)) if machine else []
        if date_code:
            dates = {} if row.new else {read.id: read.date for read in load_reads(archive, row.id)}
            odd += odd_date_code(date_code, now, dates)
        try:
            settled = settle(odd, once)
        except UsageError as problem:
            trouble = Phrase("table-form/of-cell", why=problem.why, next=problem.hint)
            raise wrong(sheet.name, row.line, trouble, odd[0].member) from problem
        if machine:
            names.note(settled.names.get("machine", machine))
        done.append(replace(row.with_names(settled.names), insisted=settled.insisted))
    return done


def _apply(archive: ArchiveStore, row: _Row, session: Session) -> None:
    if row.new:
        texts = {name: text for name, text in row.texts.items() if name != "kind"}
        begin_carrier(archive, row.id, row.texts.get("kind") or "", texts, session, insisted=row.insisted)
    else:
        changed = {one.column: one.after for one in row.changes}
        correct_carrier(archive, row.id, changed, session, insisted=row.insisted)


def _checked(archive: ArchiveStore, sheet: CsvTable, empty_clears: bool, aside: list[Unfit]) -> list[_Row]:
    """Check every row; raise for the first that cannot be taken, and say how many there are."""
    rows: list[_Row] = []
    problems: list[InputError] = []
    first: dict[str, int] = {}
    for line in sheet.lines:
        try:
            row = _checked_row(archive, sheet, line, empty_clears)
            if row.id in first:
                raise wrong(sheet.name, line.number, Phrase("table-form/id-twice", id=row.id, line=first[row.id]), "id")
            first[row.id] = line.number
            rows.append(row)
        except InputError as problem:
            problems.append(problem)
        except ArchiveError as problem:
            aside.append(unfit(line.cells.get("id", "").strip(), problem))
    if problems:
        if len(problems) > 1:
            problems[0].adding(why=Phrase("table-form/more-lines", lines=len(problems) - 1))
        raise problems[0]
    return rows


def _checked_row(archive: ArchiveStore, sheet: CsvTable, line: TableLine, empty_clears: bool) -> _Row:
    carrier_id = line.cells.get("id", "").strip()
    try:
        check_carrier_id(carrier_id)
    except UsageError as problem:
        trouble = Phrase("table-form/of-cell", why=problem.why, next=problem.hint)
        raise wrong(sheet.name, line.number, trouble, "id") from problem
    texts: dict[str, str | None] = {}
    for name in CARRIER_TEXTS:
        cell = line.cells.get(name)
        if cell is None or (not cell and not empty_clears):
            continue
        texts[name] = (printable(cell.strip()) if name == "kind" else printable(cell)) or None
    kind = texts.get("kind")
    if kind is not None and kind not in KINDS:
        why = Phrase("table-form/kind-unknown", kind=kind, kinds=KINDS)
        raise wrong(sheet.name, line.number, why, "kind")
    if not archive.has(carrier_id):
        if kind is None:
            why = Phrase("table-form/kind-missing", id=carrier_id, kinds=KINDS)
            raise wrong(sheet.name, line.number, why, "kind")
        return _Row(id=carrier_id, line=line.number, new=True, texts=texts, changes=())
    inventory = archive.inventory(carrier_id)
    if places.CARRIER not in inventory.state:
        why = Phrase("table-form/is-a-machine", id=carrier_id)
        raise wrong(sheet.name, line.number, why, "id")
    known = load_record(archive, carrier_id, inventory)   # all of it must be readable for a change to be told
    uuid = line.cells.get("uuid", "").strip()
    if uuid and uuid != known.uuid:
        why = Phrase("table-form/other-uuid", id=carrier_id, uuid=known.uuid)
        raise wrong(sheet.name, line.number, why, "uuid")
    if "kind" in texts and kind is None:
        raise wrong(sheet.name, line.number, Phrase("table-form/kind-emptied"), "kind")
    changes = tuple(
        Change(id=carrier_id, line=line.number, column=name, before=getattr(known, name), after=text)
        for name, text in texts.items()
        if (getattr(known, name) or "").replace("\r\n", "\n") != (text or "")
    )
    return _Row(id=carrier_id, line=line.number, new=False, texts=texts, changes=changes)
