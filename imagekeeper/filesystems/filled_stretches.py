"""Stretches of a hard disk that its reader seems to have filled, because it could not read them.

Only what the file system uses is looked at: free space keeps whatever formatting left. Formatting and readers fill with
values that files seldom hold (E5, F6, 6C and others: common practice, no source), or with a text over and over. 00, FF
and blanks are in many files; a stretch of them counts only where it is of whole tracks, in the middle of a file, and
the bytes on either side are others. All of this is our judgement, and a stretch that was found so stays "perhaps".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import Entry, Volume
from imagekeeper.filesystems.partitions import SECTOR
from imagekeeper.floppy.fill import shortest

#: What many files hold in quantity.
_USUAL = frozenset((0x00, 0xFF, 0x20))

#: The values that formatting and readers are known to leave. Common practice, no source.
_KNOWN = frozenset((0xE5, 0xF6, 0x6C, 0x4E, 0xDB, 0x6D, 0xB6))

#: A text over and over repeats within so many bytes. [byte]
_PERIOD = 64

#: What repeats within so many bytes is a pattern of formatting, more is a text. [byte]
_PATTERN = 4

#: So far around it a text is looked for in the file. [byte]
_NEAR = 1 << 16

_PIECE = 1 << 20

#: No more stretches than this are named.
MOST_STRETCHES = 64


@dataclass(frozen=True, kw_only=True)
class FilledStretch:
    """A stretch that holds one fill where files lie.

    Attributes:
        start: Where it begins in the image. [byte]
        length: Its size. [byte]
        fill: What it holds over and over, as a sector begins with it.
        paths: The first files and areas that it lies in.
        whole_tracks: Whether it begins and ends with a track.
        confidence: How likely it is that the reader put it there.
    """

    start: int
    length: int
    fill: bytes
    paths: tuple[str, ...]
    whole_tracks: bool
    confidence: float


def filled_stretches(data: Data, volumes: Iterable[Volume], track: int | None) -> Iterator[FilledStretch]:
    """Look through what is used for stretches that seem to be filled.

    Args:
        data: The whole disk.
        volumes: What was read of it.
        track: The size of a track, or None where it is not known. [byte]
    """
    used = sorted(_used(volumes), key=lambda one: one[0])
    for start, end, fill in _runs(data, used):
        lies_in = [one for one in used if one[0] < end and start < one[1]] if len(used) < 10_000 else []
        whole = track is not None and not start % track and not end % track
        inside = bool(lies_in) and start > lies_in[0][0] and end < lies_in[-1][1]
        usual = len(set(fill)) == 1 and fill[0] in _USUAL
        if usual and not (whole and inside and _sharp(data, start, end, fill[0])):
            continue
        if len(fill) > _PATTERN and _is_the_files(data, start, end, fill, lies_in):
            continue
        known = len(set(fill)) > 1 or fill[0] in _KNOWN
        yield FilledStretch(
            start=start, length=end - start, fill=fill, paths=tuple(dict.fromkeys(one[2] for one in lies_in))[:3],
            whole_tracks=whole, confidence=0.6 if usual else 0.9 if whole else 0.75 if known else 0.5,
        )  # fmt: skip


def _sharp(data: Data, start: int, end: int, value: int) -> bool:
    """Whether a stretch ends just at its sectors: what a file holds of a value begins and ends anywhere."""
    return start > 0 and data[start - 1] != value and end < len(data) and data[end] != value


def _is_the_files(data: Data, start: int, end: int, fill: bytes, lies_in: Sequence[tuple[int, int, str]]) -> bool:
    """Whether a text is that of the file: all that it holds, or in other sectors too, where it does not begin anew."""
    mine = data[start : start + SECTOR]
    for first, last, _ in lies_in:
        if first >= start and last <= end:
            return True
        near = range(max(first, start - _NEAR), min(last, end + _NEAR), SECTOR)
        others = (data[at : at + SECTOR] for at in near if not start <= at < end)
        if any(one != mine and fill in one for one in others):
            return True
    return False


def _used(volumes: Iterable[Volume]) -> Iterator[tuple[int, int, str]]:
    """Give what files use, as whole sectors of theirs: the rest of their last cluster was perhaps never written."""
    for volume in volumes:
        for entry in volume.entries:
            if not entry.deleted:
                yield from _sectors(entry)


def _sectors(entry: Entry) -> Iterator[tuple[int, int, str]]:
    for one in entry.extents:
        if one.start is not None and one.length >= SECTOR:
            yield one.start, one.start + one.length - one.length % SECTOR, entry.path


def _runs(data: Data, used: Sequence[tuple[int, int, str]]) -> Iterator[tuple[int, int, bytes]]:
    """Give the stretches of one fill: beginning, end, and what is repeated; files that follow each other are as one."""
    allowed = budget.current()
    current: tuple[int, int, bytes] | None = None
    for start, end, _ in used:
        for at in range(start, end, _PIECE):
            allowed.tick()
            piece = data[at : min(at + _PIECE, end)]
            for offset in range(0, len(piece) - SECTOR + 1, SECTOR):
                sector = piece[offset : offset + SECTOR]
                fill = shortest(sector)
                if len(fill) > _PERIOD:
                    continue
                here = at + offset
                if current is not None and current[1] == here and fill == current[2]:
                    current = current[0], here + SECTOR, current[2]
                else:
                    if current is not None:
                        yield current
                    current = here, here + SECTOR, fill
    if current is not None:
        yield current
