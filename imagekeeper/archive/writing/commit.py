"""Writing a version of a carrier: prepared beside the storage root, then put in place in an order that can be repaired.

The order: the version is written and flushed in staging; a savepoint tells what the carrier was
(`imagekeeper.archive.writing.savepoint`); the version's folder is moved in place, then the root inventory, then its
digest file; the log of commits gets its line; the savepoint's mark goes, and with that the change counts. A failure
before is undone, and after it there is nothing that could fail.

Source:
    OCFL Implementation Notes 1.1, section 3.7 (the order of writing). The replacement of the old inventory in one
    step, instead of its removal, is our own: it leaves no moment without an inventory.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.erasures import stubs
from imagekeeper.archive.ocfl.inventory import (
    CONTENT,
    INVENTORY,
    SIDECAR,
    Inventory,
    User,
    Version,
    sidecar_bytes,
)
from imagekeeper.archive.ocfl.inventory_check import parse_inventory, path_problem
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.reading import Source, file_bytes, source_blocks
from imagekeeper.archive.writing.savepoint import whole
from imagekeeper.errors import InternalError, UsageError
from imagekeeper.files import unwritable
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder


def commit(
    archive: ArchiveFolder,
    carrier_id: str,
    changes: Mapping[str, Source | None],
    *,
    message: str,
    user: User | None,
    now: str,
    expected_head: int,
) -> Inventory:
    """Write a version; `ArchiveStore.commit` says more. The lock is held by the caller."""
    check_carrier_id(carrier_id)
    old = _base(archive, carrier_id, expected_head)
    number = expected_head + 1
    task = Task(archive, carrier_id, number)
    try:
        new = task.prepare(old, changes, Version(check_time(now), {}, message, user))
        if new is None:
            assert old is not None
            return old
        with whole(archive, carrier_id, expected_head):
            task.put_in_place(new, old)
    except OSError as problem:
        raise unwritable(archive.name_of(archive.object_path(carrier_id)), problem) from problem
    finally:
        task.discard()
    return new


def _base(archive: ArchiveFolder, carrier_id: str, expected_head: int) -> Inventory | None:
    if not expected_head:
        if archive.has(carrier_id):
            raise UsageError("carrier-exists", id=carrier_id)
        for stub_id, _ in stubs(archive, carrier_id):
            raise UsageError("carrier-exists/erased", id=carrier_id, stub=stub_id)
        return None
    old = archive.inventory(carrier_id)
    if old.head != expected_head:
        raise _changed(carrier_id, Phrase("archive-busy/other-version", before=expected_head, now=old.head))
    return old


def _changed(carrier_id: str, why: Phrase) -> UsageError:
    return UsageError("archive-busy/changed", id=carrier_id, trouble=why)


class Task:
    """One version on its way: prepared in a folder of staging whose name says for what."""

    def __init__(self, archive: ArchiveFolder, carrier_id: str, number: int) -> None:
        self.archive = archive
        self.disk = archive.disk
        self.carrier_id = carrier_id
        self.number = number
        self.folder = archive.staging / f"{carrier_id}-v{number}"
        self.target = archive.object_path(carrier_id)
        self.sidecar_before = b"" if number == 1 else file_bytes(self.target / SIDECAR)

    @property
    def prepared_object(self) -> Path:
        """Where a new object is prepared."""
        return self.folder / "object"

    @property
    def prepared_version(self) -> Path:
        """Where the version is prepared."""
        return (self.prepared_object if self.number == 1 else self.folder) / f"v{self.number}"

    def prepare(
        self, old: Inventory | None, changes: Mapping[str, Source | None], version: Version
    ) -> Inventory | None:
        """Write everything in staging; None where nothing would change."""
        self.disk.make_folders(self.prepared_version)
        stored = set() if old is None else set(old.manifest.values())
        state = {} if old is None else dict(old.state)
        added: dict[str, str] = {}
        for path, source in changes.items():
            if problem := path_problem(path):
                raise InternalError("internal/path", trouble=problem)
            if source is None:
                state.pop(path, None)
                continue
            state[path] = digest = self.store(path, source, stored)
            if digest not in stored:
                stored.add(digest)
                added[f"v{self.number}/{CONTENT}/{path}"] = digest
        if old is not None and state == old.state:
            return None
        version = Version(version.created, state, version.message, version.user)
        base = old or Inventory(self.carrier_id, {}, ())
        new = base.next_version(version, added)
        self.write_inventories(new)
        return new

    def store(self, path: str, source: Source, stored: set[str]) -> str:
        """Write one file unless its bytes are stored already; give its digest."""
        if isinstance(source, bytes):
            digest = hashlib.sha512(source).hexdigest()
            if digest in stored:
                return digest
        target = self.prepared_version / CONTENT / path
        self.disk.make_folders(target.parent)
        digest = self.disk.write(target, source_blocks(source))
        if digest in stored:
            self.disk.remove(target)
            self.remove_empty_above(target)
        return digest

    def remove_empty_above(self, path: Path) -> None:
        """Take away the folders that a removed file leaves empty."""
        for folder in path.parents:
            if folder == self.prepared_version or any(folder.iterdir()):
                return
            self.disk.remove_empty(folder)

    def write_inventories(self, new: Inventory) -> None:
        """Write the inventory twice, each with its digest beside it, and flush all folders."""
        data = new.to_bytes()
        parsed = parse_inventory(data)
        if parsed.problems or parsed.inventory != new:
            why = parsed.problems[0].why if parsed.problems else Phrase("internal/says-otherwise")
            raise InternalError("internal/inventory", trouble=why)
        beside = sidecar_bytes(hashlib.sha512(data).hexdigest())
        top = self.prepared_object if self.number == 1 else self.folder
        for folder in (self.prepared_version, top):
            self.disk.write(folder / INVENTORY, (data,))
            self.disk.write(folder / SIDECAR, (beside,))
        if self.number == 1:
            self.disk.write(top / OBJECT_MARK, (OBJECT_TEXT,))
        for folder in sorted((p for p in self.folder.rglob("*") if p.is_dir()), reverse=True):
            self.disk.sync(folder)
        self.disk.sync(self.folder)

    def put_in_place(self, new: Inventory, old: Inventory | None) -> None:
        """Move what was prepared to its place, and note it."""
        if old is None:
            self.put_object()
        else:
            self.put_version()
        ledger.append_commit(self.archive, new)

    def put_object(self) -> None:
        """Move a new object to its place."""
        parent = self.target.parent
        self.disk.make_folders(parent)
        self.disk.move(self.prepared_object, self.target)
        for folder in (parent, *(p for p in parent.parents if p.is_relative_to(self.archive.root))):
            self.disk.sync(folder)

    def put_version(self) -> None:
        """Move a version to its place, then the root inventory, its digest file last."""
        if file_bytes(self.target / SIDECAR) != self.sidecar_before:
            raise _changed(self.carrier_id, Phrase("archive-busy/other-inventory"))
        place = self.target / f"v{self.number}"
        if place.exists():
            raise FileExistsError(None, str(Phrase("step/in-the-way", place=self.archive.name_of(place))))
        self.disk.move(self.prepared_version, place)
        self.disk.sync(self.target)
        for name in (INVENTORY, SIDECAR):
            self.disk.move(self.folder / name, self.target / name)
            self.disk.sync(self.target)

    def discard(self) -> None:
        """Take away what was prepared, or what is left of it."""
        with contextlib.suppress(OSError):   # the next one to take the lock clears it away
            self.disk.remove(self.folder)
