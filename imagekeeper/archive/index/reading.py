"""Reading a record for the index: the same files, each checked against its digest, in half the time.

What the index does not need is left out: the rules of inventories, and the events, of which only the digest is checked.
Whatever is not plainly in order is read again by the strict rules, which then say what is wrong.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
from typing import TYPE_CHECKING, TypeVar

from imagekeeper.archive.carriers import assembled, assembled_machine, load_machine, load_record
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, sidecar_digest
from imagekeeper.archive.ocfl.reading import entries
from imagekeeper.errors import ArchiveError, NotFoundError
from imagekeeper.provenance import places
from imagekeeper.provenance.fields import from_json, list_from_json
from imagekeeper.provenance.fitting import decoded
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

T = TypeVar("T")


_FLAGS = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)


class _NotPlainError(Exception):
    """The record is to be read by the strict rules."""


def read_record(archive: ArchiveStore, object_id: str) -> tuple[CarrierRecord | MachineRecord, str]:
    """Read what the index needs of a carrier or machine; its events are left out.

    Returns:
        The record, and the SHA-512 of the inventory that it was read by.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged`.
    """
    try:
        files = _Files(f"{archive.root}/{archive.layout.object_folder(object_id)}", object_id)
        return _plainly(files), files.inventory
    except (_NotPlainError, OSError, ArchiveError, ValueError, TypeError, LookupError, AttributeError, RecursionError):
        before = read_sidecar(str(archive.object_path(object_id) / SIDECAR))
        try:
            return load_record(archive, object_id), before
        except NotFoundError:
            return load_machine(archive, object_id), before


def read_sidecar(path: str) -> str:
    """Read the digest of an inventory; empty where it cannot be told."""
    try:
        return sidecar_digest(_bytes(path)) or ""
    except (OSError, _NotPlainError):
        return ""


def read_content(archive: ArchiveStore, object_id: str, path: str, limit: int) -> bytes | None:
    """Read a file of an object's newest version, checked against its digest.

    Args:
        archive: The archive.
        object_id: The carrier.
        path: The logical path.
        limit: A larger file is not read whole: then one byte more than the limit is given, unchecked. [byte]

    Returns:
        The bytes, or None where they cannot be read or are not what they were.
    """
    try:
        files = _Files(f"{archive.root}/{archive.layout.object_folder(object_id)}", object_id)
        if os.lstat(files.place(path)).st_size > limit:
            return bytes(limit + 1)
        return files.data(path)
    except (_NotPlainError, OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError):
        return None


def is_machine(archive: ArchiveStore, object_id: str) -> bool:
    """Whether an object whose record cannot be read is a machine's, from what lies in its folder."""
    folder = archive.object_path(object_id)
    try:
        versions = [name for name, kind in entries(folder).items() if kind == "folder"]
        names = {name for version in versions for name in entries(folder / version / "content")}
    except OSError:
        return False
    return places.MACHINE in names and places.CARRIER not in names


def _bytes(path: str) -> bytes:
    """Read a small regular file by the fewest steps; where the system knows links, none is followed."""
    handle = os.open(path, _FLAGS)
    try:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise _NotPlainError
        data = os.read(handle, about.st_size + 1)
    finally:
        os.close(handle)
    if len(data) != about.st_size:
        raise _NotPlainError
    return data


def _plainly(files: _Files) -> CarrierRecord | MachineRecord:
    if places.EVENTS in files.state:
        files.data(places.EVENTS)
    if places.CARRIER not in files.state:
        return assembled_machine(files, files.object_id, files.head, in_short=True)
    return assembled(files, files.object_id, files.head, in_short=True)


class _Files:
    """The files of an object's newest version."""

    def __init__(self, folder: str, object_id: str) -> None:
        self.folder = folder
        self.object_id = object_id
        data = _bytes(f"{folder}/{INVENTORY}")
        self.inventory = hashlib.sha512(data).hexdigest()
        if sidecar_digest(_bytes(f"{folder}/{SIDECAR}")) != self.inventory:
            raise _NotPlainError
        inventory = json.loads(data)
        if inventory["id"] != object_id:
            raise _NotPlainError
        self.head = len(inventory["versions"])
        self.manifest: dict[str, list[str]] = inventory["manifest"]
        state = inventory["versions"][f"v{self.head}"]["state"]
        self.state: dict[str, str] = {path: digest for digest, paths in state.items() for path in paths}

    def place(self, path: str) -> str:
        place = self.manifest[self.state[path]][0]
        if not place.startswith("v") or "/../" in place or "\0" in place:
            raise _NotPlainError
        return f"{self.folder}/{place}"

    def data(self, path: str) -> bytes:
        data = _bytes(self.place(path))
        if hashlib.sha512(data).hexdigest() != self.state[path]:
            raise _NotPlainError
        return data

    def one(self, cls: type[T], path: str) -> T:
        return from_json(cls, decoded(self.data(path)), path)

    def several(self, cls: type[T], path: str) -> tuple[T, ...]:
        if path not in self.state:
            return ()
        return list_from_json(cls, decoded(self.data(path)), path)
