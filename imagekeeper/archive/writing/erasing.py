"""Erasing a carrier: what remains of it is written and noted as one change, then its folder is taken away.

The order: a folder in staging, empty yet, tells which carrier is going; the stub is written and the log of commits
gets the line about the erasure, both or neither; the carrier's folder is moved to staging in one step, and removed
there. Cut off before the change counts, all of it is undone; after that, the next program that takes the lock removes
what is left. It does so only where log and stub bear each other out, and the folder holds just what they tell of.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.erasures import told
from imagekeeper.archive.ocfl.inventory import INVENTORY, User
from imagekeeper.archive.ocfl.reading import Source, bytes_if_any, entries, is_folder
from imagekeeper.archive.writing.commit import commit
from imagekeeper.archive.writing.savepoint import whole
from imagekeeper.errors import UsageError, Where
from imagekeeper.files import reason, unwritable
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder
    from imagekeeper.provenance.testimony import Erased

#: What the name of the folder in staging ends in; the carrier's id stands before.
ENDING = "-gone"


def erase(
    archive: ArchiveFolder, erased: Erased, stub_id: str, files: Mapping[str, Source | None], *, message: str,
    user: User | None,
) -> None:  # fmt: skip
    """Erase a carrier; `ArchiveStore.erase` says more. The lock is held by the caller."""
    going = archive.staging / f"{erased.of}{ENDING}"
    head = archive.inventory(stub_id).head if archive.has(stub_id) else 0
    try:
        archive.disk.make_folders(going)
        archive.disk.sync(archive.staging)
        if ledger.read_commits(archive).erasure(erased.of) is None:
            with whole(archive, stub_id, head):
                if not head:
                    commit(
                        archive, stub_id, files, message=message, user=user, now=erased.added, expected_head=0
                    )
                ledger.append_line(archive, ledger.COMMITS, ledger.erasure_line(erased, stub_id))
    except OSError as problem:
        raise unwritable(archive.name_of(archive.object_path(erased.of)), problem) from problem
    try:
        finish(archive, erased.of)
    except OSError as problem:
        place = archive.name_of(archive.object_path(erased.of))
        raise UsageError(
            "cannot-write/left-behind", id=erased.of, trouble=reason(problem), where=Where(file=place)
        ) from problem


def is_going(name: str) -> bool:
    """Whether a folder in staging is named as that of a carrier which is being erased."""
    return name.endswith(ENDING) and is_carrier_id(name.removesuffix(ENDING))


def is_erased(archive: ArchiveFolder, carrier_id: str) -> bool:
    """Whether log and stub bear each other out that a carrier was erased."""
    return told(archive, ledger.read_commits(archive), carrier_id) is not None


def finish(archive: ArchiveFolder, carrier_id: str) -> bool:
    """Take away the folder of a carrier that was erased, if it was; tell whether it was.

    Raises:
        OSError: The system refused; what is left is taken away the next time.
    """
    going, target = archive.staging / f"{carrier_id}{ENDING}", archive.object_path(carrier_id)
    found = told(archive, ledger.read_commits(archive), carrier_id)
    if found is None:
        if not entries(going):   # nothing was erased
            archive.disk.remove_empty(going)
        return False
    data = bytes_if_any(target / INVENTORY)
    if data is not None and hashlib.sha512(data).hexdigest() == found[1].inventory_sha512:
        archive.disk.remove(going / "object")   # of one that was cut off, before the carrier came back
        archive.disk.move(target, going / "object")
        archive.disk.sync(target.parent)
    _remove_empty_above(archive, target)
    archive.disk.remove(going)
    return True


def _remove_empty_above(archive: ArchiveFolder, path: Path) -> None:
    for folder in path.parents:
        if folder == archive.root or (is_folder(folder) and entries(folder)):
            return
        with contextlib.suppress(FileNotFoundError):
            archive.disk.remove_empty(folder)
