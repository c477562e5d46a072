"""The rows of drives.toml, media.toml, interface.toml and drive_rules.toml: drives, disks, lines, and their rules."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from imagekeeper.own import remembered
from imagekeeper.tables import Cited, Dispute, bases, load, rows
from imagekeeper.tables.floppy import GROUNDS


@dataclass(frozen=True, kw_only=True)
class Mode:
    """What a drive can be set to.

    Attributes:
        rotation: [rev/min]
        data_rate: In MFM or perpendicular recording; in FM half of it. [bit/s]
        medium: The id of the class of disks that it is for.
        density: What the density or write current line must say, in words.
        optional: Whether only some drives of the class have it.
    """

    rotation: int
    data_rate: int
    medium: str
    density: str
    optional: bool = False

    @property
    def id(self) -> str:
        """Its name: rotation and data rate in kbit/s.

        Example:
            >>> drive_rows()["3.5-hd"].modes[2].id
            '360-500'
        """
        return f"{self.rotation}-{self.data_rate // 1000}"

    @property
    def bits_per_revolution(self) -> float:
        """Bits that pass in a revolution at its data rate.

        Example:
            >>> [mode.bits_per_revolution for mode in drive_rows()["5.25-96tpi-hd-dual"].modes[1:]]
            [50000.0, 50000.0]
        """
        return self.data_rate * 60 / self.rotation


@dataclass(frozen=True, kw_only=True)
class DriveRow:
    """A class of drives as its row gives it.

    Attributes:
        id: Its name.
        title: What it is.
        disk_inch: Size of its disks. [inch]
        tracks_per_inch: 48, 96, 100, 135 or 200; 0 where it is not known.
        pitch_mm: From a track to the next; 0 where it is not known. [mm]
        cylinders: How many the head reaches; 0 where it is not known.
        heads: 1 or 2.
        step_ms: From a track to the next: figures met, the best last. [ms]
        interface: Lines of its connector: 34, 50 or 26; 0 for one of its own.
        supplies_v: Beside that of a mains motor. [V]
        density_select: How it learns of the density.
        ready: What it reports of itself and of the disk: ready, disk change, or nothing.
        modes: What it can be set to, that of its own medium first.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        speed_tolerance_percent: How far the rotation may be off, or null. [%]
        head_width_mm: The width of a track that it leaves, or null. [mm]
        track_00_mm: Radius of track 00 on each side, side 0 first; none where not known. [mm]
        settle_ms: After the last step: figures met, the best last. [ms]
        erase: What its erase head is, or null.
        mains_motor: Whether the motor usually takes mains.
        low_current_above_track: It wants to be told of tracks above this one, or null.
        odd_supply: Whether some odd lines of its connector may carry its supply.
        note: What else must be known, or null.
    """

    id: str
    title: str
    disk_inch: float
    tracks_per_inch: int
    pitch_mm: float
    cylinders: int
    heads: int
    step_ms: tuple[float, ...]
    interface: int
    supplies_v: tuple[int, ...]
    density_select: str
    ready: str
    modes: tuple[Mode, ...]
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    speed_tolerance_percent: float | None = None
    head_width_mm: float | None = None
    track_00_mm: tuple[float, ...] = ()
    settle_ms: tuple[float, ...] = ()
    erase: str | None = None
    mains_motor: bool = False
    low_current_above_track: int | None = None
    odd_supply: bool = False
    note: str | None = None

    def flux_per_inch(self, cylinder: int, head: int, bits_per_revolution: float) -> float | None:
        """Give the highest density of flux transitions on a track in MFM, or None where radii are not known. [1/inch]

        Args:
            cylinder: Which track, in steps of the drive.
            head: 0 or 1.
            bits_per_revolution: MFM needs at most one transition for each; in FM this is twice the number of bits.

        Example:
            The manual of a 48 tpi drive prints 5536 for its innermost track, side 0.

            >>> round(drive_rows()["5.25-48tpi"].flux_per_inch(39, 0, 50_000))
            5536
        """
        if head >= len(self.track_00_mm):
            return None
        return bits_per_revolution * 25.4 / (2 * math.pi * (self.track_00_mm[head] - cylinder * self.pitch_mm))


@dataclass(frozen=True, kw_only=True)
class MediumRow:
    """A class of disks as its row gives it.

    Attributes:
        id: Its name, which formats and modes refer to.
        title: What it is.
        disk_inch: Size of the disk. [inch]
        coercivity_oe: As different sources print it, lowest first. [oersted]
        coating: What the magnetic layer is.
        density_hole: What shows its density to a drive.
        index_hole: What must be known of its index hole.
        degauss: How a used disk is made blank.
        buy: What to look for.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        holes: Sector holes beside the index hole: 0 where it is soft-sectored.
        like: The id of the class whose coating it has where it differs in the holes alone, or null.
    """

    id: str
    title: str
    disk_inch: float
    coercivity_oe: tuple[int, ...]
    coating: str
    density_hole: str
    index_hole: str
    degauss: str
    buy: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    holes: int = 0
    like: str | None = None

    @property
    def coated(self) -> str:
        """The id of the class whose coating it has: what a mode of a drive is made for.

        Example:
            >>> medium_rows()["5.25-dd-10"].coated, medium_rows()["5.25-dd"].coated
            ('5.25-dd', '5.25-dd')
        """
        return self.like or self.id


@dataclass(frozen=True, kw_only=True)
class PinRow:
    """A line of the 34-line interface as its row gives it.

    Attributes:
        id: Lines of the interface, and the pin.
        pc: Its use in PCs.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        older: Its use in machines with a ready line where that differs, or null.
    """

    id: str
    pc: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    older: str | None = None

    @property
    def pin(self) -> int:
        """Its number.

        Example:
            >>> pin_rows()["34-34"].pin
            34
        """
        return int(self.id.partition("-")[2])


@dataclass(frozen=True, kw_only=True)
class WireRow:
    """A line of the 50-line interface of 8-inch drives, and where it goes on the 34-line one.

    Attributes:
        id: Lines of the interface, and the pin.
        signal: What it carries.
        to: The pin of the 34-line interface.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    signal: str
    to: int
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]

    @property
    def pin(self) -> int:
        """Its number on the 50-line interface.

        Example:
            >>> wire_rows()["50-14"].pin, wire_rows()["50-14"].to
            (14, 32)
        """
        return int(self.id.partition("-")[2])


@dataclass(frozen=True, kw_only=True)
class RuleRow:
    """A rule of matching disks and drives as its row gives it.

    Attributes:
        id: Its name.
        says: What a person at the bench must know or do.
        because: Why.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    says: str
    because: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]


@dataclass(frozen=True, kw_only=True)
class PrecompensationRow:
    """A hint on write precompensation in MFM as its row gives it.

    Attributes:
        id: Size of the disk and tracks to the inch.
        disk_inch: [inch]
        tracks_per_inch: Of the recording, not of the drive.
        above_track: From the next track on; 0 where no track is named.
        nanoseconds: [ns]
        says: The figures that are met, with whose they are.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    disk_inch: float
    tracks_per_inch: int
    above_track: int
    nanoseconds: int
    says: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]


@remembered()
def drive_rows() -> dict[str, DriveRow]:
    """Every class of drives, by its id, in the order of the table.

    Example:
        >>> drive_rows()["5.25-96tpi-hd-360"].modes[1].data_rate
        300000
    """
    return {
        row["id"]: DriveRow(
            modes=tuple(Mode(**mode) for mode in row["modes"]), **_plain(row, "modes")
        )
        for row in rows("drive", "drives")
    }  # fmt: skip


@remembered()
def medium_rows() -> dict[str, MediumRow]:
    """Every class of disks, by its id.

    Example:
        >>> medium_rows()["5.25-dd"].coercivity_oe
        (300,)
    """
    return {row["id"]: MediumRow(**_plain(row)) for row in rows("medium", "media")}


@cache
def pin_rows() -> dict[str, PinRow]:
    """Every signal line of the 34-line interface, by its id.

    Example:
        >>> pin_rows()["34-34"].pc, pin_rows()["34-34"].older
        ('disk change', 'ready')
    """
    return {row["id"]: PinRow(**_plain(row)) for row in load("interface")["pin"]}


@cache
def wire_rows() -> dict[str, WireRow]:
    """Every signal line of the 50-line interface with where it goes, by its id.

    Example:
        >>> wire_rows()["50-46"].signal
        'read data'
    """
    return {row["id"]: WireRow(**_plain(row)) for row in load("interface")["wire"]}


@cache
def rule_rows() -> dict[str, RuleRow]:
    """Every rule, by its name.

    Example:
        >>> rule_rows()["double-step"].because
        'The pitch of one is exactly twice that of the other.'
    """
    return {row["id"]: RuleRow(**_plain(row)) for row in load("drive_rules")["rule"]}


@cache
def precompensation_rows() -> dict[str, PrecompensationRow]:
    """Every hint on write precompensation, by size of the disk and tracks to the inch.

    Example:
        >>> precompensation_rows()["5.25-48"].above_track
        23
    """
    return {row["id"]: PrecompensationRow(**_plain(row)) for row in load("drive_rules")["precompensation"]}


def _plain(row: dict[str, Any], *apart: str) -> dict[str, Any]:
    """Give a row's fields for its class, lists as tuples, with its grounds."""
    return {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in row.items()
        if name not in (*GROUNDS, *apart)
    } | {"derived": {}} | bases(row)
