"""Drive, controller, cable and disk as one: every way to write a disk with what is at hand, and what is missing for it.

One computation serves the verdict on the bench, the request to a friend and the sheet for writing.
"""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.drives import cabling, controlling
from imagekeeper.drives.at_hand import ORDER, AtHand, Hung
from imagekeeper.drives.bench import Bench
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.interchange import Shown, proved
from imagekeeper.drives.results import Answer, Solution, Verdict, Wanted, caution
from imagekeeper.drives.verdict import unique, verdict
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables.drives import drive_rows, medium_rows

#: How much a way is worth that needs no care, or some. Our judgement.
_WORTH: dict[Answer, float] = {"yes": 0.9, "with-care": 0.75, "no": 0.0}

#: What is left of that where something must be got first: a controller must fit its computer too. Our judgement.
_LEFT = {"drive": 0.6, "controller": 0.5, "cable": 0.85, "disk": 0.9}

#: So many classes of drives to get are named. [class]
_NAMED = 3


def solutions(disk: DiskForDrive, bench: Bench, today: str | None = None) -> tuple[Candidate[Solution], ...]:
    """Find every way to write a disk, the best first: with each drive of the bench, and with one that is got for it.

    Args:
        disk: The disk.
        bench: What is at hand. Of what it has none, controllers or cables, nothing is known: the right one is assumed.
        today: The day, from which the age of trials is told, or None.

    Example:
        >>> from imagekeeper.drives.bench import OwnController, OwnDrive
        >>> from imagekeeper.floppy.formats import find
        >>> own = Bench(drives=(OwnDrive("B", "5.25-96tpi-hd-360"),),
        ...             controllers=(OwnController(name="old card", controller="pc-adapter"),))
        >>> for one in solutions(DiskForDrive.of(find("360K")), own):
        ...     print(one.answer.drive, one.answer.controller, [each.kind for each in one.answer.missing])
        None old card ['drive', 'disk']
        B None ['controller', 'disk']
    """
    return ways(AtHand(disk, bench, today))


def ways(held: AtHand) -> tuple[Candidate[Solution], ...]:
    """Find every way to write a disk with what is at hand; see `solutions`."""
    found = [
        _solution(held, one, own.name, trials)
        for own in held.bench.drives
        for one, trials in (held.own(own),)
        if one.verdict.can_write != "no"
    ]
    return rank([*found, *_to_get(held)])


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


def _to_get(held: AtHand) -> Iterator[Candidate[Solution]]:
    """The drive that is best to ask for, with what is at hand."""
    found = [held.hung(drive_rows()[one.drive]) for one in natives(held.disk)]
    found.sort(key=lambda one: (one.refused is not None, ORDER.index(one.verdict.can_write)))
    if found:
        best = found[0]
        same = [one.row.id for one in found if (one.refused is None) == (best.refused is None)]
        yield _solution(held, best, None, (), tuple(same[:_NAMED]))


def _solution(
    held: AtHand, found: Hung, name: str | None, trials: tuple[Shown, ...], classes: tuple[str, ...] = ()
) -> Candidate[Solution]:
    disk, settings, mode = held.disk, found.verdict.settings, found.mode
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
    cable = held.joined(found.row, row)
    missing += [] if cable.wanted is None else [cable.wanted]
    disks = held.disks(settings.media)
    if disks == 0:
        medium = medium_rows()[settings.media]
        missing.append(Wanted("disk", (medium.id,), f"{medium.title} ({medium.id}). {medium.buy}"))
    cautions = tuple(map(caution, cabling.rules(found.row, cable.row)))
    cited = [one.id for part in (row, cable.row) if part is not None for one in part.sources]
    cited += [one for each in cautions for one in each.sources]
    solution = Solution(
        drive=name, drive_class=found.row.id, controller=None if found.controller is None else found.controller.name,
        controller_class=None if row is None else row.id, cable=cable.name,
        cable_class=None if cable.row is None else cable.row.id, disks=disks, can_write=found.verdict.can_write,
        settings=settings, missing=tuple(missing), shown=tuple(one.says for one in trials), proved=proved(trials),
        cautions=cautions, harm=None if cable.row is None else cable.row.harm, sources=unique(cited),
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
