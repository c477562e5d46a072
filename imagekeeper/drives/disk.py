"""What a drive must cope with: a disk without what its sectors hold."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.errors import UsageError
from imagekeeper.tables import other_disks
from imagekeeper.tables.drives import medium_rows
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.tables.other_disks import OtherDisk

#: The ways of recording of common controllers, in words.
ENCODINGS: dict[str, str] = {"fm": "FM", "mfm": "MFM", "perpendicular": "perpendicular recording"}

#: All of them.
RECORDED = other_disks.ENCODINGS | ENCODINGS


@dataclass(frozen=True, kw_only=True)
class DiskForDrive:
    """A disk as a drive sees it.

    Attributes:
        format: The id of its format in the catalogue, or null.
        title: What it is.
        disk_inch: Its size. [inch]
        tracks_per_inch: 48, 96, 100, 135 or 200.
        cylinders: How many.
        heads: 1 or 2.
        encoding: fm, mfm or perpendicular; m2fm, mmfm or gcr for disks of other recordings.
        data_rate: At `rotation`. [bit/s]
        rotation: Of the drive that it was made for. [rev/min]
        medium: The id of the class of disks.
        first_track_fm: Whether track 00 of side 0 is in FM where the rest is not.
        own_controller: Whether no controller for soft-sectored FM or MFM finds its sectors.
        holes: Sector holes beside the index hole.

    Raises:
        UsageError: A number is not positive, or encoding or medium is none of those known.
    """

    format: str | None
    title: str
    disk_inch: float
    tracks_per_inch: float
    cylinders: int
    heads: int
    encoding: str
    data_rate: float
    rotation: float
    medium: str
    first_track_fm: bool = False
    own_controller: bool = False
    holes: int = 0

    def __post_init__(self) -> None:
        numbers = (self.tracks_per_inch, self.cylinders, self.heads, self.data_rate, self.rotation)
        if not all(0 < number < 1e9 for number in numbers):
            raise UsageError("usage/no-such-disk")
        for name, known in ((self.medium, list(medium_rows())), (self.encoding, list(RECORDED))):
            if name not in known:
                raise UsageError("unknown-name/disk", name=name, known=known)

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

    @classmethod
    def of_other(cls, row: OtherDisk) -> DiskForDrive:
        """Take what matters to a drive from a disk of another recording.

        Example:
            >>> from imagekeeper.tables.other_disks import other_disks
            >>> DiskForDrive.of_other(other_disks()["5.25-35x1x10x256-fm-10holes"]).data_rate
            125000.0
        """
        return cls(
            format=row.id, title=row.title, disk_inch=row.disk_inch, tracks_per_inch=row.tracks_per_inch,
            cylinders=row.cylinders, heads=row.heads, encoding=row.encoding,
            data_rate=row.cell_rate / (1 if row.encoding == "gcr" else 2), rotation=row.rotation, medium=row.medium,
            first_track_fm=bool(row.first_tracks) and row.encoding != "fm", holes=row.holes,
            own_controller=row.encoding not in ENCODINGS or row.whole_tracks or row.holes > 0,
        )  # fmt: skip

    @property
    def coated(self) -> str:
        """The id of the class of disks whose coating it has, sector holes left aside: what a drive is made for."""
        return medium_rows()[self.medium].coated

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
            f"{self.title}: {self.disk_inch:g}-inch disk, {self.cylinders} tracks of {self.tracks_per_inch:g} tpi on "
            f"{sides}, {RECORDED[self.encoding]}, {self.data_rate / 1000:g} kbit/s at {self.rotation:g} rev/min"
        )
