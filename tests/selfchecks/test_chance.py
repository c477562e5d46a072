"""The arithmetic of chance against exact counts."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.selfchecks.chance import WEIGHTS, Odds, confidence, corrected, tail


@given(blocks=st.integers(1, 40), fit=st.integers(0, 40), bits=st.integers(1, 16))
def test_tail_is_the_binomial_sum(blocks: int, fit: int, bits: int) -> None:
    yes = Fraction(1, 2**bits)
    exact = sum(comb(blocks, k) * yes**k * (1 - yes) ** (blocks - k) for k in range(min(fit, blocks + 1), blocks + 1))
    assert tail(blocks, fit, 2.0**-bits) == pytest.approx(float(exact), rel=1e-6)


def test_family_of_one_width() -> None:
    """1 - (1 - 2^-16)^18, divided by the tier's weight of one half."""
    tried = [("usual", Odds(2.0**-16))] * 18
    assert corrected(2.0**-16, "usual", tried) == pytest.approx((1 - (1 - 2.0**-16) ** 18) / 0.5)  # type: ignore[arg-type]


def test_narrow_tests_do_not_weigh_on_wide_ones() -> None:
    wide = ("usual", Odds(2.0**-32))
    crowd = [wide, *[("usual", Odds(2.0**-8))] * 1000]
    assert corrected(2.0**-32, "usual", crowd) == corrected(2.0**-32, "usual", [wide])  # type: ignore[arg-type, list-item]


def test_the_weights_are_one_allowance() -> None:
    assert sum(WEIGHTS.values()) == pytest.approx(1)


@given(blocks=st.integers(2, 30), limit=st.floats(1e-12, 1))
def test_rarest_outcomes_of_blocks_stay_below_the_limit(blocks: int, limit: float) -> None:
    """Of all outcomes, the commonest one that is rare enough."""
    outcomes = [tail(blocks, fit, 2.0**-8) for fit in range(1, blocks + 1)]
    assert Odds(2.0**-8, blocks, blocks).as_rare_as(limit) == max((p for p in outcomes if p <= limit), default=0.0)


def test_confidence_of_nothing_and_of_certainty() -> None:
    assert confidence(1.0) == 0.0
    assert confidence(2.0**-32) > 0.999999
