"""What depends on a damaged line or wrapper is doubtful: rule by rule, and by damage at every place of a file."""

import gzip
import random
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper import containers
from imagekeeper.addresses import joined
from imagekeeper.containers import bulk, intel_hex, s_record
from imagekeeper.containers.building import MAX_DOUBTS, ImageBuilder, LineProblem
from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.registry import Read
from imagekeeper.errors import InputError
from imagekeeper.sentences.say import Phrase

END = b":00000001FF\n"


def kept(text: bytes, kind: str) -> Image:
    return containers.read(text, kind=kind, keep_doubtful=True)


def doubted(image: Image) -> list[tuple[int, int]]:
    return [(span.start, span.end) for span in joined(image.doubts)]


def hangs(image: Image) -> list[tuple[int, int, int | None]]:
    """The addresses that hang on a faulty line, with that line."""
    return [(d.start, d.start + d.length, d.line) for d in image.doubts if "hangs on a faulty line" in d.why]


# --- Intel HEX: the base ---

DATA_10 = b":0100100011DE\n"
BASE_1 = b":020000040001F9\n"
BASE_2 = b":020000040002F8\n"


@pytest.mark.parametrize("bad", [
    b":020000040001F8\n", b":020000040003F9\n", b":020000140001F9\n", b":020000000001F9\n", b":02000005000117\n",
    b":0200000400x1F9\n", b"0020000040001F9\n", b":02000004001F9\n", b":02000004\n", b":0200000400\n01F9\n",
    b":010000040001F9\n", b":020000040001F9x" + DATA_10, DATA_10.strip() + b"A" + BASE_1,
], ids=lambda bad: str(bad))  # fmt: skip
def test_all_that_follows_a_damaged_base_is_doubtful_up_to_the_next_good_one(bad: bytes) -> None:
    image = kept(b":0100050022D8\n" + bad + DATA_10 + b":0100200033AC\n" + BASE_2 + DATA_10 + END, "intel-hex")
    at = {address for start, end, _ in hangs(image) for address in range(start, end)}
    assert {address & 0xFFFF for address in at} == {0x10, 0x20}
    spans = doubted(image)
    for address in at:
        assert any(start <= address < end for start, end in spans)
    assert not any(start <= clean < end for start, end in spans for clean in (5, 0x2_0010))
    assert {line for *_, line in hangs(image)} <= {2, 3}


@pytest.mark.parametrize("bad", [
    b":0300300002337A1F\n", b":10010000214601360121470136007EFE09D2190141\n",
    b":1001000021460136012147013600xEFE09D2190140\n",
    b"READY.\n", b":00000001FE\n", b":0400000500000000F8\n", b":020FFC0001020F\n",
], ids=lambda bad: str(bad))  # fmt: skip
def test_a_line_that_was_no_base_leaves_what_follows_undoubted(bad: bytes) -> None:
    image = kept(bad + b":0100200033AC\n" + END, "intel-hex")
    assert image.doubts
    assert not any(start <= 0x20 < end for start, end in doubted(image))


def test_where_a_faulty_data_record_should_lie_is_doubtful_too() -> None:
    """Its address is damaged: 0110 instead of 0010, so that 0010 lacks."""
    text = b":0100000022DD\n:01001000\n:0100200033AC\n".replace(b":01001000\n", b":0101100044AB\n")
    assert doubted(kept(text + END, "intel-hex")) == [(0x1, 0x20), (0x110, 0x111)]


def test_the_bulk_reader_doubts_what_hangs_on_a_base(monkeypatch: pytest.MonkeyPatch) -> None:
    text = intel_hex.write(Image.from_bytes(bytes(range(256)) * 8, 0x1_0000)).replace(BASE_1, b":020000040001F8\n")
    slowly = kept(text, "intel-hex")
    monkeypatch.setattr(bulk, "SMALL_BYTES", 0)
    assert kept(text, "intel-hex") == slowly
    assert hangs(slowly) == [(0x1_0000, 0x1_0800, 1)]


def test_an_entry_of_a_faulty_record_is_not_taken() -> None:
    assert kept(b":0100000022DD\n:0400000500000010E8\n" + END, "intel-hex").entry is None


# --- damage at every place ---


def bytes_of(image: Image) -> dict[int, int]:
    return {s.start + i: byte for s in image.segments for i, byte in enumerate(s.data[:])}


def segmented() -> bytes:
    """Segment bases, as 16-bit systems have them; sums reckoned here by the rule of the specification."""
    def line(type_: int, offset: int, content: bytes) -> bytes:
        body = bytes([len(content), offset >> 8, offset & 0xFF, type_]) + content
        return b":%s%02X\n" % (body.hex().upper().encode(), -sum(body) & 0xFF)

    rows = [(0, at, random.Random(at).randbytes(8)) for at in range(0, 32, 8)]
    lines = [(2, 0, b"\x10\x00"), *rows, (2, 0, b"\x20\x00"), *rows[::-1], (1, 0, b"")]
    return b"".join(line(*one) for one in lines)


NOISE = random.Random(7).randbytes(0x40)
FILES: dict[str, tuple[Read, bytes]] = {
    "linear bases": (intel_hex.read, intel_hex.write(
        Image(segments=(Segment(0xFFE0, NOISE), Segment(0x2_0000, NOISE[:0x18]))))),
    "segment bases": (intel_hex.read, segmented()),
    "S1": (s_record.read, s_record.write(Image.from_bytes(NOISE, 0x8000), with_count=True)),
    "S2": (s_record.read, s_record.write(Image.from_bytes(NOISE, 0x1_8000))),
    "S3": (s_record.read, s_record.write(Image.from_bytes(NOISE, 0x123_8000), with_count=True)),
}  # fmt: skip


def judged(read: Read, text: bytes, at: int, value: int) -> str:
    """Damage one byte of a file and tell what comes of it."""
    true, hurt = bytes_of(read(text, False)), text[:at] + bytes([value]) + text[at + 1 :]
    try:
        return "harmless" if bytes_of(read(hurt, False)) == true else "passes"
    except InputError:
        pass
    try:
        image = read(hurt, True)
    except InputError:
        return "refused"
    spans = doubted(image)
    wrong = [a for a, byte in bytes_of(image).items() if true.get(a) != byte]
    unseen = [a for a in wrong if not any(start <= a < end for start, end in spans)]
    return "undoubted" if unseen else "doubted"


@pytest.mark.parametrize("name", FILES)
def test_one_damaged_byte_anywhere_leaves_no_wrong_byte_undoubted(name: str) -> None:
    """Every place, with a few values that each change something else: a digit, a letter, a line end, a mark, no text.

    What passes has its sum right: the type digit of the first S-record after the header, turned to 0, makes a header.
    """
    read, text = FILES[name]
    outcomes = [
        (at, value, judged(read, text, at, value))
        for at in range(len(text)) for value in b"0146F:\n\xff" if value != text[at]
    ]  # fmt: skip
    assert [one for one in outcomes if one[2] == "undoubted"] == []
    passed = [one for one in outcomes if one[2] == "passes"]
    first_type = text.index(b"\n") + 2
    assert passed == ([(first_type, ord("0"), "passes")] if name == "S2" else [])   # no type, or a count
    assert len(outcomes) > 7 * len(text)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_any_damaged_byte_leaves_no_wrong_byte_undoubted(data: st.DataObject) -> None:
    read, text = FILES[data.draw(st.sampled_from(sorted(FILES)))]
    at = data.draw(st.integers(0, len(text) - 1))
    assert judged(read, text, at, data.draw(st.integers(0, 255))) != "undoubted"


# --- S-records: types ---


def test_a_record_of_another_type_and_the_place_that_it_left_are_doubtful() -> None:
    text = s_record.write(Image.from_bytes(NOISE, 0x8000))
    lines = text.splitlines(keepends=True)
    lines[2] = b"S2" + lines[2][2:]
    image = kept(b"".join(lines), "s-record")
    first = NOISE[0x10]
    assert doubted(image) == [(0x8010, 0x8020), ((0x8010 << 8) + first, (0x8010 << 8) + first + 15)]


def test_an_end_record_that_became_data_is_doubtful() -> None:
    text = s_record.write(Image.from_bytes(NOISE, 0x1_8000)).replace(b"S804", b"S104")
    image = kept(text, "s-record")
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("no-end", 0, 1)]


# --- formats in which the count of bytes says where the next belong ---

UNSURE: dict[str, tuple[str, bytes, list[tuple[int, int]]]] = {
    "an address of TI-TXT": ("ti-txt", b"@10\n31 32\n?20\n33 34\n@30\n35\nq\n", [(0x12, 0x15)]),
    "an address of TI-TXT that became digits": ("ti-txt", b"@10\n31 32\n010020\n33\n@30\n35\nq\n", [(0x12, 0x14)]),
    "a blank lost in TI-TXT": ("ti-txt", b"@10\n31 3233 34\n35\n@30\n35\nq\n", [(0x10, 0x14)]),
    "a digit lost in TI-TXT": ("ti-txt", b"@10\n31 3 33 34\n35\n@30\n35\nq\n", [(0x10, 0x15)]),
    "a letter in TI-TXT leaves the count": ("ti-txt", b"@10\n31 3x 33\n35\nq\n", [(0x10, 0x13)]),
    "an address of ASCII-hex": ("ascii-hex", b"\x02$A0010,\n31 32\n?A0020,\n33\n$A0030,\n35 \x03", [(0x12, 0x14)]),
    "a digit lost in ASCII-hex": ("ascii-hex", b"\x02$A0010,\n31 3 33\n34\n$A0030,\n35 \x03", [(0x11, 0x14)]),
    "a letter in ASCII-hex": ("ascii-hex", b"\x02$A0010,\n31 3x 33\n34 \x03", [(0x11, 0x12)]),
    "the sum of ASCII-hex": ("ascii-hex", b"\x02$A0010,\n31 32 33 \x03$S0097,\n", [(0x10, 0x13)]),
    "a listing without addresses": (
        "hex-text", b"41 42 43 44\n45 46 4x 48\n49 4A 4B 4C\n4D 4E 4F 50\n", [(4, 14)]),
    "a short line of one": ("hex-text", b"41 42 43 44\n45 46\n49 4A 4B 4C\n4D 4E 4F 50\n", [(4, 14)]),
    "a line lost of one": ("hex-text", b"41 42 43 44\nO5 46 47 48\n49 4A 4B 4C\n4D 4E 4F 50\n", [(4, 12)]),
    "a repeat without an end": ("hex-text", b"41 42 43 44\n*\n45 46 47 48\n49 4A 4B 4C\n", [(4, 12)]),
    "an address of a listing": (
        "hex-text", b"0000: 41 42\n0002: 43 44\n0804: 45 46\n0006: 47 48\n0008: 49 4A\n",
        [(4, 0x806)]),
    "the last address of a listing": ("hex-text", b"0000: 41 42\n0002: 43 44\n0804: 45 46\n", [(4, 0x806)]),
    "a line lost of a listing": (
        "hex-text", b"0000: 41 42\n0002: 43 44\n0006: 45 46\n0008: 47 48\n", [(4, 6)]),
}  # fmt: skip


@pytest.mark.parametrize("name", UNSURE)
def test_what_hangs_on_a_count_or_an_address_is_doubtful(name: str) -> None:
    kind, text, expected = UNSURE[name]
    with pytest.raises(InputError):
        containers.read(text, kind=kind)
    assert doubted(kept(text, kind)) == expected


RECORDS: dict[str, tuple[str, bytes, list[tuple[int, int]]]] = {
    "Tektronix hex": (
        "tektronix-hex", b"/01000405102030400A\n/01040406102030400A\n/0108040D102030400A\n/01000001\n",
        [(0x104, 0x108)]),
    "MOS tape": (
        "mos-tape", b";0200100102" b"0015\n;0200120102" b"0018\n;0200140102" b"0019\n;0000030003\n", [(0x12, 0x14)]),
}  # fmt: skip


@pytest.mark.parametrize("name", RECORDS)
def test_records_that_state_their_own_address_keep_doubt_to_themselves(name: str) -> None:
    kind, text, expected = RECORDS[name]
    assert doubted(kept(text, kind)) == expected


# --- wrappers ---


@pytest.mark.parametrize(("hurt", "length"), [
    (lambda packed: packed[:-8] + b"\0\0\0\0" + packed[-4:], True),
    (lambda packed: packed[:-6], True),
    (lambda packed: packed + b"x", False),
], ids=["CRC", "cut", "more behind the end"])  # fmt: skip
@pytest.mark.parametrize("inside", ["raw", "intel-hex"])
def test_of_a_damaged_gzip_file_all_is_doubtful(hurt: Callable[[bytes], bytes], length: bool, inside: str) -> None:
    """RFC 1952, 2.3.1: the CRC is over the whole of what was packed. What stands behind it says nothing of that."""
    image = Image.from_bytes(bytes(range(256)), 0x100 if inside == "intel-hex" else 0)
    packed = hurt(gzip.compress(image.tobytes() if inside == "raw" else intel_hex.write(image)))
    with pytest.raises(InputError):
        containers.read(packed)
    found = containers.read(packed, keep_doubtful=True)
    assert found.tobytes() == image.tobytes()
    assert [(d.start, d.length) for d in found.doubts if d.code == "wrapper-damaged"] == [
        (image.first_address, 256) if length else (0, 0)
    ]


# --- many ---


def test_doubts_past_the_limit_still_cover_their_addresses() -> None:
    builder = ImageBuilder("intel-hex", keep_doubtful=True)
    builder.put(0, bytes(MAX_DOUBTS + 5), line=1)
    for at in range(MAX_DOUBTS + 5):
        builder.problem(LineProblem(Phrase("record-form", found="x", expected="y"), at, at, 1))
    image = builder.finish()
    assert doubted(image) == [(0, MAX_DOUBTS + 5)]
    assert len(image.doubts) == MAX_DOUBTS + 1


def test_a_new_faulty_line_takes_over_what_hangs() -> None:
    builder = ImageBuilder("intel-hex", keep_doubtful=True)
    fault = Phrase("record-form", found="x", expected="y")
    builder.put(0, b"A", line=1)
    builder.depend(LineProblem(fault, 2))
    builder.put(1, b"B", line=3)
    builder.put(2, b"C", line=4)
    builder.depend(LineProblem(fault, 5))
    builder.put(8, b"D", line=6)
    builder.depend_no_more()
    builder.put(9, b"E", line=7)
    assert hangs(builder.finish()) == [(1, 3, 2), (8, 9, 5)]
