"""What every record format promises: round trips, readable faults, no other exception, doubts where strict refuses."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers import ascii_hex, intel_hex, mos_tape, s_record, tektronix, ti_txt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.registry import Read, Recognise, Write
from imagekeeper.errors import ImagekeeperError, InputError, UsageError
from tests.strategies import images


@dataclass(frozen=True)
class Format:
    name: str
    recognise: Recognise
    read: Read
    write: Write | None
    example: bytes

    def __str__(self) -> str:
        return self.name


INTEL_HEX = Format(
    "intel-hex", intel_hex.recognise, intel_hex.read, intel_hex.write, b":0300300002337A1E\n:00000001FF\n"
)
S_RECORD = Format(
    "s-record", s_record.recognise, s_record.read, s_record.write, b"S107003000144ED492\nS9030000FC\n"
)
EXTENDED = Format(
    "tektronix-extended",
    tektronix.recognise_extended,
    tektronix.read_extended,
    tektronix.write_extended,
    b"%126144010000010203\n%0A81740100\n",
)
TI_TXT = Format("ti-txt", ti_txt.recognise, ti_txt.read, ti_txt.write, b"@F000\n31 40 00 03\nq\n")
WRITTEN = [INTEL_HEX, S_RECORD, EXTENDED, TI_TXT]
ALL = [
    *WRITTEN,
    Format(
        "tektronix-hex", tektronix.recognise, tektronix.read, None, b"/01000405102030400A\n/01000001\n"
    ),
    Format("mos-tape", mos_tape.recognise, mos_tape.read, None, b";06024802C8CAD0F860040C\n;0000010001\n"),
    Format("ascii-hex", ascii_hex.recognise, ascii_hex.read, None, b"\x02$A0100,\n00 01 02 03 \x03$S0006,\n"),
]

each_format = pytest.mark.parametrize("fmt", ALL, ids=str)
each_written = pytest.mark.parametrize("fmt", WRITTEN, ids=str)

#: Digits, marks and line ends, so that random text comes near to being records.
NEARLY = st.text("0123456789ABCDEFabS:;/%@q$\x02\x03, \r\n\0é", max_size=200).map(str.encode)


@st.composite
def damaged(draw: st.DrawFn, text: bytes) -> bytes:
    """The text after a few cuts, changes and insertions."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 12)))
        text = text[:start] + draw(st.binary(max_size=3) | NEARLY.map(lambda t: t[:8])) + text[end:]
    return text


@each_written
@given(image=images(), entry=st.none() | st.integers(0, (1 << 32) - 1))
def test_what_is_written_reads_back(fmt: Format, image: Image, entry: int | None) -> None:
    assert fmt.write is not None
    again = fmt.read(fmt.write(replace(image, entry=entry)), False)
    assert again.segments == image.segments
    assert again.doubts == ()
    assert again.container == fmt.name
    assert again.addressed
    if fmt is INTEL_HEX:
        assert again.entry == entry
    elif fmt is not TI_TXT:   # these end records have to state an entry
        assert again.entry == (entry or 0)


@each_written
@pytest.mark.parametrize("address", [0, 0xFFFF, 0x1_0000, 0xFF_FFFF, 0x100_0000, 0xFFFF_FFFF])
def test_one_byte_anywhere_reads_back(fmt: Format, address: int) -> None:
    assert fmt.write is not None
    image = Image(segments=(Segment(address, b"\x5a"),))
    assert fmt.read(fmt.write(image), False).segments == image.segments


@each_written
def test_an_image_beyond_the_format_is_not_written(fmt: Format) -> None:
    assert fmt.write is not None
    with pytest.raises(UsageError) as caught:
        fmt.write(Image(segments=(Segment(0xFFFF_FFFF, b"AB"),)))
    assert caught.value.code == "address-out-of-range"


@each_written
@given(image=images(max_bytes=60))
def test_texts_are_upper_case_ascii_with_line_feeds(fmt: Format, image: Image) -> None:
    assert fmt.write is not None
    text = fmt.write(image)
    assert text.isascii()
    assert text.endswith(b"\n")
    assert b"\r" not in text
    body = text.removesuffix(b"q\n")
    assert body == body.upper()


@each_format
def test_the_example_is_read_and_recognised(fmt: Format) -> None:
    assert fmt.read(fmt.example, False).size_bytes > 0
    candidate = fmt.recognise(fmt.example)
    assert candidate is not None
    assert candidate.answer == fmt.name
    assert candidate.score == pytest.approx(0.98)


@each_format
def test_no_other_format_takes_the_example(fmt: Format) -> None:
    others = [other for other in ALL if other is not fmt and other.recognise(fmt.example) is not None]
    assert others == []


@each_format
@pytest.mark.parametrize(
    "dress",
    [
        lambda text: b"\xef\xbb\xbf" + text,
        lambda text: text.replace(b"\n", b"\r\n"),
        lambda text: text.replace(b"\n", b"\r"),
        lambda text: text.replace(b"\n", b"\r\n\0\0\0\0\0\0"),
        lambda text: b"".join(b"  " + line + b"\t \n\n" for line in text.splitlines()),
        lambda text: text.removesuffix(b"\n"),
        lambda text: text + b"\x1a" * 50,
    ],
    ids=["byte order mark", "CR LF", "CR", "paper tape", "blanks", "no last line end", "end mark 1A"],
)
def test_the_dress_of_lines_does_not_matter(fmt: Format, dress: Callable[[bytes], bytes]) -> None:
    text = dress(fmt.example)
    assert fmt.read(text, False) == fmt.read(fmt.example, False)
    assert fmt.recognise(text) == fmt.recognise(fmt.example)


@each_format
def test_a_single_line_is_recognised(fmt: Format) -> None:
    line = fmt.example.splitlines()[0] + (b"00 01" if fmt.name == "ascii-hex" else b"")
    assert fmt.recognise(line) is not None


@each_format
@given(text=st.binary(max_size=300) | NEARLY, keep=st.booleans())
def test_any_text_gives_an_image_or_our_error(fmt: Format, text: bytes, keep: bool) -> None:
    fmt.recognise(text)
    try:
        assert isinstance(fmt.read(text, keep), Image)
    except ImagekeeperError as error:
        assert error.where.line is not None or error.code == "not-this-kind"


@each_format
@given(data=st.data())
def test_what_strict_refuses_is_kept_with_its_doubt(fmt: Format, data: st.DataObject) -> None:
    text = data.draw(damaged(fmt.example))
    try:
        strict = fmt.read(text, False)
    except InputError as error:
        refused = error
    else:
        assert fmt.read(text, True) == strict
        return
    try:
        kept = fmt.read(text, True)
    except InputError as error:
        assert error.code == "not-this-kind"   # nothing could be kept
        return
    assert (refused.code, refused.where.line) in {(d.code, d.line) for d in kept.doubts}


@each_format
def test_text_without_data_is_not_this_kind(fmt: Format) -> None:
    with pytest.raises(InputError) as caught:
        fmt.read(b"", False)
    assert caught.value.code == "not-this-kind"


@each_format
@pytest.mark.parametrize("sample", [b"", b"\0" * 5000, bytes(range(256)) * 20, b"Dear reader,\nthis is a letter.\n"])
def test_other_files_are_not_recognised(fmt: Format, sample: bytes) -> None:
    assert fmt.recognise(sample) is None


@each_format
def test_a_damaged_file_is_still_recognised(fmt: Format) -> None:
    body = fmt.example.splitlines()[0] + b"\n"
    if fmt.name == "ascii-hex":
        body = fmt.example.splitlines()[1].rstrip(b"\x03$S0006,") + b" \n"
    text = fmt.example.splitlines()[0] + b"\n" + body * 6 + b"~~ line noise ~~\n" + body[:-4] + b"\n" + body[:5]
    candidate = fmt.recognise(text)
    assert candidate is not None
    assert 0.6 < candidate.score < 0.98
