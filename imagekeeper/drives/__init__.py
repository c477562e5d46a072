"""Which drive can read a disk, which can write it, and what else would do.

Verdicts are computed from the rows of the tables: size, pitch, cylinders, heads, bits in a revolution, and class of
disk. Nothing here knows a pair of drive and format by name.
"""

from __future__ import annotations

from imagekeeper.drives.answering import answer, assumed, request
from imagekeeper.drives.at_hand import ORDER
from imagekeeper.drives.bench import Bench
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.results import CableLine, Caution, DriveMatch, Settings, Solution, Substitute, Verdict, caution
from imagekeeper.drives.substitutes import substitutes
from imagekeeper.drives.verdict import unique, verdict
from imagekeeper.findings import Finding
from imagekeeper.tables import resting_on, sources
from imagekeeper.tables.drives import DriveRow, drive_rows
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.tables.other_disks import OtherDisk

__all__ = [
    "CableLine",
    "Caution",
    "DiskForDrive",
    "DriveMatch",
    "Settings",
    "Solution",
    "Substitute",
    "Verdict",
    "caution",
    "match",
    "substitutes",
    "verdict",
]  # fmt: skip

#: So many other classes are named in the first sentence.
_ALSO = 3


def match(
    disk: DiskForDrive | FormatRow | OtherDisk, other_formats: tuple[str, ...] = (), bench: Bench | None = None,
    today: str | None = None,
) -> DriveMatch:  # fmt: skip
    """Judge every class of drives for a disk, best first, and find what else would do.

    Args:
        disk: A format of the catalogue, or any other disk.
        other_formats: The ids of formats that it may be as well, to be passed on.
        bench: What is at hand, to be asked first, or None.
        today: The day, from which the age of trials on the bench is told, or None.

    Example:
        >>> from imagekeeper.tables.floppy import format_rows
        >>> result = match(format_rows()["5.25-40x2x9x512"])
        >>> [(one.drive, one.can_write) for one in result.drives][:3]
        [('5.25-48tpi', 'yes'), ('5.25-96tpi-dd', 'with-care'), ('5.25-96tpi-hd-dual', 'with-care')]
        >>> result.substitutes[0].drive
        '3.5-dd'
    """
    if isinstance(disk, FormatRow):
        disk = DiskForDrive.of(disk)
    elif isinstance(disk, OtherDisk):
        disk = DiskForDrive.of_other(disk)
    rows = drive_rows()
    judged = sorted((verdict(disk, row) for row in rows.values()), key=lambda one: _place(disk, one, rows[one.drive]))
    native_verdict = next((one for one in judged if one.can_write != "no"), None)
    native = None if native_verdict is None else rows[native_verdict.drive]
    others = () if native is None else substitutes(disk, native)
    cited = unique(
        [name for one in judged for name in one.sources] + [name for other in others for name in other.sources]
    )
    found = answer(disk, bench or Bench(), today)
    if bench is not None:
        cited = unique([*cited, *(name for one in found.solutions for name in one.answer.sources)])
    best = found.drives[0].verdict if found.drives and found.drives[0].verdict.can_write != "no" else native_verdict
    return DriveMatch(
        format=disk.format, other_formats=other_formats, disk=disk.says, says=_says(disk, judged), drives=tuple(judged),
        substitutes=others, sources=tuple(sources()[name] for name in cited), request=request(disk, found),
        bench=None if bench is None else found, own=_own(disk, judged), assumes=assumed(disk, best, bench or Bench()),
    )  # fmt: skip


def _own(disk: DiskForDrive, judged: list[Verdict]) -> tuple[Finding, ...]:
    media = [disk.medium, *(one.settings.media for one in judged if one.settings is not None)]
    return resting_on(
        *([("format", disk.format)] if disk.format else []), *(("medium", one) for one in media),
        *(("drive", one.drive) for one in judged),
    )  # fmt: skip


def _place(disk: DiskForDrive, one: Verdict, row: DriveRow) -> tuple[int | bool, ...]:
    """Sort by the answers, then by how little is to be done, then by size."""
    set_ = one.settings
    return (
        ORDER.index(one.can_write), ORDER.index(one.can_read), row.disk_inch != disk.disk_inch,
        row.odd_supply or row.interface not in (34, 50),
        set_ is not None and set_.step == "double", set_ is not None and set_.mode != row.modes[0].id,
        row.heads > disk.heads,
    )  # fmt: skip


def _says(disk: DiskForDrive, judged: list[Verdict]) -> str:
    best = judged[0]
    if best.settings is None or best.can_write == "no":
        return f"No drive of the table writes {disk.title}."
    how = "Write it" if best.can_write == "yes" else "Write it, with care,"
    also = [one.drive for one in judged[1:] if one.can_write == best.can_write]
    rest = f" or {len(also) - _ALSO} more" if len(also) > _ALSO else ""
    more = f" {' or '.join(also[:_ALSO])}{rest} does as well." if also else ""
    return f"{how} in a drive of class {best.drive} ({best.title}).{more}"
