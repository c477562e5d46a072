"""The arithmetic of chance against exact counts."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.selfchecks.chance import SHARES, STRONG, Odds, Tier, confidence, corrected, tail


@given(blocks=st.integers(1, 40), fit=st.integers(0, 40), bits=st.integers(1, 16))
def test_tail_is_the_binomial_sum(blocks: int, fit: int, bits: int) -> None:
    yes = Fraction(1, 2**bits)
    exact = sum(comb(blocks, k) * yes**k * (1 - yes) ** (blocks - k) for k in range(min(fit, blocks + 1), blocks + 1))
    assert tail(blocks, fit, 2.0**-bits) == pytest.approx(float(exact), rel=1e-6)


def test_family_of_one_width() -> None:
    """1 - (1 - 2^-16)^18, divided by the tier's weight: 50 of 75 shares where only the possible are tried beside it."""
    tried = [*[("usual", Odds(2.0**-16))] * 18, ("possible", Odds(2.0**-8))]
    assert corrected(2.0**-16, "usual", tried) == pytest.approx((1 - (1 - 2.0**-16) ** 18) * 1.5)  # type: ignore[arg-type]


def test_narrow_tests_do_not_weigh_on_wide_ones() -> None:
    wide = ("usual", Odds(2.0**-32))
    crowd = [wide, *[("usual", Odds(2.0**-8))] * 1000]
    assert corrected(2.0**-32, "usual", crowd) == corrected(2.0**-32, "usual", [wide])  # type: ignore[arg-type, list-item]


def test_the_weights_are_one_allowance() -> None:
    """S. Holm 1979, section 4: weights sum to 1. A trial that is certain to fit leaves 1 / weight, here below 1."""
    every = [(tier, Odds(2.0**-20)) for tier in SHARES]
    weights = [2.0**-20 / corrected(2.0**-20, tier, every) for tier in SHARES]
    assert sum(weights) == pytest.approx(1)
    fewer = [one for one in every if one[0] != "asked"]
    weights = [2.0**-20 / corrected(2.0**-20, tier, fewer) for tier, _ in fewer]
    assert sum(weights) == pytest.approx(1)


@given(blocks=st.integers(2, 30), limit=st.floats(1e-12, 1))
def test_rarest_outcomes_of_blocks_stay_below_the_limit(blocks: int, limit: float) -> None:
    """Of all outcomes, the commonest one that is rare enough."""
    outcomes = [tail(blocks, fit, 2.0**-8) for fit in range(1, blocks + 1)]
    assert Odds(2.0**-8, blocks, blocks).as_rare_as(limit) == max((p for p in outcomes if p <= limit), default=0.0)


def test_confidence_of_nothing_and_of_certainty() -> None:
    assert confidence(1.0) == 0.0
    assert confidence(2.0**-32) > 0.999999


@given(blocks=st.integers(1, 400), fit=st.integers(0, 400), each=st.floats(1e-9, 1))
def test_a_chance_is_a_probability(blocks: int, fit: int, each: float) -> None:
    """The axioms of probability: none is above 1, and that at least none fits is certain."""
    assert 0 <= tail(blocks, fit, each) <= 1
    assert tail(blocks, 0, each) == 1


def test_rounding_makes_no_chance_greater_than_certainty() -> None:
    assert max(tail(blocks, 1, k / 64) for blocks in range(2, 200, 9) for k in range(32, 64)) == 1


def test_what_always_fits_fits_as_often_as_is_asked() -> None:
    assert tail(5, 3, 1.0) == 1.0
    assert corrected(1.0, "usual", [("usual", Odds(1.0))]) == 1.0


def test_a_sum_that_begins_with_vanishing_terms_goes_on() -> None:
    """2^-20000 is no number that a float holds, and yet one of 20000 coins shows heads."""
    assert tail(20_000, 1, 0.5) == pytest.approx(1)


@pytest.mark.parametrize("odds", [Odds(2.0**-8), Odds(2.0**-8, 4, 4), Odds(2.0**-8, 9, 3), Odds(0.25, 30, 11)])
def test_a_trial_counts_itself_among_those_tried(odds: Odds) -> None:
    """Who makes one trial has the chance of that trial, whichever it is."""
    assert odds.as_rare_as(odds.alone) == odds.alone
    assert corrected(odds.alone, "usual", [("usual", odds)]) == pytest.approx(odds.alone)


@pytest.mark.parametrize(("tier", "fits", "too_many"), [("usual", 19, 21), ("used", 17, 18), ("asked", 15, 16)])
def test_how_many_trials_a_16_bit_value_outlives(tier: Tier, fits: int, too_many: int) -> None:
    """Once in a thousand searches, all counted: n x 2^-16 x 164 / share is below that for so many trials."""
    others = [(one, Odds(2.0**-8)) for one in SHARES]
    chances = [corrected(2.0**-16, tier, [*others, *[(tier, Odds(2.0**-16))] * n]) for n in (fits, too_many)]
    assert [chance < STRONG for chance in chances] == [True, False]
