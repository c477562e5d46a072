"""The list of readers: whatever is in it takes part in every command about files."""

from __future__ import annotations

from functools import cache

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import FileSystemReader, ReadingOptions, Recognised, SectorGrid, Volume
from imagekeeper.ranked import Candidate, rank


@cache
def readers() -> tuple[FileSystemReader, ...]:
    """Every reader; the first of those that score the same wins."""
    # the tables come with them, and only a disk needs them
    from imagekeeper.filesystems.directory_system import DirectoryReader
    from imagekeeper.filesystems.fat_volume import FatReader

    return FatReader(), DirectoryReader()


def recognise(data: Data, grid: SectorGrid | None = None) -> tuple[Candidate[Recognised], ...]:
    """Ask every reader what some bytes may be, and rank the answers.

    Example:
        >>> recognise(bytes(4096))
        ()
    """
    return rank(one for reader in readers() for one in reader.recognise(data, grid))


def read(data: Data, found: Recognised, how: ReadingOptions | None = None) -> Volume:
    """Read a volume that was recognised."""
    reader = next(one for one in readers() if one.name == found.reader)
    return reader.read(data, found, how or ReadingOptions())
