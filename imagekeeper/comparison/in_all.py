"""What the content may be where one fault is in all reads, at places that chance chooses anew in each.

Then most reads do not give the right byte everywhere, but the fault leaves a mark by which its bytes are known: a chip
that does not answer reads as one value, and a byte that is read too early is the one before. What stands in another
read at that place is the content.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.pair import Bytes
from imagekeeper.comparison.reads import Reads

#: Of the places where the reads differ, so large a part bears the mark at least.
MARKED = 0.75

#: Each read has so large a part of the marks at least: else the fault is not in all of them.
SHARED = 0.05

#: Fewer marks in a read are no fault in it.
FEWEST = 4

#: With more places that differ it is not tried: each takes a step of its own.
MOST_PLACES = 400_000


def rebuilt(reads: Reads) -> Iterator[tuple[tuple[str, ...], Bytes]]:
    """Propose faults that could be in all reads, each with the content that it leaves; none of them need give that.

    Returns:
        The codes of the fault, and the content.

    Args:
        reads: All reads, no two of them alike.

    Example:
        >>> right = np.arange(1, 101, dtype=np.uint8)
        >>> one, other = right.copy(), right.copy()
        >>> one[0:40:5], other[3:60:5] = 0xFF, 0xFF
        >>> pair = Reads(images=(one, other), numbers=((1,), (2,)), names=("a", "b"), volts=((None,), (None,)))
        >>> [(codes, bool(np.array_equal(content, right))) for codes, content in rebuilt(pair)]
        [(('not-selected-at-times',), True)]
    """
    every = np.stack(reads.images)
    at = np.flatnonzero(np.any(every != every[0], axis=0))
    if not FEWEST * len(every) <= len(at) <= MOST_PLACES:
        return
    for value in (0xFF, 0x00):
        content = _answered(every[:, at], np.uint8(value))
        if _in_all(every[:, at], content, np.full(len(at), value, np.uint8)):
            yield ("not-selected-at-times",), _with(every[0], at, content)
    if reads.gapless and _often_repeat(every, at):
        content = _settled(every, at)
        whole = _with(every[0], at, content)
        if _in_all(every[:, at], content, np.concatenate((whole[:1], whole[:-1]))[at]):
            yield ("previous-byte-repeated", "slow-outputs"), whole


def _often_repeat(every: Bytes, at: NDArray[np.int64]) -> bool:
    """Whether at most places one of the reads has the same byte as right before: a quick look."""
    inside = at[at > 0]
    same = np.any(every[:, inside] == every[:, inside - 1], axis=0)
    return int(np.count_nonzero(same)) * 2 > len(inside)


def _answered(seen: Bytes, value: np.uint8) -> Bytes:
    """Give what a read holds where it answered, at each place; of several answers the first that comes twice."""
    content = np.full(seen.shape[1], value, np.uint8)
    known = np.zeros(seen.shape[1], np.int64)
    for row in seen:
        votes = np.where(row == value, 0, (seen == row).sum(axis=0))
        content, known = np.where(votes > known, row, content), np.maximum(votes, known)
    return content


def _settled(every: Bytes, at: NDArray[np.int64]) -> Bytes:
    """Give what a read holds that is not the byte before, at each place."""
    content: list[int] = []
    place_before = -2
    before_all = every[0, np.maximum(at - 1, 0)].tolist()   # right where the reads agree there
    for place, before, seen in zip(at.tolist(), before_all, every[:, at].T.tolist(), strict=True):
        last = content[-1] if place == place_before + 1 else before
        new = [one for one in seen if one != last]
        content.append(max(new, key=new.count) if new else last)
        place_before = place
    return np.array(content, np.uint8)


def _in_all(seen: Bytes, content: Bytes, mark: Bytes) -> bool:
    """Whether nearly all that differs from the content bears the mark, and every read has its part of it."""
    ill = seen != content
    marked = (ill & (seen == mark)).sum(axis=1)
    return (
        int(marked.sum()) >= MARKED * int(ill.sum())
        and int(marked.min()) >= max(SHARED * int(marked.sum()) / len(seen), FEWEST)
    )  # fmt: skip


def _with(image: Bytes, at: NDArray[np.int64], content: Bytes) -> Bytes:
    made = image.copy()
    made[at] = content
    return made
