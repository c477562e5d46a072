"""Write pages about the archive into a folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import ClassVar, Literal

from imagekeeper.archive.carriers import load_machine
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.ocfl.troubles import missing
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError, NotFoundError, UsageError, Where
from imagekeeper.files import display_name
from imagekeeper.jobs.carriers.describing import belongs
from imagekeeper.jobs.pages.gathering import all_bytes, gather, gather_pictures
from imagekeeper.jobs.pages.report_folder import ReportFolder
from imagekeeper.jobs.pages.risks import Subject, risks
from imagekeeper.jobs.pages.values import CarrierEntry, IndexPage, MachineEntry, MachinePage, Made, Page, Picture
from imagekeeper.jobs.session import SOFTWARE, Session
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.ids import suggest_id
from imagekeeper.provenance.machines import MachineRecord


@dataclass(frozen=True)
class WrittenPage:
    """A page of a report.

    Attributes:
        path: Its file within the report's folder.
        what: `index`, `machine` or `carrier`.
        id: The carrier's id, or the machine's name; null for the index.
        grade: Of the evidence for the carrier's image as the page shows it, `unreadable` where its record is damaged;
            null for other pages.
    """

    path: str
    what: Literal["index", "machine", "carrier"]
    id: str | None
    grade: str | None


@dataclass(frozen=True, kw_only=True)
class Report:
    """Pages about an archive.

    Attributes:
        folder: Where they are, made printable.
        pages: The pages; the index is the first.
        photos: Pictures that were copied beside them, as files within the folder.
        damaged: Ids of carriers and machines of which something in the archive is damaged; their pages say what.
        made: When, RFC 3339.
    """

    SCHEMA: ClassVar[Literal["report/1"]] = "report/1"

    folder: str
    pages: tuple[WrittenPage, ...]
    photos: tuple[str, ...]
    damaged: tuple[str, ...]
    made: str

    @property
    def exit_code(self) -> int:
        """4 where something in the archive is damaged, else 0."""
        return 4 if self.damaged else 0


@dataclass(kw_only=True)
class _Machine:
    name: str
    file: str
    record: MachineRecord | None = None
    problem: str | None = None
    pictures: tuple[Picture, ...] = ()
    copies: dict[str, str] = field(default_factory=dict)
    rows: list[CarrierEntry] = field(default_factory=list)

    def has(self, named: str | None) -> bool:
        """Whether a carrier that names this machine belongs here."""
        return belongs(named, self.record.id if self.record else self.name, self.name)

    @property
    def taken_out(self) -> str | None:
        """Why it was taken out of the collection, or None."""
        return self.record.deaccessions[-1].reason if self.record and self.record.deaccessions else None


def write_report(
    archive: ArchiveStore,
    folder: str,
    session: Session,
    *,
    ids: Sequence[str] = (),
    machine: str | None = None,
    force: bool = False,
    render: Callable[[Page], str],
    progress: Progress = silent,
) -> Report:
    """Write an index, a page for each machine and a page for each carrier.

    Args:
        archive: The archive.
        folder: Where to: new or empty, or with `force` an earlier report.
        session: Gives the time that the pages bear.
        ids: Only these carriers; all of them where none is named.
        machine: Only carriers of this machine: its id, or a part of its name; capitals do not matter.
        force: Replace an earlier report.
        render: Makes the text of a page, such as `imagekeeper.present.html.pages.render`.
        progress: Told how far it is.

    Raises:
        NotFoundError: `carrier-missing`, `machine-missing`.
        UsageError: `exists`, `cannot-write`; `usage` for a folder inside the archive.
        ArchiveError: `archive-damaged` where the storage root cannot be read.
    """
    _refuse_inside(archive, folder)
    machines = _recorded_machines(archive)
    chosen = _chosen(archive, ids, machine, machines)
    made = Made(session.now(), SOFTWARE, archive.marker.title, archive.marker.uuid)
    pages: list[WrittenPage] = []
    photos: list[str] = []
    rows: list[CarrierEntry] = []
    subjects: list[Subject] = []
    damaged = {one.file for one in machines if one.problem is not None}
    total = all_bytes(archive, chosen)
    with ReportFolder(folder, force=force) as target, progress("Reading the archive", total) as advance:
        for carrier_id in chosen:
            found = gather(archive, carrier_id, made, advance)
            home = _home(machines, found.page.row)
            page = replace(found.page, machine_href=f"machines/{home.file}.html" if home else None)
            pages.append(WrittenPage(f"carriers/{carrier_id}.html", "carrier", carrier_id, page.row.state))
            target.write(pages[-1].path, render(page).encode())
            photos += _copy(archive, target, carrier_id, found.photos)
            rows.append(page.row)
            if page.row.taken_out is None:   # nobody can look after what is not there
                subjects.append(found.subject)
            if page.row.problem:
                damaged.add(carrier_id)
        whole = not ids and machine is None
        shown = sorted((one for one in machines if one.rows or whole), key=lambda one: one.name.casefold())
        for one in shown:
            pages.append(WrittenPage(f"machines/{one.file}.html", "machine", one.name, None))
            machine_page = MachinePage(
                title=one.name, made=made, record=one.record, rows=_there(one.rows), pictures=one.pictures,
                problem=one.problem, taken_out=_gone(one.rows),
            )  # fmt: skip
            target.write(pages[-1].path, render(machine_page).encode())
            photos += _copy(archive, target, one.file, one.copies)
        lines = tuple(
            MachineEntry(one.name, f"machines/{one.file}.html", _there(one.rows), one.taken_out) for one in shown
        )
        title = archive.marker.title.strip() or "Collection"
        pages.insert(0, WrittenPage("index.html", "index", None, None))
        index = IndexPage(
            title=title, made=made, machines=lines, rows=_there(rows), risks=risks(subjects), whole=whole,
            taken_out=_gone(rows),
        )  # fmt: skip
        target.write("index.html", render(index).encode())
    return Report(
        folder=target.name, pages=tuple(pages), photos=tuple(photos), damaged=tuple(sorted(damaged)), made=made.time
    )


def _there(rows: Sequence[CarrierEntry]) -> tuple[CarrierEntry, ...]:
    return tuple(row for row in rows if row.taken_out is None)


def _gone(rows: Sequence[CarrierEntry]) -> tuple[CarrierEntry, ...]:
    return tuple(row for row in rows if row.taken_out is not None)


def _copy(archive: ArchiveStore, target: ReportFolder, object_id: str, copies: dict[str, str]) -> list[str]:
    for name, path in copies.items():
        target.write(name, archive.read_file(object_id, path))
    return list(copies)


def _home(machines: list[_Machine], row: CarrierEntry) -> _Machine | None:
    """Find the machine that a carrier belongs to; begin one where only carriers name it."""
    if row.machine is None or not row.machine.strip():
        return None
    for one in machines:
        if one.has(row.machine):
            one.rows.append(row)
            return one
    taken = {one.file for one in machines}
    file = suggest_id(row.machine)
    number = 2
    while file in taken:
        file = f"{suggest_id(row.machine)[:56]}-{number}"
        number += 1
    machines.append(_Machine(name=row.machine.strip(), file=file, rows=[row]))
    return machines[-1]


def _recorded_machines(archive: ArchiveStore) -> list[_Machine]:
    """Load the machines that have a record of their own; what is damaged is said on their pages."""
    found = []
    for one in archive.ids():
        try:
            inventory = archive.inventory(one)
        except ImagekeeperError:   # whatever it is, it gets a page as a carrier, which says so
            continue
        if places.MACHINE not in inventory.state or places.CARRIER in inventory.state:
            continue
        try:
            record = load_machine(archive, one, inventory)
            pictures, copies = gather_pictures(archive, record, inventory)
            found.append(_Machine(
                name=record.name, file=one, record=record, problem=None, pictures=pictures, copies=copies
            ))
        except ImagekeeperError as problem:
            found.append(_Machine(name=one, file=one, record=None, problem=problem.why))
    return found


def _chosen(
    archive: ArchiveStore, ids: Sequence[str], machine: str | None, machines: list[_Machine]
) -> tuple[str, ...]:
    """Find the carriers to report on, in order.

    Raises:
        NotFoundError: `carrier-missing`, `machine-missing`.
    """
    own = {one.file for one in machines}
    every = tuple(one for one in archive.ids() if one not in own)
    for one in ids:
        if one in own:
            raise NotFoundError("carrier-missing/report-of-machine", id=one)
        if one not in every:
            raise missing(one)
    chosen = tuple(one for one in every if not ids or one in ids)
    if machine is None:
        return chosen
    with Index(archive) as index:
        named = {row.id: row.machine for row in index.rows()}
    part = machine.strip().casefold()
    wanted = [one for one in machines if one.has(machine) or (part and part in one.name.casefold())]

    def belonging(carrier_id: str) -> bool:
        name = named.get(carrier_id)
        return name is not None and (part in name.casefold() or any(one.has(name) for one in wanted))

    if not any(belonging(one) for one in every) and not wanted:
        raise NotFoundError("machine-missing/report", name=shortened(one_line(machine), 80))
    return tuple(one for one in chosen if belonging(one))


def _refuse_inside(archive: ArchiveStore, folder: str) -> None:
    """Keep reports out of the archive, whose audit would find them unexpected."""
    if not folder.strip():
        raise UsageError("usage/folder-without-name")
    try:
        inside = Path(folder).resolve().is_relative_to(archive.path.resolve())
    except (OSError, ValueError) as problem:
        raise UsageError("cannot-write/folder-name", trouble=str(problem)) from problem
    if inside:
        raise UsageError("usage/report-in-archive", name=display_name(folder), where=Where(file=display_name(folder)))
