"""Count where aligned reads differ; the counts themselves are in `difference`."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.difference import (
    AddressLine,
    DataLineDifference,
    DifferenceMap,
    Differences,
    Range,
    address_lines_below,
)

#: Differing ranges are listed up to this many, and counted beyond.
MAX_RANGES = 1000


class MapCounter:
    r"""Counts differing bits by data line and column of addresses.

    Args:
        start: The first address. [byte]
        end: The first address after the last. [byte]
        columns: How many columns at most.

    Example:
        >>> counter = MapCounter(0, 4, 2)
        >>> counter.update((0, (b"\0\0\0\0", b"\0\0\0\1")))
        >>> counter.result().zero_to_one[0]
        (0, 1)
    """

    def __init__(self, start: int, end: int, columns: int) -> None:
        self._start = start
        self._width = max(-(-(end - start) // columns), 1)
        shape = (8, max(-(-(end - start) // self._width), 1))
        self._up, self._down = np.zeros(shape, np.int64), np.zeros(shape, np.int64)

    def update(self, block: tuple[int, Sequence[bytes]], /) -> None:
        """Count one block: its address, and the bytes of every read there."""
        start, reads = block
        arrays = [np.frombuffer(read, np.uint8) for read in reads]
        some, every = _any_and_all(arrays)
        for counts, pattern in ((self._up, some & ~arrays[0]), (self._down, arrays[0] & ~every)):
            at = np.flatnonzero(pattern)
            columns, pattern = (at + (start - self._start)) // self._width, pattern[at]
            for bit in range(8):
                hit = columns[(pattern & (1 << bit)) != 0]
                counts[bit] += np.bincount(hit, minlength=counts.shape[1])

    def result(self) -> DifferenceMap:
        """Give the counts so far."""
        return DifferenceMap(
            self._start, self._width,
            tuple(map(tuple, self._up.tolist())), tuple(map(tuple, self._down.tolist())),
        )  # fmt: skip


class DifferenceCounter:
    r"""Takes aligned blocks in ascending order and counts.

    Args:
        end_address: The first address after all reads, which tells how many address lines there are.

    Example:
        >>> counter = DifferenceCounter(2)
        >>> counter.update((0, (b"\x0f\x01", b"\x0f\x81")))
        >>> counter.result(2).ranges
        (Range(start=1, length=1, zero_to_one=1, one_to_zero=0),)
    """

    def __init__(self, end_address: int) -> None:
        self._lines = address_lines_below(end_address)
        self._bytes = 0
        self._up = np.zeros(256, np.int64)     # how often each pattern of 0 to 1 came
        self._down = np.zeros(256, np.int64)
        self._high = [0] * self._lines
        self._ranges: list[Range] = []
        self._ranges_total = 0
        self._last_end = -1

    def update(self, block: tuple[int, Sequence[bytes]], /) -> None:
        """Count one block: its address, and the bytes of every read there."""
        start, reads = block
        if all(read == reads[0] for read in reads[1:]):
            return
        arrays = [np.frombuffer(read, np.uint8) for read in reads]
        first = arrays[0]
        some, every = _any_and_all(arrays)
        up, down = some & ~first, first & ~every
        at = np.flatnonzero(up | down)
        up, down = up[at], down[at]
        self._bytes += len(at)
        self._up += np.bincount(up, minlength=256)
        self._down += np.bincount(down, minlength=256)
        addresses = at + start
        for line in range(self._lines):
            self._high[line] += int(np.count_nonzero(addresses & (1 << line)))
        self._note_ranges(addresses, up, down)

    def _note_ranges(
        self, addresses: NDArray[np.int64], up: NDArray[np.uint8], down: NDArray[np.uint8]
    ) -> None:
        starts = np.flatnonzero(np.diff(addresses, prepend=addresses[0] - 2) != 1)
        goes_on = int(addresses[0]) == self._last_end
        last_is_listed = self._ranges_total == len(self._ranges)
        self._ranges_total += len(starts) - goes_on
        ends = np.append(starts[1:], len(addresses))
        for i, (low, high) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
            extends = i == 0 and goes_on
            if extends and not last_is_listed:
                continue   # it goes on from a range that is counted but not listed
            if not extends and len(self._ranges) == MAX_RANGES:
                break
            new = Range(
                int(addresses[low]), high - low,
                int(np.bitwise_count(up[low:high]).sum()), int(np.bitwise_count(down[low:high]).sum()),
            )  # fmt: skip
            if extends:
                old = self._ranges.pop()
                new = Range(
                    old.start, old.length + new.length,
                    old.zero_to_one + new.zero_to_one, old.one_to_zero + new.one_to_zero,
                )  # fmt: skip
            self._ranges.append(new)
        self._last_end = int(addresses[-1]) + 1

    def result(self, compared_bytes: int) -> Differences:
        """Give the counts so far."""
        patterns = np.arange(256)
        lines = tuple(
            DataLineDifference(
                f"D{bit}",
                int(self._up[patterns & (1 << bit) != 0].sum()),
                int(self._down[patterns & (1 << bit) != 0].sum()),
            )
            for bit in range(8)
        )
        up, down = sum(line.zero_to_one for line in lines), sum(line.one_to_zero for line in lines)
        return Differences(
            bytes=self._bytes,
            bits=up + down,
            zero_to_one=up,
            one_to_zero=down,
            ranges=tuple(self._ranges),
            ranges_total=self._ranges_total,
            data_lines=lines,
            address_lines=tuple(
                AddressLine(f"A{i}", self._bytes - high, high) for i, high in enumerate(self._high)
            ),
            compared_bytes=compared_bytes,
        )


def _any_and_all(arrays: list[NDArray[np.uint8]]) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Combine reads bit by bit: where any holds 1, and where all do."""
    some, every = arrays[0] | arrays[1], arrays[0] & arrays[1]
    for array in arrays[2:]:
        some |= array
        every &= array
    return some, every
