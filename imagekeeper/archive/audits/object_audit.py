"""The audit of one carrier's folder."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from imagekeeper.archive.audits.record_audit import check_records, needs_sha256
from imagekeeper.archive.ocfl.hashing import Digested, FileToDigest
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, Inventory, sidecar_bytes, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.ocfl.ledger import COMMITS, Commits, commit_line

if TYPE_CHECKING:
    from imagekeeper.archive.audits.audit_report import AuditTally
    from imagekeeper.archive.store import ArchiveStore

_VERSION = re.compile(r"v([1-9][0-9]{0,8})")


class ObjectAudit:
    """The check of one carrier.

    An inventory lies in two places, each with its digest beside it: four witnesses, of which the ones that agree tell
    which one is damaged.
    """

    def __init__(self, archive: ArchiveStore, report: AuditTally, carrier: str, commits: Commits) -> None:
        self.report = report
        self.carrier = carrier
        self.commits = commits
        self.log = archive.log / COMMITS
        self.folder = archive.object_path(carrier)
        self.expected: set[str] = {OBJECT_MARK, INVENTORY, SIDECAR}
        self._read: dict[str, bytes | None] = {}
        self._digests: dict[str, str | None] = {}

    def check(self, listing: dict[str, str]) -> bytes | None:
        """Check everything in the carrier's folder.

        Args:
            listing: What lies directly in it.

        Returns:
            The bytes of the inventory that all was held against; None where there is none that could be trusted.
        """
        mark = self.contents(OBJECT_MARK)
        if mark is not None and mark != OBJECT_TEXT:
            self.report.damaged(self.carrier, self.folder / OBJECT_MARK, "it is not the mark of an OCFL 1.1 object")
        tops = [int(match[1]) for name in listing if (match := _VERSION.fullmatch(name))]
        trusted = self.trusted(max(tops, default=0))
        inventory = None if trusted is None else self.inventory(trusted)
        if inventory is None or trusted is None:
            return None
        for number in range(1, inventory.head):
            self.older(inventory, number)
        self.log_of_commits(inventory)
        found = self.content(inventory)
        self.strays(inventory.head)
        check_records(self.report, self.carrier, self.folder, inventory, found)
        return trusted

    def contents(self, name: str) -> bytes | None:
        """Read a small file once; what is wrong with reading it is reported."""
        if name not in self._read:
            self._read[name] = self.report.read(self.carrier, self.folder / name)
        return self._read[name]

    def _digest(self, name: str) -> str | None:
        if name not in self._digests:
            data = self.contents(name)
            self._digests[name] = None if data is None else hashlib.sha512(data).hexdigest()
        return self._digests[name]

    def claim(self, name: str) -> str | None:
        """Give the digest that a file beside an inventory states, None where it states none."""
        data = self.contents(name)
        return None if data is None else sidecar_digest(data)

    def trusted(self, top: int) -> bytes | None:
        """Find the newest inventory that a second witness bears out; report the carrier where there is none."""
        here, beside = self.contents(INVENTORY), self.claim(SIDECAR)
        if here is not None and self._digest(INVENTORY) == beside:
            return here
        if top:
            there = self.contents(f"v{top}/{INVENTORY}")
            own = self.claim(f"v{top}/{SIDECAR}")
            digests = [d for d in (self._digest(f"v{top}/{INVENTORY}"), self._digest(INVENTORY)) if d is not None]
            witnesses = [d for d in (*digests, own, beside) if d is not None]
            if witnesses:
                best = max(witnesses, key=witnesses.count)
                if witnesses.count(best) > 1 and best in digests:
                    return there if self._digest(f"v{top}/{INVENTORY}") == best else here
        if here is not None:
            why = "nothing bears it out, so that the content cannot be checked"
            self.report.damaged(self.carrier, self.folder / INVENTORY, why, beside, self._digest(INVENTORY))
        if self.contents(SIDECAR) is not None and beside is None:
            self.report.damaged(self.carrier, self.folder / SIDECAR, "it does not hold a SHA-512 digest")
        return None

    def inventory(self, trusted: bytes) -> Inventory | None:
        """Hold both places of the newest inventory against the trusted one, and read it."""
        parsed = parse_inventory(trusted)
        right = hashlib.sha512(trusted).hexdigest()
        if parsed.inventory is None:
            problem = parsed.problems[0]
            self.report.damaged(self.carrier, self.folder / INVENTORY, f"{problem.code}: {problem.why}")
            return None
        if parsed.inventory.id != self.carrier:
            why = "it is the inventory of another carrier"
            self.report.damaged(self.carrier, self.folder / INVENTORY, why, self.carrier, parsed.inventory.id[:80])
            return None
        for above in ("", f"v{parsed.inventory.head}/"):
            self.expected |= {above + INVENTORY, above + SIDECAR}
            self._hold(above + INVENTORY, right, self._digest(above + INVENTORY), "its SHA-512 is another")
            self._hold_sidecar(above + SIDECAR, right)
        return parsed.inventory

    def _hold_sidecar(self, name: str, right: str) -> None:
        """Hold the file beside an inventory against the digest it should state, byte for byte."""
        self._hold(name, right, self.claim(name), "it states another SHA-512, or none")
        if self._read[name] not in (None, sidecar_bytes(right)):
            self.report.damaged(self.carrier, self.folder / name, "it is not as it was written")

    def _hold(self, name: str, expected: str, found: str | None, why: str) -> None:
        if found != expected and self._read[name] is not None:
            self.report.damaged(self.carrier, self.folder / name, why, expected, found)

    def older(self, inventory: Inventory, number: int) -> None:
        """Check an earlier version's inventory: it must be the beginning of the newest one's history."""
        name, beside = f"v{number}/{INVENTORY}", f"v{number}/{SIDECAR}"
        self.expected |= {name, beside}
        data, found, claim = self.contents(name), self._digest(name), self.claim(beside)
        past = inventory.at(number)
        right = hashlib.sha512(past.to_bytes()).hexdigest()
        if data is None:
            self._hold(beside, right, claim, "it states another SHA-512, or none")
        elif found != right and parse_inventory(data).inventory != past:
            self.report.damaged(
                self.carrier, self.folder / name, "it is not the beginning of the newest inventory", claim, found
            )
        elif found != claim and found != right and claim is not None:
            self.report.damaged(self.carrier, self.folder / name, "its SHA-512 is another", claim, found)
        elif found is not None:
            self._hold_sidecar(beside, found)

    def log_of_commits(self, inventory: Inventory) -> None:
        """Hold the log's lines about this carrier against its inventories, and those against the log."""
        for noted in self.commits.notes.get(self.carrier, ()):
            name = f"v{noted.version}/{INVENTORY}"
            if noted.version > inventory.head:
                why = "the log of commits names this version, and the inventory does not"
                self.report.missing(self.carrier, self.folder / f"v{noted.version}", why)
            elif not self.report.blamed(self.folder / name):
                created, digest = inventory.versions[noted.version - 1].created, self._digest(name) or ""
                if noted.line != commit_line(self.carrier, noted.version, created, digest):
                    why = f"line {noted.number} is not what version {noted.version} of {self.carrier} says of itself"
                    self.report.damaged(None, self.log, why)
        if self.commits.newest(self.carrier) < inventory.head:
            self.report.damaged(None, self.log, f"version {inventory.head} of {self.carrier} is not noted in it")

    def content(self, inventory: Inventory) -> dict[str, Digested]:
        """Digest every file of the manifest.

        Returns:
            What was found of the files that are whole, by content path.
        """
        place = inventory.by_digest()
        named = {place[digest] for path, digest in inventory.state.items() if needs_sha256(path)}
        records = {place[digest] for path, digest in inventory.state.items() if not needs_sha256(path)}
        paths = sorted(inventory.manifest)
        self.expected.update(paths)
        wanted = [
            FileToDigest(
                self.folder / path, ("sha512", "sha256") if path in named else ("sha512",), keep=path in records
            )
            for path in paths
        ]
        whole = {}
        for path, found in zip(paths, self.report.digest_all(self.carrier, wanted), strict=True):
            expected = inventory.manifest[path]
            if found is None:
                continue
            if found.digests["sha512"] == expected:
                whole[path] = found
            else:
                why = "its SHA-512 is another" if found.size else "it is empty, as after a transfer that was cut off"
                self.report.damaged(self.carrier, self.folder / path, why, expected, found.digests["sha512"])
        return whole

    def strays(self, head: int) -> None:
        """Report what nothing accounts for; a folder of strays is reported as one."""
        folders = {f"v{number}" for number in range(1, head + 1)}
        folders |= {name for path in self.expected for name in _folders(path)}
        pending = [""]
        while pending:
            here = pending.pop()
            for name, kind in self.report.list_folder(self.carrier, self.folder / here).items():
                place = here + name
                if place in folders and kind == "folder":
                    pending.append(f"{place}/")
                elif place not in self.expected:
                    self.report.unexpected(self.carrier, self.folder / place, "nothing accounts for it")


def _folders(path: str) -> list[str]:
    parts = path.split("/")
    return ["/".join(parts[:n]) for n in range(1, len(parts))]
