"""A second copy of the archive: made, and brought up to date, without ever handing damage on.

Carriers are copied version by version, each file held against its digest on the way, in the order in which a version is
written: the copy is a whole archive at every moment, with each carrier in a version that it once had. What is damaged
at the source is not copied, and told. The storage root, the mark and the README become identical, byte for byte. The
logs are each copy's own: its audits, its repairs, and the commits in the order in which they arrived.

A copy is noted in the log of both. It cannot be an event of the carriers: that would change them, and leave the copy
behind the moment it was made.

Source:
    PREMIS 3.0 and the Library of Congress's event type `replication`: a bit-identical copy.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from imagekeeper.archive.audits import surroundings
from imagekeeper.archive.audits.audit import check_carrier
from imagekeeper.archive.audits.audit_report import AuditTally, Discrepancy
from imagekeeper.archive.audits.vetting import vet_records
from imagekeeper.archive.exchange.copy_mark import COPY, copy_note, is_copy
from imagekeeper.archive.exchange.grafting import graft, graft_versions
from imagekeeper.archive.exchange.quarantine import Quarantine
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.erasures import told
from imagekeeper.archive.ocfl.hashing import Hashing
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.reading import entries, file_blocks, file_bytes
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.recovery import REPAIR, set_aside
from imagekeeper.errors import ArchiveError, ContradictionError, UsageError, Where
from imagekeeper.files import display_name, reason, unwritable
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.events import EVENT_TYPES
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.disk import FlushedDisk

REPLICATIONS = "replications.jsonl"

#: The folder of the keeper's own rows.
OWN_ROWS = "tables"


@dataclass(frozen=True, kw_only=True)
class Replica:
    """What bringing a copy of the archive up to date did.

    Attributes:
        path: The copy's folder, made printable.
        new: Whether it was begun now.
        carriers: How many carriers the archive holds.
        added: Carriers that the copy did not have.
        extended: Carriers of which the copy lacked the newest versions.
        versions: How many versions were copied.
        bytes: How much the copied versions hold. [byte]
        beside: The keeper's own files, beside the storage root, that were copied.
        not_copied: What is damaged or missing at the source or in the copy, and was therefore left as it is.
        ok: Whether everything is in the copy now.
        time: When the copy was made, RFC 3339.
        erased: Carriers that were erased in the archive, and that the copy still holds; nothing is taken from a copy.
    """

    SCHEMA: ClassVar[str] = "replica/1"

    path: str
    new: bool
    carriers: int
    added: tuple[str, ...]
    extended: tuple[str, ...]
    versions: int
    bytes: int
    beside: tuple[str, ...]
    not_copied: tuple[Discrepancy, ...]
    ok: bool
    time: str
    erased: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where something could not be copied, 1 where the copy still holds what was erased, else 0."""
        return 4 if not self.ok else int(bool(self.erased))


def replicate(
    archive: ArchiveStore, path: str | os.PathLike[str], progress: Progress = silent, *, now: str
) -> Replica:
    """Make a copy of the archive in a new folder, or bring one up to date.

    Args:
        archive: The archive.
        path: The copy's folder: new, empty, or a copy made before.
        progress: Told the bytes copied.
        now: The time, RFC 3339.

    Raises:
        ContradictionError: `replica-moved-on` where the copy holds what the archive never had.
        UsageError: `archive-exists`, `archive-busy`, `cannot-write`, `usage` for a place inside the archive.
        ArchiveError: `archive-damaged` where the mark or the README cannot be copied.
    """
    time = check_time(now)
    _refuse_inside(archive.path, Path(path).absolute(), display_name(path))
    with contextlib.ExitStack() as stack:
        enter_lock(stack, archive)
        new = not os.path.lexists(Path(path) / founding.MARKER)
        replica = _begun(archive, path) if new else _opened(archive, path)
        stack.enter_context(replica.lock())
        quarantine = stack.enter_context(Quarantine())
        return _Replication(archive, replica, time, quarantine).run(progress, display_name(path), new)


def enter_lock(stack: contextlib.ExitStack, archive: ArchiveStore) -> None:
    """Take the lock of an archive that is only read, unless it lies where nothing can be written.

    Raises:
        UsageError: `archive-busy`.
    """
    try:
        stack.enter_context(archive.lock())
    except UsageError as problem:
        if problem.code == "archive-busy":
            raise


def _refuse_inside(source: Path, target: Path, name: str) -> None:
    here, there = source.resolve(), target.resolve()
    if here == there or here in there.parents or there in here.parents:
        raise UsageError("usage/copy-inside", name=name, where=Where(file=name))


def _begun(archive: ArchiveStore, path: str | os.PathLike[str]) -> ArchiveStore:
    marker, text = archive.path / founding.MARKER, archive.path / founding.README
    with Hashing(lambda done: None, 1) as hashing:
        report = AuditTally(archive, hashing)
        surroundings.check_identity(archive, report)
        part = report.part(None)
    for entry in part.damaged + part.missing:
        raise damaged(entry.path, entry.why)
    founding.found_with(
        path, archive.disk, layout=archive.marker.layout, readme_file=file_bytes(text), marker_file=file_bytes(marker)
    )
    return _opened(archive, path)


def _opened(archive: ArchiveStore, path: str | os.PathLike[str]) -> ArchiveStore:
    replica = ArchiveStore.open(path)
    replica.disk, replica.lock_timeout = archive.disk, archive.lock_timeout
    if (replica.marker.uuid, replica.marker.layout) != (archive.marker.uuid, archive.marker.layout):
        raise UsageError(
            "archive-exists/another-archive", path=display_name(path), theirs=replica.marker.uuid,
            ours=archive.marker.uuid, where=Where(file=display_name(path)),
        )  # fmt: skip
    return replica


@dataclass
class _Plan:
    """What is to be done with each carrier: copied whole, or from a version on."""

    heads: dict[str, int] = field(default_factory=dict)
    strange: list[str] = field(default_factory=list)
    erased: list[str] = field(default_factory=list)
    carriers: int = 0


class _Replication:
    def __init__(self, archive: ArchiveStore, replica: ArchiveStore, time: str, quarantine: Quarantine) -> None:
        self.quarantine = quarantine
        self.archive = archive
        self.replica = replica
        self.time = time
        self.disk: FlushedDisk = archive.disk
        self.trouble: dict[str, Discrepancy] = {}

    def run(self, progress: Progress, name: str, new: bool) -> Replica:
        plan = self.plan()
        if plan.strange:
            raise _moved_on(name, plan.strange)
        self.marked()
        added: list[str] = []
        extended: list[str] = []
        versions = size = 0
        sizes = {carrier: _size(self.archive, carrier, head) for carrier, head in plan.heads.items()}
        with progress("Copying", sum(sizes.values())) as advance:
            for carrier, head in plan.heads.items():
                count = self.copy(carrier, head)
                advance(sizes[carrier])
                if count:
                    (extended if head else added).append(carrier)
                    versions += count
                    size += sizes[carrier]
        beside = self.beside()
        self.same_identity()
        found = tuple(self.trouble[path] for path in sorted(self.trouble))
        result = Replica(
            path=name, new=new, carriers=plan.carriers, added=tuple(added), extended=tuple(extended), versions=versions,
            bytes=size, beside=beside, not_copied=found, ok=not found, time=self.time,
            erased=tuple(plan.erased),
        )  # fmt: skip
        if new or versions or beside or found:
            self.note(result)
        return result

    def say(self, carrier: str | None, path: str, why: str) -> None:
        self.trouble.setdefault(path, Discrepancy(carrier=carrier, path=path, why=why))

    def marked(self) -> None:
        """Note in the copy that it is one, so that a repair adds nothing to it that the archive never had."""
        if not is_copy(self.replica):
            target = self.replica.log / COPY
            try:
                put(self.replica, target, copy_note(self.archive, self.time), None)
            except OSError as problem:
                raise unwritable(display_name(target), problem) from problem

    def plan(self) -> _Plan:
        """Compare all inventories before anything is written."""
        plan = _Plan()
        commits = ledger.read_commits(self.archive)
        ours, theirs = self.archive.ids(), set(self.replica.ids())
        plan.carriers = len(ours)
        for carrier in ours:
            with self.told(carrier):
                head = self.head_to_copy_from(carrier, carrier in theirs, commits)
                if head is None:
                    plan.strange.append(carrier)
                elif head >= 0:
                    plan.heads[carrier] = head
        for carrier in sorted({*theirs, *commits.notes} - {*ours}):
            path = self.archive.name_of(self.archive.object_path(carrier))
            if told(self.archive, commits, carrier) is not None:
                plan.erased += [carrier] if carrier in theirs else []
            elif carrier in commits.notes:
                self.say(carrier, path, "the log of commits names this carrier, and its folder is gone")
            else:
                plan.strange.append(carrier)
        return plan

    @contextlib.contextmanager
    def told(self, carrier: str) -> Iterator[None]:
        """Go on with the next carrier where one is damaged at the source or in the copy, and tell what it is."""
        try:
            yield
        except (ArchiveError, UsageError, OSError) as problem:
            with Hashing(lambda done: None, 1) as hashing:
                part = check_carrier(self.archive, hashing, carrier, ledger.Commits())
            guilty = [entry for entry in part.damaged + part.missing if entry.carrier is not None]
            if not isinstance(problem, ArchiveError) and not guilty:
                raise   # the copy cannot be written, and that is no fault of the source
            for entry in guilty:
                self.trouble.setdefault(entry.path, entry)
            if not guilty and isinstance(problem, ArchiveError):
                path = self.archive.name_of(self.archive.object_path(carrier))
                self.say(carrier, path, f"in the copy: {problem.why}")

    def head_to_copy_from(self, carrier: str, known: bool, commits: ledger.Commits) -> int | None:
        """Give the version that the copy has: 0 for none, -1 for the newest; None where it has what we never had."""
        ours, theirs = self.archive.object_path(carrier), self.replica.object_path(carrier)
        if known and _same(ours / INVENTORY, theirs / INVENTORY) and _same(ours / SIDECAR, theirs / SIDECAR):
            self.archive.inventory(carrier)   # which tells when both are damaged in the same way
            return -1
        here = self.archive.inventory(carrier)
        if not known:
            return 0
        there = self.replica.inventory(carrier)
        if there.head < here.head and here.at(there.head) == there:
            return there.head
        if there.head > here.head and there.at(here.head) == here and commits.newest(carrier) >= there.head:
            path = self.archive.name_of(ours / f"v{there.head}")
            self.say(carrier, path, "the log of commits and the copy have this version, and the archive lost it")
            return -1
        return None

    def copy(self, carrier: str, head: int) -> int:
        """Copy a carrier, or its versions after one; give how many versions."""
        before = self.replica.inventory(carrier).head if head else 0
        with self.told(carrier):
            inventory = self.archive.inventory(carrier)
            check_history(self.archive, inventory, head)
            if not self.readable(carrier, inventory):
                return 0
            self.digest_file(carrier)
            found = self.quarantine.tried(self.archive, inventory)
            if isinstance(found, str):
                self.say(carrier, self.archive.name_of(self.archive.object_path(carrier)), found)
                return 0
            if head:
                graft_versions(self.replica, self.archive, inventory, head)
            else:
                graft(self.replica, self.archive, inventory, carrier)
        after = self.replica.inventory(carrier).head if self.replica.has(carrier) else 0
        return after - before

    def readable(self, carrier: str, inventory: Inventory) -> bool:
        """Tell whether a carrier's records can be read; the right digests alone do not say so."""
        part = vet_records(self.archive, carrier, inventory)
        for entry in part.damaged + part.missing:
            self.trouble.setdefault(entry.path, entry)
        return not (part.damaged or part.missing)

    def digest_file(self, carrier: str) -> None:
        """Tell of a digest file that is damaged beside an inventory that is whole: the copy gets a right one."""
        folder = self.archive.object_path(carrier)
        right = sidecar_bytes(hashlib.sha512(file_bytes(folder / INVENTORY)).hexdigest())
        if file_bytes(folder / SIDECAR) != right:
            path = self.archive.name_of(folder / SIDECAR)
            self.say(carrier, path, "it does not state the SHA-512 of the inventory beside it")

    def beside(self) -> tuple[str, ...]:
        """Copy the keeper's own files, which have no digests; an earlier copy of one is set aside, never lost."""
        own = {founding.MARKER, founding.README, "lock"}
        copied = []
        for name in _beside(self.archive.path):
            source, target = self.archive.path / name, self.replica.path / name
            if name in own or _same(source, target):
                continue
            try:
                digest = _digest(source)
            except OSError as problem:
                self.say(None, self.archive.name_of(source), f"it cannot be read; {reason(problem)}")
                continue
            try:
                put(self.replica, target, source, digest)
            except OSError as problem:
                raise unwritable(display_name(target), problem) from problem
            copied.append(self.archive.name_of(source))
        return tuple(copied)

    def same_identity(self) -> None:
        for name in (founding.MARKER, founding.README):
            if not _same(self.archive.path / name, self.replica.path / name):
                self.say(None, name, "it is another here than in the copy; an audit of each tells which is damaged")

    def note(self, result: Replica) -> None:
        """Note the copy in both logs, in the same words."""
        line = {
            "type": "replication",
            "type_uri": f"http://id.loc.gov/vocabulary/preservation/eventType/{EVENT_TYPES['replication']}",
            "time": result.time,
            "outcome": "success" if result.ok else "warning",
            "carriers": result.carriers,
            "added": result.added,
            "extended": result.extended,
            "bytes": result.bytes,
            "not_copied": [entry.path for entry in result.not_copied],
        }
        try:
            ledger.append(self.replica, REPLICATIONS, line)
        except OSError as problem:
            raise unwritable(display_name(self.replica.log), problem) from problem
        with contextlib.suppress(OSError):   # the source may be one that cannot be written to
            ledger.append(self.archive, REPLICATIONS, line)


def check_history(archive: ArchiveStore, inventory: Inventory, head: int) -> None:
    """Hold the inventories of a carrier's versions after one against the newest, and each against its digest file.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    folder = archive.object_path(inventory.id)
    for number in range(head + 1, inventory.head + 1):
        name = f"{inventory.id}/v{number}/{INVENTORY}"
        try:
            data, beside = (file_bytes(folder / f"v{number}" / name) for name in (INVENTORY, SIDECAR))
        except OSError as problem:
            raise damaged(name, Phrase("archive-damaged/digest-file", trouble=reason(problem))) from problem
        if beside != sidecar_bytes(hashlib.sha512(data).hexdigest()):
            raise damaged(name, Phrase("archive-damaged/digest-beside"))
        if parse_inventory(data).inventory != inventory.at(number):
            raise damaged(name, Phrase("archive-damaged/not-the-beginning"))


def put(archive: ArchiveStore, target: Path, source: Path | bytes, expected: str | None) -> Path | None:
    """Put a file in place, flushed and whole; what was there goes to quarantine.

    Args:
        archive: The archive; its lock is held by the caller.
        target: Where the file goes.
        source: A regular file, or the bytes.
        expected: The SHA-512 that it must have, or None for whatever it has.

    Returns:
        Where in quarantine that lies which was there, or None.

    Raises:
        ArchiveError: `archive-damaged` where what was copied has another digest.
        OSError: The system refused.
    """
    disk = archive.disk
    task = archive.staging / REPAIR
    fresh = task / target.name
    disk.make_folders(task)
    disk.remove(fresh)
    digest = disk.write(fresh, (source,) if isinstance(source, bytes) else file_blocks(source))
    if expected not in (None, digest):
        disk.remove(task)
        raise damaged(archive.name_of(target), Phrase("archive-damaged/copied-otherwise"))
    for above in reversed(target.parents):
        if above.is_relative_to(archive.path) and os.path.lexists(above) and not above.is_dir():
            set_aside(archive, above, above.name)
    disk.make_folders(target.parent)
    aside = set_aside(archive, target, target.name) if os.path.lexists(target) else None
    disk.move(fresh, target)
    for above in target.parents:
        if above.is_relative_to(archive.path):
            disk.sync(above)
    disk.remove(task)
    return aside


def _beside(top: Path, folder: str = "", deep: int = 3) -> Iterator[str]:
    """Name the keeper's own files: those beside the mark, and those in the folder of own rows."""
    for name, kind in entries(top / folder).items():
        if kind == "file":
            yield folder + name
        elif kind == "folder" and deep and (folder or name == OWN_ROWS):
            yield from _beside(top, f"{folder}{name}/", deep - 1)


def _same(one: Path, other: Path) -> bool:
    """Whether two regular files hold the same bytes; False where one cannot be read."""
    try:
        if one.lstat().st_size != other.lstat().st_size:
            return False
        return all(a == b for a, b in zip(file_blocks(one), file_blocks(other), strict=True))
    except (OSError, ValueError):
        return False


def _digest(path: Path) -> str:
    digest = hashlib.sha512()
    for block in file_blocks(path):
        digest.update(block)
    return digest.hexdigest()


def _size(archive: ArchiveStore, carrier: str, head: int) -> int:
    """Sum the sizes of a carrier's versions after one; files that are not there count nothing."""
    total = 0
    with contextlib.suppress(ArchiveError):
        folder = archive.object_path(carrier)
        for path in archive.inventory(carrier).manifest:
            if int(path.partition("/")[0][1:]) > head:
                with contextlib.suppress(OSError):
                    total += (folder / path).lstat().st_size
    return total


def _moved_on(name: str, carriers: list[str]) -> ContradictionError:
    shown = ", ".join(carriers[:5]) + (f" and {len(carriers) - 5} more" if len(carriers) > 5 else "")
    return ContradictionError("replica-moved-on", name=name, carriers=shown, where=Where(file=name))
