"""Take carriers in that come from another archive: from a bag, or from the archive's folder."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Literal

from imagekeeper.archive.audits.vetting import RECORD_LIMIT, object_files, vet
from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.exchange.bag_check import ValidBag, bad, check_bag
from imagekeeper.archive.exchange.grafting import graft, graft_versions
from imagekeeper.archive.exchange.unpacking import unpacked
from imagekeeper.archive.ocfl import founding
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source, entries
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, InputError, UsageError, Where
from imagekeeper.files import display_name
from imagekeeper.jobs.archive.exporting import note
from imagekeeper.jobs.archive.merging import Merge, merge
from imagekeeper.jobs.archive.reproving import refuse_contradicted
from imagekeeper.jobs.archive.sides import (
    NamesHere,
    Side,
    Standing,
    copy_of,
    merged_key,
    merged_keys,
    standing,
    thing_names,
)
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.session import Session, next_event, stopped, user
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.progress import Advance, Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.ids import MAX_LENGTH, is_carrier_id
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.vouching import vouched
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.index.holding import IndexTrial

What = Literal["added", "extended", "merged", "unchanged"]

#: So many of the files that were passed over are named.
NAMED = 50


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What became of one carrier or machine, or would become of it.

    Attributes:
        id: Its id there.
        here: Its id here.
        what: `added` with its whole history; `extended` by the versions that were not here; `merged`, because both
            archives had moved on; `unchanged`, because there is nothing new in it.
        versions: How many versions of its record are new here.
        reads: How many reads are new here.
        disputed: Whether the two archives had settled its image differently, so that it is open now.
        said: What is new or different, in words.
    """

    id: str
    here: str
    what: What
    versions: int = 0
    reads: int = 0
    disputed: bool = False
    said: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Import:
    """What was taken in from another archive.

    Attributes:
        source: The bag or the archive's folder, made printable.
        archive: The identity of the archive that it comes from.
        title: What its keeper calls that, made printable.
        checked_by: The digests that the bag's payload was checked by; none for an archive's folder.
        dry_run: Whether this only says what would happen.
        taken: What became of each carrier and machine, by id.
        passed_over: Payload files that belong to no carrier and were not taken in; at most 50 are named.
        noted: Whether the archive's log tells of it.
    """

    SCHEMA: ClassVar[Literal["import/1"]] = "import/1"

    source: str
    archive: str
    title: str
    checked_by: tuple[str, ...]
    dry_run: bool
    taken: tuple[TakenIn, ...]
    passed_over: tuple[str, ...]
    noted: bool


def import_bag(
    archive: ArchiveStore, path: str, session: Session, *, dry_run: bool = False, progress: Progress = silent
) -> Import:
    """Check a bag completely, and take in what it holds.

    Nothing is taken in before all of it was found whole. Each carrier is then taken in wholly or not at all; where the
    work stops at one of them, the error tells which were taken in, and the same command goes on with the rest.

    Args:
        archive: Where it goes.
        path: The bag: a folder, zip, tar or tar.gz.
        session: Who works, and when.
        dry_run: Change nothing, and say what would happen.
        progress: Told the bytes read.

    Raises:
        NotFoundError: `not-found`.
        InputError: `bag-damaged`, `bag-unsafe`, `too-large`, `wrapper-damaged`.
        UsageError: `archive-busy`, `cannot-write`.
    """
    name = display_name(path)
    with unpacked(path) as folder, _placed(name):
        checked = check_bag(folder, progress)
        source = _payload(folder)
        strays = _strays(source, checked)
        with progress("Checking the carriers", checked.bytes) as advance:
            objects = _vetted(source, advance, in_bag=True)
        strays = sorted(set(strays).difference(*(one.files for one in objects)))
        taken = _take(archive, source, name, objects, session, dry_run)
    return _result(archive, source, name, taken, session, dry_run, checked.algorithms, strays)


def merge_archive(
    archive: ArchiveStore, other: str, session: Session, *, dry_run: bool = False, progress: Progress = silent
) -> Import:
    """Take in what another archive's folder holds; that archive is only read.

    Args:
        archive: Where it goes.
        other: The other archive's folder.
        session: Who works, and when.
        dry_run: Change nothing, and say what would happen.
        progress: Told the bytes read.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-damaged` for the other archive, of which nothing is taken in then.
        UsageError: `archive-busy`, `cannot-write`.
    """
    source = ArchiveStore.open(other)
    if source.path.resolve() == archive.path.resolve():
        raise UsageError("usage/merge-with-itself", name=display_name(other))
    with progress("Checking the other archive", 0) as advance:
        objects = _vetted(source, advance, in_bag=False)
    name = display_name(other)
    taken = _take(archive, source, name, objects, session, dry_run)
    return _result(archive, source, name, taken, session, dry_run, (), ())


@contextmanager
def _placed(name: str) -> Iterator[None]:
    try:
        yield
    except InputError as problem:
        raise problem.at(file=name) from problem


def _payload(folder: Path) -> ArchiveStore:
    """Open the archive that a bag's payload is."""
    data = folder / "data"
    try:
        if os.lstat(data / founding.MARKER).st_size > RECORD_LIMIT:
            raise bad(Phrase("bag-damaged/large-marker"), founding.MARKER)
        return ArchiveStore.open(data)
    except (OSError, ImagekeeperError) as problem:
        if isinstance(problem, ImagekeeperError) and problem.code in ("archive-newer", "bag-damaged"):
            raise
        gone = isinstance(problem, OSError)
        raise InputError("bag-damaged/without-archive" if gone else "bag-damaged/archive-unclear") from problem


def _strays(source: ArchiveStore, checked: ValidBag) -> list[str]:
    """List the payload, but for what makes it an archive; see that this is right."""
    expected = {f"data/carriers/{name}": data for name, data in source.layout.root_files().items()}
    for name, data in expected.items():
        path = checked.path / name
        if not path.is_file() or path.stat().st_size != len(data) or path.read_bytes() != data:
            raise bad(Phrase("bag-damaged/no-storage-root"), name)
    own = {*expected, f"data/{founding.MARKER}", f"data/{founding.README}"}
    found = []
    pending = ["data/"]
    while pending:
        above = pending.pop()
        for name, kind in entries(checked.path / above).items():
            if kind == "folder":
                pending.append(f"{above}{name}/")
            elif above + name not in own:
                found.append(above + name)
    return found


@dataclass(frozen=True)
class _Object:
    """A carrier or machine of the other archive, found whole."""

    inventory: Inventory
    folder: str
    uuid: str
    files: frozenset[str]

    @property
    def id(self) -> str:
        return self.inventory.id


def _vetted(source: ArchiveStore, advance: Advance, *, in_bag: bool) -> list[_Object]:
    from imagekeeper.archive.index.holding import IndexTrial  # SQLite comes with it

    found: dict[str, _Object] = {}
    with IndexTrial() as trial:
        for one in _each_vetted(source, trial, advance, in_bag=in_bag):
            if one.uuid in found:
                both = Phrase("archive-damaged/same-uuid", id=one.id, other=found[one.uuid].id)
                raise _refused(in_bag, one.id, both)
            found[one.uuid] = one
    return sorted(found.values(), key=lambda one: one.id)


def _each_vetted(source: ArchiveStore, trial: IndexTrial, advance: Advance, *, in_bag: bool) -> Iterator[_Object]:
    for folder in source.folders():
        object_id = source.layout.object_id(folder)
        if not is_carrier_id(object_id) or source.layout.object_folder(object_id) != folder:
            if in_bag:
                raise bad(Phrase("bag-damaged/no-carrier", folder=folder), folder)
            continue
        yield _vetted_object(source, trial, object_id, folder, advance, in_bag=in_bag)


def _vetted_object(
    source: ArchiveStore, trial: IndexTrial, object_id: str, folder: str, advance: Advance, *, in_bag: bool
) -> _Object:
    part = vet(source, object_id, advance)
    for problem in (*part.damaged, *part.missing, *(part.unexpected if in_bag else ())):
        raise _refused(in_bag, problem.path, Phrase("archive-damaged/of", name=problem.path, trouble=problem.why))
    try:
        inventory = source.inventory(object_id)
        if places.MACHINE in inventory.state and places.CARRIER not in inventory.state:
            record: CarrierRecord | MachineRecord = load_machine(source, object_id, inventory)
        else:
            record = load_record(source, object_id, inventory)
    except ImagekeeperError as problem:
        trouble = Phrase("archive-damaged/of", name=object_id, trouble=problem.why)
        raise _refused(in_bag, object_id, trouble) from problem
    if why := trial.refuses(record):
        raise _refused(in_bag, object_id, Phrase("archive-damaged/not-held", name=object_id, trouble=why))
    try:
        refuse_contradicted(source, inventory)
    except ArchiveError as problem:
        trouble = Phrase("archive-damaged/of", name=object_id, trouble=problem.why)
        raise _refused(in_bag, object_id, trouble) from problem
    files = frozenset(f"data/carriers/{folder}/{path}" for path in object_files(inventory))
    return _Object(inventory, folder, record.uuid, files)


def _refused(in_bag: bool, where: str, why: Phrase) -> ImagekeeperError:
    if in_bag:
        return bad(shortened(one_line(str(why)), 400), where)
    return ArchiveError("archive-damaged/other-archive", trouble=why, where=Where(file=one_line(where)))


@dataclass
class _Plan:
    """What is to become of one carrier or machine."""

    theirs: Side
    here: str
    ours: Side | None
    how: Standing | None


def _take(
    archive: ArchiveStore, source: ArchiveStore, name: str, objects: Sequence[_Object], session: Session, dry_run: bool
) -> list[TakenIn]:
    with nullcontext() if dry_run else archive.lock():
        plans, names = _plans(archive, source, objects)
        taking = _Taking(archive, source, names, session, dry_run)
        done: list[TakenIn] = []
        for number, plan in enumerate(plans):
            try:
                with nullcontext() if dry_run else archive.whole(plan.here):
                    taken = taking.take(plan)
            except ImagekeeperError as problem:
                if done and not dry_run:
                    _note(archive, source, name, done, session, stopped_at=plan.here)
                raise stopped(problem, [one.here for one in done], plan.here, len(plans) - number - 1) from problem
            done.append(taken)
        return done


def _plans(archive: ArchiveStore, source: ArchiveStore, objects: Sequence[_Object]) -> tuple[list[_Plan], NamesHere]:
    """Decide for every carrier what it is here, before anything is written."""
    held = {_uuid(archive, one): one for one in archive.ids()}
    ids = set(held.values())
    taken = ids | {one.id for one in objects}
    names = NamesHere()
    plans = []
    for one in objects:
        theirs = Side(source, one.inventory)
        here = held.get(one.uuid)
        if here is None:
            here = one.id if one.id not in ids else _free_id(one.id, taken)
            plan = _Plan(theirs, here, None, None)
        else:
            ours = Side(archive, archive.inventory(here))
            if ours.is_machine != theirs.is_machine:
                raise bad(Phrase("bag-damaged/machine-and-carrier", id=one.id), one.id)
            plan = _Plan(theirs, here, ours, standing(ours, theirs))
            if plan.how == "both" or merged_keys(ours):
                names.things[one.id] = thing_names(ours, theirs)
        taken.add(here)
        if here != one.id:
            names.ids[one.id] = here
        plans.append(plan)
    return plans, names


def _uuid(archive: ArchiveStore, object_id: str) -> str:
    side = Side(archive, archive.inventory(object_id))
    return side.own().uuid


def _free_id(wanted: str, taken: set[str]) -> str:
    number = 2
    while f"{wanted[: MAX_LENGTH - 5]}-{number}" in taken:
        number += 1
    return f"{wanted[: MAX_LENGTH - 5]}-{number}"


class _Taking:
    """Takes carriers in, one after the other."""

    def __init__(
        self, archive: ArchiveStore, source: ArchiveStore, names: NamesHere, session: Session, dry_run: bool
    ) -> None:
        self.archive = archive
        self.source = source
        self.names = names
        self.session = session
        self.dry_run = dry_run
        marker = source.marker
        self.origin = f"urn:uuid:{marker.uuid}"
        self.from_there = f"the archive {one_line(marker.title)[:80] or 'without a title'} ({self.origin})"

    def take(self, plan: _Plan) -> TakenIn:
        theirs = plan.theirs.inventory
        result = TakenIn(id=theirs.id, here=plan.here, what="unchanged")
        if plan.ours is None:
            result = replace(result, what="added", versions=theirs.head, reads=len(_reads(theirs)))
            if not self.dry_run:
                graft(self.archive, self.source, theirs, plan.here)
            return self.corrected(plan, result)
        if plan.how == "newer":
            new = [one for one in _reads(theirs) if one not in _reads(plan.ours.inventory)]
            if plan.here != theirs.id:   # an object has one id, so their versions cannot follow ours
                return self.merged(plan, plan.ours, result)
            head = plan.ours.inventory.head
            result = replace(result, what="extended", versions=theirs.head - head, reads=len(new))
            if not self.dry_run:
                graft_versions(self.archive, self.source, theirs, head)
            return self.corrected(plan, result)
        return self.merged(plan, plan.ours, result) if plan.how == "both" else result

    def corrected(self, plan: _Plan, result: TakenIn) -> TakenIn:
        """Add a version where things are called otherwise here than what was taken in says."""
        changes: dict[str, Source | None] = {}
        said: list[str] = []
        own = plan.theirs.own()
        new = replace(own, id=plan.here)
        if own.id != plan.here:
            said.append(f"{own.id} there is {plan.here} here, where that id stands for another")
        if isinstance(own, Carrier) and isinstance(new, Carrier):
            new = replace(new, machine=self.names.machine(own.machine))
            if new.machine != own.machine:
                said.append(f"the machine {own.machine} there is {new.machine} here")
        if new != own:
            changes[plan.theirs.place] = write_json(new)
        made = plan.theirs.several(Derivation, places.DERIVATIONS)
        renamed = [self.names.derivation(one) for one in made]
        if renamed != made:
            said.append("the sources of its derived images have other names here")
            changes[places.DERIVATIONS] = write_json(renamed)
        if not changes:
            return result
        if not self.dry_run:
            self.commit(plan.here, changes, "ingestion", f"taken in from {self.from_there}: {'; '.join(said)}")
        return replace(result, versions=result.versions + 1, said=tuple(said))

    def merged(self, plan: _Plan, ours: Side, result: TakenIn) -> TakenIn:
        found: Merge = merge(ours, plan.theirs, self.names)
        if not found.changes and not found.said:
            return result
        result = replace(
            result, what="merged", versions=1, reads=found.reads, disputed=found.disputed, said=tuple(found.said)
        )
        if not self.dry_run:
            key = merged_key(plan.theirs)
            changes = {**found.changes, **copy_of(plan.theirs)}
            end = plan.theirs.chain_end()
            self.commit(
                plan.here, changes, "information package merging",
                f"merged with the copy in {self.from_there}: {'; '.join(found.said)}; the last event there has the "
                f"SHA-256 {end}, and the copy lies under {places.MERGED}{key}",
                [] if end is None else [f"sha256:{end}"], [f"{places.MERGED}{key}/inventory.json"],
                warning=found.disputed,
            )  # fmt: skip
            if found.settle:
                agree(self.archive, plan.here, self.session)
        return result

    def commit(
        self, object_id: str, changes: dict[str, Source | None], kind: str, detail: str,
        sources: Sequence[str] = (), outcomes: Sequence[str] = (), *, warning: bool = False,
    ) -> None:  # fmt: skip
        now = self.session.now()
        side = Side(self.archive, self.archive.inventory(object_id))
        held = side.data(places.EVENTS) if places.EVENTS in side.state else b""
        event = next_event(
            side.chain_end(), self.session, now, kind, detail, sources=[self.origin, *sources], outcomes=outcomes,
            outcome="warning" if warning else "success",
        )  # fmt: skip
        self.archive.commit(
            object_id, {**changes, places.EVENTS: append_events(held, vouched([event], changes))},
            message=f"{'merged' if kind.endswith('merging') else 'taken in'} from another archive",
            user=user(self.session), now=now, expected_head=side.inventory.head,
        )  # fmt: skip


def _reads(inventory: Inventory) -> tuple[str, ...]:
    return places.read_ids(list(inventory.state))


def _note(
    archive: ArchiveStore, source: ArchiveStore, name: str, taken: Sequence[TakenIn], session: Session, **more: str
) -> bool:
    line = {
        "time": session.now(), "what": "import", "from": one_line(name), "archive": source.marker.uuid,
        "by": session.operator, "taken": [{"id": one.id, "here": one.here, "what": one.what} for one in taken], **more,
    }  # fmt: skip
    return note(archive, line)


def _result(
    archive: ArchiveStore, source: ArchiveStore, name: str, taken: Sequence[TakenIn], session: Session, dry_run: bool,
    algorithms: tuple[str, ...], strays: Sequence[str],
) -> Import:  # fmt: skip
    noted = False if dry_run else _note(archive, source, name, taken, session)
    return Import(
        source=name, archive=source.marker.uuid, title=one_line(source.marker.title), checked_by=algorithms,
        dry_run=dry_run, taken=tuple(taken), passed_over=tuple(map(one_line, strays[:NAMED])), noted=noted,
    )  # fmt: skip
