"""Putting right what an audit finds: from what the archive itself bears out, else from a replica.

A file is replaced only by one whose digest is the right one: that of the inventory, of which two witnesses agree, or
that of the log of commits. Each is read before and after. What was damaged goes to quarantine; nothing is deleted, and
what nobody bears out is left as it is.

Source:
    PREMIS 3.0, event type `recovery`; NDSA Levels of Digital Preservation 2.0, integrity, level 4: replace or repair
    damaged content.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, Literal

from imagekeeper.archive.audits.audit import audit, examine
from imagekeeper.archive.audits.audit_report import Audit, Discrepancy
from imagekeeper.archive.exchange.grafting import graft, graft_versions
from imagekeeper.archive.exchange.repair_beside import right_log, right_marker, right_readme
from imagekeeper.archive.exchange.replica import check_history, enter_lock, put
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.hashing import Hashing
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import LAYOUTS, OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.reading import bytes_if_any, file_blocks, file_bytes
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.recovery import Repair, set_aside
from imagekeeper.errors import ArchiveError, ImagekeeperError, NotFoundError, UsageError
from imagekeeper.files import display_name, unwritable
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Progress, silent

REPAIRS = "repairs.jsonl"

#: Some damage shows only when other damage is gone: the line about an inventory that could not be read, say.
ROUNDS = 3


@dataclass(frozen=True, kw_only=True)
class Restored:
    """A file that is right again.

    Attributes:
        carrier: The carrier's id, or null.
        path: The file, or the folder of a carrier or version, relative to the archive.
        origin: `replica`, or `archive` where the archive's own files bore it out.
        sha512: The SHA-512 of what is there now; null for a folder.
        damaged_sha512: The SHA-512 of what was there; null where nothing was, or it could not be read.
        quarantine: Where what was there lies now, relative to the archive, or null.
    """

    carrier: str | None
    path: str
    origin: Literal["replica", "archive"]
    sha512: str | None
    damaged_sha512: str | None
    quarantine: str | None


@dataclass(frozen=True)
class SetAside:
    """Something unexpected that was moved out of the holdings.

    Attributes:
        path: Where it lay, relative to the archive.
        quarantine: Where it lies now, relative to the archive.
    """

    path: str
    quarantine: str


@dataclass(frozen=True)
class Refused:
    """A carrier whose copy in the replica is not what the archive noted, and was left alone.

    Attributes:
        carrier: The carrier's id.
        version: The first version that is another.
        why: In words.
    """

    carrier: str
    version: int
    why: str


@dataclass(frozen=True, kw_only=True)
class Repaired:
    """What a repair did, and what is left.

    Attributes:
        interrupted: Changes that had been interrupted, and what was done about them.
        restored: Files that are right again.
        set_aside: What was unexpected and lies in quarantine now.
        events: Carriers whose history tells of the repair now.
        damaged: What is still damaged.
        missing: What is still missing.
        unexpected: What is still unexpected.
        ok: Whether nothing is left.
        time: When the repair was made, RFC 3339.
        refused: Carriers that the replica holds with another history than the one noted here: nothing was taken.
    """

    SCHEMA: ClassVar[str] = "repair/1"

    interrupted: tuple[Repair, ...]
    restored: tuple[Restored, ...]
    set_aside: tuple[SetAside, ...]
    events: tuple[str, ...]
    damaged: tuple[Discrepancy, ...]
    missing: tuple[Discrepancy, ...]
    unexpected: tuple[Discrepancy, ...]
    ok: bool
    time: str
    refused: tuple[Refused, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where something is still damaged or missing, 1 where something is still unexpected, else 0."""
        if self.damaged or self.missing:
            return 4
        return 1 if self.unexpected else 0


def repair(
    archive: ArchiveStore,
    replica: ArchiveStore | None = None,
    progress: Progress = silent,
    *,
    now: str,
    quarantine_unexpected: bool = False,
    jobs: int | None = None,
) -> Repaired:
    """Finish or undo interrupted changes, then restore what is damaged or missing.

    The carriers' own histories are not written to; `imagekeeper.jobs.archive.repairing` adds the events.

    Args:
        archive: The archive.
        replica: A copy of it, from which to take what the archive lacks.
        progress: Told the bytes read.
        now: The time, RFC 3339.
        quarantine_unexpected: Move what nothing accounts for to quarantine.
        jobs: How many files are read at a time; None for one a processor.

    Raises:
        UsageError: `archive-busy`, `cannot-write`, `usage` where the replica is one of another archive.
    """
    if replica is not None and replica.marker.uuid != archive.marker.uuid:
        raise UsageError(
            "usage", "that is no copy of this archive",
            why=f"it is {replica.marker.uuid}, and this archive is {archive.marker.uuid}",
            hint="give a folder that archive replicate made from this archive",
        )  # fmt: skip
    with contextlib.ExitStack() as stack:
        interrupted = stack.enter_context(archive.lock()) + archive.recover(everything=True)
        if replica is not None:
            enter_lock(stack, replica)
        found = audit(archive, progress, now=now, jobs=jobs)
        work = _Repair(archive, replica, quarantine_unexpected)
        for _ in range(ROUNDS):
            done = len(work.restored) + len(work.set_aside)
            try:
                work.run(found)
            except OSError as problem:
                raise unwritable(display_name(archive.path), problem) from problem
            if done == len(work.restored) + len(work.set_aside):
                break
            interrupted += archive.recover(everything=True)
            found = audit(archive, progress, now=now, jobs=jobs)
        left = {entry.carrier for entry in found.damaged + found.missing}
        result = Repaired(
            interrupted=interrupted, restored=tuple(work.restored), set_aside=tuple(work.set_aside), events=(),
            damaged=found.damaged, missing=found.missing, unexpected=found.unexpected, ok=found.ok, time=found.time,
            refused=tuple(one for one in work.refused.values() if one.carrier in left),
        )  # fmt: skip
        if result.interrupted or result.restored or result.set_aside or result.refused:
            _note(archive, result)
    return result


def _note(archive: ArchiveStore, result: Repaired) -> None:
    line: dict[str, object] = {
        "time": result.time,
        "ok": result.ok,
        "interrupted": result.interrupted,
        "restored": result.restored,
        "set_aside": result.set_aside,
    }
    if result.refused:
        line["refused"] = result.refused
    try:
        ledger.append(archive, REPAIRS, line)
    except OSError as problem:
        raise unwritable(display_name(archive.log), problem) from problem


def open_damaged(path: str, replica: ArchiveStore | None) -> ArchiveStore:
    """Open an archive whose mark may be damaged or missing; then it is put right first.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-damaged` where neither its README nor the replica bears a mark out; `archive-newer`.
    """
    try:
        return ArchiveStore.open(path)
    except (ArchiveError, NotFoundError) as problem:
        if problem.code not in ("archive-damaged", "archive-missing") or not (Path(path) / "carriers").is_dir():
            raise
        data = right_marker(Path(path), replica)
        if data is None:
            raise
        archive = _opened_with(path, data)
        with archive.lock():
            try:
                put(archive, archive.path / founding.MARKER, data, None)
            except OSError as refused:
                raise unwritable(display_name(path), refused) from refused
        return ArchiveStore.open(path)


def _opened_with(path: str, data: bytes) -> ArchiveStore:
    marker = founding.parse_marker(data)
    return ArchiveStore(Path(path).absolute(), marker, LAYOUTS[marker.layout])


class _Repair:
    def __init__(self, archive: ArchiveStore, replica: ArchiveStore | None, quarantine_unexpected: bool) -> None:
        self.archive = archive
        self.replica = replica
        self.quarantine_unexpected = quarantine_unexpected
        self.restored: list[Restored] = []
        self.set_aside: list[SetAside] = []
        self.refused: dict[str, Refused] = {}

    def run(self, found: Audit) -> None:
        wrong = {entry.path for entry in found.damaged + found.missing}
        self.beside(wrong)
        for carrier in sorted({entry.carrier for entry in found.damaged + found.missing if entry.carrier}):
            self.carrier(carrier)
        if self.archive.name_of(self.archive.log / ledger.COMMITS) in wrong or any(
            entry.carrier and not self.archive.has(entry.carrier) for entry in found.missing
        ):
            self.log_of_commits()
        if self.quarantine_unexpected:
            for entry in found.unexpected:
                self.unexpected(entry)

    def beside(self, wrong: set[str]) -> None:
        """Restore the storage root's own files, the mark and the README."""
        for name, data in self.archive.layout.root_files().items():
            self.known(None, self.archive.root / name, data, wrong)
        mark, text = self.archive.path / founding.MARKER, self.archive.path / founding.README
        if {founding.MARKER, founding.README} & wrong:
            right = right_marker(self.archive.path, self.replica)
            if right is not None and bytes_if_any(mark) != right:
                self.file(None, mark, right, "archive")
                self.archive.marker = founding.recognise(self.archive.path)
            readme = right_readme(self.archive, self.replica)
            if readme is not None and bytes_if_any(text) != readme:
                self.file(None, text, readme, "archive")

    def known(self, carrier: str | None, path: Path, data: bytes, wrong: set[str]) -> None:
        if self.archive.name_of(path) in wrong and bytes_if_any(path) != data:
            self.file(carrier, path, data, "archive")

    def file(
        self, carrier: str | None, path: Path, source: bytes | Path, origin: Literal["replica", "archive"],
        expected: str | None = None,
    ) -> None:  # fmt: skip
        """Put a file in place, checked before, on the way and after."""
        right = expected or _digest(source)
        if right is None or _digest(source) != right:
            return   # the replica's copy is no better
        was = _digest(path)
        aside = put(self.archive, path, source, right)
        if _digest(path) != right:
            return   # the medium did not take it: the audit that follows tells
        kept = None if aside is None else self.archive.name_of(aside)
        self.restored.append(Restored(
            carrier=carrier, path=self.archive.name_of(path), origin=origin, sha512=right, damaged_sha512=was,
            quarantine=kept,
        ))  # fmt: skip

    def carrier(self, carrier: str) -> None:
        """Restore one carrier's files, and then the versions that are gone."""
        commits = ledger.read_commits(self.archive)
        if not os.path.lexists(self.archive.object_path(carrier)):
            self.whole(carrier, commits)
            return
        with Hashing(lambda done: None, 1) as hashing:
            _, trusted = examine(self.archive, hashing, carrier, commits)
        there = self.in_replica(carrier)
        inventory = None if trusted is None else parse_inventory(trusted).inventory
        if inventory is None or trusted is None:
            if there is None or self.replica is None or there.head < commits.newest(carrier):
                return   # nobody bears out what the carrier should hold
            if self.refuses(there, commits, 0):
                return
            inventory, trusted = there, file_bytes(self.replica.object_path(carrier) / INVENTORY)
        self.files(inventory, trusted, commits)
        lost = commits.newest(carrier) > inventory.head
        if lost and there is not None and self.replica and there.at(inventory.head) == inventory:
            head = inventory.head
            if self.refuses(there, commits, head):
                return
            with self.tolerant(carrier):
                check_history(self.replica, there, head)
                graft_versions(self.archive, self.replica, there, head)
            for number in range(head + 1, self.head(carrier) + 1):
                self.folder(carrier, self.archive.object_path(carrier) / f"v{number}")

    def refuses(self, there: Inventory, commits: ledger.Commits, head: int) -> bool:
        """Whether a version of the replica after one is not the one that the log of commits notes; then it is told.

        A digest beside an inventory tells that nothing was damaged, never that it is the history of this archive.
        Versions that the log does not note are judged by their own digests alone.
        """
        if self.replica is None:
            return False
        folder, notes = self.replica.object_path(there.id), commits.notes.get(there.id, ())
        for number in range(head + 1, there.head + 1):
            noted = {one.line for one in notes if one.version == number}
            if not noted:
                continue
            names = [f"v{number}/{INVENTORY}", *([INVENTORY] if number == there.head else [])]
            for data in (bytes_if_any(folder / name) for name in names):
                digest = hashlib.sha512(data or b"").hexdigest()
                created = there.versions[number - 1].created
                if data is not None and ledger.commit_line(there.id, number, created, digest) not in noted:
                    self.refused[there.id] = Refused(
                        there.id, number,
                        f"version {number} of the replica has the inventory {digest[:16]}…, which is not the one that "
                        "the log of commits notes",
                    )  # fmt: skip
                    return True
        return False

    def whole(self, carrier: str, commits: ledger.Commits) -> None:
        """Take a carrier from the replica whose folder is gone."""
        there = self.in_replica(carrier)
        if there is None or self.replica is None or self.refuses(there, commits, 0):
            return
        with self.tolerant(carrier):
            check_history(self.replica, there, 0)
            graft(self.archive, self.replica, there, carrier)
            self.folder(carrier, self.archive.object_path(carrier))

    @contextlib.contextmanager
    def tolerant(self, carrier: str) -> Iterator[None]:
        """Leave a carrier as it is where the replica's copy is damaged too."""
        try:
            yield
        except ImagekeeperError as problem:
            assert self.replica is not None
            with Hashing(lambda done: None, 1) as hashing:
                part, _ = examine(self.replica, hashing, carrier, ledger.Commits())
            if not isinstance(problem, ArchiveError) and not (part.damaged or part.missing):
                raise

    def head(self, carrier: str) -> int:
        try:
            return self.archive.inventory(carrier).head
        except ImagekeeperError:
            return 0

    def in_replica(self, carrier: str) -> Inventory | None:
        try:
            return None if self.replica is None else self.replica.inventory(carrier)
        except ImagekeeperError:
            return None

    def folder(self, carrier: str, path: Path) -> None:
        self.restored.append(Restored(
            carrier=carrier, path=self.archive.name_of(path), origin="replica", sha512=None, damaged_sha512=None,
            quarantine=None,
        ))  # fmt: skip

    def files(self, inventory: Inventory, trusted: bytes, commits: ledger.Commits) -> None:
        """Restore every file of a carrier that is not what its inventory says."""
        carrier, folder = inventory.id, self.archive.object_path(inventory.id)
        right = {OBJECT_MARK: OBJECT_TEXT}
        for above in ("", f"v{inventory.head}/"):
            right[above + INVENTORY] = trusted
        for number in range(1, inventory.head):
            past = self.past(inventory, number, commits)
            if past is not None:
                right[f"v{number}/{INVENTORY}"] = past
        beside = {}
        for name, data in right.items():
            if name.endswith(INVENTORY):
                beside[name.removesuffix(INVENTORY) + SIDECAR] = sidecar_bytes(hashlib.sha512(data).hexdigest())
        for name, data in {**right, **beside}.items():
            if bytes_if_any(folder / name) != data:
                self.file(carrier, folder / name, data, "archive")
        if self.replica is None:
            return
        for name, digest in sorted(inventory.manifest.items()):
            if _digest(folder / name) != digest:
                self.file(carrier, folder / name, self.replica.object_path(carrier) / name, "replica", digest)

    def past(self, inventory: Inventory, number: int, commits: ledger.Commits) -> bytes | None:
        """Give an earlier version's inventory as it was written: its digest is noted, or stated beside it."""
        name = f"v{number}/{INVENTORY}"
        places = [archive.object_path(inventory.id) for archive in (self.archive, self.replica) if archive is not None]
        claims = {sidecar_digest(bytes_if_any(place / f"v{number}" / SIDECAR) or b"") for place in places}
        created, past = inventory.versions[number - 1].created, inventory.at(number)
        noted = {one.line for one in commits.notes.get(inventory.id, ())}
        for data in (*(bytes_if_any(place / name) for place in places), past.to_bytes()):
            digest = hashlib.sha512(data or b"").hexdigest()
            borne_out = digest in claims or ledger.commit_line(inventory.id, number, created, digest) in noted
            if data is not None and borne_out and parse_inventory(data).inventory == past:
                return data
        return None

    def log_of_commits(self) -> None:
        data = right_log(self.archive, self.replica)
        path = self.archive.log / ledger.COMMITS
        if data is not None and bytes_if_any(path) != data:
            self.file(None, path, data, "archive")

    def unexpected(self, entry: Discrepancy) -> None:
        path = _place(self.archive.path, entry.path)
        if path is not None:
            name = path.relative_to(self.archive.root).as_posix().replace("/", "-")
            aside = set_aside(self.archive, path, name)
            self.archive.disk.sync(path.parent)
            self.set_aside.append(SetAside(entry.path, self.archive.name_of(aside)))


def _place(folder: Path, shown: str) -> Path | None:
    """Find what a printable path stands for; None where nothing, or more than one thing, does."""
    for part in shown.split("/"):
        if os.path.lexists(folder / part):
            folder = folder / part
            continue
        try:
            likely = [name for name in os.listdir(folder) if one_line(name) == part]
        except OSError:
            return None
        if len(likely) != 1:
            return None
        folder = folder / likely[0]
    return folder


def _digest(source: Path | bytes) -> str | None:
    digest = hashlib.sha512()
    try:
        for block in (source,) if isinstance(source, bytes) else file_blocks(source):
            digest.update(block)
    except OSError:
        return None
    return digest.hexdigest()
