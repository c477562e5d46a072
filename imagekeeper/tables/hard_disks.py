"""The rows of hard_disks.toml: drives of the ST-506 family, their tracks, and types of partitions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from imagekeeper.tables import Cited, Dispute, bases, load

GROUNDS = ("sources", "derived", "unsourced", "disputed")


@dataclass(frozen=True, kw_only=True)
class HardTrack:
    """How a track is divided.

    Attributes:
        id: Recording and sectors.
        encoding: mfm or rll.
        sectors: On each track.
        sector_bytes: Size of a sector. [byte]
        usual: Whether most disks of the encoding have it.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        data_rate: Or null where it is not known. [bit/s]
        rotation: Or null where it is not known. [rev/min]
        bytes_per_track: Unformatted, or null where it is not known. [byte]
        note: What else must be known, or null.
    """

    id: str
    encoding: str
    sectors: int
    sector_bytes: int
    usual: bool
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    data_rate: int | None = None
    rotation: int | None = None
    bytes_per_track: int | None = None
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class HardDrive:
    """A class of drives.

    Attributes:
        id: Cylinders and heads.
        cylinders: How many.
        heads: How many.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        reduced_current_from: The cylinder, or null where it is not known.
        precompensation_from: The cylinder by its maker, or null where only types of setups tell.
    """

    id: str
    cylinders: int
    heads: int
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    reduced_current_from: int | None = None
    precompensation_from: int | None = None

    @property
    def bios_types(self) -> tuple[int, ...]:
        """Numbers under which the setup of AT machines knew such a drive; they identify nothing.

        Example:
            >>> hard_drives()["615x4"].bios_types
            (2, 6)
        """
        return tuple(
            one.number for one in bios_types().values() if (one.cylinders, one.heads) == (self.cylinders, self.heads)
        )

    def bytes(self, track: HardTrack) -> int:
        """The size of an image with such tracks. [byte]

        Example:
            >>> hard_drives()["306x4"].bytes(hard_tracks()["mfm-17"])
            10653696
        """
        return self.cylinders * self.heads * track.sectors * track.sector_bytes


@dataclass(frozen=True, kw_only=True)
class BiosType:
    """A type of hard disk that the setup of AT machines asks for.

    Attributes:
        id: Its number, as the setup shows it.
        cylinders: How many.
        heads: How many.
        precompensation_from: The cylinder; 0 is every one, and 65535 none.
        landing_zone: The cylinder where the heads are parked.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    cylinders: int
    heads: int
    precompensation_from: int
    landing_zone: int
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]

    @property
    def number(self) -> int:
        """Its number."""
        return int(self.id)


@cache
def bios_types() -> dict[int, BiosType]:
    """Every type, by its number.

    Example:
        >>> bios_types()[9].landing_zone, len(bios_types())   # 15 is reserved
        (901, 30)
    """
    return {int(row["id"]): BiosType(**_plain(row)) for row in load("hard_disks")["bios_type"]}


@cache
def hard_tracks() -> dict[str, HardTrack]:
    """Every kind of track, by its id.

    Example:
        >>> hard_tracks()["rll-26"].sectors
        26
    """
    return {row["id"]: HardTrack(**_plain(row)) for row in load("hard_disks")["track"]}


@cache
def hard_drives() -> dict[str, HardDrive]:
    """Every class of drives, by its id.

    Example:
        >>> hard_drives()["820x6"].precompensation_from
        820
    """
    return {row["id"]: HardDrive(**_plain(row)) for row in load("hard_disks")["drive"]}


@cache
def partition_titles() -> dict[int, str]:
    """What types of partitions stand for, from memory.

    Example:
        >>> partition_titles()[0x06]
        'FAT16'
    """
    return {int(row["id"], 16): row["title"] for row in load("hard_disks")["partition_type"]}


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: tuple(value) if isinstance(value, list) else value for name, value in row.items() if name not in GROUNDS
    } | {"derived": {}} | bases(row)
