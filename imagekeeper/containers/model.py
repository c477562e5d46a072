"""The image: bytes at addresses, with its gaps and doubts kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, SupportsIndex, overload

from imagekeeper.addresses import Doubt, Span
from imagekeeper.containers.manner import Repeats
from imagekeeper.containers.parity import Parity
from imagekeeper.errors import InternalError

#: Segments are walked in pieces of this size, so that memory stays bounded whatever the image's size. [byte]
PIECE_BYTES = 1 << 20


class Data(Protocol):
    """Bytes that may lie in memory or in a file: `bytes` is one, a window on an open file another."""

    def __len__(self) -> int:
        """Count the bytes."""
        ...

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        """Give some of the bytes as `bytes`, or one as a number."""
        ...


class DataWindow:
    """Part of some data, as data of its own; nothing is copied.

    Args:
        data: The whole.
        start: Where the part begins. [byte]
        length: How much of it. [byte]

    Example:
        >>> DataWindow(b"TIDE GAUGE", 5, 5)[1:3]
        b'AU'
    """

    def __init__(self, data: Data, start: int, length: int) -> None:
        self._data = data
        self._range = range(start, start + length)

    def __len__(self) -> int:
        return len(self._range)

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        part = self._range[index]
        return self._data[part.start : part.stop : part.step] if isinstance(part, range) else self._data[part]


@dataclass(frozen=True)
class Segment:
    """Bytes at consecutive addresses.

    Attributes:
        start: Address of the first byte. [byte]
        data: The bytes.
    """

    start: int
    data: Data

    @property
    def end(self) -> int:
        """The first address after the segment."""
        return self.start + len(self.data)


@dataclass(frozen=True, kw_only=True)
class Image:
    """What a file stands for once its container is decoded.

    Attributes:
        segments: Bytes at addresses, ascending, apart from each other by at least one address.
        doubts: Bytes that the file itself speaks against, ascending.
        container: The kind of file it came from: `raw`, `intel-hex`, ...
        wrapped_in: What lay around that, outermost first: `gzip`, `zip`, `zip+gzip`; None for nothing.
        addressed: Whether the file stated the addresses; a raw file does not, its first byte is put at 0.
        entry: The start address that the file gives for execution, or None.
        title: A header text that the file carries, or None.
        parity: The parity that its characters carried in bit 7, which was taken away, or None.
        repeats: How addresses were settled that came several times, where that was chosen and there were some.

    Example:
        >>> image = Image(segments=(Segment(0x100, b"AB"), Segment(0x104, b"C")), container="intel-hex", addressed=True)
        >>> image.size_bytes, image.span_bytes, image.gaps
        (3, 5, (Span(start=258, length=2),))
    """

    segments: tuple[Segment, ...]
    doubts: tuple[Doubt, ...] = ()
    container: str = "raw"
    wrapped_in: str | None = None
    addressed: bool = False
    entry: int | None = None
    title: str | None = field(default=None, compare=False)
    parity: Parity | None = None
    repeats: Repeats | None = None

    def __post_init__(self) -> None:
        end = -1
        for segment in self.segments:
            if segment.start <= end or not len(segment.data):
                raise InternalError("internal/segments", start=segment.start)
            end = segment.end

    @classmethod
    def from_bytes(cls, data: Data, start: int = 0) -> Image:
        """Make an image without gaps or doubts."""
        return cls(segments=(Segment(start, data),) if len(data) else ())

    @property
    def size_bytes(self) -> int:
        """How many bytes are present; gaps do not count. [byte]"""
        return sum(len(segment.data) for segment in self.segments)

    @property
    def first_address(self) -> int:
        """The lowest address that holds a byte; 0 for an empty image. [byte]"""
        return self.segments[0].start if self.segments else 0

    @property
    def end_address(self) -> int:
        """The first address after the last byte. [byte]"""
        return self.segments[-1].end if self.segments else 0

    @property
    def span_bytes(self) -> int:
        """From the first to the last address, gaps included. [byte]"""
        return self.end_address - self.first_address

    @property
    def gaps(self) -> tuple[Span, ...]:
        """The addresses between segments that the file says nothing about."""
        pairs = zip(self.segments, self.segments[1:], strict=False)
        return tuple(Span(a.end, b.start - a.end) for a, b in pairs)

    def pieces(self, size: int = PIECE_BYTES) -> Iterator[tuple[int, bytes]]:
        """Walk the bytes in address order: (address, bytes) in pieces of at most `size`."""
        for segment in self.segments:
            for offset in range(0, len(segment.data), size):
                yield segment.start + offset, segment.data[offset : offset + size]

    def tobytes(self) -> bytes:
        """Give all bytes present, one after the other; gaps contribute nothing."""
        return b"".join(piece for _, piece in self.pieces())

    def filled(self, fill: int) -> Image:
        r"""Close the gaps with one byte value; a doubt is recorded nowhere, the caller asked for it.

        Args:
            fill: The value, 0 to 255.

        Example:
            >>> Image(segments=(Segment(0, b"A"), Segment(3, b"B"))).filled(0xFF).tobytes()
            b'A\xff\xffB'
        """
        if len(self.segments) < 2:
            return self
        whole = bytearray()
        for segment in self.segments:
            whole += bytes([fill]) * (segment.start - self.first_address - len(whole))
            whole += segment.data[:]
        return replace(self, segments=(Segment(self.first_address, bytes(whole)),))

    def moved(self, start: int) -> Image:
        """Shift all addresses so that the first byte lies at `start`."""
        by = start - self.first_address
        return replace(
            self,
            segments=tuple(Segment(s.start + by, s.data) for s in self.segments),
            doubts=tuple(replace(d, start=d.start + by) if d.length else d for d in self.doubts),
            addressed=True,
        )
