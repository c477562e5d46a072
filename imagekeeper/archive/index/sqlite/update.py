"""Bringing the index up to date: what is looked at, what is read again, and what is left as it is."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from imagekeeper.archive.index.sqlite import watch
from imagekeeper.archive.index.sqlite.seal import resealed
from imagekeeper.archive.index.sqlite.tables import is_full_text, transaction
from imagekeeper.archive.index.sums import checked
from imagekeeper.archive.ocfl.inventory import SIDECAR
from imagekeeper.errors import ImagekeeperError
from imagekeeper.progress import Progress
from imagekeeper.provenance.ids import is_carrier_id

if TYPE_CHECKING:
    from imagekeeper.archive.index.entries import Writer
    from imagekeeper.archive.store import ArchiveStore


def update(
    archive: ArchiveStore, base: sqlite3.Connection, progress: Progress, file: Path | None = None, *, new: bool = False
) -> None:
    """Read what changed since the last time, as far as `watch` can tell, and write it into the index.

    Args:
        archive: The archive.
        base: The index.
        progress: Told the records read.
        file: The index's file, which is sealed; None for one in memory, or that is not sealed yet.
        new: Whether the index is being filled for the first time.

    Raises:
        sqlite3.Error: The index is damaged, locked, or cannot be written.
        OSError: The file cannot be sealed again.
        ArchiveError: `archive-damaged` where the storage root cannot be read.
    """
    stamps = {what: stamp for what, stamp, _ in checked(base.execute("SELECT * FROM watched"))}
    seen = watch.look(archive, stamps)
    now = dict(seen.stamps)
    if seen.named is None:
        began = watch.now()
        now = {what: stamp for what, stamp in now.items() if not what.startswith("/")}
        now |= watch.folder_stamps(archive, began)
        known = {row[0]: row[1:] for row in base.execute("SELECT id, sidecar, stamp FROM object")}
        folders = _folders(archive, known)
        gone = known.keys() - folders.keys()
    else:
        unread = {row[0] for row in base.execute("SELECT id FROM object WHERE sidecar = ''")}
        named = unread | seen.named
        folders = {one: archive.layout.object_folder(one) for one in sorted(named) if archive.has(one)}
        known = {one: row for one in folders for row in _known(base, one)}
        gone = named - folders.keys()
    fresh, changed = _changes(archive, folders, known) if folders else ([], [])
    if not gone and not fresh and not changed and now == stamps:
        return
    from imagekeeper.archive.index.entries import Writer  # slow to load, and mostly nothing has changed

    writing = transaction(base) if file is None else resealed(base, file)
    with writing, progress("Indexing", len(changed)) as advance:
        writer = Writer(base, full_text=not new and is_full_text(base))
        for one in gone:
            writer.remove(one)
        writer.stamp(fresh)
        for one, stamp in changed:
            if not new:   # another program may have put it in meanwhile
                writer.remove(one)
            _add(archive, writer, one, stamp)
            advance(1)
        writer.watch(now)


def _folders(archive: ArchiveStore, known: Mapping[str, Any]) -> dict[str, str]:
    """Give the folders of all carriers and machines by their ids, in order; what is known needs no check."""
    found = {archive.layout.object_id(folder): folder for folder in archive.folders()}
    return {one: found[one] for one in sorted(found) if one in known or is_carrier_id(one)}


def _known(base: sqlite3.Connection, one: str) -> list[Any]:
    return base.execute("SELECT sidecar, stamp FROM object WHERE id = ?", (one,)).fetchall()


def _changes(
    archive: ArchiveStore, folders: Mapping[str, str], known: Mapping[str, Any]
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Find what changed: new stamps of what is as it was, and what is to be read, with its stamp.

    A record that could not be read has no sidecar in the index, so it is read again.
    """
    from imagekeeper.archive.index.reading import read_sidecar  # slow to load, and mostly nothing has changed

    root = str(archive.root)
    fresh, changed = [], []
    for one, folder in folders.items():
        path = f"{root}/{folder}/{SIDECAR}"
        stamp = watch.sidecar_stamp(path)
        sidecar, before = known.get(one, ("", ""))
        if stamp and sidecar and stamp == before:
            continue
        if sidecar and sidecar == read_sidecar(path):
            fresh.append((stamp, one))
        else:
            changed.append((one, stamp))
    return fresh, changed


def _add(archive: ArchiveStore, writer: Writer, one: str, stamp: str) -> None:
    # slow to load, and mostly nothing has changed
    from imagekeeper.archive.index.reading import is_machine, read_record
    from imagekeeper.archive.index.unholdable import UNHOLDABLE, says

    try:
        record, sidecar = read_record(archive, one)
    except ImagekeeperError as problem:   # damage elsewhere must not hide the other carriers
        writer.add_unreadable(one, stamp, problem.why, machine=is_machine(archive, one))
        return
    try:
        writer.add(record, sidecar, stamp)
    except UNHOLDABLE as problem:   # nor must a value that no index can hold
        writer.remove(one)
        writer.add_unreadable(one, stamp, says(problem), machine=is_machine(archive, one))
