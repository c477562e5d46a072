"""The image block by block: how much each byte says, and what kind of content it may be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from imagekeeper.inspection.content import Bytes, Content, entropy, is_smooth, text_share
from imagekeeper.inspection.results import Block, BlockKind

#: The smallest block: fewer bytes say little of their kind. [byte]
SMALLEST = 256
#: An image has at most so many blocks.
MOST = 256

FILL = 0.98
SPARSE = 0.75
TEXT = 0.8


def block_bytes(size: int) -> int:
    """Choose the size of blocks: a power of two, at most `MOST` of them. [byte]

    Example:
        >>> block_bytes(2048), block_bytes(65536), block_bytes(65537), block_bytes(1 << 20)
        (256, 256, 512, 4096)
    """
    return max(SMALLEST, 1 << max(-(-size // MOST) - 1, 0).bit_length())


def blocks(content: Content) -> tuple[Block, ...]:
    """Describe each block; with gaps, a block is so many bytes present."""
    step = block_bytes(content.size)
    return tuple(_block(content, at, content.data[at : at + step]) for at in range(0, content.size, step))


def _block(content: Content, at: int, part: Bytes) -> Block:
    counts = np.bincount(part, minlength=256)
    common = int(np.argmax(counts))
    says = entropy(counts)
    return Block(
        start=content.address_of(at), length=len(part), kind=_kind(part, counts, says), entropy=says,
        distinct=int(np.count_nonzero(counts)), commonest=f"{common:02X}",
        commonest_share=round(int(counts[common]) / len(part), 3), text_share=round(text_share(counts), 3),
    )  # fmt: skip


def _kind(part: Bytes, counts: NDArray[np.int64], says: float) -> BlockKind:
    size = len(part)
    share = int(counts.max()) / size
    if share >= FILL:
        return "fill"
    filled = int(max(counts[0x00], counts[0xFF])) / size
    if text_share(counts) >= TEXT and counts[0] * 2 <= size:
        return "text"
    if filled >= SPARSE or share >= SPARSE:
        return "sparse"
    if is_smooth(part):
        return "table"
    # what uniformly random bytes would say in a block of this size (G. A. Miller, "Note on the bias of information
    # estimates", 1955, gives the correction)
    most = min(8.0, np.log2(size)) if size <= 256 else 8.0 - 255 / (2 * size * np.log(2))
    limit = 7.0 if size <= 256 else most - 0.1
    return "dense" if says >= limit else "varied"
