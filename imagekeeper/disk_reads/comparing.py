"""Compare reads of one disk by cylinder, side and sector, and explain their differences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from imagekeeper.comparison.pair import listed
from imagekeeper.disk_reads.explaining import Explaining
from imagekeeper.disk_reads.sectors import (
    ABSENT,
    Contents,
    Numbers,
    SectorRead,
    alike,
    in_order,
    laid_out,
)
from imagekeeper.disk_reads.telling import findings_of
from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry, SideOrder
from imagekeeper.provenance.compared_disk import ComparedDisk, ComparedSector, ComparedTrack

#: No larger disk is laid out sector by sector. [byte]
SIZE_LIMIT = 64 << 20

#: A read is looked at up to so many times the size of the disk: each cylinder may come twice.
MOST_TIMES = 3

#: Of a disk with more sectors the causes are not looked for: no floppy disk has as many. [1]
MOST_SECTORS = 20_000

#: So many different images are explained together; more would say nothing new.
MOST_IMAGES = 9

#: So many names of equal reads are given.
_NAMES = 3


def compare_disk(
    reads: Sequence[bytes], names: Sequence[str], geometry: Geometry, *, sides: SideOrder = "alternating",
    geometry_from: Literal["given", "content", "size"] = "given",
) -> tuple[ComparedDisk, tuple[Finding, ...]]:  # fmt: skip
    r"""Compare two or more reads of one disk.

    Args:
        reads: Their bytes, from the first sector on; their sizes may differ.
        names: What to call them.
        geometry: How the disk is divided.
        sides: In which order the reads have the tracks of two sides.
        geometry_from: Where the geometry is from.

    Returns:
        Where they agree, and why they do not: the likeliest cause first; none where they are equal.

    Raises:
        UsageError: `usage` for fewer than two reads, or a disk beyond `SIZE_LIMIT`; `does-not-fit` where all reads are
            larger than the disk.

    Source:
        Rissanen's principle, as in `imagekeeper.comparison.coding`; how likely each fault is, is our judgement.

    Example:
        >>> disk = b"".join(b"%-64d" % number for number in range(40))
        >>> swapped = b"".join(disk[at + 128 : at + 256] + disk[at : at + 128] for at in range(0, 2560, 256))
        >>> form = Geometry(cylinders=10, heads=2, sectors=2, sector_bytes=64)
        >>> table, found = compare_disk([disk, swapped], ["first.img", "second.img"], form)
        >>> table.agree, found[0].code, found[0].detail["cylinders"] == list(range(10))
        (0, 'sides-swapped', True)
    """
    if len(reads) < 2:
        raise UsageError("usage/one-read", reads=len(reads))
    if geometry.bytes > SIZE_LIMIT:
        raise UsageError("usage/size-of-geometry", geometry=geometry.text, size=geometry.bytes, limit=SIZE_LIMIT)
    more = min(map(len, reads)) - geometry.bytes
    if more > 0:
        raise UsageError("does-not-fit/more-than-geometry", geometry=geometry.text, size=geometry.bytes, by=more)
    contents = Contents()
    data = [in_order(read[: MOST_TIMES * geometry.bytes], geometry, sides) for read in reads]
    numbers = [laid_out(one, geometry, contents) for one in data]
    found = numbers_alike(numbers, geometry.cylinders * geometry.heads)
    table = _table(found, numbers, contents, geometry, sides, geometry_from)
    images = _different([_of_whole_sectors(one, contents, geometry) for one in numbers], data, names)
    if len(images) == 1:
        return table, ()
    if table.sectors > MOST_SECTORS:
        return table, (Finding.of(
            "not-diagnosed/disk", "note", 1.0, sectors=table.sectors, limit=MOST_SECTORS,
        ),)  # fmt: skip
    return table, findings_of(Explaining(images[:MOST_IMAGES], contents, geometry))


def _of_whole_sectors(numbers: Numbers, contents: Contents, geometry: Geometry) -> Numbers:
    """Leave out the last sector where a read ends within it: it is no other content, but some of it is missing."""
    track = len(numbers) - 1
    there = np.flatnonzero(numbers[track] != ABSENT)
    size = geometry.first_track[1] if geometry.first_track and not track else geometry.sector_bytes
    if not len(there) or len(contents.sectors[numbers[track, there[-1]]]) == size:
        return numbers
    cut = numbers.copy()
    cut[track, there[-1]] = ABSENT
    return cut


def numbers_alike(numbers: Sequence[Numbers], tracks: int) -> Numbers:
    """For every read, track and sector the first read with the same content, counted from 1; 0 for none."""
    return alike(numbers, tracks) + 1


def _different(numbers: Sequence[Numbers], data: Sequence[bytes], names: Sequence[str]) -> list[SectorRead]:
    """Take equal reads together, those first that most reads gave."""
    groups: dict[tuple[tuple[int, ...], bytes], list[int]] = {}
    for at, one in enumerate(numbers):
        groups.setdefault((one.shape, one.tobytes()), []).append(at)
    result = []
    for members in sorted(groups.values(), key=lambda group: (-len(group), group[0])):
        called, more = [names[at] for at in members[:_NAMES]], len(members) - _NAMES
        name = ", ".join(called) if more > 0 else listed(called)
        result.append(SectorRead(
            numbers=numbers[members[0]], reads=tuple(at + 1 for at in members), data=data[members[0]],
            name=f"{name} and {more} more" if more > 0 else name,
        ))  # fmt: skip
    return result


def _table(
    found: Numbers, numbers: Sequence[Numbers], contents: Contents, geometry: Geometry, sides: SideOrder,
    geometry_from: Literal["given", "content", "size"],
) -> ComparedDisk:  # fmt: skip
    reads, tracks, _ = found.shape
    there = np.any(found > 0, axis=0)   # what no read has is not compared
    agree = np.all(found == found[0], axis=0) & there
    counts = (found[:, None] == found[None, :]).sum(axis=1)
    best = counts.argmax(axis=0)
    most = np.take_along_axis(found, best[None], axis=0)[0]
    majority = (counts.max(axis=0) * 2 > reads) & ~agree & there
    base = np.where(majority | agree, most, found[0])
    apart = (found != base) & there
    fills = contents.is_fill
    rows, single = [], []
    for track in range(tracks):
        cylinder, side = divmod(track, geometry.heads)
        rows.append(ComparedTrack(
            cylinder=cylinder, side=side, sectors=int(there[track].sum()), agree=int(agree[track].sum()),
            majority=int(majority[track].sum()), apart=tuple(int(one[track].sum()) for one in apart),
        ))  # fmt: skip
        for sector in np.flatnonzero(there[track] & ~agree[track]).tolist():
            filled = tuple(
                at + 1 for at, one in enumerate(numbers) if found[at, track, sector] and fills[one[track, sector]]
            )
            single.append(ComparedSector(
                cylinder=cylinder, side=side, sector=sector + 1, fills=filled,
                alike=tuple(int(one) for one in found[:, track, sector]),
            ))  # fmt: skip
    return ComparedDisk(
        geometry=geometry.text, geometry_from=geometry_from, side_order=sides, sectors=int(there.sum()),
        agree=int(agree.sum()), tracks=tuple(rows), differing=tuple(single),
    )  # fmt: skip
