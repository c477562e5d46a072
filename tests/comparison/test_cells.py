"""What single cells tell: lost charge, and noise.

How long a description is follows from counting what must be named: J. Rissanen, "Modeling by shortest data
description", Automatica 14, 1978.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from imagekeeper.comparison import cells
from imagekeeper.comparison.coding import noise_bits, subset_bits
from imagekeeper.comparison.pair import Bytes, Explanation, Pair
from tests.comparison.test_data_lines import LINES, RANDOM, SIZE, bit, flipped, pair, places, why


def lossy(ups: int, downs: int, good: Bytes = RANDOM) -> Pair:
    """Bits turned on one line after the other, so many up and so many down."""
    bad = good.copy()
    for count, value in ((ups, 0), (downs, 1)):
        spots = [(at, line) for at in range(len(good)) for line in LINES if bit(good, line)[at] == value]
        for at, line in spots[:: max(len(spots) // max(count, 1), 1)][:count]:
            bad[at] ^= np.uint8(1 << line)
    return pair(good, bad)


def by_code(held: Pair) -> dict[str, Explanation]:
    return {one.accounts[0].code: one for one in cells.scattered(held)}


@pytest.mark.parametrize(("ups", "downs", "loss"), [(18, 0, True), (18, 2, True), (17, 2, False), (4, 0, True),
                                                    (3, 0, False), (0, 4, False), (3, 18, False)])  # fmt: skip
def test_charge_loss_is_nine_in_ten_from_0_to_1_and_four_cells_at_least(ups: int, downs: int, loss: bool) -> None:
    """A programmed cell reads 0 because of its charge, and 1 when that is lost: makers' data sheets."""
    held = lossy(ups, downs)
    assert held.flips == ups + downs
    assert set(by_code(held)) == ({"charge-loss", "random-noise"} if loss else {"random-noise"})


def test_charge_loss_explains_what_rose_and_leaves_what_fell() -> None:
    held = lossy(27, 3)
    loss, noise = by_code(held)["charge-loss"], by_code(held)["random-noise"]
    assert loss.left(held) == 3
    assert noise.left(held) == 0
    zeros = int(np.count_nonzero(np.unpackbits(RANDOM) == 0))
    assert loss.bits == pytest.approx(1 + subset_bits(zeros, 27) + subset_bits(8 * SIZE - zeros, 3))
    assert noise.bits == noise_bits(SIZE, 30)
    pure = lossy(27, 0)
    assert by_code(pure)["charge-loss"].bits == pytest.approx(1 + subset_bits(zeros, 27))


def test_what_is_told_of_scattered_bits() -> None:
    held = lossy(27, 3)
    changed = held.first ^ held.second
    by_line = [int(np.count_nonzero(bit(changed, line))) for line in LINES]
    loss, noise = (by_code(held)[code].accounts[0] for code in ("charge-loss", "random-noise"))
    shared = {"zero_to_one": 27, "one_to_zero": 3, "by_data_line": by_line}
    assert noise.detail == shared
    assert loss.detail == {**shared, "read": "bad.bin"}
    assert "27 of 30 differing bits read 0 in good.bin and 1 in bad.bin, spread over 8 data lines" in why(loss)
    assert f"30 differing bits at {len(held.at)} addresses, 27 from 0 to 1 and 3 from 1 to 0" in why(noise)
    one = by_code(pair(RANDOM, flipped(RANDOM, 5, places(RANDOM, 5, 0)[:1])))["random-noise"].accounts[0]
    assert "spread over 1 data line," in why(one)


def test_a_chip_that_lost_nearly_all_its_zeros_is_blank_and_not_lossy() -> None:
    """Nine in ten of its zeros; the data sheets' erased state is all ones."""
    good = np.zeros(100, np.uint8)   # 800 zeros
    for kept, loss in ((80, False), (81, True)):
        bits = np.ones(800, np.uint8)
        bits[:kept] = 0
        assert ("charge-loss" in by_code(pair(good, np.packbits(bits)))) == loss


def test_what_holds_no_charge_loses_none() -> None:
    """A mask ROM, a fuse PROM and static RAM have no charge on a gate: makers' data sheets."""
    held = lossy(27, 0)
    assert set(by_code(held)) == {"charge-loss", "random-noise"}
    assert set(by_code(replace(held, holds_charge=False))) == {"random-noise"}


@pytest.mark.parametrize(
    ("volts", "against", "bits"),
    [((None, None), None, 0.0), ((5.0, None), None, 0.0), ((5.0, 5.0), None, 0.0), ((4.75, 5.25), False, -4.0),
     ((5.25, 4.75), True, 8.0)],
)  # fmt: skip
def test_the_voltages_of_two_reads_speak_for_a_loss_or_against_it(
    volts: tuple[float | None, float | None], against: bool | None, bits: float
) -> None:
    """Charge loss shows at the higher supply. Common practice, no source."""
    plain, known = (by_code(one)["charge-loss"] for one in (lossy(27, 0), replace(lossy(27, 0), volts=volts)))
    assert known.bits == pytest.approx(plain.bits + bits)
    assert known.accounts[0].detail.get("volts_against") is against
    assert known.accounts[0].detail.get("volts") == (None if against is None else list(volts))


def test_equal_reads_have_nothing_scattered() -> None:
    assert list(cells.scattered(pair(RANDOM, RANDOM))) == []
