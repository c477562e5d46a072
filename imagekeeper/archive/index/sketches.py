"""The sketch of an image: a few numbers that stay mostly the same when the image changes a little, or is moved.

Every run of 32 bytes, wherever it begins, is hashed, and the smallest hashes are kept. Two images share about as many
of their smallest hashes as they share runs of bytes, and it does not matter where in the image a run stands. Runs of
one value are left out: fill tells nothing.

Source:
    Broder, On the resemblance and containment of documents, Proceedings of Compression and Complexity of Sequences,
    1997. The window and the number of hashes are our own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

Hashes = npt.NDArray[np.uint64]

#: The length of the runs. [byte]
WINDOW = 32

#: How many hashes make a sketch.
SIZE = 128

#: Images are hashed in pieces of this size, so that memory stays bounded. [byte]
_PIECE = 1 << 18

#: Up to this size all runs are compared, beyond it one in sixteen. [byte]
_ALL = 1 << 20

_MULTIPLIER = 0x9E3779B97F4A7C15
_MASK = (1 << 64) - 1


def sketch(data: bytes) -> bytes:
    """Give the smallest hashes of an image's runs, as 64-bit numbers, ascending; empty where it is all fill."""
    kept = np.empty(0, np.uint64)
    for hashes in _hashes(data):
        if len(kept) == SIZE:
            hashes = hashes[hashes < kept[-1]]
        elif len(hashes) > 4 * SIZE:   # there are enough below a bound that is easily found
            below = hashes[hashes <= np.partition(hashes, 4 * SIZE - 1)[4 * SIZE - 1]]
            few = len(np.unique(below)) < SIZE
            hashes = hashes if few else below
        kept = np.unique(np.concatenate([kept, hashes]))[:SIZE]
    return kept.astype("<u8").tobytes()


def runs(data: bytes, size: int) -> Hashes:
    """Give the hashes of an image's runs, ascending, each once.

    Args:
        data: The image.
        size: Of the larger of the images to be compared, which decides whether all runs are taken. [byte]
    """
    every = [h if size <= _ALL else h[h % np.uint64(16) == 0] for h in _hashes(data)]
    return np.unique(np.concatenate(every)) if every else np.empty(0, np.uint64)


def shared(one: Hashes, other: Hashes) -> float:
    """Tell which part of the first image's runs the second has, from 0 to 1."""
    return float(_known(one, other).mean()) if len(one) else 0.0


def counts(query: bytes, sketches: list[bytes]) -> list[int]:
    """Count for many sketches how many hashes each shares with one."""
    wanted = np.frombuffer(query, "<u8")
    lengths = np.array([len(one) // 8 for one in sketches])
    if not len(wanted) or not lengths.all():
        return [0] * len(sketches)
    hit = _known(np.frombuffer(b"".join(sketches), "<u8"), wanted)
    begins = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    return [int(n) for n in np.add.reduceat(hit, begins, dtype=np.int64)]


def estimated(one: bytes, other: bytes) -> float:
    """Estimate from two sketches which part of either image's runs the other has, whichever part is larger.

    Both are compared up to the smaller of their largest hashes: beyond it one of the sketches says nothing.
    """
    a, b = np.frombuffer(one, "<u8"), np.frombuffer(other, "<u8")
    bounds = [int(hashes[-1]) for hashes in (a, b) if len(hashes) == SIZE]
    bound = np.uint64(min(bounds, default=_MASK))
    a, b = a[a <= bound], b[b <= bound]
    common = int(_known(a, b).sum())
    return common / max(min(len(a), len(b)), 1)


def _known(hashes: Hashes, among: Hashes) -> npt.NDArray[np.bool_]:
    if not len(among):
        return np.zeros(len(hashes), bool)
    at = np.minimum(np.searchsorted(among, hashes), len(among) - 1)
    return np.asarray(among[at] == hashes)


def _hashes(data: bytes) -> Iterator[Hashes]:
    """Hash every run of `WINDOW` bytes that is not of one value, in pieces.

    The hash of a run is put together from those of its halves, so that 32 bytes take 5 steps.
    """
    for start in range(0, max(len(data) - WINDOW + 1, 0), _PIECE):
        piece = np.frombuffer(data, np.uint8, min(_PIECE + WINDOW - 1, len(data) - start), start)
        hashes = _VALUES[piece]
        for step in range(int(math.log2(WINDOW))):
            width = 1 << step
            factor = np.uint64(pow(_MULTIPLIER, width, 1 << 64))
            hashes = hashes[:-width] * factor + hashes[width:]
        hashes = hashes[~_single(piece)]
        hashes ^= hashes >> np.uint64(29)
        hashes *= np.uint64(0xBF58476D1CE4E5B9)
        hashes ^= hashes >> np.uint64(32)
        yield hashes


def _single(piece: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
    """Tell for every run of `WINDOW` bytes whether all of them are equal."""
    changes = np.concatenate([[0], np.cumsum(piece[1:] != piece[:-1], dtype=np.int32)])
    return np.asarray(changes[WINDOW - 1 :] == changes[: len(changes) - WINDOW + 1])


def _value_table() -> Hashes:
    """Give each byte value a number with random-looking bits, by the finalising step of a well-mixed counter."""
    values = []
    for byte in range(256):
        x = (byte + 1) * _MULTIPLIER & _MASK
        x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9 & _MASK
        x = (x ^ (x >> 27)) * 0x94D049BB133111EB & _MASK
        values.append(x ^ (x >> 31))
    return np.array(values, np.uint64)


_VALUES = _value_table()
