"""Causes that lie in the time a chip is given.

A reader counts its addresses upwards, so that the byte before is that of the address below. Common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import timing
from imagekeeper.comparison.pair import Bytes
from tests.comparison.content import PROGRAM, RANDOM, causes, chance, flipped, pair, same_in_any_order

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])


def late(good: Bytes, share: float, mask: int = 0xFF, seed: int = 3) -> Bytes:
    """Leave some bits as they were at the address below."""
    bits = np.random.default_rng(seed).random((len(good), 8)) < share
    hit = np.packbits(bits, axis=1)[:, 0] & np.uint8(mask)
    return (good & ~hit | timing.before(good) & hit).astype(np.uint8)


@given(st.binary(min_size=1, max_size=50))
def test_the_byte_before_is_that_of_the_address_below(data: bytes) -> None:
    before = timing.before(np.frombuffer(data, np.uint8)).tolist()
    assert before[0] == data[0]
    assert before[1:] == list(data[:-1])


@CONTENT
def test_outputs_too_slow_keep_bits_of_the_byte_before(good: Bytes) -> None:
    bad = late(good, 0.004)
    found = same_in_any_order(good, bad)
    flips = int(np.bitwise_count(good ^ bad).sum())
    assert (found.code, found.detail["bits"], found.detail["of_bits"]) == ("slow-outputs", flips, flips)
    assert "line" not in found.detail
    assert found.detail["open_to"] == int(np.bitwise_count(good ^ timing.before(good)).sum())
    assert found.confidence > 0.9


@pytest.mark.parametrize("line", [1, 5])
def test_one_slow_output_is_named(line: int) -> None:
    bad = late(PROGRAM, 0.05, mask=1 << line)
    (told,) = [
        one for one in timing.slow_outputs(pair(PROGRAM, bad)) if one.accounts[0].lines
    ]  # fmt: skip
    assert told.accounts[0].detail["line"] == f"D{line}"
    assert told.left(pair(PROGRAM, bad)) == 0
    found = causes(PROGRAM, bad)[0]
    assert (found.code, found.detail.get("line")) == ("slow-outputs", f"D{line}")


def test_outputs_that_rise_too_slowly_are_wrong_one_way() -> None:
    bad = (PROGRAM & late(PROGRAM, 0.01)).astype(np.uint8)   # only the ones come late
    found = same_in_any_order(PROGRAM, bad)
    assert found.code == "slow-outputs"
    assert "(rising)" in found.why
    assert not np.any(bad & ~PROGRAM)


def test_noise_is_not_slow() -> None:
    """At random only half of the bits differ from the byte before: three quarters are asked for."""
    assert list(timing.slow_outputs(pair(RANDOM, flipped(RANDOM, 6, 80)))) == []


@CONTENT
def test_a_reader_that_looks_too_early_repeats_the_byte_before(good: Bytes) -> None:
    at = chance(good, 8, 0.01)
    bad = good.copy()
    bad[at] = timing.before(good)[at]
    found = same_in_any_order(good, bad)
    count = int(np.count_nonzero(good != bad))
    assert found.code == "previous-byte-repeated"
    assert found.detail["addresses"] == found.detail["of_addresses"] == count > 30


def test_a_byte_may_be_held_over_some_addresses() -> None:
    bad = RANDOM.copy()
    for at in range(100, 8000, 300):
        bad[at : at + 3] = RANDOM[at - 1]
    found = same_in_any_order(RANDOM, bad)
    assert found.code == "previous-byte-repeated"
    assert found.detail["addresses"] == int(np.count_nonzero(bad != RANDOM))


def test_one_byte_is_no_habit() -> None:
    bad = RANDOM.copy()
    bad[77] = RANDOM[76]
    assert list(timing.previous_byte(pair(RANDOM, bad))) == []
