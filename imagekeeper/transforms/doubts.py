"""Doubts carried through steps: where in the result the bytes are that the source's file spoke against."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Any

from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image
from imagekeeper.transforms.step import Step

if TYPE_CHECKING:
    import numpy as np

#: A doubt that comes to lie in more places than this is stated as one span around them all.
PLACES = 64


def carried(images: Sequence[Image], steps: Sequence[Step], start: int) -> tuple[Doubt, ...]:
    """Find the doubts of the result.

    Args:
        images: The source, then the further images that the steps need, in order.
        steps: The steps that were done, in order.
        start: The address at which the result begins. [byte]

    Returns:
        Doubts in the order of their addresses. A doubt about the file as a whole stays one.

    Example:
        >>> from imagekeeper.transforms.chip_steps import SplitLane
        >>> source = replace(Image.from_bytes(bytes(32)), doubts=(Doubt(
        ...     start=8, length=4, code="record-sum", why="the sum is wrong"
        ... ),))
        >>> [(doubt.start, doubt.length) for doubt in carried([source], [SplitLane(1, 2, 1)], 0)]
        [(4, 2)]
    """
    doubts = [doubt for image in images for doubt in image.doubts]
    whole = tuple(dict.fromkeys(doubt for doubt in doubts if not doubt.length))
    if len(doubts) == len([doubt for doubt in doubts if not doubt.length]):
        return whole
    placed: dict[int, list[tuple[int, int]]] = {}
    for number, at, length in _runs(_moved(_marks(images), steps)):
        placed.setdefault(number - 1, []).append((start + at, length))
    found = []
    for number, places in placed.items():
        doubt = doubts[number]
        if len(places) > PLACES:
            first, (last, length) = places[0][0], places[-1]
            doubt = replace(doubt, why=f"at {len(places)} places within: {doubt.why}")
            places = [(first, last + length - first)]
        found += [replace(doubt, start=at, length=length) for at, length in places]
    return whole + tuple(sorted(found, key=lambda doubt: (doubt.start, doubt.length)))


def _marks(images: Sequence[Image]) -> list[np.ndarray[Any, Any]]:
    """Mark every byte present with the number of its doubt, from 1 over all images; 0 for none."""
    import numpy as np  # slow to load: only where there is work for it

    marks, number = [], 0
    for image in images:
        mine = np.zeros(image.size_bytes, "<u4")
        starts = [segment.start for segment in image.segments]
        offsets = [0, *accumulate(len(segment.data) for segment in image.segments)]
        for doubt in image.doubts:
            number += 1
            end = doubt.start + doubt.length
            which = max(bisect_right(starts, doubt.start) - 1, 0)
            while doubt.length and which < len(starts) and starts[which] < end:
                segment = image.segments[which]
                low, high = max(doubt.start, segment.start), min(end, segment.end)
                if low < high:
                    shift = offsets[which] - segment.start
                    mine[low + shift : high + shift] = number
                which += 1
        marks.append(mine)
    return marks


def _moved(marks: list[np.ndarray[Any, Any]], steps: Sequence[Step]) -> np.ndarray[Any, Any]:
    """Take the marks through the steps, one byte of the numbers at a time."""
    import numpy as np  # slow to load: only where there is work for it

    result = None
    highest = max(int(mine.max()) for mine in marks if len(mine))
    for byte in range((highest.bit_length() + 7) // 8):
        plane, *others = [mine.view(np.uint8)[byte::4].tobytes() for mine in marks]
        for step in steps:
            plane = step.carry(plane, others if step.needs else ())
        moved = np.frombuffer(plane, np.uint8).astype("<u4") << np.uint32(8 * byte)
        result = moved if result is None else result | moved
    return np.zeros(0, "<u4") if result is None else result


def _runs(marks: np.ndarray[Any, Any]) -> list[tuple[int, int, int]]:
    """Find the runs of one number: (number, offset, length)."""
    import numpy as np  # slow to load: only where there is work for it

    edges = np.flatnonzero(np.diff(marks, prepend=np.uint32(0), append=np.uint32(0)))
    return [
        (int(marks[at]), int(at), int(end - at))
        for at, end in pairwise(edges)
        if marks[at]
    ]
