"""How many bits it takes to describe one read when the other is known: the measure by which explanations are ranked.

An explanation of the differences is a rule with some parameters, and a list of what the rule gets wrong. The best one
describes the second read most briefly (the principle of minimum description length: J. Rissanen, "Modeling by shortest
data description", Automatica 14, 1978). A rule that needs many exceptions loses to one that needs few; a rule with many
parameters loses to a simple one that says the same.
"""

from __future__ import annotations

import math
import zlib

import numpy as np
from numpy.typing import NDArray

#: Larger reads are judged by parts of this total size. [byte]
CONTENT_LIMIT = 4 << 20


def choice_bits(choices: float) -> float:
    """Bits to name one of a number of equally likely choices.

    Example:
        >>> choice_bits(8)
        3.0
    """
    return math.log2(max(choices, 1))


def subset_bits(size: int, chosen: int) -> float:
    """Bits to say how many of `size` things are chosen, and which.

    Example:
        >>> round(subset_bits(8, 1), 2), subset_bits(0, 0)
        (6.17, 0.0)
    """
    if size <= 0 or not 0 <= chosen <= size:
        return 0.0
    ways = math.lgamma(size + 1) - math.lgamma(chosen + 1) - math.lgamma(size - chosen + 1)
    return choice_bits(size + 1) + ways / math.log(2)


def open_places(found: int, hit: int, size: int) -> int:
    """Give the places among which some that were hit are to be named.

    Where a fault can show is counted in a read, and every wrong bit of that read may look like such a place: if most of
    them are those that were hit, nothing was told but where the reads differ, and they are named among all.

    Example:
        >>> open_places(1000, 20, 4096), open_places(24, 20, 4096)
        (1000, 4096)
    """
    return found if hit * 2 <= found else max(size, found)


def noise_bits(size_bytes: int, flips: int) -> float:
    """Bits to describe that `flips` bits anywhere in `size_bytes` bytes are wrong.

    Example:
        >>> noise_bits(1024, 0) < noise_bits(1024, 3) < noise_bits(1024, 30)
        True
    """
    if flips > size_bytes:   # with a bit in eight wrong it is no noise any more
        return choice_bits(8 * size_bytes + 1) + 8.0 * size_bytes + 64
    return subset_bits(8 * size_bytes, flips)


def content_bits(data: bytes) -> float:
    """Estimate the bits that a read takes by itself: by compression.

    Two descriptions are compared only as a whole, "this read, and how the other follows from it": otherwise a rule
    that says how the information in one read was lost would always look short.

    Example:
        >>> content_bits(bytes(4096)) < content_bits(bytes(range(256)) * 16) < content_bits(b"")  + 8 * 4096
        True
    """
    if len(data) <= CONTENT_LIMIT:
        return 8.0 * len(zlib.compress(data, 1))
    step = len(data) // 8
    parts = b"".join(data[at : at + CONTENT_LIMIT // 8] for at in range(0, step * 8, step))
    return 8.0 * len(zlib.compress(parts, 1)) * len(data) / len(parts)


def strange_bits(data: NDArray[np.uint8], known: NDArray[np.int64]) -> float:
    """Estimate the bits that bytes take as content: by how often each value stands elsewhere, or by themselves.

    Args:
        data: Some bytes.
        known: How often each of the 256 values stands in content that is known.

    Example:
        >>> text = np.frombuffer(b"the tide is in, the tide is out; " * 40, np.uint8)
        >>> counts = np.bincount(text, minlength=256)
        >>> noise = np.random.default_rng(1).integers(0, 256, 200).astype(np.uint8)
        >>> strange_bits(text[:200], counts) < 1000 < 8 * 200 < strange_bits(noise, counts)
        True
    """
    share = (known + 0.5) / (float(known.sum()) + 128)
    counts = np.bincount(data, minlength=256)
    alone = math.lgamma(len(data) + 128) - math.lgamma(128)   # Krichevsky and Trofimov's estimate, value by value
    alone -= sum(math.lgamma(int(one) + 0.5) - math.lgamma(0.5) for one in counts[counts > 0])
    return min(float(-(counts * np.log2(share)).sum()), alone / math.log(2))


def permutation_bits(lines: int, moved: int) -> float:
    """Bits to name a permutation that moves `moved` of `lines` lines.

    Example:
        >>> round(permutation_bits(8, 2), 2), round(permutation_bits(8, 0), 2)
        (8.98, 3.17)
    """
    ways = math.lgamma(lines + 1) - math.lgamma(lines - moved + 1)
    return choice_bits(lines + 1) + ways / math.log(2)
