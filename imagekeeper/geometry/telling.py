"""How the disks that have the same size are told apart: look at the disk, ask for the machine, read one track."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.geometry.results import GeometryCandidate, GeometryRival, together
from imagekeeper.tables.floppy import format_rows

#: Answers that have less than this part of the best one's score are not told apart from it.
_MATTERS = 0.02

#: Written by controllers that hardly any two machines shared, so that whose disk it is tells most.
_OWN_CONTROLLER = ("gcr", "m2fm", "mmfm")


def tells(candidates: tuple[GeometryCandidate, ...], rivals: tuple[GeometryRival, ...]) -> tuple[str, ...]:
    """Give the steps, the one that needs the least first; none where one answer alone is left.

    Args:
        candidates: What common controllers write, best first.
        rivals: Disks of other recordings, best first.

    Example:
        >>> from imagekeeper.geometry import Known, solve
        >>> solve(known=Known(size_bytes=179_200)).tells
        ()
        >>> print(solve(known=Known(size_bytes=89_600)).tells[0][:47])
        Turn the disk in its jacket and count the holes
    """
    answers = together(candidates, rivals)
    least = _MATTERS * answers[0].score if answers else 0.0
    plain = [one for one in candidates if one.exact and one.score >= least]
    odd = [one for one in rivals if one.score >= least]
    return tuple(_steps(plain, odd)) if len(plain) + len(odd) > 1 else ()


def _steps(plain: list[GeometryCandidate], odd: list[GeometryRival]) -> Iterator[str]:
    rows = format_rows()
    inches = {rows[name].disk_inch for one in plain for name in one.formats} | {one.disk_inch for one in odd}
    if len(inches) > 1:
        yield f"Measure the disk: {_either(f'{inch:g}' for inch in sorted(inches))} inch."
    holes = {one.holes for one in odd} | ({0} if plain else set())
    if len(holes) > 1:
        some = [f"{count} sector holes ({_either(one.geometry for one in odd if one.holes == count)})"
                for count in sorted(holes) if count]  # fmt: skip
        yield (
            "Turn the disk in its jacket and count the holes that pass the hole of the jacket: the index hole alone is "
            f"a soft-sectored disk, {_either(some)} beside it a hard-sectored one."
        )
    named = [f"{one.machines}: {one.geometry} in {_how(one)}" for one in odd if one.machines]
    if named:
        yield f"Look at the label, or ask whose disk it is: {'; '.join(named)}."
    single = {one.encoding for one in plain}
    shapes = {one.geometry for one in plain}
    if len(single) > 1:
        yield "See whether a track reads in FM or in MFM."
    if len(shapes) > 1 or (plain and any(one.encoding in _OWN_CONTROLLER for one in odd)):
        also = "; a disk on which a common controller finds none is of another recording" if odd else ""
        sides = ", and the side that the IDs of side 1 state" if any(one.heads == 2 for one in plain) else ""
        yield (
            "Read tracks 0 and 1 of each side: how many sectors there are, of what size, and the number of the "
            f"first{sides}{also}."
        )


def _how(one: GeometryRival) -> str:
    names = {"gcr": "group code", "fm": "FM", "mfm": "MFM", "m2fm": "M2FM", "mmfm": "FM and modified MFM"}
    return names[one.encoding] + (f" with {one.holes} sector holes" if one.holes else "")


def _either(parts: Iterator[str] | list[str]) -> str:
    found = list(dict.fromkeys(parts))
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} or {found[-1]}"
