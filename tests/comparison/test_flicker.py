"""Cells near the threshold, which give both values in reads of one supply."""

from __future__ import annotations

import numpy as np
import pytest

from imagekeeper.comparison.pair import Bytes
from tests.comparison.content import PROGRAM, causes, flipped

GOOD = PROGRAM[:8192]


def flickering(count: int, seed: int = 5, cells: int = 120) -> list[Bytes]:
    dice = np.random.default_rng(seed)
    bits = np.unpackbits(GOOD)
    weak = dice.choice(np.flatnonzero(bits == 0), cells, replace=False)
    reads = []
    for _ in range(count):
        bits[weak] = dice.integers(0, 2, cells)
        reads.append(np.packbits(bits))
    return reads


@pytest.mark.parametrize("count", [4, 5, 6])
def test_cells_that_flicker_have_lost_charge(count: int) -> None:
    found = causes(*flickering(count), technology="eprom")[0]
    assert found.code == "charge-loss"
    assert found.detail["in_several"] > 20
    assert found.confidence > 0.9


def test_memory_that_holds_no_charge_loses_none() -> None:
    codes = {one.code for one in causes(*flickering(5), technology="mask-rom")}
    assert "charge-loss" not in codes
    assert "weak-cells" in codes


def test_noise_strikes_other_cells_each_time() -> None:
    found = causes(*(flipped(GOOD, seed, 60) for seed in range(5)))
    assert found[0].code == "random-noise"
    assert not any("in_several" in one.detail for one in found)
