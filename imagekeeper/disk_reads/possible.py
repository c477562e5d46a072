"""Of what geometries an image may be whose reading is doubted: what a parameter block states, wherever it stands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.floppy.parameter_block import ParameterBlock
from imagekeeper.geometry.parameters import block_at, for_fixed_disk
from imagekeeper.geometry.results import GeometrySolution

#: A boot sector is looked for so far into an image, at every so many bytes. [byte]
_WITHIN, _EVERY = 64 << 10, 128

#: So many geometries are tried where no block states one, and none that is less likely.
_MOST, _LEAST = 3, 0.02

#: A disk may have so many times as much as the image, and as little: every other cylinder, or every one twice.
_TIMES = 3.0


def possible(data: bytes, solution: GeometrySolution) -> Iterator[Geometry]:
    """Give the geometries that the disk of an image may have, the likeliest first.

    Args:
        data: The image.
        solution: What it may be by size and content.

    Example:
        >>> from imagekeeper.geometry import solve
        >>> image = bytes(368640)
        >>> [one.text for one in possible(image, solve(image))]
        ['40x2x9x512', '80x1x9x512']
    """
    for at in range(0, min(_WITHIN, len(data)), _EVERY):
        block = block_at(data, at)
        if block is None or at % block.bytes_per_sector:
            continue
        stated = _stated(block)
        if stated is not None and stated.bytes <= _TIMES * len(data) <= _TIMES**2 * stated.bytes:
            yield stated
            return
    given = [one for one in solution.candidates if one.score >= _LEAST and not one.data_start]
    tried = set()
    for one in given[:_MOST]:
        mine = Geometry(
            cylinders=one.cylinders, heads=one.heads, sectors=one.sectors, sector_bytes=one.sector_bytes
        )
        twice = one.heads == 1 and len(data) == 2 * mine.bytes   # one side, read as if there were two
        for geometry in (mine, replace(mine, heads=2)) if twice else (mine,):
            if geometry not in tried:
                tried.add(geometry)
                yield geometry


def _stated(block: ParameterBlock) -> Geometry | None:
    track = block.heads * block.sectors_per_track
    if for_fixed_disk(block) or not 1 <= block.heads <= 2 or not 1 <= block.sectors_per_track <= 64:
        return None
    return Geometry(
        cylinders=-(-block.total_sectors // track), heads=block.heads, sectors=block.sectors_per_track,
        sector_bytes=block.bytes_per_sector,
    )  # fmt: skip
