"""Whether head, tracks and cells of a drive fit a disk: arithmetic on the rows of the tables."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.tables.drives import DriveRow, Mode

#: Two pitches, or two numbers of bits, that are this near each other are the same: figures of tables are rounded.
SAME = 0.002

#: A reader's clock follows a disk that is so far from the drive's speed; what is written would be as far off.
NEAR = 0.05

#: The width of a track in a fine drive, for drives whose own is not known. [mm]
FINE_HEAD_MM = 0.16


@dataclass(frozen=True)
class Obstacle:
    """Why a drive cannot take a disk.

    Attributes:
        says: The reason with its numbers.
        rule: The name of the rule behind it, or None.
    """

    says: str
    rule: str | None = None


def steps(disk: DiskForDrive, drive: DriveRow) -> int | Obstacle:
    """Count the steps of the drive from a track of the disk to the next.

    Rules: double-step, wide-head, pitch-100-tpi.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> from imagekeeper.tables.floppy import format_rows
        >>> steps(DiskForDrive.of(format_rows()["5.25-40x2x9x512"]), drive_rows()["5.25-96tpi-dd"])
        2
    """
    ratio = drive.tracks_per_inch / disk.tracks_per_inch
    whole = round(ratio)
    if whole in (1, 2) and abs(ratio - whole) < SAME:
        return whole
    if ratio < 0.75:
        text = f"its head, made for {drive.tracks_per_inch} tpi, lies over two tracks of {disk.tracks_per_inch:g} tpi"
        return Obstacle(text, "wide-head")
    if abs(ratio - whole) < SAME:
        text = f"made for {drive.tracks_per_inch} tpi, it would step {whole} times from a track to the next"
        return Obstacle(f"{text} of {disk.tracks_per_inch:g} tpi, and no rule says that a head so narrow reads it")
    error = abs(25.4 / disk.tracks_per_inch - max(whole, 1) * 25.4 / drive.tracks_per_inch)
    width = min(drive.head_width_mm or FINE_HEAD_MM, FINE_HEAD_MM)
    tracks = round(width / 2 / error)
    return Obstacle(
        f"made for {drive.tracks_per_inch} tpi, it is half a track off after {tracks} tracks",
        "pitch-100-tpi" if 100 in (disk.tracks_per_inch, drive.tracks_per_inch) else None,
    )  # fmt: skip


def obstacle(disk: DiskForDrive, drive: DriveRow, step: int) -> Obstacle | None:
    """Find what keeps the head from all tracks of the disk: too few cylinders or heads.

    Rules: 35-tracks, one-side-drive.
    """
    needed = disk.cylinders * step
    if needed > drive.cylinders:
        reach = drive.cylinders // step
        return Obstacle(
            f"it reaches {reach} of the disk's {disk.cylinders} cylinders",
            "35-tracks" if drive.cylinders == 35 else None,
        )  # fmt: skip
    if disk.heads > drive.heads:
        return Obstacle("its one head reads only side 0", "one-side-drive")
    return None


def modes(disk: DiskForDrive, drive: DriveRow, optional: Collection[str] | None) -> list[Mode]:
    """Choose the modes in which a revolution of the drive holds exactly the track of the disk, the best first.

    Modes for its own medium, that every drive has, at the speed it was made for, go first. A mode that only some drives
    have counts unless this drive is known to lack it.

    Args:
        disk: The disk.
        drive: The drive.
        optional: The ids of the optional modes that it has, or None when that is not known.

    Source:
        Rules rate-at-360, rate-at-300 and refuse-250-at-360: equal bits in a revolution.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> from imagekeeper.tables.floppy import format_rows
        >>> disk = DiskForDrive.of(format_rows()["5.25-40x2x9x512"])
        >>> [mode.id for mode in modes(disk, drive_rows()["5.25-96tpi-hd-dual"], None)]
        ['300-250', '360-300']
    """
    return _within(SAME, disk, drive, optional)


def near_modes(disk: DiskForDrive, drive: DriveRow, optional: Collection[str] | None) -> list[Mode]:
    """Choose the modes at whose speed the disk can be read, although the track is not quite as long.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> from imagekeeper.tables.floppy import format_rows
        >>> disk = DiskForDrive.of(format_rows()["5.25-40x1x18x128-fm-288rpm"])
        >>> [mode.id for mode in near_modes(disk, drive_rows()["5.25-48tpi"], None)]
        ['300-250']
    """
    return _within(NEAR, disk, drive, optional)


def _within(off: float, disk: DiskForDrive, drive: DriveRow, optional: Collection[str] | None) -> list[Mode]:
    def apart(mode: Mode) -> float:
        if disk.encoding == "gcr":   # the rate is its own controller's matter, zone by zone
            return abs(mode.rotation / disk.rotation - 1)
        return abs(mode.bits_per_revolution / disk.bits_per_revolution - 1)

    found = [
        mode for mode in drive.modes
        if apart(mode) < off and (not mode.optional or optional is None or mode.id in optional)
    ]  # fmt: skip
    return sorted(found, key=lambda mode: (mode.medium != disk.coated, mode.optional, mode.rotation != disk.rotation))


def no_mode(disk: DiskForDrive, drive: DriveRow, optional: Collection[str] | None) -> Obstacle:
    """Say why no mode of the drive writes a track of this length.

    Rules: coercivity-5.25, coercivity-3.5, ed-drive, longer-track-at-300.
    """
    have = [mode for mode in drive.modes if not mode.optional or optional is None or mode.id in optional]
    lengths = sorted({int(mode.bits_per_revolution / disk.mfm_rate * disk.data_rate / 8) for mode in have})
    text = f"the disk's track has {disk.track_bytes} bytes, and those of the drive {' or '.join(map(str, lengths))}"
    if disk.medium == "3.5-ed":
        return Obstacle(text, "ed-drive")
    if any(mode.medium == disk.coated and mode.data_rate == disk.mfm_rate for mode in have) and disk.rotation == 360:
        return Obstacle(text, "longer-track-at-300")
    return Obstacle(text, coercivity(disk.disk_inch))


def coercivity(disk_inch: float) -> str | None:
    """Name the rule on choosing the right disk, or None: of 8-inch disks there is one kind.

    Example:
        >>> coercivity(5.25), coercivity(8)
        ('coercivity-5.25', None)
    """
    return {5.25: "coercivity-5.25", 3.5: "coercivity-3.5"}.get(disk_inch)
