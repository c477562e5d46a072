"""What reads are held against: the image that most of them give, or what most give bit by bit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from imagekeeper.comparison.coding import noise_bits
from imagekeeper.comparison.pair import Bytes, ones
from imagekeeper.comparison.reads import Reads


@dataclass(frozen=True)
class Base:
    """What the reads are held against.

    Attributes:
        content: Its bytes.
        image: Which of the images it is; None where none of them is like it.
        name: What to call it.
        faults: The codes of the fault in all reads for which it was put together; none for what most reads give.
    """

    content: Bytes
    image: int | None
    name: str = "what most reads give"
    faults: tuple[str, ...] = ()


def by_vote(reads: Reads) -> Base:
    """Give the image that more than half of the reads give, or what most reads give bit by bit.

    Where that is further from the reads than one of the images is, that image. Of two images always the first: in which
    of them a cause lies, the cause itself says.

    Example:
        >>> one, other = np.array([1, 2], np.uint8), np.array([1, 3], np.uint8)
        >>> three = Reads(images=(one, other), numbers=((1,), (2, 3)), names=("a", "b"), volts=((None,), (None,)))
        >>> by_vote(three).image
        0
    """
    if len(reads.images) == 2:
        return Base(reads.images[0], 0)
    weights = [len(one) for one in reads.numbers]
    far = [   # bits to list, for each image, what all reads have otherwise
        sum(
            noise_bits(reads.size, ones(one ^ other)) * weight
            for other, weight in zip(reads.images, weights, strict=True)
        )
        for one in reads.images
    ]
    nearest = min(range(len(far)), key=far.__getitem__)
    if weights[nearest] * 2 > sum(weights):
        return Base(reads.images[nearest], nearest)
    voted = _majority(reads.images, weights, reads.images[nearest])
    same = next((i for i, one in enumerate(reads.images) if np.array_equal(one, voted)), None)
    if same is not None:
        return Base(voted, same)
    together = sum(
        noise_bits(reads.size, ones(voted ^ one)) * weight for one, weight in zip(reads.images, weights, strict=True)
    )
    return Base(voted, None) if together < far[nearest] else Base(reads.images[nearest], nearest)


def _majority(images: Sequence[Bytes], weights: Sequence[int], nearest: Bytes) -> Bytes:
    """Vote bit by bit; where the votes are equal, the nearest to all of them decides."""
    voted = nearest.copy()
    at = np.flatnonzero(np.bitwise_or.reduce(images) != np.bitwise_and.reduce(images))
    half = sum(weights) / 2
    votes = sum(
        np.unpackbits(image[at][:, None], axis=1).astype(np.float32) * weight
        for image, weight in zip(images, weights, strict=True)
    )
    own = np.unpackbits(nearest[at][:, None], axis=1)
    bits = np.where(votes == half, own, votes > half).astype(np.uint8)
    voted[at] = np.packbits(bits, axis=1)[:, 0]
    return voted
