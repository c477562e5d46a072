"""What else would do for a machine: drives that look the same to its controller, and take other disks."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.drives import fit
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.results import CableLine, Substitute, caution
from imagekeeper.drives.verdict import common_rules, controller_rules, power_rules, settings, unique
from imagekeeper.tables.drives import DriveRow, Mode, drive_rows, wire_rows

#: Interfaces for which an adapter is known. [line]
_WIRED = {34, 50}


def substitutes(disk: DiskForDrive, native: DriveRow) -> tuple[Substitute, ...]:
    """Find drives of other disks that turn as fast, take the same data rate, and have enough cylinders and heads.

    Rules: same-track-80-dd, same-track-8-inch and longer-track-at-300, as arithmetic.

    Args:
        disk: What the machine reads and writes.
        native: The drive that it has for it.

    Example:
        >>> from imagekeeper.tables.floppy import format_rows
        >>> disk = DiskForDrive.of(format_rows()["8-77x2x8x1024"])
        >>> [one.drive for one in substitutes(disk, drive_rows()["8in-two-sides"])]
        ['5.25-96tpi-hd-dual', '5.25-96tpi-hd-360', '3.5-hd', '3.5-ed']
    """
    found = [
        (drive, mode)
        for drive in drive_rows().values()
        for mode in drive.modes
        if not disk.own_controller and {drive.interface, native.interface} <= _WIRED
        and (drive.disk_inch != disk.disk_inch or mode.medium != disk.medium)
        and mode.rotation == disk.rotation and abs(mode.data_rate / disk.mfm_rate - 1) < fit.SAME
        and drive.cylinders >= disk.cylinders and drive.heads >= disk.heads
    ]  # fmt: skip
    found.sort(key=lambda one: (one[1].optional, one[1].medium != one[0].modes[0].medium))
    return tuple(_substitute(disk, native, drive, mode) for drive, mode in found)


def _substitute(disk: DiskForDrive, native: DriveRow, drive: DriveRow, mode: Mode) -> Substitute:
    cautions = tuple(caution(name) for name in unique(_rules(disk, native, drive, mode)))
    wired = drive.interface != native.interface
    cited = [one.id for one in (*native.sources, *drive.sources)]
    cited += [one.id for row in wire_rows().values() for one in row.sources] if wired else []
    return Substitute(
        drive=drive.id, title=drive.title, instead_of=native.id,
        same=f"{mode.rotation} rev/min, {disk.data_rate / 1000:g} kbit/s, {disk.track_bytes} bytes a track, and at "
        "least "
        f"{disk.cylinders} cylinders",
        settings=settings(disk, mode), adapt=tuple(_adaptations(native, drive, mode)), wires=_wires() if wired else (),
        not_solved=tuple(_not_solved(disk, native, drive)), cautions=cautions,
        sources=unique([*cited, *(name for one in cautions for name in one.sources)]),
    )  # fmt: skip


def _wires() -> tuple[CableLine, ...]:
    return tuple(
        CableLine(row.signal, row.pin, row.to, tuple(one.says for one in row.disputed)) for row in wire_rows().values()
    )


def _rules(disk: DiskForDrive, native: DriveRow, drive: DriveRow, mode: Mode) -> Iterator[str]:
    """Name the rules that matter, the weightiest first."""
    yield from controller_rules(disk)
    if mode.optional:
        yield "optional-mode"
    if drive.supplies_v != native.supplies_v:
        yield "supplies"
    if drive.interface != native.interface:
        yield "fifty-to-34"
    yield from ("ready-or-disk-change", "drive-select")
    if mode.rotation == 360:
        yield "same-track-8-inch" if 3.5 not in (disk.disk_inch, drive.disk_inch) else "longer-track-at-300"
    elif drive.cylinders == native.cylinders == 80:
        yield "same-track-80-dd"
    if drive.disk_inch == 5.25 and len(drive.modes) > 1:
        yield from ("write-current", "density-line")
        if len({one.rotation for one in drive.modes}) > 1:
            yield "dual-speed"
    right_disk = fit.coercivity(drive.disk_inch)
    if right_disk is not None:
        yield right_disk
    if drive.disk_inch == 3.5 and len(drive.modes) > 1:
        yield "hole-3.5"
    yield from (name for name in power_rules(drive) if name != "mains")
    yield from common_rules(disk, drive)
    yield "mains"   # a machine is opened for it


def _adaptations(native: DriveRow, drive: DriveRow, mode: Mode) -> Iterator[str]:
    if drive.interface != native.interface:
        yield f"cable: {native.interface} lines at the machine, {drive.interface} at the drive; wire an adapter"
    else:
        yield "cable: the same 34 lines; the plug is an edge connector at 5.25 inch, and pins at most 3.5-inch drives"
    if drive.supplies_v == native.supplies_v:
        yield f"power: the same voltages, {_supply(drive)}, on another plug"
    else:
        yield f"power: {_supply(drive)} in place of {_supply(native)}, on another plug"
    yield "drive select: the jumper to the number that the machine uses; terminate the last drive on the cable"
    if drive.ready != native.ready:
        yield f"ready: the machine is made for a drive that has {native.ready}; this one has {drive.ready}"
    if len(drive.modes) > 1 or mode.density != "not connected":
        yield f"density: {mode.density} ({drive.density_select})"
    if native.low_current_above_track is not None and drive.low_current_above_track is None:
        yield (
            f"line 2: the machine's signal for tracks above {native.low_current_above_track} would switch the density "
            "of this drive; leave it open (from memory), and set the density by a jumper"
        )
    elif native.low_current_above_track is None and drive.low_current_above_track is not None:
        yield f"line 2: the drive wants a signal for tracks above {drive.low_current_above_track}"
    if drive.interface != native.interface and native.interface == 50:
        yield "head load: the machine's head load line must start the motor, or the motor must run all the time"
    if drive.heads > native.heads:
        yield "side: the machine has one side; hold side select at side 0"


def _supply(drive: DriveRow) -> str:
    volts = ", ".join(f"{value:+d} V" for value in drive.supplies_v)
    return f"{volts} and often mains for the motor" if drive.mains_motor else volts


def _not_solved(disk: DiskForDrive, native: DriveRow, drive: DriveRow) -> Iterator[str]:
    if drive.disk_inch != disk.disk_inch:
        yield f"the machine's own disks of {disk.disk_inch:g} inch do not fit it: reading them takes {native.id}"
    else:
        yield "the machine's own disks are of another class, which this drive does not write in this mode"
    if drive.cylinders > disk.cylinders:
        yield f"cylinders {disk.cylinders} to {drive.cylinders - 1} stay unused: the machine knows {disk.cylinders}"
    if disk.encoding == "fm" or disk.first_track_fm:
        yield "the controller that writes the disk must be able to do FM, whichever drive it is"
