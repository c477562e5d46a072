"""The image itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import containers
from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InternalError, UsageError
from tests.strategies import images


@given(image=images(), size=st.integers(1, 100))
def test_pieces_are_the_bytes_in_order(image: Image, size: int) -> None:
    pieces = list(image.pieces(size))
    assert b"".join(piece for _, piece in pieces) == image.tobytes()
    assert all(0 < len(piece) <= size for _, piece in pieces)
    assert image.size_bytes + sum(gap.length for gap in image.gaps) == image.span_bytes


@given(image=images(limit=1 << 20), fill=st.integers(0, 255))
def test_filling_closes_gaps_and_changes_nothing_else(image: Image, fill: int) -> None:
    filled = containers.fill(image, fill)
    assert filled.gaps == ()
    whole = filled.tobytes()
    assert len(whole) == image.span_bytes
    for segment in image.segments:
        at = segment.start - image.first_address
        assert whole[at : at + len(segment.data)] == segment.data
    for gap in image.gaps:
        at = gap.start - image.first_address
        assert whole[at : at + gap.length] == bytes([fill]) * gap.length


def test_an_absurd_gap_is_not_filled() -> None:
    image = Image(segments=(Segment(0, b"a"), Segment(0xFFFFFFF0, b"z")), addressed=True)
    with pytest.raises(UsageError) as caught:
        containers.fill(image, 0xFF)
    assert caught.value.code == "too-large-to-fill"


def test_moving_moves_doubts_too() -> None:
    image = Image(
        segments=(Segment(0x10, b"ab"),),
        doubts=(Doubt(
            start=0x11, length=1, code="record-sum", why="x"
        ), Doubt(start=0, length=0, code="no-end", why="y")),
    )  # fmt: skip
    moved = image.moved(0x8000)
    assert [(d.start, d.length) for d in moved.doubts] == [(0x8001, 1), (0, 0)]
    assert moved.first_address == 0x8000


@pytest.mark.parametrize("segments", [[(0, b"")], [(0, b"ab"), (2, b"c")], [(5, b"a"), (0, b"b")]])
def test_segments_must_ascend_apart(segments: list[tuple[int, bytes]]) -> None:
    with pytest.raises(InternalError) as caught:
        Image(segments=tuple(Segment(start, data) for start, data in segments))
    assert caught.value.code == "internal"


def test_the_names_are_those_of_the_kinds() -> None:
    """They are written down apart, so that a command can name them without loading them."""
    from imagekeeper.containers.kinds import TEXT_KINDS

    assert ("raw", *(kind.name for kind in TEXT_KINDS)) == containers.NAMES
    assert ("raw", *(kind.name for kind in TEXT_KINDS if kind.write)) == containers.WRITABLE_NAMES
