"""Hand carriers on, with their whole history, as a bag that any archive can check."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, Literal

from imagekeeper.archive.audits.vetting import object_files, vet
from imagekeeper.archive.exchange.bag import Form, PayloadFile, chosen_form, write_bag
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.ocfl import founding, ledger, readme
from imagekeeper.archive.ocfl.layout import LAYOUTS
from imagekeeper.archive.ocfl.troubles import Unfit, missing, unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError, Where
from imagekeeper.files import display_name
from imagekeeper.jobs.carriers.describing import belongs
from imagekeeper.jobs.session import SOFTWARE, Session, refuse_inside
from imagekeeper.jobs.tables.travelling import going_along
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.progress import Advance, Progress, silent
from imagekeeper.provenance.fields import write_json
from imagekeeper.units import plural

#: The log of what was handed on and taken in.
EXCHANGES = "exchange.jsonl"

#: The payload is a small archive of its own, in the layout whose folder names are the plain ids: no character in
#: them is written differently by different readers of bags.
LAYOUT = "0002"


@dataclass(frozen=True, kw_only=True)
class Export:
    """A bag that was written.

    Attributes:
        path: The folder or file, made printable.
        form: `folder`, `zip` or `tar`.
        carriers: The ids of the carriers in it.
        machines: The ids of the machines' records in it.
        files: How many files its payload has.
        bytes: How many bytes they hold. [byte]
        noted: Whether the archive's log tells of it: a read-only archive cannot.
        set_aside: What was asked for and is not in the bag, because something is wrong with it.
        tables: The files of own rows that go along.
    """

    SCHEMA: ClassVar[Literal["export/1"]] = "export/1"

    path: str
    form: Form
    carriers: tuple[str, ...]
    machines: tuple[str, ...]
    files: int
    bytes: int
    noted: bool
    set_aside: tuple[Unfit, ...] = ()
    tables: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where something was set aside, else 0."""
        return 4 if self.set_aside else 0


def export(
    archive: ArchiveStore,
    target: str,
    session: Session,
    *,
    ids: Sequence[str] = (),
    machine: str | None = None,
    to: Form | None = None,
    progress: Progress = silent,
) -> Export:
    """Write carriers and the records of their machines to a bag, each with its whole history.

    A carrier does not change by being copied, so no event is added to it: its history stays equal to that in the bag,
    by which later imports recognise it, and an archive that cannot be written to can still be handed on. The archive's
    own log tells of it instead.

    Args:
        archive: The archive.
        target: The folder or file to make.
        session: Who works, and when.
        ids: The carriers and machines; all of the archive where neither these nor a machine are named.
        machine: The name or id of a machine, for its record and all its carriers.
        to: The form; by default what the ending of the target's name stands for.
        progress: Told the bytes read and written.

    Raises:
        UsageError: `exists`, `cannot-write`; `archive-busy` while another program writes.
        NotFoundError: `carrier-missing`, `machine-missing`.
        ArchiveError: `archive-damaged` where there is nothing else to hand on: what is damaged is set aside.
    """
    form = chosen_form(target, to)
    refuse_inside(archive, target)
    now = session.now()
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(archive.lock())
        except UsageError as problem:
            if problem.code == "archive-busy":
                raise
            # a read-only archive can still be handed on
        carriers, machines = _chosen(archive, ids, machine)
        with progress("Checking", 0) as advance:
            parts, aside = _whole_parts(archive, carriers, machines, advance)
        left_out = {one.id for one in aside}
        carriers, machines = (tuple(one for one in ids if one not in left_out) for ids in (carriers, machines))
        parts += _surroundings(archive)
        own = going_along(archive)
        parts += own
        info = [
            ("External-Identifier", f"urn:uuid:{archive.marker.uuid}"),
            ("External-Description", _description(archive, carriers, machines)),
            *([("Contact-Name", session.operator)] if session.operator else []),
            ("Bagging-Date", now[:10]),
            ("Bag-Software-Agent", SOFTWARE),
        ]
        seconds = int(datetime.fromisoformat(now).timestamp())
        with progress("Writing", 0) as advance:
            figures = write_bag(target, form, parts, info, now=seconds, advance=advance)
        line: dict[str, object] = {
            "time": now, "what": "export", "to": one_line(display_name(target)), "form": form, "by": session.operator,
            "carriers": carriers, "machines": machines, "files": figures.files, "bytes": str(figures.bytes),
        }  # fmt: skip
        if aside:
            line["set_aside"] = [one.id for one in aside]
        noted = note(archive, line)
    return Export(
        path=display_name(target), form=form, carriers=carriers, machines=machines, files=figures.files,
        bytes=figures.bytes, noted=noted, set_aside=aside, tables=tuple(one.path for one in own),
    )  # fmt: skip


def note(archive: ArchiveStore, line: Mapping[str, object]) -> bool:
    """Add a line to the log of exchanges; whether that was possible."""
    try:
        ledger.append(archive, EXCHANGES, line)
    except OSError:
        return False
    return True


def _chosen(
    archive: ArchiveStore, ids: Sequence[str], machine: str | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Find the carriers and machines to hand on; the records of machines that the carriers name go with them."""
    with Index(archive) as index:
        machines = {one.id: one for one in index.machines()}
        named = {row.id: row.machine for row in index.rows() if row.id not in machines}
    if machine is None and not ids:
        return tuple(one for one in archive.ids() if one not in machines), tuple(machines)
    wanted = set(ids)
    for one in ids:
        if not archive.has(one):
            raise missing(one)
    if machine is not None:
        own = [m for m in machines.values() if belongs(machine, m.id, m.name or "")]
        names = [(m.id, m.name or "") for m in own] or [(machine.strip(), machine.strip())]
        found = {one for one, text in named.items() if any(belongs(text, *name) for name in names)}
        wanted |= found | {m.id for m in own}
        if not found and not own:
            raise NotFoundError("machine-missing/named-nowhere", name=shortened(one_line(machine), 80))
    texts = [named.get(one) for one in wanted]
    wanted |= {m.id for m in machines.values() if any(belongs(text, m.id, m.name or "") for text in texts)}
    return (
        tuple(sorted(one for one in wanted if one not in machines)),
        tuple(sorted(one for one in wanted if one in machines)),
    )


def _whole_parts(
    archive: ArchiveStore, carriers: Sequence[str], machines: Sequence[str], advance: Advance
) -> tuple[list[PayloadFile], tuple[Unfit, ...]]:
    """Give the files of what is whole, and what is not.

    Raises:
        ArchiveError: `archive-damaged` where no carrier is whole, or no machine where there are no carriers.
    """
    parts: list[PayloadFile] = []
    problems: dict[str, ArchiveError] = {}
    for one in (*carriers, *machines):
        try:
            parts += _object_parts(archive, one, advance)
        except ArchiveError as problem:
            problems[one] = problem
    if problems and problems.keys() >= {*(carriers or machines)}:
        raise next(iter(problems.values()))
    return parts, tuple(unfit(one, problem) for one, problem in problems.items())


def _object_parts(archive: ArchiveStore, object_id: str, advance: Advance) -> list[PayloadFile]:
    audit = vet(archive, object_id, advance)   # what is there and unexpected does not belong to it and is left here
    for found in (*audit.damaged, *audit.missing):
        raise ArchiveError(
            "archive-damaged/not-handed-on", path=found.path, trouble=found.why, where=Where(file=found.path),
        )  # fmt: skip
    folder = archive.object_path(object_id)
    files = object_files(archive.inventory(object_id))
    return [PayloadFile(f"carriers/{object_id}/{path}", folder / path, sha512) for path, sha512 in files.items()]


def _surroundings(archive: ArchiveStore) -> list[PayloadFile]:
    """Give what makes the payload an archive of its own."""
    marker = archive.marker
    own = founding.Marker(
        format=marker.format, version=marker.version, uuid=marker.uuid, title=marker.title, created=marker.created,
        layout=LAYOUT,
    )  # fmt: skip
    text = readme.readme_text(title=marker.title, uuid=marker.uuid, created=marker.created, layout=LAYOUT)
    root = LAYOUTS[LAYOUT].root_files()
    return [
        PayloadFile(founding.MARKER, write_json(own)), PayloadFile(founding.README, text),
        *(PayloadFile(f"carriers/{name}", data) for name, data in root.items()),
    ]  # fmt: skip


def _description(archive: ArchiveStore, carriers: Sequence[str], machines: Sequence[str]) -> str:
    title = one_line(archive.marker.title) or "an archive without a title"
    return (
        f"{plural(len(carriers), 'carrier')} and {plural(len(machines), 'record')} of machines from {title}; "
        "data/README.txt explains the files"
    )
