"""Files that lie where nothing accounts for them: renamed, moved, second copies, or set aside before.

A file is what its digest says, wherever it lies and whatever it is called. So what a repair lacks may still be there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from imagekeeper.archive.audits.vetting import RECORD_LIMIT
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.reading import bytes_if_any, entries, file_blocks, is_folder, size_if_any
from imagekeeper.provenance.ids import is_carrier_id


class Finds:
    """Such files, by their digests; they are read when the first one is asked for, and no further than is needed."""

    def __init__(self, strays: Sequence[Path], *further: Sequence[Path]) -> None:
        """Take the places to look at.

        Args:
            strays: Files and folders that nothing accounts for, or that are not what should be there.
            further: Files and folders to look through where these have nothing, and so on.
        """
        self.strays = strays
        self._pending = [strays, *further]
        self._found: dict[str, list[Path]] = {}

    def find(self, digest: str) -> Path | None:
        """Give a file that has a SHA-512, as it is now; None where there is none."""
        while True:
            for path in self._found.get(digest, ()):
                if file_digest(path) == digest:
                    return path
            if not self._pending:
                return None
            for path in files_below(self._pending.pop(0)):
                self.add(path)

    def add(self, path: Path) -> None:
        """Look at one more file."""
        digest = file_digest(path)
        if digest is not None:
            self._found.setdefault(digest, []).append(path)

    def inventories(self) -> Iterator[tuple[Path, bytes, Inventory]]:
        """Give the strays that are inventories of carriers."""
        for path in files_below(self.strays):
            if size_if_any(path) > RECORD_LIMIT or not _may_be_inventory(path):
                continue
            data = bytes_if_any(path)
            inventory = None if data is None else parse_inventory(data).inventory
            if data is not None and inventory is not None and is_carrier_id(inventory.id):
                yield path, data, inventory


def _may_be_inventory(path: Path) -> bool:
    try:
        return next(file_blocks(path), b"")[:1] == b"{"
    except OSError:
        return False


def files_below(places: Sequence[Path]) -> Iterator[Path]:
    """Walk the regular files among some files and folders, and below them, in order; links are not followed."""
    pending = [*reversed(places)]
    while pending:
        place = pending.pop()
        if not is_folder(place):
            yield place
            continue
        try:
            listing = entries(place)
        except OSError:
            continue   # what cannot be looked at gives nothing
        pending += [place / name for name, kind in reversed(listing.items()) if kind != "other"]


def file_digest(source: Path | bytes) -> str | None:
    """Give the SHA-512 of a file or of bytes; None where it cannot be read."""
    digest = hashlib.sha512()
    try:
        for block in (source,) if isinstance(source, bytes) else file_blocks(source):
            digest.update(block)
    except OSError:
        return None
    return digest.hexdigest()
