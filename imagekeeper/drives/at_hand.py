"""A bench looked through for one disk: each drive with the controller and the cable that serve it best."""

from __future__ import annotations

from dataclasses import dataclass, replace

from imagekeeper.drives import cabling, controlling
from imagekeeper.drives.bench import Bench, Interchange, OwnDrive
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.interchange import Shown, shown
from imagekeeper.drives.results import Answer, Caution, Verdict, Wanted
from imagekeeper.drives.verdict import verdict
from imagekeeper.tables.controllers import CableRow, ControllerRow, cable_rows
from imagekeeper.tables.drives import DriveRow, Mode, drive_rows

#: From best to worst.
ORDER = ("yes", "with-care", "no")


@dataclass(frozen=True)
class Named:
    """A controller of the bench.

    Attributes:
        name: What its owner calls it.
        row: Its class, with what is known of it.
    """

    name: str
    row: ControllerRow


@dataclass(frozen=True)
class Joined:
    """The cable between a drive and a controller.

    Attributes:
        name: What its owner calls it; None where nothing is known of cables, or none fits.
        row: Its class, or the one that would serve; None where no cable is known for the drive.
        wanted: What must be got, or None.
    """

    name: str | None
    row: CableRow | None
    wanted: Wanted | None


@dataclass(frozen=True, kw_only=True)
class Hung:
    """A drive with the controller that serves it best.

    Attributes:
        row: The class of the drive.
        verdict: What the two can do; where no controller at hand can, what the drive can with another.
        controller: The controller, or None.
        refused: Why none of those at hand can, in words, or None where one can or none is known.
        lacking: The rules behind that.
    """

    row: DriveRow
    verdict: Verdict
    controller: Named | None
    refused: str | None
    lacking: tuple[Caution, ...] = ()

    @property
    def mode(self) -> Mode | None:
        """What the drive is set to."""
        if self.verdict.settings is None:
            return None
        return next(mode for mode in self.row.modes if mode.id == self.verdict.settings.mode)


class AtHand:
    """A bench, looked through once for a disk: things of one kind are tried once, however many there are.

    Args:
        disk: The disk.
        bench: What is at hand. Of what it has none, controllers or cables, nothing is known: the right one is assumed.
        today: The day, from which the age of trials is told, or None.

    Example:
        >>> from imagekeeper.drives.bench import OwnController
        >>> from imagekeeper.floppy.formats import find
        >>> bench = Bench(controllers=(OwnController(name="old card", controller="pc-adapter"),))
        >>> AtHand(DiskForDrive.of(find("360K")), bench).hung(drive_rows()["5.25-96tpi-hd-360"]).refused
        'old card: it has 250 kbit/s in MFM, and 300 are needed'
    """

    def __init__(self, disk: DiskForDrive, bench: Bench, today: str | None = None) -> None:
        self.disk, self.bench, self._today = disk, bench, today
        cards = {(one.controller, one.rates, one.fm, one.connector): one for one in reversed(bench.controllers)}
        self._cards = tuple(Named(one.name, controlling.as_owned(one)) for one in reversed(cards.values()))
        cables = {(one.cable, one.plugs): one for one in reversed(bench.cables)}
        self._cables = tuple((one.name, cabling.as_owned(one)) for one in reversed(cables.values()))
        self._counts = {one.medium: one.count for one in reversed(bench.media)}
        self._trials: dict[str, list[Interchange]] = {}
        for one in bench.interchanges:
            self._trials.setdefault(one.drive, []).append(one)
        self._hung: dict[tuple[str, tuple[str, ...] | None], Hung] = {}
        self._joined: dict[tuple[str, tuple[str, ...] | None], Joined] = {}

    def disks(self, medium: str) -> int | None:
        """Count the disks of a class; None where nobody counted, 0 for none."""
        return self._counts.get(medium, 0)

    def own(self, own: OwnDrive) -> tuple[Hung, tuple[Shown, ...]]:
        """Judge a drive of the bench, and let trials with the machine's drive speak."""
        found = self.hung(drive_rows()[own.drive], own.speeds)
        trials = shown(self.disk, self._trials.get(own.name, ()), self._today)
        return replace(found, verdict=_after(found.verdict, trials)) if trials else found, trials

    def hung(self, row: DriveRow, speeds: tuple[int, ...] = ()) -> Hung:
        """Judge a drive with every controller of the bench, and take the best: then one for which a cable is there."""
        modes = tuple(mode.id for mode in row.modes if mode.optional and mode.rotation in speeds) if speeds else None
        if (row.id, modes) not in self._hung:
            self._hung[row.id, modes] = self._tried(row, modes)
        return self._hung[row.id, modes]

    def _tried(self, row: DriveRow, modes: tuple[str, ...] | None) -> Hung:
        alone = verdict(self.disk, row, optional_modes=modes)
        if not self._cards or alone.settings is None:
            return Hung(row=row, verdict=alone, controller=None, refused=None)
        tried = [(verdict(self.disk, row, optional_modes=modes, controller=card.row), card) for card in self._cards]
        best, card = min(tried, key=lambda one: (
            ORDER.index(one[0].can_write), ORDER.index(one[0].can_read),
            self.joined(row, one[1].row).wanted is not None,
        ))  # fmt: skip
        if best.settings is not None:
            return Hung(row=row, verdict=best, controller=card, refused=None)
        why = best.because[0].partition(": ")[2]
        return Hung(row=row, verdict=alone, controller=None, refused=f"{card.name}: {why}", lacking=best.cautions)

    def joined(self, drive: DriveRow, controller: ControllerRow | None) -> Joined:
        """Choose a cable of the bench for a drive and a controller."""
        key = (drive.id, None if controller is None else controller.connectors)
        if key not in self._joined:
            self._joined[key] = self._chosen(drive, controller)
        return self._joined[key]

    def _chosen(self, drive: DriveRow, controller: ControllerRow | None) -> Joined:
        classes = cabling.fitting(drive, controller)
        if not classes:
            return Joined(None, None, None)
        usual = cable_rows()[classes[0]]
        if not self._cables and not drive.odd_supply:   # nothing is known of them
            return Joined(None, usual, None)
        wrong = {name: cabling.misfit(drive, controller, row) for name, row in self._cables}
        fit = [(name, row) for name, row in self._cables if wrong[name] is None]
        if not fit:
            why = next((f"{name}: {says}" for name, says in wrong.items()), None)
            return Joined(None, usual, Wanted("cable", classes, usual.title, why))
        name, row = min(fit, key=lambda one: one[1].id not in classes)   # one that serves, but is not the plainest
        return Joined(name, row, None)


def _after(found: Verdict, trials: tuple[Shown, ...]) -> Verdict:
    """Let trials speak: where cylinders failed, the drive needs care at least, whatever its class can."""
    if not trials or found.settings is None:
        return found
    failed = {one.wrote for one in trials if not one.holds and one.weight < 0}
    return replace(
        found, because=(*(one.says for one in trials), *found.because),
        can_write=_careful(found.can_write, "here" in failed), can_read=_careful(found.can_read, "there" in failed),
    )  # fmt: skip


def _careful(answer: Answer, failed: bool) -> Answer:
    return "with-care" if failed and answer == "yes" else answer
