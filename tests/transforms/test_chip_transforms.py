"""Sizes, lanes and bits: against independent oracles, there and back, and refusals that say by how many bytes."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.jobs import specimen
from imagekeeper.transforms import bits, lanes, sizes


@given(st.binary(max_size=400), st.sampled_from([2, 4]), st.sampled_from([1, 2]))
def test_lanes_against_a_table_of_rows(data: bytes, count: int, width: int) -> None:
    data = data[: len(data) // (count * width) * count * width]
    table = np.frombuffer(data, np.uint8).reshape(-1, count, width)
    split = [lanes.split(data, lane, count, width) for lane in range(count)]
    assert split == [table[:, lane].tobytes() for lane in range(count)]
    assert lanes.join(split, width) == data


def test_the_two_chips_of_the_tide_recorder() -> None:
    program, files = specimen.program(), specimen.files()
    assert lanes.join([files["u4-first.bin"], files["u5-first.bin"]]) == program
    assert lanes.split(program, 1, 2) == files["u5-first.bin"]


@pytest.mark.parametrize(("size", "count", "width", "why"), [
    (5, 2, 1, "1 byte more than whole rows of 2, or 1 byte fewer"),
    (13, 4, 2, "5 bytes more than whole rows of 8, or 3 bytes fewer"),
])  # fmt: skip
def test_an_image_that_does_not_divide_into_lanes(size: int, count: int, width: int, why: str) -> None:
    with pytest.raises(UsageError) as problem:
        lanes.split(bytes(size), 0, count, width)
    assert problem.value.code == "does-not-fit"
    assert why in problem.value.why


def test_lanes_that_cannot_be_joined() -> None:
    for images, width, code, why in (
        ([b"abcd", b"abc"], 1, "does-not-fit", "lane 1 has 1 byte fewer than lane 0"),
        ([b"abcd", b"abcdef"], 2, "does-not-fit", "lane 1 has 2 bytes more than lane 0"),
        ([b"abc", b"abc"], 2, "does-not-fit", "1 byte too many"),
        ([b"a", b"b", b"c"], 1, "usage", "2 or 4 lanes"),
        ([b"a"], 1, "usage", "2 or 4 lanes"),
    ):
        with pytest.raises(UsageError) as problem:
            lanes.join(images, width)
        assert (problem.value.code, why in problem.value.why) == (code, True), problem.value.why


@given(st.binary(max_size=400))
def test_swapping_against_another_byte_order(data: bytes) -> None:
    data = data[: len(data) // 4 * 4]
    assert bits.swap(data, "bytes") == np.frombuffer(data, "<u2").astype(">u2").tobytes()
    halves = np.frombuffer(data, "<u2").reshape(-1, 2)
    assert bits.swap(data, "words") == halves[:, ::-1].tobytes()
    for what in ("bytes", "words"):
        assert bits.swap(bits.swap(data, what), what) == data


@pytest.mark.parametrize(("what", "size", "why"), [
    ("bytes", 7, "1 byte more than whole words, or 1 byte fewer"),
    ("words", 10, "2 bytes more than whole words, or 2 bytes fewer"),
])  # fmt: skip
def test_an_image_that_does_not_divide_into_words(what: bits.Swapped, size: int, why: str) -> None:
    with pytest.raises(UsageError) as problem:
        bits.swap(bytes(size), what)
    assert problem.value.code == "does-not-fit"
    assert why in problem.value.why


@given(st.binary(max_size=300))
def test_bits_against_arrays_of_bits(data: bytes) -> None:
    wires = np.unpackbits(np.frombuffer(data, np.uint8)).reshape(-1, 8)
    assert bits.invert(data) == np.packbits(1 - wires).tobytes()
    assert bits.reverse(data) == np.packbits(wires[:, ::-1]).tobytes()
    assert bits.invert(bits.invert(data)) == bits.reverse(bits.reverse(data)) == data


@given(st.binary(min_size=1, max_size=200), st.integers(0, 200), st.integers(0, 255))
def test_padding_goes_to_one_end_only(data: bytes, more: int, fill: int) -> None:
    size = len(data) + more
    behind, before = sizes.pad(data, size, fill), sizes.pad(data, size, fill, "start")
    assert (behind[: len(data)], before[more:]) == (data, data)
    assert behind[len(data) :] == before[:more] == bytes([fill] * more)
    assert sizes.trim(behind, len(data), fill) == data


def test_sizes_that_do_not_fit_say_by_how_many_bytes() -> None:
    data = b"TIDE GAUGE"
    for change, why in (
        (lambda: sizes.pad(data, 8, 0), "2 bytes more than 8 bytes"),
        (lambda: sizes.repeat(data, 25), "2 x 10 bytes leave 5 bytes of 25 bytes"),
        (lambda: sizes.repeat(data, 9), "leave 9 bytes"),
        (lambda: sizes.window(data, 8, 4), "2 bytes more than the image has"),
        (lambda: sizes.trim(data, 12, 0), "2 bytes fewer"),
        (lambda: sizes.trimmed_size(data, 0), "the image has 6 bytes fewer"),
        (lambda: sizes.fill_gaps(data, [(11, 4)], 0), "a gap of 4 bytes at 000B"),
        (lambda: sizes.fill_gaps(data, [(4, 4), (2, 1)], 0), "a gap of 1 byte at 0002"),
    ):
        with pytest.raises(UsageError) as problem:
            change()
        assert problem.value.code == "does-not-fit"
        assert why in problem.value.why


@given(st.binary(min_size=1, max_size=50), st.integers(1, 9))
def test_copies_fill_a_size(data: bytes, copies: int) -> None:
    filled = sizes.repeat(data, copies * len(data))
    assert len(filled) == copies * len(data)
    assert all(byte == data[at % len(data)] for at, byte in enumerate(filled))


@given(st.binary(max_size=70), st.integers(0, 70), st.integers(0, 255))
def test_trimming_never_loses_anything_but_fill(data: bytes, more: int, fill: int) -> None:
    whole = data + bytes([fill] * more)
    for size in range(1, len(whole) + 1):
        if all(byte == fill for byte in whole[size:]):
            assert sizes.trim(whole, size, fill) == whole[:size]
        else:
            with pytest.raises(UsageError) as problem:
                sizes.trim(whole, size, fill)
            assert problem.value.code == "would-lose"


def test_trimming_to_a_power_of_two() -> None:
    assert sizes.trimmed_size(b"a" * 9 + bytes(55), 0) == 16
    assert sizes.trimmed_size(b"a" * 16 + bytes(48), 0) == 16
    assert sizes.trimmed_size(b"a" + bytes(63), 0) == 1
    with pytest.raises(UsageError) as blank:
        sizes.trimmed_size(b"\xff" * 64, 0xFF)
    assert blank.value.code == "would-lose"


@given(st.lists(st.tuples(st.binary(min_size=1, max_size=9), st.integers(1, 9)), min_size=1, max_size=6))
def test_gaps_against_a_map_of_addresses(runs: list[tuple[bytes, int]]) -> None:
    memory: dict[int, int] = {}
    at, gaps = 0, []
    for data, gap in runs:
        memory |= {at + i: byte for i, byte in enumerate(data)}
        at += len(data)
        gaps.append((at, gap))
        at += gap
    present = b"".join(data for data, _ in runs)
    assert sizes.fill_gaps(present, gaps, 0xEE) == bytes(memory.get(address, 0xEE) for address in range(at))


def test_a_large_image_takes_no_time_per_byte() -> None:
    """64 MiB; a loop over bytes would take many times as long."""
    data = bytes(64 << 20)
    began = time.process_time()
    halves = [lanes.split(data, lane, 2, 2) for lane in (0, 1)]
    assert lanes.join(halves, 2) == data
    assert bits.swap(data, "bytes") == bits.swap(data, "words") == data
    assert bits.reverse(bits.invert(data))[-1] == 0xFF
    assert sizes.trim(data, 1 << 20, 0) == data[: 1 << 20]
    assert time.process_time() - began < 8
