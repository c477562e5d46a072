"""The shortcut for long plain stretches gives what the line-by-line reader gives, for any text."""

import random
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers import bulk, intel_hex, lines, s_record
from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.registry import Read
from imagekeeper.errors import InputError

READERS = pytest.mark.parametrize("read", [intel_hex.read, s_record.read], ids=["intel-hex", "s-record"])

Outcome = tuple[object, ...]


def outcome(read: Read, text: bytes, keep: bool) -> Outcome:
    try:
        image = read(text, keep)
    except InputError as error:
        return (error.code, str(error), error.where)
    return (image, image.title)


def in_bulk(read: Read, text: bytes, keep: bool, chunk: int = lines.CHUNK_BYTES) -> Outcome:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bulk, "SMALL_BYTES", 0)
        patch.setattr(bulk, "MIN_ROWS", 2)
        patch.setattr(bulk, "chunks", lambda t: lines.chunks(t, chunk))
        return outcome(read, text, keep)


def intel(address: int, data: bytes) -> bytes:
    body = bytes([len(data), address >> 8 & 0xFF, address & 0xFF, 0]) + data
    return b":" + body.hex().upper().encode() + b"%02X" % (-sum(body) & 0xFF)


def motorola(address: int, data: bytes, type_: int = 1) -> bytes:
    body = bytes([len(data) + type_ + 2]) + address.to_bytes(4)[3 - type_ :] + data
    return b"S%d" % type_ + body.hex().upper().encode() + b"%02X" % (~sum(body) & 0xFF)


@st.composite
def texts(draw: st.DrawFn) -> bytes:
    """Stretches of records that are plain, with other records and damage between."""
    random_bytes = random.Random(draw(st.integers(0, 99)))
    parts: list[bytes] = []
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.sampled_from([0, 0x10, 0x100, 0xFFE0, 0xFFF8, 0x1_0000, 0xFF_FFF0, 0xFFFF_FFF0]))
        size = draw(st.sampled_from([1, 4, 16]))
        type_ = draw(st.integers(1, 3))
        for _ in range(draw(st.integers(1, 12))):
            data = random_bytes.randbytes(size)
            parts.append(draw(st.sampled_from([intel(at, data), motorola(at & 0xFFFF_FFFF, data, type_)])))
            at += draw(st.sampled_from([size] * 8 + [0, 0x100]))
        parts.append(
            draw(
                st.sampled_from(
                    [b"", b":020000021000EC", b":020000040001F9", b":02000004FFFFFC", b":00000001FF", b"x",
                     b"S9030000FC", b"S70500000000FA", b"S5030004F8", b"S00600004844521B", b":04000005000000CD2A"]
                )
            )
        )  # fmt: skip
    kind = draw(st.sampled_from([b":", b"S", b""]))   # mostly of one format, which the readers take further
    end = draw(st.sampled_from([b"\n", b"\r\n", b"\r", b" \n"]))
    text = end.join(part for part in parts if not part or part.startswith(kind))
    for _ in range(draw(st.integers(0, 2))):
        place = draw(st.integers(0, len(text)))
        text = text[:place] + draw(st.sampled_from([b"", b"0", b"G", b"\xff", b"\n", b"a"])) + text[place + 1 :]
    return draw(st.sampled_from([b"", b"\xef\xbb\xbf"])) + text


@READERS
@given(text=texts(), keep=st.booleans(), chunk=st.sampled_from([1, 100, lines.CHUNK_BYTES]))
def test_both_ways_give_the_same(read: Read, text: bytes, keep: bool, chunk: int) -> None:
    assert in_bulk(read, text, keep, chunk) == outcome(read, text, keep)


@READERS
@given(text=st.binary(max_size=300), keep=st.booleans())
def test_both_ways_give_the_same_for_any_bytes(read: Read, text: bytes, keep: bool) -> None:
    assert in_bulk(read, text, keep) == outcome(read, text, keep)


def checked(body: bytes) -> bytes:
    return b":" + body.hex().upper().encode() + b"%02X" % (-sum(body) & 0xFF)


@pytest.mark.parametrize(
    "odd",
    [
        checked(b"\x02\x00\x00\x04\x00\x01"),   # a base, which moves what follows
        checked(b"\x02\x00\x00\x02\x10\x00"),
        checked(b"\x02\x00\x00\x07\x10\x00"),   # an unknown type
        checked(b"\x03\x01\x02\x00\x10\x00"),   # a count of one too many
        checked(b"\x02\xff\xff\x00\x10\x00"),   # a record past the end of its segment
        checked(b"\x02\x01\x02\x00\x10\x00")[:-1] + b"0",
        b"X" + checked(b"\x02\x01\x02\x00\x10\x00")[1:],
    ],
    ids=bytes.decode,
)
@pytest.mark.parametrize("keep", [False, True])
def test_a_line_as_long_as_its_neighbours_is_still_looked_at(odd: bytes, keep: bool) -> None:
    before = [checked(b"\x02\x00\x00\x02\x20\x00"), *(intel(at, b"ab") for at in range(0, 40, 2))]
    text = b"\n".join([*before, odd, *(intel(at, b"cd") for at in range(0x200, 0x240, 2)), b":00000001FF"])
    assert in_bulk(intel_hex.read, text, keep) == outcome(intel_hex.read, text, keep)


@pytest.mark.parametrize("keep", [False, True])
def test_a_run_up_to_four_gibibytes_stops_there(keep: bool) -> None:
    last = [motorola(at, b"ab", 3) for at in range(0xFFFF_FFF0, 0x1_0000_0000, 2)] + [motorola(0xFFFF_FFFF, b"ab", 3)]
    text = b"\n".join([*last, b"S70500000000FA"])
    assert in_bulk(s_record.read, text, keep) == outcome(s_record.read, text, keep)
    assert "address-limit" in repr(in_bulk(s_record.read, text, keep))


def large_image() -> Image:
    data = random.Random(3).randbytes
    return Image(
        segments=(Segment(0x100, data(0x1_8000)), Segment(0x2_0001, data(0x4321)), Segment(0xFF_0000, data(77)))
    )


@pytest.mark.parametrize("module", [intel_hex, s_record], ids=["intel-hex", "s-record"])
@pytest.mark.parametrize("record_bytes", [16, 32])
def test_a_large_file_reads_back(module: object, record_bytes: int) -> None:
    assert module in (intel_hex, s_record)
    text = module.write(large_image(), record_bytes)   # type: ignore[attr-defined]
    assert len(text) > bulk.SMALL_BYTES
    image = module.read(text)   # type: ignore[attr-defined]
    assert image.segments == large_image().segments
    assert module.read(text.lower()).segments == image.segments   # type: ignore[attr-defined]


@READERS
def test_long_stretches_do_take_the_shortcut(read: Read, monkeypatch: pytest.MonkeyPatch) -> None:
    write = intel_hex.write if read is intel_hex.read else s_record.write
    text = write(large_image())
    one_by_one: list[bytes] = []
    plain = bulk._read_one
    monkeypatch.setattr(bulk, "_read_one", lambda *a: (one_by_one.append(a[0]), plain(*a)))
    read(text, False)
    assert 0 < len(one_by_one) < 60 < text.count(b"\n")


@READERS
@given(place=st.integers(0, 10**6), digit=st.sampled_from(b"0123456789ABCDEF"))
def test_a_wrong_digit_in_a_large_file_names_its_line(read: Read, place: int, digit: int) -> None:
    is_intel = read is intel_hex.read
    text = bytearray(LARGE_TEXT[is_intel])
    place %= len(text)
    start = text.rfind(b"\n", 0, place) + 1
    if place - start < 2 or text[place] in (digit, ord("\n")):   # ':' and 'S1' have tests of their own
        return
    text[place] = digit
    with pytest.raises(InputError) as caught:
        read(bytes(text), False)
    assert caught.value.code in ("record-sum", "record-length")
    assert caught.value.where.line == text.count(b"\n", 0, place) + 1


LARGE_TEXT = {True: intel_hex.write(large_image()), False: s_record.write(large_image())}


def test_small_files_do_without_numpy() -> None:
    program = (
        "import sys; from imagekeeper.containers import intel_hex, s_record; "
        "intel_hex.read(b':0300300002337A1E\\n:00000001FF\\n'); s_record.read(b'S107003000144ED492\\nS9030000FC\\n'); "
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
