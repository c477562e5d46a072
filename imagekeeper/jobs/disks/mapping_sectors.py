"""Find what the damage to a disk means: which files are hurt, and which tracks to read again for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import ClassVar

from imagekeeper import files
from imagekeeper.errors import UsageError, Where
from imagekeeper.filesystems import bad_sectors
from imagekeeper.filesystems.damage import damage
from imagekeeper.filesystems.damage_model import DiskDamage, HurtState
from imagekeeper.filesystems.model import Extent, SectorGrid
from imagekeeper.jobs.disks.damage_words import verdict
from imagekeeper.jobs.disks.file_doubts import filled_in
from imagekeeper.jobs.disks.listing_files import says
from imagekeeper.jobs.disks.looking_into import Look, OpenDisk, listed, looked_into
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.writing import check_output


@dataclass(frozen=True, kw_only=True)
class SectorMap:
    """What the damage to a disk means: which files are hurt, and what to read again.

    Attributes:
        name: The image's name, made printable.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        output: Name of the picture written, made printable, or null.
        verdict: Which files are hurt and what to read again, in a sentence.
        says: What is on the disk, in a sentence.
        geometry: Cylinders, heads, sectors and bytes.
        grid: The same, as figures.
        size_bytes: Of the image. [byte]
        bad_sectors: How many sectors are not good by the list given, or null without one: then only what files hold
            was looked at.
        damage: What the sectors that are not good mean.
    """

    SCHEMA: ClassVar[str] = "sector-map/1"

    name: str
    name_base64: str | None
    output: str | None
    verdict: str
    says: str
    geometry: str
    grid: SectorGrid
    size_bytes: int
    bad_sectors: int | None
    damage: DiskDamage


def map_sectors(
    path: str, output: str | None, options: Options, look: Look, *, draw: Callable[[SectorMap], str],
    force: bool = False,
) -> SectorMap:  # fmt: skip
    """Say what the damage means, and write a picture of it where one is asked for.

    Without a list of bad sectors, stretches of files that hold what readers leave are taken as perhaps not read.

    Args:
        path: The image.
        output: The picture to write, or None.
        options: How to take the file.
        look: How to look into the disk.
        draw: Makes the picture, such as `imagekeeper.present.svg.damage_picture.draw`.
        force: Replace the picture if it is there.

    Raises:
        ImagekeeperError: The file cannot be read or understood, its geometry is not known, or nothing be written.
    """
    if output is not None:
        inputs = [path, *([look.bad_sectors] if look.bad_sectors is not None else [])]
        check_output(output, force=force, inputs=inputs)
    with looked_into(path, options, look) as seen:
        grid = seen.disk.grid
        if grid is None:
            raise UsageError("usage/map-without-geometry", where=Where(file=seen.file.name))
        states = _filled(seen) if look.bad_sectors is None else _listed(look.bad_sectors, grid)
        found = damage(seen.disk.volumes, grid, len(seen.data), states)
        result = SectorMap(
            name=seen.file.name, name_base64=seen.file.name_base64,
            output=None if output is None else files.display_name(output),
            verdict=verdict(
                found, recognised=bool(seen.disk.volumes), listed=look.bad_sectors is not None, heads=grid.heads
            ),
            says=says(seen.disk), geometry=grid.text, grid=grid, size_bytes=len(seen.data), bad_sectors=seen.bad,
            damage=found,
        )  # fmt: skip
        if output is not None:
            files.write_whole(output, [draw(result).encode()], force=force)
    return result


def _listed(path: str, grid: SectorGrid) -> Iterator[tuple[Extent, HurtState]]:
    for extent, state in bad_sectors.extents(listed(path), grid):
        if state != "good":
            yield extent, state


def _filled(seen: OpenDisk) -> Iterator[tuple[Extent, HurtState]]:
    """Give the stretches of files that hold what readers leave, ascending and apart."""
    found: list[tuple[int, int]] = []
    for volume in seen.disk.volumes:
        for entry in volume.entries:
            found += [(one.start, one.length) for one in filled_in(seen, volume, entry) if one.start is not None]
    done = 0
    for start, length in sorted(found):
        first = max(start, done)
        if first < start + length:
            yield Extent(first, start + length - first), "filled"
            done = start + length
