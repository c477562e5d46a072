"""The audit: the storage root read again and held against the digests, the records and the log of commits.

Each file is read once, on all processors; the result does not depend on how many there are.

Source:
    Oxford Common File Layout Specification 1.1, sections 3 and 4. Stricter than the standard in one respect:
    whatever this program did not put there is reported, even where the standard lets it lie.
    How often to audit is the keeper's choice: NDSA, "Checking Your Digital Content" (2014), prescribes no interval.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from imagekeeper.archive.audits import audit_log, surroundings
from imagekeeper.archive.audits.audit_report import Audit, AuditTally, Discrepancy, PartAudit, Scope
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.erasures import told
from imagekeeper.archive.ocfl.hashing import Hashing, processors
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR
from imagekeeper.archive.ocfl.layout import OBJECT_MARK
from imagekeeper.archive.ocfl.reading import entries, file_bytes
from imagekeeper.archive.ocfl.troubles import missing
from imagekeeper.errors import UsageError
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

T = TypeVar("T")
R = TypeVar("R")


@dataclass(frozen=True)
class Choice:
    """What is to be checked.

    Attributes:
        carriers: These; all where none is named.
        rolling: Of all carriers this share, those checked longest ago. [percent]
        resume: Go on with the audit that was stopped, if there is one.
    """

    carriers: tuple[str, ...] = ()
    rolling: float | None = None
    resume: bool = False

    def __post_init__(self) -> None:
        """Refuse what contradicts itself."""
        if sum((bool(self.carriers), self.rolling is not None, self.resume)) > 1:
            raise UsageError("usage/one-choice-of-audit")
        if self.rolling is not None and not 0 < self.rolling <= 100:
            raise UsageError("usage/no-percentage", share=self.rolling)

    @property
    def scope(self) -> Scope:
        """What is to be checked, in a word."""
        return "carriers" if self.carriers else "all" if self.rolling is None else "rolling"


def audit(
    archive: ArchiveStore, progress: Progress = silent, *, now: str, choice: Choice = Choice(), jobs: int | None = None
) -> Audit:
    """Check the archive or some carriers, and note the result in its log.

    What an interrupted program left is put right first, unless the archive cannot be written to. What lies above and
    beside the carriers is always checked, and whether a carrier is gone.

    Args:
        archive: The archive.
        progress: Told the bytes read.
        now: The time, RFC 3339.
        choice: What is to be checked.
        jobs: How many files are digested at a time; None for one a processor.

    Raises:
        UsageError: `archive-busy` while another program writes; damage is never raised, it is in the result.
        NotFoundError: `carrier-missing` for a carrier that was named and never was there.
    """
    time = check_time(now)
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(archive.lock())
        except UsageError as problem:
            if problem.code == "archive-busy":
                raise
            # a read-only copy can still be audited
        return _Audit(archive, time, choice, jobs or processors()).run(progress)


class _Audit:
    def __init__(self, archive: ArchiveStore, time: str, choice: Choice, jobs: int) -> None:
        self.archive = archive
        self.time = time
        self.jobs = jobs
        self.commits = ledger.read_commits(archive)
        self.earlier = audit_log.unfinished(archive) if choice.resume else None
        self.choice = choice
        self.changed: list[str] = []

    def run(self, progress: Progress) -> Audit:
        root = _Root(self.archive, self.commits)
        places = root.places()
        chosen, scope = self.chosen([*places], root.gone)
        wanted = {carrier: place for carrier, place in places.items() if chosen is None or carrier in chosen}
        passed = self.passed_over(wanted)
        folders = [self.archive.root / place for carrier, place in wanted.items() if carrier not in passed]
        total = sum(map(_total, folders)) + root.size
        keeper = audit_log.Keeper(self.archive, self.earlier.started if self.earlier else self.time, scope, chosen)
        parts: list[PartAudit] = []
        try:
            with progress("Checking", total) as advance, Hashing(advance, self.jobs) as hashing:
                first = AuditTally(self.archive, hashing)
                root.check(first, carriers=bool(places))
                parts.append(first.part(None))
                for state, part in self.each(wanted, passed, hashing):
                    keeper.keep(state, part)
                    parts.append(part)
        finally:
            keeper.close()
        result = self.result(parts, scope, len(places), self.every_since(places, chosen))
        return replace(result, noted=audit_log.note(self.archive, result, chosen))

    def chosen(self, carriers: list[str], gone: set[str]) -> tuple[list[str] | None, Scope]:
        """Choose the carriers; None for all of them."""
        if self.earlier is not None:
            return self.earlier.chosen, self.earlier.scope
        if self.choice.carriers:
            for carrier in self.choice.carriers:
                if carrier not in carriers and carrier not in gone:
                    raise missing(carrier)
            return sorted(set(self.choice.carriers)), "carriers"
        if self.choice.rolling is None:
            return None, "all"
        checks = audit_log.last_checks(self.archive, carriers, self.commits)
        return sorted(audit_log.longest_ago(checks, self.choice.rolling)), "rolling"

    def passed_over(self, wanted: dict[str, str]) -> dict[str, tuple[str, PartAudit]]:
        """Give what the stopped audit found of carriers that are still as it found them."""
        found = {}
        for carrier, (state, part) in (self.earlier.parts if self.earlier else {}).items():
            if carrier not in wanted:
                continue
            if state == _state(self.archive.root / wanted[carrier]):
                found[carrier] = (state, part)
            else:
                self.changed.append(carrier)
        return found

    def each(
        self, wanted: dict[str, str], passed: dict[str, tuple[str, PartAudit]], hashing: Hashing
    ) -> Iterator[tuple[str, PartAudit]]:
        """Check the carriers, several at a time; give what was found in their order."""

        def check(carrier: str) -> tuple[str, PartAudit]:
            state = _state(self.archive.root / wanted[carrier])
            return state, check_carrier(self.archive, hashing, carrier, self.commits)

        yield from passed.values()
        yield from _in_order(check, (carrier for carrier in wanted if carrier not in passed), hashing)

    def every_since(self, places: dict[str, str], chosen: list[str] | None) -> str | None:
        if chosen is None:
            return self.time
        checks = audit_log.last_checks(self.archive, places, self.commits)
        times = [self.time if carrier in chosen else checks[carrier] for carrier in places]
        return None if None in times else min((time for time in times if time is not None), default=self.time)

    def result(self, parts: list[PartAudit], scope: Scope, held: int, every_since: str | None) -> Audit:
        lists: dict[str, list[Discrepancy]] = {"damaged": [], "missing": [], "unexpected": []}
        seen: set[str] = set()
        for part in parts:   # only the first word about a path counts
            for name, found in lists.items():
                new = [entry for entry in getattr(part, name) if entry.path not in seen]
                seen.update(entry.path for entry in new)
                found += new
        damaged, absent, unexpected = (tuple(sorted(found, key=lambda entry: entry.path)) for found in lists.values())
        return Audit(
            carriers=sum(part.carrier is not None for part in parts), files=sum(part.files for part in parts),
            bytes=sum(part.bytes for part in parts), damaged=damaged, missing=absent, unexpected=unexpected,
            ok=not (damaged or absent or unexpected), time=self.time, scope=scope, carriers_held=held,
            every_since=every_since, resumed=self.earlier.started if self.earlier else None,
            changed=tuple(sorted(self.changed)),
            checked=tuple(part.carrier for part in parts if part.carrier is not None),
        )  # fmt: skip


def check_carrier(archive: ArchiveStore, hashing: Hashing, carrier: str, commits: ledger.Commits) -> PartAudit:
    """Check one carrier's folder."""
    return examine(archive, hashing, carrier, commits)[0]


def examine(
    archive: ArchiveStore, hashing: Hashing, carrier: str, commits: ledger.Commits
) -> tuple[PartAudit, bytes | None]:
    """Check one carrier's folder, and give the inventory too that all was held against; None where none is sure."""
    # slow to load, and the other commands of an archive do without
    from imagekeeper.archive.audits.object_audit import ObjectAudit

    report = AuditTally(archive, hashing)
    listing = report.list_folder(carrier, archive.object_path(carrier))
    trusted = ObjectAudit(archive, report, carrier, commits).check(listing)
    return report.part(carrier), trusted


def _in_order(work: Callable[[T], R], items: Iterable[T], hashing: Hashing) -> Iterator[R]:
    """Do some work on threads, not far ahead of what is taken, and give the results in order."""
    if hashing.jobs == 1:
        yield from map(work, items)
        return
    with ThreadPoolExecutor(hashing.jobs, "carrier") as pool:
        ahead: deque[Future[R]] = deque()
        try:
            for item in items:
                # each thread asks the tables as whoever started it does
                ahead.append(pool.submit(copy_context().run, work, item))
                if len(ahead) > 2 * hashing.jobs:
                    yield ahead.popleft().result()
            while ahead:
                yield ahead.popleft().result()
        except BaseException:   # an interrupt above all: the threads must not go on to the end
            hashing.stop()
            pool.shutdown(cancel_futures=True)
            raise


def _state(folder: Path) -> str:
    """Tell a carrier's version by a digest that changes with it."""
    try:
        return hashlib.sha512(file_bytes(folder / SIDECAR)).hexdigest()
    except OSError:
        return ""


def _total(folder: Path) -> int:
    """Sum the sizes below a folder, for the progress bar."""
    total = 0
    pending = [os.fspath(folder)]
    while pending:
        with contextlib.suppress(OSError), os.scandir(pending.pop()) as listing:
            for entry in listing:
                if entry.is_dir(follow_symlinks=False):
                    pending.append(entry.path)
                elif entry.is_file(follow_symlinks=False):
                    total += entry.stat(follow_symlinks=False).st_size
    return total


class _Root:
    """The check of the storage root and of what lies above the carriers."""

    def __init__(self, archive: ArchiveStore, commits: ledger.Commits) -> None:
        self.archive = archive
        self.commits = commits
        self.expected = archive.layout.root_files()
        self.found: dict[str, str] = {}
        self.troubles: list[Callable[[AuditTally], object]] = []
        self.gone: set[str] = set()

    @property
    def size(self) -> int:
        """How much the root's own files hold. [byte]"""
        total = 0
        for name in self.expected:
            with contextlib.suppress(OSError):
                total += (self.archive.root / name).lstat().st_size
        return total

    def places(self) -> dict[str, str]:
        """Find the carriers with their folders, relative to the storage root, in order."""
        if not self.found:
            self.folder("", self.archive.layout.depth)
            self.gone = {name for name in self.commits.notes if name not in self.found}
            for name in (one for one in self.commits.notes if one in self.gone or self.commits.erasure(one)):
                self.look_at_erasure(name)
        return self.found

    def look_at_erasure(self, carrier: str) -> None:
        """Tell apart what was erased from what is gone: log and stub must bear each other out."""
        path, noted = self.archive.log / ledger.COMMITS, self.commits.erasure(carrier)
        found = told(self.archive, self.commits, carrier)
        if found is None:
            if noted is not None:
                why = f"line {noted.number} notes that {carrier} was erased, and no stub tells of it"
                self.troubles.append(lambda report: report.damaged(None, path, why))
            return
        self.gone.discard(carrier)
        stub_id, erased = found
        if noted is None or noted.line != ledger.erasure_line(erased, stub_id):
            why = f"the erasure of {carrier} is not noted in it as {stub_id} tells of it"
            self.troubles.append(lambda report: report.damaged(None, path, why))
        elif self.commits.digest(carrier) != erased.log_sha512:
            why = f"its lines about {carrier} are not those that {stub_id} tells of"
            self.troubles.append(lambda report: report.damaged(None, path, why))
        if self.found.pop(carrier, None) is not None:
            place = self.archive.layout.object_folder(carrier)
            self.unexpected(place, f"{carrier} was erased, as {stub_id} tells, and lies here again")

    def check(self, report: AuditTally, *, carriers: bool) -> None:
        """Report what is wrong above and beside the carriers."""
        for name, data in self.expected.items():
            path = self.archive.root / name
            found = report.read(None, path)
            if found is not None and found != data:
                report.damaged(
                    None, path, "it is not as it was written", hashlib.sha512(data).hexdigest(),
                    hashlib.sha512(found).hexdigest(),
                )  # fmt: skip
        for say in self.troubles:
            say(report)
        for carrier in sorted(self.gone):
            path = self.archive.object_path(carrier)
            report.missing(carrier, path, "the log of commits names this carrier, and its folder is gone")
        surroundings.check(self.archive, report, self.commits, carriers=carriers)

    def unexpected(self, place: str, why: str) -> None:
        self.troubles.append(lambda report: report.unexpected(None, self.archive.root / place, why))

    def listing(self, place: str) -> dict[str, str]:
        try:
            return entries(self.archive.root / place)
        except OSError:
            self.troubles.append(lambda report: report.list_folder(None, self.archive.root / place))
            return {}

    def folder(self, above: str, depth: int) -> None:
        listing = self.listing(above)
        if not listing and above:
            self.unexpected(above, "it is an empty folder")
        for name, kind in listing.items():
            place = above + name
            if place in self.expected:
                continue
            if any(known.startswith(f"{place}/") for known in self.expected) and kind == "folder":
                self.known_folder(place)
            elif kind != "folder":
                self.unexpected(place, "nothing accounts for it")
            elif depth:
                self.folder(f"{place}/", depth - 1)
            else:
                self.object(place)

    def known_folder(self, place: str) -> None:
        """Look through the folder of the layout's parameters."""
        for name, kind in self.listing(place).items():
            inside = f"{place}/{name}"
            if inside in self.expected:
                continue
            if kind == "folder" and any(known.startswith(f"{inside}/") for known in self.expected):
                self.known_folder(inside)
            else:
                self.unexpected(inside, "nothing accounts for it")

    def object(self, place: str) -> None:
        carrier = self.archive.layout.object_id(place)
        at_home = is_carrier_id(carrier) and self.archive.layout.object_folder(carrier) == place
        looks = carrier in self.commits.notes or {OBJECT_MARK, INVENTORY, SIDECAR, "v1"} & self.listing(place).keys()
        if at_home and looks:
            self.found[carrier] = place
        else:
            why = "it is no carrier's folder" if not looks else "the layout puts no carrier there"
            self.unexpected(place, why)
