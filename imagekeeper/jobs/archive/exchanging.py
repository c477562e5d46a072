"""Take carriers in that come from another archive: from a bag, or from the archive's folder."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar, Literal

from imagekeeper.archive.audits.vetting import RECORD_LIMIT
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.exchange.bag_check import ValidBag, bad, check_bag
from imagekeeper.archive.exchange.grafting import graft, graft_versions
from imagekeeper.archive.exchange.quarantine import Trial, nothing_more
from imagekeeper.archive.exchange.unpacking import unpacked
from imagekeeper.archive.ocfl import founding
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.ledger import read_commits
from imagekeeper.archive.ocfl.reading import Source, entries
from imagekeeper.archive.ocfl.troubles import Unfit, unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, InputError, UsageError
from imagekeeper.files import display_name
from imagekeeper.jobs.archive.arrivals import Arrival, Arrivals, arrivals
from imagekeeper.jobs.archive.exporting import note
from imagekeeper.jobs.archive.merging import Merge, merge
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
from imagekeeper.jobs.carriers.resettling import weighed_again
from imagekeeper.jobs.session import Session, next_event, stopped, user
from imagekeeper.jobs.tables.travelling import coming_along, take_along
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.ids import MAX_LENGTH
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.vouching import vouched
from imagekeeper.sentences.say import Phrase

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
        set_aside: Carriers and machines that were not taken in, because something is wrong with them.
        own_rows: How many rows of the other archive's own tables are new here; they decide nothing until accepted.
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
    set_aside: tuple[Unfit, ...] = ()
    own_rows: int = 0

    @property
    def exit_code(self) -> int:
        """Where something was set aside, 3 for a bag and 4 for an archive; else 0."""
        if not self.set_aside:
            return 0
        return InputError.exit_code if self.checked_by else ArchiveError.exit_code


def import_bag(
    archive: ArchiveStore, path: str, session: Session, *, dry_run: bool = False, shown: Trial = nothing_more,
    progress: Progress = silent,
) -> Import:  # fmt: skip
    """Check a bag completely, and take in what it holds.

    Nothing is taken in of a bag that is not whole. A carrier whose record does not fit, or with which a later command
    would fail, is set aside and named; the others are taken in, each wholly or not at all. Where the work stops at one
    of them, the error tells which were taken in, and the same command goes on with the rest.

    Args:
        archive: Where it goes.
        path: The bag: a folder, zip, tar or tar.gz.
        session: Who works, and when.
        dry_run: Change nothing, and say what would happen.
        shown: Shows a record, to see that it can be; what it raises speaks against the record.
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
            found = arrivals(source, shown, advance, in_bag=True)
        along = {f"data/{one}" for one in coming_along(source)}
        strays = [one for one in sorted(set(strays) - found.files - along) if not _lies_in(one, found.files)]
        own = _take_along(archive, source, dry_run)
        taken, unfit = _take(archive, source, name, found, session, dry_run)
    return _result(archive, source, name, taken, unfit, session, dry_run, checked.algorithms, strays, own)


def _lies_in(path: str, files: frozenset[str]) -> bool:
    """Whether a path of a bag lies in a carrier's folder that was set aside."""
    parts = path.split("/")
    return any("/".join(parts[:n]) + "/" in files for n in range(1, len(parts)))


def merge_archive(
    archive: ArchiveStore, other: str, session: Session, *, dry_run: bool = False, shown: Trial = nothing_more,
    progress: Progress = silent,
) -> Import:  # fmt: skip
    """Take in what another archive's folder holds; that archive is only read.

    What is damaged there, or does not fit, is set aside and named.

    Args:
        archive: Where it goes.
        other: The other archive's folder.
        session: Who works, and when.
        dry_run: Change nothing, and say what would happen.
        shown: Shows a record, to see that it can be; what it raises speaks against the record.
        progress: Told the bytes read.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-damaged` where nothing of the other archive can be taken in.
        UsageError: `archive-busy`, `cannot-write`.
    """
    source = ArchiveStore.open(other)
    if source.path.resolve() == archive.path.resolve():
        raise UsageError("usage/merge-with-itself", name=display_name(other))
    with progress("Checking the other archive", 0) as advance:
        found = arrivals(source, shown, advance, in_bag=False)
    name = display_name(other)
    own = _take_along(archive, source, dry_run)
    taken, unfit = _take(archive, source, name, found, session, dry_run)
    return _result(archive, source, name, taken, unfit, session, dry_run, (), (), own)


def _take_along(archive: ArchiveStore, source: ArchiveStore, dry_run: bool) -> int:
    """Keep the other's own rows first: they decide nothing, and once the carriers are whole nothing can fail."""
    if not coming_along(source):
        return 0
    with nullcontext() if dry_run else archive.lock():
        return take_along(archive, source, dry_run=dry_run)


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


@dataclass
class _Plan:
    """What is to become of one carrier or machine."""

    theirs: Side
    here: str
    ours: Side | None
    how: Standing | None


def _take(
    archive: ArchiveStore, source: ArchiveStore, name: str, found: Arrivals, session: Session, dry_run: bool
) -> tuple[list[TakenIn], list[Unfit]]:
    with nullcontext() if dry_run else archive.lock():
        plans, names, aside = _plans(archive, source, found.fit)
        taking = _Taking(archive, source, names, session, dry_run)
        done: list[TakenIn] = []
        for number, plan in enumerate(plans):
            try:
                with nullcontext() if dry_run else archive.whole(plan.here):
                    taken = taking.take(plan)
            except UsageError as problem:   # no room, or another program writes: the others would fare no better
                if done and not dry_run:
                    _note(archive, source, name, done, session, stopped_at=plan.here)
                raise stopped(problem, [one.here for one in done], plan.here, len(plans) - number - 1) from problem
            except ImagekeeperError as problem:
                aside.append(unfit(plan.theirs.inventory.id, problem))
            else:
                done.append(taken)
    return done, sorted((*found.unfit, *aside), key=lambda one: one.id)


def _plans(
    archive: ArchiveStore, source: ArchiveStore, objects: Sequence[Arrival]
) -> tuple[list[_Plan], NamesHere, list[Unfit]]:
    """Decide for every carrier what it is here, before anything is written; set aside what cannot be told."""
    held, unread = _held(archive)
    commits = read_commits(archive)
    ids = {*held.values(), *unread, *(one for one in commits.notes if commits.erasure(one) is not None)}
    taken = ids | {one.id for one in objects}
    names = NamesHere()
    plans: list[_Plan] = []
    aside: list[Unfit] = []
    for one in objects:
        if one.id in unread:
            why = Phrase("archive-damaged/ours-unreadable", trouble=unread[one.id])
            aside.append(Unfit(one.id, one_line(str(why))[:400]))
            continue
        try:
            plan = _plan(archive, source, one, held.get(one.uuid), names)
        except ImagekeeperError as problem:
            aside.append(unfit(one.id, problem))
            continue
        if plan.ours is None:
            plan.here = one.id if one.id not in ids else _free_id(one.id, taken)
        taken.add(plan.here)
        if plan.here != one.id:
            names.ids[one.id] = plan.here
        plans.append(plan)
    return plans, names, aside


def _plan(archive: ArchiveStore, source: ArchiveStore, one: Arrival, here: str | None, names: NamesHere) -> _Plan:
    theirs = Side(source, one.inventory)
    if here is None:
        return _Plan(theirs, one.id, None, None)
    ours = Side(archive, archive.inventory(here))
    if places.ERASED in ours.state and places.ERASED not in theirs.state:
        raise UsageError("carrier-exists/erased-here", id=one.id, stub=here)
    if ours.is_machine != theirs.is_machine:
        raise bad(Phrase("bag-damaged/machine-and-carrier", id=one.id), one.id)
    plan = _Plan(theirs, here, ours, standing(ours, theirs))
    if places.ERASED not in theirs.state and (plan.how == "both" or merged_keys(ours)):
        names.things[one.id] = thing_names(ours, theirs)
    return plan


def _held(archive: ArchiveStore) -> tuple[dict[str, str], dict[str, str]]:
    """Give the ids here by the carriers' UUIDs; and why others cannot be read, by their ids."""
    held: dict[str, str] = {}
    unread: dict[str, str] = {}
    for one in archive.ids():
        try:
            held[Side(archive, archive.inventory(one)).own().uuid] = one
        except ImagekeeperError as problem:
            unread[one] = problem.why
    return held, unread


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
        if places.ERASED in plan.theirs.state:
            return replace(result, said=("it only tells that a carrier was erased there, and is not taken in",))
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
            elif not ours.is_machine:
                self.weigh_again(plan.here)
        return result

    def weigh_again(self, carrier_id: str) -> None:
        """Settle again what the evidence of both gives: each side's verdict rested on its own."""
        inventory = self.archive.inventory(carrier_id)
        record = load_record(self.archive, carrier_id, inventory)
        found = weighed_again(self.archive, inventory, record)
        if found.changes:
            self.commit(
                carrier_id, dict(found.changes), "information package merging",
                "weighed again with the evidence of both" + (f"; {found.said}" if found.said else ""),
            )  # fmt: skip

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
    archive: ArchiveStore, source: ArchiveStore, name: str, taken: Sequence[TakenIn], session: Session, *,
    aside: Sequence[Unfit] = (), **more: str,
) -> bool:  # fmt: skip
    line: dict[str, object] = {
        "time": session.now(), "what": "import", "from": one_line(name), "archive": source.marker.uuid,
        "by": session.operator, "taken": [{"id": one.id, "here": one.here, "what": one.what} for one in taken], **more,
    }  # fmt: skip
    if aside:
        line["set_aside"] = [one.id for one in aside]
    return note(archive, line)


def _result(
    archive: ArchiveStore, source: ArchiveStore, name: str, taken: Sequence[TakenIn], aside: Sequence[Unfit],
    session: Session, dry_run: bool, algorithms: tuple[str, ...], strays: Sequence[str], own: int,
) -> Import:  # fmt: skip
    noted = False if dry_run else _note(archive, source, name, taken, session, aside=aside)
    return Import(
        source=name, archive=source.marker.uuid, title=one_line(source.marker.title), checked_by=algorithms,
        dry_run=dry_run, taken=tuple(taken), passed_over=tuple(map(one_line, strays[:NAMED])), noted=noted,
        set_aside=tuple(aside), own_rows=own,
    )  # fmt: skip
