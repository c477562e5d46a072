"""Conventions that are easily missed, against published worked examples and other implementations."""

from __future__ import annotations

import random
import zlib

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from imagekeeper.containers.model import Image
from imagekeeper.selfchecks.balances import BALANCES, carried
from imagekeeper.selfchecks.figures import Figures
from imagekeeper.selfchecks.fill import FillRun, find_fill
from imagekeeper.selfchecks.places import CheckPlace
from imagekeeper.selfchecks.results import Check, SelfCheck
from imagekeeper.selfchecks.search import check, own_checks
from imagekeeper.selfchecks.stored import stored_rules

RULES = {rule.id: rule for rule in stored_rules()}
SEEDS = st.integers(0, 2**32)


def search(data: bytes) -> SelfCheck:
    return check(Image.from_bytes(data))


def stored(rule_id: str, data: bytes) -> int:
    rule = RULES[rule_id]
    return rule.figure(Figures(data, []), ((0, len(data)),)) % (1 << rule.bits)


def balance(rule_id: str, data: bytes) -> int:
    rule = {rule.id: rule for rule in BALANCES}[rule_id]
    return rule.figure(Figures(data, []), ((0, len(data)),)) % (1 << rule.bits)


def noise(size: int, seed: int) -> bytearray:
    data = bytearray(random.Random(seed).randbytes(size))
    data[:2] = b"\x12\x34"   # no 55 AA by chance
    return data


def held(result: SelfCheck, rule_id: str, at: int) -> Check | None:
    return next((one for one in result.holds if (one.id, one.stored_at) == (rule_id, at)), None)


# --- figures ---


def test_the_worked_example_of_the_internet_checksum() -> None:
    """RFC 1071, section 3: 00 01 F2 03 F4 F5 F6 F7 give DDF2 with the carries added; swapped words give F2DD."""
    data = bytes.fromhex("0001F203F4F5F6F7")
    assert stored("carried-words-be", data) == 0xDDF2
    assert stored("carried-words-le", data) == 0xF2DD   # RFC 1071, section 2 (B): byte order independence
    assert balance("carried-words-ones", data + (0xFFFF - 0xDDF2).to_bytes(2)) == 0xFFFF


def test_end_around_carry_is_addition_modulo_all_ones() -> None:
    """Definition: add, and add the carry to the sum; only of zeros is it zero."""
    for data in (b"", b"\0\0", b"\xff", b"\xff\xff", bytes(range(256)), random.Random(3).randbytes(99)):
        total = 0
        for byte in data:
            total += byte
            total = (total & 0xFF) + (total >> 8)
        assert carried(sum(data), 8) == total


@pytest.mark.parametrize(("text", "sum16", "sum32"), [
    ("abcde", 0xC8F0, None), ("abcdef", 0x2057, 0x56502D2A), ("abcdefgh", 0x0627, 0xEBE19591),
])  # fmt: skip
def test_check_vectors_of_fletcher(text: str, sum16: int, sum32: int | None) -> None:
    """Test vectors in wide use for J. G. Fletcher's sums (bytes modulo 255; words, low byte first): from memory."""
    assert stored("fletcher16-255", text.encode()) == sum16
    assert sum32 is None or stored("fletcher32-le", text.encode()) == sum32


@given(data=st.binary(max_size=300), cut=st.integers(0, 300))
def test_running_sums_are_what_their_definition_gives(data: bytes, cut: int) -> None:
    """J. G. Fletcher 1982: a := a + d, c := c + a for every byte, or hexadecimal digit, in turn."""
    cut = min(cut, len(data))
    figures, over = Figures(data, [cut]), ((0, cut), (cut, len(data)))
    for modulus, rule in ((255, "fletcher16-255"), (256, "fletcher16-256")):
        a = c = 0
        for byte in data:
            a = (a + byte) % modulus
            c = (c + a) % modulus
        assert RULES[rule].figure(figures, over) == c << 8 | a
    a = c = 0
    for digit in (part for byte in data for part in (byte >> 4, byte & 15)):
        a = (a + digit) % 15
        c = (c + a) % 15
    assert RULES["fletcher8"].figure(figures, over) == c << 4 | a


@given(data=st.binary(max_size=300), cut=st.integers(0, 150))
def test_running_sums_of_words_are_what_their_definition_gives(data: bytes, cut: int) -> None:
    data, cut = data[: len(data) // 2 * 2], min(cut, len(data) // 2) * 2
    for rule, order in (("fletcher32-le", "little"), ("fletcher32-be", "big")):
        a = c = 0
        for at in range(0, len(data), 2):
            a = (a + int.from_bytes(data[at : at + 2], order)) % 65535  # type: ignore[arg-type]
            c = (c + a) % 65535
        assert RULES[rule].figure(Figures(data, [cut]), ((0, cut), (cut, len(data)))) == c << 16 | a


@given(data=st.binary(min_size=1, max_size=400), cut=st.integers(0, 400))
def test_adler_against_zlib(data: bytes, cut: int) -> None:
    """RFC 1950, section 8, as the library zlib has it."""
    cut = min(cut, len(data))
    assert RULES["adler32"].figure(Figures(data, [cut]), ((0, cut), (cut, len(data)))) == zlib.adler32(data)


def test_adler_and_running_sums_of_long_data_against_zlib() -> None:
    data = random.Random(5).randbytes(200_003)
    figures = Figures(data, [7, 70_001, 150_000])
    over = ((0, 7), (7, 70_001), (70_001, 150_000), (150_000, len(data)))
    assert RULES["adler32"].figure(figures, over) == zlib.adler32(data)
    assert figures.total(over) == sum(data)


@given(data=st.binary(min_size=4, max_size=200))
def test_sums_of_long_words_are_what_their_definition_gives(data: bytes) -> None:
    data = data[: len(data) // 4 * 4]
    for short, order in (("le", "little"), ("be", "big")):
        words = [int.from_bytes(data[at : at + 4], order) for at in range(0, len(data), 4)]  # type: ignore[arg-type]
        assert stored(f"long-words-{short}", data) == sum(words) % 2**32
        halves = [int.from_bytes(data[at : at + 2], order) for at in range(0, len(data), 2)]  # type: ignore[arg-type]
        assert stored(f"words32-{short}", data) == sum(halves)


def test_a_sum_beside_its_complement() -> None:
    """By hand, of C3 00 10 AF 32 FE FF 76, which add up to 427; s and FFFF - s always add 1FE, so it may count them."""
    data = bytes.fromhex("C30010AF32FEFF76")
    assert stored("sum16-pair", data) == 0x0427_FBD8
    assert stored("sum16-pair-inverse", data) == 0xFBD8_0427
    whole = data + stored("sum16-pair-counted", data).to_bytes(4)
    assert sum(whole) == 0x427 + 0x1FE == int.from_bytes(whole[8:10])
    assert stored("sum8-pair", data) == 0x27D8


def test_a_crc_whose_place_is_counted_as_zeros() -> None:
    """CRC-32 as zlib has it, of the bytes with 00 00 00 00 and FF FF FF FF in the place of the value."""
    data = random.Random(4).randbytes(100)
    place = CheckPlace(id="", at=40, over=((0, 40), (44, 100)), tier="possible")
    figures = Figures(data, [40, 44])
    for hole in (0x00, 0xFF):
        value = RULES[f"CRC-32/ISO-HDLC-{hole:02X}"].value(figures, place)
        assert value == zlib.crc32(data[:40] + bytes([hole]) * 4 + data[44:])


# --- the end of the used part ---


def test_the_fill_is_found_behind_what_is_used() -> None:
    used = bytes(range(1, 201))
    assert find_fill(used + b"\xff" * 300) == FillRun(200, 500, 0xFF)
    assert find_fill(used + b"\0" * 300 + b"\x12\x34\x56\x78\x9a\xbc") == FillRun(200, 500, 0)
    assert find_fill(used + b"\xff" * 15) is None
    assert find_fill(b"\xff" * 500) is None
    assert find_fill(b"") is None


USUAL = pytest.mark.parametrize("rule", ["sum16", "sum16-complement", "sum16-inverse", "CRC-16/ARC", "CRC-16/XMODEM"])


@USUAL
@settings(max_examples=25)
@given(seed=SEEDS, used=st.integers(100, 3000), fill=st.sampled_from([0xFF, 0x00, 0x76]), big=st.booleans())
@example(seed=0, used=258, fill=0x00, big=False)   # a sum below 65536, which the fill makes one of 32 bits
@example(seed=0, used=258, fill=0xFF, big=False)
@example(seed=1491449, used=1333, fill=0xFF, big=False)   # the CRC's last byte and fill are a word sum by chance
@example(seed=0, used=265, fill=0x00, big=False)   # s and the low byte of -s add up to 8000: 80 and fill, elsewhere
def test_a_usual_value_at_the_end_of_the_used_part_is_strong(
    rule: str, seed: int, used: int, fill: int, big: bool
) -> None:
    data = noise(used, seed)
    value = stored(rule, bytes(data))
    held_bytes = value.to_bytes(2, "big" if big else "little")
    # nothing tells 00 00, FF FF or two bytes of the fill from memory that holds no value
    assume(len(set(held_bytes)) > 1 or held_bytes[0] not in (0x00, 0xFF, fill))
    result = search(bytes(data + held_bytes + bytes([fill]) * (4096 - used - 2)))
    one = held(result, rule, used)
    assert one is not None
    assert (one.strong, result.conclusion) == (True, "strong")
    assert [(part.start, part.length) for part in one.over] == [(0, used)]
    assert one.covers_bytes == used + 2
    assert f"the used part before the fill of {fill:02X}" in one.title
    assert one.chance < 0.001


@USUAL
@pytest.mark.parametrize("fill", [0xFF, 0x00, 0x76])
def test_a_value_whose_last_byte_looks_like_the_fill(rule: str, fill: int) -> None:
    """The used part then looks one byte shorter than it is. With vectors behind the fill it holds, but is weak.

    By hand: where -s ends in 00, -(s - d) = -s + d, so the bytes d and the high byte of -s are the same check, low byte
    first, of all bytes but the last; it needs no byte of the fill and is told first. So too ~s. And CRC-16/XMODEM: the
    low byte of the CRC after b is 00 only where b is the high byte of the CRC c before it; then it is the low byte of
    c, and 00: b and the next byte are c, high byte first, which again needs no byte of the fill.
    """
    data = next(
        data for seed in range(10_000) if (data := noise(300, seed)) and stored(rule, bytes(data)) & 0xFF == fill
    )
    used = bytes(data) + stored(rule, bytes(data)).to_bytes(2)
    at = 299 if fill == 0 and rule in ("sum16-complement", "sum16-inverse", "CRC-16/XMODEM") else 300
    for behind in (b"", bytes.fromhex("1234123456AB")):
        one = held(search(used + bytes([fill]) * (4096 - len(used) - len(behind)) + behind), rule, at)
        assert one is not None
        assert one.strong == (at == 299 or not behind)
        assert [(part.start, part.length) for part in one.over] == [(0, at)]
        assert at == 300 or any("stored at 012C, high byte first" in also for also in one.also)


@pytest.mark.parametrize("fill", [0xFF, 0x00])
def test_fill_is_no_stored_value(fill: int) -> None:
    """200 images: of the trials made, as many hold as are foretold; those whose value would be fill are not made."""
    dice, expected, found = random.Random(5), 0.0, 0
    for _ in range(200):
        used = dice.randrange(64, 900)
        result = search(dice.randbytes(used) + bytes([fill]) * (1024 - used))
        expected += result.expected_by_chance
        found += sum(1 + len(one.also) for one in result.holds)
        assert all(one.stored_at is None or one.stored_at < used for one in result.holds)
    assert found / 2 < expected < found * 2


@pytest.mark.parametrize(("fill", "rule"), [(0x00, "sum16"), (0xFF, "sum16-complement")])
def test_fill_below_a_sum_makes_it_no_wider(fill: int, rule: str) -> None:
    """Two bytes that fit are 16 bits, and the chance of a sum of 32 bits of which the fill gives half is no smaller."""
    data = noise(258, 0)
    used = bytes(data) + stored(rule, bytes(data)).to_bytes(2, "little")
    one = held(search(used + bytes([fill]) * (4096 - len(used))), rule, 258)
    assert one is not None
    assert one.chance_alone == pytest.approx(2.0**-16, rel=0.01)
    assert any("32-bit" in also for also in one.also)


@example(seed=1_127_571_473, used=40, big=False)   # a sum with end-around carry over all has the same value
@example(seed=1_913_183_577, used=61, big=True)   # and here a CRC
@settings(max_examples=25)
@given(seed=SEEDS, used=st.integers(40, 1000), big=st.booleans())
def test_a_sum_of_the_used_part_behind_the_fill(seed: int, used: int, big: bool) -> None:
    data = noise(used * 2, seed)
    data[-1] = 0x42
    value = sum(data) & 0xFFFF
    last = value.to_bytes(2, "big" if big else "little")
    result = search(bytes(data) + b"\xff" * (4096 - used * 2 - 2) + last)
    if len(set(last)) > 1 and 0xFF not in last:
        one = next(one for one in result.holds if one.stored_at == 4094)
        # once in some thousand images another rule gives the same value: both are told then, and no image can say which
        told = (one.title, *(also.partition(" (")[0] for also in one.also))
        assert "stored 16-bit sum of bytes, the fill of FF left out" in told
        assert one.strong
        assert [(part.start, part.length) for part in one.over] == [(0, used * 2)]


@settings(max_examples=25)
@given(seed=SEEDS, used=st.integers(40, 1000))
def test_words_of_the_used_part_that_a_word_balances(seed: int, used: int) -> None:
    data = noise(used * 2, seed)
    total = sum(int.from_bytes(data[at : at + 2]) for at in range(0, len(data), 2))
    word = (-total % 65536).to_bytes(2)
    if 0xFF in word:
        return
    holds = search(bytes(data) + word + b"\xff" * (4096 - used * 2 - 2)).holds
    one = next(one for one in holds if one.id == "words-be-zero")
    assert one.strong
    assert [(part.start, part.length) for part in one.over] == [(0, used * 2 + 2)]


def test_the_internet_checksum_is_the_same_over_the_fill() -> None:
    """RFC 1071: words of all zeros and of all ones add nothing."""
    data = bytes(noise(2000, 8))
    word = (0xFFFF - stored("carried-words-be", data)).to_bytes(2)
    for fill in (b"\0", b"\xff"):
        image = data + word + fill * (4096 - 2002)
        assert own_checks(Image.from_bytes(image)) == (
            "16-bit words added with end-around carry give FFFF (Internet checksum)",
        )


def test_a_used_part_of_nothing_but_zeros_has_no_check() -> None:
    """Zeros add up to zero whoever wrote them."""
    assert search(bytes(500) + b"\xff" * 524).holds == ()
    assert search(bytes(480) + b"\x01" * 20 + b"\xff" * 524).conclusion == "none"


@pytest.mark.parametrize("data", [
    bytes(range(256)) * 7 + bytes(range(1, 256)) + b"\0",
    random.Random(1).randbytes(2048) + bytes(255 - byte for byte in random.Random(1).randbytes(2048)),
    b"".join(bytes([value]) * 24 for value in range(256)),
])  # fmt: skip
def test_bytes_beside_their_complements_are_no_internet_checksum(data: bytes) -> None:
    """Ramps, and data with their inverse, add up to zero with end-around carry by themselves."""
    assert not any(one.strong for one in search(data).holds if one.id.startswith("carried"))
    assert search(data).conclusion != "strong"


# --- tables of pages ---


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize(
    ("page", "kind"), [(1024, "sum8"), (1024, "sum8-complement"), (2048, "sum16-be"), (256, "xor8")]
)
def test_a_table_of_the_sums_of_pages(page: int, kind: str, backwards: bool) -> None:
    data = noise(16 * page, 30)
    at = 3 * page + 100
    entries = []
    for start in range(0, len(data), page):
        part = data[start : start + page]
        xor = 0
        for byte in part:
            xor ^= byte
        entries.append({
            "sum8": bytes([sum(part) % 256]), "sum8-complement": bytes([-sum(part) % 256]),
            "sum16-be": (sum(part) % 65536).to_bytes(2), "xor8": bytes([xor]),
        }[kind])  # fmt: skip
    table = b"".join(reversed(entries) if backwards else entries)
    data[at : at + len(table)] = table
    one = search(bytes(data)).holds[0]
    assert (one.id, one.stored_at, one.strong) == (f"page-{kind}", at, True)
    assert ("the last page first" in one.title) == backwards
    assert f"pages of {page} bytes" in one.title
    assert "15 of 16 fit" in one.title   # the page of the table does not fit its own entry
    assert one.covers_bytes == 15 * page + len(table)


def test_even_rising_sums_are_no_table() -> None:
    """A ramp elsewhere in the image is no table of pages whose sums happen to rise evenly."""
    pages = [bytes([0] * 255 + [number]) for number in range(16)]
    pages[15] = bytes(range(16)) + bytes(240)
    assert not any(one.id.startswith("page-") for one in search(b"".join(pages)).holds)


@settings(max_examples=40)
@given(st.binary(min_size=1, max_size=40), st.integers(1, 200), st.binary(max_size=24))
def test_any_repeated_bytes_give_an_answer(piece: bytes, times: int, behind: bytes) -> None:
    result = search(piece * times + behind)
    assert all(0 <= one.chance <= 1 and one.over for one in result.holds)


def test_filled_noise_is_not_taken_for_checked() -> None:
    """200 images of noise with a fill behind: no more than one strong conclusion in a thousand is allowed."""
    dice = random.Random(77)
    strong = 0
    for _ in range(200):
        used = dice.randrange(64, 1000)
        strong += search(dice.randbytes(used) + bytes([dice.choice((0, 255))]) * (1024 - used)).conclusion == "strong"
    assert strong <= 1
