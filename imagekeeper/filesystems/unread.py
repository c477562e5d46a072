"""Sectors of files that hold what formatting or a reading program leaves: perhaps they were never read.

Which bytes: E5, F6 and patterns of formatting; a text over and over, which has letters. 00, FF, blanks and the end mark
1A stand in files by themselves, and say nothing; nor does a text that goes on so from end to end of a file. Common
practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.model import Entry, Extent, joined
from imagekeeper.floppy.fill import emptiness

#: Bytes of formatting that files seldom hold by themselves for a whole sector.
_FORMATTED = (0xE5, 0xF6)

#: The pattern that is hardest to read, from either of its bytes.
_PATTERNS = (b"\x6d\xb6", b"\xb6\xdb", b"\xdb\x6d")

#: A text has a word.
_LETTERS = re.compile(rb"[A-Za-z]{3}")

#: With fewer bytes of a sector nothing is said. [byte]
_LEAST = 32


def unread(entry: Entry, data: Data, sector_bytes: int) -> tuple[Extent, ...]:
    r"""Find the sectors of a file that hold nothing but fill; neighbours are given as one.

    Args:
        entry: The file.
        data: The image that its extents refer to.
        sector_bytes: The size of a sector. [byte]

    Example:
        >>> entry = Entry(
        ...     path="TIDE.DAT", name="TIDE.DAT", name_hex="", kind="file", size_bytes=512, extents=(Extent(0, 512),)
        ... )
        >>> unread(entry, b"tide" * 31 + b"gate" + b"\xf6" * 256 + bytes(128), 128)
        (Extent(start=128, length=256),)
    """
    pieces = [one for one in _sectors(entry, sector_bytes) if one[1] >= _LEAST]
    texts = [one for one in pieces if _text(data[one[0] : sum(one)])]
    if 1 < len(texts) == len(pieces) and len({data[at : at + _LEAST] for at, _ in texts}) > 1:
        texts = []   # it goes on from sector to sector, which a reader's does not
    found = {*texts, *(one for one in pieces if _formatted(data[one[0] : sum(one)]))}
    return joined(one for one in pieces if one in found)


def _sectors(entry: Entry, sector_bytes: int) -> Iterator[tuple[int, int]]:
    for extent in entry.extents:
        at, end = extent.start or 0, (extent.start or 0) + extent.length
        while extent.start is not None and at < end:
            size = min(sector_bytes - at % sector_bytes, end - at)
            yield at, size
            at += size


def _formatted(sector: bytes) -> bool:
    if sector[0] in _FORMATTED:
        return sector.count(sector[0]) == len(sector)
    return sector[:2] in _PATTERNS and emptiness(sector) == 2


def _text(sector: bytes) -> bool:
    return _LETTERS.search(sector[:_LEAST]) is not None and emptiness(sector) == 1
