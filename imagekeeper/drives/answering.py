"""What a bench can do for a disk, in sentences, and what to ask a friend for: both from the same solutions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.drives import cabling
from imagekeeper.drives.at_hand import ORDER, AtHand, Hung
from imagekeeper.drives.bench import Bench
from imagekeeper.drives.controlling import wanted
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.results import BenchAnswer, OwnVerdict, Settings, Solution, Verdict, Wanted
from imagekeeper.drives.solutions import ways
from imagekeeper.tables.drives import drive_rows

#: So many classes of controllers that do are named. [class]
_NAMED = 3


def answer(disk: DiskForDrive, bench: Bench, today: str | None = None) -> BenchAnswer:
    """Tell what a bench can do for a disk, and what is wanting.

    Args:
        disk: The disk.
        bench: What is at hand.
        today: The day, from which the age of trials is told, or None.

    Example:
        >>> from imagekeeper.drives.bench import OwnDrive, OwnMedium
        >>> from imagekeeper.floppy.formats import find
        >>> own = Bench(drives=(OwnDrive("B", "5.25-96tpi-hd-360"),), media=(OwnMedium("5.25-dd", 10),))
        >>> found = answer(DiskForDrive.of(find("720K 5.25")), own)
        >>> [(one.name, one.disks) for one in found.drives], found.solutions[0].answer.missing
        ([('B', 10)], ())
    """
    held = AtHand(disk, bench, today)
    judged = []
    for own in bench.drives:
        found, _ = held.own(own)
        one = _refused(found)
        disks = 0 if one.settings is None else held.disks(one.settings.media)
        judged.append(OwnVerdict(own.name, one, disks, None if found.controller is None else found.controller.name))
    judged.sort(key=lambda one: (ORDER.index(one.verdict.can_write), ORDER.index(one.verdict.can_read)))
    ranked = ways(held)
    return BenchAnswer(" ".join(_sentences(disk, [one.answer for one in ranked], judged)), tuple(judged), ranked)


def request(disk: DiskForDrive, found: BenchAnswer) -> str | None:
    """Write what to ask a friend for: what is missing for the best way, and what would make it safer.

    Returns:
        A short text, or None where nothing is wanting.

    Example:
        >>> from imagekeeper.drives.bench import OwnDrive
        >>> from imagekeeper.floppy.formats import find
        >>> disk = DiskForDrive.of(find("1.44M"))
        >>> found = answer(disk, Bench(drives=(OwnDrive("A", "3.5-hd"),)))
        >>> print(request(disk, found).splitlines()[1][:16])
        - a disk: 3.5-in
    """
    found_ways = [one.answer for one in found.solutions]
    if not found_ways:
        return f"To write {disk.says}, I need the drive and the controller of its own machine: no others are known."
    best, safer = found_ways[0], _safer(found_ways)
    lines = [line for one in best.missing for line in _asked(one, best)]
    if lines:
        lines.insert(0, f"To write {disk.says}, I need:")
    if safer is not None:
        have = f"I can write {disk.says} in my drive {best.drive}, with care."
        lines += [] if lines else [have]
        lines.append("Safer would be:")
        lines += [line for one in safer.missing if one not in best.missing for line in _asked(one, safer)]
    return "\n".join(lines) if lines else None


def assumed(disk: DiskForDrive, best: Verdict | None, bench: Bench) -> str | None:
    """Say what is taken for granted of controller and cable, where nothing is known of them.

    Example:
        >>> from imagekeeper.drives.verdict import verdict
        >>> from imagekeeper.floppy.formats import find
        >>> disk = DiskForDrive.of(find("360K"))
        >>> assumed(disk, verdict(disk, drive_rows()["5.25-96tpi-hd-360"]), Bench())
        'a controller that has 300 kbit/s in MFM, and a cable of 34 lines'
    """
    if best is None or best.settings is None:
        return None
    row = drive_rows()[best.drive]
    mode = next(mode for mode in row.modes if mode.id == best.settings.mode)
    parts = [] if bench.controllers else [f"a controller that has {wanted(disk, mode)}"]
    if not bench.cables and cabling.fitting(row, None):
        parts.append(f"a cable of {row.interface} lines" + (" that carries no supply" if row.odd_supply else ""))
    return ", and ".join(parts) or None


def _refused(found: Hung) -> Verdict:
    """Give the verdict on a drive as it stands on the bench: without a controller that can, it does nothing."""
    if found.refused is None:
        return found.verdict
    return replace(
        found.verdict, can_read="no", can_write="no", settings=None, alternatives=(), cautions=found.lacking,
        because=(f"no controller at hand can: {found.refused}", *found.verdict.because),
    )  # fmt: skip


def _sentences(disk: DiskForDrive, found: list[Solution], judged: list[OwnVerdict]) -> Iterator[str]:
    best = found[0] if found else None
    lacking = [] if best is None else [one for one in best.missing if one.kind != "disk"]
    if best is None or lacking:
        whole = [one for one in found if one.drive and {each.kind for each in one.missing} <= {"disk"}]
        doubted = next((one for one in whole if one.shown), None)
        if doubted is None:
            yield f"Nothing on your bench can write {disk.title}."
        else:
            yield f"Your drive {doubted.drive} may not write {disk.title}: {'; '.join(doubted.shown)}."
        readers = [one.name for one in judged if one.verdict.can_read != "no"]
        if readers:
            yield f"Your drive {readers[0]} can read it."
        for one in found[:2]:
            if any(each.kind != "disk" for each in one.missing):
                yield _ask(one)
        return
    care = ", with care" if best.can_write == "with-care" else ""
    yield f"Your drive {best.drive} can write it{care}: {_how(best.settings)}."
    joined = [f"controller {best.controller}"] if best.controller else []
    joined += [f"cable {best.cable}"] if best.cable else []
    if joined:
        yield f"Hang it on your {' with your '.join(joined)}."
    for says in best.shown:
        yield f"{says[0].upper()}{says[1:]}."
    if best.disks == 0:
        yield "No disk of that class is on your shelf."
    safer = _safer(found)
    if safer is not None:
        wanted_drives = next(one.classes for one in safer.missing if one.kind == "drive")
        yield f"Safer: a drive of class {' or '.join(wanted_drives)}."


def _safer(found: list[Solution]) -> Solution | None:
    """The way that needs no care, where the best one does and no fresh trial speaks for it."""
    best = found[0]
    if best.drive is None or best.can_write == "yes" or best.proved:
        return None
    return next((one for one in found if one.can_write == "yes" and one.drive is None), None)


def _ask(way: Solution) -> str:
    asked = [one for one in way.missing if one.kind != "disk"]
    words = " and ".join(f"{_a(one)}{_classes(one, way)}" for one in asked)
    with_ = [f"drive {way.drive}"] if way.drive else []
    with_ += [f"controller {way.controller}"] if way.controller else []
    why = next((f" Not with your cable {one.because}." for one in asked if one.kind == "cable" and one.because), "")
    seen = f" Of that drive is known: {'; '.join(way.shown)}." if way.shown else ""
    return f"Ask for {words}{', for your ' + ' and '.join(with_) if with_ else ''}.{why}{seen}"


def _a(one: Wanted) -> str:
    if one.kind == "controller":
        return f"a controller, {one.says}"
    return f"a {one.kind} of class "


def _classes(one: Wanted, way: Solution) -> str:
    if one.kind == "controller":
        return f" ({', '.join(one.classes[:_NAMED])})" if one.classes else ""
    return " or ".join(f"{name}{_only(way) if one.kind == 'drive' else ''}" for name in one.classes)


def _only(way: Solution) -> str:
    """What a drive to get must have, where only some of its class have it."""
    mode = next(mode for mode in drive_rows()[way.drive_class].modes if mode.id == way.settings.mode)
    return f" (one that turns at {mode.rotation} rev/min)" if mode.optional else ""


def _asked(one: Wanted, way: Solution) -> Iterator[str]:
    if one.kind == "drive":
        titles = [f"{drive_rows()[name].title}; class {name}{_only(way)}" for name in one.classes]
        yield f"- a drive: {titles[0]}"
        yield from (f"  or {title}" for title in titles[1:])
    elif one.kind == "disk":
        yield f"- a disk: {one.says}"
    else:
        some = f"; class {' or '.join(one.classes[:_NAMED])}" if one.classes else ""
        yield f"- a {one.kind}: {one.says}{some}"


def _how(settings: Settings) -> str:
    return (
        f"{settings.data_rate / 1000:g} kbit/s at {settings.rotation:g} rev/min, {settings.step} step, "
        f"on a {settings.media} disk"
    )
