"""Every convention is found where it was put; chance is not taken for one."""

from __future__ import annotations

import random
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper import tables
from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InputError, UsageError
from imagekeeper.jobs import specimen
from imagekeeper.selfchecks.balances import BALANCES
from imagekeeper.selfchecks.figures import Figures
from imagekeeper.selfchecks.results import Check, SelfCheck
from imagekeeper.selfchecks.search import check, own_checks
from imagekeeper.selfchecks.stored import stored_rules

SEEDS = st.integers(0, 2**32)
SIZES = st.sampled_from([1024, 2048, 6144, 16384])
USUAL = ("CRC-16/ARC", "CRC-16/XMODEM", "CRC-16/IBM-3740", "sum16", "sum16-complement", "sum16-inverse")
RULES = {rule.id: rule for rule in stored_rules()}


def noise(size: int, seed: int) -> bytearray:
    data = bytearray(random.Random(seed).randbytes(size))
    data[0] |= 0x01   # no 55 AA by chance
    data[1] &= 0x7F
    return data


def search(data: bytes, stored_at: int | None = None, scope: tuple[int, int] | None = None) -> SelfCheck:
    return check(Image.from_bytes(data), stored_at=stored_at, scope=scope)


def inject(data: bytearray, rule_id: str, at: int, order: Literal["little", "big"]) -> bool:
    """Store the figure of all other bytes at an offset; False when chance made it a blank value."""
    rule, width = RULES[rule_id], RULES[rule_id].bits // 8
    rest = bytes(data[:at] + data[at + width :])
    value = rule.figure(Figures(rest, []), ((0, len(rest)),)) % (1 << rule.bits)
    data[at : at + width] = value.to_bytes(width, order)
    return len(set(data[at : at + width])) > 1


def found(result: SelfCheck, rule_id: str) -> Check | None:
    return next((one for one in result.holds if one.id == rule_id), None)


def found_at(result: SelfCheck, rule_id: str, at: int) -> Check | None:
    """The check at an address; now and then, by chance, another reading of the same value stands for it."""
    title = f"stored {RULES[rule_id].title} "
    return next(
        (
            one for one in result.holds
            if (one.id, one.stored_at) == (rule_id, at) or any(also.startswith(title) for also in one.also)
        ),
        None,
    )  # fmt: skip


@given(SEEDS, SIZES, st.sampled_from(USUAL), st.sampled_from(["little", "big"]))
def test_a_usual_16_bit_value_in_the_last_word_is_strong(
    seed: int, size: int, rule: str, order: Literal["little", "big"]
) -> None:
    data = noise(size, seed)
    if inject(data, rule, size - 2, order):
        result = search(bytes(data))
        one = found_at(result, rule, size - 2)
        assert one is not None
        assert (one.stored, one.strong) == (one.computed, True)
        assert result.conclusion == "strong"
        assert one.confidence > 0.98


CRC16 = [name for name, row in tables.crcs().items() if row.width == 16]
CRC32 = [name for name, row in tables.crcs().items() if row.width == 32]


@given(
    SEEDS, SIZES, st.sampled_from(CRC32), st.sampled_from(["little", "big"]), st.sampled_from([0, 4, 10, 12, 16, 20])
)
def test_every_32_bit_crc_is_near_certain_at_every_place(
    seed: int, size: int, rule: str, order: Literal["little", "big"], from_end: int
) -> None:
    """At the start, the end, before 6, 8 or 16 bytes of vectors, and 16 bytes before the end."""
    data = noise(size, seed)
    if inject(data, rule, size - from_end if from_end else 0, order):
        one = search(bytes(data)).holds[0]
        assert (one.id, one.strong) == (rule, True)
        assert one.chance < 1e-6


@given(SEEDS, st.sampled_from(CRC16), st.sampled_from(["little", "big"]), st.sampled_from([0, 8, 10, 16, 18]))
def test_an_unusual_16_bit_value_is_found_and_not_oversold(
    seed: int, rule: str, order: Literal["little", "big"], from_end: int
) -> None:
    """Hundreds of 16-bit tests leave some doubt about each."""
    data = noise(4096, seed)
    at = 4096 - from_end if from_end else 0
    if inject(data, rule, at, order):
        one = found_at(search(bytes(data)), rule, at)
        assert one is not None
        assert not one.strong
        assert 0.001 < one.chance < 0.05


@given(SEEDS, st.sampled_from(USUAL), st.integers(1, 2000))
def test_an_address_that_was_named_before_is_strong(seed: int, rule: str, at: int) -> None:
    data = noise(4096, seed)
    if inject(data, rule, at, "big"):
        one = found_at(search(bytes(data), stored_at=at), rule, at)
        assert one is not None
        assert one.strong


@given(SEEDS, st.sampled_from(CRC32), st.integers(100, 900), st.integers(3000, 4000))
def test_a_range_whose_value_lies_outside(seed: int, rule: str, start: int, at: int) -> None:
    data = noise(4096, seed)
    part = bytes(data[start:2000])
    value = Figures(part, []).crc(tables.crcs()[rule], ((0, len(part)),))
    data[at : at + 4] = value.to_bytes(4, "little")
    result = search(bytes(data), stored_at=at, scope=(start, 2000))
    if len(set(data[at : at + 4])) > 1:
        assert result.holds[0].id == rule
        assert (result.start, result.length_bytes) == (start, 2000 - start)


@given(SEEDS, SIZES, st.sampled_from(["little", "big"]), st.booleans())
def test_sums_of_words_that_a_word_balances(
    seed: int, size: int, order: Literal["little", "big"], ones: bool
) -> None:
    data, target = noise(size, seed), 0xFFFF if ones else 0
    total = sum(int.from_bytes(data[i : i + 2], order) for i in range(0, size - 2, 2))
    data[-2:] = ((target - total) % 65536).to_bytes(2, order)
    one = found(search(bytes(data)), f"words-{'le' if order == 'little' else 'be'}-{'ones' if ones else 'zero'}")
    assert one is not None
    assert one.strong is not ones   # zero is usual; FFFF is one of the many that are merely possible


@given(SEEDS, SIZES, st.sampled_from(["sum8-zero", "sum8-ones", "xor8-zero"]))
def test_a_single_8_bit_value_is_weak(seed: int, size: int, rule: str) -> None:
    data = noise(size, seed)
    if rule == "xor8-zero":
        data[-1] ^= Figures(bytes(data), []).xor(((0, size),))
    else:
        data[-1] = (data[-1] - sum(data) - (rule == "sum8-ones")) % 256
    title = next(balance.title for balance in BALANCES if balance.id == rule)
    one = next(
        one for one in search(bytes(data)).holds
        if one.title == title or any(also.startswith(f"{title} (") for also in one.also)
    )  # fmt: skip
    assert not one.strong
    # by chance both lanes or both halves hold too, and then that is told, and is a little more
    assert one.title != title or one.confidence == 0.0


@given(SEEDS, st.sampled_from([1024, 2048, 4096]))
def test_blocks_that_each_sum_to_zero_are_told_once(seed: int, block: int) -> None:
    data = noise(16384, seed)
    for start in range(0, len(data), block):
        data[start + block - 1] = (data[start + block - 1] - sum(data[start : start + block])) % 256
    result = search(bytes(data))
    (one,) = [one for one in result.holds if one.id == "sum8-zero"]
    assert one.strong
    assert f"every block of {block} bytes" in one.title
    assert any("8-bit sum is zero (" in also for also in one.also)   # the whole follows from the blocks


def test_most_blocks_that_hold_point_at_the_others() -> None:
    data = noise(65536, 7)
    for start in range(0, 12 * 4096, 4096):
        data[start + 4095] = (data[start + 4095] - sum(data[start : start + 4096])) % 256
    one = next(one for one in search(bytes(data)).holds if one.strong)
    assert "12 of 16 blocks of 4096 bytes" in one.title


@pytest.mark.long
def test_random_images_are_not_taken_for_checked_ones() -> None:
    """1000 images of noise: no more than one strong conclusion, and as many weak hits as foretold."""
    strong = hits = 0
    expected = 0.0
    for seed in range(1000):
        result = search(random.Random(seed).randbytes(1024))
        strong += result.conclusion == "strong"
        hits += sum(1 + len(one.also) for one in result.holds)
        expected += result.expected_by_chance
    assert strong <= 1
    assert 0.7 * expected < hits < 1.3 * expected


@pytest.mark.parametrize("size", [64, 512, 4096, 65536])
@pytest.mark.parametrize("byte", [0x00, 0xFF, 0x55])
def test_blank_images_hold_nothing(size: int, byte: int) -> None:
    result = search(bytes([byte]) * size)
    assert (result.conclusion, result.holds) == ("none", ())
    assert own_checks(Image.from_bytes(bytes([byte]) * size)) == ()


@settings(max_examples=30)
@given(SEEDS, st.sampled_from([2, 4, 16]))
def test_copies_prove_nothing(seed: int, copies: int) -> None:
    """Equal halves make every exclusive or zero, and 16 copies many sums."""
    once = search(bytes(noise(1024, seed)))
    many = search(bytes(noise(1024, seed)) * copies)
    assert many.copies == copies
    assert [one.title for one in many.holds] == [one.title for one in once.holds]


@pytest.mark.parametrize("table", [
    bytes(range(256)) * 3 + bytes(range(1, 256)) + b"\0",
    b"".join(bytes(range(256))[::step] for step in (1, -1)) * 8 + bytes(range(128)) * 32,
    specimen.character_generator(),
    b"".join(b"HARBOUR OFFICE %03d\r\n" % day for day in range(365)),
])  # fmt: skip
def test_ramps_characters_and_text_are_not_checks(table: bytes) -> None:
    assert search(table).conclusion != "strong"


def test_a_line_that_never_changes_weakens_a_sum() -> None:
    """With D0 to D6 stuck at 0, an 8-bit sum says one bit: whether the ones are even in number."""
    data = bytes(byte & 0x80 for byte in noise(4096, 3)[:-1])
    data += bytes([-sum(data) % 256])
    holds = search(data).holds
    assert holds
    assert not any(one.strong for one in holds)
    # two bits where the lanes are told apart; sums modulo 15 and 255 are free of it
    assert all(one.chance_alone >= 0.25 for one in holds if "fletcher" not in one.id and "carried" not in one.id)


def test_a_blank_stored_word_counts_half() -> None:
    data = noise(4096, 5)
    data[-2:] = b"\0\0"
    missing = -sum(data) % 65536
    for at in range(1000, 1600):   # raise bytes until the sum of all is 0000
        step = min(255 - data[at], missing)
        data[at] += step
        missing -= step
    assert missing == 0
    one = found(search(bytes(data)), "sum16")
    assert one is not None
    assert one.chance_alone == pytest.approx(2.0**-8, rel=0.01)
    assert not one.strong


def test_the_demonstrations_pair_checks_itself_and_its_halves_do_not() -> None:
    """The invented program's words, high byte first, sum to zero; each chip holds only one lane of them."""
    assert own_checks(Image.from_bytes(specimen.program())) == ("16-bit sum of words, high byte first, is zero",)
    for lane in (0, 1):
        assert own_checks(Image.from_bytes(specimen.program()[lane::2])) == ()


def test_own_checks_name_the_place() -> None:
    data = noise(8192, 11)
    assert inject(data, "CRC-32/ISO-HDLC", 8188, "little")
    image = Image(segments=(Segment(0xE000, bytes(data)),), addressed=True)
    assert own_checks(image) == ("stored CRC-32/ISO-HDLC, at FFFC",)
    doubtful = Image(segments=image.segments, doubts=(Doubt(start=0xE000, length=1, code="record-sum", why="wrong"),))
    assert own_checks(doubtful) == ()
    assert [f.code for f in check(doubtful).findings] == ["doubtful-bytes"]


def test_what_cannot_be_searched_is_refused() -> None:
    with pytest.raises(InputError, match="no bytes") as empty:
        check(Image(segments=()))
    assert empty.value.code == "empty"
    gappy = Image(segments=(Segment(0, b"A"), Segment(9, b"B")))
    with pytest.raises(UsageError) as gaps:
        check(gappy)
    assert gaps.value.code == "gaps"
    assert own_checks(gappy) == ()
    huge = Image(segments=(Segment(0, bytes((64 << 20) + 1)),))
    with pytest.raises(InputError) as large:
        check(huge)
    assert large.value.code == "too-large"
    assert own_checks(huge) == ()
    for scope, at in (((0, 65), None), ((9, 9), None), (None, 64)):
        with pytest.raises(UsageError) as outside:
            search(bytes(64), at, scope)
        assert outside.value.code == "address-out-of-range"


@given(st.binary(min_size=1, max_size=700), st.data())
def test_any_bytes_range_and_address_give_an_answer(data: bytes, draw: st.DataObject) -> None:
    start = draw.draw(st.integers(0, len(data) - 1))
    end = draw.draw(st.integers(start + 1, len(data)))
    at = draw.draw(st.integers(0, len(data) - 1))
    result = search(data, at, (start, end))
    assert all(0 <= one.confidence <= 1 and one.start >= start for one in result.holds)
    assert result.conclusion in ("strong", "weak", "none")
