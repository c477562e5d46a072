"""The bytes of one image, with what several rules need to know of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.containers.model import Image

Bytes = NDArray[np.uint8]

#: As many equal bytes in a row are fill, not content. [byte]
FILL_BYTES = 32

#: Properties of the whole are judged by at most so many bytes. [byte]
SAMPLE_BYTES = 1 << 20

#: Neighbours that differ by no more are near each other, as in a table of a curve.
NEAR = 8

_PRINTABLE = np.zeros(256, bool)
_PRINTABLE[0x20:0x7F] = True
_PRINTABLE[[0x09, 0x0A, 0x0D]] = True


@dataclass(frozen=True)
class Run:
    """One value many times over.

    Attributes:
        at: Offset of the first byte. [byte]
        length: How many. [byte]
        value: The value.
    """

    at: int
    length: int
    value: int


@dataclass(frozen=True)
class Content:
    """The bytes under inspection.

    Attributes:
        data: All bytes present, one after the other.
        places: For each stretch without a gap: the offset of its first byte in `data`, and its address.
    """

    data: Bytes
    places: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, image: Image) -> Content:
        """Take the bytes of an image, which must hold at least one.

        Example:
            >>> Content.of(Image.from_bytes(bytes(100) + b"AB", 0x2000)).runs
            (Run(at=0, length=100, value=0),)
        """
        places, offset = [], 0
        for segment in image.segments:
            places.append((offset, segment.start))
            offset += len(segment.data)
        return cls(np.frombuffer(image.tobytes(), np.uint8), tuple(places))

    @property
    def size(self) -> int:
        """How many bytes there are. [byte]"""
        return len(self.data)

    @property
    def start(self) -> int:
        """Address of the first byte. [byte]"""
        return self.places[0][1]

    @property
    def gapless(self) -> bool:
        """Whether all bytes stand at consecutive addresses."""
        return len(self.places) == 1

    def address_of(self, offset: int) -> int:
        """Give the address of the byte at an offset."""
        first, address = next(place for place in reversed(self.places) if place[0] <= offset)
        return address + offset - first

    @cached_property
    def counts(self) -> NDArray[np.int64]:
        """How often each value comes."""
        return counted(self.data)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """Every run of one value that is long enough to be fill, in order of addresses."""
        found = []
        for (first, _), end in zip(self.places, [p[0] for p in self.places[1:]] + [self.size], strict=True):
            begin = first
            for at in range(first, end, SAMPLE_BYTES):   # the edges of all at once would take eight times the memory
                before = max(at - 1, first)
                part = self.data[before : min(at + SAMPLE_BYTES, end)]
                changes = np.flatnonzero(part[1:] != part[:-1]) + before + 1
                last = np.array([end] if at + SAMPLE_BYTES >= end else [], changes.dtype)
                edges = np.concatenate(([begin], changes, last))
                lengths = np.diff(edges)
                found += [
                    Run(int(edges[i]), int(lengths[i]), int(self.data[int(edges[i])]))
                    for i in np.flatnonzero(lengths >= FILL_BYTES)
                ]
                begin = int(edges[-1])
        return tuple(found)

    @cached_property
    def rest(self) -> Bytes:
        """What is not fill."""
        if not self.runs:
            return self.data
        kept, at = [], 0
        for run in self.runs:
            kept.append(self.data[at : run.at])
            at = run.at + run.length
        return np.concatenate([*kept, self.data[at:]])

    @cached_property
    def rest_counts(self) -> NDArray[np.int64]:
        """How often each value comes outside of fill."""
        return counted(self.rest)

    @property
    def variety(self) -> int:
        """How many values there are outside of fill."""
        return int(np.count_nonzero(self.rest_counts))

    @cached_property
    def text_share(self) -> float:
        """How much of what is neither fill nor 00 is printable ASCII."""
        return text_share(self.rest_counts)

    @cached_property
    def smooth(self) -> bool:
        """Whether neighbours are near each other, as in tables of curves."""
        return is_smooth(self.rest[:SAMPLE_BYTES])

    @cached_property
    def wraps(self) -> int:
        """How many neighbours are near each other but for the seventh bit's worth: a curve whose D7 is missing."""
        steps = np.abs(np.diff(self.rest[:SAMPLE_BYTES].astype(np.int16)))
        return int(np.count_nonzero((steps > 128 - NEAR) & (steps < 128 + NEAR)))

    @cached_property
    def rowed(self) -> bool:
        """Whether blank rows come at fixed places of every 8 or 16 bytes, as in character generators and records."""
        part = self.rest[:SAMPLE_BYTES]
        part = part[: len(part) // 16 * 16]
        if len(part) < 256:
            return False
        for blank in (0x00, 0xFF):
            empty = part == blank
            if empty.mean() < 0.15:
                continue
            for rows in (8, 16):
                shares = empty.reshape(-1, rows).mean(axis=0)
                if shares.max() - shares.min() > 0.4:
                    return True
        return False


def counted(data: Bytes) -> NDArray[np.int64]:
    """Count each value, in pieces: a count over all at once would take eight times the memory."""
    total = np.zeros(256, np.int64)
    for at in range(0, len(data), SAMPLE_BYTES):
        total += np.bincount(data[at : at + SAMPLE_BYTES], minlength=256)
    return total


def entropy(counts: NDArray[Any]) -> float:
    """Tell how much each byte says, from how often each value comes. [bit/byte]

    Source: C. E. Shannon, "A mathematical theory of communication", Bell System Technical Journal 27, 1948, section 6.

    Example:
        >>> entropy(np.array([5, 0, 5])), entropy(np.ones(256)), entropy(np.array([7, 0]))
        (1.0, 8.0, 0.0)
    """
    some = counts[counts > 0] / max(counts.sum(), 1)
    return abs(round(float(-(some * np.log2(some)).sum()), 3))


def text_share(counts: NDArray[np.int64]) -> float:
    """Tell how much of what is not 00 is printable ASCII."""
    total = int(counts.sum() - counts[0])
    return float(counts[_PRINTABLE].sum() / total) if total else 0.0


def is_smooth(part: Bytes) -> bool:
    """Whether neighbours, or the bytes of one lane of 16-bit words, are near each other but not all the same.

    Example:
        >>> curve = np.round(127 + 120 * np.sin(np.arange(1024) / 40)).astype(np.uint8)
        >>> is_smooth(curve), is_smooth(np.random.default_rng(1).integers(0, 256, 1024, np.uint8))
        (True, False)
    """
    if len(part) < 32:
        return False
    for lane in (part, part[0::2], part[1::2]):
        steps = np.abs(np.diff(lane).astype(np.int8).astype(np.int16))
        if float((steps <= NEAR).mean()) > 0.8 and float((steps > 0).mean()) > 0.05:
            return True
    return False
