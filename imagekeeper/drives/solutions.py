"""Drive, controller, cable and disk as one: every way to write a disk with what is at hand, and what is missing for it.

One computation serves the verdict on the bench, the request to a friend and the sheet for writing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from imagekeeper.drives import cabling, controlling
from imagekeeper.drives.bench import Bench, OwnDrive
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.interchange import Shown, proved, shown
from imagekeeper.drives.results import Answer, Caution, Solution, Verdict, Wanted, caution
from imagekeeper.drives.verdict import unique, verdict
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables.controllers import CableRow, ControllerRow, cable_rows
from imagekeeper.tables.drives import DriveRow, Mode, drive_rows, medium_rows

#: From best to worst.
ORDER = ("yes", "with-care", "no")

#: How much a way is worth that needs no care, or some. Our judgement.
_WORTH: dict[Answer, float] = {"yes": 0.9, "with-care": 0.75, "no": 0.0}

#: What is left of that where something must be got first: a controller must fit its computer too. Our judgement.
_LEFT = {"drive": 0.6, "controller": 0.5, "cable": 0.85, "disk": 0.9}

#: So many classes of drives to get are named. [class]
_NAMED = 3


@dataclass(frozen=True)
class Named:
    """A controller of the bench.

    Attributes:
        name: What its owner calls it.
        row: Its class, with what is known of it.
    """

    name: str
    row: ControllerRow


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


def hung(disk: DiskForDrive, bench: Bench, row: DriveRow, speeds: tuple[int, ...] = ()) -> Hung:
    """Judge a drive with every controller of a bench, and take the best.

    Example:
        >>> from imagekeeper.drives.bench import OwnController
        >>> from imagekeeper.floppy.formats import find
        >>> bench = Bench(controllers=(OwnController(name="old card", controller="pc-adapter"),))
        >>> found = hung(DiskForDrive.of(find("360K")), bench, drive_rows()["5.25-96tpi-hd-360"])
        >>> found.refused
        'old card: it has 250 kbit/s in MFM, and 300 are needed'
    """
    optional = [mode.id for mode in row.modes if mode.optional and mode.rotation in speeds] if speeds else None
    alone = verdict(disk, row, optional_modes=optional)
    cards = _cards(bench)
    if not cards or alone.settings is None:
        return Hung(row=row, verdict=alone, controller=None, refused=None)
    tried = [(verdict(disk, row, optional_modes=optional, controller=card.row), card) for card in cards]
    tried.sort(key=lambda one: (ORDER.index(one[0].can_write), ORDER.index(one[0].can_read)))
    best, card = tried[0]
    if best.settings is not None:
        return Hung(row=row, verdict=best, controller=card, refused=None)
    why = best.because[0].partition(": ")[2]
    return Hung(row=row, verdict=alone, controller=None, refused=f"{card.name}: {why}", lacking=best.cautions)


def of_own(disk: DiskForDrive, bench: Bench, own: OwnDrive, today: str | None = None) -> tuple[Hung, tuple[Shown, ...]]:
    """Judge a drive of a bench with its controllers, and with what trials with the machine's drive showed of it."""
    found, trials = hung(disk, bench, drive_rows()[own.drive], own.speeds), shown(disk, own.name, bench, today)
    return replace(found, verdict=_after(found.verdict, trials)), trials


def solutions(disk: DiskForDrive, bench: Bench, today: str | None = None) -> tuple[Candidate[Solution], ...]:
    """Find every way to write a disk, the best first: with each drive of the bench, and with one that is got for it.

    Args:
        disk: The disk.
        bench: What is at hand. Of what it has none, controllers or cables, nothing is known: the right one is assumed.
        today: The day, from which the age of trials is told, or None.

    Example:
        >>> from imagekeeper.drives.bench import OwnController
        >>> from imagekeeper.floppy.formats import find
        >>> own = Bench(drives=(OwnDrive("B", "5.25-96tpi-hd-360"),),
        ...             controllers=(OwnController(name="old card", controller="pc-adapter"),))
        >>> for one in solutions(DiskForDrive.of(find("360K")), own):
        ...     print(one.answer.drive, one.answer.controller, [each.kind for each in one.answer.missing])
        None old card ['drive', 'disk']
        B None ['controller', 'disk']
    """
    found = [
        _solution(disk, bench, one, own.name, trials)
        for own in bench.drives
        for one, trials in (of_own(disk, bench, own, today),)
        if one.verdict.can_write != "no"
    ]
    return rank([*found, *_to_get(disk, bench)])


def _cards(bench: Bench) -> tuple[Named, ...]:
    """The controllers of a bench, one of each kind."""
    kinds = {(own.controller, own.rates, own.fm, own.connector): own for own in reversed(bench.controllers)}
    return tuple(Named(own.name, controlling.as_owned(own)) for own in reversed(kinds.values()))


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


def natives(disk: DiskForDrive) -> tuple[Verdict, ...]:
    """Name the classes that write the disk without any care; for want of these, all that write it.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> [one.drive for one in natives(DiskForDrive.of(find("360K")))]
        ['5.25-48tpi']
    """
    found = [verdict(disk, row) for row in drive_rows().values()]
    sure = tuple(one for one in found if one.can_write == "yes")
    return sure or tuple(one for one in found if one.can_write == "with-care")


def _to_get(disk: DiskForDrive, bench: Bench) -> Iterator[Candidate[Solution]]:
    """The drive that is best to ask for, with what is at hand."""
    found = [hung(disk, bench, drive_rows()[one.drive]) for one in natives(disk)]
    found.sort(key=lambda one: (one.refused is not None, ORDER.index(one.verdict.can_write)))
    if found:
        best = found[0]
        same = [one.row.id for one in found if (one.refused is None) == (best.refused is None)]
        yield _solution(disk, bench, best, None, (), tuple(same[:_NAMED]))


def _solution(
    disk: DiskForDrive, bench: Bench, found: Hung, name: str | None, trials: tuple[Shown, ...],
    classes: tuple[str, ...] = (),
) -> Candidate[Solution]:  # fmt: skip
    settings, mode = found.verdict.settings, found.mode
    assert settings is not None
    assert mode is not None
    missing: list[Wanted] = []
    if name is None:
        missing.append(Wanted("drive", classes, drive_rows()[classes[0]].title))
    if found.refused is not None:
        missing.append(
            Wanted("controller", controlling.able(disk, mode), f"one that has {controlling.wanted(disk, mode)}",
                   found.refused)
        )  # fmt: skip
    row = None if found.controller is None else found.controller.row
    cable, cable_row, no_cable = _cable(bench, found.row, row)
    missing += [] if no_cable is None else [no_cable]
    disks = {one.medium: one.count for one in reversed(bench.media)}.get(settings.media, 0)
    if disks == 0:
        medium = medium_rows()[settings.media]
        missing.append(Wanted("disk", (medium.id,), f"{medium.title} ({medium.id}). {medium.buy}"))
    cautions = tuple(map(caution, cabling.rules(found.row, cable_row)))
    cited = [one.id for part in (row, cable_row) if part is not None for one in part.sources]
    cited += [one for each in cautions for one in each.sources]
    solution = Solution(
        drive=name, drive_class=found.row.id, controller=None if found.controller is None else found.controller.name,
        controller_class=None if row is None else row.id, cable=cable,
        cable_class=None if cable_row is None else cable_row.id, disks=disks, can_write=found.verdict.can_write,
        settings=settings, missing=tuple(missing), shown=tuple(one.says for one in trials), proved=proved(trials),
        cautions=cautions, harm=None if cable_row is None else cable_row.harm, sources=unique(cited),
    )  # fmt: skip
    evidence = tuple(_evidence(found, trials, solution))
    score = _WORTH[found.verdict.can_write]
    for one in missing:
        score *= _LEFT[one.kind]
    for trial in trials:
        score *= 1 + trial.weight * (0.1 if trial.weight > 0 else 0.5)
    return Candidate(solution, round(min(score, 1.0), 4), evidence)


def _evidence(found: Hung, trials: tuple[Shown, ...], solution: Solution) -> Iterator[Evidence]:
    for trial in trials:
        yield Evidence(trial.says, round(trial.weight, 4))
    if found.verdict.can_write == "with-care":
        foremost = found.verdict.cautions[0].text if found.verdict.cautions else found.verdict.because[0]
        yield Evidence(f"needs care: {foremost}", -0.25)
    else:
        yield Evidence(found.verdict.because[len(trials)], 0.5)
    if found.controller is not None:
        yield Evidence(f"controller {found.controller.name} can", 0.5)
    for one in solution.missing:
        why = "" if one.because is None else f": {one.because}"
        yield Evidence(f"missing: a {one.kind}{why}", round(_LEFT[one.kind] - 1, 4))


def _cable(
    bench: Bench, drive: DriveRow, controller: ControllerRow | None
) -> tuple[str | None, CableRow | None, Wanted | None]:
    """Choose a cable of the bench: its name, its class, and what must be got where none fits."""
    classes = cabling.fitting(drive, controller)
    if not classes:
        return None, None, None
    usual = cable_rows()[classes[0]]
    if not bench.cables and not drive.odd_supply:   # nothing is known of them
        return None, usual, None
    held = [(own.name, cabling.as_owned(own)) for own in bench.cables]
    wrong = {name: cabling.misfit(drive, controller, row) for name, row in held}
    fit = [(name, row) for name, row in held if wrong[name] is None]
    if not fit:
        why = next((f"{name}: {says}" for name, says in wrong.items()), None)
        return None, usual, Wanted("cable", classes, usual.title, why)
    name, row = min(fit, key=lambda one: (one[1].id not in classes, one[1].controller_lines != one[1].drive_lines))
    return name, row, None


