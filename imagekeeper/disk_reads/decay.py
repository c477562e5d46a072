"""How bad sectors become more along the cylinders of a disk."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def even(bad: float, total: float) -> float:
    """Bits to name bad sectors of which there are as many everywhere.

    Example:
        >>> even(360, 720)
        720.0
    """
    share = min(max(bad / total, 1e-9), 1 - 1e-9)
    return -float(bad * math.log2(share) + (total - bad) * math.log2(1 - share))


def tendency(bad: NDArray[np.float64], total: NDArray[np.float64]) -> tuple[float, float, int]:
    """Fit how the share of bad sectors rises along the cylinders: the logistic curve of most likelihood.

    Returns:
        The bits to name the bad sectors by this curve, its slope, and the cylinder where most of the rise lies.

    Example:
        >>> bits, slope, _ = tendency(np.arange(40.0) / 4, np.full(40, 18.0))
        >>> slope > 0 and bits < even(195, 720)
        True
    """
    place = np.linspace(-1, 1, len(total))
    share = (bad.sum() + 0.5) / (total.sum() + 1)
    weights = np.array([math.log(share / (1 - share)), 0.0])
    for _ in range(25):   # Newton's steps, held back a little so that a clean edge does not run away
        chance = 1 / (1 + np.exp(-np.clip(weights[0] + weights[1] * place, -30, 30)))
        error, spread = bad - total * chance, total * chance * (1 - chance)
        slope = np.array([error.sum(), (error * place).sum()]) - 0.02 * weights
        bend = np.array([[spread.sum(), (spread * place).sum()], [(spread * place).sum(), (spread * place**2).sum()]])
        weights = weights + np.clip(np.linalg.solve(bend + 0.02 * np.eye(2), slope), -3, 3)
    chance = np.clip(1 / (1 + np.exp(-np.clip(weights[0] + weights[1] * place, -30, 30))), 1e-9, 1 - 1e-9)
    bits = -float((bad * np.log2(chance) + (total - bad) * np.log2(1 - chance)).sum())
    return bits, float(weights[1]), int(np.average(np.arange(len(total)), weights=bad + 1e-9))
