"""Check the file systems of a disk."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import ClassVar

from imagekeeper.filesystems.model import Boot
from imagekeeper.findings import Finding
from imagekeeper.jobs.disks.looking_into import Look, looked_into
from imagekeeper.jobs.images.loading import Options
from imagekeeper.units import plural


@dataclass(frozen=True, kw_only=True)
class CheckedVolume:
    """A volume that was checked.

    Attributes:
        partition: The number of its partition, or null.
        kind: fat12, fat16, fat32, or another file system.
        title: What it is, in words.
        start: Where it begins in the image. [byte]
        length: Its size as it states itself. [byte]
        files: How many it holds.
        directories: How many it holds.
        units: Clusters or blocks.
        free_units: How many of them are free.
        boot: Whether a machine could start from it, or null.
    """

    partition: int | None
    kind: str
    title: str
    start: int
    length: int
    files: int
    directories: int
    units: int
    free_units: int
    boot: Boot | None


@dataclass(frozen=True, kw_only=True)
class FileCheck:
    """What is wrong with the file systems of a disk.

    Attributes:
        name: The file's name, made printable.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        says: The conclusion in a sentence.
        ok: Whether a file system was found and nothing is wrong.
        volumes: What was checked.
        counts: How many findings there are of each code.
        findings: What is wrong; of very many alike the first hundred, and a last that counts the rest.
    """

    SCHEMA: ClassVar[str] = "file-check/1"

    name: str
    name_base64: str | None
    says: str
    ok: bool
    volumes: tuple[CheckedVolume, ...]
    counts: dict[str, int]
    findings: tuple[Finding, ...]

    @property
    def exit_code(self) -> int:
        """0 when nothing is wrong, else 1."""
        return 0 if self.ok else 1


def check_files(path: str, options: Options, look: Look) -> FileCheck:
    """Check what is on an image; the image is never written to.

    Args:
        path: The image.
        options: How to take the file.
        look: How to look into the disk.

    Raises:
        ImagekeeperError: The file cannot be read or understood, or an option does not fit it.
    """
    with looked_into(path, options, replace(look, check=True)) as seen:
        volumes = tuple(
            CheckedVolume(
                partition=one.partition, kind=one.kind, title=one.title, start=one.start, length=one.length,
                files=sum(entry.kind == "file" and not entry.deleted for entry in one.entries),
                directories=sum(entry.kind == "directory" and not entry.deleted for entry in one.entries),
                units=one.units, free_units=one.free_units, boot=one.boot,
            )
            for one in seen.volumes
        )  # fmt: skip
        counts = Counter[str]()
        for found in seen.findings:
            counts[found.code] += found.detail.get("more", 1)
        return FileCheck(
            name=seen.file.name, name_base64=seen.file.name_base64, says=_says(volumes, counts),
            ok=bool(volumes) and not counts, volumes=volumes, counts=dict(counts), findings=seen.findings,
        )  # fmt: skip


def _says(volumes: tuple[CheckedVolume, ...], counts: Counter[str]) -> str:
    if not volumes:
        return "No file system is recognised, so there is nothing to check."
    if not counts:
        return "Nothing is wrong."
    return f"{plural(counts.total(), 'finding')} of {plural(len(counts), 'kind')}."
