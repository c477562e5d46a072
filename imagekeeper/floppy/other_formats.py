"""Disks of other recordings: what the table tells of one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.tables import Basis, Dispute, sources
from imagekeeper.tables.other_disks import OddTrack, OtherDisk


@dataclass(frozen=True)
class Zone:
    """Tracks that are alike.

    Attributes:
        first: The outermost of them, counted from 0.
        last: The innermost.
        sectors: On each.
        rotation: At which the drive turns there. [rev/min]
    """

    first: int
    last: int
    sectors: int
    rotation: float


@dataclass(frozen=True, kw_only=True)
class OtherFormat:
    """What is known of a disk of another recording: no common controller writes it in the common manner.

    Attributes:
        id: Its name.
        title: What it is.
        aliases: Other names.
        disk_inch: Size of the disk. [inch]
        tracks_per_inch: How many.
        cylinders: How many; they count from 0.
        heads: 1 or 2.
        geometry: Cylinders x heads x sectors x bytes; where tracks differ, the fewest and the most sectors of one.
        zones: From the outermost in, on each side.
        sector_bytes: [byte]
        last_sector_bytes: The size of one sector more behind the others of each track, or null. [byte]
        bytes: Size of an image of the whole disk. [byte]
        encoding: fm, mfm, m2fm, mmfm (IDs in FM, data in modified MFM) or gcr (group code).
        cell_rate: On the outermost track; in FM and MFM two cells are a bit. [1/s]
        holes: Sector holes beside the index hole.
        whole_tracks: Whether a track is written at once, without gaps.
        medium: The class of media.
        first_tracks: Track 00 of side 0, then of side 1, where they are others.
        machines: Whose disk it may be, or null.
        note: What else must be known, or null.
        sources: The documents that this rests on.
        derived: Members that follow from others, with the rule.
        unsourced: Members from memory, wholly or in part.
        disputed: What speaks against a member.
    """

    SCHEMA: ClassVar[Literal["other-format/1"]] = "other-format/1"

    id: str
    title: str
    aliases: tuple[str, ...]
    disk_inch: float
    tracks_per_inch: float
    cylinders: int
    heads: int
    geometry: str
    zones: tuple[Zone, ...]
    sector_bytes: int
    last_sector_bytes: int | None
    bytes: int
    encoding: str
    cell_rate: int
    holes: int
    whole_tracks: bool
    medium: str
    first_tracks: tuple[OddTrack, ...]
    machines: str | None
    note: str | None
    sources: tuple[Basis, ...]
    derived: dict[str, str]
    unsourced: tuple[str, ...]
    disputed: tuple[Dispute, ...]


def describe_other(row: OtherDisk) -> OtherFormat:
    """Tell all that is known of a disk of another recording.

    Example:
        >>> from imagekeeper.tables.other_disks import other_disks
        >>> describe_other(other_disks()["5.25-35x1-683x256-gcr"]).zones[1]
        Zone(first=17, last=23, sectors=19, rotation=300)
    """
    zones, first = [], 0
    for number, (tracks, sectors) in enumerate(row.zones):
        speed = row.rotations[number] if row.rotations else row.rotation
        zones.append(Zone(first, first + tracks - 1, sectors, speed))
        first += tracks
    return OtherFormat(
        id=row.id, title=row.title, aliases=row.aliases, disk_inch=row.disk_inch, tracks_per_inch=row.tracks_per_inch,
        cylinders=row.cylinders, heads=row.heads, geometry=row.geometry, zones=tuple(zones),
        sector_bytes=row.sector_bytes, last_sector_bytes=row.last_sector_bytes, bytes=row.bytes, encoding=row.encoding,
        cell_rate=row.cell_rate, holes=row.holes, whole_tracks=row.whole_tracks, medium=row.medium,
        first_tracks=row.first_tracks, machines=row.machines, note=row.note,
        sources=tuple(Basis(sources()[cited.id], cited.gives) for cited in row.sources), derived=row.derived,
        unsourced=row.unsourced, disputed=row.disputed,
    )  # fmt: skip
