"""Find what became of a disk's sectors and whose they are, for a map of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from imagekeeper import files
from imagekeeper.errors import UsageError, Where
from imagekeeper.filesystems import bad_sectors
from imagekeeper.filesystems.model import Extent, SectorGrid, Volume
from imagekeeper.jobs.disks.listing_files import says
from imagekeeper.jobs.disks.looking_into import Look, listed, looked_into
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.writing import check_output


@dataclass(frozen=True, kw_only=True)
class SectorMap:
    """A map that was drawn.

    Attributes:
        name: The image's name, made printable.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        output: Name of the picture written, made printable.
        says: What is on the disk, in a sentence.
        geometry: Cylinders, heads, sectors and bytes.
        bad_sectors: How many sectors are not good by the list given, or null without one.
    """

    SCHEMA: ClassVar[str] = "sector-map/1"

    name: str
    name_base64: str | None
    output: str
    says: str
    geometry: str
    bad_sectors: int | None


@dataclass(frozen=True, kw_only=True)
class DiskSectors:
    """What a map of a disk's sectors shows.

    Attributes:
        name: Of the image, made printable.
        size_bytes: Of the image. [byte]
        grid: Its geometry.
        volumes: What is on it.
        states: Sectors that are not good, each stretch with its state.
    """

    name: str
    size_bytes: int
    grid: SectorGrid
    volumes: tuple[Volume, ...]
    states: tuple[tuple[Extent, str], ...] = ()


def map_sectors(
    path: str, output: str, options: Options, look: Look, *, draw: Callable[[DiskSectors], str], force: bool = False
) -> SectorMap:
    """Write the map as a picture.

    Args:
        path: The image.
        output: The picture to write.
        options: How to take the file.
        look: How to look into the disk.
        draw: Makes the picture, such as `imagekeeper.present.svg.sector_map.draw`.
        force: Replace the picture if it is there.

    Raises:
        ImagekeeperError: The file cannot be read or understood, its geometry is not known, or nothing be written.
    """
    check_output(output, force=force, inputs=[path, *([look.bad_sectors] if look.bad_sectors is not None else [])])
    with looked_into(path, options, look) as seen:
        grid = seen.disk.grid
        if grid is None:
            raise UsageError(
                "usage", "there is no map without a geometry", why="the disk does not show it",
                hint="give it with --geometry, such as 80x2x9x512", where=Where(file=seen.file.name),
            )  # fmt: skip
        states = bad_sectors.extents(listed(look.bad_sectors), grid) if look.bad_sectors is not None else ()
        sectors = DiskSectors(
            name=seen.file.name, size_bytes=len(seen.data), grid=grid, volumes=tuple(seen.disk.volumes),
            states=tuple(states),
        )  # fmt: skip
        files.write_whole(output, [draw(sectors).encode()], force=force)
        return SectorMap(
            name=seen.file.name, name_base64=seen.file.name_base64, output=files.display_name(output),
            says=says(seen.disk), geometry=grid.text, bad_sectors=seen.bad,
        )  # fmt: skip
