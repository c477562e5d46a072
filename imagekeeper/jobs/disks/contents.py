"""Tell in short what disk an image is of, and what is on it."""

from __future__ import annotations

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import ReadingOptions, Volume
from imagekeeper.jobs.disks.looking_into import FLOPPY_LIMIT, Solving
from imagekeeper.provenance.contents import DiskContents, VolumeContents
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.other_disks import of_size
from imagekeeper.units import plural

#: So many names are given of each volume.
NAMES = 8

#: No larger image is looked into in passing. [byte]
LIMIT = 1 << 30

#: From here on it may be a disk without any file system, if its size is that of a format. [byte]
SMALLEST = 70_000


def disk_contents(data: Data, name: str, solving: Solving | None = None) -> DiskContents | None:
    """Look at an image as a disk, or give None where nothing says that it is one.

    What speaks for a disk is a file system that is recognised, or the very size of a format of the table, which no
    memory chip has.

    Args:
        data: The image, without gaps.
        name: What to call it in the hint.
        solving: The question of its geometry, where somebody else asks it too.

    Example:
        >>> disk_contents(bytes(8192), "u4.bin") is None
        True
    """
    size = len(data)
    if not SMALLEST <= size <= LIMIT:
        return None
    solving = solving or Solving(data)
    disk = read_disk(data, ReadingOptions(deleted=False, code_page="cp437", check=False), solving.grids())
    known = [row.id for row in of_size(size)]
    if not disk.volumes and not disk.partitions and not known:
        return None
    says = f"{size} bytes."
    formats: tuple[str, ...] = ()
    if size <= FLOPPY_LIMIT:
        found = solving.solution
        says = found.says
        ahead = found.leading_rival
        if ahead is not None:
            formats = (ahead.format,)
        elif found.candidates and found.candidates[0].exact:
            formats = found.candidates[0].formats
    elif disk.grid is not None:
        says = f"A hard disk, {disk.grid.text}."
    problems = len(disk.findings) + sum(len(volume.findings) for volume in disk.volumes)
    if problems:
        following = Phrase("step/check-files", file=name)
    elif disk.volumes:
        following = Phrase("step/list-files", file=name)
    else:
        following = Phrase("step/solve-geometry", file=name)
    return DiskContents(
        says=says, formats=formats, partitions=len(disk.partitions), volumes=tuple(map(_volume, disk.volumes)),
        problems=problems, next=str(following),
    )  # fmt: skip


def _volume(volume: Volume) -> VolumeContents:
    there = [entry for entry in volume.entries if not entry.deleted]
    files = [entry for entry in there if entry.kind == "file"]
    names = [f"{entry.path} ({plural(entry.size_bytes, 'byte')})" for entry in files[:NAMES]]
    return VolumeContents(
        title=volume.title, label=volume.label, files=len(files), directories=len(there) - len(files),
        free_bytes=volume.free_units * volume.unit_bytes, starts=volume.boot.says if volume.boot is not None else None,
        names=tuple(names),
    )  # fmt: skip
