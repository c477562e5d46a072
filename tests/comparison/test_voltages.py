"""Cells that follow the supply, over three to five reads.

The higher the supply, the sooner a cell that lost charge reads 1. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.comparison import voltages
from imagekeeper.comparison.pair import Bytes
from imagekeeper.comparison.reads import Reads
from tests.comparison.content import PROGRAM, RANDOM, causes, flipped

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])
LEVELS = [4.5, 4.75, 5.0, 5.25, 5.5]


def following(good: Bytes, levels: list[float], cells: int, seed: int, falling: float = 0.0) -> list[Bytes]:
    """Read at each level cells that turn once, each at a voltage of its own; a share of them the other way."""
    dice = np.random.default_rng(seed)
    bits = np.unpackbits(good)
    zeros, ones = np.flatnonzero(bits == 0), np.flatnonzero(bits == 1)
    down = round(cells * falling)
    at = np.concatenate((dice.choice(zeros, cells - down, replace=False), dice.choice(ones, down, replace=False)))
    turns = dice.uniform(min(levels), max(levels), cells)
    reads = []
    for level in levels:
        one = bits.copy()
        one[at[level >= turns]] ^= 1
        reads.append(np.packbits(one))
    return reads


def given_as(reads: list[Bytes], volts: list[float | None], holds_charge: bool = True) -> Reads:
    count = range(len(reads))
    return Reads(
        images=tuple(reads), numbers=tuple((i + 1,) for i in count), names=tuple(f"r{i + 1}.bin" for i in count),
        volts=tuple((one,) for one in volts), holds_charge=holds_charge,
    )  # fmt: skip


@CONTENT
@pytest.mark.parametrize("count", [3, 4, 5])
def test_cells_that_rise_with_the_supply_lost_charge(good: Bytes, count: int) -> None:
    levels = LEVELS[:count]
    reads = following(good, levels, 50, count)
    for order in (range(count), reversed(range(count)), np.random.default_rng(1).permutation(count).tolist()):
        chosen = list(order)
        found = causes(*(reads[i] for i in chosen), volts=[levels[i] for i in chosen])[0]
        assert found.code == "charge-loss"
        seen = int(np.bitwise_count(reads[0] ^ reads[-1]).sum())
        assert found.detail["cells"] == found.detail["of_cells"] == found.detail["rising"] == seen > 40
        assert (found.detail["falling"], found.detail["way"], found.detail["volts"]) == (0, "rising", levels)
        assert found.confidence > 0.9


@CONTENT
@pytest.mark.parametrize("count", [4, 5])
def test_cells_that_change_either_way_with_the_supply_are_weak(good: Bytes, count: int) -> None:
    levels = LEVELS[:count]
    reads = following(good, levels, 60, 3 + count, falling=0.5)
    found = causes(*reads, volts=levels)[0]
    assert (found.code, found.detail["way"]) == ("weak-cells", "both ways")
    assert found.detail["rising"] > 15
    assert found.detail["falling"] > 15
    assert causes(*reversed(reads), volts=levels[::-1])[0].code == "weak-cells"


def test_with_three_voltages_cells_of_either_way_and_noise_look_alike() -> None:
    """Noise in the two outer reads keeps to the order as well, once in three."""
    reads = following(PROGRAM, LEVELS[:3], 60, 5, falling=0.5)
    found = causes(*reads, volts=LEVELS[:3])
    assert "weak-cells" in [one.code for one in found] or "weak-cells" in found[0].detail["causes"]
    assert found[0].code in ("weak-cells", "cannot-tell")


@pytest.mark.parametrize("count", [3, 4, 5])
def test_noise_keeps_to_no_order(count: int) -> None:
    reads = [flipped(PROGRAM, seed, 30) for seed in range(count)]
    found = causes(*reads, volts=LEVELS[:count])
    assert found[0].code == "random-noise"
    assert all(one.code != "charge-loss" for one in found)


@pytest.mark.parametrize("technology", ["mask-rom", None])
def test_a_mask_rom_never_loses_charge(technology: str | None) -> None:
    """It holds none."""
    levels = LEVELS[:4]
    by_volts = causes(*following(PROGRAM, levels, 50, 4), volts=levels, technology=technology)
    lossy = flipped(PROGRAM, 3, 60, only=0)
    alone = causes(PROGRAM, lossy, technology=technology)
    among = causes(PROGRAM, lossy, PROGRAM, technology=technology)
    for found in (by_volts, alone, among):
        told = {one.code for one in found} | {code for one in found for code in one.detail.get("causes", ())}
        assert ("charge-loss" in told) == (technology is None)
    assert (by_volts[0].code, alone[0].code) == (
        ("weak-cells", "random-noise") if technology else ("charge-loss", "charge-loss")
    )  # fmt: skip


def test_what_says_nothing_of_the_supply_is_left_alone() -> None:
    reads = following(PROGRAM, LEVELS[:3], 40, 2)
    for volts in ([None] * 3, [4.5, None, 5.0], [5.0] * 3):
        assert voltages.explained(given_as(reads, volts)) is None
    few = [PROGRAM, PROGRAM.copy(), PROGRAM.copy()]
    few[1][5] ^= 1
    few[2][5] ^= 3
    assert voltages.explained(given_as(few, [4.5, 4.75, 5.0])) is None   # two cells
    few[2][6] ^= 1
    told = voltages.explained(given_as(few, [4.5, 4.75, 5.0]))
    assert told is not None
    assert (told.cells, told.levels) == (3, 3)


@settings(max_examples=30)
@given(seed=st.integers(0, 1 << 20), count=st.integers(2, 5), cells=st.integers(8, 60), holds=st.booleans())
def test_cells_that_turn_once_are_all_explained_in_any_order(seed: int, count: int, cells: int, holds: bool) -> None:
    levels = LEVELS[:count]
    reads = following(RANDOM, levels, cells, seed)
    plain = voltages.explained(given_as(reads, list(levels), holds))
    turned = voltages.explained(given_as(reads[::-1], list(levels[::-1]), holds))
    differing = int(np.bitwise_count(reads[0] ^ reads[-1]).sum())
    if differing < voltages.FEWEST:
        assert plain is None
        return
    assert plain is not None
    assert turned == plain
    assert (plain.explained, plain.cells, plain.levels) == (1.0, differing, count)
    assert plain.account.code == ("charge-loss" if holds else "weak-cells")
