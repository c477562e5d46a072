"""Generators that several tests share."""

from __future__ import annotations

from hypothesis import strategies as st

from imagekeeper.containers.model import Image, Segment


@st.composite
def images(draw: st.DrawFn, *, limit: int = 1 << 32, max_segments: int = 4, max_bytes: int = 300) -> Image:
    """Images of a few segments with gaps between, anywhere below `limit`."""
    blocks = draw(st.lists(st.binary(min_size=1, max_size=max_bytes), min_size=1, max_size=max_segments))
    gaps = draw(st.lists(st.integers(1, max(1, min(5000, limit // 8))), min_size=len(blocks), max_size=len(blocks)))
    blocks = [block[: max(1, limit // 16)] for block in blocks]
    need = sum(map(len, blocks)) + sum(gaps[1:])
    at = draw(st.integers(0, limit - need))
    segments = []
    for i, block in enumerate(blocks):
        if i:
            at += gaps[i]
        segments.append(Segment(at, block))
        at += len(block)
    return Image(segments=tuple(segments), addressed=True)
