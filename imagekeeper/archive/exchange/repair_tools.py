"""What every part of a repair works with: the archive, the witnesses, and the one way in which a file is put right."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from imagekeeper.archive.exchange.assembling import Find
from imagekeeper.archive.exchange.finds import Finds, file_digest
from imagekeeper.archive.exchange.proofs import Link, Witness
from imagekeeper.archive.exchange.repair_report import Origin, Refused, Restored, SetAside
from imagekeeper.archive.exchange.replica import put
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jsonable import one_line


class RepairTools:
    """The archive that is repaired, what bears out what belongs there, and what was done so far.

    Attributes:
        archive: The archive.
        replica: A copy of it, or None.
        ours: The archive's log of commits as it was before the repair.
        theirs: That of the replica, or None.
        finds: Files that lie about.
        restored: What is right again.
        set_aside: What went to quarantine.
        refused: Carriers of which another history was found, in this round.
        unproved: Carriers of which versions were found that no log notes.
    """

    def __init__(self, archive: ArchiveStore, replica: ArchiveStore | None, ours: Witness) -> None:
        self.archive = archive
        self.replica = replica
        self.ours = ours
        self.theirs = None if replica is None else Witness(ledger.read_commits(replica))
        self.finds = Finds(())
        self.restored: list[Restored] = []
        self.set_aside: list[SetAside] = []
        self.refused: dict[str, Refused] = {}
        self.unproved: dict[str, Refused] = {}

    def file(
        self, carrier: str | None, path: Path, source: bytes | Path, origin: Origin, expected: str | None = None
    ) -> bool:
        """Put a file in place, checked before, on the way and after; tell whether it is there now."""
        right = expected or file_digest(source)
        if right is None or file_digest(source) != right:
            return False   # the replica's copy is no better
        was = file_digest(path)
        stray = self.archive.name_of(source) if origin == "stray" and isinstance(source, Path) else None
        aside = put(self.archive, path, source, right)
        if aside is not None:
            self.finds.add(aside)
        if file_digest(path) != right:
            return False   # the medium did not take it: the audit that follows tells
        kept = None if aside is None else self.archive.name_of(aside)
        self.restored.append(Restored(
            carrier=carrier, path=self.archive.name_of(path), origin=origin, sha512=right, damaged_sha512=was,
            quarantine=kept, stray=stray,
        ))  # fmt: skip
        return True

    def folder(self, carrier: str, path: Path, origin: Origin, aside: Path | None = None) -> None:
        """Note a folder that is right again."""
        kept = None if aside is None else self.archive.name_of(aside)
        self.restored.append(Restored(
            carrier=carrier, path=self.archive.name_of(path), origin=origin, sha512=None, damaged_sha512=None,
            quarantine=kept,
        ))  # fmt: skip

    def lies(self, *known: Inventory) -> Find:
        """Give what finds a file by its SHA-512, in its place by one of these inventories or wherever it lies."""
        places = {
            digest: self.archive.object_path(one.id) / path for one in known for path, digest in one.manifest.items()
        }

        def find(digest: str) -> Path | None:
            place = places.get(digest)
            return place if place is not None and file_digest(place) == digest else self.finds.find(digest)

        return find

    def inventory(self, store: ArchiveStore | None, carrier: str) -> Inventory | None:
        """Read a carrier's inventory in this archive or the replica; None where that is impossible."""
        try:
            return None if store is None else store.inventory(carrier)
        except ImagekeeperError:
            return None

    def refuse(self, carrier: str, link: Link, what: str, *, here: bool = False) -> None:
        """Note that a version is another than the noted one."""
        self.refused[carrier] = Refused(
            carrier, link.version, f"version {link.version} {what} has the inventory {link.digest[:16]}…, which is not"
            " the one that the log of commits notes", here,
        )  # fmt: skip


def places_of(archive: ArchiveStore, shown: Sequence[str]) -> list[Path]:
    """Find what printable paths stand for; those that stand for nothing, or for more than one thing, are left out."""
    return [place for place in (place_of(archive.path, one) for one in shown) if place is not None]


def place_of(folder: Path, shown: str) -> Path | None:
    """Find what a printable path stands for; None where nothing, or more than one thing, does."""
    for part in shown.split("/"):
        if os.path.lexists(folder / part):
            folder = folder / part
            continue
        try:
            likely = [name for name in os.listdir(folder) if one_line(name) == part]
        except OSError:
            return None
        if len(likely) != 1:
            return None
        folder = folder / likely[0]
    return folder
