"""Each fault is named, with its line, place and read; and nothing depends on the order of the reads.

The fault models are those of memory testing: stuck-at, coupling (shorted lines) and address decoder faults, as in
A. J. van de Goor, Testing Semiconductor Memories, 1991, chapter 2 (from memory), applied to reads of a ROM.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import shapes
from imagekeeper.comparison.comparison import compare
from imagekeeper.comparison.diagnosis import diagnose
from imagekeeper.comparison.pair import Bytes
from imagekeeper.comparison.wiring import exchange_data_lines
from imagekeeper.containers.model import Image, Segment
from imagekeeper.findings import Finding
from imagekeeper.jobs import specimen

NAMES = ("good.bin", "bad.bin")
PROGRAM = np.frombuffer(specimen.program(), np.uint8)
GLYPHS = np.frombuffer(specimen.character_generator(), np.uint8)
RANDOM = np.random.default_rng(85).integers(0, 256, 8192, np.uint8)
AT = np.arange(1 << 15)


def first(good: Bytes, bad: Bytes) -> Finding:
    found = diagnose(good, bad, NAMES)
    assert found, "no cause was found"
    return found[0]


CONTENT = pytest.mark.parametrize("good", [PROGRAM, GLYPHS, RANDOM], ids=["program", "characters", "random"])


def stuck(good: Bytes, line: int, value: int) -> Bytes:
    mask = np.uint8(1 << line)
    return good | mask if value else good & ~mask


def is_stuck(found: Finding, line: int, value: int, ill: int) -> None:
    """The line, its value, and the read, whichever of the two it is."""
    assert found.code == "data-line-stuck"
    assert (found.detail["line"], found.detail["value"], found.detail["read"], found.detail["reads"]) == (
        f"D{line}", value, NAMES[ill - 1], [ill],
    )  # fmt: skip


@pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])
@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", range(3, 7))
def test_a_stuck_data_line(good: Bytes, line: int, value: int) -> None:
    bad = stuck(good, line, value)
    is_stuck(first(good, bad), line, value, 2)
    is_stuck(first(bad, good), line, value, 1)
    assert first(good, bad).confidence > 0.9


@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", range(3, 7))
def test_a_stuck_line_of_characters_may_be_shorted_to_one_that_never_changes(line: int, value: int) -> None:
    """D0, D1 and D7 of the characters are 0 everywhere: that D3 is tied to one of them gives the same bytes."""
    bad = stuck(GLYPHS, line, value)
    for reads, ill in (((GLYPHS, bad), 2), ((bad, GLYPHS), 1)):
        found = diagnose(*reads, NAMES)
        likely = [one for one in found if one.code != "cannot-tell"]
        is_stuck(likely[0], line, value, ill)
        if found[0].code == "cannot-tell":
            assert found[0].detail["causes"] == ["data-line-stuck", "data-lines-shorted"]
            assert found[0].confidence > likely[0].confidence > likely[1].confidence
    if value == 0:
        assert diagnose(GLYPHS, bad, NAMES)[0].code == "cannot-tell"


@CONTENT
def test_an_unstable_data_line(good: Bytes) -> None:
    hit = np.random.default_rng(1).random(len(good)) < 0.05
    found = first(good, np.where(hit, good | 0x20, good).astype(np.uint8))
    assert (found.code, found.detail["line"]) == ("data-line-unstable", "D5")
    assert found.detail["one_to_zero"] == 0
    # bytes at random are no stranger in the one read than in the other
    assert found.detail.get("reads") == (None if good is RANDOM else [2])


@pytest.mark.parametrize("wired", ["and", "or"])
def test_shorted_data_lines(wired: str) -> None:
    """Wired-AND of D0 and D1, as a ramp of bytes shows it: 3 becomes 3, 1 and 2 become 0."""
    x, y = PROGRAM >> 2 & 1, PROGRAM >> 5 & 1
    both = x & y if wired == "and" else x | y
    found = first(PROGRAM, (PROGRAM & np.uint8(0xDB)) | both << 2 | both << 5)
    assert (found.code, found.detail["lines"], found.detail["wired"]) == ("data-lines-shorted", ["D2", "D5"], wired)


@CONTENT
@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("line", [0, 3, 10])
def test_a_stuck_address_line(good: Bytes, line: int, value: int) -> None:
    at = AT[: len(good)]
    bad = good[at | 1 << line if value else at & ~(1 << line)]
    for found, read in ((first(good, bad), "bad.bin"), (first(bad, good), "good.bin")):
        assert found.code == "address-line-stuck"
        assert (found.detail["line"], found.detail["value"], found.detail["read"]) == (f"A{line}", value, read)


def test_an_unstable_address_line() -> None:
    hit = np.random.default_rng(2).random(len(PROGRAM)) < 0.1
    found = first(PROGRAM, np.where(hit, PROGRAM[AT & ~(1 << 7)], PROGRAM).astype(np.uint8))
    assert (found.code, found.detail["line"]) == ("address-line-unstable", "A7")


def test_exchanged_lines_come_as_a_wiring_table() -> None:
    bad = exchange_data_lines(PROGRAM, (1, 2, 0, 3, 4, 5, 6, 7))
    found = first(PROGRAM, bad)
    assert found.code == "data-lines-exchanged"
    assert found.detail["wiring"] == [
        {"line": "D0", "carries": "D1"}, {"line": "D1", "carries": "D2"}, {"line": "D2", "carries": "D0"},
    ]  # fmt: skip


@CONTENT
def test_reversed_inverted_and_exchanged_bytes(good: Bytes) -> None:
    assert first(good, exchange_data_lines(good, (7, 6, 5, 4, 3, 2, 1, 0))).code == "bits-reversed"
    assert first(good, ~good).code == "inverted"
    pairs = first(good, good[AT[: len(good)] ^ 1])
    assert (pairs.code, pairs.detail["address_xor"]) == ("bytes-exchanged", 1)


@CONTENT
def test_bytes_lost_and_gained_on_the_way(good: Bytes) -> None:
    lost = first(good, np.delete(good, slice(700, 703)))
    assert lost.code == "shifted"
    assert [slip["lost"] for slip in lost.detail["slips"]] == [3]
    assert lost.detail["read"] == "bad.bin"
    longer = np.insert(good, 900, [1, 2, 3, 4, 5])
    for reads, ill in (((good, longer), "good.bin"), ((longer, good), "bad.bin")):   # lost, rather than gained
        found = first(*reads)
        assert (found.code, [slip["lost"] for slip in found.detail["slips"]]) == ("shifted", [5])
        assert found.detail["read"] == ill
    padded = np.concatenate([np.delete(good, slice(700, 703)), np.full(3, 0xFF, np.uint8)])
    assert first(good, padded).code == "shifted"


def test_truncated_doubled_and_lanes() -> None:
    short = first(PROGRAM, PROGRAM[:12000])
    assert (short.code, short.detail["at"], short.detail["missing"]) == ("truncated", 12000, 32768 - 12000)
    filled = PROGRAM.copy()
    filled[12000:] = 0xFF
    assert (first(PROGRAM, filled).code, first(PROGRAM, filled).detail["fill"]) == ("truncated", "FF")
    twice = first(GLYPHS, np.tile(GLYPHS, 2))
    assert (twice.code, twice.detail["times"], twice.detail["size_bytes"]) == ("mirrored", 2, 2048)
    lane = first(PROGRAM, PROGRAM[1::2])
    assert (lane.code, lane.detail["lane"], lane.detail["of"]) == ("lane-of", 1, 2)


def flipped(good: Bytes, seed: int, count: int, only: int | None = None) -> Bytes:
    dice = np.random.default_rng(seed)
    bits = np.unpackbits(good)
    places = np.arange(len(bits)) if only is None else np.flatnonzero(bits == only)
    bits[dice.choice(places, count, replace=False)] ^= 1
    return np.packbits(bits)


@CONTENT
def test_charge_loss_goes_from_0_to_1_and_noise_both_ways(good: Bytes) -> None:
    lossy = first(good, flipped(good, 3, 60, only=0))
    assert (lossy.code, lossy.detail["zero_to_one"], lossy.detail["read"]) == ("charge-loss", 60, "bad.bin")
    assert first(flipped(good, 3, 60, only=0), good).detail["read"] == "good.bin"
    assert first(good, flipped(good, 4, 60)).code == "random-noise"


def test_the_supply_voltage_speaks_for_or_against_charge_loss() -> None:
    """Charge loss grows with the voltage at which a chip is read. Common practice, no source."""
    bad = flipped(PROGRAM, 5, 24, only=0)
    rises, falls = (diagnose(PROGRAM, bad, NAMES, volts=v)[0] for v in ((4.5, 5.5), (5.5, 4.5)))
    assert "as charge loss shows" in rises.why
    assert rises.confidence >= falls.confidence


def test_two_faults_at_once_are_two_findings() -> None:
    bad = PROGRAM | np.uint8(1 << 4)
    hit = np.random.default_rng(6).random(len(bad)) < 0.03
    bad = np.where(hit, bad & ~np.uint8(2), bad).astype(np.uint8)
    found = {(f.code, f.detail.get("line")) for f in diagnose(PROGRAM, bad, NAMES)}
    assert {("data-line-stuck", "D4"), ("data-line-unstable", "D1")} <= found


def test_other_content_is_not_taken_for_a_fault() -> None:
    other = np.random.default_rng(7).integers(0, 256, len(RANDOM), np.uint8)
    assert first(RANDOM, other).code == "content-differs"
    patched = PROGRAM.copy()
    patched[0x900:0x960] = PROGRAM[0x1300:0x1360]
    found = first(PROGRAM, patched)
    assert found.code == "content-differs"
    assert found.detail["stretches"][0]["start"] in range(0x900, 0x908)


@pytest.mark.parametrize(("value", "code"), [(0xFF, "blank"), (0, "not-selected"), (0x5A, "not-selected")])
def test_a_blank_read_is_told(value: int, code: str) -> None:
    """And is no read that was cut short at its first byte."""
    blank = np.full_like(PROGRAM, value)
    for reads, ill in (((PROGRAM, blank), 2), ((blank, PROGRAM), 1)):
        (found,) = diagnose(*reads, NAMES)
        assert (found.code, found.detail["value"], found.detail["reads"]) == (code, f"{value:02X}", [ill])
        assert found.confidence > 0.95


FAULTS: list[Callable[[Bytes], Bytes]] = [
    lambda a: a | np.uint8(4),
    lambda a: a[AT[: len(a)] & ~16],
    lambda a: exchange_data_lines(a, (3, 1, 2, 0, 4, 5, 6, 7)),
    lambda a: ~a,
    lambda a: a[AT[: len(a)] ^ 1],
    lambda a: flipped(a, 9, 50),
    lambda a: flipped(a, 9, 50, only=0),
    lambda a: np.delete(a, slice(100, 104)),
    lambda a: a[: len(a) // 2],
    lambda a: a[::2],
]


@CONTENT
@pytest.mark.parametrize("fault", FAULTS)
def test_the_order_of_the_reads_does_not_matter(good: Bytes, fault: Callable[[Bytes], Bytes]) -> None:
    """But for the direction: the cause, its line and the read at fault are the same."""
    bad = fault(good)
    there = diagnose(good, bad, ("good", "bad"))[0]
    back = diagnose(bad, good, ("bad", "good"))[0]
    assert there.code == back.code
    for key in ("line", "value", "read", "address_xor", "of", "lane", "times"):
        assert there.detail.get(key) == back.detail.get(key)
    assert abs(there.confidence - back.confidence) < 0.05


@given(first_read=st.binary(max_size=300), second_read=st.binary(max_size=300))
def test_any_two_reads_are_explained_without_failing(first_read: bytes, second_read: bytes) -> None:
    a, b = (np.frombuffer(read, np.uint8) for read in (first_read, second_read))
    found = diagnose(a, b, NAMES)
    assert all(0 <= f.confidence <= 1 for f in found)
    assert bool(found) or first_read == second_read or not min(len(a), len(b)) or (
        first_read[: len(b)] == second_read[: len(a)]
    )


@given(data=st.binary(min_size=40, max_size=400), cut=st.integers(0, 400), length=st.integers(1, 30))
def test_following_a_loss_accounts_for_every_byte(data: bytes, cut: int, length: int) -> None:
    cut = min(cut, len(data))
    slips, agreed, wrong = shapes.follow(data, data[:cut] + data[cut + length :])
    lost = sum(max(slip.lost, 0) for slip in slips)
    gained = sum(max(-slip.lost, 0) for slip in slips)
    assert agreed + wrong + lost <= len(data)
    assert agreed + wrong + gained <= max(len(data) - length, cut)


def test_many_different_reads_are_looked_at_in_part() -> None:
    reads = [Image.from_bytes(flipped(GLYPHS, seed, 20).tobytes()) for seed in range(200)]
    result = compare(reads, [f"read{i}.bin" for i in range(200)])
    assert not result.agree
    assert result.findings[0].code == "random-noise"
    assert "not-diagnosed" in {f.code for f in result.findings}


def test_the_read_that_most_give_is_the_measure() -> None:
    good, bad = GLYPHS.tobytes(), (GLYPHS | np.uint8(4)).tobytes()
    result = compare([Image.from_bytes(r) for r in (bad, good, good, good)], ["a", "b", "c", "d"])
    assert (result.findings[0].code, result.findings[0].detail["read"]) == ("data-line-stuck", "a")


def test_reads_with_gaps_are_diagnosed_where_both_have_bytes() -> None:
    def image(data: bytes) -> Image:
        return Image(segments=(Segment(0, data[:1000]), Segment(2000, data[1000:])), addressed=True)

    result = compare([image(RANDOM.tobytes()), image((RANDOM | np.uint8(8)).tobytes())], ["a", "b"])
    assert (result.findings[0].code, result.findings[0].detail["line"]) == ("data-line-stuck", "D3")


def test_pins_are_named_when_the_chip_is() -> None:
    pins = {"D3": "pin 15 of a 27128"}
    found = diagnose(PROGRAM, PROGRAM | np.uint8(8), NAMES, pins=pins)[0]
    assert "D3 (pin 15 of a 27128)" in found.hint
    assert found.detail["pins"] == pins


def test_large_reads_are_diagnosed_where_they_differ_most(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("imagekeeper.comparison.causes.WINDOW", 4096)

    def found_in(*reads: Bytes) -> tuple[Finding, ...]:
        images = [Image(segments=(Segment(0x8000, read.tobytes()),), addressed=True) for read in reads]
        return compare(images, [f"r{number}.bin" for number in range(1, len(reads) + 1)]).findings

    bad = PROGRAM.copy()
    bad[0x3000:0x4000] |= np.uint8(16)
    bad[0x5000] ^= 1
    found = found_in(PROGRAM, bad, PROGRAM)
    assert (found[0].code, found[0].detail["line"], found[0].detail["reads"]) == ("data-line-stuck", "D4", [2])
    differing = int(np.count_nonzero(bad != PROGRAM))
    assert (found[-1].code, found[-1].detail) == (
        "not-diagnosed", {"start": 0xB000, "length": 4096, "differing": differing - 1, "of": differing},
    )  # fmt: skip
    bad = PROGRAM.copy()
    bad[0x1234:] = 0
    for reads, name in (((PROGRAM, bad), "r2.bin"), ((bad, PROGRAM, PROGRAM), "r1.bin")):
        short = found_in(*reads)[0]
        assert (short.code, short.detail["at"], short.detail["read"]) == ("truncated", 0x8000 + 0x1234, name)


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        (lambda a: (a | np.uint8(4)) & ~np.uint8(64), {("data-line-stuck", "D2"), ("data-line-stuck", "D6")}),
        (lambda a: a[AT[: len(a)] & ~32] | np.uint8(8), {("data-line-stuck", "D3"), ("address-line-stuck", "A5")}),
        (lambda a: a[AT[: len(a)] & ~(3 << 12)], {("address-line-stuck", "A12"), ("address-line-stuck", "A13")}),
    ],
)
def test_two_rules_together_beat_a_list_of_differences(
    fault: Callable[[Bytes], Bytes], expected: set[tuple[str, str]]
) -> None:
    found = {(f.code, f.detail.get("line", "")) for f in diagnose(PROGRAM, fault(PROGRAM), NAMES)}
    assert expected <= found


@pytest.mark.parametrize("size", [3 << 10, 24 << 10, 10_001])
def test_sizes_that_are_no_power_of_two(size: int) -> None:
    good = PROGRAM[:size]
    assert first(good, exchange_data_lines(good, (7, 6, 5, 4, 3, 2, 1, 0))).code == "bits-reversed"
    assert first(good, exchange_data_lines(good, (1, 0, 2, 3, 4, 5, 6, 7))).code == "data-lines-exchanged"
    at = AT[:size]
    stuck = first(good, good[at & ~(1 << 9)])
    assert (stuck.code, stuck.detail["line"]) == ("address-line-stuck", "A9")


def test_a_stuck_line_with_a_little_noise_is_still_stuck() -> None:
    bad = flipped(PROGRAM | np.uint8(8), 11, 50)
    found = first(PROGRAM, bad)
    assert (found.code, found.detail["line"]) == ("data-line-stuck", "D3")


def test_nobody_is_sure_of_content_that_differs() -> None:
    """Which says only that nothing else fits."""
    other = np.random.default_rng(7).integers(0, 256, len(RANDOM), np.uint8)
    for good, bad in ((RANDOM, other), (PROGRAM[:8192], other), (PROGRAM[:4096], PROGRAM[8192:12288])):
        found = first(good, bad)
        assert (found.code, found.confidence <= 0.9) == ("content-differs", True)


def test_a_longer_read_that_ends_in_fill_is_not_called_truncated() -> None:
    padded = np.concatenate([PROGRAM, np.full(len(PROGRAM), 0xFF, np.uint8)])
    assert first(PROGRAM, padded).code == "ends-in-fill"
