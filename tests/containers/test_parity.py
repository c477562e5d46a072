"""Text that came by a serial line of seven data bits and parity, into a port that was set to eight."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import containers
from imagekeeper.containers import intel_hex, s_record
from imagekeeper.containers.model import Image
from imagekeeper.containers.parity import broken_lines, find_parity, stripped
from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import ImagekeeperError, InputError

KINDS = st.sampled_from(["even", "odd", "mark"])


def sent(text: bytes, kind: str) -> bytes:
    """Set bit 7 of every character as a line of that parity does."""
    bit: dict[str, Callable[[int], int]] = {
        "even": lambda c: c.bit_count() % 2, "odd": lambda c: 1 - c.bit_count() % 2, "mark": lambda c: 1,
    }  # fmt: skip
    return bytes(c | bit[kind](c) << 7 for c in text)


def record_files(data: bytes) -> dict[str, bytes]:
    image = Image.from_bytes(data, 0x100)
    return {kind: containers.encode(image, kind) for kind in containers.WRITABLE_NAMES if kind != "raw"}


@pytest.mark.parametrize(("character", "even", "odd", "mark"), [
    ("A", 0x41, 0xC1, 0xC1), ("C", 0xC3, 0x43, 0xC3), ("S", 0x53, 0xD3, 0xD3), ("0", 0x30, 0xB0, 0xB0),
])  # fmt: skip
def test_characters_with_their_parity(character: str, even: int, odd: int, mark: int) -> None:
    """By hand from ISO 646 and the definition of parity (ITU-T V.4, from memory): A has two ones, C three, S four."""
    text = character.encode() * 20
    assert [sent(text, kind)[0] for kind in ("even", "odd", "mark")] == [even, odd, mark]
    assert stripped(bytes([even, odd, mark])) == character.encode() * 3


@given(data=st.binary(min_size=8, max_size=400), kind=KINDS, end=st.sampled_from([b"\n", b"\r\n", b"\r"]))
def test_every_text_container_is_read_through_its_parity(data: bytes, kind: str, end: bytes) -> None:
    for name, text in record_files(data).items():
        whole = sent(text.replace(b"\n", end), kind)
        assert containers.detect(whole)[0].answer == name
        image = containers.read(whole)
        assert (image.container, image.tobytes(), image.doubts) == (name, data, ())
        assert image.parity is not None
        assert (image.parity.kind, image.parity.broken) == (kind, 0)
        assert [(found.code, found.severity) for found in remarks(image)] == [("parity-stripped", "note")]


def test_other_texts_are_read_through_their_parity() -> None:
    """ASCII-hex, the paper tape of the KIM-1 User Manual, appendix F, and a listing."""
    for text, name in (
        (b"\x02$A0100,\n00 01 02 03 04 05 \x03$S000F,\n", "ascii-hex"),
        (b";06024802C8CAD0F860040C\r\n;0000010001\r\n", "mos-tape"),
        (b"0100- 21 00 40 C9\r\n0104- 3E 01 D3 00\r\n0108- 3E 02 D3 01\r\n010C- 00 00 00 01\r\n", "hex-text"),
    ):
        plain = containers.read(text)
        through = containers.read(sent(text, "even"))
        assert plain.container == through.container == name
        assert (through.segments, plain.parity) == (plain.segments, None)
        assert through.parity is not None


@given(data=st.binary(min_size=64, max_size=400), kind=KINDS, draw=st.data())
def test_a_character_that_breaks_the_parity_makes_its_record_doubtful(
    data: bytes, kind: str, draw: st.DataObject
) -> None:
    text = intel_hex.write(Image.from_bytes(data))
    damaged = bytearray(sent(text, kind))
    at = draw.draw(st.integers(0, len(damaged) - 1))
    damaged[at] ^= 0x80
    if stripped(bytes(damaged[at : at + 1])) == b"\n" or damaged[at] in (0x00, 0xFF):
        return   # whose line it is is another matter
    number = text.count(b"\n", 0, at) + 1
    with pytest.raises(InputError) as refused:
        containers.read(bytes(damaged))
    assert (refused.value.code, refused.value.where.line) == ("record-parity", number)
    image = containers.read(bytes(damaged), keep_doubtful=True)
    assert image.tobytes() == data   # nothing is lost
    start = 16 * (number - 1)
    (doubt,) = image.doubts
    assert (doubt.code, doubt.line) == ("record-parity", number)
    assert (doubt.start, doubt.length) == ((start, min(16, len(data) - start)) if start < len(data) else (0, 0))
    assert [found.code for found in remarks(image)] == ["parity-stripped"]
    assert next(remarks(image)).severity == "warning"


def test_broken_parity_in_long_files_is_found_in_its_record() -> None:
    """Files of plain records are read many lines at once; the doubts must be those of line by line."""
    data = random.Random(6).randbytes(60_000)
    for write, first in ((intel_hex.write, 1), (s_record.write, 2)):
        text = write(Image.from_bytes(data))
        assert len(text) > 64 * 1024
        wanted = {}
        whole = bytearray(sent(text, "odd"))
        ends = [at for at, c in enumerate(text) if c == 10]
        for number in (100, 101, 2500):
            whole[ends[number - 2] + 12] ^= 0x80
            wanted[number] = (16 * (number - first), 16)
        image = containers.read(bytes(whole), keep_doubtful=True)
        assert image.tobytes() == data
        assert {doubt.line: (doubt.start, doubt.length) for doubt in image.doubts} == wanted
        with pytest.raises(InputError) as refused:
            containers.read(bytes(whole))
        assert refused.value.where.line == 100


def test_all_that_a_base_record_with_broken_parity_moves_is_doubtful() -> None:
    data = bytes(range(1, 33))
    whole = bytearray(sent(intel_hex.write(Image.from_bytes(data, 0x2_0000)), "even"))
    whole[10] ^= 0x80   # within the record of type 04, which is the first
    image = containers.read(bytes(whole), keep_doubtful=True)
    assert (image.tobytes(), image.first_address) == (data, 0x2_0000)
    assert {at for one in image.doubts for at in range(one.start, one.start + one.length)} == set(
        range(0x2_0000, 0x2_0020)
    )
    assert {one.code for one in image.doubts} == {"record-parity"}


def test_tape_leaders_and_rubouts_carry_no_parity() -> None:
    text = intel_hex.write(Image.from_bytes(bytes(range(64))))
    for kind in ("even", "odd"):
        image = containers.read(bytes(60) + sent(text, kind) + bytes(60))
        assert image.parity is not None
        assert (image.parity.kind, image.parity.broken, image.tobytes()) == (kind, 0, bytes(range(64)))


def test_what_has_no_parity_is_left_alone() -> None:
    text = intel_hex.write(Image.from_bytes(bytes(range(64))))
    assert find_parity(text) is None
    assert find_parity(text + "grün, größer, ±5 µs\n".encode()) is None
    assert find_parity(random.Random(2).randbytes(4096)) is None
    assert find_parity(b"") is None
    assert containers.read(text).parity is None
    half = bytes(c | random.Random(n).getrandbits(1) << 7 for n, c in enumerate(text))   # bit 7 says nothing
    assert find_parity(half) is None


def test_raw_stays_raw_where_it_is_asked_for() -> None:
    whole = sent(intel_hex.write(Image.from_bytes(bytes(range(64)))), "even")
    image = containers.read(whole, kind="raw")
    assert (image.container, image.tobytes(), image.parity) == ("raw", whole, None)


@given(st.binary(max_size=600), st.sampled_from(containers.NAMES), st.booleans(), st.sampled_from(["first", "last"]))
def test_hostile_bytes_give_an_image_or_one_of_our_errors(
    data: bytes, kind: str, keep_doubtful: bool, repeated: containers.Repeated
) -> None:
    for text in (data, sent(stripped(data), "even"), sent(b":" + data.hex().encode(), "odd")):
        try:
            image = containers.read(text, kind=kind, keep_doubtful=keep_doubtful, repeated=repeated)
        except ImagekeeperError as problem:
            assert problem.code   # one of ours, which says what to do
            assert problem.hint
        else:
            assert image.size_bytes == len(image.tobytes())


@given(st.lists(st.sampled_from([b"\r", b"\n", b"\r\n", b"A", b"CC", b"\0"]), max_size=30), st.data())
def test_lines_of_broken_characters_are_counted_as_lines_are_read(parts: list[bytes], draw: st.DataObject) -> None:
    text = bytearray(b"".join(parts) + b"A")
    at = draw.draw(st.integers(0, len(text) - 1))
    if text[at] not in b"AC":
        return
    text[at] |= 0x80   # among characters whose bit 7 is right by "even" and "mark", this one by neither or one
    plain = stripped(bytes(text))
    number = len((plain[:at] + b"x").splitlines())
    found = broken_lines(bytes(text), "even")
    assert (number in found) == (text[at].bit_count() % 2 == 1 or any(
        c.bit_count() % 2 for n, c in enumerate(text) if c and len((plain[:n] + b"x").splitlines()) == number
    ))  # fmt: skip
