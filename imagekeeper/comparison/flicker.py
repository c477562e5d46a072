"""Cells that are near the threshold: the same ones give both values, now this and now that, from read to read.

Noise strikes other cells each time. Where many cells are seen wrong in more than one read, and right in more than one,
the reads share them: they are named once, and then each read says which of them it saw as 1. Common practice, no
source.
"""

from __future__ import annotations

import numpy as np

from imagekeeper.comparison.coding import choice_bits, subset_bits
from imagekeeper.comparison.pair import Account
from imagekeeper.comparison.reads import Reads
from imagekeeper.comparison.voltages import FEWEST, ByCell, cells_of

#: In fewer reads nothing tells a cell that flickers from noise in one of them.
FEWEST_READS = 4


def explained(reads: Reads) -> ByCell | None:
    """Explain the differences by cells that flicker.

    Args:
        reads: All reads; those at several supply voltages are told by `voltages`.

    Returns:
        None where there are too few reads, or nothing speaks for it.

    Example:
        >>> dice = np.random.default_rng(1)
        >>> cells = np.unpackbits(np.full(1024, 0x0F, np.uint8))
        >>> weak = np.flatnonzero(cells == 0)[::40]
        >>> images = []
        >>> for _ in range(5):
        ...     cells[weak] = dice.integers(0, 2, len(weak))
        ...     images.append(np.packbits(cells))
        >>> five = Reads(images=tuple(images), numbers=tuple((n,) for n in range(1, 6)), names=tuple("abcde"),
        ...              volts=((None,),) * 5)
        >>> explained(five).account.about
        'charge-loss/flickering'
    """
    if reads.total < FEWEST_READS:
        return None
    values = cells_of(reads.images)
    if values is None or values.shape[1] < FEWEST:
        return None
    weights = np.array([len(numbers) for numbers in reads.numbers])
    ones = (values * weights[:, None]).sum(axis=0)
    cells = values.shape[1]
    shared = int(np.count_nonzero((ones > 1) & (ones < reads.total - 1)))
    if shared < FEWEST:
        return None
    lost = int(np.bitwise_count(~np.bitwise_and.reduce(reads.images)).sum(dtype=np.int64))
    bits = choice_bits(2) + subset_bits(lost if reads.holds_charge else 8 * reads.size, cells)
    bits += sum(
        subset_bits(cells, int(row.sum())) * weight for row, weight in zip(values, weights.tolist(), strict=True)
    )
    about = "charge-loss/flickering" if reads.holds_charge else "weak-cells/flickering"
    account = Account.of(about, reads=reads.total, detail={"cells": cells, "in_several": shared})
    return ByCell(account=account, bits=bits, explained=1.0, cells=cells, levels=0)
