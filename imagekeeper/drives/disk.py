"""What a drive must cope with: a disk without what its sectors hold."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.errors import UsageError
from imagekeeper.tables.drives import medium_rows
from imagekeeper.tables.floppy import FormatRow

#: The ways of recording, in words.
ENCODINGS: dict[str, str] = {"fm": "FM", "mfm": "MFM", "perpendicular": "perpendicular recording"}


@dataclass(frozen=True, kw_only=True)
class DiskForDrive:
    """A disk as a drive sees it.

    Attributes:
        format: The id of its format in the catalogue, or null.
        title: What it is.
        disk_inch: 8, 5.25 or 3.5. [inch]
        tracks_per_inch: 48, 96, 100 or 135.
        cylinders: How many.
        heads: 1 or 2.
        encoding: fm, mfm or perpendicular.
        data_rate: At `rotation`. [bit/s]
        rotation: Of the drive that it was made for. [rev/min]
        medium: The id of the class of disks.
        first_track_fm: Whether track 00 of side 0 is in FM where the rest is not.

    Raises:
        UsageError: A number is not positive, or encoding or medium is none of those known.
    """

    format: str | None
    title: str
    disk_inch: float
    tracks_per_inch: int
    cylinders: int
    heads: int
    encoding: str
    data_rate: float
    rotation: float
    medium: str
    first_track_fm: bool = False

    def __post_init__(self) -> None:
        numbers = (self.tracks_per_inch, self.cylinders, self.heads, self.data_rate, self.rotation)
        if not all(0 < number < 1e9 for number in numbers):
            raise UsageError(
                "usage", "there is no such disk", why="its tracks, heads, data rate and rotation must be above 0",
                hint="give the disk as it is, or name its format",
            )  # fmt: skip
        for name, known in ((self.medium, list(medium_rows())), (self.encoding, list(ENCODINGS))):
            if name not in known:
                raise UsageError(
                    "unknown-name", "there is no such disk", why=f"{name!r} is not one of {', '.join(known)}",
                    hint="take one of these",
                )  # fmt: skip

    @classmethod
    def of(cls, row: FormatRow) -> DiskForDrive:
        """Take what matters to a drive from a format.

        Example:
            >>> from imagekeeper.tables.floppy import format_rows
            >>> DiskForDrive.of(format_rows()["8-77x1x26x128-fm"]).bits_per_revolution
            83333.33333333333
        """
        return cls(
            format=row.id, title=row.title, disk_inch=row.disk_inch, tracks_per_inch=row.tracks_per_inch,
            cylinders=row.cylinders, heads=row.heads, encoding=row.encoding, data_rate=row.data_rate,
            rotation=row.rotation, medium=row.medium,
            first_track_fm=row.first_track is not None and row.first_track.encoding == "fm" != row.encoding,
        )  # fmt: skip

    @property
    def mfm_rate(self) -> float:
        """The data rate of MFM with cells as long as these: FM spends two cells where MFM spends one. [bit/s]"""
        return self.data_rate * (2 if self.encoding == "fm" else 1)

    @property
    def bits_per_revolution(self) -> float:
        """Bits of MFM that fill its track: what a drive at any speed must write in a revolution."""
        return self.mfm_rate * 60 / self.rotation

    @property
    def track_bytes(self) -> int:
        """What its track holds, recorded as it is. [byte]

        Example:
            >>> from imagekeeper.tables.floppy import format_rows
            >>> [DiskForDrive.of(format_rows()[name]).track_bytes for name in ("8-77x1x26x128-fm", "8-77x2x8x1024")]
            [5208, 10416]
        """
        return int(self.data_rate * 60 / self.rotation / 8)

    @property
    def says(self) -> str:
        """The disk in words.

        Example:
            >>> from imagekeeper.tables.floppy import format_rows
            >>> DiskForDrive.of(format_rows()["5.25-40x2x9x512"]).says
            'PC 360K: 5.25-inch disk, 40 tracks of 48 tpi on two sides, MFM, 250 kbit/s at 300 rev/min'
        """
        sides = "two sides" if self.heads == 2 else "one side" if self.heads == 1 else f"{self.heads} sides"
        return (
            f"{self.title}: {self.disk_inch:g}-inch disk, {self.cylinders} tracks of {self.tracks_per_inch} tpi on "
            f"{sides}, {ENCODINGS[self.encoding]}, {self.data_rate / 1000:g} kbit/s at {self.rotation:g} rev/min"
        )
