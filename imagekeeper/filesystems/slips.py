"""A place inside a volume from which on an image has sectors too many or too few.

What a volume puts where it says itself shows whether a part of the image lies in its place: the second FAT, and the
first record of each directory, which names the cluster that it stands in. From memory; the rule is our own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.fat_directory import DOT, RECORD, records
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.model import Volume
from imagekeeper.filesystems.partitions import SECTOR

#: So many sectors at most an image is taken to have too many or too few within a volume. [sector]
MOST_OFF = 8


@dataclass(frozen=True, kw_only=True)
class SectorSlip:
    """Where an image slips.

    Attributes:
        first: The last place before it of which is known that it lies where it should. [byte]
        last: The first one behind it that does not. [byte]
        sectors: How many too many, or below 0 too few. [sector]
        before: How many marks lie in their places before it.
        behind: How many lie out of theirs by as much behind it.
    """

    first: int
    last: int
    sectors: int
    before: int
    behind: int

    @property
    def confidence(self) -> float:
        """How sure it is: one mark out of place may be an old one."""
        return 0.7 if self.behind == 1 else 0.9


def slip(data: Data, volume: Volume, layout: FatLayout) -> SectorSlip | None:
    """Find the slip in a volume; None where nothing, or no one place, explains what is seen.

    Args:
        data: The whole disk.
        volume: A volume as it was read, its boot sector in its place.
        layout: Where its parts lie.
    """
    marks = sorted(_marks(data, volume, layout))
    out = next((number for number, (_, shift) in enumerate(marks) if shift), len(marks))
    behind = marks[out:]
    if len({shift for _, shift in behind}) != 1:
        return None
    first = marks[out - 1][0] if out else volume.start
    return SectorSlip(first=first, last=behind[0][0], sectors=behind[0][1], before=out, behind=len(behind))


def _marks(data: Data, volume: Volume, layout: FatLayout) -> Iterator[tuple[int, int]]:
    """Give places where something must stand, each with how many sectors later it stands; none where it is nowhere."""
    yield volume.start, 0
    wide, fat = layout.wide is not None, volume.start + layout.fat_start(0)
    beginning = data[fat : fat + RECORD.size]
    for number in range(1, layout.fats):
        at = volume.start + layout.fat_start(number)
        yield from ((at, shift) for shift in _shifts(data, at, lambda there: there == beginning))
    for entry in volume.entries:
        start = entry.extents[0].start if entry.kind == "directory" and not entry.deleted and entry.extents else None
        if start is not None:
            cluster = (start - volume.start - layout.data_start) // layout.cluster_bytes + 2
            own = partial(_is_own, cluster=cluster, wide=wide)
            yield from ((start, shift) for shift in _shifts(data, start, own))


def _shifts(data: Data, at: int, fits: Callable[[bytes], bool]) -> Iterator[int]:
    """Give how many sectors later than it should something stands, the nearest first; nothing where it does not."""
    for shift in sorted(range(-MOST_OFF, MOST_OFF + 1), key=abs):
        there = at + shift * SECTOR
        if there >= 0 and fits(data[there : there + RECORD.size]):
            yield shift
            return


def _is_own(record: bytes, cluster: int, *, wide: bool) -> bool:
    """Whether a record is the first one of the directory that begins at a cluster."""
    found = next(iter(records([(0, record)], wide=wide)), None) if len(record) == RECORD.size else None
    return found is not None and found.name == DOT and found.start == cluster
