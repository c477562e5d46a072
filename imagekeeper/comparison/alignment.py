"""Lay reads side by side: which address of one belongs to which address of another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from imagekeeper.addresses import Span
from imagekeeper.containers.model import PIECE_BYTES, Image, Segment
from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.units import range_text


@dataclass(frozen=True)
class Alignment:
    """Reads laid at common addresses.

    Attributes:
        images: The reads, shifted where that was needed.
        common: Addresses that every read holds, ascending.
        findings: What was shifted, and why.
    """

    images: tuple[Image, ...]
    common: tuple[Span, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def congruent(self) -> bool:
        """Whether all reads hold exactly the same addresses."""
        shape = [(s.start, len(s.data)) for s in self.images[0].segments]
        return all([(s.start, len(s.data)) for s in i.segments] == shape for i in self.images)

    def blocks(self, size: int = PIECE_BYTES) -> Iterator[tuple[int, tuple[bytes, ...]]]:
        """Walk the common addresses in pieces of at most `size`: (address, one piece of bytes a read)."""
        walkers = [_Walker(image) for image in self.images]
        for span in self.common:
            for start in range(span.start, span.end, size):
                end = min(start + size, span.end)
                yield start, tuple(walker.read(start, end) for walker in walkers)


class _Walker:
    """Reads spans that lie within one segment each, in ascending order."""

    def __init__(self, image: Image) -> None:
        self._segments = iter(image.segments)
        self._now = next(self._segments)

    def read(self, start: int, end: int) -> bytes:
        while self._now.end < end:
            self._now = next(self._segments)
        return self._now.data[start - self._now.start : end - self._now.start]


def align(images: Sequence[Image], names: Sequence[str]) -> Alignment:
    """Lay reads at common addresses.

    A file that states no addresses (raw, some listings) starts at 0 only for want of anything better: it is laid at
    the first address of the first read that states them. Reads that state addresses keep them, unless they have
    none in common with the first: then they are laid at its start, and a finding says so.

    Example:
        >>> a = Image(segments=(Segment(0xF000, b"abc"),), addressed=True)
        >>> align([a, Image.from_bytes(b"abd")], ["a", "b"]).common
        (Span(start=61440, length=3),)
    """
    anchor = next((image for image in images if image.addressed), images[0])
    laid, findings = [], []
    for image, name in zip(images, names, strict=True):
        if not image.addressed and image.first_address != anchor.first_address:
            laid.append(replace(image.moved(anchor.first_address), addressed=False))
            findings.append(_moved(name, image, anchor, "states no addresses"))
        elif image.addressed and not _shared(_spans(image), _spans(anchor)):
            laid.append(image.moved(anchor.first_address))
            findings.append(_moved(name, image, anchor, "has no address in common with the first read"))
        else:
            laid.append(image)
    common = _spans(laid[0])
    for image in laid[1:]:
        common = _shared(common, _spans(image))
    return Alignment(tuple(laid), tuple(common), tuple(findings))


def _moved(name: str, image: Image, anchor: Image, because: str) -> Finding:
    return Finding(
        "addresses-moved", "note", 1.0, Where(file=name, address=image.first_address),
        f"{name} {because}; its first byte, at {image.first_address:04X}, was laid at {anchor.first_address:04X}",
        "if that is not where it belongs, convert it first and give its base address",
        {"by": anchor.first_address - image.first_address},
    )  # fmt: skip


def _spans(image: Image) -> list[Span]:
    return [Span(segment.start, len(segment.data)) for segment in image.segments]


def _shared(a: list[Span], b: list[Span]) -> list[Span]:
    """Intersect two ascending lists of spans."""
    shared: list[Span] = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i].start, b[j].start), min(a[i].end, b[j].end)
        if start < end:
            shared.append(Span(start, end - start))
        if a[i].end <= b[j].end:
            i += 1
        else:
            j += 1
    return shared


def missing_from(image: Image, common: Sequence[Span]) -> tuple[Span, ...]:
    """Give the addresses that an image holds beyond the common ones.

    Example:
        >>> missing_from(Image.from_bytes(bytes(10)), [Span(2, 3)])
        (Span(start=0, length=2), Span(start=5, length=5))
    """
    rest: list[Span] = []
    for segment in image.segments:
        at = segment.start
        for span in common:
            if span.end <= at or span.start >= segment.end:
                continue
            if span.start > at:
                rest.append(Span(at, span.start - at))
            at = span.end
        if at < segment.end:
            rest.append(Span(at, segment.end - at))
    return tuple(rest)


def in_words(spans: Sequence[Span], digits: int) -> str:
    """List the first few spans."""
    shown = ", ".join(range_text(s.start, s.length, digits) for s in spans[:4])
    return shown + (f" and {len(spans) - 4} more ranges" if len(spans) > 4 else "")


__all__ = ["Alignment", "Segment", "align", "in_words", "missing_from"]
