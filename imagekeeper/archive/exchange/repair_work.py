"""One round of a repair after the other: what lies beside the carriers, the carriers, the log, and what lies about."""

from __future__ import annotations

from pathlib import Path

from imagekeeper.archive.audits.audit_report import Audit, Discrepancy
from imagekeeper.archive.exchange.assembling import clear, common, kept_aside
from imagekeeper.archive.exchange.finds import Finds
from imagekeeper.archive.exchange.proofs import Witness
from imagekeeper.archive.exchange.repair_beside import right_log, right_marker, right_readme
from imagekeeper.archive.exchange.repair_carrier import CarrierRepair, second_history
from imagekeeper.archive.exchange.repair_report import Refused, SecondHistory, SetAside
from imagekeeper.archive.exchange.repair_tools import RepairTools, place_of, places_of
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.erasures import told
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import bytes_if_any
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.recovery import set_aside


class RepairWork(RepairTools):
    """The work of a repair; the lock is held by the caller."""

    def __init__(
        self, archive: ArchiveStore, replica: ArchiveStore | None, ours: Witness, *, quarantine_unexpected: bool
    ) -> None:
        super().__init__(archive, replica, ours)
        self.quarantine_unexpected = quarantine_unexpected
        self.second: dict[tuple[str, str], SecondHistory] = {}

    @property
    def done(self) -> int:
        """How much was done so far."""
        return len(self.restored) + len(self.set_aside)

    def run(self, found: Audit) -> None:
        """Do one round.

        Args:
            found: What the audit before it found.

        Raises:
            OSError: The system refused.
        """
        wrong = {entry.path for entry in found.damaged + found.missing}
        strays = places_of(self.archive, [entry.path for entry in found.unexpected + found.damaged])
        hurt = sorted({entry.carrier for entry in found.damaged + found.missing if entry.carrier})
        # of a carrier without an inventory nothing is known to be a stray
        self.finds = Finds(strays, [self.archive.object_path(carrier) for carrier in hurt], [self.archive.quarantine])
        self.refused.clear()
        self.beside(wrong)
        for carrier in hurt:
            CarrierRepair(self, carrier, ledger.read_commits(self.archive)).run()
        log = self.archive.name_of(self.archive.log / ledger.COMMITS)
        if log in wrong or not self.ours.complete:
            self.other_histories()
        needed = log in wrong or self.notes_more({entry.carrier for entry in found.missing if entry.carrier})
        if needed or not self.ours.complete:
            self.log_of_commits(needed=needed)
        self.lying_about()
        if self.quarantine_unexpected:
            for entry in found.unexpected:
                self.unexpected(entry)

    def refusals(self, left: Audit) -> tuple[Refused, ...]:
        """Give what was refused, as far as it still matters."""
        hurt = {entry.carrier for entry in left.damaged + left.missing}
        refused = {name: one for name, one in self.refused.items() if one.here or name in hurt}
        return tuple({**self.unproved, **refused}.values())

    def second_histories(self) -> tuple[SecondHistory, ...]:
        """Give the second histories that were found."""
        return tuple(self.second[key] for key in sorted(self.second))

    def beside(self, wrong: set[str]) -> None:
        """Restore the storage root's own files, the mark and the README."""
        for name, data in self.archive.layout.root_files().items():
            path = self.archive.root / name
            if self.archive.name_of(path) in wrong and bytes_if_any(path) != data:
                self.file(None, path, data, "archive")
        mark, text = self.archive.path / founding.MARKER, self.archive.path / founding.README
        if {founding.MARKER, founding.README} & wrong:
            right = right_marker(self.archive.path, self.replica)
            if right is not None and bytes_if_any(mark) != right:
                self.file(None, mark, right, "archive")
                self.archive.marker = founding.recognise(self.archive.path)
            readme = right_readme(self.archive, self.replica)
            if readme is not None and bytes_if_any(text) != readme:
                self.file(None, text, readme, "archive")

    def other_histories(self) -> None:
        """Look at every carrier whether its history is the noted one."""
        commits = ledger.read_commits(self.archive)
        for carrier in self.archive.ids():
            second = CarrierRepair(self, carrier, commits).other_history()
            if second is not None:
                self.second[carrier, second.found] = second

    def notes_more(self, carriers: set[str]) -> bool:
        """Whether the log notes versions that still are not here: it may be the line that is wrong."""
        newest = ledger.read_commits(self.archive).newest
        heads = {name: self.inventory(self.archive, name) for name in carriers}
        return any(newest(name) > (0 if one is None else one.head) for name, one in heads.items())

    def log_of_commits(self, *, needed: bool) -> None:
        """Write the log of commits anew where lines are damaged or missing; what contradicts the carriers stays.

        Args:
            needed: Whether something is wrong with it; else it is written only where another log adds lines.
        """
        data = right_log(self.archive, self.replica, complete=self.ours.complete)
        path = self.archive.log / ledger.COMMITS
        held = bytes_if_any(path)
        adds = {*data.splitlines()} - {*(held or b"").splitlines()}
        if adds or (needed and held != data):
            self.file(None, path, data, "archive")

    # --- what lies about ---

    def lying_about(self) -> None:
        """Look among what nothing accounts for whether there are second histories of carriers."""
        commits = ledger.read_commits(self.archive)
        candidates = sorted(self.finds.inventories(), key=lambda one: (-one[2].head, one[0]))
        seen: list[Inventory] = []
        for path, data, other in candidates:
            if told(self.archive, commits, other.id) is not None:
                continue   # it was erased, and no history of it is wanted
            here = self.inventory(self.archive, other.id)
            if any(one is not None and one.at(other.head) == other for one in (here, *seen)):
                continue   # it is an earlier state of one that is kept
            seen.append(other)
            self.keep_second(path, data, other, here)

    def keep_second(self, path: Path, data: bytes, other: Inventory, here: Inventory | None) -> None:
        """Keep a second history where it can be merged from, or tell of it."""
        name = self.archive.name_of(path)
        start = 0 if here is None else common(here, other)
        kept, why = None, "nothing was to be moved"
        if self.quarantine_unexpected:
            find = self.lies(*(one for one in (here, other) if one is not None))
            kept = kept_aside(self.archive, other, data, find, start)
            clear(self.archive)
            why = "not all of its files are there and whole"
        self.second[other.id, name] = second_history(self.archive, other, start + 1, name, kept, why)

    def unexpected(self, entry: Discrepancy) -> None:
        """Move what nothing accounts for to quarantine."""
        path = place_of(self.archive.path, entry.path)
        if path is not None:
            name = path.relative_to(self.archive.root).as_posix().replace("/", "-")
            aside = set_aside(self.archive, path, name)
            self.archive.disk.sync(path.parent)
            self.set_aside.append(SetAside(entry.path, self.archive.name_of(aside)))
