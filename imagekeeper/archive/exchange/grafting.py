"""Taking a carrier's history from another archive as it is: all of it, or the versions that are not here yet.

A new carrier is built whole beside the storage root and moved there in one step; further versions are put in place one
by one, in the order that `imagekeeper.archive.writing.commit` explains. Where any step fails, none was done.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.reading import file_blocks, file_bytes
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.writing.commit import Task
from imagekeeper.archive.writing.recovery import set_aside
from imagekeeper.archive.writing.savepoint import replaced, whole
from imagekeeper.errors import UsageError
from imagekeeper.files import unwritable
from imagekeeper.provenance.ids import check_carrier_id
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore


def graft(
    archive: ArchiveStore, source: ArchiveStore, inventory: Inventory, target_id: str, *, replacing: bool = False
) -> Path | None:
    """Take a carrier's whole history in, under its own id or another; the lock is held by the caller.

    Args:
        archive: Where it goes.
        source: Where it comes from.
        inventory: Its inventory there.
        target_id: The id that it gets here, under which there must be nothing. Another id than its own stands in the
            inventories of all its versions then, for an object has one id; all else in them stays as it was.
        replacing: Whether what is there under that id goes to quarantine, once all is ready to take its place.

    Returns:
        Where in quarantine that lies which was there, or None.

    Raises:
        UsageError: `carrier-id`, `carrier-exists`, `cannot-write`.
        ArchiveError: `archive-damaged` for a file of the source that is not what its inventory says.
    """
    check_carrier_id(target_id)
    if archive.has(target_id) and not replacing:
        raise UsageError("carrier-exists/meanwhile", id=target_id)
    new = Inventory(target_id, inventory.manifest, inventory.versions)
    task = Task(archive, target_id, 1)
    with _told(archive, target_id), _prepared(task):
        top = task.prepared_object
        lines = []
        for number in range(1, new.head + 1):
            data = _version(task, source, inventory, target_id, number, top / f"v{number}")
            lines.append((number, data))
        archive.disk.write(top / INVENTORY, (data,))
        archive.disk.write(top / SIDECAR, (_sidecar(data),))
        archive.disk.write(top / OBJECT_MARK, (OBJECT_TEXT,))
        _sync(task)
        with whole(archive, target_id, 0, replacing=replacing):
            if replacing:
                archive.disk.move(task.target, replaced(archive, target_id))
            task.put_object()
            for number, data in lines:
                _note(archive, new, number, data)
    return _put_aside(archive, target_id) if replacing else None


def _put_aside(archive: ArchiveStore, carrier_id: str) -> Path:
    """Put what was replaced to quarantine; where that is refused, the next one to take the lock does it."""
    place = replaced(archive, carrier_id)
    with suppress(OSError):
        return set_aside(archive, place, archive.object_path(carrier_id).name)
    return place


def graft_versions(archive: ArchiveStore, source: ArchiveStore, inventory: Inventory, head: int) -> None:
    """Take the versions in that a carrier has in another archive and not yet here; the lock is held by the caller.

    Args:
        archive: Where they go.
        source: Where they come from.
        inventory: The carrier's inventory there, under the same id.
        head: The newest version here, which is one of those there.

    Raises:
        UsageError: `cannot-write`.
        ArchiveError: `archive-damaged` for a file of the source that is not what its inventory says.
    """
    with _told(archive, inventory.id), whole(archive, inventory.id, head):
        for number in range(head + 1, inventory.head + 1):
            task = Task(archive, inventory.id, number)
            with _prepared(task):
                data = _version(task, source, inventory, inventory.id, number, task.prepared_version)
                archive.disk.write(task.folder / INVENTORY, (data,))
                archive.disk.write(task.folder / SIDECAR, (_sidecar(data),))
                _sync(task)
                task.put_version()
                _note(archive, inventory, number, data)


@contextmanager
def _told(archive: ArchiveStore, carrier_id: str) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        raise unwritable(archive.name_of(archive.object_path(carrier_id)), problem) from problem


@contextmanager
def _prepared(task: Task) -> Iterator[None]:
    """Take away what was prepared, or what is left of it."""
    try:
        yield
    finally:
        task.discard()


def _version(
    task: Task, source: ArchiveStore, inventory: Inventory, target_id: str, number: int, place: Path
) -> bytes:
    """Copy one version's content, each file held against its digest, and write its inventory; give that."""
    disk = task.disk
    folder = source.object_path(inventory.id)
    disk.make_folders(place)
    for path, digest in sorted(inventory.manifest.items()):
        if not path.startswith(f"v{number}/"):
            continue
        target = place.parent / path
        disk.make_folders(target.parent)
        if disk.write(target, file_blocks(folder / path)) != digest:
            raise damaged(f"{inventory.id}/{path}", Phrase("archive-damaged/digest"))
    if target_id == inventory.id:
        data = file_bytes(folder / f"v{number}" / INVENTORY)
        if parse_inventory(data).inventory != inventory.at(number):
            raise damaged(f"{inventory.id}/v{number}/{INVENTORY}", Phrase("archive-damaged/not-the-beginning"))
    else:
        data = Inventory(target_id, inventory.manifest, inventory.versions).at(number).to_bytes()
    disk.write(place / INVENTORY, (data,))
    disk.write(place / SIDECAR, (_sidecar(data),))
    return data


def _sidecar(data: bytes) -> bytes:
    return sidecar_bytes(hashlib.sha512(data).hexdigest())


def _sync(task: Task) -> None:
    for folder in sorted((p for p in task.folder.rglob("*") if p.is_dir()), reverse=True):
        task.disk.sync(folder)
    task.disk.sync(task.folder)


def _note(archive: ArchiveStore, inventory: Inventory, number: int, data: bytes) -> None:
    created = inventory.versions[number - 1].created
    line = ledger.commit_line(inventory.id, number, created, hashlib.sha512(data).hexdigest())
    ledger.append_line(archive, ledger.COMMITS, line)
