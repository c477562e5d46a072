"""The rows of other_disks.toml: disks that a controller for FM and MFM does not write in the common manner."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from imagekeeper.tables import Cited, Dispute, bases, load
from imagekeeper.tables.floppy import GROUNDS, FormatRow, format_rows

#: The ways of recording of these disks, in words.
ENCODINGS: dict[str, str] = {
    "fm": "FM", "mfm": "MFM", "m2fm": "M2FM", "mmfm": "FM with data in modified MFM", "gcr": "group code",
}  # fmt: skip


@dataclass(frozen=True)
class OddTrack:
    """Track 00 of a side where it is recorded in another way than the rest.

    Attributes:
        encoding: fm or mfm.
        sectors: How many.
        sector_bytes: Their size. [byte]
    """

    encoding: str
    sectors: int
    sector_bytes: int


@dataclass(frozen=True, kw_only=True)
class OtherDisk:
    """A disk of another recording as its row gives it.

    Attributes:
        id: Its name.
        title: What it is.
        disk_inch: Size of the disk. [inch]
        tracks_per_inch: Of one side.
        cylinders: How many.
        heads: 1 or 2.
        zones: Tracks on each side, the outermost first, and the sectors of each of them.
        sector_bytes: Size of a sector. [byte]
        encoding: fm, mfm, m2fm, mmfm or gcr.
        cell_rate: On the outermost track; in FM and MFM two cells are a bit. [1/s]
        rotation: On the outermost track. [rev/min]
        holes: Sector holes beside the index hole.
        medium: The id of the class of media.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        aliases: Other names under which it is known.
        last_sector_bytes: The size of one sector more behind the others of each track, or null. [byte]
        first_tracks: Track 00 of side 0, then of side 1, where they are others.
        whole_tracks: Whether a track is written at once, without gaps.
        rotations: The speed in each zone where the drive changes it. [rev/min]
        common: Whether it is the most usual disk of its size.
        machines: Whose disk it may be, or null.
        note: What else must be known, or null.
    """

    id: str
    title: str
    disk_inch: float
    tracks_per_inch: float
    cylinders: int
    heads: int
    zones: tuple[tuple[int, int], ...]
    sector_bytes: int
    encoding: str
    cell_rate: int
    rotation: int
    holes: int
    medium: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    aliases: tuple[str, ...] = ()
    last_sector_bytes: int | None = None
    first_tracks: tuple[OddTrack, ...] = ()
    whole_tracks: bool = False
    rotations: tuple[float, ...] = ()
    common: bool = False
    machines: str | None = None
    note: str | None = None

    @property
    def even(self) -> bool:
        """Whether all tracks are alike."""
        return len(self.zones) == 1 and not self.first_tracks and self.last_sector_bytes is None

    @property
    def sectors(self) -> int:
        """Sectors of the outermost track."""
        return self.zones[0][1] + (self.last_sector_bytes is not None)

    @property
    def bytes(self) -> int:
        """The size of an image of the whole disk. [byte]

        Example:
            >>> other_disks()["5.25-35x1-683x256-gcr"].bytes, other_disks()["3.5-80x2-800x512-gcr"].bytes
            (174848, 819200)
        """
        per_side = sum(tracks * sectors for tracks, sectors in self.zones) * self.sector_bytes
        per_side += self.cylinders * (self.last_sector_bytes or 0)
        plain = self.zones[0][1] * self.sector_bytes
        return per_side * self.heads + sum(one.sectors * one.sector_bytes - plain for one in self.first_tracks)

    @property
    def geometry(self) -> str:
        """Cylinders, heads, sectors and bytes; where tracks differ, the most sectors that one has.

        Example:
            >>> other_disks()["5.25-35x1x16x256-gcr"].geometry, other_disks()["3.5-80x1-800x512-gcr"].geometry
            ('35x1x16x256', '80x1x8-12x512')
        """
        counts = sorted({sectors for _, sectors in self.zones})
        sectors = str(counts[0]) if len(counts) == 1 else f"{counts[0]}-{counts[-1]}"
        more = f"+{self.last_sector_bytes}" if self.last_sector_bytes else ""
        return f"{self.cylinders}x{self.heads}x{sectors}x{self.sector_bytes}{more}"


@cache
def other_disks() -> dict[str, OtherDisk]:
    """Every disk of another recording, by its id, in the order of the table.

    Example:
        >>> other_disks()["5.25-35x1x10x256-fm-10holes"].holes
        10
    """
    return {row["id"]: _disk(row) for row in load("other_disks")["disk"]}


def _disk(row: dict[str, Any]) -> OtherDisk:
    plain: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in row.items()
        if name not in (*GROUNDS, "zones", "first_tracks")
    }
    zones = tuple((tracks, sectors) for tracks, sectors in row["zones"])
    first = tuple(OddTrack(**one) for one in row.get("first_tracks", ()))
    return OtherDisk(**plain, zones=zones, first_tracks=first, **{"derived": {}} | bases(row))


def of_size(size: int) -> tuple[FormatRow | OtherDisk, ...]:
    """Give every disk of the tables whose image has a size: those of formats.toml first.

    Example:
        >>> [one.id for one in of_size(89_600)]
        ['5.25-35x1x10x256-fm', '5.25-35x1x10x256-fm-10holes']
    """
    formats = (row for row in format_rows().values() if row.bytes == size)
    return (*formats, *(disk for disk in other_disks().values() if disk.bytes == size))
