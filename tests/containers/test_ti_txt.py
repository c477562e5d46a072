"""TI-TXT. Source: Texas Instruments, SLAU101, section A.2."""

import pytest

from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.ti_txt import read, recognise, write
from imagekeeper.errors import InputError

# The example of SLAU101, page A-3.
EXAMPLE = b"""\
@F000
31 40 00 03 B2 40 80 5A 20 01 D2 D3 22 00 D2 E3
21 00 3F 40 E8 FD 1F 83 FE 23 F9 3F
@FFFE
00 F0
q
"""


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


def test_the_published_example() -> None:
    first, vector = read(EXAMPLE).segments
    assert (first.start, len(first.data)) == (0xF000, 28)
    assert first.data[:4].hex() == "31400003"
    assert vector == Segment(0xFFFE, b"\x00\xf0")
    assert int.from_bytes(vector.data[:], "little") == 0xF000


def test_the_published_example_is_written_again() -> None:
    assert write(read(EXAMPLE)) == EXAMPLE


def test_both_cases_are_read() -> None:
    assert read(EXAMPLE.lower()) == read(EXAMPLE.replace(b"q", b"Q")) == read(EXAMPLE)


def test_odd_addresses_are_read() -> None:
    assert read(b"@F001\n31\nq\n").segments == (Segment(0xF001, b"\x31"),)


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"31 4 00", "record-digits", "'4' stands at character 4 of the line"),
        (b"31 4G 00", "record-digits", "character 5 of the line is 'G'"),
        (b"31 \xe9 00", "record-digits", r"character 4 of the line is '\xe9'"),
        (b"@F00G", "record-digits", "character 5 of the line is 'G'"),
        (b"@00G", "record-digits", "character 4 of the line is 'G'"),
        (b"@", "record-form", "it reads '@' where an address behind '@' is expected"),
        (b"@100000000\n31", "address-limit", "the line asks for 1 byte at 100000000, past FFFFFFFF"),
        (b"@10000000000000000", "address-limit", "the address has 17 digits, at most 8 are possible"),
    ],
)
def test_each_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = refusal(b"@F000\n00 01\n" + line + b"\nq\n")
    assert (error.code, error.where.line) == (code, 3 + line.count(b"\n"))
    assert str(error).endswith(why)


def test_bytes_before_any_address_are_refused() -> None:
    error = refusal(b"31 40\nq\n")
    assert (error.code, error.where.line) == ("record-form", 1)


def test_the_end() -> None:
    error = refusal(EXAMPLE.replace(b"q\n", b""))
    assert (error.code, error.where.line) == ("no-end", 5)
    error = refusal(EXAMPLE + EXAMPLE)
    assert (error.code, error.where.line) == ("after-end", 7)


def test_a_byte_that_cannot_be_read_leaves_a_gap() -> None:
    image = read(b"@F000\n31 4G 00\n03 B2\nq\n", keep_doubtful=True)
    assert image.segments == (Segment(0xF000, b"\x31"), Segment(0xF002, b"\x00\x03\xb2"))
    assert [(d.code, d.line, d.start, d.length) for d in image.doubts] == [("record-digits", 2, 0xF000, 3)]


def test_bytes_behind_a_lost_address_are_left_out() -> None:
    image = read(b"@F000\n31\n@F?00\n40 00\n@FFFE\n00\nq\n", keep_doubtful=True)
    assert image.segments == (Segment(0xF000, b"\x31"), Segment(0xFFFE, b"\x00"))
    assert [(d.code, d.line) for d in image.doubts] == [("record-digits", 3), ("record-form", 4)]


def test_sixteen_bytes_a_line_and_an_address_a_segment() -> None:
    image = Image(segments=(Segment(0xFFF8, bytes(24)), Segment(0x2_0000, b"\xaa")))
    assert [len(line) for line in write(image).split(b"\n")] == [5, 47, 23, 6, 2, 1, 0]


def test_an_address_must_come_first() -> None:
    assert recognise(b"31 40 00 03\n@F000\n31 40\nq\n") is None
    candidate = recognise(EXAMPLE)
    assert candidate is not None
    assert candidate.evidence[0].says == "6 of 6 lines are addresses behind '@', bytes in digits, or 'q'"


def test_a_long_line_with_one_bad_byte_keeps_the_others() -> None:
    image = read(b"@0\n" + b"A5 " * 5000 + b"x " + b"5A " * 3000 + b"12 34\nq\n", keep_doubtful=True)
    assert image.segments == (Segment(0, b"\xa5" * 5000), Segment(5001, b"\x5a" * 3000 + b"\x12\x34"))
    assert [(d.start, d.length) for d in image.doubts] == [(0, 8003)]
