"""Evidence from where the last sector of a file ends, on disks of 8-bit machines: the size of a sector.

Rule: an entry counts records of 128 bytes, and a file's last sector is written whole: what stands behind its last
record goes on to the end of that sector, and behind it the fill of formatting is left. Blocks lie one behind the other
from the beginning of the directory. Source: common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.geometry.directory import ENTRY, RECORD, Directory, in_use
from imagekeeper.geometry.proposals import Proposal
from imagekeeper.ranked import Evidence

_FILL = 0xE5
_BLOCKS = (1024, 2048, 4096)
_SECTORS = (128, 256, 512, 1024)

#: So many entries are looked at: no floppy disk of the period has as many files.
_MOST_ENTRIES = 1024

#: One file that ends elsewhere may have been written over old data.
_AGAINST, _MOST = -0.8, -4.0


@dataclass(frozen=True)
class FileEnd:
    """The end of one file.

    Attributes:
        block: Where its last block begins. [byte]
        block_bytes: [byte]
        records_end: How much of the block its records fill. [byte]
        fill_begins: From where on the block holds nothing but fill. [byte]
    """

    block: int
    block_bytes: int
    records_end: int
    fill_begins: int

    def fits(self, sector_bytes: int) -> bool:
        """Whether a last sector of this size would end where the fill begins.

        Example:
            >>> end = FileEnd(block=6656, block_bytes=1024, records_end=128, fill_begins=512)
            >>> [size for size in (128, 256, 512, 1024) if end.fits(size)]
            [512]
        """
        return self.fill_begins == min(-(-self.records_end // sector_bytes) * sector_bytes, self.block_bytes)


def file_ends(data: bytes, found: Directory | None) -> tuple[FileEnd, ...]:
    """Find where files end, where the blocks of a disk follow each other without a skew.

    Args:
        data: The image.
        found: Its directory.
    """
    if found is None or any(b - a != RECORD for a, b in zip(found.records, found.records[1:], strict=False)):
        return ()
    entries = [
        data[at : at + ENTRY] for record in found.records for at in range(record, record + RECORD, ENTRY)
        if in_use(data[at : at + ENTRY])
    ][:_MOST_ENTRIES]  # fmt: skip
    best: tuple[FileEnd, ...] = ()
    for block in _BLOCKS:
        for width in (1, 2):
            ends = tuple(_ends(data, found.start, entries, block, width))
            best = max(best, ends, key=len)
    return best if 3 * len(best) >= len(entries) else ()


def _ends(data: bytes, start: int, entries: list[bytes], block: int, width: int) -> Iterator[FileEnd]:
    per_block = block // RECORD
    for raw in entries:
        numbers = [int.from_bytes(raw[at : at + width], "little") for at in range(16, 32, width)]
        named = [number for number in numbers if number]
        if not named or raw[15] == 0:
            continue
        records = raw[15] + (raw[12] * 128 if len(named) * per_block > 128 else 0)
        at = start + named[-1] * block
        if -(-records // per_block) != len(named) or at + block > len(data):
            continue   # the counts need other blocks than are named
        last = (records - 1) % per_block + 1
        written = len(data[at : at + block].rstrip(bytes([_FILL])))
        yield FileEnd(at, block, last * RECORD, max(written, last * RECORD))


@dataclass(frozen=True)
class EndsBySize:
    """How many files tell of sectors, and of each size how many do not fit it."""

    told: int
    off: dict[int, int]


def by_size(ends: tuple[FileEnd, ...]) -> EndsBySize:
    """Count once for all shapes.

    Example:
        >>> by_size((FileEnd(block=6656, block_bytes=1024, records_end=128, fill_begins=512),))
        EndsBySize(told=1, off={128: 1, 256: 1, 512: 0, 1024: 1})
    """
    fitting = Counter(sizes for end in ends if (sizes := tuple(size for size in _SECTORS if end.fits(size))))
    return EndsBySize(fitting.total(), {
        size: sum(count for sizes, count in fitting.items() if size not in sizes) for size in _SECTORS
    })  # fmt: skip


def weigh(one: Proposal, ends: EndsBySize) -> Iterator[Evidence]:
    """Weigh where files end against the sectors of a shape."""
    off = ends.off.get(one.shape.sector_bytes, 0)
    if off:
        yield Evidence(
            f"behind {off} of {ends.told} files the fill begins elsewhere than sectors of {one.shape.sector_bytes} "
            "bytes end", max(_AGAINST * off, _MOST),
        )  # fmt: skip
