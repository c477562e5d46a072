"""An archive's folder as it lies on disk: where its parts are, and how they are read."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator
from pathlib import Path

from imagekeeper.archive.ocfl import founding
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import StorageLayout
from imagekeeper.archive.ocfl.reading import entries, file_bytes, is_folder
from imagekeeper.archive.ocfl.troubles import damaged, missing
from imagekeeper.errors import NotFoundError, Where
from imagekeeper.files import reason
from imagekeeper.jsonable import one_line
from imagekeeper.provenance.ids import is_carrier_id
from imagekeeper.sentences.say import Phrase


class ArchiveFolder:
    """The folder of an archive, for reading; `imagekeeper.archive.store.ArchiveStore` adds the writing.

    Attributes:
        path: The archive's folder.
        marker: Its identity.
        layout: How carriers lie in the storage root.
        disk: The steps by which it is written.
        changing: The carrier of which a change is under way, or None.
    """

    def __init__(
        self, path: Path, marker: founding.Marker, layout: StorageLayout, disk: FlushedDisk | None = None
    ) -> None:
        self.path = path
        self.marker = marker
        self.layout = layout
        self.disk = disk or FlushedDisk()
        self.changing: str | None = None

    @property
    def root(self) -> Path:
        """The OCFL storage root."""
        return self.path / "carriers"

    @property
    def staging(self) -> Path:
        """Where changes are prepared."""
        return self.path / "staging"

    @property
    def quarantine(self) -> Path:
        """Where repairs put what they take out."""
        return self.path / "quarantine"

    @property
    def log(self) -> Path:
        """The folder of the logs."""
        return self.path / "log"

    def object_path(self, carrier_id: str) -> Path:
        """Give a carrier's folder, whether or not it is there."""
        return self.root / self.layout.object_folder(carrier_id)

    def has(self, carrier_id: str) -> bool:
        """Whether there is a carrier with this id."""
        return is_carrier_id(carrier_id) and is_folder(self.object_path(carrier_id))

    def folders(self) -> Iterator[str]:
        """Walk the carriers' folders, relative to the storage root.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read.
        """
        try:
            yield from self._folders("", self.layout.depth)
        except OSError as problem:
            raise damaged("carriers", reason(problem)) from problem

    def _folders(self, above: str, depth: int) -> Iterator[str]:
        for name, kind in entries(self.root / above).items():
            if kind != "folder" or (not above and name == "extensions"):
                continue
            if depth:
                yield from self._folders(f"{above}{name}/", depth - 1)
            else:
                yield above + name

    def ids(self) -> tuple[str, ...]:
        """Give the ids of all carriers, in order.

        Raises:
            ArchiveError: `archive-damaged` where the storage root cannot be read.
        """
        found = (self.layout.object_id(folder) for folder in self.folders())
        return tuple(sorted(name for name in found if is_carrier_id(name)))

    def inventory(self, carrier_id: str) -> Inventory:
        """Read a carrier's inventory, checked against its digest.

        Raises:
            NotFoundError: `carrier-missing`.
            ArchiveError: `archive-damaged`.
        """
        if not self.has(carrier_id):
            next(self.folders(), None)   # which tells where the carriers cannot be looked at
            raise missing(carrier_id)
        folder = self.object_path(carrier_id)
        name = self.name_of(folder / INVENTORY)
        for attempt in range(3):
            if attempt:
                time.sleep(0.02)   # another program may be between the two files
            data = _read(folder / INVENTORY, name)
            digest = hashlib.sha512(data).hexdigest()
            if sidecar_digest(_read(folder / SIDECAR, self.name_of(folder / SIDECAR))) == digest:
                break
        else:
            if not _confirmed(folder, data, digest):
                raise damaged(name, Phrase("archive-damaged/digest-beside"))
        parsed = parse_inventory(data)
        if parsed.inventory is None:
            first = parsed.problems[0]
            raise damaged(name, Phrase("archive-damaged/inventory", rule=first.code, trouble=first.why))
        if parsed.inventory.id != carrier_id:
            raise damaged(name, Phrase("archive-damaged/inventory-of-another", id=parsed.inventory.id))
        return parsed.inventory

    def content_path(self, carrier_id: str, logical_path: str, inventory: Inventory | None = None) -> Path:
        """Give where a file of the carrier's newest version lies on disk; its bytes are not checked.

        Raises:
            NotFoundError: `carrier-missing`, `not-found`.
            ArchiveError: `archive-damaged`.
        """
        known = inventory or self.inventory(carrier_id)
        content = known.content_path(logical_path)
        if content is None:
            raise NotFoundError(
                "not-found/file-of-carrier", id=carrier_id, path=logical_path,
                where=Where(file=one_line(logical_path)),
            )  # fmt: skip
        return self.object_path(carrier_id) / content

    def read_file(self, carrier_id: str, logical_path: str, inventory: Inventory | None = None) -> bytes:
        """Read a file of the carrier's newest version whole, checked against its digest.

        Args:
            carrier_id: The carrier.
            logical_path: Such as `carrier.json`.
            inventory: The carrier's inventory where the caller has it already.

        Raises:
            NotFoundError: `carrier-missing`, `not-found`.
            ArchiveError: `archive-damaged`.
        """
        known = inventory or self.inventory(carrier_id)
        path = self.content_path(carrier_id, logical_path, known)
        data = _read(path, self.name_of(path))
        if hashlib.sha512(data).hexdigest() != known.state[logical_path]:
            raise damaged(self.name_of(path), Phrase("archive-damaged/digest"))
        return data

    def name_of(self, path: Path) -> str:
        """Name a file for people and records: relative to the archive, with `/`."""
        return one_line(path.relative_to(self.path).as_posix())


def _read(path: Path, name: str | None = None) -> bytes:
    try:
        return file_bytes(path)
    except OSError as problem:
        raise damaged(name or path.name, reason(problem)) from problem


def _confirmed(folder: Path, data: bytes, digest: str) -> bool:
    """Whether the copy in the newest version's folder bears an inventory out, as between a commit's last steps."""
    inventory = parse_inventory(data).inventory
    if inventory is None:
        return False
    beside = folder / f"v{inventory.head}"
    try:
        return sidecar_digest(file_bytes(beside / SIDECAR)) == digest and file_bytes(beside / INVENTORY) == data
    except OSError:
        return False
