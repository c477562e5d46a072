"""Intel HEX. Source: Intel, Hexadecimal Object File Format Specification, revision A, 6 January 1988."""

import io
import subprocess
from pathlib import Path

import intelhex
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.containers import intel_hex
from imagekeeper.containers.intel_hex import parse_record, read, recognise, write
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InputError, UsageError
from tests import tools
from tests.strategies import images

END = b":00000001FF\n"

# One record or more of each type; every check byte recomputed by hand of the specification's rule.
WORKED = [
    b":10010000214601360121470136007EFE09D2190140",
    b":10000000000102030405060708090A0B0C0D0E0F78",
    b":0300300002337A1E",
    b":02000002F0000C",
    b":020000021200EA",
    b":04000003F000FFF01A",
    b":020000040800F2",
    b":02000004FFFFFC",
    b":040000050000FFF008",
    b":05FFF000EA5BE000F0F7",
    b":00000001FF",
]


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


@pytest.mark.parametrize("record", WORKED, ids=bytes.decode)
def test_worked_records_are_faultless(record: bytes) -> None:
    assert parse_record(record).fault is None
    assert parse_record(record.lower()) == parse_record(record)


@pytest.mark.parametrize("record", WORKED, ids=bytes.decode)
def test_any_other_digit_in_a_worked_record_is_a_fault(record: bytes) -> None:
    for at in range(1, len(record)):
        for digit in b"0123456789ABCDEF":
            if digit != record[at]:
                changed = record[:at] + bytes([digit]) + record[at + 1 :]
                assert parse_record(changed).fault is not None, changed


def test_the_data_and_address_of_a_worked_record() -> None:
    record = parse_record(WORKED[0])
    assert record.address == 0x0100
    assert record.data.hex() == "214601360121470136007efe09d21901"


def test_a_segment_base_counts_times_16() -> None:
    image = read(b":020000021200EA\n:0300300002337A1E\n" + END)
    assert image.segments == (Segment(0x1_2030, b"\x02\x33\x7a"),)


def test_a_linear_base_counts_times_65536() -> None:
    image = read(b":020000040800F2\n:0300300002337A1E\n" + END)
    assert image.segments == (Segment(0x0800_0030, b"\x02\x33\x7a"),)


def test_in_a_segment_offsets_come_round_to_its_beginning() -> None:
    # byte n at segment x 16 + (offset + n) modulo 65536
    image = read(b":020000021000EC\n:04FFFE0001020304F5\n" + END)
    assert image.segments == (Segment(0x1_0000, b"\3\4"), Segment(0x1_FFFE, b"\1\2"))


def test_under_a_linear_base_addresses_carry_on() -> None:
    image = read(b":020000040001F9\n:04FFFE0001020304F5\n" + END)
    assert image.segments == (Segment(0x1_FFFE, b"\1\2\3\4"),)


def test_beyond_four_gibibytes_is_refused() -> None:
    error = refusal(b":02000004FFFFFC\n:04FFFE0001020304F5\n" + END)
    assert (error.code, error.where.line) == ("address-limit", 2)


@pytest.mark.parametrize(
    ("record", "entry"),
    [
        (b":04000003F000FFF01A", 0xF000 * 16 + 0xFFF0),
        (b":040000050000FFF008", 0xFFF0),
        (b":00010001FE", 0x0100),   # the end record of 8-bit systems; from memory
    ],
)
def test_entries(record: bytes, entry: int) -> None:
    assert read(b":0300300002337A1E\n" + record + b"\n" + (END if record[8:9] != b"1" else b"")).entry == entry


def test_no_entry_is_none() -> None:
    assert read(b":0300300002337A1E\n" + END).entry is None


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"0300300002337A1E", "record-form", "it reads '0300300002337A1E' where ':' and a record is expected"),
        (b":0300300002337G1E", "record-digits", "character 15 of the line is 'G'"),
        (b":03003000023\xb37A1E", "record-digits", r"character 13 of the line is '\xb3'"),
        (b":0300300002337A1", "record-digits", "there are 15 of them: one is missing"),
        (b":0300300002337A", "record-length", "the count asks for 3 bytes, the line holds 2: it may be cut"),
        (b":0300300002337A1E00", "record-length", "the count asks for 3 bytes, the line holds 4"),
        (b":03", "record-length", "the line holds 1 byte, a record has 5 at least"),
        (b":03003000", "record-length", "the line holds 4 bytes, a record has 5 at least"),
        (b":", "record-length", "the line holds 0 bytes, a record has 5 at least"),
        (b":0300300002337A41", "record-sum", "the line ends in 41 but its bytes call for 1E"),
        (b":00000006FA", "record-type", "type 06 is found, types 00 to 05 exist"),
        (b":0100000400FB", "record-type", "a record of type 04 has 2 bytes, this one 1"),
        (b":0100000100FE", "record-type", "a record of type 01 has 0 bytes, this one 1"),
    ],
)
def test_each_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = refusal(b":0300400002337A0E\n\n" + line + b"\n" + END)
    assert (error.code, error.where.line) == (code, 3)
    assert str(error).endswith(why)
    assert error.hint


def test_a_missing_end_record_is_told() -> None:
    error = refusal(b":0300300002337A1E\n")
    assert (error.code, error.where.line) == ("no-end", 1)
    image = read(b":0300300002337A1E\n", keep_doubtful=True)
    assert [d.code for d in image.doubts] == ["no-end"]


def test_more_after_the_end_is_told_and_doubtful() -> None:
    text = b":0300400002337A0E\n" + END + b":0300300002337A1E\n"
    error = refusal(text)
    assert (error.code, error.where.line) == ("after-end", 3)
    image = read(text, keep_doubtful=True)
    assert image.segments == (Segment(0x30, b"\x02\x33\x7a"), Segment(0x40, b"\x02\x33\x7a"))
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("after-end", 0x30, 3)]


def test_a_wrong_check_byte_makes_its_bytes_doubtful() -> None:
    image = read(b":0300300002337A1F\n:0300400002337A0E\n" + END, keep_doubtful=True)
    assert image.size_bytes == 6
    assert image.doubts == (
        Doubt(start=0x30, length=3, code="record-sum", why="the line ends in 1F but its bytes call for 1E", line=1),
    )


def test_a_cut_record_gives_the_bytes_that_are_there() -> None:
    image = read(b":10010000214601\n" + END, keep_doubtful=True)
    assert image.segments == (Segment(0x100, b"\x21\x46\x01"),)
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("record-length", 0x100, 3)]


def test_a_line_that_is_no_record_is_left_out() -> None:
    image = read(b"READY.\n:0300300002337A1E\n" + END, keep_doubtful=True)
    assert image.size_bytes == 3
    assert [(d.code, d.line, d.length) for d in image.doubts] == [("record-form", 1, 0)]


def test_a_small_image_is_written_without_address_records() -> None:
    image = Image.from_bytes(bytes(range(16)) + b"\x02", 0)
    assert write(image).splitlines() == [WORKED[1], b":0100100002ED", b":00000001FF"]
    assert [len(line) for line in write(Image.from_bytes(bytes(64)), record_bytes=32).split()] == [75, 75, 11]


def test_records_do_not_cross_a_64_kib_border() -> None:
    text = write(Image.from_bytes(bytes(20), 0xFFF8))
    assert text.splitlines() == [
        b":08FFF800000000000000000001",
        b":020000040001F9",
        b":0C000000000000000000000000000000F4",
        b":00000001FF",
    ]


def test_recognising_counts_lines() -> None:
    candidate = recognise(b":0300300002337A1E\nnoise\n" + END)
    assert candidate is not None
    assert candidate.evidence[0].says == "2 of 3 lines are records beginning with ':'"


@given(image=images(), entry=st.none() | st.integers(0, (1 << 32) - 1))
def test_a_second_decoder_agrees(image: Image, entry: int | None) -> None:
    text = write(Image(segments=image.segments, entry=entry))
    other = intelhex.IntelHex(io.StringIO(text.decode()))
    assert other.segments() == [(s.start, s.end) for s in image.segments]
    assert all(other.tobinstr(s.start, s.end - 1) == s.data for s in image.segments)
    assert (other.start_addr or {}).get("EIP") == entry


@given(image=images(max_bytes=100))
def test_a_second_encoder_is_understood(image: Image) -> None:
    other = intelhex.IntelHex()
    for segment in image.segments:
        other.puts(segment.start, segment.data[:])
    text = io.StringIO()
    other.write_hex_file(text)
    assert read(text.getvalue().encode()).segments == image.segments


@tools.needs("objcopy")
@settings(max_examples=15)
@given(image=images())
def test_gnu_objcopy_agrees_both_ways(tmp_path_factory: pytest.TempPathFactory, image: Image) -> None:
    folder = tmp_path_factory.mktemp("objcopy")
    ours, theirs = folder / "ours.hex", folder / "theirs.hex"
    ours.write_bytes(write(image))
    _objcopy("-I", "ihex", "-O", "ihex", ours, theirs)
    assert intel_hex.read(theirs.read_bytes()).segments == image.segments


def _objcopy(*arguments: str | Path) -> None:
    subprocess.run([tools.path("objcopy"), *map(str, arguments)], check=True, capture_output=True)


def test_it_is_known_by_its_name() -> None:
    candidate = recognise(END)
    assert candidate is not None
    assert candidate.answer == "intel-hex"


def test_before_any_base_addresses_carry_on() -> None:
    """The specification wraps offsets within a segment only where a segment was chosen."""
    assert read(b":04FFFE0001020304F5\n" + END).segments == (Segment(0xFFFE, b"\1\2\3\4"),)


def test_a_faulty_record_that_just_fills_a_segment_is_doubted_once() -> None:
    image = read(b":020000021000EC\n:02FFFE00010200\n" + END, keep_doubtful=True)
    assert image.segments == (Segment(0x1_FFFE, b"\1\2"),)
    assert [(doubt.code, doubt.start, doubt.length) for doubt in image.doubts] == [("record-sum", 0x1_FFFE, 2)]


def test_a_base_or_entry_of_the_wrong_length_is_not_followed() -> None:
    """Half a base would put all that follows elsewhere."""
    image = read(b":0100000408F3\n:02000005FFF00A\n:0300300002337A1E\n" + END, keep_doubtful=True)
    assert (image.segments, image.entry) == ((Segment(0x30, b"\x02\x33\x7a"),), None)
    assert [(doubt.code, doubt.line, doubt.start, doubt.length) for doubt in image.doubts] == [
        ("record-type", 1, 0, 0), ("record-type", 2, 0, 0), ("record-type", 2, 0x30, 3),
    ]  # fmt: skip


@pytest.mark.parametrize("image", [Image.from_bytes(b"AB", (1 << 32) - 1), Image(
    segments=(Segment(0, b"A"),), entry=1 << 32
)])
def test_an_address_beyond_32_bits_is_not_written(image: Image) -> None:
    """A base of 16 bits and an offset of 16 bits reach FFFFFFFF."""
    with pytest.raises(UsageError) as caught:
        write(image)
    assert caught.value.code == "address-out-of-range"
    assert "the image reaches 100000000, the container only FFFFFFFF" in str(caught.value)
