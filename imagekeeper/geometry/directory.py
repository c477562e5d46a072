"""Evidence from the directory of the disk operating system of 8-bit machines, which has entries of 32 bytes.

Rule: an entry has a user number (0 to 15, or E5 for a free one), a name of eight and three characters, the number of
the extent, a count of 128-byte records (0 to 128), and sixteen bytes of block numbers. The directory begins with a
track, behind the tracks that are reserved for the system. On disks of 128-byte sectors its records may lie some sectors
apart, the skew. Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.floppy.order import placed
from imagekeeper.geometry.proposals import Proposal
from imagekeeper.geometry.shapes import usual
from imagekeeper.ranked import Evidence
from imagekeeper.tables.floppy import format_rows
from imagekeeper.units import plural

ENTRY, RECORD = 32, 128

#: The system takes no more tracks than this.
_RESERVED_TRACKS = 8


@dataclass(frozen=True)
class Directory:
    """Where records of directory entries were found.

    Attributes:
        records: The first byte of each record that holds at least one entry in use. [byte]
        entries: Entries in use.
    """

    records: tuple[int, ...]
    entries: int

    @property
    def start(self) -> int:
        """[byte]."""
        return self.records[0]

    @property
    def end(self) -> int:
        """The end of its last record. [byte]"""
        return self.records[-1] + RECORD


def in_use(entry: bytes) -> bool | None:
    r"""Tell an entry in use from a free one; None for what is neither.

    Example:
        >>> in_use(b"\0TIDE    DAT\0\0\0\x08\x02" + bytes(15)), in_use(b"\xe5" * 32), in_use(bytes(32))
        (True, False, None)
    """
    if entry[0] == 0xE5:
        return False
    name = bytes(byte & 0x7F for byte in entry[1:12])   # the top bits are flags
    if entry[0] > 15 or name[0] == 0x20 or not all(0x20 <= byte < 0x7F for byte in name) or name.upper() != name:
        return None
    if entry[12] > 31 or entry[13] or entry[14] > 63 or entry[15] > 128:
        return None
    if bool(entry[15]) != any(entry[16:32]):
        return None
    return True


def directory(data: bytes) -> Directory | None:
    """Find the records of a directory, or None where there are none.

    All other entries of a record must be free or in use too; one record alone must hold two entries.
    """
    records, entries = [], 0
    for at in range(0, len(data) - RECORD + 1, RECORD):
        if (data[at] > 15 and data[at] != 0xE5) or data[at : at + RECORD] == b"\xe5" * RECORD:
            continue
        found = [in_use(data[i : i + ENTRY]) for i in range(at, at + RECORD, ENTRY)]
        if None not in found and any(found):
            records.append(at)
            entries += sum(map(bool, found))
    return Directory(tuple(records), entries) if entries >= 2 else None


def skew(record_numbers: list[int], sectors: int) -> int | None:
    """Find the skew: how many sectors on the next record lies; 1 when they follow each other, None when nothing fits.

    Args:
        record_numbers: Places of the directory's records on their track, counted from 0.
        sectors: Of the track.

    Example:
        >>> skew([0, 6, 12, 18], 26), skew([0, 1, 2], 26), skew([0, 5, 7], 26)
        (6, 1, None)
    """
    wanted = set(record_numbers)
    for step in range(1, sectors // 2 + 1):
        order = placed(sectors, step)   # at each place, the number of the record there
        if {place for place, number in enumerate(order) if number <= len(wanted)} == wanted:
            return step
    return None


def weigh(one: Proposal, found: Directory | None) -> Iterator[Evidence]:
    """Weigh where the directory begins, and how its records lie, against a shape."""
    if found is None:
        return
    shape = one.shape
    rows = [format_rows()[name] for name in shape.formats]
    others = [row for row in rows if not row.title.startswith("PC ")]
    less = max((usual(row, fat=False) for row in others), default=1.0) - max(map(usual, rows), default=1.0)
    if less:
        yield Evidence("a directory of 8-bit machines, which systems with a FAT do not write", less)
    track, rest = divmod(found.start - one.start, shape.track_bytes)
    if rest or track > _RESERVED_TRACKS:
        yield Evidence(
            f"a directory of 8-bit machines begins at byte {found.start}, within a track of {shape.track_bytes} bytes",
            -2.0,
        )  # fmt: skip
    else:
        yield Evidence(
            f"a directory of 8-bit machines begins at byte {found.start}, behind "
            f"{plural(track, 'whole track')} of {shape.track_bytes} bytes", 2.0 if track else 1.0,
        )  # fmt: skip
    end = found.start - rest + shape.track_bytes
    places = [(at - found.start + rest) // RECORD for at in found.records if at < end]
    if len(places) < 3 or rest:
        return
    step = skew(places, shape.track_bytes // RECORD)
    if step is None or step == 1:
        return
    if shape.sector_bytes == RECORD:
        yield Evidence(f"the directory's records lie {step} sectors of 128 bytes apart: the skew", 2.0)
    else:
        yield Evidence(
            f"the directory's records lie apart, which sectors of {shape.sector_bytes} bytes would keep together", -2.0
        )
