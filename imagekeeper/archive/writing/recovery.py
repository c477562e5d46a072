"""Finishing or undoing what an interrupted program left, so that every carrier is in its old or its new version.

What is recognised and done, in the words of the writing order:

- A change under way, which a savepoint tells of: it is undone, as `imagekeeper.archive.writing.savepoint` says.
- Preparation not finished: it is taken away; the old version was never touched.
- A carrier that was erased, and lies there still: it is taken away, as `imagekeeper.archive.writing.erasing` says.

What other programs, copies and damage leave is recognised too:

- A version in place that the log of commits does not know, and that goes on with what is there: it is noted.
- Folders made above a new carrier, and no more: the empty ones are taken away.
- A version in place, the root inventory old, missing, or new without its digest file: where the version's own
  inventory and its content are whole, both are put in place from it. Otherwise the version goes to quarantine.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT, version_number
from imagekeeper.archive.ocfl.reading import bytes_if_any, entries, file_blocks, is_folder
from imagekeeper.archive.writing import erasing
from imagekeeper.archive.writing.savepoint import Savepoint, is_savepoint
from imagekeeper.files import unwritable
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

#: A longer name is cut in quarantine, so that a number fits behind it. [byte]
NAME_BYTES = 200

#: Where in staging a repair prepares copies: nothing is lost with it.
REPAIR = "repair"

_TASK = re.compile(r"(.+)-v([1-9][0-9]{0,8})")


@dataclass(frozen=True)
class Repair:
    """Something that was put right.

    Attributes:
        carrier: The carrier's id, or None.
        path: The file or folder, relative to the archive.
        what: What was done.
    """

    carrier: str | None
    path: str
    what: str


def recover(archive: ArchiveFolder, everything: bool) -> tuple[Repair, ...]:
    """Put interrupted work right; `ArchiveStore.recover` says more. The lock is held by the caller."""
    try:
        return tuple(_Recovery(archive).run(everything))
    except OSError as problem:
        raise unwritable(archive.name_of(archive.staging), problem) from problem


def set_aside(archive: ArchiveFolder, path: Path, name: str) -> Path:
    """Move a file or folder to quarantine, under its name and a number; the lock is held by the caller.

    Returns:
        Where it lies now.
    """
    archive.disk.make_folders(archive.quarantine)
    taken = entries(archive.quarantine)
    short = os.fsdecode(os.fsencode(name)[:NAME_BYTES])
    number = 1
    while f"{short}.{number}" in taken:
        number += 1
    target = archive.quarantine / f"{short}.{number}"
    archive.disk.move(path, target)
    return target


class _Recovery:
    def __init__(self, archive: ArchiveFolder) -> None:
        self.archive = archive
        self.disk = archive.disk
        self.repairs: list[Repair] = []
        self.commits: ledger.Commits | None = None

    def run(self, everything: bool) -> list[Repair]:
        for name in self.staged():
            if is_savepoint(name):
                self.undo(name)
        for name in self.staged():
            if erasing.is_going(name):
                self.erase(name.removesuffix(erasing.ENDING))
        tasks = self.staged()
        for task in tasks:
            match = _TASK.fullmatch(task)
            if match and is_carrier_id(match[1]):
                self.carrier(self.archive.object_path(match[1]), match[1])
        if everything:
            for folder in list(self.archive.folders()):
                self.carrier(self.archive.root / folder, self.archive.layout.object_id(folder))
        for task in tasks:
            self.finish(task)
        if everything:
            self.empty_folders(self.archive.root, self.archive.layout.depth)
        return self.repairs

    def staged(self) -> dict[str, str]:
        return entries(self.archive.staging) if is_folder(self.archive.staging) else {}

    def undo(self, name: str) -> None:
        """Undo a change that was not whole when the program was cut off."""
        point = Savepoint.found(self.archive, name)
        if point is None:
            self.disk.remove(self.archive.staging / name)   # nothing had been touched yet, or all had been done
        elif point.stale():
            set_aside(self.archive, point.folder, name)
            self.say(point.carrier_id, point.folder, "a savepoint of another time was moved to quarantine")
        else:
            point.undo()
            self.say(point.carrier_id, point.target, "an unfinished change was undone")

    def erase(self, carrier_id: str) -> None:
        """Take away what was erased; where the system refuses, the next program does, and other work goes on."""
        with contextlib.suppress(OSError):
            done = erasing.finish(self.archive, carrier_id)
            what = "what was left of an erased carrier was taken away" if done else "an erasure that had not begun"
            self.say(carrier_id, self.archive.object_path(carrier_id), what if done else f"{what} was given up")

    def say(self, carrier: str | None, path: Path, what: str) -> None:
        self.repairs.append(Repair(carrier, self.archive.name_of(path), what))

    def finish(self, task: str) -> None:
        """Take away a finished or given-up preparation; what is none of ours is kept in quarantine."""
        path = self.archive.staging / task
        if erasing.is_going(task) and erasing.is_erased(self.archive, task.removesuffix(erasing.ENDING)):
            return   # the system would not let it be taken away yet
        match = _TASK.fullmatch(task)
        if task == REPAIR:
            self.disk.remove(path)
            self.say(None, path, "an interrupted repair was cleared away")
        elif match and is_carrier_id(match[1]):
            self.disk.remove(path)
            self.say(match[1], path, "an interrupted change was cleared away")
        else:
            set_aside(self.archive, path, task)
            self.say(None, path, "a file of unknown origin was moved to quarantine")

    def carrier(self, folder: Path, carrier_id: str) -> None:
        if not is_folder(folder):
            self.empty_above(folder)
            return
        numbers = [int(n[1:]) for n, kind in entries(folder).items() if kind == "folder" and version_number(n)]
        if not numbers:
            return
        number = max(numbers)
        if _settled(folder, number) and self.known(carrier_id) >= number:
            return   # the last steps of a change were done: whether its files are sound is for the audit
        data = _whole_version(folder, number, carrier_id)
        if data is not None and not _continues(folder, number, data):
            return   # it is of another history, such as a program brings that keeps folders in step: the audit tells
        if data is not None:
            self.complete(folder, carrier_id, data)
            self.note(folder, carrier_id, data)
        elif _root_head(folder) == number - 1:
            set_aside(self.archive, folder / f"v{number}", f"{carrier_id}-v{number}")
            self.disk.sync(folder)
            self.say(carrier_id, folder / f"v{number}", "an incomplete version was moved to quarantine")

    def complete(self, folder: Path, carrier_id: str, data: bytes) -> None:
        """Bring the root's inventory and its digest file to what the newest version says."""
        wanted = {INVENTORY: data, SIDECAR: sidecar_bytes(hashlib.sha512(data).hexdigest())}
        changed = [name for name, right in wanted.items() if bytes_if_any(folder / name) != right]
        if not changed:
            return
        task = self.archive.staging / f"{carrier_id}-v1"   # any name that a repair of this repair would find
        self.disk.make_folders(task)
        for name in changed:
            self.disk.remove(task / f"new-{name}")
            self.disk.write(task / f"new-{name}", (wanted[name],))
        for name in changed:
            if not _is_older(folder / name, folder):
                set_aside(self.archive, folder / name, f"{carrier_id}-{name}")
            self.disk.move(task / f"new-{name}", folder / name)
            self.disk.sync(folder)
            self.say(carrier_id, folder / name, "it was renewed from the newest version")
        self.disk.remove(task)

    def known(self, carrier_id: str) -> int:
        """Give the newest version of a carrier that the log of commits knows."""
        if self.commits is None:
            self.commits = ledger.read_commits(self.archive)
        return self.commits.newest(carrier_id)

    def note(self, folder: Path, carrier_id: str, data: bytes) -> None:
        """Note the versions in place that the log of commits does not know."""
        inventory = parse_inventory(data).inventory
        if inventory is None:
            return   # it changed since it was read: the audit tells of it
        for number in range(self.known(carrier_id) + 1, inventory.head + 1):
            past = bytes_if_any(folder / f"v{number}" / INVENTORY)
            if past is None or parse_inventory(past).inventory != inventory.at(number):
                continue   # the audit tells of it
            created, digest = inventory.versions[number - 1].created, hashlib.sha512(past).hexdigest()
            ledger.append_line(
                self.archive, ledger.COMMITS, ledger.commit_line(carrier_id, number, created, digest)
            )
            self.say(carrier_id, self.archive.log / ledger.COMMITS, f"version {number} was noted in it")

    def empty_above(self, path: Path) -> None:
        for folder in path.parents:
            if folder == self.archive.root:
                return
            if not is_folder(folder):   # of several, only the upper ones may have been made
                continue
            if entries(folder):
                return
            self.disk.remove_empty(folder)
            self.say(None, folder, "an empty folder was removed")

    def empty_folders(self, folder: Path, depth: int) -> None:
        for name, kind in entries(folder).items():
            if depth and kind == "folder" and not (folder == self.archive.root and name == "extensions"):
                self.empty_folders(folder / name, depth - 1)
                if is_folder(folder / name):   # it goes with the last folder in it
                    self.empty_above(folder / name / "x")


def _settled(folder: Path, number: int) -> bool:
    """Whether the root's inventory and its digest file are those of the newest version."""
    data, beside = bytes_if_any(folder / INVENTORY), bytes_if_any(folder / SIDECAR)
    inside = folder / f"v{number}"
    if data is None or beside is None or sidecar_digest(beside) != hashlib.sha512(data).hexdigest():
        return False
    return (bytes_if_any(inside / INVENTORY), bytes_if_any(inside / SIDECAR)) == (data, beside)


def _whole_version(folder: Path, number: int, carrier_id: str) -> bytes | None:
    """Give a version's inventory where it and the version's content are whole, else None.

    Content of earlier versions is not looked at: no interrupted change can have touched it.
    """
    inside = folder / f"v{number}"
    data, beside = bytes_if_any(inside / INVENTORY), bytes_if_any(inside / SIDECAR)
    if data is None or beside is None or sidecar_digest(beside) != hashlib.sha512(data).hexdigest():
        return None
    inventory = parse_inventory(data).inventory
    if inventory is None or inventory.id != carrier_id or inventory.head != number:
        return None
    if bytes_if_any(folder / OBJECT_MARK) != OBJECT_TEXT:
        return None
    own = {path: digest for path, digest in inventory.manifest.items() if path.startswith(f"v{number}/")}
    return data if all(_digest(folder / path) == digest for path, digest in own.items()) else None


def _continues(folder: Path, number: int, data: bytes) -> bool:
    """Whether a version's inventory goes on with what is there: the root's history, and that of the version before."""
    new = parse_inventory(data).inventory
    for place in (folder, folder / f"v{number - 1}"):
        old = _sound_inventory(place)
        if new is not None and old is not None and new.at(old.head) != old:
            return False
    return True


def _digest(path: Path) -> str | None:
    digest = hashlib.sha512()
    with contextlib.suppress(OSError):
        for block in file_blocks(path):
            digest.update(block)
        return digest.hexdigest()
    return None


def _root_head(folder: Path) -> int | None:
    """Give the version that a sound root inventory names, else None."""
    inventory = _sound_inventory(folder)
    return None if inventory is None else inventory.head


def _sound_inventory(folder: Path) -> Inventory | None:
    """Read an inventory that the digest beside it bears out; None for none."""
    data, beside = bytes_if_any(folder / INVENTORY), bytes_if_any(folder / SIDECAR)
    if data is None or beside is None or sidecar_digest(beside) != hashlib.sha512(data).hexdigest():
        return None
    return parse_inventory(data).inventory


def _is_older(path: Path, folder: Path) -> bool:
    """Whether a root file may simply be replaced: it is missing, or a copy of it lies in an earlier version."""
    data = bytes_if_any(path)
    if data is None:
        return not path.exists()
    names = [name for name, kind in entries(folder).items() if kind == "folder" and version_number(name)]
    return any(bytes_if_any(folder / name / path.name) == data for name in names)
