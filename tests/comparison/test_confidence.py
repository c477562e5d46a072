"""What random faults may have left: exact small cases, published figures, and a simulation of the model."""

from __future__ import annotations

import itertools
import math
import random
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import confidence
from imagekeeper.comparison.comparison import compare
from imagekeeper.comparison.confidence import (
    disputed_chance,
    rate_of,
    remaining,
    upper_limit,
    wrong_if_disputed,
    wrong_if_unanimous,
)
from imagekeeper.containers.model import Image

# --- the limit of a chance ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("trials", [30, 100, 1000, 16384, 1 << 30])
def test_the_rule_of_three(trials: int) -> None:
    """Hanley and Lippman-Hand, JAMA 249 (1983), 1743: none in n leaves at most 3/n, at 95 %, for n of 30 and more."""
    assert upper_limit(0, trials) == pytest.approx(3 / trials, rel=0.06)
    assert upper_limit(0, trials) < 3 / trials


@given(st.integers(1, 60), st.data())
def test_the_limit_is_clopper_and_pearsons(trials: int, data: st.DataObject) -> None:
    """Its definition (Biometrika 26, 1934): at the limit, so few events or fewer come with a chance of 5 %."""
    events = data.draw(st.integers(0, trials - 1))
    q = upper_limit(events, trials)
    few = sum(math.comb(trials, i) * q**i * (1 - q) ** (trials - i) for i in range(events + 1))
    assert few == pytest.approx(0.05, rel=1e-9)


def test_the_limit_of_all_is_one() -> None:
    assert upper_limit(7, 7) == 1.0
    assert upper_limit(5000, 5000) == 1.0


@pytest.mark.parametrize("trials", [1 << 14, 1 << 20, 1 << 32])
def test_the_approximation_joins_on(trials: int) -> None:
    exact = upper_limit(confidence.EXACT_LIMIT, trials)
    assert confidence._wilson(confidence.EXACT_LIMIT, trials) == pytest.approx(exact, rel=1e-3)


# --- the model, by counting every case ------------------------------------------------------------------------------


def cases(rate: Fraction, reads: int) -> dict[str, Fraction]:
    """Go through everything that can happen at one address: each read right, or wrong in one of eight bits."""
    total = {"disputed": Fraction(0), "unanimous, wrong": Fraction(0), "disputed, wrong majority": Fraction(0)}
    for faults in itertools.product(range(9), repeat=reads):   # 0: right; 1 to 8: that bit is wrong
        chance = math.prod((rate / 8 if fault else 1 - rate for fault in faults), start=Fraction(1))
        same = len(set(faults)) == 1
        most = max(set(faults), key=faults.count)
        if not same:
            total["disputed"] += chance
            if most and 2 * faults.count(most) > reads:
                total["disputed, wrong majority"] += chance
        elif faults[0]:
            total["unanimous, wrong"] += chance
    return total


@pytest.mark.parametrize("reads", [2, 3, 4, 5])
@pytest.mark.parametrize("rate", [Fraction(1, 1000), Fraction(1, 10), Fraction(1, 2)])
def test_every_case_of_one_address(rate: Fraction, reads: int) -> None:
    exact, p = cases(rate, reads), float(rate)
    assert disputed_chance(p, reads) == pytest.approx(float(exact["disputed"]), rel=1e-12)
    assert wrong_if_unanimous(p, reads) == pytest.approx(
        float(exact["unanimous, wrong"] / (1 - exact["disputed"])), rel=1e-12
    )
    assert wrong_if_disputed(p, reads) == pytest.approx(
        float(exact["disputed, wrong majority"] / exact["disputed"]), rel=1e-12
    )


@given(st.floats(1e-9, 0.88), st.integers(2, 40))
def test_the_rate_is_found_from_the_disputes(rate: float, reads: int) -> None:
    disputed = disputed_chance(rate, reads)
    assert disputed_chance(rate_of(disputed, reads), reads) == pytest.approx(disputed, rel=1e-9)


@given(st.integers(2, 500), st.integers(1, 1 << 32), st.data())
def test_every_estimate_is_a_chance(reads: int, size: int, data: st.DataObject) -> None:
    disputed = data.draw(st.one_of(st.just(0), st.integers(0, size), st.integers(0, min(size, 20))))
    left = remaining(reads, size, disputed)
    if reads == 2 and disputed:
        assert left is None
        return
    assert left is not None
    assert 0 <= left.chance <= 1
    assert 0 < left.rate_limit < 1
    assert left.rate is None or left.rate <= left.rate_limit
    assert left.wrong_bytes >= left.chance * (1 - 1e-9)


@pytest.mark.parametrize("size", [2048, 16384, 1 << 20])
def test_more_reads_leave_less_and_more_disputes_leave_more(size: int) -> None:
    chances = [found.chance for k in (2, 3, 4, 5) if (found := remaining(k, size, 0))]
    assert chances == sorted(chances, reverse=True)
    assert len(set(chances)) == 4
    disputes = [found.chance for d in (0, 1, 5, 50) if (found := remaining(3, size, d))]
    assert disputes == sorted(disputes)


def test_the_worked_examples_of_the_page() -> None:
    """docs/explanation/how-much-agreement-proves.md works these out by hand."""
    two = remaining(2, 16384, 0)
    assert two is not None
    assert two.rate_limit == pytest.approx(9.14e-5, rel=1e-3)
    assert two.chance == pytest.approx(1.71e-5, rel=2e-3)
    assert two.chance == pytest.approx(9 / (32 * 16384), rel=0.01)   # 3 for ln 20 makes 0.3 % a factor
    three = remaining(3, 16384, 35)
    assert three is not None
    assert three.rate == pytest.approx(7.1e-4, rel=5e-3)
    assert three.rate_limit == pytest.approx(9.5e-4, rel=1e-2)
    assert three.chance == pytest.approx(1 / 240, rel=2e-2)


def simulate(generator: np.random.Generator, reads: int, size: int, rate: float) -> tuple[int, bool]:
    """Read an image with faults: how many addresses are disputed, and whether the outcome holds a wrong byte."""
    faults = np.zeros((reads, size), np.uint8)
    for row in faults:
        at = np.flatnonzero(generator.random(size) < rate)
        row[at] = 1 << generator.integers(0, 8, len(at))
    disputed = (faults != faults[0]).any(axis=0)
    middle = np.sort(faults, axis=0)[reads // 2]
    won = 2 * (faults == middle).sum(axis=0) > reads
    return int(disputed.sum()), bool((won & (middle != 0)).any())


@pytest.mark.parametrize(("reads", "size", "rate"), [(3, 1024, 0.01), (3, 512, 0.03), (4, 512, 0.12), (5, 512, 0.1)])
def test_a_simulation_meets_the_estimate(reads: int, size: int, rate: float) -> None:
    """With the true rate in place of its limit, the chance is that of the simulation; 2000 runs, fixed seed."""
    generator = np.random.default_rng(1985)
    runs = 2000
    seen, expected, kept = 0, 0.0, 0
    for _ in range(runs):
        disputed, wrong = simulate(generator, reads, size, rate)
        seen += wrong
        quiet, loud = wrong_if_unanimous(rate, reads), wrong_if_disputed(rate, reads)
        expected += 1 - (1 - quiet) ** (size - disputed) * (1 - loud) ** disputed
        left = remaining(reads, size, disputed)
        assert left is not None
        kept += left.rate_limit >= rate
    assert expected / runs > 0.01   # enough to be seen
    spread = math.sqrt(expected)   # of a count of rare events
    assert abs(seen - expected) < 4 * spread
    assert kept / runs > 0.95 - 4 * math.sqrt(0.95 * 0.05 / runs)   # the limit holds as often as it claims


def test_a_simulation_of_two_reads_that_agree() -> None:
    """The chance that both err alike, given that they agree: four bytes at a rate of 0.2, fixed seed."""
    generator = random.Random(1985)
    agreeing = wrong = 0
    rate, size = 0.2, 4
    for _ in range(60_000):
        reads = [[generator.randrange(1, 9) if generator.random() < rate else 0 for _ in range(size)] for _ in "ab"]
        if reads[0] == reads[1]:
            agreeing += 1
            wrong += any(reads[0])
    expected = 1 - (1 - wrong_if_unanimous(rate, 2)) ** size
    assert wrong / agreeing == pytest.approx(expected, rel=0.15)
    assert wrong > 300


# --- in a comparison ------------------------------------------------------------------------------------------------


def of(*reads: bytes) -> confidence.Remaining | None:
    return compare([Image.from_bytes(r) for r in reads], [f"read{i}.bin" for i in range(len(reads))]).remaining


def test_it_stands_in_a_comparison_where_an_image_is_supported() -> None:
    data = random.Random(1).randbytes(4096)
    noisy = bytes([data[0] ^ 1, *data[1:2000], data[2000] ^ 64, *data[2001:]])
    agreed, voted = of(data, data), of(data, data, noisy)
    assert agreed is not None
    assert voted is not None
    assert (agreed.image, agreed.disputed, agreed.reads) == ("agreed", 0, 2)
    assert (voted.image, voted.disputed, voted.reads) == ("voted", 2, 3)
    assert agreed.chance < voted.chance < 0.001
    assert of(data, noisy) is None
    assert of(data, data[:2048]) is None


def test_a_fault_with_a_pattern_is_named() -> None:
    data = random.Random(2).randbytes(4096)
    stuck = bytes(b | 8 for b in data)
    left = of(data, data, stuck)
    assert left is not None
    assert left.against == "data-line-stuck"
    assert "stuck" in left.outside
