"""Motorola S-record. Sources: M68000 Family Programmer's Reference Manual, appendix C; 68EVB912B32UM/D, appendix A."""

import subprocess

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.containers import intel_hex
from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.s_record import parse_record, read, recognise, write
from imagekeeper.errors import InputError
from tests import tools
from tests.strategies import images

# The example module of Motorola, 68EVB912B32UM/D, page A-3.
MODULE = b"""\
S00600004844521B
S1130000285F245F2212226A000424290008237C2A
S11300100002000800082629001853812341001813
S113002041E900084E42234300182342000824A952
S107003000144ED492
S9030000FC
"""

# Check bytes computed by the rule of the reference manual, page C-1.
WORKED = [
    b"S1130000000102030405060708090A0B0C0D0E0F74",
    b"S20801000000010203F0",
    b"S30900FC000000010203F4",
    b"S5030004F8",
    b"S604010203F5",
    b"S70500FC0002FC",
    b"S804010000FA",
    b"S10D1000736F6D6520646174610074",   # sonic.net page on S-records: "some data" and a NUL
]


def refusal(text: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value


def test_the_published_module() -> None:
    image = read(MODULE)
    (segment,) = image.segments
    assert (segment.start, len(segment.data)) == (0, 52)
    assert segment.data[:4].hex() == "285f245f"
    assert segment.data[-4:].hex() == "00144ed4"
    assert image.title == "HDR"
    assert image.entry == 0


@pytest.mark.parametrize("record", MODULE.split() + WORKED, ids=bytes.decode)
def test_worked_records_are_faultless(record: bytes) -> None:
    assert parse_record(record).fault is None
    assert parse_record(record.lower()) == parse_record(record)


@pytest.mark.parametrize("record", MODULE.split() + WORKED, ids=bytes.decode)
def test_any_other_digit_behind_the_type_is_a_fault(record: bytes) -> None:
    for at in range(2, len(record)):
        for digit in b"0123456789ABCDEF":
            if digit != record[at]:
                changed = record[:at] + bytes([digit]) + record[at + 1 :]
                assert parse_record(changed).fault is not None, changed


def test_addresses_of_each_width() -> None:
    assert parse_record(WORKED[7]).data == b"some data\0"
    assert [(r.address, r.data.hex()) for r in map(parse_record, WORKED[:3])] == [
        (0, "000102030405060708090a0b0c0d0e0f"),
        (0x01_0000, "00010203"),
        (0x00FC_0000, "00010203"),
    ]


def test_the_three_widths_in_one_file() -> None:
    image = read(b"\n".join(WORKED[:3]) + b"\nS5030003F9\n" + WORKED[5])
    assert [s.start for s in image.segments] == [0, 0x1_0000, 0xFC_0000]
    assert image.entry == 0xFC_0002


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        (b"X9030000FC", "record-form", "it reads 'X9030000FC' where 'S', a digit and a record is expected"),
        (b"SX030000FC", "record-form", "it reads 'SX030000FC' where 'S', a digit and a record is expected"),
        (b"S107003000144EZ492", "record-digits", "character 15 of the line is 'Z'"),
        (b"S107003000144ED49", "record-digits", "there are 15 of them: one is missing"),
        (b"S107003000144ED4", "record-length", "the count asks for 7 bytes, the line holds 6: it may be cut"),
        (b"S107003000144ED4FFFF", "record-length", "the count asks for 7 bytes, the line holds 8"),
        (b"S1", "record-length", "the line holds 0 bytes, a record has 4 at least"),
        (b"S107003000144ED491", "record-sum", "the line ends in 91 but its bytes call for 92"),
        (b"S4030000FC", "record-type", "S4 is reserved"),
        (b"S10200FD", "record-type", "S1 has an address of 2 bytes, its count is 2"),
        (b"S907003000144ED492", "record-type", "S9 holds an address only, this one 6 bytes"),
        (b"S507003000144ED492", "record-type", "S5 holds an address only, this one 6 bytes"),
        (b"S00600004844521B", "record-type", "S0 belongs before the data, this one comes after"),
        (b"S5030003F9", "record-count", "the file states 3 data records, 1 came before"),
        (b"S604000002F9", "record-count", "the file states 2 data records, 1 came before"),
    ],
)  # fmt: skip
def test_each_fault_is_named_with_its_line(line: bytes, code: str, why: str) -> None:
    error = refusal(WORKED[7] + b"\r\n\r\n" + line + b"\r\nS9030000FC\r\n")
    assert (error.code, error.where.line) == (code, 3)
    assert str(error).endswith(why)
    assert error.hint


def test_counts_that_hold_are_accepted() -> None:
    assert read(MODULE.replace(b"S9", b"S5030004F8\nS9")).segments == read(MODULE).segments
    assert read(MODULE.replace(b"S9", b"S604000004F7\nS9")).segments == read(MODULE).segments


def test_a_count_that_outgrew_its_field_keeps_the_low_bytes() -> None:   # common practice, no source
    text = write(Image.from_bytes(bytes(0x1_0003)), record_bytes=1, with_count=True)
    assert b"\nS604010003F7\n" in text
    assert read(text).size_bytes == 0x1_0003
    assert read(text.replace(b"S604010003F7", b"S5030003F9")).size_bytes == 0x1_0003
    assert refusal(text.replace(b"S604010003F7", b"S5030004F8")).code == "record-count"


def test_an_empty_data_record_counts() -> None:
    assert read(MODULE.replace(b"S9", b"S1030040BC\nS5030005F7\nS9")).segments == read(MODULE).segments


def test_a_missing_end_record_is_told() -> None:
    error = refusal(MODULE.partition(b"S9")[0])
    assert (error.code, error.where.line) == ("no-end", 5)


def test_more_after_the_end_is_told() -> None:
    error = refusal(MODULE + b"S9030000FC\n")
    assert (error.code, error.where.line) == ("after-end", 7)


@pytest.mark.parametrize("type_", b"0456789")
def test_a_data_record_cannot_pass_as_one_without_data(type_: int) -> None:
    lines = MODULE.splitlines()
    lines[2] = b"S" + bytes([type_]) + lines[2][2:]
    error = refusal(b"\n".join(lines))
    assert (error.code, error.where.line) == ("record-type", 3)


@pytest.mark.parametrize("size", [0x100, 0x1_0000], ids=["few records", "thousands of records"])
@pytest.mark.parametrize(
    ("start", "wrong"), [(0, b"2"), (0, b"3"), (0x1_0000, b"1"), (0x1_0000, b"3"), (1 << 24, b"1")]
)
def test_a_single_wrong_width_is_found(size: int, start: int, wrong: bytes) -> None:
    lines = write(Image.from_bytes(bytes(range(256)) * (size // 256), start)).splitlines()
    lines[7] = b"S" + wrong + lines[7][2:]
    error = refusal(b"\n".join(lines))
    assert (error.code, error.where.line) == ("record-type", 8)
    assert "a single S" in str(error)


@pytest.mark.parametrize("at", [1, -2])
def test_too_wide_a_type_at_either_end_does_not_pair_with_the_end_record(at: int) -> None:
    lines = MODULE.splitlines()
    lines[at] = b"S2" + lines[at][2:]
    error = refusal(b"\n".join(lines))
    assert (error.code, error.where.line) == ("record-type", at % len(lines) + 1)
    assert "S2 pairs with S8" in str(error)


def test_stretches_of_different_widths_are_accepted() -> None:
    low, high = Image.from_bytes(bytes(100)), Image.from_bytes(bytes(100), 0x1_0000)
    both = write(low).rpartition(b"S9")[0] + write(high).partition(b"\n")[2]
    assert read(both).segments == low.segments + high.segments


def test_a_wrong_check_byte_makes_its_bytes_doubtful() -> None:
    image = read(MODULE.replace(b"D492", b"D493"), keep_doubtful=True)
    assert image.segments == read(MODULE).segments
    assert image.doubts == (
        Doubt(start=0x30, length=4, code="record-sum", why="the line ends in 93 but its bytes call for 92", line=5),
    )


def test_a_cut_record_gives_the_bytes_that_are_there() -> None:
    image = read(b"S11300100002000800\nS9030000FC\n", keep_doubtful=True)
    assert image.segments == (Segment(0x10, b"\x00\x02\x00\x08\x00"),)
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("record-length", 0x10, 5)]


@pytest.mark.parametrize(
    ("end", "types"), [(0x1_0000, "19"), (0x1_0001, "28"), (0x100_0000, "28"), (0x100_0001, "37"), (1 << 32, "37")]
)
def test_the_highest_address_chooses_the_types(end: int, types: str) -> None:
    lines = write(Image.from_bytes(bytes(4), end - 4)).decode().splitlines()
    assert [line[:2] for line in lines] == ["S0", f"S{types[0]}", f"S{types[1]}"]


def test_the_entry_chooses_the_types_too() -> None:
    text = write(Image(segments=(Segment(0, b"A"),), entry=0xFC_0002))
    assert text.split()[-1][:2] == b"S8"
    assert read(text).entry == 0xFC_0002


def test_the_module_is_written_as_published() -> None:
    assert write(read(MODULE)) == MODULE


@given(images(max_bytes=100), st.text(max_size=300))
def test_titles_and_counts_read_back(image: Image, title: str) -> None:
    again = read(write(Image(segments=image.segments, title=title), with_count=True))
    assert again.segments == image.segments
    kept = title[:250].encode("ascii", "replace").decode().strip(" \0")
    assert again.title == (kept or None)


def test_recognising_counts_lines() -> None:
    candidate = recognise(MODULE + b"noise\n")
    assert candidate is not None
    assert candidate.evidence[0].says == "6 of 7 lines are records beginning with S0 to S9"


@tools.needs("objcopy")
@settings(max_examples=15)
@given(image=images())
def test_gnu_objcopy_agrees_both_ways(tmp_path_factory: pytest.TempPathFactory, image: Image) -> None:
    folder = tmp_path_factory.mktemp("objcopy")
    ours, theirs, as_hex = (folder / name for name in ("ours.s", "theirs.s", "theirs.hex"))
    ours.write_bytes(write(image))
    for form, out in [("srec", theirs), ("ihex", as_hex)]:
        copied = [tools.path("objcopy"), "-I", "srec", "-O", form, str(ours), str(out)]
        subprocess.run(copied, check=True, capture_output=True)
    assert read(theirs.read_bytes()).segments == image.segments
    assert intel_hex.read(as_hex.read_bytes()).segments == image.segments
