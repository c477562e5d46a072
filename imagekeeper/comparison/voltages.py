"""Cells that follow the supply voltage: each cell looked at over all reads, in the order of their voltages.

The higher the supply, the sooner a cell that lost some of its charge reads 1. Cells that change the other way, or some
each way, are near the threshold without having lost charge: they were programmed too weakly, or the chip is at its
limits. Noise keeps to no order. Common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, subset_bits
from imagekeeper.comparison.pair import Account, Bytes
from imagekeeper.comparison.reads import Reads

#: With more cells than this that differ it is no matter of single cells.
MOST_CELLS = 200_000

#: Fewer cells show no order.
FEWEST = 3


@dataclass(frozen=True, kw_only=True)
class ByCell:
    """What is explained cell by cell over all reads.

    Attributes:
        account: The finding that it comes to.
        bits: Length of describing all differences so. [bit]
        explained: The share of the differing cells that keep to it.
        cells: How many cells differ.
        levels: How many voltages there are; 0 where they say nothing.
    """

    account: Account
    bits: float
    explained: float
    cells: int
    levels: int


def explained(reads: Reads) -> ByCell | None:
    """Explain the differences by cells that change once as the voltage rises, and not back.

    Args:
        reads: All reads.

    Returns:
        None where the voltages are not known, are all the same, or say nothing.
    """
    taken_at = [(i, one) for i, volts in enumerate(reads.volts) for one in volts]
    levels = sorted({one for _, one in taken_at if one is not None})
    if len(levels) < 2 or any(one is None for _, one in taken_at):
        return None
    values = cells_of(reads.images)
    if values is None or values.shape[1] < FEWEST:
        return None
    means = np.stack([values[[i for i, one in taken_at if one == level]].mean(axis=0) for level in levels])
    steps = np.diff(means, axis=0)
    rises = np.all(steps >= 0, axis=0) & (means[-1] > means[0])
    falls = np.all(steps <= 0, axis=0) & (means[-1] < means[0])
    cells = values.shape[1]
    up, down = int(rises.sum()), int(falls.sum())
    turns = np.abs(steps) > 0
    best: tuple[float, int, str] | None = None
    for way, chosen in (("rising", rises), ("falling", falls), ("both ways", rises | falls)):
        taken = int(chosen.sum())
        left = cells - taken
        at_step = turns[:, chosen].argmax(axis=0) if taken else np.zeros(0, np.int64)
        bits = choice_bits(3) + subset_bits(8 * reads.size, taken)
        bits += _arrangements(np.bincount(at_step, minlength=len(steps)))
        if way != "both ways" and (reads.holds_charge or len(levels) > 2):
            bits -= taken   # what a cell holds otherwise tells the way; of no charge nothing is known beforehand
        bits += subset_bits(8 * reads.size * len(reads.images), left) if left else 0.0
        if taken >= FEWEST and left * 4 <= cells and (best is None or bits < best[0]):
            best = bits, taken, way
    if best is None:
        return None
    bits, taken, way = best
    lost = way == "rising" and reads.holds_charge
    detail = {
        "cells": taken, "of_cells": cells, "rising": up, "falling": down, "volts": levels, "way": way,
    }  # fmt: skip
    about = "charge-loss/by-volts" if lost else "weak-cells"
    account = Account.of(about, at_volts=[f"{one:g} V" for one in levels], detail=detail)
    return ByCell(account=account, bits=bits, explained=taken / cells, cells=cells, levels=len(levels))


def _arrangements(counts: NDArray[np.int64]) -> float:
    """Bits to say at which step each cell changes."""
    ways = math.lgamma(counts.sum() + 1) - sum(math.lgamma(int(one) + 1) for one in counts)
    return ways / math.log(2)


def cells_of(images: tuple[Bytes, ...]) -> NDArray[np.uint8] | None:
    """Give the value of each differing cell in each image: one row an image."""
    some, every = images[0].copy(), images[0].copy()
    for image in images[1:]:
        some |= image
        every &= image
    differing = some & ~every
    at = np.flatnonzero(differing)
    if not len(at) or int(np.bitwise_count(differing[at]).sum()) > MOST_CELLS:
        return None
    chosen = np.unpackbits(differing[at]).astype(bool)
    return np.stack([np.unpackbits(image[at])[chosen] for image in images])
