"""Causes that lie in the extent of a read, and what only looks like one.

What a bus that nobody drives shows, and what readers fill with, is common practice, no source; that an erased EPROM
gives FF is in makers' data sheets.
"""

from __future__ import annotations

import numpy as np
import pytest

from imagekeeper.comparison import shapes
from imagekeeper.comparison.diagnosis import diagnose
from imagekeeper.comparison.pair import Bytes
from tests.comparison.content import GLYPHS, PROGRAM, RANDOM, causes, flipped, pair, same_in_any_order

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])


@CONTENT
@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("which", ["low", "high"])
def test_a_bus_that_floats_follows_its_addresses(good: Bytes, which: str, inverted: bool) -> None:
    shift = 8 if which == "high" else 0
    bad = np.array([(at >> shift & 0xFF) ^ 0xFF * inverted for at in range(len(good))], np.uint8)
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["address_byte"], found.detail["inverted"]) == ("floating-bus", which, inverted)
    assert found.confidence > 0.9


def test_a_read_that_follows_only_half_of_its_addresses_does_not_float() -> None:
    bad = np.arange(8192).astype(np.uint8)
    bad[: 8192 // 2] = RANDOM[: 8192 // 2]
    assert list(shapes.floating(pair(RANDOM, bad))) == []


@pytest.mark.parametrize("stray", [1, 3])
def test_a_stray_byte_in_a_tail_of_fill_is_not_a_read_cut_short(stray: int) -> None:
    """Four bytes of data at least must be missing."""
    good = RANDOM.copy()
    good[6000:] = 0xFF
    noisy = good.copy()
    noisy[[6500, 7000, 7900][:stray]] = [0x21, 0x00, 0x7F][:stray]
    assert list(shapes.cut_short(pair(noisy, good))) == []
    for reads in ((good, noisy), (noisy, good), (good, noisy, good)):
        found = causes(*reads)
        assert found
        assert all(one.code != "truncated" for one in found)
        assert all("truncated" not in one.detail.get("causes", ()) for one in found)


def test_data_where_the_other_has_fill_is_a_read_cut_short() -> None:
    good = RANDOM.copy()
    good[7000:] = 0xFF
    bad = good.copy()
    bad[6500:] = 0xFF
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["fill"]) == ("truncated", "FF")
    assert found.detail["at"] == 6500 + int(np.flatnonzero(good[6500:] != 0xFF)[0])


@pytest.mark.parametrize("count", [1, 2])
def test_a_lone_bit_from_1_to_0_in_a_tail_of_fill_is_no_charge_loss(count: int) -> None:
    """An erased cell has no charge to lose; that all others lost theirs there is not to be thought of."""
    good = RANDOM.copy()
    good[6000:] = 0xFF
    bad = good.copy()
    bad[[7123, 6543][:count]] = [0xFD, 0xBF][:count]
    for reads in ((good, bad), (bad, good), (good, bad, good)):
        found = causes(*reads)
        assert found
        assert all(one.code != "charge-loss" for one in found)
    assert causes(good, bad, good)[0].detail["reads"] == [2]


def test_a_plain_beginning_against_bytes_at_random_is_different_content() -> None:
    """Whatever else they differ in: no loss in the plain one tells of all bytes of the other."""
    for plain in (np.zeros(512, np.uint8), np.full(512, 0xFF, np.uint8), np.tile(np.arange(4, dtype=np.uint8), 128)):
        one, other = PROGRAM[:8192].copy(), RANDOM.copy()
        one[:512] = plain
        for reads in ((one, other), (other, one)):
            found = causes(*reads)[0]
            assert found.code == "content-differs"
            assert found.confidence <= 0.9


def test_another_version_of_a_few_bytes_is_different_content() -> None:
    other = PROGRAM.copy()
    other[0x400:0x440] = PROGRAM[0x800:0x840]
    found = causes(PROGRAM, other)[0]
    assert (found.code, len(found.detail["stretches"])) == ("content-differs", 1)


def test_blank_against_anything_is_blank_whatever_the_size() -> None:
    for good in (GLYPHS, PROGRAM, RANDOM[:100]):
        assert [one.code for one in causes(good, np.full_like(good, 0xFF))] == ["blank"]


def test_a_half_of_a_chip_alone_is_told() -> None:
    upper = causes(PROGRAM, PROGRAM[len(PROGRAM) // 2 :])[0]
    assert (upper.code, upper.detail["missing"], upper.detail["parts"]) == ("half-missing", [0], 2)
    third = causes(RANDOM, RANDOM[4096:6144])[0]
    assert (third.code, third.detail["missing"], third.detail["parts"]) == ("block-missing", [0, 1, 3], 4)


def test_pieces_put_in_may_be_another_version_or_come_from_the_transfer() -> None:
    """Nothing in two reads of one size tells the two apart, so that neither is claimed."""
    longer = np.insert(PROGRAM, 900, RANDOM[:12])[: len(PROGRAM)]
    found = diagnose(PROGRAM, longer, ("a", "b"))
    assert found[0].code == "cannot-tell"
    assert set(found[0].detail["causes"]) == {"shifted", "content-differs"}
    assert {one.code for one in found[1:3]} == {"shifted", "content-differs"}
    assert all(0.3 < one.confidence < 0.7 for one in found[1:3])


def test_sizes_tell_what_they_are_beside_another_fault() -> None:
    """A read of a size that is set too large holds the chip again, or nothing more, whatever else is wrong with it."""
    good = PROGRAM[:4096]
    twice = np.tile(good | 8, 2)
    found = {one.code: one for one in causes(good, twice)}
    assert {"data-line-stuck", "mirrored"} <= set(found)
    assert "truncated" not in found
    assert found["mirrored"].detail | {"times": 2, "size_bytes": 4096, "reads": [2]} == found["mirrored"].detail
    padded = np.concatenate([good | 8, np.full(4096, 0xFF, np.uint8)])
    assert {"data-line-stuck", "ends-in-fill"} <= {one.code for one in causes(good, padded)}
    longer = np.concatenate([good | 8, PROGRAM[4096:8192]])
    assert {"data-line-stuck", "truncated"} <= {one.code for one in causes(good, longer)}


def test_two_reads_that_agree_did_not_lose_the_same_bytes() -> None:
    strange = np.random.default_rng(5).integers(0, 256, 30, np.uint8)
    bad = np.insert(PROGRAM, 0x700, strange)
    for other in (bad, bad[: len(PROGRAM)]):
        found = causes(PROGRAM, other, PROGRAM)
        shifted = next(one for one in found if one.code == "shifted")
        assert shifted.detail["read"] == "r2.bin"
        assert [slip["lost"] for slip in shifted.detail["slips"]] == [-30]


def test_noise_beside_a_shift_is_told_with_it() -> None:
    """In a read of the same size a version that was changed looks the same: then both are named."""
    moved = np.delete(PROGRAM, range(0x500, 0x507))
    noisy = flipped(moved, 3, 60)
    found = causes(PROGRAM, noisy, PROGRAM)
    assert found[0].code == "shifted"
    assert "random-noise" in [one.code for one in found]
    filled = np.concatenate([noisy, np.full(7, 0xFF, np.uint8)])
    told = causes(PROGRAM, filled, PROGRAM)
    assert told[0].code == "cannot-tell"
    assert set(told[0].detail["causes"]) == {"shifted", "content-differs"}
