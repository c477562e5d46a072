"""Evidence from what was never written: where the fill of formatting begins and ends.

Rule: formatting fills whole sectors with one byte, and what is written later replaces whole sectors, so that the
edges of the fill lie on sectors; on disks that are written from the first track on, the end lies near a track. E5 and
40 are the fill of the examples in Western Digital, FD 179X-02 data sheet, May 1980; F6 that of the PC: interrupt
list, Table 1264; 00, 4E and FF are common practice, no source. An edge within a sector speaks against it only a
little: systems that collect small records in a larger sector leave one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from imagekeeper.geometry.proposals import Proposal
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural

FILLS = (0xE5, 0xF6, 0x40, 0x4E, 0x00, 0xFF)

#: Fill is looked for in cells of this size. [byte]
CELL = 128

#: Where these are the fill, a file's last sector may end in them too, so that only the ends of runs count.
_PADDING = (0x00, 0xFF)

#: Shorter runs of these stand in programs and tables too. Common practice, no source. [byte]
_LONG = 1024


@dataclass(frozen=True)
class Blanks:
    """The fill of a disk.

    Attributes:
        fill: The byte.
        edges: Where fill meets content. [byte]
        last: Where the fill begins that reaches to the end, or None where the end is content. [byte]
        size: Of the image. [byte]
    """

    fill: int
    edges: tuple[int, ...]
    last: int | None
    size: int


def blanks(data: bytes) -> Blanks | None:
    r"""Find the fill: the byte of `FILLS` that fills most cells, or None where none fills any.

    Example:
        >>> found = blanks(b"tide" * 128 + b"\xe5" * 1024)
        >>> hex(found.fill), found.edges, found.last
        ('0xe5', (512,), 512)
    """
    cells = {byte: bytes([byte]) * CELL for byte in FILLS}
    uniform: dict[int, list[int]] = {byte: [] for byte in FILLS}
    for at in range(0, len(data) - CELL + 1, CELL):
        byte = data[at]
        if byte in cells and data[at : at + CELL] == cells[byte]:
            uniform[byte].append(at)
    fill = max(FILLS, key=lambda byte: len(uniform[byte]))
    if not uniform[fill]:
        return None
    runs: list[list[int]] = []
    for at in uniform[fill]:
        if runs and runs[-1][1] == at:
            runs[-1][1] = at + CELL
        else:
            runs.append([at, at + CELL])
    edges: list[int] = []
    last = None
    for begin, end in runs:
        first, stop = _backward(data, begin, fill), _forward(data, end, fill)
        if first > 0 and fill not in _PADDING:
            edges.append(first)
        if stop == len(data):
            last = first
        elif fill not in _PADDING or stop - first >= _LONG:
            edges.append(stop)
    return Blanks(fill, tuple(edges), last, len(data))


def _forward(data: bytes, at: int, fill: int) -> int:
    while at < len(data) and data[at] == fill:
        at += 1
    return at


def _backward(data: bytes, at: int, fill: int) -> int:
    while at > 0 and data[at - 1] == fill:
        at -= 1
    return at


def weigh(one: Proposal, found: Blanks | None) -> Iterator[Evidence]:
    """Weigh the edges of the fill against sectors and tracks."""
    if found is None or not found.edges or one.shape.first_track is not None:
        return
    size = one.shape.sector_bytes
    off = sum((edge - one.start) % size != 0 for edge in found.edges)
    count = len(found.edges)
    # the last byte of content is now and then the fill itself
    if off * 8 > count:
        says = f"{off} of {plural(count, 'edge')} of the fill {found.fill:02X} lie within a sector of {size} bytes"
        yield Evidence(says, -min(0.5 * off, 2.5))
    elif count >= 3 and (levels := _coarser(found.edges, one.start, size)):
        yield Evidence(
            f"all {count} edges of the fill {found.fill:02X} lie on multiples of {size << levels} bytes, as of larger "
            f"sectors than {size}", -min(0.2 * levels * count, 2.5),
        )  # fmt: skip
    else:
        says = (
            f"{count - off} of {plural(count, 'edge')} of the fill {found.fill:02X} lies on the edge of a sector of "
            f"{size} bytes"
        )
        yield Evidence(says, min(0.1 * (count - off), 1.0))
    if found.last is not None and found.last > one.start and (found.last - one.start) % one.shape.track_bytes == 0:
        number = (found.last - one.start) // one.shape.track_bytes
        yield Evidence(f"the blank area begins with track {number} of the file", 0.5)


def outside(found: Blanks | None, start: int, end: int) -> Blanks | None:
    """Leave out the edges within a piece of the image whose free places are filled one by one, as a directory's."""
    return found and replace(found, edges=tuple(edge for edge in found.edges if not start <= edge <= end))


def _coarser(edges: tuple[int, ...], start: int, size: int) -> int:
    """How many times a sector size could be doubled, up to 1024, with every edge still on a sector."""
    levels = 0
    while size << levels < 1024 and all((edge - start) % (size << levels + 1) == 0 for edge in edges):
        levels += 1
    return levels


def all_fill(data: bytes) -> int | None:
    """Give the byte where the whole image is one, else None."""
    return data[0] if data and data == data[:1] * len(data) else None
