"""A history of a carrier put together in a small archive of its own, from files that lie about.

Such an archive has the identity of the one that it comes from, and holds one carrier. It is made in staging, and either
a repair takes from it what it lacks, or it goes to quarantine as a whole: a second history, which can be merged.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.audits.vetting import vet
from imagekeeper.archive.exchange.proofs import Link
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.reading import file_blocks
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.recovery import REPAIR, set_aside
from imagekeeper.provenance.fields import write_json

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

#: Gives a file with a SHA-512, or None where there is none.
Find = Callable[[str], Path | None]

#: What the folder of a second history is called in quarantine, behind the carrier's id.
OTHER_HISTORY = "other-history"


def assembled(
    archive: ArchiveFolder, inventory: Inventory, newest: bytes, find: Find, name: str = "noted-history"
) -> ArchiveStore | None:
    """Put a history together in staging; the lock is held by the caller, who clears it away again.

    Args:
        archive: The archive in whose staging it is made.
        inventory: The history.
        newest: Its inventory as it was written; where it is none of its head, that is written anew.
        find: Where its files lie.
        name: What the folder in staging is called.

    Returns:
        The small archive, or None where one of its files is nowhere.

    Raises:
        OSError: The system refused.
    """
    if len({*inventory.manifest.values()}) < len(inventory.manifest):
        return None   # this program stores equal files once; a strange inventory could ask for any number of copies
    places: dict[str, Path] = {}
    for path, digest in inventory.manifest.items():
        found = find(digest)
        if found is None:
            return None
        places[path] = found
    small = _founded(archive, archive.staging / REPAIR / name)
    disk, folder = small.disk, small.object_path(inventory.id)
    lines = []
    for number in range(1, inventory.head + 1):
        past = inventory.at(number)
        data = newest if parse_inventory(newest).inventory == past else past.to_bytes()
        tops = [folder / f"v{number}", *([folder] if number == inventory.head else [])]
        for top in tops:
            disk.make_folders(top)
            disk.write(top / INVENTORY, (data,))
            disk.write(top / SIDECAR, (sidecar_bytes(hashlib.sha512(data).hexdigest()),))
        lines.append(Link.of(past, data))
    for path, found in places.items():
        disk.make_folders((folder / path).parent)
        if disk.write(folder / path, file_blocks(found)) != inventory.manifest[path]:
            return None   # it changed since it was looked at
    disk.write(folder / OBJECT_MARK, (OBJECT_TEXT,))
    for line in lines:
        noted = ledger.commit_line(inventory.id, line.version, line.created, line.digest)
        ledger.append_line(small, ledger.COMMITS, noted)
    return small


def _founded(archive: ArchiveFolder, place: Path) -> ArchiveStore:
    text = archive.marker.readme()
    marker = replace(archive.marker, readme_sha512=hashlib.sha512(text).hexdigest())
    archive.disk.remove(place)
    founding.found_with(
        place, archive.disk, layout=marker.layout, readme_file=text, marker_file=write_json(marker)
    )
    return ArchiveStore(place, marker, archive.layout, archive.disk)


def clear(archive: ArchiveFolder) -> None:
    """Take away what was put together in staging."""
    archive.disk.remove(archive.staging / REPAIR)


def kept_aside(
    archive: ArchiveFolder, inventory: Inventory, newest: bytes, find: Find, above: int
) -> tuple[Path, int] | None:
    """Keep a second history in quarantine, as far as all of its files are there and its records can be read.

    Args:
        archive: The archive; its lock is held by the caller.
        inventory: The second history.
        newest: Its inventory as it was written.
        find: Where its files lie.
        above: The newest version that it has in common with the first: less than one more is worth nothing.

    Returns:
        Where it lies, and its newest version there; None where not even one version more is whole.
    """
    for head in range(inventory.head, above, -1):
        small = assembled(archive, inventory.at(head), newest, find, OTHER_HISTORY)
        if small is None:
            continue
        part = vet(small, inventory.id)
        if not (part.damaged or part.missing or part.unexpected):
            aside = set_aside(archive, small.path, f"{inventory.id}-{OTHER_HISTORY}")
            archive.disk.sync(aside.parent)
            return aside, head
    return None


def common(one: Inventory, other: Inventory) -> int:
    """Give the newest version that two histories have in common."""
    number = 0
    for a, b in zip(one.versions, other.versions, strict=False):
        if a != b:
            break
        number += 1
    return number
