"""The image builder: joining, addresses that come twice, limits."""

import random
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.containers.building import MAX_DOUBTS, ImageBuilder, LineProblem
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InputError

PUTS = st.lists(st.tuples(st.integers(0, 60), st.binary(min_size=1, max_size=12)), min_size=1, max_size=12)


def built(puts: list[tuple[int, bytes]], *, keep_doubtful: bool) -> Image:
    builder = ImageBuilder("intel-hex", keep_doubtful=keep_doubtful)
    for line, (address, data) in enumerate(puts, 1):
        builder.put(address, data, line=line)
    return builder.finish()


def by_address(image: Image) -> dict[int, int]:
    return {segment.start + i: value for segment in image.segments for i, value in enumerate(segment.data[:])}


@given(PUTS)
def test_the_value_that_came_first_stays(puts: list[tuple[int, bytes]]) -> None:
    expected: dict[int, int] = {}
    twice: set[int] = set()
    differing: set[int] = set()
    for address, data in puts:
        for i, value in enumerate(data):
            first = expected.setdefault(address + i, value)
            differing |= {address + i} if first != value else set()
        twice |= {a for a in range(address, address + len(data)) if sum(s <= a < s + len(d) for s, d in puts) > 1}
    image = built(puts, keep_doubtful=True)
    assert by_address(image) == expected
    assert {a for d in image.doubts for a in range(d.start, d.start + d.length)} == twice
    conflicts = {a for d in image.doubts if d.code == "conflict" for a in range(d.start, d.start + d.length)}
    assert differing <= conflicts <= twice


@given(PUTS)
def test_a_strict_import_takes_each_address_once(puts: list[tuple[int, bytes]]) -> None:
    doubtful = built(puts, keep_doubtful=True)
    if doubtful.doubts:
        with pytest.raises(InputError) as caught:
            built(puts, keep_doubtful=False)
        assert caught.value.code in ("overlap", "conflict")
    else:
        assert built(puts, keep_doubtful=False) == doubtful


@given(PUTS, st.data())
def test_a_run_is_the_same_as_its_lines(puts: list[tuple[int, bytes]], data: st.DataObject) -> None:
    builder = ImageBuilder("intel-hex", keep_doubtful=True)
    for line, (address, content) in enumerate(puts, 1):
        if data.draw(st.booleans()):
            builder.put_run(content, range(address, address + len(content), len(content)), range(line, line + 1))
        else:
            builder.put(address, content, line=line)
    assert builder.finish() == built(puts, keep_doubtful=True)


def test_a_conflict_names_both_lines_and_values() -> None:
    with pytest.raises(InputError) as caught:
        built([(0x100, b"ABCD"), (0x104, b"EFGH"), (0x106, b"Gx")], keep_doubtful=False)
    assert caught.value.code == "conflict"
    assert caught.value.where.line == 3
    assert "line 3 gives 78 at 0107 where line 2 gave 48" in str(caught.value)


def test_an_overlap_names_the_line_that_came_first() -> None:
    with pytest.raises(InputError) as caught:
        built([(0, b"AB"), (2, b"CD"), (3, b"D")], keep_doubtful=False)
    assert caught.value.code == "overlap"
    assert "line 3 gives 0003 again, with the same values as line 2" in str(caught.value)


def test_four_gibibytes_are_the_limit() -> None:
    top = (1 << 32) - 2
    assert built([(top, b"AB")], keep_doubtful=False).end_address == 1 << 32
    with pytest.raises(InputError) as caught:
        built([(top, b"ABC")], keep_doubtful=False)
    assert caught.value.code == "address-limit"
    image = built([(0, b"A"), (top, b"ABC")], keep_doubtful=True)
    assert image.segments == (Segment(0, b"A"),)
    assert [d.code for d in image.doubts] == ["address-limit"]


def test_no_data_is_not_this_kind() -> None:
    with pytest.raises(InputError) as caught:
        ImageBuilder("intel-hex", keep_doubtful=True).finish()
    assert caught.value.code == "not-this-kind"


def test_past_ten_thousand_doubts_are_only_counted() -> None:
    builder = ImageBuilder("intel-hex", keep_doubtful=True)
    builder.put(0, b"A", line=1)
    for line in range(MAX_DOUBTS + 5):
        builder.problem(LineProblem(
            code="record-form", what="a line is not a record", why="it reads 'x'", hint="", line=line
        ))
    doubts = builder.finish().doubts
    assert len(doubts) == MAX_DOUBTS + 1
    assert Doubt(start=0, length=0, code="record-form", why="5 more doubts not listed") in doubts


def test_overlapping_pieces_take_time_in_proportion_to_their_bytes() -> None:
    # 40,000 scattered bytes and a piece over all of them: copying the piece for each would move 3 GB.
    addresses = list(range(0, 80_000, 2))
    random.Random(1).shuffle(addresses)
    puts = [(a, b"\0") for a in addresses] + [(0, bytes(80_000))]
    start = time.process_time()
    image = built(puts, keep_doubtful=True)
    assert image.segments == (Segment(0, bytes(80_000)),)
    assert time.process_time() - start < 5   # [s]; about 0.3 here
