"""Exchanged lines are recovered, whatever was exchanged."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import wiring
from imagekeeper.comparison.diagnosis import diagnose
from imagekeeper.comparison.wiring import exchange_address_lines, exchange_data_lines, find

EIGHT = tuple(range(8))


def noise(seed: int, lines: int) -> wiring.Bytes:
    return np.random.default_rng(seed).integers(0, 256, 1 << lines, np.uint8)


exchanges = st.integers(3, 12).flatmap(
    lambda n: st.tuples(st.permutations(range(n)).map(tuple), st.permutations(range(8)).map(tuple))
)


@given(seed=st.integers(0, 1 << 30), exchange=exchanges)
def test_any_exchange_of_varied_content_is_recovered(
    seed: int, exchange: tuple[tuple[int, ...], tuple[int, ...]]
) -> None:
    """Any composition of one permutation of address lines and one of data lines, exactly or among all solutions."""
    address, data = exchange
    first = noise(seed, len(address))
    second = exchange_data_lines(exchange_address_lines(first, address), data)
    found = find(first, second)
    assert found
    for answer in found:   # every answer is true
        assert np.array_equal(exchange_data_lines(exchange_address_lines(first, answer.address), answer.data), second)
    if len(address) >= 6:   # 64 random bytes leave no choice
        assert [(w.address, w.data) for w in found] == [(address, data)]
    else:
        assert any((w.address, w.data) == (address, data) or w.data_alike for w in found)


@given(lines=st.integers(2, 10), data=st.data())
def test_exchanging_lines_is_what_it_says(lines: int, data: st.DataObject) -> None:
    """Against the definition, one address and one bit at a time."""
    address = tuple(data.draw(st.permutations(range(lines))))
    bits = tuple(data.draw(st.permutations(range(8))))
    first = noise(lines, lines)
    moved = exchange_address_lines(first, address)
    turned = exchange_data_lines(first, bits)
    for at in range(1 << lines):
        source = sum((at >> i & 1) << line for i, line in enumerate(address))
        assert moved[at] == first[source]
        assert turned[at] == sum((int(first[at]) >> line & 1) << i for i, line in enumerate(bits))


@given(st.lists(st.integers(-1000, 1000), min_size=16, max_size=16))
def test_the_spectrum_is_that_of_the_definition(values: list[int]) -> None:
    first, second = wiring.spectrum(np.array(values, np.int64))
    sign = lambda at, line: -1 if at >> line & 1 else 1   # noqa: E731
    for i in range(4):
        assert first[i] == sum(v * sign(at, i) for at, v in enumerate(values))
        for j in range(4):
            if i != j:
                assert second[i, j] == sum(v * sign(at, i) * sign(at, j) for at, v in enumerate(values))


def test_what_the_content_cannot_tell_stays_in_place_and_is_said() -> None:
    """Bytes that depend on A0 and A1 alike: the exchange is one of two, and both are given."""
    first = np.array([(at & 3).bit_count() * 17 + (at >> 2) for at in range(64)], np.uint8)
    second = exchange_address_lines(first, (0, 1, 2, 3, 5, 4))
    found = find(first, second)
    assert found[0].address == (0, 1, 2, 3, 5, 4)
    assert {w.address for w in found} == {(0, 1, 2, 3, 5, 4), (1, 0, 2, 3, 5, 4)}
    finding = diagnose(first, second, ("a", "b"))[0]
    assert finding.code == "address-lines-exchanged"
    assert finding.detail["ambiguous"]
    assert len(finding.detail["other_solutions"]) == 1


def test_data_lines_that_carry_the_same_are_named() -> None:
    first = noise(1, 8) & np.uint8(0x0F)   # D4 to D7 are always 0
    found = find(first, exchange_data_lines(first, (1, 0, 2, 3, 4, 5, 6, 7)))
    assert found[0].data == (1, 0, 2, 3, 4, 5, 6, 7)
    assert found[0].data_alike == ((4, 5, 6, 7),)
    assert wiring.solutions(found[0]) == 24


@pytest.mark.parametrize("change", [lambda a: a ^ np.uint8(1), lambda a: np.roll(a, 1)])
def test_what_is_no_exchange_is_none(change: object) -> None:
    first = noise(2, 10)
    assert find(first, change(first)) == ()  # type: ignore[operator]


def test_sizes_that_are_no_power_of_two_are_left_alone() -> None:
    assert find(noise(1, 4)[:12], noise(1, 4)[:12]) == ()
    assert find(noise(1, 4), noise(1, 5)) == ()
