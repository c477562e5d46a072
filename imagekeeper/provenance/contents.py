"""What a disk holds, in short: for one screen and for a record."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class VolumeContents:
    """One file system in short.

    Attributes:
        title: What it is.
        label: The volume's name, or null.
        files: How many files it holds.
        directories: How many directories.
        free_bytes: What is free. [byte]
        starts: Whether a machine could start from it, in words, or null where that was not looked into.
        names: The first names, with their sizes: at most as many as fit on a screen.
    """

    title: str
    label: str | None
    files: int
    directories: int
    free_bytes: int
    starts: str | None
    names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class DiskContents:
    """A disk in short.

    Attributes:
        says: What disk it is, in a sentence.
        formats: The ids of the formats that it may be of, the likeliest first; none for a hard disk.
        partitions: How many partitions it has.
        volumes: What file systems are on it.
        problems: How many things a look at them noticed.
        next: The command that tells more.
    """

    says: str
    formats: tuple[str, ...]
    partitions: int
    volumes: tuple[VolumeContents, ...]
    problems: int
    next: str
