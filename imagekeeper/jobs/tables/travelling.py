"""Own rows that go along when carriers are handed on, and those that come along with them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from imagekeeper import files
from imagekeeper.archive.exchange.bag import PayloadFile
from imagekeeper.archive.ocfl.reading import entries, file_blocks
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import sha256_hex
from imagekeeper.jobs.tables.folders import FOLDER, RECEIVED
from imagekeeper.jobs.tables.places import FILES, HeldFile, own_files, received_files
from imagekeeper.jobs.tables.received import accepted_rows
from imagekeeper.provenance.places import safe_name
from imagekeeper.tables.own_file import LIMIT, parse


def going_along(archive: ArchiveStore) -> list[PayloadFile]:
    """Give the files of own rows that are handed on: those that can be read, and those of which a row was accepted."""
    found: dict[str, PayloadFile] = {}
    for file in own_files(archive.path)[0]:
        if parse(file.data, file.name).rows:
            _put(found, f"{FOLDER}/{_name(file)}", file.data)
    used = {row.file for row in accepted_rows(archive.path)}
    for file in received_files(archive.path)[0] if used else ():
        if file.name in used:
            _put(found, f"{FOLDER}/{RECEIVED}/{file.path.parent.name}/{file.path.name}", file.data)
    return list(found.values())


def coming_along(source: ArchiveStore) -> tuple[str, ...]:
    """Name the files of own rows that another archive brings, relative to it."""
    top = source.path / FOLDER
    found = [f"{FOLDER}/{name}" for name in _tables(top)]
    for above, kind in _entries(top / RECEIVED).items():
        if kind == "folder":
            found += [f"{FOLDER}/{RECEIVED}/{above}/{name}" for name in _tables(top / RECEIVED / above)]
    return tuple(found)


def take_along(archive: ArchiveStore, source: ArchiveStore, *, dry_run: bool) -> int:
    """Keep the own rows that another archive brings, apart: they decide nothing until each was accepted.

    Args:
        archive: Where they go; its lock is held by the caller unless nothing is to be changed.
        source: The other archive.
        dry_run: Change nothing.

    Returns:
        How many rows are new here.
    """
    count = 0
    for path in coming_along(source)[: 2 * FILES]:
        parts = path.split("/")
        origin = source.marker.uuid if len(parts) == 2 else parts[-2]
        if origin == archive.marker.uuid:   # they are ours, come back
            continue
        data = _bytes(source.path / path)
        rows = parse(data, path).rows if data is not None else ()
        if data is None or not rows:
            continue
        stem = safe_name(parts[-1].removesuffix(".toml"))[:40]
        digest = sha256_hex(data)[:8]
        name = f"{stem}.toml" if stem.endswith(f"-{digest}") else f"{stem}-{digest}.toml"
        target = archive.path / FOLDER / RECEIVED / safe_name(origin) / name
        if target.exists():
            continue
        count += len(rows)
        if not dry_run:
            archive.disk.make_folders(target.parent)
            files.write_whole(target, [data])
    return count


def _name(file: HeldFile) -> str:
    return safe_name(file.path.name if file.origin == "archive" else f"person-{file.path.name}")


def _put(found: dict[str, PayloadFile], path: str, data: bytes) -> None:
    number = 2
    wanted = path
    while path in found:   # two names that are one when they are made safe
        path = f"{wanted.removesuffix('.toml')}-{number}.toml"
        number += 1
    found[path] = PayloadFile(path, data)


def _tables(folder: Path) -> Iterable[str]:
    return [name for name, kind in _entries(folder).items() if kind == "file" and name.endswith(".toml")][:FILES]


def _entries(folder: Path) -> dict[str, str]:
    try:
        return entries(folder)
    except OSError:
        return {}


def _bytes(path: Path) -> bytes | None:
    """Read a file of another archive, or give None where it cannot be, or is too large."""
    pieces, size = [], 0
    try:
        for piece in file_blocks(path):
            pieces.append(piece)
            size += len(piece)
            if size > LIMIT:
                return None
    except OSError:
        return None
    return b"".join(pieces)
