"""How votes are counted at addresses where reads differ: by bytes or by bits, and weighed by supply voltage or not.

A majority is more than half of the reads. Where no value has one, the outcome says so, and nothing is settled.

Weights are for votes by bits. The state model: a cell that loses its charge reads 1 where it held 0, and does so sooner
the higher the supply, because the sense level follows the supply. A 0 that comes back at a lower supply is therefore
worth more than the 1 that a higher one gives. The highest voltage weighs 1, the next lower 2, and so on. Weights speak
for a 0 only, never for a 1, and one read alone never outvotes all others.

Sources:
    The erased state is 1 and only 0s are programmed: STMicroelectronics, M27512 data sheet, page 3. Programming is
    verified at a raised and finally at a lowered supply: STMicroelectronics, M27C512 data sheet, figure 8. That a
    lower supply brings lost 0s back is common practice, no source; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.majority import By, Ties

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]


@dataclass(frozen=True)
class Rule:
    """How votes are counted.

    Attributes:
        by: Whether whole bytes or single bits are voted on.
        weights: What each read's vote for a 0 weighs, by bits only; None where all weigh the same.
    """

    by: By = "byte"
    weights: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Outcome:
    """How the vote ended at some addresses.

    Attributes:
        values: The bytes that won; bits without a majority are those of the first read.
        tied: The bits that no majority settles, as 1; all eight where no byte has a majority.
    """

    values: Bytes
    tied: Bytes


def weights_by_voltage(volts: Sequence[float | None]) -> tuple[int, ...]:
    """Weigh reads by supply voltage: 1 for the highest and for what is not known, 2 for the next lower, and so on.

    Example:
        >>> weights_by_voltage([5.0, 4.5, None, 4.25])
        (1, 2, 1, 3)
    """
    steps = sorted({v for v in volts if v is not None}, reverse=True)
    return tuple(1 if v is None else steps.index(v) + 1 for v in volts)


def differing(reads: Sequence[Bytes]) -> Places:
    """Give the places at which not all reads are equal."""
    some = reads[0] ^ reads[1]
    for read in reads[2:]:
        some |= reads[0] ^ read
    return np.flatnonzero(some)


def decide(votes: Bytes, rule: Rule) -> Outcome:
    """Count the votes.

    Args:
        votes: One row a read, one column an address.
        rule: How to count.

    Example:
        >>> votes = np.array([[0x41, 1], [0x41, 2], [0xC1, 4]], np.uint8)
        >>> by_byte, by_bit = decide(votes, Rule("byte")), decide(votes, Rule("bit"))
        >>> by_byte.values.tolist(), by_byte.tied.tolist(), by_bit.values.tolist(), by_bit.tied.tolist()
        ([65, 1], [0, 255], [65, 0], [0, 0])
    """
    return _by_byte(votes) if rule.by == "byte" else _by_bit(votes, rule.weights)


def _by_byte(votes: Bytes) -> Outcome:
    reads = len(votes)
    winner = np.sort(votes, axis=0)[reads // 2]   # what more than half have lies in the middle
    won = 2 * (votes == winner).sum(axis=0) > reads
    return Outcome(np.where(won, winner, votes[0]), np.where(won, np.uint8(0), np.uint8(0xFF)))


def _by_bit(votes: Bytes, weights: tuple[int, ...] | None) -> Outcome:
    reads, addresses = votes.shape
    values, tied = np.zeros(addresses, np.uint8), np.zeros(addresses, np.uint8)
    for bit in range(8):
        ones = votes >> np.uint8(bit) & np.uint8(1)
        for_zero = reads - 2 * ones.sum(axis=0, dtype=np.int64)
        if weights is not None:
            weighed = sum(weights) - 2 * sum(w * row.astype(np.int64) for w, row in zip(weights, ones, strict=True))
            for_zero = np.maximum(for_zero, weighed)
        one = np.where(for_zero == 0, ones[0], for_zero < 0)
        values |= one.astype(np.uint8) << np.uint8(bit)
        tied |= (for_zero == 0).astype(np.uint8) << np.uint8(bit)
    return Outcome(values, tied)


def settled(first: Bytes, at: Places, outcome: Outcome, ties: Ties) -> Bytes:
    """Put an outcome where it belongs in the first read's bytes; what shall be a gap keeps the first read's value."""
    voted = first.copy()
    voted[at] = outcome.values if ties.leave != "fill" else np.where(outcome.tied, np.uint8(ties.fill), outcome.values)
    return voted
