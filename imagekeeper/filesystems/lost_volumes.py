"""Volumes of a hard disk that no partition table tells of, found by what begins them: offered, and never taken as told.

The first sector may be lost, a link of the chain of logical partitions broken, or the image a few sectors too long or
too short. How much each reason weighs is our judgement.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from imagekeeper.containers.model import Data, DataWindow
from imagekeeper.filesystems.disk_marks import MOST_MARKS, Mark, marks, marks_off_the_grid
from imagekeeper.filesystems.fat_layout import FatLayout, weighed_at
from imagekeeper.filesystems.model import Recognised
from imagekeeper.filesystems.partitions import EXTENDED, SECTOR, Partition, records
from imagekeeper.ranked import Candidate, Evidence
from imagekeeper.tables.hard_disks import partition_titles
from imagekeeper.units import plural

#: The number of the first that was found: no table and chain can state so many.
FIRST_NUMBER = 65

#: No more than this are offered.
MOST_FOUND = 32

#: Where no sector begins anything, boot sectors are looked for at every byte as far as this. [byte]
EVERY_BYTE = 64 << 20

#: What is less sure than this is not offered; and nothing that was found is surer than this.
_LEAST, _SUREST = 0.5, 0.98

#: What the reasons must add up to for an even chance.
_EVEN = 2.5

#: A volume that lies inside another goes with it, unless it is so much surer.
_SURER = 0.3

#: So many sectors at most an image is taken to have too many or too few. [sector]
MOST_SHIFT = 64


@dataclass(frozen=True)
class FoundVolume:
    """A volume that was found.

    Attributes:
        partition: Where it lies, with what speaks for it.
        recognised: What it is, or None where only a table to which nothing leads tells of it.
        shift: How many sectors later it lies than its boot sector states; 0 where it lies there or does not state it.
    """

    partition: Partition
    recognised: Candidate[Recognised] | None
    shift: int = 0


@dataclass(frozen=True)
class LostVolumes:
    """What looking through the rest of a disk gave.

    Attributes:
        found: Volumes, ascending.
        left_out: How many more were found than are offered.
        cut: Whether there were so many marks that not all of them were looked at.
    """

    found: tuple[FoundVolume, ...] = ()
    left_out: int = 0
    cut: bool = False


def search(data: Data, told: Sequence[Partition], readable: Iterable[tuple[int, int]]) -> LostVolumes:
    """Look for volumes wherever none can be read.

    Args:
        data: The whole disk.
        told: What the partition table states.
        readable: Where volumes that can be read lie: beginning and end, ascending. [byte]
    """
    there = list(marks(data, _between(readable, len(data))))
    if not told and not there:
        there = list(marks_off_the_grid(data, EVERY_BYTE))
    tables = [one for one in there if not one.is_boot]
    starts = {at: table.at for table in tables for at, _ in _stated(table)}
    found = [_by_boot_sector(data, one, starts) for one in there if one.is_boot]
    chosen = _chosen(one for one in found if one is not None)
    known = {one.start for one in told} | {one.partition.start for one in chosen}
    more = (_by_table(data, table) for table in tables if not all(at in known for at, _ in _stated(table)))
    chosen = _chosen([*chosen, *(one for some in more for one in some if one.partition.start not in known)])
    numbered = tuple(
        replace(one, partition=replace(one.partition, number=number))
        for number, one in enumerate(sorted(chosen, key=lambda one: one.partition.start)[:MOST_FOUND], FIRST_NUMBER)
    )
    return LostVolumes(numbered, max(len(chosen) - MOST_FOUND, 0), len(there) >= MOST_MARKS)


def _between(readable: Iterable[tuple[int, int]], size: int) -> Iterator[tuple[int, int]]:
    at = 0
    for start, end in sorted(readable):
        if start > at:
            yield at, min(start, size)
        at = max(at, -(-end // SECTOR) * SECTOR)
    if at < size:
        yield at, size


def _by_boot_sector(data: Data, mark: Mark, tables: dict[int, int]) -> FoundVolume | None:
    """Weigh the volume that a boot sector begins, or, where that has a copy, the one that the copy belongs to."""
    found = None
    copy = _copy_sector(mark.sector)
    for at in (mark.at, mark.at - copy * SECTOR) if copy else (mark.at,):
        if at < 0:
            continue
        candidate = weighed_at(mark.sector, DataWindow(data, at, len(data) - at))
        if candidate is None:
            continue
        reasons = [*candidate.evidence]
        if at != mark.at:
            reasons.append(Evidence("its first sector is lost; the copy of it, further on, states this", 0.0))
        if at % SECTOR:
            reasons.append(Evidence(f"it begins {plural(at % SECTOR, 'byte')} behind the beginning of a sector", -0.5))
        more, shift = _place_evidence(candidate.answer.detail, at // SECTOR, tables)
        one = _found(data, at, candidate, [*reasons, *more], shift)
        if found is None or (one.partition.confidence or 0) > (found.partition.confidence or 0):
            found = one
    return found


def _copy_sector(sector: bytes) -> int:
    candidate = weighed_at(sector, sector)
    layout = None if candidate is None else candidate.answer.detail
    wide = layout.wide if isinstance(layout, FatLayout) else None
    return 0 if wide is None else wide.copy_sector or 0


def _place_evidence(layout: FatLayout, sector: int, tables: dict[int, int]) -> tuple[list[Evidence], int]:
    """Weigh where the volume lies: against what it states of the sectors before it, tables, and tracks."""
    block, found, shift = layout.block, [], 0
    assert block is not None
    before = block.hidden_sectors
    if sector * SECTOR in tables:
        at = tables[sector * SECTOR]
        found.append(Evidence(f"a partition table at byte {at}, to which nothing leads, states it", 2.0))
    elif before and before == sector:
        found.append(Evidence(f"it states {plural(before, 'sector')} before it, which is where it lies", 1.5))
    elif before and 0 < abs(sector - before) <= min(MOST_SHIFT, sector // 8):
        shift = sector - before
        says = f"it states {plural(before, 'sector')} before it, and {sector} are there"
        found.append(Evidence(f"{says}: the image has {abs(shift)} too {'many' if shift > 0 else 'few'}", 0.5))
    elif before > MOST_SHIFT:
        found.append(Evidence(f"it states {plural(before, 'sector')} before it, and {sector} are there", -0.5))
    track, cylinder = block.sectors_per_track, block.sectors_per_track * block.heads
    if cylinder and not (sector - shift) % cylinder:
        found.append(Evidence(f"it begins a cylinder of {block.heads} x {plural(track, 'sector')}", 1.0))
    elif track and not (sector - shift) % track:
        found.append(Evidence(f"it begins a track of {plural(track, 'sector')}", 0.5))
    else:
        found.append(Evidence(f"it does not begin a track of {plural(track, 'sector')}", -1.0))
    return found, shift


def _found(
    data: Data, at: int, candidate: Candidate[Recognised], reasons: Sequence[Evidence], shift: int
) -> FoundVolume:
    length = min(candidate.answer.detail.length, len(data) - at)
    partition = _partition("", candidate.answer.title, at, length, reasons)
    return FoundVolume(partition, replace(candidate, evidence=partition.evidence), shift)


def _partition(
    kind: str, title: str, at: int, length: int, reasons: Sequence[Evidence], *, active: bool = False
) -> Partition:
    total = sum(one.weight for one in reasons) - _EVEN
    sure = round(min(1 / (1 + math.exp(-total)), _SUREST), 2)
    return Partition(
        number=FIRST_NUMBER, kind="found", type=kind, title=title, active=active, start=at, length=length,
        first=None, last=None, confidence=sure, evidence=tuple(sorted(reasons, key=lambda one: -abs(one.weight))),
    )  # fmt: skip


def _stated(table: Mark) -> Iterator[tuple[int, tuple[int, int]]]:
    """Give the partitions of a table, counted from itself: where each begins, its type and its length. [byte]"""
    for record in records(table.sector):
        if record.plausible and record.kind not in EXTENDED:
            yield table.at + record.start * SECTOR, (record.kind, record.count * SECTOR)


def _by_table(data: Data, table: Mark) -> Iterator[FoundVolume]:
    """Weigh the partitions of a table to which nothing leads, where no boot sector begins them."""
    code = table.sector[:446]
    for at, (kind, length) in _stated(table):
        track = (at - table.at) // SECTOR
        reasons = [Evidence(f"a partition table at byte {table.at}, to which nothing leads, states it", 1.0)]
        if not any(code):
            reasons.append(Evidence("that sector holds nothing but a table, as those of a chain do", 1.5))
        if kind in partition_titles():
            reasons.append(Evidence(f"the type {kind:02X} is known", 1.0))
        else:
            reasons.append(Evidence(f"the type {kind:02X} is not known", -1.0))
        if at + length > len(data):
            reasons.append(Evidence("it ends beyond the disk", -3.0))
        if track <= 63 and not table.at // SECTOR % track:
            reasons.append(Evidence(f"it begins a track of {plural(track, 'sector')} behind the table", 1.0))
        yield FoundVolume(
            _partition(
                f"{kind:02X}", partition_titles().get(kind, "unknown"), at, max(min(length, len(data) - at), 0), reasons
            ), None,
        )  # fmt: skip


def _chosen(found: Iterable[FoundVolume]) -> list[FoundVolume]:
    """Take the surest that do not lie on each other; what holds others goes before them."""
    taken: list[FoundVolume] = []
    likely = [one for one in found if (one.partition.confidence or 0) >= _LEAST and one.partition.length]
    for one in sorted(likely, key=lambda one: (-(one.partition.confidence or 0), one.partition.start)):
        mine, sure = one.partition, one.partition.confidence or 0
        across = [other for other in taken if other.partition.start < mine.end and mine.start < other.partition.end]
        inside = all(
            mine.start <= other.partition.start and other.partition.end <= mine.end
            and (other.partition.confidence or 0) <= sure + _SURER for other in across
        )  # fmt: skip
        if inside:
            taken = [other for other in taken if other not in across]
            taken.append(one)
    return taken
