"""The bytes of an image as rows of hexadecimal digits and text, alone or against another image."""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.addresses import Doubt, joined
from imagekeeper.containers.model import Image, Segment

WIDTH = 16


@dataclass(frozen=True)
class HexdumpRow:
    """One row of a hexdump.

    Attributes:
        address: Address of the first column. [byte]
        cells: One a column: the byte, or None where the image holds nothing.
        doubtful: One a column: whether the byte's file speaks against it.
        other: The other image's cells where they differ from this one's, or None where there is no difference.
    """

    address: int
    cells: tuple[int | None, ...]
    doubtful: tuple[bool, ...]
    other: tuple[int | None, ...] | None = None

    @property
    def differs(self) -> tuple[bool, ...]:
        """One a column: whether the two images differ there."""
        if self.other is None:
            return (False,) * len(self.cells)
        return tuple(a != b for a, b in zip(self.cells, self.other, strict=True))


@dataclass(frozen=True)
class ListedRow:
    """One row for programs.

    Attributes:
        address: Address of the first column. [byte]
        bytes: Two upper-case digits a column, or two dashes where the image holds nothing, with blanks between.
        other: The same of the other image, or null where the two agree.
    """

    address: int
    bytes: str
    other: str | None


@dataclass(frozen=True)
class Hexdump:
    """A hexdump for programs.

    Attributes:
        rows: The rows that hold anything, ascending.
        differ: Whether any row differs from the other image; null where none was given.
        doubts: What the image's own file speaks against, ascending; of that, what concerns the rows or the whole file.
    """

    SCHEMA: ClassVar[Literal["hexdump/1"]] = "hexdump/1"

    rows: tuple[ListedRow, ...]
    differ: bool | None
    doubts: tuple[Doubt, ...] = ()

    @property
    def exit_code(self) -> int:
        """1 where something differs, else 0."""
        return 1 if self.differ else 0


def doubts_within(image: Image, start: int | None, length: int | None) -> tuple[Doubt, ...]:
    """Give the doubts of an image about a stretch of addresses, and those about its file as a whole.

    Example:
        >>> doubt = Doubt(start=8, length=4, code="record-sum", why="the sum is wrong")
        >>> image = Image(segments=(Segment(0, bytes(32)),), doubts=(doubt,))
        >>> [len(doubts_within(image, *part)) for part in ((None, None), (10, 2), (12, 4))]
        [1, 1, 0]
    """
    low = start or 0
    return tuple(
        doubt for doubt in image.doubts
        if not doubt.length or (doubt.start + doubt.length > low and (length is None or doubt.start < low + length))
    )  # fmt: skip


def listed(found: Iterable[HexdumpRow], *, against: bool, doubts: tuple[Doubt, ...] = ()) -> Hexdump:
    """Turn rows into the form for programs.

    Example:
        >>> listed(rows(Image.from_bytes(b"AB"), width=4), against=False).rows
        (ListedRow(address=0, bytes='41 42 -- --', other=None),)
    """

    def digits(cells: tuple[int | None, ...] | None) -> str | None:
        return None if cells is None else " ".join("--" if cell is None else f"{cell:02X}" for cell in cells)

    all_rows = tuple(ListedRow(row.address, digits(row.cells) or "", digits(row.other)) for row in found)
    return Hexdump(all_rows, any(row.other is not None for row in all_rows) if against else None, doubts)


class AddressedBytes:
    """Random access to an image's bytes by address, with gaps as None."""

    def __init__(self, image: Image) -> None:
        self._segments = image.segments
        self._at = 0

    def read(self, start: int, end: int) -> list[int | None]:
        """Give the bytes from `start` to before `end`.

        Example:
            >>> AddressedBytes(Image(segments=(Segment(2, b"AB"),))).read(0, 5)
            [None, None, 65, 66, None]
        """
        cells: list[int | None] = [None] * (end - start)
        for segment in self._near(start):
            if segment.start >= end:
                break
            low, high = max(start, segment.start), min(end, segment.end)
            cells[low - start : high - start] = segment.data[low - segment.start : high - segment.start]
        return cells

    def _near(self, start: int) -> Iterator[Segment]:
        if self._at < len(self._segments) and self._segments[self._at].start > start:
            self._at = 0
        while self._at < len(self._segments) and self._segments[self._at].end <= start:
            self._at += 1
        for place in range(self._at, len(self._segments)):   # a slice would copy all that follow, for every row
            yield self._segments[place]


def rows(
    image: Image,
    *,
    start: int | None = None,
    length: int | None = None,
    width: int = WIDTH,
    against: Image | None = None,
) -> Iterator[HexdumpRow]:
    """Walk an image in rows that begin at multiples of the width; rows that hold nothing are left out.

    Args:
        image: The image to show.
        start: First address, or None for the image's own.
        length: How many addresses, or None for all.
        width: Columns.
        against: A second image to mark differences to, laid at the same addresses.

    Example:
        >>> [row.address for row in rows(Image.from_bytes(bytes(40)), width=16)]
        [0, 16, 32]
    """
    images = [image] if against is None else [image, against]
    holding = [i for i in images if i.segments]
    low = start if start is not None else min((i.first_address for i in holding), default=0)
    high = max((i.end_address for i in holding), default=0)
    if length is not None:
        high = min(high, low + length)
    mine, other = AddressedBytes(image), AddressedBytes(against) if against else None
    doubts = deque(joined(image.doubts))
    for address in _row_addresses(images, low, high, width):
        first, last = max(address, low), min(address + width, high)
        cells = _padded(mine.read(first, last), address, first, width)
        shown = None
        if other is not None:
            theirs = _padded(other.read(first, last), address, first, width)
            shown = tuple(theirs) if theirs != cells else None
        if shown is None and not any(cell is not None for cell in cells):
            continue
        while doubts and doubts[0].end <= address:
            doubts.popleft()
        near = list(itertools.islice(doubts, width)) if doubts and doubts[0].start < address + width else []
        marks = tuple(any(span.start <= address + i < span.end for span in near) for i in range(width))
        yield HexdumpRow(address, tuple(cells), marks, shown)


def _row_addresses(images: list[Image], low: int, high: int, width: int) -> Iterator[int]:
    """Give the rows that hold a byte of any image, each once, ascending; gaps of any size cost nothing."""
    spans = sorted((s.start, s.end) for image in images for s in image.segments)
    done = -1
    for start, end in spans:
        first = max(start, low) // width * width
        for address in range(max(first, done), min(end, high), width):
            yield address
            done = address + width


def _padded(cells: list[int | None], address: int, first: int, width: int) -> list[int | None]:
    lead: list[int | None] = [None] * (first - address)
    return [*lead, *cells, *[None] * (width - len(lead) - len(cells))]


def text_of(cells: tuple[int | None, ...]) -> str:
    """Give the text column: printable ASCII as it is, other bytes as a middle dot, gaps as blanks.

    Example:
        >>> text_of((0x41, 0x00, None, 0x7E))
        'A· ~'
    """
    return "".join(" " if c is None else chr(c) if 0x20 <= c < 0x7F else "·" for c in cells)
