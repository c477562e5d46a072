"""Rows of bytes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.hexdumps import HexdumpRow, doubts_within, listed, rows
from imagekeeper.present.text.hexdump import legend
from tests.strategies import images


def cells(found: list[HexdumpRow]) -> dict[int, int]:
    return {row.address + i: c for row in found for i, c in enumerate(row.cells) if c is not None}


@given(image=images(), width=st.integers(1, 40))
def test_every_byte_is_shown_once_and_nothing_else(image: Image, width: int) -> None:
    found = list(rows(image, width=width))
    assert cells(found) == {a + i: b for a, piece in image.pieces() for i, b in enumerate(piece)}
    assert all(row.address % width == 0 for row in found)
    assert [row.address for row in found] == sorted({row.address for row in found})


@given(image=images(limit=5000), start=st.integers(0, 6000), length=st.integers(1, 900))
def test_a_window_shows_just_its_addresses(image: Image, start: int, length: int) -> None:
    whole = {a + i: b for a, piece in image.pieces() for i, b in enumerate(piece)}
    found = cells(list(rows(image, start=start, length=length)))
    assert found == {a: b for a, b in whole.items() if start <= a < start + length}


@given(a=images(limit=2000), b=images(limit=2000))
def test_differences_are_marked_exactly(a: Image, b: Image) -> None:
    mine = {at + i: v for at, piece in a.pieces() for i, v in enumerate(piece)}
    other = {at + i: v for at, piece in b.pieces() for i, v in enumerate(piece)}
    differing = {at for at in mine.keys() | other.keys() if mine.get(at) != other.get(at)}
    found = rows(a, against=b)
    assert {row.address + i for row in found for i, d in enumerate(row.differs) if d} == differing


def test_an_absurd_gap_costs_nothing() -> None:
    image = Image(segments=(Segment(0, b"a"), Segment(0xFFFFFFFF, b"z")), addressed=True)
    assert [row.address for row in rows(image)] == [0, 0xFFFFFFF0]


def test_doubtful_bytes_are_marked() -> None:
    image = Image(
        segments=(Segment(0, bytes(32)),),
        doubts=(Doubt(
            start=4, length=2, code="record-sum", why="made up"
        ), Doubt(start=0, length=0, code="no-end", why="made up")),
    )  # fmt: skip
    found = list(rows(image))
    assert [i for i, doubtful in enumerate(found[0].doubtful) if doubtful] == [4, 5]
    assert not any(found[1].doubtful)


def test_programs_get_the_spans_and_people_a_legend() -> None:
    doubts = (
        Doubt(start=0, length=0, code="no-end", why="made up"),
        Doubt(start=4, length=40, code="record-sum", why="the sum is wrong", line=7),
        Doubt(start=4, length=1, code="record-sum", why="within"),
        Doubt(start=90, length=2, code="record-sum", why="elsewhere"),
    )
    image = Image(segments=(Segment(0, bytes(100)),), doubts=doubts)
    near = doubts_within(image, 0, 64)
    assert listed(rows(image, length=64), against=False, doubts=near).doubts == doubts[:3]
    marked = {row.address + i for row in rows(image) for i, doubtful in enumerate(row.doubtful) if doubtful}
    assert marked == {*range(4, 44), 90, 91}
    text = "\n".join(legend(near))
    assert "? behind a byte" in text
    assert "line 7, 0004 to 002B: the sum is wrong (record-sum)" in text
    assert "? behind" not in "\n".join(legend(doubts[:1]))
    assert list(legend(())) == []
