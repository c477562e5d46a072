"""The fill behind the used part of an image: what a blank chip holds there, or a program's own byte."""

from __future__ import annotations

from dataclasses import dataclass

#: Shorter runs of one byte are met in programs and tables. [byte]
SHORTEST = 16

#: So many bytes of vectors and check values may stand behind the fill. [byte]
BEHIND = 20

#: With less than this before the fill there is nothing to check. [byte]
LEAST_USED = 32

_PIECE = 1 << 16


@dataclass(frozen=True)
class FillRun:
    """The longest run of one byte that ends at the end of an image, or close to it.

    Attributes:
        start: Its first offset: so long is the used part. [byte]
        end: The first offset behind it. [byte]
        value: The byte.
    """

    start: int
    end: int
    value: int

    def share_of(self, start: int, length: int) -> int:
        """Count how many of the bytes from an offset on lie in it. [byte]"""
        return max(min(start + length, self.end) - max(start, self.start), 0)

    @property
    def says_before(self) -> str:
        """What a figure is of that stops where the fill begins."""
        return f", of the used part before the fill of {self.value:02X}"

    @property
    def says_left_out(self) -> str:
        """What a figure is of that steps over the fill."""
        return f", the fill of {self.value:02X} left out"


def find_fill(data: bytes) -> FillRun | None:
    r"""Find the fill, or None where the image is used to its end.

    Example:
        >>> find_fill(bytes(range(200)) + b"\xff" * 100 + b"\x12\x34")
        FillRun(start=200, end=300, value=255)
        >>> find_fill(bytes(range(256))) is None
        True
    """
    best: FillRun | None = None
    end = len(data)
    while end > len(data) - BEHIND - 1 and end > LEAST_USED:
        start = _run_start(data, end)
        if best is None or end - start > best.end - best.start:
            best = FillRun(start, end, data[end - 1])
        end = start
    return best if best and best.end - best.start >= SHORTEST and best.start >= LEAST_USED else None


def _run_start(data: bytes, end: int) -> int:
    """Find where the run of one byte begins that ends at an offset; in pieces, so that no copy of all is made."""
    value, at = data[end - 1 : end], end
    while at:
        piece = data[max(at - _PIECE, 0) : at]
        left = len(piece.rstrip(value))
        at -= len(piece) - left
        if left:
            break
    return at
