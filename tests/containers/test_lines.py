"""Lines, digits and the words for faults, which all text containers share."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers.lines import (
    check_writable,
    chunks,
    digit_pairs,
    excerpt,
    numbered_lines,
    recognise_lines,
    rows,
    wrong_word,
)
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_every_line_end_counts_once(end: bytes) -> None:
    text = end.join([b"one", b"", b"three"]) + end
    assert list(numbered_lines(text)) == [(1, b"one"), (3, b"three")]


def test_what_surrounds_a_line_is_left_out() -> None:
    tape = b"\xef\xbb\xbf\0\0\x11one\r\n\0\0\0\0\0\0 two\t\r\n\x13\x1a\x1a"
    assert list(numbered_lines(tape)) == [(1, b"one"), (2, b"two")]


@given(st.lists(st.sampled_from([b"a", b"bc", b"\r", b"\n", b"\r\n"])).map(b"".join), st.integers(1, 9))
def test_chunks_join_to_the_text_and_never_cut_a_line(text: bytes, size: int) -> None:
    pieces = list(chunks(text, size))
    assert b"".join(pieces) == text
    assert [line for piece in pieces for line in piece.splitlines()] == text.splitlines()


@given(st.binary(max_size=40))
def test_digit_pairs_read_what_was_written(data: bytes) -> None:
    assert digit_pairs(data.hex().encode()) == (data, None)
    assert digit_pairs(data.hex().upper().encode()) == (data, None)


def test_digit_pairs_name_the_character_of_the_line() -> None:
    data, fault = digit_pairs(b"0102G3", column=1)
    assert data == b"\1\2"
    assert fault is not None
    assert (fault.code, fault.why) == ("record-digits", "character 6 of the line is 'G'")


def test_digit_pairs_do_not_skip_blanks() -> None:
    data, fault = digit_pairs(b"01 02")
    assert data == b"\1"
    assert fault is not None
    assert fault.why == "character 3 of the line is ' '"


def test_a_word_that_is_no_byte_is_quoted() -> None:
    assert wrong_word(b"01 2 03", 3, b"2").why == "'2' stands at character 4 of the line"
    assert wrong_word(b"01 2x 03", 3, b"2x").why == "character 5 of the line is 'x'"


@given(st.binary(max_size=60))
def test_excerpts_are_short_and_printable(line: bytes) -> None:
    text = excerpt(line)
    assert text.isascii()
    assert text.isprintable()
    assert len(text) <= 4 * 24 + 5


def test_a_sample_is_scored_by_its_share_of_fitting_lines() -> None:
    sample = b"x1\nx2\n\nno\nx3\n"
    candidate = recognise_lines(sample, "kind", re.compile(b"x[0-9]"), "records")
    assert candidate is not None
    assert candidate.score == pytest.approx(0.98 * 3 / 4)
    assert candidate.evidence[0].says == "3 of 4 lines are records"


def test_too_few_fitting_lines_are_no_candidate() -> None:
    assert recognise_lines(b"x1\nno\nno\nno\n", "kind", re.compile(b"x"), "records") is None
    assert recognise_lines(b"", "kind", re.compile(b"x"), "records") is None


def test_rows_keep_gaps_and_borders() -> None:
    image = Image(segments=(Segment(0xFFF8, bytes(range(20))), Segment(0x2_0000, b"\xee")))
    cut = list(rows(image, 16, border=0x1_0000))
    assert [(address, len(data)) for address, data in cut] == [(0xFFF8, 8), (0x1_0000, 12), (0x2_0000, 1)]
    assert b"".join(data for _, data in cut) == image.tobytes()


@pytest.mark.parametrize(
    "image",
    [
        Image(segments=(Segment((1 << 32) - 1, b"AB"),)),
        Image(segments=(Segment(0, b"A"),), entry=1 << 32),
        Image(segments=(Segment(0, b"A"),), entry=-1),
    ],
)
def test_addresses_beyond_a_container_are_refused(image: Image) -> None:
    with pytest.raises(UsageError) as caught:
        check_writable(image)
    assert caught.value.code == "address-out-of-range"


def test_a_text_of_carriage_returns_is_cut_too() -> None:
    assert list(chunks(b"a\rb\rc", size=1)) == [b"a\r", b"b\r", b"c"]
