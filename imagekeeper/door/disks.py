"""Disks: what a disk is, which drive writes it, how it is made again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.containers.manner import Repeated
from imagekeeper.door.arguments import check_typed
from imagekeeper.door.sources import Place, Source, among, given, named, options
from imagekeeper.drives import DriveMatch
from imagekeeper.floppy import formats
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.floppy.formats import Format, FormatList
from imagekeeper.geometry import GeometrySolution, Known
from imagekeeper.jobs.disks import planning
from imagekeeper.jobs.disks.matching_drives import bench_at, drives_for_disk
from imagekeeper.jobs.disks.planning import FILL, DiskChoice, DiskPlan
from imagekeeper.jobs.disks.solving import solve_file

if TYPE_CHECKING:
    from imagekeeper.door.archives import Archive
    from imagekeeper.drives.bench import Bench


def find_format(name: str) -> Format:
    """Look a disk format up by one of its names, or by its geometry where only one format has that.

    Args:
        name: Such as `360K` or `40x2x9x512`.

    Raises:
        NotFoundError: `format-unknown`: no format of the table, or more than one, goes by this name.

    Example:
        >>> import imagekeeper
        >>> found = imagekeeper.find_format("360K")
        >>> found.bytes, found.encoding, found.data_rate
        (368640, 'mfm', 250000)
    """
    check_typed("name", name, str)
    return formats.describe(formats.find(name))


def list_formats(*, size_bytes: int | None = None, disk_inch: float | None = None) -> FormatList:
    """List the disk formats of the table.

    Args:
        size_bytes: Only those whose image has this size. [byte]
        disk_inch: Only those of disks of this size: 8, 5.25 or 3.5. [inch]

    Example:
        >>> import imagekeeper
        >>> [one.geometry for one in imagekeeper.list_formats(size_bytes=1474560).formats]
        ['80x2x18x512']
    """
    return formats.listed(size=size_bytes, disk_inch=disk_inch)


def solve(
    source: Source | None = None, *, size_bytes: int | None = None, cylinders: int | None = None,
    heads: int | None = None, sectors: int | None = None, sector_bytes: int | None = None, encoding: str | None = None,
    data_rate: int | None = None, rotation: float | None = None, disk_inch: float | None = None,
    container: str | None = None, member: str | None = None, keep_doubtful: bool = False, repeated: Repeated = "refuse",
    fill: int | None = None,
) -> GeometrySolution:  # fmt: skip
    """Work out which disk an image is of, or which disk the facts allow: candidates, best first, with the reasons.

    Args:
        source: A path, the bytes of a file, or an image; None to go by the facts alone.
        size_bytes: Size of the image, where there is none. [byte]
        cylinders: Tracks on each side, where they are known.
        heads: Sides, where they are known.
        sectors: Sectors on a track, where they are known.
        sector_bytes: Size of a sector, where it is known. [byte]
        encoding: How it is recorded, where that is known: `fm`, `mfm` or `perpendicular`.
        data_rate: Where it is known. [bit/s]
        rotation: Of the drive with that rate, where it is known. [rev/min]
        disk_inch: Size of the disk, where it is known: 8, 5.25 or 3.5. [inch]
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        UsageError: `usage` where nothing is known, or facts exclude each other, which are named.
        InputError: The file cannot be understood, or has gaps.

    Example:
        >>> import imagekeeper
        >>> best = imagekeeper.solve(size_bytes=368640).candidates[0]
        >>> best.geometry, best.formats[0]
        ('40x2x9x512', '5.25-40x2x9x512')
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    known = Known(
        cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=sector_bytes, encoding=encoding,
        data_rate=data_rate, rotation=rotation, disk_inch=disk_inch, size_bytes=size_bytes,
    )  # fmt: skip
    return solve_file(None if source is None else given(source), how, known)


def match_drives(
    disk: Source, *, archive: Archive | Place | None = None, container: str | None = None, member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> DriveMatch:  # fmt: skip
    """Tell which drives read and write a disk, how to set them, and what else would do for its machine.

    Args:
        disk: A name of a format, or an image of the disk: a path, the bytes of a file, or an image. A file goes first.
        archive: The archive whose bench is asked too: `DriveMatch.bench` then speaks of one's own drives.
        container: The kind to take the file as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: `format-unknown` where it is neither a format nor a file, or the image is of none;
            `archive-missing`.
        InputError: The file cannot be understood; `bench-form`.

    Example:
        >>> import imagekeeper
        >>> match = imagekeeper.match_drives("360K")
        >>> match.drives[0].drive, match.drives[0].can_write
        ('5.25-48tpi', 'yes')
    """
    how = options(disk, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return drives_for_disk(given(disk), how, _bench(archive))


def _bench(archive: Archive | Place | None) -> Bench | None:
    from imagekeeper.door.archives import Archive  # only for who has one

    if archive is None:
        return None
    return archive.bench if isinstance(archive, Archive) else bench_at(named(archive))


def plan_disk(
    source: Source, output: Place, drive: str, *, archive: Archive | Place | None = None,
    disk_format: str | None = None, sides_from: SideOrder | None = None, sides_to: SideOrder | None = None,
    disk_fill: int = FILL, first_sector: int = 1, interleave: int = 1, force: bool = False,
    container: str | None = None, member: str | None = None, keep_doubtful: bool = False, repeated: Repeated = "refuse",
    fill: int | None = None,
) -> DiskPlan:  # fmt: skip
    """Make the file that writes an image to a disk in one drive, and the sheet for the bench.

    Args:
        source: A path, the bytes of a file, or an image.
        output: The file to write, whole or not at all.
        drive: A drive of the archive's bench, or a class of drives.
        archive: The archive whose bench is meant.
        disk_format: The name of the format; without it the content of the image must tell.
        sides_from: The order of sides in the image; alternating without it.
        sides_to: The order that the writer wants; alternating without it.
        disk_fill: What fills up a short image, and what formatting leaves.
        first_sector: The number of the first sector on each track.
        interleave: Of the sectors on the disk.
        force: Replace the output if it is there; an input never is.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        ContradictionError: `drive-cannot`: the drive cannot write the format; the hint names those that can.
        NotFoundError: `drive-unknown`, `format-unknown`, `archive-missing`; there is no such file.
        UsageError: The image is larger than the disk; the output cannot be written.
        InputError: The file cannot be understood.

    Example:
        >>> import imagekeeper, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     plan = imagekeeper.plan_disk(bytes(368640), f"{folder}/write.img", "5.25-48tpi", disk_format="360K")
        >>> plan.format, plan.image.size_bytes
        ('5.25-40x2x9x512', 368640)
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    for name, order in (("sides_from", sides_from), ("sides_to", sides_to)):
        if order is not None:
            among(name, order, SideOrder)
    choice = DiskChoice(
        format=disk_format, sides_from=sides_from, sides_to=sides_to, fill=disk_fill, first_sector=first_sector,
        interleave=interleave,
    )  # fmt: skip
    return planning.plan_disk(given(source), named(output), drive, choice, how, bench=_bench(archive), force=force)
