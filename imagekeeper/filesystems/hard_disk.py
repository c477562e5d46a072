"""Which geometry the image of a hard disk may have: from its size, its partition table and its boot sector.

A number of a BIOS type says nothing: makers differ, so only the drives behind the numbers take part. How much each
reason weighs is our judgement.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.filesystems.partitions import SECTOR, Partition
from imagekeeper.floppy.parameter_block import ParameterBlock
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables.hard_disks import hard_drives, hard_tracks
from imagekeeper.units import plural

#: The highest cylinder that a partition table can state; beyond it every place reads so. From memory.
_LAST_CYLINDER = 1023

#: The weight of "none of these".
_UNKNOWN = 0.0

_ANSWERS = 8


def geometries(
    size: int, table: Iterable[Partition] = (), blocks: Iterable[ParameterBlock] = ()
) -> tuple[Candidate[SectorGrid], ...]:
    """Rank the geometries that a hard disk may have.

    Args:
        size: Of the image. [byte]
        table: Its partitions.
        blocks: The parameter blocks of the volumes in it.

    Example:
        >>> [one.answer.text for one in geometries(615 * 4 * 17 * 512)][:1]
        ['615x4x17x512']
    """
    partitions, stated = list(table), list(blocks)
    grids = {
        (one.heads, one.sectors, one.sector_bytes, one.cylinders): one
        for one in (*_of_table(size), *_of_evidence(size, partitions, stated))
    }
    found = []
    for grid in grids.values():
        reasons = (*_size(grid, size), *_known(grid), *_partitions(grid, partitions), *_blocks(grid, stated))
        found.append((grid, tuple(sorted(reasons, key=lambda one: -abs(one.weight)))))
    weights = [sum(one.weight for one in reasons) for _, reasons in found]
    whole = math.exp(_UNKNOWN) + sum(math.exp(min(weight, 50)) for weight in weights)
    ranking = rank(
        Candidate(grid, round(math.exp(min(weight, 50)) / whole, 4), reasons)
        for (grid, reasons), weight in zip(found, weights, strict=True)
    )
    return ranking[:_ANSWERS]


def _of_table(size: int) -> Iterator[SectorGrid]:
    """Drives of the table with tracks of the table, as far as the size allows: up to two cylinders may be left out."""
    for drive in hard_drives().values():
        for track in hard_tracks().values():
            cylinder = drive.heads * track.sectors * track.sector_bytes
            missing = drive.cylinders * cylinder - size
            if 0 <= missing <= 2 * cylinder and missing % cylinder == 0:
                yield SectorGrid(
                    heads=drive.heads, sectors=track.sectors, sector_bytes=track.sector_bytes,
                    cylinders=drive.cylinders,
                )  # fmt: skip


def _of_evidence(size: int, table: list[Partition], blocks: list[ParameterBlock]) -> Iterator[SectorGrid]:
    """What the partition table or a boot sector states by itself."""
    ends = [one.last for one in table if one.last is not None]
    pairs = {(block.heads, block.sectors_per_track) for block in blocks}
    if ends:
        pairs.add((max(end.head for end in ends) + 1, max(end.sector for end in ends)))
    for heads, sectors in sorted(pairs):
        if 1 <= heads <= 255 and 1 <= sectors <= 63:
            yield SectorGrid(
                heads=heads, sectors=sectors, sector_bytes=SECTOR,
                cylinders=max(-(-size // (heads * sectors * SECTOR)), 1),
            )  # fmt: skip


def _size(grid: SectorGrid, size: int) -> Iterator[Evidence]:
    assert grid.cylinders is not None
    cylinder = grid.heads * grid.sectors * grid.sector_bytes
    missing = grid.cylinders * cylinder - size
    if not missing:
        yield Evidence(f"the size is exactly {grid.text}", 2.0)
    elif missing % cylinder == 0:
        count = missing // cylinder
        yield Evidence(f"the size is {plural(count, 'cylinder')} less, as where some are kept for tests", 0.5)
    else:
        yield Evidence(f"the size is no whole number of cylinders of {grid.heads} x {grid.sectors} sectors", -1.5)


def _known(grid: SectorGrid) -> Iterator[Evidence]:
    drives = [d for d in hard_drives().values() if (d.cylinders, d.heads) == (grid.cylinders, grid.heads)]
    tracks = [
        t for t in hard_tracks().values() if (t.sectors, t.sector_bytes) == (grid.sectors, grid.sector_bytes)
    ]
    if drives:
        yield Evidence(f"drives of {grid.cylinders} cylinders and {grid.heads} heads were made", 1.0)
    if tracks:
        names = " or ".join(track.encoding.upper() for track in tracks)
        weight = 1.0 if tracks[0].usual else 0.0
        yield Evidence(f"{plural(grid.sectors, 'sector')} a track are those of {names}", weight)
    else:
        yield Evidence(f"{plural(grid.sectors, 'sector')} a track are not those of an ST-506 disk", -1.0)


def _partitions(grid: SectorGrid, table: list[Partition]) -> Iterator[Evidence]:
    """Compare the two ways in which the table states every place: by cylinder, and by counting sectors."""
    if grid.sector_bytes != SECTOR:
        return
    for one in table:
        if one.kind == "logical":
            continue
        ends = (("begins", one.first, one.start), ("ends", one.last, one.start + one.length - SECTOR))
        for word, stated, offset in ends:
            if stated is None or stated.cylinder >= _LAST_CYLINDER:
                continue
            true = grid.place(offset)
            if stated == true:
                yield Evidence(f"partition {one.number} {word} at {stated}, which counts to the right sector", 2.0)
            else:
                yield Evidence(f"partition {one.number} {word} at {stated}, and the sector counted is {true}", -2.0)


def _blocks(grid: SectorGrid, blocks: list[ParameterBlock]) -> Iterator[Evidence]:
    for block in blocks:
        stated = f"a boot sector states {plural(block.heads, 'head')} and {plural(block.sectors_per_track, 'sector')}"
        if (block.heads, block.sectors_per_track) == (grid.heads, grid.sectors):
            yield Evidence(stated, 2.0)
        else:
            yield Evidence(stated, -2.0)
