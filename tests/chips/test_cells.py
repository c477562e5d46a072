"""What is in a chip after it was written, and what can be written without erasing."""

from __future__ import annotations

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips.cells import blank_content, change, programmable_without_erasing, write
from imagekeeper.tables.chips import chip_rows

BYTES = st.binary(min_size=1, max_size=64)
BYTE = st.integers(0, 255)


def test_bits_of_an_eprom_only_go_from_1_to_0() -> None:
    """SGS-Thomson, M27512, page 3: only 0 is programmed, and only light makes 1 again. F0 over FF, then FF over F0."""
    assert programmable_without_erasing(b"\xff", b"\xf0", 0xFF)
    assert not programmable_without_erasing(b"\xf0", b"\xff", 0xFF)
    eprom = chips.find("27512")
    once = write(eprom, blank_content(eprom), b"\xf0")
    again = write(eprom, once.content, b"\xff")
    assert (once.content[0], once.right) == (0xF0, True)
    assert (again.content[0], again.failed, again.failures) == (0xF0, (0,), 1)


def test_bits_of_an_82s_prom_only_go_from_0_to_1() -> None:
    """Signetics, 82S27, July 1975: outputs begin at 0, and a blown link makes a 1."""
    assert programmable_without_erasing(b"\x00", b"\xf0", 0x00)
    assert not programmable_without_erasing(b"\xf0", b"\x00", 0x00)
    prom = chips.find("82S123")
    once = write(prom, blank_content(prom), b"\xf0")
    assert once.content[:2] == b"\xf0\x00"
    assert write(prom, once.content, b"\x0f").content[0] == 0xFF


def test_how_each_kind_of_chip_changes() -> None:
    """PMOS: pin list of the 1702A, 2006 (erased 00). EEPROM, flash memory and RAM take any byte; a mask ROM none."""
    by_kind = {change(chips.find(part)): part for part in chip_rows()}
    assert set(by_kind) == {"clears", "sets", "any", "none", "unknown"}
    assert {part: change(chips.find(part)) for part in ("1702A", "2708", "28C64", "39SF040", "48Z02", "2332")} == {
        "1702A": "sets", "2708": "clears", "28C64": "any", "39SF040": "any", "48Z02": "any", "2332": "none",
    }  # fmt: skip
    mask = chips.find("2332")
    assert write(mask, bytes(4096), b"\x01").failures == 1
    ram = chips.find("48Z02")
    assert write(ram, b"\x55" * 2048, b"\xaa").content[:2] == b"\xaa\x55"


@given(st.lists(st.tuples(BYTE, BYTE), min_size=1, max_size=64), st.sampled_from((0, 255)))
def test_programmable_means_that_no_bit_has_to_go_back(pairs: list[tuple[int, int]], blank: int) -> None:
    present, wanted = bytes(a for a, _ in pairs), bytes(b for _, b in pairs)
    back = any((a >> n & 1) != (b >> n & 1) and (a >> n & 1) != blank & 1 for a, b in pairs for n in range(8))
    assert programmable_without_erasing(present, wanted, blank) == (not back)


@given(st.sampled_from(["2716", "1702A", "82S123", "82S131", "28C16", "2316"]), BYTES, BYTES, st.integers(0, 5000))
def test_writing_succeeds_exactly_where_it_can(part: str, first: bytes, second: bytes, start: int) -> None:
    chip = chips.find(part)
    size = chip.file_bytes
    begin = b"\x00" * size if chip.blank is None else blank_content(chip)
    first, second = first[:size], second[:size]
    once = write(chip, begin, first, start=start)
    if chip.bits == 8 and chip.carrier != "mask-rom":
        assert once.right
    again = write(chip, once.content, second, start=start)
    mask = (1 << min(chip.bits, 8)) - 1
    places = [(start + n) % size for n in range(len(second))]
    wrong = {p for p, b in zip(places, second, strict=True) if again.content[p] & mask != b & mask}
    assert again.failures == len(wrong)
    assert set(again.failed) <= wrong
    assert len(again.failed) == min(8, len(wrong))
    if chip.blank is not None and change(chip) != "any":
        now = bytes(once.content[p] & mask for p in places)
        then = bytes(b & mask for b in second)
        blank = int(chip.blank, 16)
        assert again.right == programmable_without_erasing(now, then, blank if chip.bits == 8 else 0)


def test_address_lines_that_the_chip_does_not_have_are_ignored() -> None:
    chip = chips.find("2716")
    done = write(chip, blank_content(chip), b"\x12\x34", start=2047)
    assert (done.content[2047], done.content[0], len(done.content)) == (0x12, 0x34, 2048)


@pytest.mark.parametrize(("present", "wanted", "blank"), [(b"", b"1", 255), (b"1", b"1", 0x55)])
def test_what_cannot_be_compared_is_refused(present: bytes, wanted: bytes, blank: int) -> None:
    with pytest.raises(ValueError, match=r"bytes are|unwritten cell"):
        programmable_without_erasing(present, wanted, blank)


def test_absurd_requests_are_refused() -> None:
    chip = chips.find("2716")
    with pytest.raises(ValueError, match="holds 2048"):
        write(chip, b"", b"1")
    with pytest.raises(ValueError, match="below 0"):
        write(chip, bytes(2048), b"1", start=-1)
    with pytest.raises(ValueError, match="no unwritten state"):
        blank_content(chips.find("2332"))


# CRC-32 and 16-bit sum of blank chips. Derived: the CRC by the definition of IEEE 802.3, the sum by arithmetic.
@pytest.mark.parametrize(
    ("part", "size", "sum16", "crc32"),
    [
        ("2708", 1024, 0xFC00, 0xB83AFFF4), ("2716", 2048, 0xF800, 0x3F55D17F), ("2732", 4096, 0xF000, 0xF154670A),
        ("2764", 8192, 0xE000, 0xB4293435), ("27128", 16384, 0xC000, 0x690B37D3), ("27256", 32768, 0x8000, 0x1B43EABD),
        ("27512", 65536, 0x0000, 0xDEAB7E4E), ("27C010", 131072, 0x0000, 0x154803CC),
        ("27C020", 262144, 0x0000, 0xB7094978), ("27C040", 524288, 0x0000, 0x504BF849),
        ("27C080", 1048576, 0x0000, 0x956BAC74), ("1702A", 256, 0x0000, 0x0D968558),
    ],
)  # fmt: skip
def test_blank_chips(part: str, size: int, sum16: int, crc32: int) -> None:
    content = blank_content(chips.find(part))
    assert (len(content), sum(content) & 0xFFFF, zlib.crc32(content)) == (size, sum16, crc32)


def test_a_blank_four_bit_chip_has_no_upper_half() -> None:
    assert blank_content(chips.find("82S129")) == bytes(256)
