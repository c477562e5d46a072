"""Merge several reads of one damaged disk into one image."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from imagekeeper import files
from imagekeeper.containers.model import Data
from imagekeeper.errors import UsageError
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.disk_merge import DiskMergeAccount, MergedStretch
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid
from imagekeeper.filesystems.sector_merge import MergedSector
from imagekeeper.jobs.disks.free_space import free_in_all
from imagekeeper.jobs.disks.looking_into import geometry_of, grid_of, listed, whole
from imagekeeper.jobs.images.loading import Options, all_loaded, refuse_same
from imagekeeper.jobs.images.writing import check_output
from imagekeeper.units import plural


@dataclass(frozen=True, kw_only=True)
class DiskMerge:
    """Several reads of a disk made into one.

    Attributes:
        reads: Names of the reads, made printable.
        output: Name of the image written, made printable.
        list: Name of the list of sectors that are not good, or null.
        says: The conclusion in a sentence.
        geometry: The geometry that was taken.
        size_bytes: Of the image. [byte]
        sectors: How many the disk has.
        mended: How many are good now that the first read does not have so.
        counts: How many are voted, disputed, doubtful, bad and missing.
        map: Every sector that is not simply good, ascending; of very many the first 65,536.
        left_out: How many more there are.
        stretches: All that is not simply good, or not of the first read, in stretches of what is alike, ascending.
        supplied: How many sectors of the image come from each read; what several have alike counts for the first.
    """

    SCHEMA: ClassVar[str] = "disk-merge/1"

    reads: tuple[str, ...]
    output: str
    list: str | None
    says: str
    geometry: SectorGrid
    size_bytes: int
    sectors: int
    mended: int
    counts: dict[str, int]
    map: tuple[MergedSector, ...]
    left_out: int
    stretches: tuple[MergedStretch, ...]
    supplied: tuple[int, ...]

    @property
    def exit_code(self) -> int:
        """0 when every sector is good, or settled by a majority; else 1."""
        return 0 if all(state == "voted" or not count for state, count in self.counts.items()) else 1


def merge_files(
    paths: Sequence[str], output: str, options: Options, *,
    lists: Sequence[str] = (), geometry: str | None = None, list_to: str | None = None, force: bool = False,
) -> DiskMerge:  # fmt: skip
    """Merge reads of one disk, and write the image and, where asked for, the list of what is not good in it.

    Args:
        paths: The reads.
        output: The image to write, as a raw file.
        options: How to take the reads.
        lists: A list of bad sectors for each read in order; `-` for a read without one; none at all without any.
        geometry: A geometry such as 40x2x9x512, or the name of a format, or None to find it on the disk.
        list_to: Where to write the list of sectors that are not good.
        force: Replace what is there.

    Raises:
        ImagekeeperError: A read or list cannot be understood, they do not fit each other, or the output not be written.
    """
    if lists and len(lists) != len(paths):
        raise UsageError("usage/lists-of-merge", lists=len(lists), paths=len(paths))
    check_output(output, force=force, inputs=[*paths, *lists])
    if list_to is not None:
        check_output(list_to, force=force, inputs=[*paths, *lists], beside=output)
    bad = [None if name == "-" else listed(name) for name in lists] or [None] * len(paths)
    with all_loaded(paths, options) as reads:
        refuse_same(reads)
        data = [whole(read) for read in reads]
        grid = _shown(data) if geometry is None else grid_of(geometry_of(geometry))
        if grid is None:
            raise UsageError("usage/merge-without-geometry")
        account = DiskMergeAccount(data, bad, grid, free=free_in_all(data, grid))
        files.write_whole(output, account.blocks(), force=force)
        if list_to is not None:
            files.write_whole(list_to, _csv(account.stretches, grid), force=force)
    return DiskMerge(
        reads=tuple(read.name for read in reads), output=files.display_name(output),
        list=None if list_to is None else files.display_name(list_to), says=_says(account), geometry=grid,
        size_bytes=len(data[0]), sectors=account.sectors, mended=account.mended,
        counts={str(state): count for state, count in account.not_good.items()}, map=tuple(account.map),
        left_out=account.left_out, stretches=tuple(account.stretches), supplied=account.supplied,
    )  # fmt: skip


def _shown(reads: Sequence[Data]) -> SectorGrid | None:
    """Give the geometry that the first read shows, or the next that does: what it needs may be what was not read."""
    return next((grid for grid in (read_disk(one, ReadingOptions()).grid for one in reads) if grid is not None), None)


def _csv(stretches: Sequence[MergedStretch], grid: SectorGrid) -> Iterator[bytes]:
    """Write the list in the form that it is read in: what a vote settled is doubtful, what none did is bad."""
    yield b"cylinder,head,sector,state\n"
    for one in stretches:
        state = {"voted": "doubtful", "disputed": "bad"}.get(one.state, one.state)
        for place in grid.places(one.start, one.length) if one.state != "good" else ():
            yield f"{place.cylinder},{place.head},{place.sector},{state}\n".encode()


def _says(account: DiskMergeAccount) -> str:
    left = [f"{count} {state}" for state, count in account.not_good.items() if count]
    mended = f"{plural(account.mended, 'sector')} of the first read mended"
    return f"{mended}; " + (", ".join(left) if left else f"all {account.sectors} are good") + "."
