"""Draw a map of a disk's sectors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from imagekeeper import files
from imagekeeper.errors import UsageError, Where
from imagekeeper.filesystems import bad_sectors
from imagekeeper.jobs.disks.listing_files import says
from imagekeeper.jobs.disks.looking_into import Look, listed, looked_into
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.writing import check_output
from imagekeeper.present.svg import sector_map


@dataclass(frozen=True)
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


def map_sectors(path: str, output: str, options: Options, look: Look, *, force: bool = False) -> SectorMap:
    """Draw the map as an SVG picture.

    Args:
        path: The image.
        output: The picture to write.
        options: How to take the file.
        look: How to look into the disk.
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
        picture = sector_map.draw(seen.file.name, len(seen.data), grid, seen.disk.volumes, states)
        files.write_whole(output, [picture.encode()], force=force)
        return SectorMap(
            seen.file.name, seen.file.name_base64, files.display_name(output), says(seen.disk), grid.text, seen.bad
        )
