"""What the reading of a hard disk did to its image, told from the image alone: noted as findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.dead_heads import dead_heads
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.filled_stretches import MOST_STRETCHES, filled_stretches
from imagekeeper.filesystems.interleaving import interleave
from imagekeeper.filesystems.model import SectorGrid, Volume
from imagekeeper.filesystems.parking import parking
from imagekeeper.filesystems.partitions import SECTOR
from imagekeeper.filesystems.problems import Problems
from imagekeeper.filesystems.slips import MOST_OFF, slip
from imagekeeper.floppy.fill import fill_words
from imagekeeper.sentences.say import Phrase


def note_faults(
    data: Data, volumes: Sequence[tuple[Volume, FatLayout]], grids: Iterable[SectorGrid], problems: Problems
) -> bool:
    """Look for slips within volumes, sectors in the order of the disk, and heads that gave nothing.

    Args:
        data: The whole disk.
        volumes: What was read of it, with the layout of each.
        grids: Geometries that it may have, best first.
        problems: Where to note them.

    Returns:
        Whether files are spread over what was read wrongly, so that looking into each says nothing more.
    """
    begin = [
        (volume.start, layout.block.sectors_per_track) for volume, layout in volumes if layout.block is not None
    ]
    order = interleave(data, begin)
    if order is not None:
        problems.add(
            "sectors-interleaved/in-one-image", "fault", at=0, confidence=0.95, sectors=order.sectors,
            equal=order.equal, detail={"interleave": order.step},
        )  # fmt: skip
        return True
    slipped = False
    for volume, layout in volumes:
        found = slip(data, volume, layout)
        if found is not None:
            slipped = True
            too = "sectors-shifted/too-many" if found.sectors > 0 else "sectors-shifted/missing"
            problems.add(
                "sectors-shifted/within", "fault", at=found.first, length=found.last - found.first,
                confidence=found.confidence, first=found.first, last=found.last, count=abs(found.sectors),
                too=Phrase(too), before=found.before, behind=found.behind, detail={"sectors": found.sectors},
            )  # fmt: skip
    for grid in grids:
        dead = dead_heads(data, grid)
        for one in dead:
            problems.add(
                "head-silent", "fault", at=grid.sectors * grid.sector_bytes * one.head, confidence=one.confidence,
                fill=one.says, cylinders=one.cylinders, between=one.between, geometry=grid.text,
                detail={"head": one.head},
            )  # fmt: skip
        if dead:
            return True
    return slipped


def note_size(size: int, grid: SectorGrid, problems: Problems) -> None:
    """Say where an image is no whole number of tracks of a disk's own geometry, by a few sectors; unless more is known.

    Args:
        size: Of the image. [byte]
        grid: The geometry, certain.
        problems: Where to note it.
    """
    track = grid.sectors * grid.sector_bytes
    over = (size + track // 2) % track - track // 2   # above 0 too many, below too few
    sectors, rest = divmod(over, grid.sector_bytes)
    if parking(grid) is None or rest or not 0 < abs(sectors) <= MOST_OFF or problems.count("sectors-shifted"):
        return
    problems.add(
        "sectors-shifted/size", "warning", confidence=0.6, size=size, track=grid.sectors, count=abs(sectors),
        too=Phrase("sectors-shifted/too-many" if sectors > 0 else "sectors-shifted/missing"),
        detail={"sectors": sectors},
    )  # fmt: skip


def note_unread(data: Data, volumes: Iterable[Volume], grid: SectorGrid | None, problems: Problems) -> None:
    """Look through the content of files for stretches that the reader seems to have filled.

    Args:
        data: The whole disk.
        volumes: What was read of it.
        grid: Its geometry, or None.
        problems: Where to note them.
    """
    track = None if grid is None else grid.sectors * grid.sector_bytes
    for number, one in enumerate(filled_stretches(data, volumes, track)):
        if number >= MOST_STRETCHES:
            problems.add("unread-perhaps/more-stretches", "warning", limit=MOST_STRETCHES)
            return
        place = Phrase("unread-perhaps/at-byte", byte=one.start)
        if grid is not None:
            last = grid.place(one.start + one.length - 1)
            place = Phrase("unread-perhaps/at-place", first=str(grid.place(one.start)), last=str(last))
        problems.add(
            "unread-perhaps/tracks" if one.whole_tracks else "unread-perhaps", "warning", at=one.start,
            length=one.length, confidence=one.confidence, sectors=one.length // SECTOR, place=place,
            fill=fill_words(one.fill), detail={"paths": list(one.paths)},
        )  # fmt: skip
