"""Count a vote over aligned reads, block by block, and give the image that it makes."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from typing import Any, SupportsIndex, overload

import numpy as np

from imagekeeper.comparison.alignment import Alignment
from imagekeeper.comparison.ballots import Bytes, Outcome, Places, Rule, decide, differing, settled
from imagekeeper.comparison.majority import DisputedAddress, Ties
from imagekeeper.containers.model import PIECE_BYTES, Data, DataWindow, Image, Segment
from imagekeeper.floppy.fill import emptiness

#: So many disputed addresses with a majority are listed, and so many without one; all are counted.
MAX_LISTED = 1000

#: An image with more gaps than this is not made: reads with so many ties have too little in common.
MAX_GAPS = 100_000

#: Fill is looked for in blocks of this size, that of the smallest sectors. [byte]
BLOCK = 128

#: A read holds content where another holds fill when so many bytes of a block are not that fill. Fewer are a fault of
#: the read. Common practice, no source. [byte]
CONTENT = 32

#: All reads together take about so much memory at a time. [byte]
_BUDGET = 16 * PIECE_BYTES


def piece_bytes(reads: int) -> int:
    """Choose how much of each read to take at a time. [byte]

    Example:
        >>> piece_bytes(3), piece_bytes(1000)
        (1048576, 16777)
    """
    return max(min(PIECE_BYTES, _BUDGET // reads), 4096)


class Tally:
    r"""Takes aligned blocks in ascending order, votes, and counts.

    Args:
        reads: How many reads vote.
        rule: How votes are counted.
        ties: What becomes of addresses without a majority.
        free: Tells of a stretch, its address and length, whether nothing is kept there, so that fill may be all of it.

    Example:
        >>> tally = Tally(3, Rule(), Ties())
        >>> tally.update((0x100, (b"\x01\x02", b"\x01\x03", b"\x01\x04")))
        >>> tally.addresses, tally.bits, tally.ties, tally.size_bytes, tally.tie_runs
        (1, 3, 1, 1, [[257, 258]])
    """

    def __init__(
        self, reads: int, rule: Rule, ties: Ties, free: Callable[[int, int], bool] = lambda start, length: False
    ) -> None:
        self._rule = rule
        self._policy = ties
        self._free = free
        self.outvoted = [0] * reads
        self.addresses = self.bits = self.ties = self.size_bytes = 0
        self.with_majority: list[DisputedAddress] = []
        self.without: list[DisputedAddress] = []
        self.tie_runs: list[list[int]] = []   # start and end of each
        self.too_many_runs = False
        self.filled = 0                       # blocks in which fill outvotes content
        self.first_filled: int | None = None  # where the first of them begins
        self.digest = hashlib.sha256()

    def update(self, block: tuple[int, Sequence[bytes]], /) -> None:
        """Vote over one block: its address, and the bytes of every read there."""
        start, reads = block
        if _equal(reads):
            self._take(reads[0])
            return
        arrays = [np.frombuffer(read, np.uint8) for read in reads]
        at, votes, outcome = _elect(arrays, self._rule)
        tied = np.flatnonzero(outcome.tied)
        self.addresses += len(at)
        self.ties += len(tied)
        some, every = np.bitwise_or.reduce(votes, axis=0), np.bitwise_and.reduce(votes, axis=0)
        self.bits += int(np.bitwise_count(some ^ every).sum())
        for i, row in enumerate(votes):
            self.outvoted[i] += int(np.count_nonzero((row ^ outcome.values) & ~outcome.tied))
        self._list(self.with_majority, np.flatnonzero(outcome.tied == 0), at + start, votes, outcome)
        self._list(self.without, tied, at + start, votes, outcome)
        voted = settled(arrays[0], at, outcome, self._policy)
        self._note_fill(start, arrays, at, voted)
        if self._policy.leave == "gap" and len(tied):
            self._note_runs(at[tied] + start)
            voted = np.delete(voted, at[tied])
        self._take(voted.tobytes())

    def _take(self, voted: bytes) -> None:
        self.digest.update(voted)
        self.size_bytes += len(voted)

    def _list(
        self, listed: list[DisputedAddress], columns: Places, addresses: Places, votes: Bytes, outcome: Outcome
    ) -> None:
        for column in columns[: MAX_LISTED - len(listed)].tolist():
            tied = int(outcome.tied[column])
            listed.append(
                DisputedAddress(
                    int(addresses[column]), tuple(f"{value:02X}" for value in votes[:, column].tolist()),
                    None if tied else f"{int(outcome.values[column]):02X}", f"{tied:02X}",
                )
            )  # fmt: skip

    def _note_fill(self, start: int, reads: Sequence[Bytes], at: Places, voted: Bytes) -> None:
        """Count the blocks in which some reads hold fill, and those that hold content are no majority."""
        numbers, counts = np.unique((at + start) // BLOCK, return_counts=True)
        for number in numbers[counts >= CONTENT].tolist():
            begin, end = max(number * BLOCK - start, 0), (number + 1) * BLOCK - start
            blocks = [read[begin:end] for read in reads]
            empty = [emptiness(block.tobytes()) for block in blocks]
            fills = [block for block, is_empty in zip(blocks, empty, strict=True) if is_empty]
            fills += [voted[begin:end]] if not np.ptp(voted[begin:end]) else []
            if not fills:
                continue
            content = [
                block for block, is_empty in zip(blocks, empty, strict=True)
                if not is_empty and all(np.count_nonzero(block != fill) >= CONTENT for fill in fills)
            ]  # fmt: skip
            if content and 2 * len(content) <= len(reads) and not self._free(start + begin, len(blocks[0])):
                self.filled += 1
                if self.first_filled is None:
                    self.first_filled = start + begin

    def _note_runs(self, addresses: Places) -> None:
        breaks = np.flatnonzero(np.diff(addresses) != 1) + 1
        if self.too_many_runs or len(self.tie_runs) + len(breaks) >= MAX_GAPS:
            self.too_many_runs = True
            return
        for run in np.split(addresses, breaks):
            first, end = int(run[0]), int(run[-1]) + 1
            if self.tie_runs and self.tie_runs[-1][1] == first:
                self.tie_runs[-1][1] = end
            else:
                self.tie_runs.append([first, end])


def _equal(reads: Sequence[bytes]) -> bool:
    return all(read == reads[0] for read in reads[1:])


def _elect(arrays: Sequence[Bytes], rule: Rule) -> tuple[Places, Bytes, Outcome]:
    """Vote where reads differ: the places, every read's bytes there, and the outcome."""
    at = differing(arrays)
    votes = np.stack([array[at] for array in arrays])
    return at, votes, decide(votes, rule)


class _Voted:
    """The majority's bytes over some addresses, voted on when they are asked for.

    Args:
        sides: The bytes of every read over these addresses.
        rule: How votes are counted.
        ties: What becomes of addresses without a majority.
    """

    def __init__(self, sides: Sequence[Data], rule: Rule, ties: Ties) -> None:
        self._sides = sides
        self._rule = rule
        self._ties = ties

    def __len__(self) -> int:
        return len(self._sides[0])

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        if not isinstance(index, slice):
            at = range(len(self))[index]
            return self[at : at + 1][0]
        start, stop, step = index.indices(len(self))
        size = piece_bytes(len(self._sides))
        return b"".join(self._voted(at, min(at + size, stop)) for at in range(start, stop, size))[::step]

    def _voted(self, start: int, stop: int) -> bytes:
        reads = [side[start:stop] for side in self._sides]
        if _equal(reads):
            return reads[0]
        arrays = [np.frombuffer(read, np.uint8) for read in reads]
        at, _, outcome = _elect(arrays, self._rule)
        return settled(arrays[0], at, outcome, self._ties).tobytes()


def voted_image(alignment: Alignment, rule: Rule, ties: Ties, tally: Tally) -> Image:
    """Give the majority image of aligned reads; no byte of it is held in memory.

    Args:
        alignment: The reads.
        rule: How votes are counted.
        ties: What becomes of addresses without a majority.
        tally: The vote over all of them.

    Returns:
        An image; without a byte where it would have more than `MAX_GAPS` gaps.
    """
    entries = {image.entry for image in alignment.images} - {None}
    segments = () if tally.too_many_runs else tuple(_segments(alignment, rule, ties, tally.tie_runs))
    return Image(
        segments=segments,
        addressed=any(image.addressed for image in alignment.images),
        entry=entries.pop() if len(entries) == 1 else None,
    )


def _segments(alignment: Alignment, rule: Rule, ties: Ties, runs: Sequence[Sequence[int]]) -> Iterator[Segment]:
    walkers = [iter(image.segments) for image in alignment.images]
    now = [next(walker) for walker in walkers]
    pending = iter(runs)
    run = next(pending, None)
    for span in alignment.common:
        for i, walker in enumerate(walkers):
            while now[i].end < span.end:
                now[i] = next(walker)
        sides = [DataWindow(segment.data, span.start - segment.start, span.length) for segment in now]
        data, at = _Voted(sides, rule, ties), span.start
        while run is not None and run[0] < span.end:
            if run[0] > at:
                yield Segment(at, DataWindow(data, at - span.start, run[0] - at))
            at = run[1]
            run = next(pending, None)
        if at < span.end:
            yield Segment(at, DataWindow(data, at - span.start, span.end - at))
