"""The repair of one carrier: its files, the versions that are gone, and a history that is not the noted one."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from pathlib import Path

from imagekeeper.archive.audits.audit import examine
from imagekeeper.archive.exchange.assembling import assembled, clear, common, kept_aside
from imagekeeper.archive.exchange.copy_mark import is_copy
from imagekeeper.archive.exchange.finds import file_digest
from imagekeeper.archive.exchange.grafting import graft, graft_versions
from imagekeeper.archive.exchange.proofs import Link, contradicted, history, noted_digest, proved, written
from imagekeeper.archive.exchange.quarantine import Quarantine
from imagekeeper.archive.exchange.repair_report import Origin, Refused, SecondHistory
from imagekeeper.archive.exchange.repair_tools import RepairTools
from imagekeeper.archive.exchange.replica import check_history
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.hashing import Hashing
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.reading import bytes_if_any, entries
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError


def second_history(
    archive: ArchiveStore, inventory: Inventory, version: int, found: str, kept: tuple[Path, int] | None, why: str
) -> SecondHistory:
    """Tell of a second history.

    Args:
        archive: The archive.
        inventory: The second history.
        version: Its first version that is another.
        found: Where it lay.
        kept: The small archive that holds it now, with its newest version there; None where there is none.
        why: Why there is none.
    """
    return SecondHistory(
        carrier=inventory.id, version=version, head=inventory.head if kept is None else kept[1], found=found,
        archive=None if kept is None else archive.name_of(kept[0]), why=why if kept is None else None,
    )  # fmt: skip


class CarrierRepair:
    """The repair of one carrier in one round."""

    def __init__(self, tools: RepairTools, carrier: str, commits: ledger.Commits) -> None:
        self.tools = tools
        self.archive = tools.archive
        self.replica = tools.replica
        self.carrier = carrier
        self.commits = commits
        self.path = tools.archive.object_path(carrier)

    def run(self) -> None:
        """Restore the carrier's files, and then the versions that are gone."""
        if not self.archive.has(self.carrier):
            self.versions(None)
            return
        with Hashing(lambda done: None, 1) as hashing:
            _, trusted = examine(self.archive, hashing, self.carrier, self.commits)
        here = None if trusted is None else parse_inventory(trusted).inventory
        if here is None or trusted is None:
            found = self.right_inventory()
            if found is None:
                return   # nobody bears out what the carrier should hold
            here, trusted = found
        self.files(here, trusted)
        if self.commits.newest(self.carrier) > here.head:
            self.versions(here)

    # --- which history is the right one ---

    def right_inventory(self) -> tuple[Inventory, bytes] | None:
        """Find the inventory that belongs to a carrier whose own is damaged: one that lies about, or the replica's."""
        for digest in (*self.noted_digests(), *self.claims()):
            place = self.tools.finds.find(digest)
            data = None if place is None else bytes_if_any(place)
            inventory = None if data is None else parse_inventory(data).inventory
            if data is None or inventory is None or inventory.id != self.carrier:
                continue
            if self.tools.ours.says(self.carrier, Link.of(inventory, data)) != "another":
                return inventory, data
        there = self.tools.inventory(self.replica, self.carrier)
        if there is None or there.head < self.commits.newest(self.carrier):
            return None
        offered = self.offered(there, 0)
        if offered is None or self.replica is None:
            return None
        return offered, written(self.replica, there, offered.head)

    def noted_digests(self) -> list[str]:
        """Give the digests that the log notes for the newest version."""
        newest = self.commits.newest(self.carrier)
        found = (noted_digest(n.line) for n in self.commits.notes.get(self.carrier, ()) if n.version == newest)
        return [digest for digest in found if digest is not None]

    def claims(self) -> list[str]:
        """Give the digests that the files beside the inventories state."""
        names = [name for name, kind in entries(self.path).items() if kind == "folder" and name[:1] == "v"]
        numbers = sorted((int(name[1:]) for name in names if name[1:].isdecimal()), reverse=True)
        claims = [bytes_if_any(place / SIDECAR) for place in (self.path, *(self.path / f"v{n}" for n in numbers[:1]))]
        found = (sidecar_digest(claim) for claim in claims if claim is not None)
        return [digest for digest in found if digest is not None]

    def offered(self, there: Inventory, above: int) -> Inventory | None:
        """Give the replica's history as far as it is proved, where that is further than one version; else tell why."""
        if self.replica is None:
            return None
        found = proved(self.carrier, [*history(self.replica, there, above)], self.tools.ours, self.tools.theirs)
        if found.another is not None:
            self.tools.refuse(self.carrier, found.another, "of the replica")
            return None
        ahead = found.unproved is not None and is_copy(self.archive) and self.tools.ours.complete
        if found.unproved is not None and not ahead:   # the archive of a copy may well be ahead of it
            number = found.unproved.version
            self.tools.unproved[self.carrier] = Refused(
                self.carrier, number, f"version {number} of the replica is noted in no sound line of the log of"
                " commits, so that nothing proves that it was ever this archive's",
            )  # fmt: skip
        return there.at(found.version) if found.version > above else None

    def sources(self, here: Inventory | None) -> Iterator[tuple[Origin, ArchiveStore, Inventory]]:
        """Give where the noted history can be taken from: from files that lie about, or from the replica."""
        for digest in self.noted_digests():
            place = self.tools.finds.find(digest)
            data = None if place is None else bytes_if_any(place)
            inventory = None if data is None else parse_inventory(data).inventory
            if data is None or inventory is None or inventory.id != self.carrier:
                continue
            known = [inventory] if here is None else [here, inventory]
            small = assembled(self.archive, inventory, data, self.tools.lies(*known))
            if small is not None:
                yield "stray", small, inventory
            clear(self.archive)
        there = self.tools.inventory(self.replica, self.carrier)
        if there is not None and self.replica is not None:
            same = here is not None and there.at(here.head) == here
            offered = self.offered(there, here.head if here is not None and same else 0)
            if offered is not None and self.fit(self.replica, offered):
                yield "replica", self.replica, offered

    def fit(self, source: ArchiveStore, inventory: Inventory) -> bool:
        """Whether what a copy offers can be kept; what no later command could show is left there, and told."""
        with Quarantine() as quarantine:
            found = quarantine.tried(source, inventory)
        if isinstance(found, str):
            self.tools.refused[self.carrier] = Refused(self.carrier, inventory.head, found)
        return not isinstance(found, str)

    # --- what is put right ---

    def versions(self, here: Inventory | None) -> None:
        """Take the versions that are gone, or the whole carrier, from where the noted history lies."""
        head = 0 if here is None else here.head
        for origin, source, inventory in self.sources(here):
            if inventory.head <= head or (here is not None and inventory.at(head) != here):
                continue
            with self.tolerant(source):
                check_history(source, inventory, head)
                if here is None:
                    graft(self.archive, source, inventory, self.carrier)
                    self.tools.folder(self.carrier, self.path, origin)
                else:
                    graft_versions(self.archive, source, inventory, head)
            for number in range(head + 1, self.head() + 1) if head else ():
                self.tools.folder(self.carrier, self.path / f"v{number}", origin)
            if self.head() == inventory.head:
                return

    def head(self) -> int:
        """Give the newest version that is here now; 0 for none."""
        found = self.tools.inventory(self.archive, self.carrier)
        return 0 if found is None else found.head

    @contextlib.contextmanager
    def tolerant(self, source: ArchiveStore) -> Iterator[None]:
        """Leave a carrier as it is where what is there is damaged too."""
        try:
            yield
        except ImagekeeperError as problem:
            with Hashing(lambda done: None, 1) as hashing:
                part, _ = examine(source, hashing, self.carrier, ledger.Commits())
            if not isinstance(problem, ArchiveError) and not (part.damaged or part.missing):
                raise

    def other_history(self) -> SecondHistory | None:
        """Where the history here is not the noted one, put the noted one in its place, and keep this one beside.

        Where the noted one is nowhere, nothing is changed, the log least of all; it is told.
        """
        here = self.tools.inventory(self.archive, self.carrier)
        if here is None:
            return None
        link = contradicted(self.archive, here, self.tools.ours)
        if link is None:
            if self.tools.theirs is not None and not self.tools.ours.complete:
                link = contradicted(self.archive, here, self.tools.theirs)
                if link is not None and self.tools.ours.says(self.carrier, link) == "nothing":
                    self.tools.refuse(self.carrier, link, "here", here=True)
            return None
        for origin, source, inventory in self.sources(None):
            if inventory.head < link.version:
                continue
            with self.tolerant(source):
                check_history(source, inventory, 0)
                return self.exchange(here, link, origin, source, inventory)
        self.tools.refuse(self.carrier, link, "here", here=True)
        return None

    def exchange(
        self, here: Inventory, link: Link, origin: Origin, source: ArchiveStore, inventory: Inventory
    ) -> SecondHistory:
        """Put another history in place of the one here, which is kept whole and as an archive that can be merged."""
        data = bytes_if_any(self.path / INVENTORY)
        kept = kept_aside(
            self.archive, here, data or here.to_bytes(), self.tools.lies(here), common(here, inventory)
        )
        aside = graft(self.archive, source, inventory, self.carrier, replacing=True)
        self.tools.folder(self.carrier, self.path, origin, aside)
        found = self.archive.name_of(aside or self.path)
        return second_history(self.archive, here, link.version, found, kept, "not all of its files are whole")

    def files(self, inventory: Inventory, trusted: bytes) -> None:
        """Restore every file of the carrier that is not what its inventory says."""
        right = {OBJECT_MARK: OBJECT_TEXT}
        for above in ("", f"v{inventory.head}/"):
            right[above + INVENTORY] = trusted
        for number in range(1, inventory.head):
            past = self.past(inventory, number)
            if past is not None:
                right[f"v{number}/{INVENTORY}"] = past
        beside = {}
        for name, data in right.items():
            if name.endswith(INVENTORY):
                beside[name.removesuffix(INVENTORY) + SIDECAR] = sidecar_bytes(hashlib.sha512(data).hexdigest())
        for name, data in {**right, **beside}.items():
            if bytes_if_any(self.path / name) != data:
                self.tools.file(self.carrier, self.path / name, data, "archive")
        for name, digest in sorted(inventory.manifest.items()):
            target = self.path / name
            if file_digest(target) == digest:
                continue
            there = None if self.replica is None else self.replica.object_path(self.carrier) / name
            if there is not None and self.tools.file(self.carrier, target, there, "replica", digest):
                continue
            stray = self.tools.finds.find(digest)
            if stray is not None:
                self.tools.file(self.carrier, target, stray, "stray", digest)

    def past(self, inventory: Inventory, number: int) -> bytes | None:
        """Give an earlier version's inventory as it was written: its digest is noted, or stated beside it."""
        name = f"v{number}/{INVENTORY}"
        stores = [store for store in (self.archive, self.replica) if store is not None]
        places = [store.object_path(self.carrier) for store in stores]
        claims = {sidecar_digest(bytes_if_any(place / f"v{number}" / SIDECAR) or b"") for place in places}
        past = inventory.at(number)
        for data in (*(bytes_if_any(place / name) for place in places), past.to_bytes()):
            if data is None or parse_inventory(data).inventory != past:
                continue
            link = Link.of(past, data)
            if link.digest in claims or self.tools.ours.says(self.carrier, link) == "noted":
                return data
        return None
