"""Where the heads of a hard disk are parked before it is moved, as far as the types of AT machines tell.

A type is no drive: makers numbered differently, and what stands on the drive goes before it.
"""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.tables.hard_disks import bios_types, hard_tracks
from imagekeeper.units import plural

#: With more the geometry is a translated one, and the drive parks by itself. From memory.
_MOST_CYLINDERS, _MOST_HEADS = 1024, 16

#: So many cylinders an image may lack: some are kept for tests.
_KEPT = 2


@dataclass(frozen=True, kw_only=True)
class Parking:
    """Where to park.

    Attributes:
        says: What to do, in a sentence.
        landing_zones: The cylinders that the types give, ascending; none where no type has such a drive.
        types: The numbers of the types.
    """

    says: str
    landing_zones: tuple[int, ...]
    types: tuple[int, ...]


def parking(grid: SectorGrid) -> Parking | None:
    """Say where the heads of a drive are parked; None where the geometry is not that of a drive's own heads.

    Args:
        grid: The geometry of the disk.

    Example:
        >>> parking(SectorGrid(heads=8, sectors=17, sector_bytes=512, cylinders=306)).landing_zones
        (319,)
        >>> parking(SectorGrid(heads=255, sectors=63, sector_bytes=512, cylinders=1044)) is None
        True
    """
    cylinders, tracks = grid.cylinders or 0, {one.sectors for one in hard_tracks().values()}
    if not 0 < cylinders <= _MOST_CYLINDERS or grid.heads > _MOST_HEADS or grid.sectors not in tracks:
        return None
    near = [one for one in bios_types().values() if one.heads == grid.heads]
    for kept in range(_KEPT + 1):
        found = [one for one in near if one.cylinders == cylinders + kept]
        if found:
            break
    else:
        drive = f"{plural(cylinders, 'cylinder')} and {plural(grid.heads, 'head')}"
        return Parking(
            says=f"No type of drive of {drive} is known: look at its label or papers before it is moved.",
            landing_zones=(), types=(),
        )  # fmt: skip
    zones = tuple(sorted({one.landing_zone for one in found}))
    types = tuple(sorted(one.number for one in found))
    drive = f"{plural(found[0].cylinders, 'cylinder')} and {plural(grid.heads, 'head')}"
    numbers = " and ".join(map(str, types))
    return Parking(
        says=f"Before the drive is moved, park its heads on cylinder {' or '.join(map(str, zones))}: that is the "
        f"landing zone of {'types' if len(types) > 1 else 'type'} {numbers} of AT machines, drives of {drive}. What "
        "its label says goes before it.",
        landing_zones=zones, types=types,
    )  # fmt: skip
