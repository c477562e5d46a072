"""Tektronix hex and extended Tektronix hex. Sources: secondary, named beside the records."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.tektronix import (
    parse_extended,
    parse_record,
    read,
    read_extended,
    recognise,
    recognise_extended,
    write_extended,
)
from imagekeeper.errors import InputError

# The sbprojects.net page on Tektronix hex; check values recomputed by its rule.
DATA = b"/01001002000102030405060708090A0B0C0D0E0F78"
END = b"/01000001"

# Encyclopaedia articles on extended Tektronix hex, character values from period manuals; the first record is from
# memory, all are recomputed.
EXTENDED = [b"%1A626810000000202020202020", b"%126144010000010203", b"%0A81740100"]


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


def extended_refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read_extended(text)
    return caught.value


def test_the_worked_file() -> None:
    image = read(DATA + b"\n" + END + b"\n")
    assert image.segments == (Segment(0x100, bytes(range(16))),)
    assert image.entry == 0x100


@pytest.mark.parametrize("record", [b"/01000405102030400A", b"/0100040510203040A0"], ids=["digits", "bytes"])
def test_the_second_check_may_be_the_sum_of_digits_or_of_bytes(record: bytes) -> None:
    parsed = parse_record(record)
    assert parsed.fault is None
    assert parsed.data.hex() == "10203040"


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"01000405102030400A", "record-form", "it reads '01000405102030400A' where '/' and a record is expected"),
        (b"/0100040510203G400A", "record-digits", "character 15 of the line is 'G'"),
        (b"/0100040510203040", "record-length", "the count asks for 4 bytes, the line holds 3: it may be cut"),
        (b"/0100", "record-length", "the line holds 2 bytes, a record has 4 at least"),
        (b"/01000406102030400A", "record-sum", "the first check value is 06 but its bytes call for 05"),
        (b"/01000405102030400B", "record-sum", "the line ends in 0B but its bytes call for 0A"),
        (b"// TAPE FULL", "no-end", "the sender broke off with the words ' TAPE FULL'"),
    ],
)
def test_each_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = refusal(DATA + b"\n" + line + b"\n" + END)
    assert (error.code, error.where.line) == (code, 2)
    assert str(error).endswith(why)


def test_the_end() -> None:
    assert refusal(DATA).code == "no-end"
    error = refusal(DATA + b"\n" + END + b"\n" + DATA)
    assert (error.code, error.where.line) == ("after-end", 3)


def test_a_broken_off_transmission_keeps_its_bytes() -> None:
    image = read(DATA + b"\n// TAPE FULL\n", keep_doubtful=True)
    assert image.size_bytes == 16
    assert [(d.code, d.line) for d in image.doubts] == [("no-end", 2)]


def test_a_wrong_check_makes_its_bytes_doubtful() -> None:
    image = read(b"/01000405102030400B\n" + END, keep_doubtful=True)
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("record-sum", 0x100, 4)]


def test_extended_worked_records() -> None:
    records = [parse_extended(record) for record in EXTENDED]
    assert [r.fault for r in records] == [None, None, None]
    assert [(r.address, r.data.hex()) for r in records] == [
        (0x1000_0000, "202020202020"),
        (0x100, "00010203"),
        (0x100, ""),
    ]
    image = read_extended(b"\n".join(EXTENDED))
    assert image.entry == 0x100
    assert [s.start for s in image.segments] == [0x100, 0x1000_0000]


@pytest.mark.parametrize("record", EXTENDED, ids=bytes.decode)
def test_any_other_digit_in_an_extended_record_is_a_fault(record: bytes) -> None:
    for at in range(1, len(record)):
        for digit in b"0123456789ABCDEF":
            if digit != record[at]:
                changed = record[:at] + bytes([digit]) + record[at + 1 :]
                assert parse_extended(changed).fault is not None, changed


def extended(type_: bytes, content: bytes) -> bytes:
    values = {c: i for i, c in enumerate(b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ$%._abcdefghijklmnopqrstuvwxyz")}
    head = b"%02X" % (len(content) + 5) + type_
    return b"%" + head + b"%02X" % (sum(values[c] for c in head + content) & 0xFF) + content


def test_symbols_are_checked_and_left_out() -> None:
    symbols = extended(b"3", b"8TIDE.log12100")
    image = read_extended(b"\n".join([symbols, *EXTENDED[1:]]))
    assert image.segments == (Segment(0x100, b"\0\1\2\3"),)
    error = extended_refusal(b"\n".join([symbols.replace(b"log", b"lob"), *EXTENDED[1:]]))
    assert (error.code, error.where.line) == ("record-sum", 1)


def test_an_address_of_16_digits_has_the_length_digit_0() -> None:   # from memory
    image = read_extended(extended(b"6", b"0" + b"%016X" % 0x100 + b"AA") + b"\n" + EXTENDED[2])
    assert image.segments == (Segment(0x100, b"\xaa"),)
    error = extended_refusal(extended(b"6", b"0" + b"%016X" % (1 << 40) + b"AA"))
    assert (error.code, error.where.line) == ("address-limit", 1)
    error = extended_refusal(EXTENDED[1] + b"\n" + extended(b"8", b"9100000000"))
    assert (error.code, error.where.line) == ("address-limit", 2)


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"126144010000010203", "record-form", "it reads '126144010000010203' where '%' and a record is expected"),
        (b"%1G6144010000010203", "record-digits", "character 3 of the line is 'G'"),
        (b"%12614X010000010203", "record-digits", "character 7 of the line is 'X'"),
        (b"%12614401000001020*", "record-digits", "character 19 of the line is '*'"),
        (b"%1261440100000102", "record-length", "the count asks for 18 characters, the line holds 16: it may be cut"),
        (b"%1261", "record-length", "the line holds 4 characters, a record has 7 at least"),
        (b"%126154010000010203", "record-sum", "the check value is 15 but its bytes call for 14"),
        (extended(b"7", b"40100AA"), "record-type", "type 7 is found, types 3, 6 and 8 exist"),
        (extended(b"6", b"40100A"), "record-digits", "there are 1 of them: one is missing"),
        (extended(b"6", b"40100AZ"), "record-digits", "character 13 of the line is 'Z'"),
        (extended(b"6", b"80100"), "record-length", "asks for 8 address digits, the line holds 4: it may be cut"),
    ],
)
def test_each_extended_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = extended_refusal(EXTENDED[0] + b"\n" + line + b"\n" + EXTENDED[2])
    assert (error.code, error.where.line) == (code, 2)
    assert str(error).endswith(why)


def test_the_extended_end() -> None:
    assert extended_refusal(EXTENDED[0]).code == "no-end"
    assert extended_refusal(b"\n".join([EXTENDED[1], EXTENDED[2], EXTENDED[0]])).code == "after-end"


def test_worked_records_are_written_as_published() -> None:
    image = Image(segments=(Segment(0x100, b"\0\1\2\3"),), entry=0x100)
    assert write_extended(image).split() == EXTENDED[1:]
    assert write_extended(Image.from_bytes(b"\x20" * 6, 0x1000_0000)).split()[0] == EXTENDED[0]


@given(st.binary(min_size=1, max_size=120))
def test_the_longest_record_reads_back(data: bytes) -> None:
    text = write_extended(Image.from_bytes(data, 0xFFFF_0000), record_bytes=120)
    assert text.count(b"\n") == 2
    assert read_extended(text).tobytes() == data


def test_the_two_kinds_are_told_apart() -> None:
    assert recognise_extended(DATA) is None
    assert recognise(EXTENDED[0]) is None
    ours = recognise(DATA)
    assert ours is not None
    assert ours.evidence[0].says == "1 of 1 line are records beginning with '/' and digits"
