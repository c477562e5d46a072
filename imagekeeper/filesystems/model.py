"""The model of what is on a disk, the same for every kind of file system: volumes, entries, extents, problems.

Every offset is one in the image, so that each byte of a file can be traced to the sectors that it came from; where the
geometry of the disk is known, `SectorGrid` names them. Problems are findings, as everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

from imagekeeper.containers.model import Data
from imagekeeper.findings import Finding
from imagekeeper.ranked import Candidate, Evidence

EntryKind = Literal["file", "directory"]

#: Attributes of an entry, in words; file systems have others besides.
ATTRIBUTES = ("read-only", "hidden", "system", "archive")


@dataclass(frozen=True)
class SectorPlace:
    """Where a sector lies on the disk.

    Attributes:
        cylinder: Counted from 0.
        head: Counted from 0.
        sector: As the disk numbers them, mostly from 1.
    """

    cylinder: int
    head: int
    sector: int

    def __str__(self) -> str:
        """Write cylinder/head/sector, as the trade does.

        Example:
            >>> print(SectorPlace(39, 1, 9))
            39/1/9
        """
        return f"{self.cylinder}/{self.head}/{self.sector}"


@dataclass(frozen=True, kw_only=True)
class SectorGrid:
    """How the sectors of an image follow each other on the disk: track by track, the sides alternating.

    Attributes:
        heads: How many.
        sectors: On each track.
        sector_bytes: Size of a sector. [byte]
        cylinders: How many, or null where only the rest is known.
        first_sector: The number of the first sector of a track.
        first_track: Sectors and their size on track 00 of side 0 where they are others, or null. [1, byte]

    Example:
        >>> pc_360k = SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40)
        >>> print(pc_360k.place(0), pc_360k.place(512 * 18), pc_360k.offset(SectorPlace(1, 0, 1)))
        0/0/1 1/0/1 9216
    """

    heads: int
    sectors: int
    sector_bytes: int
    cylinders: int | None = None
    first_sector: int = 1
    first_track: tuple[int, int] | None = None

    def place(self, offset: int) -> SectorPlace:
        """Name the sector that holds the byte at an offset of the image."""
        count, size = self.first_track or (self.sectors, self.sector_bytes)
        track, rest = 0, offset
        if offset >= count * size:
            track, rest = divmod(offset - count * size, self.sectors * self.sector_bytes)
            track, size = track + 1, self.sector_bytes
        return SectorPlace(*divmod(track, self.heads), rest // size + self.first_sector)

    def offset(self, place: SectorPlace) -> int:
        """Give the offset in the image at which a sector begins. [byte]"""
        count, size = self.first_track or (self.sectors, self.sector_bytes)
        track = place.cylinder * self.heads + place.head
        number = place.sector - self.first_sector
        if not track:
            return number * size
        return count * size + ((track - 1) * self.sectors + number) * self.sector_bytes

    def size_at(self, place: SectorPlace) -> int:
        """Give the size of a sector. [byte]"""
        first = self.first_track and not place.cylinder and not place.head
        return self.first_track[1] if self.first_track and first else self.sector_bytes

    def holds(self, place: SectorPlace) -> bool:
        """Whether there is such a sector on the disk."""
        count = self.first_track[0] if self.first_track and not place.cylinder and not place.head else self.sectors
        return (
            0 <= place.head < self.heads and 0 <= place.sector - self.first_sector < count
            and place.cylinder >= 0 and (self.cylinders is None or place.cylinder < self.cylinders)
        )  # fmt: skip

    def places(self, start: int, length: int) -> Iterator[SectorPlace]:
        """Name all sectors that a stretch of the image touches."""
        at = start
        while at < start + length:
            place = self.place(at)
            yield place
            at = self.offset(place) + self.size_at(place)

    @property
    def text(self) -> str:
        """Cylinders, heads, sectors and bytes, as the trade writes them."""
        return f"{self.cylinders or '?'}x{self.heads}x{self.sectors}x{self.sector_bytes}"


@dataclass(frozen=True, slots=True)
class Extent:
    """Bytes that follow each other in the image.

    Attributes:
        start: Offset in the image, or null for a hole: bytes of a file that were never given a place. [byte]
        length: How many. [byte]
    """

    start: int | None
    length: int


def joined(pieces: Iterable[tuple[int | None, int]]) -> tuple[Extent, ...]:
    """Join pieces (start, length) that follow each other into as few extents as can be, their order kept.

    Example:
        >>> joined([(0, 512), (512, 512), (2048, 512), (None, 512), (None, 128)])[1:]
        (Extent(start=2048, length=512), Extent(start=None, length=640))
    """
    found: list[tuple[int | None, int]] = []
    for start, length in pieces:
        if found and length:
            before, size = found[-1]
            if start == (None if before is None else before + size):
                found[-1] = before, size + length
                continue
        if length:
            found.append((start, length))
    return tuple(Extent(*one) for one in found)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A file or a directory, as its directory states it.

    Attributes:
        path: Directories and name, printable, parted by slashes, without one in front. A long name stands here where
            there is one. Names may come twice on damaged disks.
        name: The name alone, printable: name, dot and type where the system parts them so.
        name_hex: The name's exact bytes as the directory holds them, padding included, in hexadecimal.
        kind: file or directory.
        size_bytes: What the directory states, or what follows from it; 0 for directories that state none. [byte]
        extents: Where the bytes lie, in order: of a file exactly its size where all are there. [byte]
        entries_at: Offsets of the directory entries that make up this one; none for a root directory. [byte]
        long_name: The long name, or null.
        group: The user number or whatever else parts the files of one directory, or null.
        attributes: In words, such as read-only.
        size_grain: The size is known only to a multiple of this; 1 where it is exact. [byte]
        modified: Time of last change, RFC 3339 without a zone: what the clock of that machine said. Seconds are even
            where the file system counts by twos. Null where there is none, or none that can be.
        created: Time of creation in the same way, or null.
        accessed: Day of last use, or null.
        deleted: Whether the entry is marked deleted: then size and extents are what is left to be guessed from.
        complete: Whether the extents give all bytes of the stated size.
        bad: Parts of the extents that a list of bad sectors names. [byte]
    """

    path: str
    name: str
    name_hex: str
    kind: EntryKind
    size_bytes: int
    extents: tuple[Extent, ...]
    entries_at: tuple[int, ...] = ()
    long_name: str | None = None
    group: str | None = None
    attributes: tuple[str, ...] = ()
    size_grain: int = 1
    modified: str | None = None
    created: str | None = None
    accessed: str | None = None
    deleted: bool = False
    complete: bool = True
    bad: tuple[Extent, ...] = ()

    @property
    def raw_name(self) -> bytes:
        """The name's exact bytes."""
        return bytes.fromhex(self.name_hex)

    def blocks(self, data: Data, hole: int = 0) -> Iterator[bytes]:
        """Give the bytes piece by piece; holes are filled with one value.

        Args:
            data: The image that the extents refer to.
            hole: The value for bytes without a place.
        """
        for extent in self.extents:
            for at in range(0, extent.length, 1 << 20):
                size = min(1 << 20, extent.length - at)
                if extent.start is None:
                    yield bytes([hole]) * size
                else:
                    yield data[extent.start + at : extent.start + at + size]


@dataclass(frozen=True)
class RunnerUp:
    """The next best answer that would give other files.

    Attributes:
        title: What the volume would be, in words.
        behind: By how much its evidence weighs less.
    """

    title: str
    behind: float


@dataclass(frozen=True)
class Area:
    """A part of the volume that belongs to the file system itself.

    Attributes:
        name: What it is: boot sector, FAT 1, root directory.
        start: Offset in the image. [byte]
        length: How many. [byte]
    """

    name: str
    start: int
    length: int


@dataclass(frozen=True)
class Boot:
    """Whether a machine could start from the volume, as far as its bytes tell.

    Attributes:
        likely: true, false, or null where the evidence does not say.
        says: The conclusion in a sentence.
        evidence: For and against.
    """

    likely: bool | None
    says: str
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True)
class Volume:
    """One file system and what is in it.

    Attributes:
        kind: fat12, fat16, fat32, or the name of another file system.
        title: What it is, in words.
        start: Where it begins in the image. [byte]
        length: Its size as it states itself; the image may be shorter. [byte]
        unit_bytes: What files are given at a time: a cluster or block. [byte]
        units: How many there are.
        free_units: How many are free.
        entries: Depth first, each directory before what is in it, in the order of the directories.
        areas: What belongs to the file system itself, ascending.
        free: What is free, ascending. [byte]
        marked_bad: What the file system itself marks as bad, ascending. [byte]
        grid: The geometry of the disk as far as it is known, or null.
        label: The volume's name, or null.
        serial: Its number as the system shows it, or null.
        code_page: In which code names were read, or null where there is only one.
        parameters: What else the file system states, by name.
        boot: Whether a machine could start from it, or null where that was not looked into.
        evidence: Why it was taken for this kind.
        findings: What is wrong with it; in documents these stand together at the top.
        partition: The number of the partition that holds it, or null where the whole disk does.
        runner_up: The next best answer that would give other files, or null where there is none.
    """

    kind: str
    title: str
    start: int
    length: int
    unit_bytes: int
    units: int
    free_units: int
    entries: tuple[Entry, ...]
    areas: tuple[Area, ...] = ()
    free: tuple[Extent, ...] = ()
    marked_bad: tuple[Extent, ...] = ()
    grid: SectorGrid | None = None
    label: str | None = None
    serial: str | None = None
    code_page: str | None = None
    parameters: dict[str, Any] = field(default_factory=dict)
    boot: Boot | None = None
    evidence: tuple[Evidence, ...] = ()
    findings: tuple[Finding, ...] = ()
    partition: int | None = None
    runner_up: RunnerUp | None = None


@dataclass(frozen=True, kw_only=True)
class Recognised:
    """A file system that may lie in some bytes: what a reader needs to read it.

    Attributes:
        reader: The name of the reader that can read it.
        kind: The kind of volume that it would be.
        title: What it would be, in words.
        detail: What only that reader understands.
        grid: The geometry that goes with it, or None.
        weight: All evidence together, comparable between the answers of one reader.
        gives: What files would come of it: equal where two answers give the same; None where the bytes state it.
        unusual: What is unusual about it, in words; nothing that a person said.
    """

    reader: str
    kind: str
    title: str
    detail: Any = None
    grid: SectorGrid | None = None
    weight: float = 0.0
    gives: int | None = None
    unusual: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ReadingOptions:
    """How a volume is to be read.

    Attributes:
        deleted: Also give what is marked deleted.
        code_page: The name of the code of names, as Python knows it; readers of systems with one code ignore it.
        check: Look for everything that can be wrong, not only for what is met on the way.
        start: Where the bytes given begin in the image: added to every offset that is answered. [byte]
        grid: The geometry of the image, or None.
    """

    deleted: bool = False
    code_page: str = "cp437"
    check: bool = False
    start: int = 0
    grid: SectorGrid | None = None


class FileSystemReader(Protocol):
    """Reads one family of file systems. Put into the list of `registry`, it takes part in every command."""

    @property
    def name(self) -> str:
        """The name by which `Recognised` refers to it."""
        ...

    def recognise(
        self, data: Data, grid: SectorGrid | None, others: Callable[[], Sequence[SectorGrid]] = tuple
    ) -> Sequence[Candidate[Recognised]]:  # fmt: skip
        """Say what the bytes may be, best first; nothing for what cannot be.

        Scores are comparable between readers: 0.9 and more for what the bytes state and the check confirms, about 0.5
        for what merely fits.

        Args:
            data: The whole of the volume: an image, or one partition of it.
            grid: The geometry of the disk, or None where it is not known.
            others: Gives geometries that the disk may have, best first; asked only where there is none.
        """
        ...

    def read(self, data: Data, found: Recognised, how: ReadingOptions) -> Volume:
        """Read what `recognise` found; damage is answered by findings, never by an error."""
        ...
