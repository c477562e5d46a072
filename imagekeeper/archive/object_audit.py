"""The audit of one carrier's folder."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.inventory import INVENTORY, SIDECAR, Inventory, sidecar_digest
from imagekeeper.archive.inventory_check import parse_inventory
from imagekeeper.archive.layout import OBJECT_MARK, OBJECT_TEXT
from imagekeeper.archive.record_audit import check_records, needs_sha256

if TYPE_CHECKING:
    from imagekeeper.archive.audit_report import Report
    from imagekeeper.archive.store import Archive

_VERSION = re.compile(r"v([1-9][0-9]{0,8})")


class ObjectAudit:
    """The check of one carrier.

    An inventory lies in two places, each with its digest beside it: four witnesses, of which the ones that agree tell
    which one is damaged.
    """

    def __init__(self, archive: Archive, report: Report, carrier: str, committed: int) -> None:
        self.report = report
        self.carrier = carrier
        self.committed = committed
        self.folder = archive.object_path(carrier)
        self.expected: set[str] = {OBJECT_MARK, INVENTORY, SIDECAR}
        self._read: dict[str, bytes | None] = {}

    def check(self, listing: dict[str, str]) -> None:
        """Check everything in the carrier's folder.

        Args:
            listing: What lies directly in it.
        """
        mark = self.contents(OBJECT_MARK)
        if mark is not None and mark != OBJECT_TEXT:
            self.report.damaged(self.carrier, self.folder / OBJECT_MARK, "it is not the mark of an OCFL 1.1 object")
        tops = [int(match[1]) for name in listing if (match := _VERSION.fullmatch(name))]
        trusted = self.trusted(max(tops, default=0))
        if trusted is None:
            return
        inventory = self.inventory(trusted)
        if inventory is None:
            return
        for number in range(1, inventory.head):
            self.older(inventory, number)
        for number in range(inventory.head + 1, self.committed + 1):
            why = "the log of commits names this version, and the inventory does not"
            self.report.missing(self.carrier, self.folder / f"v{number}", why)
        sha256 = self.content(inventory)
        self.strays("")
        check_records(self.report, self.carrier, self.folder, inventory, sha256)

    def contents(self, name: str) -> bytes | None:
        """Read a small file once; what is wrong with reading it is reported."""
        if name not in self._read:
            self._read[name] = self.report.read(self.carrier, self.folder / name)
        return self._read[name]

    def _digest(self, name: str) -> str | None:
        data = self.contents(name)
        return None if data is None else hashlib.sha512(data).hexdigest()

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
            self._hold(above + SIDECAR, right, self.claim(above + SIDECAR), "it states another SHA-512, or none")
        return parsed.inventory

    def _hold(self, name: str, expected: str, found: str | None, why: str) -> None:
        if found != expected and self._read[name] is not None:
            self.report.damaged(self.carrier, self.folder / name, why, expected, found)

    def older(self, inventory: Inventory, number: int) -> None:
        """Check an earlier version's inventory: it must be the beginning of the newest one's history."""
        name, beside = f"v{number}/{INVENTORY}", f"v{number}/{SIDECAR}"
        self.expected |= {name, beside}
        data, found, claim = self.contents(name), self._digest(name), self.claim(beside)
        begun = [f"v{n}/" for n in range(1, number + 1)]
        manifest = {p: d for p, d in inventory.manifest.items() if p.partition("/")[0] + "/" in begun}
        past = Inventory(inventory.id, manifest, inventory.versions[:number])
        right = hashlib.sha512(past.to_bytes()).hexdigest()
        if data is None:
            self._hold(beside, right, claim, "it states another SHA-512, or none")
        elif parse_inventory(data).inventory != past:
            self.report.damaged(
                self.carrier, self.folder / name, "it is not the beginning of the newest inventory", claim, found
            )
        elif found != claim and found != right and claim is not None:
            self.report.damaged(self.carrier, self.folder / name, "its SHA-512 is another", claim, found)
        elif found is not None:
            self._hold(beside, found, claim, "it states another SHA-512, or none")

    def content(self, inventory: Inventory) -> dict[str, str]:
        """Digest every file of the manifest.

        Returns:
            The SHA-256 of those that records name by it, by content path.
        """
        named = {inventory.content_path(p) for p in inventory.state if needs_sha256(p)}
        sha256 = {}
        for path, expected in sorted(inventory.manifest.items()):
            self.expected.add(path)
            place = self.folder / path
            found = self.report.digests(self.carrier, place, ["sha512", "sha256"] if path in named else ["sha512"])
            if found is None:
                continue
            if found["sha512"] != expected:
                self.report.damaged(self.carrier, place, "its SHA-512 is another", expected, found["sha512"])
            elif "sha256" in found:
                sha256[path] = found["sha256"]
        return sha256

    def strays(self, above: str) -> None:
        """Report what nothing accounts for; a folder of strays is reported as one."""
        folders = {name for path in self.expected for name in _folders(path)}
        pending = [above]
        while pending:
            here = pending.pop()
            for name, kind in self.report.list_folder(self.carrier, self.folder / here).items():
                place = here + name
                if place in folders and kind == "folder":
                    pending.append(f"{place}/")
                elif place not in self.expected:
                    self.report.unexpected(self.carrier, self.folder / place, "nothing accounts for it")


def _folders(path: str) -> list[str]:
    return [str(parent.as_posix()) for parent in Path(path).parents if parent != Path()]
