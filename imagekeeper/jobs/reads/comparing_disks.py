"""Whether reads are of a disk, and what a comparison of them says then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.comparison.confidence import Remaining
from imagekeeper.comparison.majority import Majority
from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError, Where
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry, SideOrder
from imagekeeper.jobs.disks.contents import SMALLEST
from imagekeeper.jobs.disks.looking_into import FLOPPY_LIMIT, Solving, geometry_of
from imagekeeper.provenance.compared_disk import ComparedDisk

#: So much must what a system wrote say for a disk before the content is taken to tell which it is.
#: And so likely must it be.
_ENOUGH, _LIKELY = 2.0, 0.5

OUTSIDE = (
    "faults that repeat themselves (a step that is always missed, a wrong geometry, a track that no drive reads): read "
    "in another drive, and look at the file system and at the check values of the sectors"
)

#: Codes of faults that strike sectors by chance.
_BY_CHANCE = ("weak-sectors", "sectors-filled")


@dataclass(frozen=True)
class DiskRead:
    """What disk the reads are of.

    Attributes:
        geometry: How it is divided.
        sides: In which order the reads have the tracks of two sides.
        told_by: Where that is from.
    """

    geometry: Geometry
    sides: SideOrder = "alternating"
    told_by: Literal["given", "content", "size"] = "given"


def disk_of(images: Sequence[Image], names: Sequence[str], geometry: str | None) -> DiskRead | None:
    """Tell of what disk the reads are, or None where they are of none.

    A file system speaks for a disk, and so does the very size of a format of the table; but a size that is a power of
    two is a memory chip's, unless a parameter block stands in front.

    Args:
        images: The reads.
        names: What to call them.
        geometry: As it was given, or None to go by the content.

    Raises:
        UsageError: `usage` for a geometry that no disk has.
        NotFoundError: `format-unknown`.
        InputError: `gaps` for a read with gaps, where a geometry was given.
    """
    if geometry is not None:
        cylinders, heads, sectors, size, first = geometry_of(geometry)
        for one, name in zip(images, names, strict=True):
            if len(one.segments) != 1:
                raise InputError("gaps/disk", pieces=len(one.segments), where=Where(file=name))
        return DiskRead(Geometry(
            cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size, first_track=first
        ))  # fmt: skip
    if any(one.addressed or len(one.segments) != 1 for one in images):
        return None
    if any(not SMALLEST <= one.size_bytes <= FLOPPY_LIMIT for one in images):
        return None
    return _by_content(sorted({one.segments[0].data[:] for one in images}))


def _by_content(images: Sequence[bytes]) -> DiskRead | None:
    from imagekeeper.geometry.parameters import block_at  # slow to load: only where a size is that of a disk

    scores: dict[tuple[int, int, int, int], float] = {}
    orders: dict[tuple[int, int, int, int], list[SideOrder | None]] = {}
    told = by_size = False
    for data in images:
        if block_at(data, 0) is None and not len(data) & (len(data) - 1):
            continue
        for one in Solving(data).solution.candidates:
            if one.data_start or not (one.exact or one.content):
                continue
            key = one.cylinders, one.heads, one.sectors, one.sector_bytes
            scores[key] = scores.get(key, 0.0) + one.score
            orders.setdefault(key, []).append(one.side_order)
            told = told or (one.content >= _ENOUGH and one.score >= _LIKELY)
            by_size = by_size or (one.exact and one.format is not None)
    if not (told or by_size):
        return None
    cylinders, heads, sectors, size = key = max(scores, key=scores.__getitem__)
    cylinders = max(cylinders, -(-min(map(len, images)) // (heads * sectors * size)))   # read further than it is used
    order = orders[key] if len(orders[key]) == len(images) and len(set(orders[key])) == 1 else []
    return DiskRead(
        Geometry(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size),
        (order[0] if order and heads == 2 else None) or "alternating", "content" if told else "size",
    )  # fmt: skip


def as_disk(result: Comparison, images: Sequence[Image], names: Sequence[str], disk: DiskRead) -> Comparison:
    """Say of a comparison what it is of a disk: by cylinder, side and sector, and with the faults of disks."""
    table, causes = _told(images, names, disk)
    return replace(
        result, disk=table, findings=(*causes, *_of_disk(result.findings)), remaining=_outside(result.remaining, causes)
    )  # fmt: skip


def voted_as_disk(account: Majority, images: Sequence[Image], names: Sequence[str], disk: DiskRead) -> Majority:
    """Say of a vote what it is of a disk: by cylinder, side and sector, and where no read has what came out.

    A drive gives whole sectors, each with its check value; a sector of which no content has a majority was put together
    of bytes that stand in no read so.
    """
    table, causes = _told(images, names, disk)
    mixed = sum(one.sectors - one.agree - one.majority for one in table.tracks)
    first = next((one for one in table.differing if 2 * max(map(one.alike.count, one.alike)) <= len(one.alike)), None)
    found = list(_of_disk(account.findings))
    if mixed and first is not None:
        found.append(Finding.of(
            "no-majority/sectors", "warning", 1.0, count=mixed, detail={"sectors": mixed},
            first=f"{first.cylinder}/{first.side}/{first.sector}",
        ))  # fmt: skip
    return replace(
        account, disk=table, findings=(*found, *causes), remaining=_outside(account.remaining, causes)
    )


def _told(
    images: Sequence[Image], names: Sequence[str], disk: DiskRead
) -> tuple[ComparedDisk, tuple[Finding, ...]]:
    from imagekeeper.disk_reads.comparing import compare_disk  # numpy, and the file systems with it

    return compare_disk(
        [one.segments[0].data[:] for one in images], names, disk.geometry, sides=disk.sides, geometry_from=disk.told_by
    )


def _of_disk(findings: Sequence[Finding]) -> list[Finding]:
    return [
        Finding.of("sizes-differ/disk", one.severity, one.confidence, held=one.values["held"], detail=one.detail)
        if one.code == "sizes-differ" else one for one in findings
    ]  # fmt: skip


def _outside(left: Remaining | None, causes: Sequence[Finding]) -> Remaining | None:
    if left is None:
        return None
    against = None if not causes or causes[0].code in _BY_CHANCE else causes[0].code
    return replace(left, outside=OUTSIDE, against=against)
