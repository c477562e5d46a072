"""Address lines that do nothing: an image that repeats itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np

from imagekeeper.errors import Where
from imagekeeper.findings import Finding, Severity
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.glance import LOW_LINE
from imagekeeper.inspection.naming import PinNames
from imagekeeper.sentences.say import Phrase

#: The smallest chip of the table holds so many bytes: shorter periods are patterns, not chips. [byte]
SMALLEST_CHIP = 32

#: What it takes at least for a repetition to mean something: so many bytes other than the commonest, so many of them
#: different from each other.
TELLING_BYTES = 16
TELLING_VARIETY = 8


def period(content: Content) -> int:
    """Find the smallest size of which the image is copies, halving again and again. [byte]

    Example:
        >>> from imagekeeper.containers.model import Image
        >>> period(Content.of(Image.from_bytes(bytes(range(64)) * 8)))
        64
    """
    size = content.size
    while size % 2 == 0 and np.array_equal(content.data[: size // 2], content.data[size // 2 : size]):
        size //= 2
    return size


def mirrored(content: Content, bench: PinNames) -> Iterator[Finding]:
    """The image is a shorter one several times over: a chip smaller than the reader was told, or upper lines open.

    Also legitimate: a small program written several times to fill a larger chip. Common practice, no source.
    """
    size = period(content)
    if size == content.size or not content.gapless or content.variety < 2:
        return
    times = content.size // size
    first, last = size.bit_length() - 1, content.size.bit_length() - 2
    lines = [f"A{k}" for k in range(first, last + 1)]
    named: Phrase | str = lines[0]
    if len(lines) > 1:
        named = Phrase("mirrored/lines", first=lines[0], last=lines[-1])
    power = size & (size - 1) == 0
    if not power:
        lines, named = [], Phrase("mirrored/upper-lines")
    if size < SMALLEST_CHIP:
        yield bench.finding(
            "mirrored/pattern", "warning", 0.5, whole=content.size, detail={"times": times, "size_bytes": size},
        )  # fmt: skip
        return
    chip = bench.chip
    sure = 0.95 if content.variety >= TELLING_VARIETY else 0.6
    where, detail = Where(address=content.start, length=size), {"times": times, "size_bytes": size}
    if chip is not None and content.size > chip.file_bytes == size:
        yield bench.finding(
            "mirrored/smaller-chip", "warning", sure, lines=lines, where=where, named=named, chip=chip.id,
            detail=detail,
        )  # fmt: skip
    elif chip is not None and content.size == chip.file_bytes and lines:
        yield bench.finding(
            "mirrored/contact", "warning", sure, lines=lines, where=where, named=named, chip=chip.id,
            suspect=bench[lines[0]], above=Phrase("mirrored/lines-above") if len(lines) > 1 else "", detail=detail,
        )  # fmt: skip
    elif chip is not None and content.size == chip.file_bytes:
        yield bench.finding("mirrored/contacts", "warning", sure, where=where, named=named, detail=detail)
    else:
        yield bench.finding("mirrored", "warning", sure, lines=lines, where=where, named=named, detail=detail)


def stuck(content: Content, bench: PinNames) -> Iterator[Finding]:
    """A line below the mirrored ones does nothing: the bytes where it is 0 come again where it is 1.

    Source: Intel, Embedded Design Handbook (683689), section on memory testing: with A1 stuck low, location 2 and
    location 0 are one cell.
    """
    if not content.gapless:
        return
    size = period(content)
    data = content.data[:size]
    line, low = 0, 0
    while size % (2 << line) == 0 and (2 << line) < size:
        cube = data.reshape(-1, 2, 1 << line)
        if content.start % (2 << line) == 0 and _same(cube):
            informative = cube[:, 0][cube[:, 0] != int(np.argmax(content.counts))]
            variety = len(np.unique(informative))
            if len(informative) >= TELLING_BYTES and variety >= TELLING_VARIETY:
                low += line <= LOW_LINE
                meant = _drawn(content, line) or (line <= LOW_LINE and low > 1)
                sure = variety >= 2 * TELLING_VARIETY and not meant
                yield bench.finding(
                    "address-line-stuck/image", "fault" if sure else "warning", 0.97 if sure else 0.5,
                    lines=[f"A{line}"],
                    detail={"line": f"A{line}", "distance_bytes": 1 << line, "informative": len(informative)},
                )  # fmt: skip
        line += 1


def shorted(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Two lines are tied together, so that a chip sees the AND, or the OR, of the two on both.

    Of the four quarters that the two lines choose, those where they differ are then the one where both are 0, or the
    one where both are 1; their own content is missing. Common practice, no source.
    """
    size = period(content)
    if not content.gapless or size < 4 * SMALLEST_CHIP or size & (size - 1) or content.start % size:
        return
    data, common = content.data[:size], int(np.argmax(content.counts))
    width = size.bit_length() - 1
    found = []
    for low in range(width - 1):
        for high in range(low + 1, width):
            quarters = data.reshape(-1, 2, 1 << (high - low - 1), 2, 1 << low)
            wired = _wired(quarters)
            if wired is None:
                continue
            met = quarters[:, 0, :, 1]
            informative = met[met != common]
            variety = len(np.unique(informative))
            if len(informative) >= TELLING_BYTES and variety >= TELLING_VARIETY:
                found.append((low, high, wired, len(informative), variety))
    for low, high, wired, informative_bytes, variety in found:
        pattern = len(found) > 1 or content.rowed or content.smooth
        meant = pattern or high <= LOW_LINE or low == width - 2   # such quarters may have been written so
        sure = variety >= 2 * TELLING_VARIETY and not meant
        severity: Severity = "fault" if sure else "note" if pattern and low <= LOW_LINE else "warning"
        lines = [f"A{low}", f"A{high}"]
        yield bench.finding(
            "address-lines-shorted", severity, 0.97 if sure else 0.5, lines=lines,
            kind=Phrase("address-lines-shorted/and" if wired == "and" else "address-lines-shorted/or"),
            seen=0 if wired == "and" else 1,
            detail={"line_pair": lines, "wired": wired, "informative": informative_bytes},
        )  # fmt: skip


def _wired(quarters: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> Literal["and", "or"] | None:
    """Whether the quarters where two lines differ are equal, and equal to one of the others but not to both."""
    for part in (quarters[:: max(len(quarters) // 64, 1), :, :: max(quarters.shape[2] // 64, 1)], quarters):
        one, other = part[:, 0, :, 1], part[:, 1, :, 0]
        if not np.array_equal(one, other):
            return None
        low, high = np.array_equal(one, part[:, 0, :, 0]), np.array_equal(one, part[:, 1, :, 1])
        if not low and not high:
            return None
    return None if low and high else "and" if low else "or"


def _same(cube: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> bool:
    quick = cube[:: max(len(cube) // 256, 1)]
    return np.array_equal(quick[:, 0], quick[:, 1]) and np.array_equal(cube[:, 0], cube[:, 1])


def _drawn(content: Content, line: int) -> bool:
    """Whether the repetition may be meant: rows of dots drawn twice as high, or steps of a curve held twice."""
    return line < 2 and (content.rowed or content.smooth)
