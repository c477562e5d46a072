"""The check of one carrier or machine before it is handed on or taken in, and the list of its files."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING

from imagekeeper.archive.audits.audit_report import AuditTally, Discrepancy, PartAudit
from imagekeeper.archive.audits.object_audit import ObjectAudit
from imagekeeper.archive.audits.record_audit import check_records, needs_sha256
from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.ocfl.hashing import FileToDigest, Hashing
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK
from imagekeeper.archive.ocfl.ledger import Commits
from imagekeeper.archive.ocfl.reading import file_bytes, size_if_any
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.units import size_text

if TYPE_CHECKING:
    from pathlib import Path

    from imagekeeper.archive.store import ArchiveStore
    from imagekeeper.progress import Advance

#: Records and inventories are read whole; a larger one is none of ours. [byte]
RECORD_LIMIT = 64 << 20


def vet(archive: ArchiveStore, object_id: str, advance: Advance = lambda done: None) -> PartAudit:
    """Check everything in the folder of a carrier or machine, as an audit does.

    Args:
        archive: The archive that holds it.
        object_id: Its id.
        advance: Told the bytes read.

    Returns:
        What is damaged, missing or unexpected; never an exception.
    """
    folder = archive.object_path(object_id)
    with Hashing(advance, 1) as hashing:
        report = AuditTally(archive, hashing)
        if large := _too_large(folder):
            report.damaged(object_id, folder / large, f"it is larger than {size_text(RECORD_LIMIT)}, and no record is")
        else:
            ObjectAudit(archive, report, object_id, Commits()).check(report.list_folder(object_id, folder))
        found = report.part(object_id)
    # what is said of no carrier is about the log of commits, which is another matter
    return replace(
        found,
        damaged=tuple(one for one in found.damaged if one.carrier is not None),
        missing=tuple(one for one in found.missing if one.carrier is not None),
    )


def vet_records(archive: ArchiveStore, object_id: str, inventory: Inventory) -> PartAudit:
    """Check only the records of a carrier's or machine's newest version, as an audit does: not its images.

    Returns:
        What is damaged or missing; never an exception.
    """
    folder, lies = archive.object_path(object_id), inventory.by_digest()
    paths = sorted({lies[digest] for path, digest in inventory.state.items() if not needs_sha256(path)})
    with Hashing(lambda done: None, 1) as hashing:
        report = AuditTally(archive, hashing)
        found = report.digest_all(object_id, [FileToDigest(folder / path, ("sha512",), keep=True) for path in paths])
        whole = {
            path: one for path, one in zip(paths, found, strict=True)
            if one is not None and one.digests["sha512"] == inventory.manifest[path]
        }
        check_records(report, object_id, folder, inventory, whole)
        part = report.part(object_id)
    if part.damaged or part.missing:
        return part
    return _loaded(archive, object_id, inventory, part)


def _loaded(archive: ArchiveStore, object_id: str, inventory: Inventory, part: PartAudit) -> PartAudit:
    """See whether the records make up a carrier or machine."""
    machine = places.MACHINE in inventory.state and places.CARRIER not in inventory.state
    try:
        (load_machine if machine else load_record)(archive, object_id, inventory)
    except ImagekeeperError as problem:
        path = archive.name_of(archive.object_path(object_id))
        return replace(part, damaged=(Discrepancy(carrier=object_id, path=path, why=one_line(problem.why)),))
    return part


def _too_large(folder: Path) -> str | None:
    """Name a file that is read whole and is too large for that."""
    try:
        versions = [entry.name for entry in os.scandir(folder) if entry.is_dir(follow_symlinks=False)]
        for above in ("", *(f"{name}/" for name in versions)):
            for name in (INVENTORY, SIDECAR):
                if size_if_any(folder / above / name) > RECORD_LIMIT:
                    return above + name
        if size_if_any(folder / OBJECT_MARK) > RECORD_LIMIT:
            return OBJECT_MARK
        inventory = parse_inventory(file_bytes(folder / INVENTORY)).inventory
    except OSError:
        return None   # the audit says what is wrong
    if inventory is None:
        return None
    lies = inventory.by_digest()
    records = {
        digest
        for one in inventory.versions
        for path, digest in one.state.items()
        if not needs_sha256(path) and not path.startswith(places.MERGED)   # what was merged is kept as it was
    }
    return next((lies[d] for d in sorted(records) if size_if_any(folder / lies[d]) > RECORD_LIMIT), None)


def object_files(inventory: Inventory) -> dict[str, str | None]:
    """Give every file of a carrier's folder, with its SHA-512 where the inventory states it.

    Example:
        >>> from imagekeeper.archive.ocfl.inventory import Version
        >>> [*object_files(Inventory("u4", {}, (Version("2026-11-24T22:00:00Z", {}),)))][:2]
        ['0=ocfl_object_1.1', 'inventory.json']
    """
    files: dict[str, str | None] = {OBJECT_MARK: None, INVENTORY: None, SIDECAR: None}
    for number in range(1, inventory.head + 1):
        files[f"v{number}/{INVENTORY}"] = None
        files[f"v{number}/{SIDECAR}"] = None
    return files | dict(inventory.manifest)
