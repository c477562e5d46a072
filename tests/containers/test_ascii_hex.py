"""ASCII-hex. Common practice of device programmers, no source; from memory."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers.ascii_hex import read, recognise
from imagekeeper.containers.model import Segment
from imagekeeper.errors import InputError

EXAMPLE = b"\x02$A0100,\r\n00 01 02 03 \x03$S0006,\r\n"
DATA = Segment(0x100, b"\0\1\2\3")


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


@pytest.mark.parametrize("separator", [b" ", b"%", b"'", b",", b", ", b"\n"])
def test_every_separator(separator: bytes) -> None:
    text = EXAMPLE.replace(b"00 01 02 03 ", separator.join([b"00", b"01", b"02", b"03"]) + separator)
    assert read(text).segments == (DATA,)


def test_a_separator_before_the_end_mark_may_be_missing() -> None:
    assert read(EXAMPLE.replace(b" \x03", b"\x03")).segments == (DATA,)


def test_without_an_address_the_first_byte_is_at_0() -> None:
    assert read(b"\x0200 01 \x03").segments == (Segment(0, b"\0\1"),)


def test_an_address_may_take_the_place_of_stx() -> None:
    assert read(b"$A0100,\n00 01 02 03\n").segments == (DATA,)


def test_several_addresses() -> None:
    image = read(b"\x02$A0100,\n00 01 $A0200,\nFF \x03$S0100,\n")
    assert image.segments == (Segment(0x100, b"\0\1"), Segment(0x200, b"\xff"))


def test_a_leader_before_stx_is_skipped() -> None:
    assert read(b"TIDE RECORDER U4 12 34\r\n\0\0\0" + EXAMPLE).segments == (DATA,)


@pytest.mark.parametrize(
    ("text", "code", "line", "why"),
    [
        (EXAMPLE.replace(b"$S0006", b"$S0007"), "record-sum", 2, "the stated sum is 0007 but its bytes call for 0006"),
        (EXAMPLE.replace(b"02 03", b"02 04"), "record-sum", 2, "the stated sum is 0006 but its bytes call for 0007"),
        (EXAMPLE.replace(b"02 03", b"02 0x"), "record-digits", 2, "character 11 of the line is 'x'"),
        (EXAMPLE.replace(b"02 03", b"0203"), "record-digits", 2, "'0203' stands at character 7 of the line"),
        (EXAMPLE.replace(b"02 03", b"02 3"), "record-digits", 2, "'3' stands at character 10 of the line"),
        (EXAMPLE.replace(b"\x03", b""), "no-end", 2, "the file stops after line 2 without ETX (03)"),
        (EXAMPLE + b"AA \n", "after-end", 3, "the end record came before this line"),
        (b"\x02$AFFFFFFFF,\nAA BB \x03", "address-limit", 2, "the line asks for 2 bytes at FFFFFFFF, past FFFFFFFF"),
    ],
)
def test_each_fault_is_named_with_its_line(text: bytes, code: str, line: int, why: str) -> None:
    error = refusal(text)
    assert (error.code, error.where.line) == (code, line)
    assert str(error).endswith(why)


def test_the_sum_has_16_bits() -> None:
    data = b"FF " * 0x101   # 257 x 255 = FFFF; one more byte of 01 makes 10000
    assert read(b"\x02" + data + b"01 \x03$S0000,").size_bytes == 0x102


def test_a_byte_that_cannot_be_read_leaves_a_gap() -> None:
    image = read(b"\x0200 ?? 02 \x03", keep_doubtful=True)
    assert image.segments == (Segment(0, b"\0"), Segment(2, b"\2"))
    assert [(d.code, d.line) for d in image.doubts] == [("record-digits", 1)]


@given(st.binary(min_size=1, max_size=3000), st.sampled_from([" ", "'", "%", ","]))
def test_one_long_line_is_read_and_recognised(data: bytes, separator: str) -> None:
    text = b"\x02" + data.hex(separator).encode() + separator.encode() + b"\x03$S%04X," % (sum(data) & 0xFFFF)
    assert read(text).tobytes() == data
    candidate = recognise(text)
    assert candidate is not None
    assert candidate.score > 0.97
    cut = recognise(text[: len(text) // 2 + 3])
    assert cut is not None
    assert cut.answer == "ascii-hex"


def test_control_codes_alone_are_not_recognised() -> None:
    assert recognise(b"\x02" + b"\0" * 100) is None
    assert recognise(b"$A000 is the first address\n") is None


def test_blanks_without_end_are_judged_quickly() -> None:
    hostile = b"\x02" + b"41" + b" " * 30_000 + b"x" + b"41 " * 10_000 + b"\xff"
    start = time.process_time()
    assert recognise(hostile) is not None
    assert refusal(hostile).code == "record-digits"
    assert time.process_time() - start < 5   # [s]; about 0.01 here
