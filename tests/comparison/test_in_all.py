"""One fault in all reads, so that most of them do not give the right byte everywhere."""

from __future__ import annotations

import numpy as np
import pytest

from imagekeeper.comparison.in_all import rebuilt
from imagekeeper.comparison.pair import Bytes
from imagekeeper.comparison.reads import Reads
from tests.comparison.content import PROGRAM, RANDOM, causes


def early(good: Bytes, seed: int, share: float) -> Bytes:
    hit = np.random.default_rng(seed).random(len(good)) < share
    return np.where(hit, np.concatenate((good[:1], good[:-1])), good)


def silent(good: Bytes, seed: int, share: float, value: int) -> Bytes:
    return np.where(np.random.default_rng(seed).random(len(good)) < share, np.uint8(value), good)


def together(*images: Bytes) -> Reads:
    numbers = tuple((number,) for number in range(1, len(images) + 1))
    return Reads(
        images=images, numbers=numbers, names=tuple(f"r{one}" for (one,) in numbers), volts=((None,),) * len(images)
    )


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("value", [0xFF, 0x00])
def test_a_chip_that_does_not_answer_now_and_then_in_all_reads(value: int, count: int) -> None:
    for good in (PROGRAM[:8192], RANDOM):
        found = causes(*(silent(good, seed, 0.2, value) for seed in range(count)))
        assert found[0].code == "not-selected-at-times"
        assert found[0].detail["reads"] == list(range(1, count + 1))
        assert not any(one.confidence >= 0.9 and one.code != "not-selected-at-times" for one in found)


@pytest.mark.parametrize("count", [2, 3])
def test_a_byte_read_too_early_in_all_reads(count: int) -> None:
    for good in (PROGRAM[:8192], RANDOM):
        found = causes(*(early(good, seed, 0.1) for seed in range(count)))
        assert found[0].code == "previous-byte-repeated"
        assert found[0].detail["reads"] == list(range(1, count + 1))


def test_the_content_is_put_together_where_one_read_at_least_has_it() -> None:
    reads = [silent(RANDOM, seed, 0.3, 0xFF) for seed in range(3)]
    lost = np.all([read == 0xFF for read in reads], axis=0)
    ((codes, content),) = list(rebuilt(together(*reads)))
    assert codes == ("not-selected-at-times",)
    assert np.array_equal(content != RANDOM, lost & (RANDOM != 0xFF))


def test_a_fault_in_one_read_leaves_nothing_to_put_together() -> None:
    assert list(rebuilt(together(RANDOM, silent(RANDOM, 1, 0.2, 0xFF)))) == []
    assert list(rebuilt(together(RANDOM, early(RANDOM, 1, 0.2)))) == []
    noise = [RANDOM ^ (np.random.default_rng(seed).random(len(RANDOM)) < 0.1).astype(np.uint8) for seed in (1, 2)]
    assert list(rebuilt(together(*noise))) == []
