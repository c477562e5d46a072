"""Recover how lines were exchanged between two reads of one content: any permutation of data and of address lines.

An exchange of data lines changes no byte's count of ones, so that the counts lie in the second read as in the first,
moved only by the exchange of address lines. For each address line, and each pair of them, we sum a number that
depends on the count alone, once with plus where the line is 1 and once with minus: these sums (the first and second
order of the Walsh-Hadamard spectrum) move with their lines, whatever else was exchanged, and tell which went where.
Lines that they cannot tell apart are tried out. Every answer is held against all bytes before it is given.

Source: our own method; the transform is that of J. L. Walsh, American Journal of Mathematics 45, 1923.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.pair import Bytes, planes

#: Beyond this the search is not made: no chip of the period has so many bytes. [byte]
SIZE_LIMIT = 1 << 22

#: Arrangements of address lines that are tried out, where the sums leave more than one.
TRIALS = 48

#: Steps of the search for arrangements that fit the sums.
STEPS = 20_000

#: A number for each count of ones, 0 to 8, without simple relations between them.
_NUMBERS = np.array([0, 1, 5, 29, 173, 1031, 6197, 37199, 223_211], np.int64)


@dataclass(frozen=True)
class Wiring:
    """Which line of the first read came out on which line of the second.

    Attributes:
        address: For each address line of the second read, A0 first, the line of the first that it carries.
        data: For each data line of the second read, D0 first, the line of the first that it carries.
        data_alike: Sets of data lines of the first read that carry the same data everywhere and cannot be told apart.
    """

    address: tuple[int, ...]
    data: tuple[int, ...]
    data_alike: tuple[tuple[int, ...], ...] = ()

    @property
    def moved_address(self) -> tuple[int, ...]:
        """The address lines of the second read that carry another line."""
        return tuple(i for i, line in enumerate(self.address) if i != line)

    @property
    def moved_data(self) -> tuple[int, ...]:
        """The data lines of the second read that carry another line."""
        return tuple(i for i, line in enumerate(self.data) if i != line)


def exchange_address_lines(data: Bytes, address: tuple[int, ...]) -> Bytes:
    """Read `data` with its address lines exchanged: line i of the result carries line `address[i]`.

    Example:
        >>> exchange_address_lines(np.arange(8, dtype=np.uint8), (1, 0, 2)).tolist()
        [0, 2, 1, 3, 4, 6, 5, 7]
    """
    lines = len(address)
    # axis 0 of the cube is the highest line; where line i of the result carries line j, axis i is axis j of the source
    axes = [lines - 1 - address[lines - 1 - axis] for axis in range(lines)]
    return np.ascontiguousarray(data.reshape((2,) * lines).transpose(axes)).reshape(-1)


def exchange_data_lines(data: Bytes, lines: tuple[int, ...]) -> Bytes:
    """Read `data` with its data lines exchanged: line i of the result carries line `lines[i]`.

    Example:
        >>> exchange_data_lines(np.array([0x01], np.uint8), (7, 1, 2, 3, 4, 5, 6, 0)).tolist()
        [128]
    """
    values = np.arange(256)
    table = np.zeros(256, np.uint8)
    for to, line in enumerate(lines):
        table |= (((values >> line) & 1) << to).astype(np.uint8)
    return table[data]


def spectrum(values: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Sum values with the sign of each address line, and of each pair of lines.

    Args:
        values: As many as a power of two.

    Returns:
        One sum a line, and a symmetric table of one a pair; each value is added where the line (or the exclusive or
        of the two) is 0 and subtracted where it is 1.

    Example:
        >>> first, second = spectrum(np.array([1, 2, 3, 5]))
        >>> first.tolist(), second.tolist()
        ([-3, -5], [[0, 1], [1, 0]])
    """
    lines = (len(values) - 1).bit_length()
    first, second = np.zeros(lines, np.int64), np.zeros((lines, lines), np.int64)
    for line in range(lines - 1, -1, -1):
        low, high = values[: len(values) // 2], values[len(values) // 2 :]
        difference, values = low - high, low + high
        first[line] = difference.sum()
        for below in range(line - 1, -1, -1):
            half = len(difference) // 2
            second[line, below] = second[below, line] = difference[:half].sum() - difference[half:].sum()
            difference = difference[:half] + difference[half:]
    return first, second


def find(first: Bytes, second: Bytes) -> tuple[Wiring, ...]:
    """Find every exchange of lines that turns one read into the other, the ones that move fewest lines first.

    Args:
        first: A read whose size is a power of two.
        second: Another of the same size.

    Returns:
        Nothing where no exchange does it exactly; more than one where the content cannot tell them apart (at most
        `TRIALS` arrangements of address lines).

    Example:
        >>> data = np.random.default_rng(1).integers(0, 256, 4096, np.uint8)
        >>> find(data, exchange_data_lines(data, (1, 0, 2, 3, 4, 5, 6, 7)))[0].moved_data
        (0, 1)
    """
    size = len(first)
    if size != len(second) or size < 2 or size & (size - 1) or size > SIZE_LIMIT:
        return ()
    counts_first, counts_second = np.bitwise_count(first), np.bitwise_count(second)
    if not np.array_equal(np.bincount(counts_first, minlength=9), np.bincount(counts_second, minlength=9)):
        return ()
    found = []
    for address in _arrangements(spectrum(_NUMBERS[counts_first]), spectrum(_NUMBERS[counts_second])):
        if not np.array_equal(exchange_address_lines(counts_first, address), counts_second):
            continue
        data = _match_data_lines(exchange_address_lines(first, address), second)
        if data is not None:
            found.append(Wiring(address, *data))
    return tuple(sorted(found, key=lambda w: (len(w.moved_address) + len(w.moved_data), len(w.moved_address))))


def _arrangements(
    a: tuple[NDArray[np.int64], NDArray[np.int64]], b: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> Iterator[tuple[int, ...]]:
    """Give the arrangements of address lines under which all sums agree: for each line of b, its line of a."""
    first_a, second_a = a[0].tolist(), a[1].tolist()
    first_b, second_b = b[0].tolist(), b[1].tolist()
    lines = len(first_a)
    rows_a = [sorted(row) for row in second_a]
    rows_b = [sorted(row) for row in second_b]
    # the same line first, so that what the content cannot tell stays where it is
    options = [
        sorted(
            (j for j in range(lines) if first_a[j] == first_b[i] and rows_a[j] == rows_b[i]), key=lambda j: j != i
        )
        for i in range(lines)
    ]
    order = sorted(range(lines), key=lambda i: len(options[i]))
    chosen: dict[int, int] = {}
    steps = given = 0

    def extend(depth: int) -> Iterator[tuple[int, ...]]:
        nonlocal steps, given
        if depth == lines:
            given += 1
            yield tuple(chosen[i] for i in range(lines))
            return
        i = order[depth]
        for j in options[i]:
            steps += 1
            if steps > STEPS or given >= TRIALS:
                return
            if j in chosen.values() or any(second_b[i][k] != second_a[j][chosen[k]] for k in chosen):
                continue
            chosen[i] = j
            yield from extend(depth + 1)
            del chosen[i]

    yield from extend(0)


def _match_data_lines(first: Bytes, second: Bytes) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]] | None:
    """Find which data line of the first each data line of the second carries, exactly; and which are alike."""
    rows_first = [row.tobytes() for row in planes(first)]
    rows_second = [row.tobytes() for row in planes(second)]
    sources: dict[bytes, list[int]] = {}
    for line, row in enumerate(rows_first):
        sources.setdefault(row, []).append(line)
    alike = tuple(tuple(lines) for lines in sources.values() if len(lines) > 1)
    data: dict[int, int] = {}
    for line, row in enumerate(rows_second):   # what stays in place is settled first
        if line in sources.get(row, ()):
            sources[row].remove(line)
            data[line] = line
    for line, row in enumerate(rows_second):
        if line in data:
            continue
        if not sources.get(row):
            return None
        data[line] = sources[row].pop(0)
    return tuple(data[line] for line in range(8)), alike


#: Addresses looked at while lines are exchanged one pair at a time.
SAMPLE = 2048


def find_roughly(first: Bytes, second: Bytes) -> tuple[int, ...] | None:
    """Find an exchange of address lines that turns one read into the other but for some wrong bytes.

    The sums of single lines, one for each count of ones, are hardly moved by a few wrong bytes: lines are matched by
    the nearest, and then exchanged pair by pair as long as more bytes fit.

    Returns:
        For each address line of the second, the line of the first that it carries; None where none but itself fits.

    Example:
        >>> data = np.random.default_rng(1).integers(0, 256, 4096, np.uint8)
        >>> moved = exchange_address_lines(data, (1, 0, 2, 3, 4, 5, 6, 7, 8, 9, 11, 10))
        >>> moved[::100] ^= 1
        >>> find_roughly(data, moved)
        (1, 0, 2, 3, 4, 5, 6, 7, 8, 9, 11, 10)
    """
    size = len(first)
    if size != len(second) or size < 16 or size & (size - 1) or size > SIZE_LIMIT:
        return None
    lines = (size - 1).bit_length()
    some = np.arange(0, size, size // SAMPLE | 1)
    seen = second[some]

    def wrong(address: Sequence[int]) -> int:
        source = np.zeros(len(some), np.int64)
        for line, carried in enumerate(address):
            source |= ((some >> line) & 1) << carried
        return int(np.count_nonzero(first[source] != seen))

    plain = tuple(range(lines))
    starts = {plain, _nearest(first, second)}
    best = min((wrong(one), one) for one in starts)
    while True:
        count, address = best
        for i, j in combinations(range(lines), 2):
            tried = list(address)
            tried[i], tried[j] = tried[j], tried[i]
            best = min(best, (wrong(tried), tuple(tried)))
        if best[0] >= count:
            break
    return None if best[1] == plain else best[1]


def _nearest(first: Bytes, second: Bytes) -> tuple[int, ...]:
    """Match the address lines of two reads by how counts of ones lie where each line is 1, the nearest first."""
    lines = (len(first) - 1).bit_length()
    rows = []
    for side in (first, second):
        counts = np.bitwise_count(side)
        high = [counts.reshape(-1, 2, 1 << line)[:, 1, :].ravel() for line in range(lines)]
        rows.append(np.stack([np.bincount(one, minlength=9) for one in high]))
    distance = np.abs(rows[1][:, None, :] - rows[0][None, :, :]).sum(axis=2)
    found: dict[int, int] = {}
    for flat in np.argsort(distance, axis=None).tolist():
        to, line = divmod(flat, lines)
        if to not in found and line not in found.values():
            found[to] = line
    return tuple(found[line] for line in range(lines))


def solutions(wiring: Wiring) -> int:
    """Count the exchanges of data lines that are as good as this one.

    Example:
        >>> solutions(Wiring((0,), tuple(range(8)), ((0, 1, 2),)))
        6
    """
    return math.prod(math.factorial(len(lines)) for lines in wiring.data_alike)
