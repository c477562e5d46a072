"""Shapes: cylinders, heads, sectors and how they are recorded; those of the table, and those that drives could hold.

Two formats of the table that differ only in the size of the disk are one shape here: a controller
cannot tell them apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from imagekeeper.floppy.layout import bytes_per_track, gap3_most
from imagekeeper.floppy.recording import recording
from imagekeeper.own import remembered
from imagekeeper.tables.floppy import FirstTrack, FormatRow, format_rows

#: Drives step a little beyond their last standard track; so many cylinders more are met. Common practice, no source.
EXTRA_CYLINDERS = 3

#: Formats with so many cylinders are the data area of a disk that has more.
PART_OF_A_DISK = (73, 74)

#: Speeds whose tracks are those of a common speed within some hundredths: the disks are one shape, and no others are
#: made up for them. [rev/min]
_TWINS = {288: 300}

#: The shortest index gap that a controller accepts. Source: Western Digital, FD 179X-02 data sheet, May 1980,
#: "Non-IBM formats", gap 1. [byte]
_INDEX_GAP = {"fm": 16, "mfm": 32, "perpendicular": 32}


@dataclass(frozen=True)
class Track:
    """How a track is recorded.

    Attributes:
        encoding: fm, mfm or perpendicular.
        data_rate: [bit/s]
        rotation: [rev/min]
    """

    encoding: str
    data_rate: int
    rotation: float

    @property
    def bytes(self) -> int:
        """Whole bytes of one revolution, by which drives of two speeds are compared. [byte]

        Example:
            >>> Track("mfm", 250_000, 300).bytes == Track("mfm", 300_000, 360).bytes
            True
        """
        return bytes_per_track(self.data_rate, self.rotation)

    def too_many(self, sectors: int, sector_bytes: int) -> int:
        """By how many bytes sectors exceed the track, even without any gap between them; 0 when they fit. [byte]

        Source:
            The fields of the controllers' tracks, as `imagekeeper.floppy.layout` has them.

        Example:
            >>> Track("mfm", 250_000, 300).too_many(18, 512), Track("mfm", 500_000, 300).too_many(18, 512)
            (4114, 0)
        """
        form = recording(self.encoding)
        return max(_INDEX_GAP[self.encoding] + sectors * (form.overhead + sector_bytes) - self.bytes, 0)

    def most(self, sector_bytes: int) -> int:
        """How many sectors of a size fit, with at least one byte between them."""
        form = recording(self.encoding)
        return max(self.bytes - _INDEX_GAP[self.encoding], 0) // (form.overhead + sector_bytes + 1)

    def holds(self, sectors: int, sector_bytes: int) -> bool:
        """Whether so many sectors fit."""
        gap3 = gap3_most(self.bytes, _INDEX_GAP[self.encoding], recording(self.encoding), sectors, sector_bytes)
        return gap3 is not None and gap3 >= 1

    def __str__(self) -> str:
        return f"{recording(self.encoding).title}, {self.data_rate / 1000:g} kbit/s at {self.rotation:g} rev/min"


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A geometry with its recording.

    Attributes:
        cylinders: How many.
        heads: 1 or 2.
        sectors: On each track.
        sector_bytes: [byte]
        track: How they are recorded.
        first_track: The exception for track 00 of side 0, or None.
        formats: The ids of the table's formats of this very shape, the most usual first.
    """

    cylinders: int
    heads: int
    sectors: int
    sector_bytes: int
    track: Track
    first_track: FirstTrack | None = None
    formats: tuple[str, ...] = ()

    @property
    def track_bytes(self) -> int:
        """[byte]."""
        return self.sectors * self.sector_bytes

    @property
    def cylinder_bytes(self) -> int:
        """[byte]."""
        return self.heads * self.track_bytes

    @property
    def tracks(self) -> int:
        """Tracks of all sides."""
        return self.cylinders * self.heads

    @property
    def bytes(self) -> int:
        """The size of an image. [byte]"""
        return self.track_start(self.tracks)

    @property
    def text(self) -> str:
        """As the trade writes it.

        Example:
            >>> shapes()[0].text
            '40x1x8x512'
        """
        return f"{self.cylinders}x{self.heads}x{self.sectors}x{self.sector_bytes}"

    @property
    def key(self) -> tuple[object, ...]:
        """What tells shapes apart."""
        return self.cylinders, self.heads, self.sectors, self.sector_bytes, self.track, self.first_track

    def track_start(self, number: int) -> int:
        """Where a track begins in the image, counted in the order of the file. [byte]"""
        if self.first_track is None or number == 0:
            return number * self.track_bytes
        return self.first_track.sectors * self.first_track.sector_bytes + (number - 1) * self.track_bytes


@remembered()
def shapes() -> tuple[Shape, ...]:
    """Every shape of the table, in its order, with the formats that share it."""
    return tuple(group(format_rows().values()))


def group(rows: Iterable[FormatRow]) -> Iterator[Shape]:
    """Put rows of the table together by shape; of the formats of one shape, the most usual comes first."""
    found: dict[tuple[object, ...], list[FormatRow]] = {}
    for row in rows:
        shape = _of(row)
        track = replace(shape.track, rotation=_TWINS.get(row.rotation, row.rotation))
        found.setdefault(replace(shape, track=track).key, []).append(row)
    for same in found.values():
        ordered = sorted(same, key=lambda row: -usual(row))
        yield replace(_of(ordered[0]), formats=tuple(row.id for row in ordered))


def _of(row: FormatRow) -> Shape:
    track = Track(row.encoding, row.data_rate, row.rotation)
    return Shape(
        cylinders=row.cylinders, heads=row.heads, sectors=row.sectors, sector_bytes=row.sector_bytes, track=track,
        first_track=row.first_track,
    )  # fmt: skip


def usual(row: FormatRow, *, fat: bool = True) -> float:
    """How usual a format is, as weight of evidence: our judgement, no source.

    Disks of the PC come first, then the layouts of the recording standards, then what single machines wrote; areas of
    a disk, and drives that few machines had, come last.

    Args:
        row: The format.
        fat: Whether it counts that disks with a FAT were written so.

    Example:
        >>> rows = format_rows()
        >>> usual(rows["3.5-80x2x9x512"]) > usual(rows["5.25-80x2x9x512"]) > usual(rows["8-73x1x26x128-fm"])
        True
    """
    if row.cylinders in PART_OF_A_DISK or row.tracks_per_inch == 100:
        return 0.0
    if row.title.startswith("PC "):
        return 3.0 if any(cited.id == "kb-q75131" for cited in row.sources) else 2.0
    return 1.0 + (0.5 if row.standard else 0.0) + (0.5 if fat and row.fat else 0.0) - (
        0.5 if row.first_track or (row.encoding == "fm" and row.cylinders == 80) else 0.0
    )


@remembered()
def usual_cylinders() -> dict[tuple[Track, float], tuple[int, ...]]:
    """Which numbers of cylinders the table has for a recording and a size of disk."""
    found: dict[tuple[Track, float], set[int]] = {}
    for row in format_rows().values():
        if row.cylinders not in PART_OF_A_DISK and row.rotation not in _TWINS:
            track = Track(row.encoding, row.data_rate, row.rotation)
            found.setdefault((track, row.disk_inch), set()).add(row.cylinders)
    return {key: tuple(sorted(counts)) for key, counts in found.items()}
