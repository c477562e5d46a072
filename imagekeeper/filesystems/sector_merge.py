"""Several reads of one damaged disk made into one, sector by sector, with an account of where each came from.

A sector that some read got with its check value right is taken from there. Where two such reads differ, the majority
decides, and without one the sector stays disputed. Sectors that no read got are taken from the best there is, and keep
their state: what is not sure is never made to look so. The rule is our own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from imagekeeper.containers.model import Data
from imagekeeper.errors import UsageError
from imagekeeper.filesystems.bad_sectors import BadSector, SectorState, extents
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.units import size_text

MergedState = Literal["voted", "disputed", "doubtful", "bad", "missing"]

#: What each state of a merged sector means; all others are good.
MERGED_STATES: dict[MergedState, str] = {
    "voted": "reads that call it good differ, and most of them agree",
    "disputed": "reads that call it good differ, and no majority decides: the first is taken, but never fill before "
    "content",
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


def merge(reads: Sequence[Data], listed: Sequence[Sequence[BadSector] | None], grid: SectorGrid) -> SectorMerge:
    r"""Merge reads of one disk.

    Args:
        reads: Images of equal size.
        listed: For each read its list of sectors that are not good; None where there is no list.
        grid: The geometry of the disk.

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
    for start in _interesting(reads, states, grid):
        place = grid.place(start)
        length = min(grid.size_at(place), len(reads[0]) - start)
        mine = states.get(start, ["good"] * len(reads))
        contents = [read[start : start + length] for read in reads]
        outcome, chosen = _decide(mine, contents, [one is not None for one in listed])
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
        raise UsageError(
            "usage", "there is nothing to merge", why=f"{len(reads)} read was given",
            hint="give two or more reads of the disk",
        )  # fmt: skip
    for read in reads[1:]:
        if len(read) != len(reads[0]):
            raise UsageError(
                "usage", "the reads have different sizes",
                why=f"the first has {size_text(len(reads[0]))}, another {size_text(len(read))}",
                hint="bring them to one geometry first with `imagekeeper convert --fit-geometry`",
            )  # fmt: skip


def _decide(
    states: Sequence[SectorState], contents: Sequence[bytes], told: Sequence[bool] | None = None
) -> tuple[MergedState | None, int]:
    r"""Choose the read for one sector, and say how sure it is; None for good.

    Args:
        states: What each read says of the sector.
        contents: What each read has there.
        told: Whether a list says so, or the read is called good only for want of one; None for no lists.

    Example:
        >>> _decide(["good", "bad", "good"], [b"ab", b"bc", b"ab"]), _decide(["bad", "missing"], [b"ab", b"bc"])
        ((None, 0), ('bad', 0))
        >>> _decide(["good"] * 3, [b"\xe5\xe5", b"\xe5\xe5", b"TI"])
        ('disputed', 2)
    """
    best = min(states, key=_ORDER.index)
    voters = [i for i, state in enumerate(states) if state == best]
    holding = [i for i in voters if not is_fill(contents[i])]
    if best == "good" and not holding and not (told and any(told[i] for i in voters)):
        other = [i for i, state in enumerate(states) if state in ("doubtful", "bad") and not is_fill(contents[i])]
        if other:   # fill that nobody checked, against content that was read with a fault
            return "disputed", min(other, key=lambda i: _ORDER.index(states[i]))
    votes = Counter(contents[i] for i in holding or voters)
    winner, most = votes.most_common(1)[0]
    majority = 2 * most > len(voters)
    chosen = next(i for i in voters if contents[i] == winner) if majority else (holding or voters)[0]
    if best != "good":
        return best, chosen
    if len({contents[i] for i in voters}) == 1:
        return None, chosen
    return ("voted" if majority else "disputed"), chosen


def is_fill(sector: bytes) -> bool:
    r"""Whether a sector is nothing but fill: one byte, or up to four, over and over.

    Formatting and programs that skip what they cannot read leave one byte; test patterns have two or three. Common
    practice, no source.

    Example:
        >>> is_fill(b"\xe5" * 512), is_fill(b"\x6d\xb6" * 256), is_fill(b"TIDE GATE" * 3)
        (True, True, False)
    """
    return any(len(sector) >= 2 * period and sector[period:] == sector[:-period] for period in (1, 2, 3, 4))


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
