"""Each rule on data lines by itself: what it takes for a fault, what it does not, and what it says of it.

Content is drawn at random, so that no line tells of another unless a test makes it. How long a description is follows
from counting what must be named: J. Rissanen, "Modeling by shortest data description", Automatica 14, 1978.
"""

from __future__ import annotations

import re
from math import log2

import numpy as np
import pytest

from imagekeeper.comparison import data_lines
from imagekeeper.comparison.coding import noise_bits, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, told_bits
from imagekeeper.findings import Finding
from tests.comparison.content import PROGRAM, causes, same_in_any_order

SIZE = 800
NAMES = ("good.bin", "bad.bin")
RANDOM = np.random.default_rng(85).integers(0, 256, SIZE, np.uint8)
FEW = RANDOM & np.uint8(0x0F)   # four lines in use: each of their 16 values is met often
LINES = range(8)


def pair(good: Bytes, bad: Bytes) -> Pair:
    return Pair(first=good, second=bad.astype(np.uint8), names=NAMES)


def why(account: Account) -> str:
    """What a person reads of it."""
    return Finding.of(account.about, account.severity, 1.0, detail=account.detail, **account.values).why


def bit(data: Bytes, line: int) -> Bytes:
    return data >> line & 1


def with_bit(data: Bytes, line: int, values: Bytes) -> Bytes:
    return (data & ~np.uint8(1 << line) | values.astype(np.uint8) << line).astype(np.uint8)


def flipped(data: Bytes, line: int, at: Bytes | list[int]) -> Bytes:
    data = data.copy()
    data[at] ^= np.uint8(1 << line)
    return data


def places(data: Bytes, line: int, value: int) -> Bytes:
    return np.flatnonzero(bit(data, line) == value)


def stuck_at(line: int, value: int, exceptions: int = 0, good: Bytes = RANDOM) -> Pair:
    """A line at one value, but at some of the addresses where it was the other before."""
    bad = with_bit(good, line, np.full(len(good), value))
    return pair(good, flipped(bad, line, places(good, line, 1 - value)[:exceptions]))


# ---- stuck lines


@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", LINES)
def test_a_stuck_line_is_told_with_its_line_and_value(line: int, value: int) -> None:
    (found,) = data_lines.stuck(stuck_at(line, value))
    (account,) = found.accounts
    changed = len(places(RANDOM, line, 1 - value))
    assert account.detail == {"line": f"D{line}", "value": value, "changed": changed, "read": "bad.bin"}
    assert account.lines == (f"D{line}",)
    assert account.code == "data-line-stuck"
    assert why(account).startswith(f"D{line} reads {value} at all {SIZE} addresses of bad.bin, where good.bin has both")
    assert found.left(stuck_at(line, value)) == 0


def test_a_stuck_line_costs_what_names_it() -> None:
    """One of eight lines at one of two values: 4 bits; and that nothing is left over."""
    (found,) = data_lines.stuck(stuck_at(2, 1))
    assert found.bits == 4 + noise_bits(SIZE, 0)
    noisy = pair(RANDOM, flipped(stuck_at(2, 1).second, 6, [3, 500]))
    (found,) = data_lines.stuck(noisy)
    assert found.bits == 4 + noise_bits(SIZE, 2)


@pytest.mark.parametrize("value", [0, 1])
def test_a_line_is_stuck_with_one_exception_in_sixteen_and_not_with_more(value: int) -> None:
    """So many may be of a second, smaller fault over the first."""
    few, many = stuck_at(5, value, exceptions=50), stuck_at(5, value, exceptions=51)
    (found,) = data_lines.stuck(few)
    assert f"D5 reads {value} at all but 50 of the {SIZE} addresses" in why(found.accounts[0])
    assert found.left(few) == 50
    assert found.bits == 4 + noise_bits(SIZE, 50)
    assert list(data_lines.stuck(many)) == []


def test_a_line_that_never_changed_is_not_stuck() -> None:
    """As in text, where D7 is 0 in both reads; nor is one that changed no oftener than it breaks the rule."""
    text = RANDOM & np.uint8(0x7F)
    assert list(data_lines.stuck(pair(text, text))) == []
    rare = flipped(text, 7, [100, 200])
    assert list(data_lines.stuck(pair(rare, flipped(text, 7, [300, 400])))) == []
    (found,) = data_lines.stuck(pair(flipped(rare, 7, [50]), flipped(text, 7, [300, 400])))
    assert found.accounts[0].detail["changed"] == 3


@pytest.mark.parametrize("line", [0, 3, 7])
def test_how_much_a_stuck_line_has_lost(line: int) -> None:
    """What the line told in the good read, when the rest of the byte is known."""
    mask = np.uint8(1 << line)
    (found,) = data_lines.stuck(stuck_at(line, 1))
    told = told_bits(bit(RANDOM, line) == 1, RANDOM & ~mask)[0]
    assert found.richer_by == told > SIZE / 2


def test_a_line_that_repeats_its_neighbour_loses_nothing_unless_the_two_may_be_shorted() -> None:
    """With exceptions to the rule, the neighbour tells nothing of the line: it may be shorted to it."""
    good = with_bit(FEW, 4, bit(RANDOM, 1))
    (plain,) = data_lines.stuck(stuck_at(4, 1, good=good))
    (rough,) = data_lines.stuck(stuck_at(4, 1, exceptions=2, good=good))
    told = bit(good, 4) == 1
    assert plain.richer_by == told_bits(told, good & ~np.uint8(1 << 4))[0] < 100
    assert rough.richer_by == told_bits(told, good & ~np.uint8(1 << 4 | 1 << 1))[0] > SIZE / 2


@pytest.mark.parametrize(("unlike", "repeats"), [(50, True), (51, False)])
def test_a_line_repeats_another_with_one_exception_in_sixteen(unlike: int, repeats: bool) -> None:
    good = flipped(with_bit(FEW, 4, bit(RANDOM, 1)), 4, np.arange(unlike) * 15)
    (found,) = data_lines.stuck(stuck_at(4, 1, exceptions=2, good=good))
    aside = 1 << 4 | (1 << 1 if repeats else 0)
    assert found.richer_by == told_bits(bit(good, 4) == 1, good & ~np.uint8(aside))[0]


def rare_at_random(line: int) -> Bytes:
    """Content in which one line is 1 at a tenth of the addresses, whatever the others are."""
    return with_bit(RANDOM, line, np.random.default_rng(3).random(SIZE) < 0.1)


def test_a_loss_of_what_looks_like_chance_counts_less() -> None:
    """What a stuck line or a short would have lost is rather noise in the other read, when no neighbour tells of it."""
    (lost,) = data_lines.stuck(stuck_at(6, 0, good=rare_at_random(6)))
    assert lost.bits == 4 + noise_bits(SIZE, 0) + data_lines.CHANCE
    good = with_bit(FEW, 6, FEW == 5)   # as rare, and told by its neighbours
    (told,) = data_lines.stuck(stuck_at(6, 0, good=good))
    assert told.bits == 4 + noise_bits(SIZE, 0)


def test_one_read_with_noise_on_a_line_is_not_called_a_stuck_line_in_the_other() -> None:
    """A line of text is 0 throughout; a few ones are noise, however well "stuck at 0" would describe their loss."""
    text = RANDOM & np.uint8(0x7F)
    noisy = flipped(text, 7, np.arange(0, 60, 3) ** 2 % SIZE)
    (stuck,) = data_lines.stuck(pair(noisy, text))
    assert stuck.bits >= 4 + noise_bits(SIZE, 0) + 16   # 16 bits: odds of 65536 to 1, our judgement


# ---- unstable lines


def by_way(found: list[Explanation]) -> dict[tuple[int, int], Explanation]:
    return {
        (one.accounts[0].detail["zero_to_one"], one.accounts[0].detail["one_to_zero"]): one for one in found
    }  # fmt: skip


def loose(line: int, ups: int, downs: int, noise: int = 0) -> Pair:
    """A line wrong so many times each way, and another line wrong by noise."""
    bad = flipped(RANDOM, line, places(RANDOM, line, 0)[:ups])
    bad = flipped(bad, line, places(RANDOM, line, 1)[:downs])
    return pair(RANDOM, flipped(bad, (line + 1) % 8, np.arange(noise)))


@pytest.mark.parametrize("line", LINES)
def test_an_unstable_line_is_tried_both_ways_and_each_way(line: int) -> None:
    """Each way where what goes the other way is no more than the noise on the other seven lines: 84 / 14, and 1."""
    both = loose(line, 20, 7, noise=84)
    found = by_way([one for one in data_lines.unstable(both) if one.accounts[0].lines == (f"D{line}",)])
    assert set(found) == {(20, 7), (20, 0)}
    back = by_way([one for one in data_lines.unstable(both.turned()) if one.accounts[0].lines == (f"D{line}",)])
    assert set(back) == {(7, 20), (0, 20)}
    for (ups, downs), one in found.items():
        (account,) = one.accounts
        assert account.code == "data-line-unstable"
        assert account.lines == (account.detail["line"],) == (f"D{line}",)
        assert account.detail["of_bits"] == 27 + 84
        assert one.left(both) == 27 + 84 - ups - downs
        assert one.richer_by is None
    zeros = len(places(RANDOM, line, 0))
    words = re.compile(r"(\d+) of 111 differing bits are on (D\d), (.*), at \d+ of the (\d+) ")
    said = {way: words.findall(why(one.accounts[0])) for way, one in found.items()}
    assert said == {
        (20, 7): [("27", f"D{line}", "both ways", str(SIZE))],
        (20, 0): [("20", f"D{line}", "from 0 to 1", str(zeros))],
    }


@pytest.mark.parametrize(
    ("downs", "noise", "one_way"),
    [(0, 0, True), (1, 0, True), (2, 0, False), (2, 13, False), (2, 14, True), (7, 83, False)],
)
def test_one_way_alone_is_tried_where_the_other_is_no_more_than_noise(downs: int, noise: int, one_way: bool) -> None:
    """Noise on seven lines and two ways: on one line one way a fourteenth of it, and one more by chance."""
    held = loose(3, 20, downs, noise)
    found = by_way([one for one in data_lines.unstable(held) if one.accounts[0].lines == ("D3",)])
    assert set(found) == ({(20, downs)} if downs else set()) | ({(20, 0)} if one_way else set())


def test_an_unstable_line_costs_line_and_way_and_which_addresses() -> None:
    """Eight lines in three ways: 24. The share of addresses is one more number: half the bits of the count of them."""
    zeros, ones = len(places(RANDOM, 3, 0)), len(places(RANDOM, 3, 1))
    named = log2(24) + log2(SIZE) / 2
    found = by_way(list(data_lines.unstable(loose(3, 20, 1))))
    assert found[20, 1].bits == pytest.approx(named + subset_bits(SIZE, 21) + noise_bits(SIZE, 0))
    assert found[20, 0].bits == pytest.approx(named + subset_bits(zeros, 20) + noise_bits(SIZE, 1))
    found = by_way(list(data_lines.unstable(loose(3, 1, 7))))
    assert found[0, 7].bits == pytest.approx(named + subset_bits(ones, 7) + noise_bits(SIZE, 1))


@pytest.mark.parametrize("value", [0, 1])
def test_a_line_that_floats_one_way_is_tried_that_way_alone(value: int) -> None:
    found = list(data_lines.unstable(pair(RANDOM, flipped(RANDOM, 2, places(RANDOM, 2, value)[:9]))))
    assert set(by_way(found)) == {(9, 0) if value == 0 else (0, 9)}
    assert len(found) == 1


def test_always_wrong_is_not_unstable() -> None:
    """Nine in ten may be wrong of those that could be, not more."""
    good = with_bit(RANDOM, 1, np.arange(SIZE) % 2)   # 400 zeros, 400 ones
    for wrong, unstable in ((360, True), (361, False), (400, False)):
        found = by_way(list(data_lines.unstable(pair(good, flipped(good, 1, places(good, 1, 0)[:wrong])))))
        assert ((wrong, 0) in found) == unstable
    most = pair(good, flipped(good, 1, np.arange(720)))
    assert set(by_way(list(data_lines.unstable(most)))) == {(360, 360)}
    assert list(data_lines.unstable(pair(good, flipped(good, 1, np.arange(722))))) == []


@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", [0, 7])
def test_a_line_that_was_constant_makes_the_other_read_the_richer(line: int, value: int) -> None:
    """A constant tells only how often it is 1, one number of SIZE + 1; the other read tells where it is not so."""
    mask = np.uint8(1 << line)
    still = with_bit(RANDOM, line, np.full(SIZE, value))
    noisy = flipped(still, line, np.arange(0, 90, 3) ** 2 % SIZE)
    (one,) = data_lines.unstable(pair(still, noisy))
    told = told_bits(noisy & mask > 0, noisy & ~mask)[0]
    assert one.richer_by == pytest.approx(log2(SIZE + 1) - told)
    assert one.richer_by < -100


def test_a_line_that_becomes_constant_is_always_wrong_and_so_not_unstable() -> None:
    still = with_bit(RANDOM, 7, np.zeros(SIZE))
    assert list(data_lines.unstable(pair(flipped(still, 7, [5, 50, 500]), still))) == []


def test_a_line_with_one_exception_is_not_constant() -> None:
    """Neither a single 1 nor a single 0."""
    for value in (0, 1):
        nearly = flipped(with_bit(RANDOM, 7, np.full(SIZE, value)), 7, [77])
        noisy = flipped(nearly, 7, np.arange(0, 90, 3) ** 2 % SIZE)
        assert [one.richer_by for one in data_lines.unstable(pair(nearly, noisy)) if one.richer_by is not None] == []


def test_no_line_is_unstable_where_nothing_differs() -> None:
    assert list(data_lines.unstable(pair(RANDOM, RANDOM))) == []


# ---- shorted lines


def shorted(i: int, j: int, wired: str, good: Bytes = RANDOM) -> Bytes:
    both = bit(good, i) & bit(good, j) if wired == "and" else bit(good, i) | bit(good, j)
    return with_bit(with_bit(good, i, both), j, both)


@pytest.mark.parametrize("wired", ["and", "or"])
@pytest.mark.parametrize(("i", "j"), [(0, 1), (2, 5), (6, 7), (0, 7)])
def test_two_shorted_lines_are_told_with_how_they_join(i: int, j: int, wired: str) -> None:
    bad = pair(RANDOM, shorted(i, j, wired))
    (found,) = data_lines.shorted(bad)
    (account,) = found.accounts
    changed = int(np.count_nonzero(bit(RANDOM, i) != bit(RANDOM, j)))
    lines = [f"D{i}", f"D{j}"]
    assert account.detail == {"lines": lines, "wired": wired, "changed": changed, "read": "bad.bin"}
    assert (account.code, account.lines) == ("data-lines-shorted", tuple(lines))
    each = f"each the {wired.upper()} of what they are in good.bin"
    assert why(account) == f"D{i} and D{j} are equal at all addresses of bad.bin, {each}"
    assert found.left(bad) == 0
    told = told_bits(bit(RANDOM, i) != bit(RANDOM, j), RANDOM & ~np.uint8(1 << i | 1 << j))[0]
    assert found.richer_by == told > SIZE / 2


def test_a_short_costs_what_names_it_and_what_is_left() -> None:
    """28 pairs of lines in two ways: 56."""
    (found,) = data_lines.shorted(pair(RANDOM, shorted(1, 4, "and")))
    assert found.bits == pytest.approx(log2(56) + noise_bits(SIZE, 0))
    noisy = flipped(shorted(1, 4, "or"), 6, [9, 99, 199])
    (found,) = data_lines.shorted(pair(RANDOM, noisy))
    assert found.bits == pytest.approx(log2(56) + noise_bits(SIZE, 3))


def test_a_short_of_lines_that_differ_by_chance_counts_less() -> None:
    good = with_bit(RANDOM, 3, bit(rare_at_random(3), 3) ^ bit(RANDOM, 2))
    (found,) = data_lines.shorted(pair(good, shorted(2, 3, "and", good)))
    assert found.bits == pytest.approx(log2(56) + noise_bits(SIZE, 0) + data_lines.CHANCE)


@pytest.mark.parametrize(("exceptions", "found"), [(50, True), (51, False)])
def test_shorted_lines_are_equal_with_one_exception_in_sixteen(exceptions: int, found: bool) -> None:
    bad = flipped(shorted(1, 4, "and"), 4, np.arange(exceptions) * 15)
    told = list(data_lines.shorted(pair(RANDOM, bad)))
    assert len(told) == found
    if found:
        assert "D1 and D4 are equal at all but 50 addresses" in why(told[0].accounts[0])
        assert told[0].bits == pytest.approx(log2(56) + noise_bits(SIZE, 50))


@pytest.mark.parametrize(("wrong", "found"), [(10, True), (11, False)])
def test_a_short_explains_four_of_what_changed_for_each_that_it_gets_wrong(wrong: int, found: bool) -> None:
    """D0 and D1 are alike but at a few addresses. There the short joins them; elsewhere both are wrong together."""
    good = with_bit(RANDOM, 1, bit(RANDOM, 0))
    good = flipped(good, 1, np.arange(60) * 13)              # 60 addresses to join
    bad = shorted(0, 1, "and", good)
    equal = [at for at in range(SIZE) if at % 13][:wrong]
    bad = flipped(flipped(bad, 0, equal), 1, equal)          # 2 x wrong that the short does not foretell
    held = pair(good, bad)
    kinds = [one.accounts[0].detail["wired"] for one in data_lines.shorted(held)]
    changed = held.flips
    assert (4 * 2 * wrong <= changed) == found
    assert ("and" in kinds) == found


def test_lines_that_were_always_alike_are_not_shorted() -> None:
    """Nothing changed on them: there is nothing to explain, whatever else differs."""
    good = with_bit(RANDOM, 1, bit(RANDOM, 0))
    assert list(data_lines.shorted(pair(good, flipped(good, 6, [1, 2, 3])))) == []


# ---- inverted reads


def test_an_inverted_read_has_every_bit_turned() -> None:
    (found,) = data_lines.inverted(pair(RANDOM, ~RANDOM))
    (account,) = found.accounts
    assert (account.code, account.severity, account.detail) == ("inverted", "warning", {"bits": 8 * SIZE})
    assert why(account) == f"{8 * SIZE} of {8 * SIZE} bits are opposite"
    assert found.left(pair(RANDOM, ~RANDOM)) == 0
    assert found.bits == 1 + noise_bits(SIZE, 0)   # one bit: inverted or not


def test_an_inverted_read_with_noise_leaves_the_noise() -> None:
    noisy = flipped(~RANDOM, 3, np.arange(20))
    (found,) = data_lines.inverted(pair(RANDOM, noisy))
    assert found.accounts[0].detail == {"bits": 8 * SIZE - 20}
    assert found.bits == 1 + noise_bits(SIZE, 20)


def test_a_read_is_inverted_from_half_of_the_bits_on() -> None:
    half = np.full(SIZE, 0x0F, np.uint8)
    assert len(list(data_lines.inverted(pair(half, np.zeros(SIZE, np.uint8))))) == 1
    less = half.copy()
    less[5] = 0x07
    assert list(data_lines.inverted(pair(less, np.zeros(SIZE, np.uint8)))) == []


@pytest.mark.parametrize("wired", ["and", "or"])
@pytest.mark.parametrize("lines", [(0, 1, 2), (2, 4, 7)])
def test_three_lines_bridged_are_named(lines: tuple[int, ...], wired: str) -> None:
    each = np.stack([PROGRAM >> line & 1 for line in lines])
    joined = each.min(axis=0) if wired == "and" else each.max(axis=0)
    mask = sum(1 << line for line in lines)
    bad = (PROGRAM & np.uint8(255 ^ mask)) | (joined * np.uint8(mask))
    found = same_in_any_order(PROGRAM, bad)
    assert (found.code, found.detail["lines"], found.detail["wired"]) == (
        "data-lines-shorted", [f"D{line}" for line in lines], wired
    )


def test_a_line_loose_in_two_of_three_reads_leaves_the_third_alone() -> None:
    """On one line two of three reads always agree, and where the two are wrong a vote is."""
    hit = [np.random.default_rng(seed).random(len(PROGRAM)) < 0.3 for seed in (1, 2)]
    loose = [PROGRAM | one.astype(np.uint8) << 2 for one in hit]
    found = causes(PROGRAM, *loose)
    assert [(one.code, one.detail["reads"]) for one in found] == [("data-line-unstable", [2, 3])]
