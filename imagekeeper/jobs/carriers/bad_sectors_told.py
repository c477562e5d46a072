"""What a reader's list says of a read: which parts of the disk were not read well."""

from __future__ import annotations

from imagekeeper.errors import UsageError, Where
from imagekeeper.jobs.images.loading import Loaded
from imagekeeper.provenance.reads import NotRead

#: With more stretches apart nothing of a read can be relied on.
MOST_STRETCHES = 1 << 14


def not_read(path: str, file: Loaded, geometry: str | None) -> tuple[NotRead, ...]:
    """Place what a list names in the image of a read; neighbours of one state are given as one.

    Args:
        path: The list: `cylinder,head,sector,state`, or `start,length,state` in bytes.
        file: The read.
        geometry: Of the disk, or None to go by its content.

    Raises:
        InputError: The list cannot be read or understood, or the image has gaps.
        UsageError: `does-not-fit` for what cannot be placed on the disk, or for too many stretches.
    """
    # the file systems come with them, and most reads have no list
    from imagekeeper.filesystems.bad_sectors import extents
    from imagekeeper.filesystems.disk import read_disk
    from imagekeeper.filesystems.model import ReadingOptions, SectorGrid
    from imagekeeper.jobs.disks.looking_into import Solving, geometry_of, grid_of, listed, whole

    named = listed(path)
    data = whole(file)
    grid: SectorGrid | None
    if geometry is not None:
        grid = grid_of(geometry_of(geometry))
    else:
        grid = read_disk(data, ReadingOptions(check=False), Solving(data).grids()).grid   # never by the size alone
    try:
        placed = extents(named, grid)
    except UsageError as problem:
        raise problem.at(file=path) from problem.__cause__
    found: list[NotRead] = []
    for extent, state in placed:
        start = extent.start or 0
        last = found[-1] if found else None
        if last is not None and last.state == state and last.start + last.length == start:
            found[-1] = NotRead(
                start=last.start, length=last.length + extent.length, state=state, place=last.place
            )  # fmt: skip
            continue
        found.append(NotRead(
            start=start, length=extent.length, state=state, place=None if grid is None else str(grid.place(start)),
        ))  # fmt: skip
        if len(found) > MOST_STRETCHES:
            raise UsageError("does-not-fit/not-read-too-much", limit=MOST_STRETCHES, where=Where(file=path))
    return tuple(found)
