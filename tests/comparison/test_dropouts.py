"""Causes that take whole bytes: a chip not selected, contacts lost, missing parts, and two chips on one bus.

What a chip that does not answer reads as is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.comparison import dropouts
from imagekeeper.comparison.pair import Bytes
from tests.comparison.content import GLYPHS, PROGRAM, RANDOM, causes, chance, flipped, pair, same_in_any_order

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])


# ---- not selected at times


@CONTENT
@pytest.mark.parametrize("value", [0xFF, 0x00])
def test_a_chip_that_is_not_selected_now_and_then_gives_whole_bytes_of_the_bus(good: Bytes, value: int) -> None:
    bad = good.copy()
    bad[chance(good, 1, 0.01)] = value
    found = same_in_any_order(good, bad)
    count = int(np.count_nonzero(good != bad))
    assert found.code == "not-selected-at-times"
    assert found.detail["value"] == f"{value:02X}"
    assert found.detail["addresses"] == found.detail["of_addresses"] == count > 50
    assert found.confidence > 0.9


def test_single_bits_that_rise_are_no_dropouts() -> None:
    """Where the byte had but one 0, FF says nothing more than that bit: 1.3 bits a byte are asked for."""
    nearly = np.full(1000, 0xFE, np.uint8)
    bad = nearly.copy()
    bad[::50] = 0xFF
    assert list(dropouts.not_selected_at_times(pair(nearly, bad))) == []
    nearly[::100] = 0x7E   # half of them two bits: 1.5
    (found,) = dropouts.not_selected_at_times(pair(nearly, bad))
    assert found.accounts[0].detail["addresses"] == 20


def test_always_not_selected_is_not_at_times() -> None:
    bad = RANDOM.copy()
    bad[:] = 0xFF
    assert list(dropouts.not_selected_at_times(pair(RANDOM, bad))) == []


# ---- contact lost


@CONTENT
@pytest.mark.parametrize("value", [0xFF, 0x00, 0x3C])
def test_a_contact_lost_for_a_while_is_a_stretch_of_one_value(good: Bytes, value: int) -> None:
    bad = good.copy()
    bad[0x900:0xA80] = value
    found = same_in_any_order(good, bad)
    assert found.code == "contact-lost"
    (stretch,) = found.detail["stretches"]
    differing = np.flatnonzero(good != bad)
    assert (stretch["start"], stretch["start"] + stretch["length"] - 1) == (differing[0], differing[-1])
    assert found.detail["values"] == [f"{value:02X}"]
    assert found.confidence > 0.9


def test_a_contact_lost_twice_names_both_stretches() -> None:
    bad = RANDOM.copy()
    bad[100:200], bad[3000:3100] = 0xFF, 0x00
    found = same_in_any_order(RANDOM, bad)
    assert found.code == "contact-lost"
    assert [abs(one["start"] - at) <= 2 for one, at in zip(found.detail["stretches"], (100, 3000), strict=True)] == [
        True, True,
    ]  # fmt: skip
    assert found.detail["values"] == ["00", "FF"]


@CONTENT
@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", [0, 3, 6])
def test_one_line_that_loses_its_contact_for_a_while_is_named(good: Bytes, line: int, value: int) -> None:
    mask = np.uint8(1 << line)
    bad = good.copy()
    bad[0x400:0xC00] = bad[0x400:0xC00] | mask if value else bad[0x400:0xC00] & ~mask
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["line"]) == ("contact-lost", f"D{line}")
    (stretch,) = found.detail["stretches"]
    differing = np.flatnonzero(good != bad)
    assert (stretch["start"], stretch["start"] + stretch["length"] - 1) == (differing[0], differing[-1])


# ---- missing parts


@CONTENT
@pytest.mark.parametrize("value", [0xFF, 0x00])
@pytest.mark.parametrize("half", [0, 1])
def test_half_a_chip_that_is_fill_is_told_with_its_line(good: Bytes, half: int, value: int) -> None:
    size = len(good)
    bad = good.copy()
    bad[half * size // 2 : (half + 1) * size // 2] = value
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["value"], found.detail["missing"]) == ("half-missing", f"{value:02X}", [half])
    assert found.detail["line"] == f"A{(size // 2 - 1).bit_length()}"
    assert found.confidence > 0.95   # a transfer that ends just there is far less likely


@pytest.mark.parametrize(("parts", "missing"), [(4, [1]), (4, [0, 2]), (8, [5]), (16, [0, 9])])
def test_a_missing_block_is_told_with_its_place(parts: int, missing: list[int]) -> None:
    bad = RANDOM.copy()
    for block in missing:
        bad.reshape(parts, -1)[block] = 0xFF
    found = same_in_any_order(RANDOM, bad)
    assert (found.code, found.detail["parts"], found.detail["missing"]) == ("block-missing", parts, missing)


# ---- contention


@CONTENT
def test_another_chip_that_pulls_lines_low_at_some_addresses_is_contention(good: Bytes) -> None:
    """Of most families the low output wins. From memory."""
    other = np.random.default_rng(4).integers(0, 256, len(good), np.uint8)
    at = chance(good, 5, 0.02)
    bad = good.copy()
    bad[at] &= other[at]
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["wired"]) == ("contention", "and")
    assert found.detail["bits"] == found.detail["of_bits"] == int(np.bitwise_count(good ^ bad).sum())
    assert found.detail["addresses"] == int(np.count_nonzero(good != bad))


@pytest.mark.parametrize(("fill", "wired"), [(0xFF, "and"), (0x00, "or")])
def test_what_a_bus_that_nothing_holds_becomes_is_no_contention(fill: int, wired: str) -> None:
    """Anything is fill with bits pulled the other way."""
    blank = RANDOM.copy()
    blank[4000:6000] = fill
    held = pair(blank, RANDOM)
    assert [one for one in dropouts.contention(held) if one.accounts[0].detail["wired"] == wired] == []


def test_single_bits_pulled_low_are_no_contention() -> None:
    """Two chips differ in several bits of a byte: 1.2 at least."""
    bad = flipped(RANDOM, 3, 60, only=1)
    assert [one for one in dropouts.contention(pair(RANDOM, bad)) if one.accounts[0].detail["wired"] == "and"] == []


@settings(max_examples=40)
@given(data=st.binary(min_size=64, max_size=600), seed=st.integers(0, 1 << 20), value=st.sampled_from([0, 0xFF, 7]))
def test_what_is_proposed_never_leaves_more_than_there_was(data: bytes, seed: int, value: int) -> None:
    good = np.frombuffer(data, np.uint8)
    bad = good.copy()
    bad[chance(good, seed, 0.3)] = value
    held = pair(good, bad)
    for rule in (dropouts.not_selected_at_times, dropouts.contact_lost, dropouts.part_missing, dropouts.contention):
        for one in rule(held):
            assert one.left(held) <= held.flips
            assert one.bits > 0


def test_equal_reads_have_no_dropouts() -> None:
    for rule in (dropouts.not_selected_at_times, dropouts.contact_lost, dropouts.part_missing, dropouts.contention):
        assert list(rule(pair(GLYPHS, GLYPHS))) == []


# ---- other ways to lose a contact


def test_a_line_that_floats_for_a_while_is_a_lost_contact_and_not_a_loose_line() -> None:
    bad = PROGRAM.copy()
    bad[0x400:0x600] ^= np.random.default_rng(3).integers(0, 2, 0x200, np.uint8) << 5
    found = same_in_any_order(PROGRAM, bad)
    assert (found.code, found.detail["line"]) == ("contact-lost", "D5")
    assert found.confidence > 0.9
    (stretch,) = found.detail["stretches"]
    assert 0x400 <= stretch["start"] < 0x408 < 0x5F8 < stretch["start"] + stretch["length"] <= 0x600
    everywhere = PROGRAM ^ (np.random.default_rng(3).integers(0, 2, len(PROGRAM), np.uint8) << 5)
    assert causes(PROGRAM, everywhere)[0].code == "data-line-unstable"


def test_an_address_line_that_stays_for_a_while_is_named() -> None:
    bad = PROGRAM.copy()
    bad[0x400:0x600] = PROGRAM[np.arange(0x400, 0x600) | 1 << 4]
    found = same_in_any_order(PROGRAM, bad)
    assert (found.code, found.detail["line"], found.detail["value"]) == ("contact-lost", "A4", 1)


def test_noise_for_a_while_is_not_told_from_other_content() -> None:
    """Packed data look the same: both are named, and neither is likelier."""
    bad = PROGRAM.copy()
    bad[0x900:0xA00] = np.random.default_rng(8).integers(0, 256, 0x100, np.uint8)
    told = causes(PROGRAM, bad)[0]
    assert told.code == "cannot-tell"
    assert set(told.detail["causes"]) == {"contact-lost", "content-differs"}
    in_noise = RANDOM.copy()   # where the content itself is no less strange, nothing speaks for it
    in_noise[0x900:0xA00] = np.random.default_rng(8).integers(0, 256, 0x100, np.uint8)
    assert causes(RANDOM, in_noise)[0].code == "content-differs"


@pytest.mark.parametrize("value", [0x7F, 0x3C])
def test_a_bus_may_rest_at_any_value(value: int) -> None:
    bad = PROGRAM.copy()
    bad[chance(PROGRAM, 4, 0.03)] = value
    found = same_in_any_order(PROGRAM, bad)
    assert (found.code, found.detail["value"]) == ("not-selected-at-times", f"{value:02X}")
