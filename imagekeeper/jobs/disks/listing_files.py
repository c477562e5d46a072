"""List what is on a disk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from imagekeeper.filesystems.disk import DiskVolumes
from imagekeeper.filesystems.model import SectorGrid, Volume
from imagekeeper.filesystems.parking import Parking, parking
from imagekeeper.filesystems.partitions import Partition
from imagekeeper.findings import Finding
from imagekeeper.jobs.disks.looking_into import FLOPPY_LIMIT, Look, OpenDisk, looked_into
from imagekeeper.jobs.images.loading import Given, Options
from imagekeeper.ranked import Evidence
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural


@dataclass(frozen=True, kw_only=True)
class DiskGeometry:
    """One geometry that a hard disk may have.

    Attributes:
        cylinders: How many, or null.
        heads: How many.
        sectors: On each track.
        sector_bytes: Size of a sector. [byte]
        score: From 0 (excluded) to 1 (certain).
        evidence: The reasons, strongest first.
    """

    cylinders: int | None
    heads: int
    sectors: int
    sector_bytes: int
    score: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True)
class FileList:
    """What is on a disk.

    Attributes:
        name: The file's name, made printable.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        says: The conclusion in a sentence.
        hint: What to do next.
        size_bytes: Of the image. [byte]
        sides_from: The order of sides that the file had, or null; offsets refer to alternating sides.
        geometry: The geometry that was taken, or null.
        geometries: What a hard disk's geometry may be, best first.
        parking: Where to park the heads of the hard disk before it is moved, or null where that is no question.
        partitions: All partitions.
        volumes: What was read.
        bad_sectors: How many bad sectors the list given names, or null without one.
        findings: What is wrong, as far as listing notices it.
    """

    SCHEMA: ClassVar[str] = "file-list/1"

    name: str
    name_base64: str | None
    says: str
    hint: str
    size_bytes: int
    sides_from: str | None
    geometry: SectorGrid | None
    geometries: tuple[DiskGeometry, ...]
    parking: Parking | None
    partitions: tuple[Partition, ...]
    volumes: tuple[Volume, ...]
    bad_sectors: int | None
    findings: tuple[Finding, ...]

    @property
    def exit_code(self) -> int:
        """0 when there are files to list and nothing is wrong, else 1."""
        return 0 if self.volumes and not self.findings else 1


def list_files(path: Given, options: Options, look: Look) -> FileList:
    """List the files of an image.

    Args:
        path: The image.
        options: How to take the file.
        look: How to look into the disk.

    Raises:
        ImagekeeperError: The file cannot be read or understood, or an option does not fit it.
    """
    with looked_into(path, options, look) as seen:
        return listed(seen, look)


def listed(seen: OpenDisk, look: Look) -> FileList:
    """Give what is on a disk that was looked into."""
    disk = seen.disk
    return FileList(
        name=seen.file.name, name_base64=seen.file.name_base64, says=says(disk),
        hint=hint(disk, seen.findings, len(seen.data)), size_bytes=len(seen.data), sides_from=look.sides_from,
        geometry=disk.grid,
        geometries=tuple(
            DiskGeometry(
                cylinders=one.answer.cylinders, heads=one.answer.heads, sectors=one.answer.sectors,
                sector_bytes=one.answer.sector_bytes, score=one.score, evidence=one.evidence,
            )
            for one in disk.geometries
        ),
        parking=None if len(seen.data) <= FLOPPY_LIMIT or disk.grid is None else parking(disk.grid),
        partitions=disk.partitions, volumes=seen.volumes, bad_sectors=seen.bad, findings=seen.findings,
    )  # fmt: skip


def says(disk: DiskVolumes) -> str:
    """Conclude in a sentence what a disk holds."""
    volumes = disk.volumes
    if not volumes:
        if disk.partitions:
            return f"{plural(len(disk.partitions), 'partition')}, and no file system in them that is known here."
        return "No file system is recognised."
    files = sum(entry.kind == "file" and not entry.deleted for volume in volumes for entry in volume.entries)
    kinds = ", ".join(volume.kind.upper() if volume.kind.startswith("fat") else volume.title for volume in volumes)
    where = f" in {plural(len(volumes), 'volume')}" if len(volumes) > 1 else ""
    return f"{plural(files, 'file')}{where}: {kinds}."


def hint(disk: DiskVolumes, findings: tuple[Finding, ...], size: int) -> str:
    """Say what to do next."""
    if not disk.volumes and size <= FLOPPY_LIMIT:
        return str(Phrase("step/look-at-floppy"))
    if not disk.volumes:
        return str(Phrase("step/look-at-disk"))
    if findings:
        return str(Phrase("step/more-of-what-is-wrong"))
    return str(Phrase("step/take-files-out"))
