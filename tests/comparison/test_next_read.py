"""The read that would tell most.

The expected gain of information is the entropy of the outcome, as each cause foretells one: D. V. Lindley, Annals of
Mathematical Statistics 27, 1956. What each cause foretells is common practice, no source.
"""

from __future__ import annotations

from math import log2

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import next_read as experiments
from imagekeeper.comparison.next_read import next_read
from imagekeeper.findings import CODES
from imagekeeper.sentences.say import sentences
from tests.comparison.content import GLYPHS, PROGRAM, causes, compared, flipped

KNOWN = sorted({code for foretold in experiments._EXPERIMENTS.values() for code in foretold})
OTHER = 0.06   # what nobody thought of; our judgement


def entropy(*chances: float) -> float:
    return -sum(chance * log2(chance) for chance in chances if chance)


def test_the_gain_is_the_entropy_of_what_may_be_seen() -> None:
    """Of two causes as likely as each other, one foretelling more and one fewer: a bit, and what the doubt adds."""
    step = next_read([("slow-outputs", 0.5), ("charge-loss", 0.5)])
    assert step is not None
    assert step.experiment == "lower-volts"
    half = (1 - OTHER) / 2
    assert step.gain == pytest.approx(entropy(half, half, OTHER), abs=0.001)
    assert [(one.sees, one.causes) for one in step.outcomes] == [
        ("more", ("slow-outputs",)), ("fewer", ("charge-loss",)), ("same", ()),
    ]  # fmt: skip


def test_each_outcome_says_what_it_would_mean() -> None:
    step = next_read([("slow-outputs", 0.5), ("charge-loss", 0.4)])
    assert step is not None
    assert [one.says for one in step.outcomes] == [
        "if more bits differ: the outputs are slower than the reader",
        "if fewer bits differ: cells lost charge",
        "if the same differences come again: something else than was thought of",
    ]
    assert "4.75 V" in step.does


def test_beliefs_are_weighed_by_their_sum_and_one_cause_counts_once() -> None:
    plain = next_read([("slow-outputs", 0.5), ("charge-loss", 0.25)])
    assert plain == next_read([("slow-outputs", 0.2), ("charge-loss", 0.2), ("slow-outputs", 0.2)])
    assert plain is not None
    assert plain.gain == pytest.approx(entropy((1 - OTHER) * 2 / 3, (1 - OTHER) / 3, OTHER), abs=0.001)


@pytest.mark.parametrize(
    ("cause", "experiment"),
    [
        ("slow-outputs", "slower"), ("charge-loss", "lower-volts"), ("data-line-stuck", "cleaned"),
        ("shifted", "transfer"), ("truncated", "size"), ("line-endings-changed", "transfer"),
        ("inverted", "other-reader"), ("content-differs", "specimen"),
    ],
)  # fmt: skip
def test_a_single_cause_is_put_to_the_cheapest_test_that_knows_it(cause: str, experiment: str) -> None:
    """Where several tell as much, the one that mends what is thought of, and of these the one that costs less."""
    step = next_read([(cause, 0.9)])
    assert step is not None
    assert step.experiment == experiment
    assert step.gain == pytest.approx(entropy(1 - OTHER, OTHER), abs=0.001)


def test_a_dearer_experiment_is_taken_where_it_tells_more() -> None:
    """Noise comes elsewhere in every read; a stuck line comes again, until the socket is cleaned."""
    beliefs = {"data-line-stuck": 0.47, "random-noise": 0.47}
    again = experiments._gain(experiments._EXPERIMENTS["experiment/again"], beliefs)
    step = next_read([("data-line-stuck", 0.5), ("random-noise", 0.5)])
    assert step is not None
    assert step.experiment == "cleaned"
    assert step.gain > again


@pytest.mark.parametrize("found", [[], [("sizes-differ", 0.9)], [("random-noise", 0.0)]])
def test_there_is_nothing_to_tell_apart_where_no_cause_is_known(found: list[tuple[str, float]]) -> None:
    assert next_read(found) is None


@given(st.lists(st.tuples(st.sampled_from(KNOWN), st.floats(0.01, 1)), min_size=1, max_size=6))
def test_no_cheaper_experiment_tells_as_much(found: list[tuple[str, float]]) -> None:
    step = next_read(found)
    assert step is not None
    beliefs = experiments._beliefs(found)
    assert sum(beliefs.values()) == pytest.approx(1 - OTHER)
    gains = {
        name.partition("/")[2]: experiments._gain(told, beliefs) for name, told in experiments._EXPERIMENTS.items()
    }  # fmt: skip
    order = list(gains)
    mended = {
        name.partition("/")[2]: experiments._mended(told, beliefs) for name, told in experiments._EXPERIMENTS.items()
    }  # fmt: skip
    worth = {name: gains[name] + experiments._MENDS * mended[name] for name in order}
    for cheaper in order[: order.index(step.experiment)]:
        assert worth[cheaper] < worth[step.experiment]
    assert step.gain >= round(max(gains.values()), 3) - 0.02 * len(order) - experiments._MENDS
    named = [code for one in step.outcomes for code in one.causes]
    assert sorted(named) == sorted(beliefs)
    assert len({one.sees for one in step.outcomes}) == len(step.outcomes)
    assert "same" in {one.sees for one in step.outcomes}
    assert next_read(found[::-1]) is not None


def test_every_cause_that_is_known_has_its_words_and_no_other() -> None:
    told = sentences()
    named = {key.partition("/")[2] for key in told if key.startswith("cause/")}
    assert set(KNOWN) - named == set()
    assert named <= set(CODES)
    assert set(experiments._EXPERIMENTS) <= set(told)


def test_a_comparison_names_the_next_read() -> None:
    result = compared(PROGRAM, PROGRAM | np.uint8(8))
    assert result.next_read is not None
    assert result.next_read.experiment == "cleaned"
    assert compared(PROGRAM, PROGRAM).next_read is None
    noisy = compared(PROGRAM, flipped(PROGRAM, 3, 40), PROGRAM).next_read
    assert noisy is not None
    assert noisy.outcomes[0].causes[0] == "random-noise"


def test_what_cannot_be_told_names_the_read_that_would_tell() -> None:
    first, *others = causes(GLYPHS, GLYPHS & ~np.uint8(64))
    step = next_read([(one.code, one.confidence) for one in others])
    assert step is not None
    assert first.code == "cannot-tell"
    assert step.does in first.hint
