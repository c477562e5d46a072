"""The rows of formats.toml and standards.toml: disks of the period, and how their tracks are recorded."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from imagekeeper.own import remembered
from imagekeeper.tables import Cited, Dispute, bases, load, rows

#: What a row says of its own grounds.
GROUNDS = ("sources", "derived", "unsourced", "disputed")


@dataclass(frozen=True)
class FirstTrack:
    """Track 00 of side 0 where it is recorded in another way than the rest of the disk.

    Attributes:
        encoding: fm or mfm.
        sectors: How many.
        sector_bytes: Their size. [byte]
        data_rate: [bit/s]
    """

    encoding: str
    sectors: int
    sector_bytes: int
    data_rate: int


@dataclass(frozen=True, kw_only=True)
class FatParameters:
    """How the PC's operating system divides a disk of this format.

    Attributes:
        reserved_sectors: Before the first file allocation table (FAT).
        fats: How many there are.
        fat_sectors: Sectors of each.
        root_entries: Entries of the root directory.
        cluster_sectors: Sectors of a cluster.
        media: The media descriptor byte, which other formats share.
    """

    reserved_sectors: int
    fats: int
    fat_sectors: int
    root_entries: int
    cluster_sectors: int
    media: int


@dataclass(frozen=True, kw_only=True)
class FormatRow:
    """A format as its row gives it.

    Attributes:
        id: Size of the disk, cylinders, heads, sectors and bytes, and what tells it from others of these.
        title: What it is.
        aliases: Other names under which it is known.
        disk_inch: Size of the disk: 8, 5.25 or 3.5. [inch]
        tracks_per_inch: 48, 96, 100 or 135.
        cylinders: How many.
        heads: 1 or 2.
        sectors: On each track.
        sector_bytes: Size of a sector. [byte]
        encoding: fm, mfm or perpendicular.
        data_rate: At `rotation`. [bit/s]
        rotation: Of the drives that the format was made for. [rev/min]
        medium: The id of the class of media.
        standard: The id of the recording standard whose track it is, or null.
        first_track: The exception for track 00 of side 0, or null.
        fat: The file system that usually goes with it, or null.
        note: What else must be known.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    title: str
    disk_inch: float
    tracks_per_inch: int
    cylinders: int
    heads: int
    sectors: int
    sector_bytes: int
    encoding: str
    data_rate: int
    rotation: int
    medium: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    aliases: tuple[str, ...] = ()
    standard: str | None = None
    first_track: FirstTrack | None = None
    fat: FatParameters | None = None
    note: str | None = None

    @property
    def bytes(self) -> int:
        """The size of an image of the whole disk. [byte]

        Example:
            >>> format_rows()["8-77x2x26x256-fm0"].bytes   # 26 sectors of 128 bytes on the first track
            1021696
        """
        tracks = self.cylinders * self.heads
        if self.first_track is None:
            return tracks * self.sectors * self.sector_bytes
        first = self.first_track.sectors * self.first_track.sector_bytes
        return first + (tracks - 1) * self.sectors * self.sector_bytes

    @property
    def geometry(self) -> str:
        """Cylinders, heads, sectors and bytes, as the trade writes them.

        Example:
            >>> format_rows()["5.25-40x2x9x512"].geometry
            '40x2x9x512'
        """
        return f"{self.cylinders}x{self.heads}x{self.sectors}x{self.sector_bytes}"

    @property
    def cells_per_revolution(self) -> float:
        """Cells on a track, which is what a drive of another speed must match: two for every bit.

        Example:
            >>> format_rows()["5.25-40x2x9x512"].cells_per_revolution
            100000.0
        """
        return 2 * self.data_rate * 60 / self.rotation


@remembered()
def format_rows() -> dict[str, FormatRow]:
    """Every format, by its id, in the order of the table.

    Example:
        >>> format_rows()["3.5-80x2x18x512"].title
        'PC 1.44M'
    """
    return {row["id"]: _format(row) for row in rows("format", "formats")}


def _format(row: dict[str, Any]) -> FormatRow:
    plain: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in row.items()
        if name not in (*GROUNDS, "first_track", "fat")
    }
    first = FirstTrack(**row["first_track"]) if "first_track" in row else None
    fat = FatParameters(**row["fat"]) if "fat" in row else None
    return FormatRow(**plain, first_track=first, fat=fat, **{"derived": {}} | bases(row))


@dataclass(frozen=True, kw_only=True)
class StandardRow:
    """A recording standard as its row gives it.

    Attributes:
        id: Its Ecma number.
        size_mm: 200, 130 or 90, which the trade calls 8, 5.25 and 3.5 inch. [mm]
        sides: 1 or 2.
        tracks_per_mm: As printed: 1.9 is 48, 3.8 is 96 and 5.3 is 135 to the inch. [1/mm]
        encoding: fm, mfm or perpendicular.
        flux_per_radian: Flux transitions. [1/rad]
        tracks: On each side.
        rotation: Nominal. [rev/min]
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        iso: The number of the same at ISO, or null.
        ansi: The number of the same at ANSI, or null.
        width_mm: Of the recorded track, or null. [mm]
    """

    id: str
    size_mm: int
    sides: int
    tracks_per_mm: float
    encoding: str
    flux_per_radian: int
    tracks: int
    rotation: int
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    iso: str | None = None
    ansi: str | None = None
    width_mm: float | None = None

    @property
    def bytes_per_track(self) -> int:
        """Whole bytes of one revolution. [byte]

        FM needs up to two flux transitions for a bit, MFM at most one.

        Example:
            >>> rows = standard_rows()
            >>> rows["ecma-66"].bytes_per_track, rows["ecma-70"].bytes_per_track, rows["ecma-99"].bytes_per_track
            (3125, 6250, 10415)
        """
        transitions = 2 * math.pi * self.flux_per_radian
        return math.floor(transitions / (16 if self.encoding == "fm" else 8))


@cache
def standard_rows() -> dict[str, StandardRow]:
    """Every recording standard, by its id.

    Example:
        >>> standard_rows()["ecma-125"].iso
        'ISO/IEC 9529'
    """
    return {
        row["id"]: StandardRow(
            **{name: value for name, value in row.items() if name not in GROUNDS}, **{"derived": {}} | bases(row)
        )
        for row in load("standards")["standard"]
    }  # fmt: skip
