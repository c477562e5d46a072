"""MOS Technology paper tape. Source: KIM-1 User Manual, August 1976, appendix F."""

import pytest

from imagekeeper.containers.model import Segment
from imagekeeper.containers.mos_tape import parse_record, read, recognise
from imagekeeper.errors import InputError

# The manual's example.
MANUAL = b";180000FFEEDDCCBBAA0099887766554433221122334455667788990AFC\n;0000010001\n"

# A worked file of four data records (imapenguin.com); every sum recomputed by the manual's rule.
FOUR = b"""\
;180200D8A9FF8D03168D0116A2FF8604201D02A604CA8604D0F6A90ABB
;180218008D011600A9008500A9208501A9008502A9708503A000A20766
;18023040F00EB1009102C8D0F9E601E603CAD0F2A200F008B100910C95
;06024802C8CAD0F860040C
;0000040004
"""


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


def test_the_manual_s_example() -> None:
    (segment,) = read(MANUAL).segments
    assert segment == Segment(0, bytes.fromhex("FFEEDDCCBBAA009988776655443322112233445566778899"))


def test_four_records() -> None:
    (segment,) = read(FOUR).segments
    assert (segment.start, len(segment.data)) == (0x200, 78)
    assert segment.data[-6:].hex() == "02c8cad0f860"


def test_the_tape_s_own_line_ends_and_stop() -> None:
    tape = FOUR.replace(b"\n", b"\r\n\0\0\0\0\0\0") + b"\x13"
    assert read(tape) == read(FOUR)


@pytest.mark.parametrize("record", FOUR.split()[3:] + MANUAL.split(), ids=bytes.decode)
def test_any_other_digit_is_a_fault(record: bytes) -> None:
    assert parse_record(record).fault is None
    for at in range(1, len(record)):
        for digit in b"0123456789ABCDEF":
            if digit != record[at]:
                changed = record[:at] + bytes([digit]) + record[at + 1 :]
                assert parse_record(changed).fault is not None, changed


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"0000010001", "record-form", "it reads '0000010001' where ';' and a record is expected"),
        (b";06024802C8CAD0Fx60040C", "record-digits", "character 17 of the line is 'x'"),
        (b";06024802C8CAD0F86004", "record-length", "the count asks for 6 bytes, the line holds 5: it may be cut"),
        (b";0602", "record-length", "the line holds 2 bytes, a record has 5 at least"),
        (b";06024802C8CAD0F860040D", "record-sum", "the line ends in 040D but its bytes call for 040C"),
        (b";0000040004", "record-count", "the file states 4 data records, 1 came before"),
    ],
)
def test_each_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = refusal(MANUAL.split()[0] + b"\r\n" + line + b"\r\n;0000010001")
    assert (error.code, error.where.line) == (code, 2)
    assert str(error).endswith(why)


def test_a_lost_record_is_found_by_the_count() -> None:
    lines = FOUR.split()
    error = refusal(b"\n".join(lines[:1] + lines[2:]))
    assert (error.code, error.where.line) == ("record-count", 4)


def test_the_end() -> None:
    assert refusal(MANUAL.split()[0]).code == "no-end"
    error = refusal(MANUAL + FOUR)
    assert (error.code, error.where.line) == ("after-end", 3)


def test_a_wrong_sum_makes_its_bytes_doubtful() -> None:
    image = read(FOUR.replace(b"0C95", b"0C96"), keep_doubtful=True)
    assert image.size_bytes == 78
    assert [(d.code, d.line, d.start, d.length) for d in image.doubts] == [("record-sum", 3, 0x230, 24)]


def test_recognising_counts_lines() -> None:
    candidate = recognise(FOUR + b"KIM\n")
    assert candidate is not None
    assert candidate.evidence[0].says == "5 of 6 lines are records beginning with ';' and digits"
