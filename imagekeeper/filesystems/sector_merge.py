"""Several reads of one damaged disk made into one, sector by sector, with an account of where each came from.

A sector that some read got with its check value right is taken from there. Where two such reads differ, the majority
decides, and without one the sector stays disputed. Sectors that no read got are taken from the best there is, and keep
their state: what is not sure is never made to look so. The rule is our own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from imagekeeper.containers.model import Data
from imagekeeper.errors import UsageError
from imagekeeper.filesystems.bad_sectors import BadSector, SectorState, extents
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.floppy.fill import emptiness, is_message

MergedState = Literal["voted", "disputed", "doubtful", "bad", "missing"]

#: What each state of a merged sector means; all others are good.
MERGED_STATES: dict[MergedState, str] = {
    "voted": "reads that call it good differ, and most of them agree",
    "disputed": "reads that call it good differ, and no majority decides; or some hold only fill, and those with "
    "content are no majority: the first is taken, but never fill before content",
    "doubtful": "no read calls it good; the best one is doubtful",
    "bad": "no read got it with its check value right",
    "missing": "no read found it",
}

#: From best to worst.
_ORDER: tuple[SectorState, ...] = get_args(SectorState)

_PIECE = 1 << 18


@dataclass(frozen=True, kw_only=True)
class MergedSector:
    """A sector that is not simply good.

    Attributes:
        cylinder: Counted from 0.
        head: Counted from 0.
        sector: As the disk numbers them.
        start: Offset in the image. [byte]
        length: Its size. [byte]
        state: voted, disputed, doubtful, bad or missing.
        taken_from: The number of the read that it was taken from, counted from 1.
        states: What each read says of it.
        alike: For each read the number of the first read with the same bytes.
        fill: Of each read whether it holds nothing but fill there.
    """

    cylinder: int
    head: int
    sector: int
    start: int
    length: int
    state: MergedState
    taken_from: int
    states: tuple[SectorState, ...]
    alike: tuple[int, ...]
    fill: tuple[bool, ...]


@dataclass(frozen=True, kw_only=True)
class SectorMerge:
    """The account of a merge, and with `blocks` its bytes.

    Attributes:
        sectors: How many the disk has.
        mended: How many are good that the first read does not have so.
        counts: How many are voted, disputed, doubtful, bad and missing.
        map: Every sector that is not simply good, ascending.
        taken: For sectors that are not the first read's: offset, length and the number of the read, from 0.
    """

    sectors: int
    mended: int
    counts: dict[str, int]
    map: tuple[MergedSector, ...]
    taken: dict[int, tuple[int, int]] = field(default_factory=dict)

    def blocks(self, reads: Sequence[Data]) -> Iterator[bytes]:
        """Give the merged image piece by piece."""
        ordered = sorted(self.taken)
        at, number = 0, 0
        size = len(reads[0])
        while at < size:
            piece = bytearray(reads[0][at : min(at + _PIECE, size)])
            end = at + len(piece)
            while number < len(ordered) and ordered[number] < end:
                start = ordered[number]
                length, read = self.taken[start]
                if start + length > end:   # a sector across the edge comes whole with the next piece
                    piece = piece[: start - at]
                    break
                piece[start - at : start - at + length] = reads[read][start : start + length]
                number += 1
            yield bytes(piece)
            at += len(piece)


def merge(
    reads: Sequence[Data], listed: Sequence[Sequence[BadSector] | None], grid: SectorGrid, *,
    free: Callable[[int, int], bool] = lambda start, length: False,
) -> SectorMerge:  # fmt: skip
    r"""Merge reads of one disk.

    Args:
        reads: Images of equal size.
        listed: For each read its list of sectors that are not good; None where there is no list.
        grid: The geometry of the disk.
        free: Tells of a stretch of the image, its start and length, whether the file system leaves it free; asked only
            where fill stands against content.

    Raises:
        UsageError: `usage` for fewer than two reads, or reads of different sizes; `does-not-fit` for a list that
            names sectors which the disk does not have.

    Example:
        >>> from imagekeeper.filesystems.model import SectorPlace
        >>> grid = SectorGrid(heads=1, sectors=2, sector_bytes=4, cylinders=1)
        >>> reads = [b"TIDE\xe5\xe5\xe5\xe5", b"TIDEGATE"]
        >>> account = merge(reads, [[BadSector(SectorPlace(0, 0, 2), "missing")], None], grid)
        >>> b"".join(account.blocks(reads)), account.mended, account.map
        (b'TIDEGATE', 1, ())
    """
    _check(reads)
    states: dict[int, list[SectorState]] = {}
    for number, sectors in enumerate(listed):
        for extent, state in extents(sectors or (), grid):
            assert extent.start is not None
            states.setdefault(extent.start, ["good"] * len(reads))[number] = state
    mended = 0
    found: list[MergedSector] = []
    taken: dict[int, tuple[int, int]] = {}
    told = [one is not None for one in listed]
    messages = _messages(reads, states, grid)
    for start in _interesting(reads, states, grid):
        place = grid.place(start)
        length = min(grid.size_at(place), len(reads[0]) - start)
        mine = states.get(start, ["good"] * len(reads))
        contents = [read[start : start + length] for read in reads]
        empty = [emptiness(one) or int(one in messages) for one in contents]
        unused = len(set(empty)) > 1 and free(start, length)
        blank = [unused or (is_told and state == "good") for is_told, state in zip(told, mine, strict=True)]
        outcome, chosen = _decide(mine, contents, empty, blank)
        if chosen and contents[chosen] != contents[0]:
            taken[start] = length, chosen
        if outcome is None:
            mended += mine[0] != "good"
            continue
        alike = tuple(contents.index(content) + 1 for content in contents)
        found.append(
            MergedSector(
                cylinder=place.cylinder, head=place.head, sector=place.sector, start=start, length=length,
                state=outcome, taken_from=chosen + 1, states=tuple(mine), alike=alike,
                fill=tuple(map(bool, empty)),
            )
        )
    counts = Counter(one.state for one in found)
    total = _count(grid, len(reads[0]))
    return SectorMerge(
        sectors=total, mended=mended, counts={state: counts[state] for state in MERGED_STATES}, map=tuple(found),
        taken=taken,
    )  # fmt: skip


def _check(reads: Sequence[Data]) -> None:
    if len(reads) < 2:
        raise UsageError("usage/nothing-to-merge", reads=len(reads))
    for read in reads[1:]:
        if len(read) != len(reads[0]):
            raise UsageError("usage/sizes-of-merge", first=len(reads[0]), other=len(read))


def _messages(reads: Sequence[Data], states: dict[int, list[SectorState]], grid: SectorGrid) -> frozenset[bytes]:
    """Find the sentences that a reading program left: the same in several of the sectors in which reads differ."""
    seen: Counter[bytes] = Counter()
    for start in _interesting(reads, states, grid):
        size = grid.size_at(grid.place(start))
        contents = {read[start : start + size] for read in reads}
        seen.update(one for one in contents if len(contents) > 1 and is_message(one))
    return frozenset(one for one, count in seen.items() if count > 1)


def _decide(
    states: Sequence[SectorState], contents: Sequence[bytes], empty: Sequence[int], blank: Sequence[bool]
) -> tuple[MergedState | None, int]:
    r"""Choose the read for one sector, and say how sure it is; None for good.

    Args:
        states: What each read says of the sector.
        contents: What each read has there.
        empty: How empty that is: 0 for content.
        blank: Whether something says that fill is what stands on the disk.

    Example:
        >>> good, no, yes = ["good"] * 3, [False] * 3, [True] * 3
        >>> _decide(["good", "bad", "good"], [b"ab", b"bc", b"ab"], [0, 0, 0], no)
        (None, 0)
        >>> filled = [b"\xe5\xe5", b"\xe5\xe5", b"TI"]
        >>> _decide(good, filled, [2, 2, 0], no), _decide(good, filled, [2, 2, 0], yes)
        (('disputed', 2), ('voted', 0))
    """
    best = min(states, key=_ORDER.index)
    voters = [i for i, state in enumerate(states) if state == best]
    least = min(empty[i] for i in voters)
    holding = [i for i in voters if empty[i] == least]
    counted = [i for i in voters if empty[i] == least or blank[i]]
    if best == "good" and least and not any(blank[i] for i in voters):
        other = [i for i, state in enumerate(states) if state in ("doubtful", "bad") and not empty[i]]
        if other:   # fill that nobody checked, against content that was read with a fault
            return "disputed", min(other, key=lambda i: _ORDER.index(states[i]))
    votes = Counter(contents[i] for i in (counted if best == "good" else holding))
    winner, most = votes.most_common(1)[0]
    unsure = least and any(empty[i] > least and not blank[i] for i in voters)   # a text may be fill or content
    majority = 2 * most > len(voters) and not unsure
    chosen = next(i for i in voters if contents[i] == winner) if majority else holding[0]
    if best != "good":
        return best, chosen
    if len({contents[i] for i in voters}) == 1:
        return None, chosen
    return ("voted" if majority else "disputed"), chosen


def _interesting(reads: Sequence[Data], states: dict[int, list[SectorState]], grid: SectorGrid) -> Iterator[int]:
    """Give the beginnings of all sectors that are listed or that reads differ in, ascending."""
    size = len(reads[0])
    listed = sorted(start for start in states if start < size)
    number = 0
    at = 0
    while at < size:
        end = min(at + _PIECE, size)
        if end < size:   # whole sectors
            end = max(grid.offset(grid.place(end)), at + 1)
        pieces = [read[at:end] for read in reads]
        same = all(piece == pieces[0] for piece in pieces[1:])
        if same:
            while number < len(listed) and listed[number] < end:
                yield listed[number]
                number += 1
        else:
            for place in grid.places(at, end - at):
                start = grid.offset(place)
                stop = start + grid.size_at(place) - at
                different = any(piece[start - at : stop] != pieces[0][start - at : stop] for piece in pieces[1:])
                if different or start in states:
                    yield start
            while number < len(listed) and listed[number] < end:
                number += 1
        at = end


def _count(grid: SectorGrid, size: int) -> int:
    first, each = grid.first_track or (grid.sectors, grid.sector_bytes)
    rest = max(size - first * each, 0)
    return min(-(-size // each), first) + -(-rest // grid.sector_bytes)
