"""The places where a directory of 8-bit machines may begin: geometry, order of sides, reserved tracks, and skew."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from imagekeeper.containers.model import Data
from imagekeeper.errors import UsageError
from imagekeeper.filesystems.directory_options import Given
from imagekeeper.filesystems.directory_parameters import ENTRY, RECORD, DiskParameters
from imagekeeper.filesystems.directory_placement import BlockPlacement
from imagekeeper.filesystems.directory_runs import MOST_ENTRIES, Records
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.ranked import Evidence
from imagekeeper.tables.floppy import format_rows

#: No system takes more tracks than this, but where a person says so. Common practice, no source.
MOST_RESERVED = 8

#: Geometries that are tried where none is known.
_MOST_GRIDS = 12

#: Sectors do not lie further apart than this. Common practice, no source.
_MOST_SKEW, _USUAL_SKEW = 13, 6

_TWO_SIDED: tuple[SideOrder, ...] = ("alternating", "side-after-side", "side-1-reversed")

#: What is looked at of an image to tell what its division is. [byte]
LOOKED_AT = 1 << 22


@dataclass(frozen=True)
class Frame:
    """A way to lay tracks and sectors over an image.

    Attributes:
        grid: The geometry, or None where only the records of a track are known.
        parameters: How the disk is divided, as far as it is decided: the blocks are not.
        doubt: Which of the geometries it is, counted from 0.
        size: Of the image. [byte]
    """

    grid: SectorGrid | None
    parameters: DiskParameters
    doubt: int
    size: int

    @cached_property
    def placement(self) -> BlockPlacement:
        """Where logical bytes lie."""
        return BlockPlacement(self.parameters, self.size, self.grid)

    @cached_property
    def records(self) -> list[int]:
        """Where each record lies in the image, in logical order. [byte]"""
        return list(self._records(LOOKED_AT))

    @cached_property
    def first_records(self) -> list[int]:
        """Where those records lie that may be the directory's. [byte]"""
        return list(self._records(MOST_ENTRIES * ENTRY))

    def _records(self, limit: int) -> Iterator[int]:
        usable = min(self.placement.logical_bytes, limit)
        for at, length in self.placement.pieces(0, usable - usable % RECORD):
            if at is not None:
                yield from range(at, at + length - RECORD + 1, RECORD)

    def entries(self, image: Records, *, unused: bool = False) -> tuple[bytes, ...]:
        """Give the entries with which a directory would begin here; where none is in use, only if asked for."""
        return image.run(self._records(MOST_ENTRIES * ENTRY), unused=unused)

    def weigh(self) -> Iterator[Evidence]:
        """Weigh how usual such a place is. Common practice, no source."""
        one = self.parameters
        if self.doubt:
            yield Evidence("other geometries of this size are more usual", -0.1 * self.doubt)
        if one.sides != "alternating":
            yield Evidence(f"the sides would be used {one.sides}", -0.5)
        if one.skew == 6 and (one.records_per_track, one.sector_bytes) == (26, RECORD):
            yield Evidence("26 sectors of 128 bytes mostly lie 6 apart", 0.7)
        elif one.skew != 1:
            far = one.skew > _USUAL_SKEW
            says = f"the sectors would lie {one.skew} apart" + (", which is unusual" if far else "")
            yield Evidence(says, -1.5 if far else -0.7)


def grids(
    size: int, grid: SectorGrid | None, given: Given, others: Callable[[], Sequence[SectorGrid]] = tuple
) -> list[SectorGrid]:
    """Name the geometries that an image may have, the likeliest first."""
    if given.track is not None:
        sectors, sector = given.track
        if grid is not None and (grid.sectors, grid.sector_bytes) == given.track:
            return [grid]
        table = {two.heads for two in _of_table(size, exact=True) if (two.sectors, two.sector_bytes) == given.track}
        return list(_any_heads(size, sectors, sector, sorted(table)))
    found = [grid] if grid is not None else _once([*others(), *_of_table(size, exact=True)])
    found = found or _of_table(size, exact=False)
    if given.records is None:
        return found
    return [one for one in found if one.sectors * one.sector_bytes == given.records * RECORD] or list(
        _any_heads(size, given.records, RECORD, [])
    )


def _any_heads(size: int, sectors: int, sector_bytes: int, table: Sequence[int]) -> Iterator[SectorGrid]:
    """One side or two, those of the table first: who knows the track need not have said which."""
    cylinders, rest = divmod(size, max(2 * sectors * sector_bytes, 1))
    for heads in dict.fromkeys([*table, 1, 2]):
        if heads == 1 or (cylinders and not rest):
            yield SectorGrid(
                heads=heads, sectors=sectors, sector_bytes=sector_bytes, cylinders=cylinders if heads == 2 else None
            )


def _once(found: Iterable[SectorGrid]) -> list[SectorGrid]:
    """Leave out those that lay the same tracks and sides."""
    kept: dict[tuple[object, ...], SectorGrid] = {}
    for one in found:
        kept.setdefault((one.heads, one.sectors, one.sector_bytes, one.cylinders, one.first_track), one)
    return list(kept.values())[:_MOST_GRIDS]


def _of_table(size: int, *, exact: bool) -> list[SectorGrid]:
    found: dict[tuple[int, ...], SectorGrid] = {}
    for row in format_rows().values():
        first = None if row.first_track is None else (row.first_track.sectors, row.first_track.sector_bytes)
        if exact and row.bytes == size:
            one = SectorGrid(
                heads=row.heads, sectors=row.sectors, sector_bytes=row.sector_bytes, cylinders=row.cylinders,
                first_track=first,
            )  # fmt: skip
            found.setdefault((row.heads, row.sectors, row.sector_bytes, row.cylinders), one)
        elif not exact and first is None and not size % (row.sectors * row.sector_bytes):
            found.setdefault((row.sectors, row.sector_bytes), SectorGrid(
                heads=1, sectors=row.sectors, sector_bytes=row.sector_bytes
            ))
    return list(found.values())[:_MOST_GRIDS]


def frames(
    data: Data, image: Records, grid: SectorGrid | None, given: Given,
    others: Callable[[], Sequence[SectorGrid]] = tuple,
) -> Iterator[Frame]:  # fmt: skip
    """Give the places whose first record may be one of a directory, or that a person named."""
    for doubt, one in enumerate(grids(len(data), grid, given, others)):
        if one.sector_bytes % RECORD:
            continue
        sectors = one.sectors
        orders = _TWO_SIDED if one.heads == 2 else _TWO_SIDED[:1]
        for sides in orders if given.sides is None else (given.sides,):
            for offset in range(MOST_RESERVED + 1) if given.reserved is None else (given.reserved,):
                plain = _parameters(one, offset, sides, 1, ())
                if plain is None:
                    continue
                frame = Frame(one, plain, doubt, len(data))
                begin = frame.placement.begin
                if given.reserved is None and not (begin < len(data) and image.fits(begin)):
                    continue
                yield from _skewed(frame, given, sectors)


def _skewed(frame: Frame, given: Given, sectors: int) -> Iterator[Frame]:
    if given.order is None and given.skew in (None, 1):
        yield frame
    if given.skew == 1 and given.order is None:
        return
    skews = range(2, min(sectors - 1, _MOST_SKEW) + 1) if given.skew is None else (given.skew,)
    grid, plain = frame.grid, frame.parameters
    for skew in skews if given.order is None else (1,):
        found = _parameters(grid, plain.reserved_tracks, plain.sides, skew, given.order or ())
        if found is not None:
            yield Frame(grid, found, frame.doubt, frame.size)
        elif given.skew is not None or given.order is not None:
            return


def _parameters(
    grid: SectorGrid | None, offset: int, sides: SideOrder, skew: int, order: tuple[int, ...]
) -> DiskParameters | None:
    assert grid is not None
    records = grid.sectors * grid.sector_bytes // RECORD
    try:
        return DiskParameters(
            records_per_track=records, block_bytes=16384, blocks=1, directory_entries=1, reserved_tracks=offset,
            extent_mask=0, skew=skew, sector_bytes=grid.sector_bytes, order=order, sides=sides,
        )  # fmt: skip
    except UsageError:
        return None
