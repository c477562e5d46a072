"""From an image file to what is on its disk: shared by listing, extracting and checking."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from imagekeeper.containers.model import Data
from imagekeeper.errors import InputError, NotFoundError, UsageError, Where
from imagekeeper.files import display_name, opened, read_limited
from imagekeeper.filesystems import bad_sectors, registry
from imagekeeper.filesystems.directory_options import parse as parse_parameters
from imagekeeper.filesystems.directory_system import DirectoryReader
from imagekeeper.filesystems.disk import DiskVolumes, Recognise, read_disk
from imagekeeper.filesystems.fat_names import check_code_page
from imagekeeper.filesystems.interleaving import ByNumber
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid, Volume
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry, SideOrder, order_sides
from imagekeeper.jobs.disks.one_read import reading_faults
from imagekeeper.jobs.images.loading import Given, Loaded, Options, loaded
from imagekeeper.units import MIB

if TYPE_CHECKING:
    from imagekeeper.geometry import GeometrySolution

#: Above this no floppy disk is looked for. [byte]
FLOPPY_LIMIT = 4 * MIB

#: A list of bad sectors is no longer than this. [byte]
_LIST_LIMIT = 64 * MIB


@dataclass(frozen=True, kw_only=True)
class Look:
    """How to look into a disk.

    Attributes:
        partition: Read this partition alone, or None for all.
        deleted: Also give what is marked deleted.
        check: Look for everything that can be wrong.
        code_page: The code of names.
        bad_sectors: A file that lists bad sectors, or None.
        sides_from: The order of sides in the file, or None where they alternate.
        geometry: A geometry such as 40x2x9x512, or the name of a format, or None to find it.
        parameter_block: How the disk of an 8-bit machine is divided, as far as it is known, or None to find it.
        interleave: Where the sectors stand as they lie on a hard disk: how many places on the next number stands.
    """

    partition: int | None = None
    deleted: bool = False
    check: bool = False
    code_page: str = "cp437"
    bad_sectors: str | None = None
    sides_from: SideOrder | None = None
    geometry: str | None = None
    parameter_block: str | None = None
    interleave: int | None = None


@dataclass(frozen=True, kw_only=True)
class OpenDisk:
    """A disk that was looked into, usable while its context is open.

    Attributes:
        file: The image file.
        data: The bytes that all offsets refer to: those of the file, or with its sides put in order.
        disk: What is on it, files marked that bad sectors touch.
        findings: Everything that was noticed, of the disk and of its volumes.
        bad: How many bad sectors were listed, or None without a list.
        checked: Gives the findings of a full check, which is made when it is first asked for.
    """

    file: Loaded
    data: Data
    disk: DiskVolumes
    findings: tuple[Finding, ...]
    bad: int | None
    checked: Callable[[], tuple[Finding, ...]]

    def where(self, at: int, length: int) -> Where:
        """A place in the image."""
        return Where(file=self.file.name, address=at, length=length)

    @property
    def volumes(self) -> tuple[Volume, ...]:
        """The volumes, their findings left out: they stand in `findings`."""
        return tuple(replace(volume, findings=()) for volume in self.disk.volumes)


@contextmanager
def looked_into(path: Given, options: Options, look: Look) -> Iterator[OpenDisk]:
    """Open an image and read what is on its disk; the image is never written to.

    Raises:
        ImagekeeperError: The file cannot be read or understood, has gaps, or an option does not fit it.
    """
    check_code_page(look.code_page)
    with loaded(path, options) as file:
        data = whole(file)
        geometry = None if look.geometry is None else geometry_of(look.geometry)
        if look.sides_from not in (None, "alternating"):
            assert look.sides_from is not None
            data = _in_order(data, geometry, look.sides_from, file.name)
        grid = None if geometry is None else grid_of(geometry)
        how = ReadingOptions(deleted=look.deleted, code_page=look.code_page, check=look.check, grid=grid)
        recognise: Recognise = registry.recognise
        if look.parameter_block is not None:
            recognise = DirectoryReader(parse_parameters(look.parameter_block)).recognise
        if look.interleave is not None:
            data = _by_number(data, grid, look.interleave, file.name)
        solving = Solving(data)
        bad = None if look.bad_sectors is None else listed(look.bad_sectors)

        def read(how: ReadingOptions) -> tuple[DiskVolumes, tuple[Finding, ...]]:
            disk = read_disk(data, how, solving.grids(), only=look.partition, recognise=recognise)
            if look.partition is not None and all(one.number != look.partition for one in disk.partitions):
                raise _no_partition(look.partition, disk, file.name)
            if bad is not None:
                disk = _marked(disk, bad, file.name)
            findings = [*disk.findings, *(one for volume in disk.volumes for one in volume.findings)]
            findings = [replace(one, where=replace(one.where, file=file.name)) for one in findings]
            if len(data) <= FLOPPY_LIMIT:
                said = None if geometry is None else known(geometry)
                found = reading_faults(data, solving.solution, said)
                # what the reading did goes first: the rest may follow from it
                findings = [*(replace(one, where=Where(file=file.name)) for one in found), *findings]
            return disk, tuple(findings)

        disk, findings = read(how)
        count = None if bad is None else bad_sectors.count(bad, disk.grid)
        yield OpenDisk(
            file=file, data=data, disk=disk, findings=findings, bad=count,
            checked=lambda: findings if look.check else read(replace(how, check=True))[1],
        )  # fmt: skip


def whole(file: Loaded) -> Data:
    """Give the bytes of an image that has no gaps.

    Raises:
        InputError: `gaps`.
    """
    image = file.image
    if len(image.segments) != 1:
        raise InputError("gaps/disk", pieces=len(image.segments), where=Where(file=file.name))
    data = image.segments[0].data
    return data if len(data) > FLOPPY_LIMIT else data[:]   # a floppy disk is read again and again


def geometry_of(text: str) -> tuple[int, int, int, int, tuple[int, int] | None]:
    """Read cylinders, heads, sectors and bytes, as typed or by the name of a format."""
    from imagekeeper.floppy import formats  # the tables come with it

    figures = formats.geometry_of(text)
    if figures:
        return (*figures, None)
    one = Geometry.of(formats.find(text))
    return one.cylinders, one.heads, one.sectors, one.sector_bytes, one.first_track


def grid_of(geometry: tuple[int, int, int, int, tuple[int, int] | None]) -> SectorGrid:
    """Take figures as a geometry.

    Raises:
        UsageError: `usage` where no disk has them.
    """
    cylinders, heads, sectors, size, first = geometry
    if not (1 <= heads <= 255 and 1 <= sectors <= 255 and 32 <= size <= 16384 and 1 <= cylinders <= 65535):
        raise UsageError("usage/geometry", cylinders=cylinders, heads=heads, sectors=sectors, size=size)
    return SectorGrid(heads=heads, sectors=sectors, sector_bytes=size, cylinders=cylinders, first_track=first)


class Solving:
    """The question which floppy disk an image may be, answered once, and only where somebody asks.

    Args:
        data: The image.
    """

    def __init__(self, data: Data) -> None:
        self._data = data

    @cached_property
    def solution(self) -> GeometrySolution:
        """The answer."""
        from imagekeeper.geometry import solve  # slow to load: only where a disk is worked out

        return solve(self._data[:])

    def grids(self) -> Iterator[SectorGrid]:
        """Geometries that a floppy disk may have; none for an image that is too large for one."""
        if len(self._data) > FLOPPY_LIMIT:
            return
        for one in self.solution.candidates[:4]:
            if not one.data_start:
                yield SectorGrid(
                    heads=one.heads, sectors=one.sectors, sector_bytes=one.sector_bytes, cylinders=one.cylinders
                )


def _in_order(
    data: Data, geometry: tuple[int, int, int, int, tuple[int, int] | None] | None, order: SideOrder, name: str
) -> bytes:
    """Put the sides in order, by the geometry given or the one that the image shows."""
    if len(data) > 64 * MIB:
        raise UsageError("usage/no-floppy-size", size=len(data), where=Where(file=name))
    if geometry is None:
        best = next((one for one in Solving(data).solution.candidates if one.exact and one.heads == 2), None)
        if best is None:
            raise UsageError("usage/sides-without-geometry", where=Where(file=name))
        geometry = (best.cylinders, best.heads, best.sectors, best.sector_bytes, None)
    return order_sides(data[:], known(geometry), order, "alternating")


def known(geometry: tuple[int, int, int, int, tuple[int, int] | None]) -> Geometry:
    """Take figures as the geometry of an image."""
    cylinders, heads, sectors, size, first = geometry
    return Geometry(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size, first_track=first)


def _by_number(data: Data, grid: SectorGrid | None, step: int, name: str) -> Data:
    """Give the sectors of each track by number, by the geometry given or the one that the disk shows."""
    if grid is None:
        grid = read_disk(data, ReadingOptions()).grid
    if grid is None or len(data) <= FLOPPY_LIMIT:
        raise UsageError("usage/interleave-without-geometry", where=Where(file=name))
    if not 1 <= step < grid.sectors:
        raise UsageError("usage/no-interleave", step=step, sectors=grid.sectors, where=Where(file=name))
    return ByNumber(data, grid.sectors, grid.sector_bytes, step)


def _no_partition(number: int, disk: DiskVolumes, name: str) -> NotFoundError:
    have = ", ".join(str(one.number) for one in disk.partitions if not one.is_extended)
    if not have:
        return NotFoundError("not-found/no-partitions", number=number, where=Where(file=name))
    return NotFoundError("not-found/partition", number=number, have=have, where=Where(file=name))


def listed(path: str) -> tuple[bad_sectors.Bad, ...]:
    """Read a list of bad sectors.

    Raises:
        ImagekeeperError: The file cannot be read or understood.
    """
    name = display_name(path)
    with opened(path) as (file, _):
        text = read_limited(file, _LIST_LIMIT, name).decode("utf-8", "replace")
    return bad_sectors.parse(text, name)


def _marked(disk: DiskVolumes, bad: tuple[bad_sectors.Bad, ...], name: str) -> DiskVolumes:
    try:
        places = bad_sectors.extents(bad, disk.grid)
    except UsageError as problem:
        raise problem.at(file=name) from problem.__cause__
    held = tuple(
        replace(one, volume=bad_sectors.mark(one.volume, places)) if one.volume is not None else one
        for one in disk.held
    )
    return replace(disk, held=held)
