"""The list of readers: whatever is in it takes part in every command about files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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


#: What one reader is so sure of is no other's.
CERTAIN = 0.9


def recognise(
    data: Data, grid: SectorGrid | None = None, others: Callable[[], Sequence[SectorGrid]] = tuple
) -> tuple[Candidate[Recognised], ...]:
    """Ask the readers what some bytes may be until one is certain, and rank the answers.

    Example:
        >>> recognise(bytes(4096))
        ()
    """
    found: list[Candidate[Recognised]] = []
    for reader in readers():
        found += reader.recognise(data, grid, others)
        if any(one.score >= CERTAIN for one in found):
            break
    return rank(found)


def read(data: Data, found: Recognised, how: ReadingOptions | None = None) -> Volume:
    """Read a volume that was recognised."""
    reader = next(one for one in readers() if one.name == found.reader)
    return reader.read(data, found, how or ReadingOptions())
