"""Causes that lie in address lines: shorted, loose in one read or in both, exchanged with damage beside.

The fault models are those of address decoders: A. J. van de Goor, Testing Semiconductor Memories, 1991, chapter 2 (from
memory); which way a short goes depends on what drives the lines (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from imagekeeper.comparison import address_lines
from imagekeeper.comparison.pair import Bytes
from imagekeeper.comparison.wiring import exchange_address_lines
from tests.comparison.content import PROGRAM, RANDOM, causes, chance, flipped, pair, same_in_any_order

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])


def shorted(good: Bytes, i: int, j: int, wired: str) -> Bytes:
    """By the definition, one address at a time."""
    both = 1 << i | 1 << j
    source = [
        at if at & both in (0, both) else at & ~both if wired == "and" else at | both for at in range(len(good))
    ]  # fmt: skip
    return good[source]


@CONTENT
@pytest.mark.parametrize("wired", ["and", "or"])
@pytest.mark.parametrize(("i", "j"), [(0, 1), (3, 9), (0, 12)])
def test_two_address_lines_tied_together_are_told(good: Bytes, i: int, j: int, wired: str) -> None:
    bad = shorted(good, i, j, wired)
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["lines"], found.detail["wired"]) == (
        "address-lines-shorted", [f"A{i}", f"A{j}"], wired,
    )  # fmt: skip
    assert found.detail["changed"] == int(np.count_nonzero(good != bad))
    assert found.confidence > 0.9


def test_a_short_with_noise_over_it_leaves_the_noise() -> None:
    bad = flipped(shorted(RANDOM, 2, 7, "and"), 4, 12)
    held = pair(RANDOM, bad)
    (one,) = [one for one in address_lines.shorted(held) if one.accounts[0].detail["wired"] == "and"]
    assert one.accounts[0].lines == ("A2", "A7")
    assert one.left(held) == 12
    codes = [found.code for found in causes(RANDOM, bad)]
    assert codes[:2] == ["address-lines-shorted", "random-noise"]


def test_shorts_are_looked_for_where_the_size_is_a_power_of_two() -> None:
    good = RANDOM[:6000]
    assert list(address_lines.shorted(pair(good, flipped(good, 1, 5)))) == []


def loose(good: Bytes, line: int, seed: int, share: float) -> Bytes:
    bad = good.copy()
    at = chance(good, seed, share)
    bad[at] = good[at ^ 1 << line]
    return bad


@CONTENT
@pytest.mark.parametrize("line", [2, 8])
def test_a_loose_address_line_gives_bytes_of_its_neighbour_now_and_then(good: Bytes, line: int) -> None:
    bad = loose(good, line, 5, 0.02)
    found = causes(good, bad, good)[0]
    assert (found.code, found.detail["line"], found.detail["reads"]) == ("address-line-unstable", f"A{line}", [2])
    count = int(np.count_nonzero(good != bad))
    assert found.detail["addresses"] == found.detail["of_addresses"] == count
    alone = causes(good, bad)[0]
    assert (alone.code, alone.detail["line"]) == ("address-line-unstable", f"A{line}")


@pytest.mark.parametrize("line", [1, 6])
def test_a_line_that_is_loose_in_both_reads_is_told_of_both(line: int) -> None:
    one, other = loose(PROGRAM, line, 5, 0.03), loose(PROGRAM, line, 6, 0.03)
    for reads in ((one, other), (other, one)):
        found = causes(*reads)[0]
        assert (found.code, found.detail["line"]) == ("address-line-unstable", f"A{line}")
        assert found.detail["both"] is True
        assert "read" not in found.detail
    abouts = [told.accounts[0].about for told in address_lines.unstable(pair(one, other))]
    assert abouts == ["address-line-unstable/both"]


@CONTENT
def test_exchanged_address_lines_are_seen_through_a_loss_of_charge(good: Bytes) -> None:
    lines = list(range(len(good).bit_length() - 1))
    lines[3], lines[8] = lines[8], lines[3]
    moved = exchange_address_lines(good, tuple(lines))
    bad = flipped(moved, 7, 40, only=0)
    found = causes(good, bad, good)
    assert found[0].code == "address-lines-exchanged"
    assert found[0].detail["wiring"] == [{"line": "A3", "carries": "A8"}, {"line": "A8", "carries": "A3"}]
    assert (found[1].code, found[1].detail["zero_to_one"], found[1].detail["one_to_zero"]) == ("charge-loss", 40, 0)
    assert found[0].detail["reads"] == found[1].detail["reads"] == [2]
