"""Formats of disks: look one up by its name or its geometry, and tell what is known of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.errors import NotFoundError
from imagekeeper.findings import Finding
from imagekeeper.floppy.gaps import HandbookGap, handbook_gaps
from imagekeeper.floppy.layout import bytes_per_track, lay_out
from imagekeeper.floppy.parameter_block import count_clusters, sectors_for_root
from imagekeeper.own import remembered
from imagekeeper.tables import Basis, Dispute, resting_on, sources
from imagekeeper.tables.floppy import FatParameters, FirstTrack, FormatRow, StandardRow, format_rows, standard_rows
from imagekeeper.tables.other_disks import OtherDisk, other_disks

#: A name longer than this is none, and is not repeated whole.
LIMIT = 60


@dataclass(frozen=True, kw_only=True)
class FormatLine:
    """A format in the list.

    Attributes:
        id: Its name.
        title: What it is.
        aliases: Other names.
        disk_inch: Size of the disk. [inch]
        tracks_per_inch: How many.
        geometry: Cylinders x heads x sectors x bytes.
        bytes: Size of an image. [byte]
        encoding: fm, mfm or perpendicular; m2fm, mmfm or gcr for disks of other recordings.
        data_rate: In group code that of the cells of the outermost track. [bit/s]
        rotation: [rev/min]
        own: Whether it rests on a row that a person wrote.
        common: Whether a common controller writes it: soft-sectored FM or MFM, all tracks alike.
        holes: Sector holes beside the index hole.
    """

    id: str
    title: str
    aliases: tuple[str, ...]
    disk_inch: float
    tracks_per_inch: float
    geometry: str
    bytes: int
    encoding: str
    data_rate: int
    rotation: int
    own: bool = False
    common: bool = True
    holes: int = 0


@dataclass(frozen=True)
class FormatList:
    """The formats of the table.

    Attributes:
        formats: One by one.
    """

    SCHEMA: ClassVar[Literal["format-list/1"]] = "format-list/1"

    formats: tuple[FormatLine, ...]


@dataclass(frozen=True, kw_only=True)
class Format:
    """What is known of one format of disks.

    Attributes:
        id: Its name.
        title: What it is.
        aliases: Other names.
        disk_inch: Size of the disk: 8, 5.25 or 3.5. [inch]
        tracks_per_inch: 48, 96, 100 or 135.
        cylinders: How many; they count from 0.
        heads: 1 or 2.
        sectors: On each track.
        sector_bytes: [byte]
        bytes: Size of an image of the whole disk. [byte]
        encoding: fm, mfm or perpendicular.
        data_rate: Of the drives that it was made for. [bit/s]
        rotation: Of the same drives. [rev/min]
        bytes_per_track: What one revolution holds. [byte]
        gap3_max: The largest gap 3 with which a drive that turns 1.5 % too fast still formats a track. [byte]
        handbook_gaps: What handbooks of controllers say of gap 3 for such a track.
        medium: The class of media.
        standard: The recording standard whose track it is, or null.
        first_track: The exception for track 00 of side 0, or null.
        fat: The file system that usually goes with it, or null.
        clusters: How many clusters that file system has, or null.
        note: What else must be known, or null.
        sources: The documents that this rests on.
        derived: Members that follow from others, with the rule.
        unsourced: Members from memory, wholly or in part.
        disputed: What speaks against a member.
        own: Which rows that a person wrote this rests on.
    """

    SCHEMA: ClassVar[Literal["format/1"]] = "format/1"

    id: str
    title: str
    aliases: tuple[str, ...]
    disk_inch: float
    tracks_per_inch: int
    cylinders: int
    heads: int
    sectors: int
    sector_bytes: int
    bytes: int
    encoding: str
    data_rate: int
    rotation: int
    bytes_per_track: int
    gap3_max: int | None
    handbook_gaps: tuple[HandbookGap, ...]
    medium: str
    standard: StandardRow | None
    first_track: FirstTrack | None
    fat: FatParameters | None
    clusters: int | None
    note: str | None
    sources: tuple[Basis, ...]
    derived: dict[str, str]
    unsourced: tuple[str, ...]
    disputed: tuple[Dispute, ...]
    own: tuple[Finding, ...] = ()


def listed(*, size: int | None = None, disk_inch: float | None = None) -> FormatList:
    """List the formats, of one size of image or of disk if wanted.

    Args:
        size: Of an image of the whole disk. [byte]
        disk_inch: [inch]

    Example:
        >>> [line.id for line in listed(size=163840).formats]
        ['5.25-40x1x8x512', '5.25-40x1x16x256', '3-40x1x8x512']
    """
    found = [
        FormatLine(
            id=r.id, title=r.title, aliases=r.aliases, disk_inch=r.disk_inch, tracks_per_inch=r.tracks_per_inch,
            geometry=r.geometry, bytes=r.bytes, encoding=r.encoding, data_rate=r.data_rate, rotation=r.rotation,
            own=bool(resting_on(("format", r.id))),
        )
        for r in format_rows().values()
    ]  # fmt: skip
    found += [
        FormatLine(
            id=r.id, title=r.title, aliases=r.aliases, disk_inch=r.disk_inch, tracks_per_inch=r.tracks_per_inch,
            geometry=r.geometry, bytes=r.bytes, encoding=r.encoding, rotation=r.rotation, common=False, holes=r.holes,
            data_rate=r.cell_rate // (1 if r.encoding == "gcr" else 2),
        )
        for r in other_disks().values()
    ]  # fmt: skip
    return FormatList(tuple(one for one in found if size in (None, one.bytes) and disk_inch in (None, one.disk_inch)))


def geometry_of(text: str) -> tuple[int, int, int, int] | None:
    """Read a geometry: cylinders x heads x sectors x bytes, each below 65536; None when it is none.

    Example:
        >>> geometry_of("80x2x9x512"), geometry_of("1.44M")
        ((80, 2, 9, 512), None)
    """
    match = re.fullmatch(r"(\d{1,5})x(\d{1,5})x(\d{1,5})x(\d{1,5})", text.strip().lower().replace("×", "x"))
    if match is None:
        return None
    cylinders, heads, sectors, size = (int(part) for part in match.groups())
    return cylinders, heads, sectors, size


def find(text: str) -> FormatRow:
    """Look a format up by its id, by another of its names, or by its geometry where only one format has that.

    Args:
        text: Such as `360K`, `5.25-40x2x9x512` or `40x2x9x512`; capitals and blanks do not matter.

    Raises:
        NotFoundError: `format-unknown`, with the formats that are meant or near in its hint.

    Example:
        >>> find("1.44m").id, find("40x2x9x512").title
        ('3.5-80x2x18x512', 'PC 360K')
    """
    ids = _names().get(_key(text), ())
    if len(ids) == 1:
        return format_rows()[ids[0]]
    shown = repr(text if len(text) <= LIMIT else text[:LIMIT] + "...")
    if find_other(text) is not None:
        raise NotFoundError("format-unknown/other-recording", name=shown)
    if ids:
        raise NotFoundError("format-unknown/several", name=shown, formats=ids, first=ids[0])
    near = _near(text)
    if near:
        raise NotFoundError("format-unknown/near-others", name=shown, near=near)
    raise NotFoundError("format-unknown", name=shown)


def find_other(text: str) -> OtherDisk | None:
    """Look a disk of another recording up by its id, title or alias; None where it is none.

    Example:
        >>> find_other("5.25-35x1x16x256-gcr").bytes, find_other("360K")
        (143360, None)
    """
    wanted = _key(text)
    found = (row for row in other_disks().values() if wanted in map(_key, (row.id, *row.aliases, row.title)))
    return next(found, None) if wanted else None


def describe(row: FormatRow) -> Format:
    """Tell all that is known of a format.

    Example:
        >>> describe(find("720K 3.5")).clusters
        713
    """
    layout = lay_out(
        row.encoding, sectors=row.sectors, sector_bytes=row.sector_bytes, data_rate=row.data_rate,
        rotation=row.rotation,
    )  # fmt: skip
    return Format(
        id=row.id, title=row.title, aliases=row.aliases, disk_inch=row.disk_inch, tracks_per_inch=row.tracks_per_inch,
        cylinders=row.cylinders, heads=row.heads, sectors=row.sectors, sector_bytes=row.sector_bytes, bytes=row.bytes,
        encoding=row.encoding, data_rate=row.data_rate, rotation=row.rotation,
        bytes_per_track=bytes_per_track(row.data_rate, row.rotation), gap3_max=layout.gap3_max,
        handbook_gaps=handbook_gaps(row.encoding, row.data_rate, row.rotation, row.sectors, row.sector_bytes),
        medium=row.medium, standard=standard_rows()[row.standard] if row.standard else None,
        first_track=row.first_track, fat=row.fat, clusters=None if row.fat is None else clusters(row, row.fat),
        note=row.note, sources=tuple(Basis(sources()[cited.id], cited.gives) for cited in row.sources),
        derived=row.derived, unsourced=row.unsourced, disputed=row.disputed,
        own=resting_on(("format", row.id), ("medium", row.medium)),
    )  # fmt: skip


def clusters(row: FormatRow, fat: FatParameters) -> int:
    """Count the clusters of a disk of a format with its usual file system.

    Example:
        >>> row = find("360K")
        >>> clusters(row, row.fat)
        354
    """
    return count_clusters(
        sectors=row.bytes // row.sector_bytes, reserved=fat.reserved_sectors, fats=fat.fats,
        fat_sectors=fat.fat_sectors, root_sectors=sectors_for_root(fat.root_entries, row.sector_bytes),
        cluster_sectors=fat.cluster_sectors,
    )  # fmt: skip


def _key(text: str) -> str:
    return "".join(text.lower().replace("×", "x").split()).removesuffix("b") if len(text) <= LIMIT else ""


@remembered()
def _names() -> dict[str, tuple[str, ...]]:
    """Every name, in small letters without blanks, with the ids of the formats that go by it."""
    names: dict[str, tuple[str, ...]] = {}
    for row in format_rows().values():
        for name in dict.fromkeys(map(_key, (row.id, *row.aliases, row.title, row.geometry))):
            names[name] = (*names.get(name, ()), row.id)
    return names


def _near(text: str) -> list[str]:
    import difflib  # slow to load: only for a name that is not known

    return difflib.get_close_matches(_key(text), [*_names()], n=4, cutoff=0.6)
