"""Whether a controller can do what a disk in a mode of a drive asks of it."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from imagekeeper.drives.bench import OwnController
from imagekeeper.drives.disk import ENCODINGS, DiskForDrive
from imagekeeper.drives.results import Answer
from imagekeeper.tables.controllers import ControllerRow, controller_rows
from imagekeeper.tables.drives import DriveRow, Mode


@dataclass(frozen=True)
class Control:
    """What a controller can do for a disk in one mode of a drive.

    Attributes:
        answer: yes, with-care where only some of its class can, or no.
        says: Why, in words.
        rules: The names of the rules behind it.
    """

    answer: Answer
    says: str
    rules: tuple[str, ...] = ()


def as_owned(own: OwnController) -> ControllerRow:
    """Give the row of a controller's class with what is known of this one.

    Example:
        >>> row = as_owned(OwnController(name="old card", controller="8272", rates=(250,), fm=False))
        >>> row.data_rates, row.some_data_rates, row.encodings, row.some_encodings
        ((250000,), (), ('mfm',), ())
    """
    row = controller_rows()[own.controller]
    if own.rates:
        row = replace(row, data_rates=tuple(1000 * rate for rate in own.rates), some_data_rates=())
    if own.fm is not None:
        has = [name for name in row.encodings if name != "fm"] + (["fm"] if own.fm else [])
        row = replace(
            row, encodings=tuple(has), some_encodings=tuple(name for name in row.some_encodings if name != "fm")
        )
    if own.connector is not None:
        row = replace(row, connectors=(own.connector,))
    return row


def control(disk: DiskForDrive, mode: Mode, controller: ControllerRow) -> Control:
    """Judge a controller: its ways of recording, and its data rates.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> from imagekeeper.tables.drives import drive_rows
        >>> disk, drive = DiskForDrive.of(find("360K")), drive_rows()["5.25-96tpi-hd-360"]
        >>> control(disk, drive.modes[1], controller_rows()["8272"]).says
        'it has 250 or 500 kbit/s in MFM, and 300 are needed'
        >>> control(disk, drive.modes[1], controller_rows()["fdc37"]).answer
        'yes'
    """
    if disk.own_controller:
        rule = "hard-sectored" if disk.holes else "other-recording"
        return Control("no", "it finds no sectors on a disk that is recorded in this way", (rule,))
    needed = {disk.encoding} | ({"fm"} if disk.first_track_fm else set())
    lacking = needed - {*controller.encodings, *controller.some_encodings}
    if lacking:
        words = " and ".join(ENCODINGS[name] for name in sorted(lacking))
        return Control("no", f"it does not do {words}", ("fm-controller",) if "fm" in lacking else ())
    rates = {*controller.data_rates, *controller.some_data_rates}
    if mode.data_rate not in rates:
        has = " or ".join(f"{rate / 1000:g}" for rate in sorted(rates))
        return Control(
            "no", f"it has {has} kbit/s in MFM, and {mode.data_rate / 1000:g} are needed", ("controller-lacks-rate",)
        )
    unsure = needed - set(controller.encodings)
    rules = ["controller-clock"] if mode.data_rate not in controller.data_rates else []
    rules += ["fm-controller"] if "fm" in unsure else []
    if rules or unsure:
        parts = [f"{mode.data_rate / 1000:g} kbit/s"] if "controller-clock" in rules else []
        parts += [ENCODINGS[name] for name in sorted(unsure)]
        return Control("with-care", f"only some of its class have {' and '.join(parts)}", tuple(rules))
    return Control("yes", f"it has {wanted(disk, mode)}")


def wanted(disk: DiskForDrive, mode: Mode) -> str:
    """Say what a disk in a mode of a drive asks of a controller, in words.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> from imagekeeper.tables.drives import drive_rows
        >>> wanted(DiskForDrive.of(find("8-inch 250K")), drive_rows()["8in-one-side"].modes[0])
        '250 kbit/s in FM'
    """
    if disk.own_controller:
        return "the recording of the disk, as that of its own machine does"
    rate = mode.data_rate / (2 if disk.encoding == "fm" else 1) / 1000
    first = ", and FM for its first track" if disk.first_track_fm else ""
    return f"{rate:g} kbit/s in {ENCODINGS[disk.encoding]}{first}"


def able(disk: DiskForDrive, mode: Mode) -> tuple[str, ...]:
    """Name the classes of controllers that can do that, those that surely can before the others.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> from imagekeeper.tables.drives import drive_rows
        >>> able(DiskForDrive.of(find("2.88M")), drive_rows()["3.5-ed"].modes[0])
        ('fdc37', 'it8673f', '82077aa', 'pc8477b')
    """
    found = {name: control(disk, mode, row).answer for name, row in controller_rows().items()}
    return tuple(name for sort in ("yes", "with-care") for name, answer in found.items() if answer == sort)


def left_to_see(
    rules: Collection[str], disk: DiskForDrive, drive: DriveRow, mode: Mode, controller: ControllerRow
) -> Iterator[str]:
    """Keep of the rules on controllers at large those that this one leaves open, and add its own.

    Args:
        rules: The names of the rules for the disk in the drive, whatever controls it.
        disk: The disk.
        drive: The drive.
        mode: What it is set to.
        controller: What controls it, and can.
    """
    found = control(disk, mode, controller)
    settled = {"refuse-250-at-360", "fm-controller"} - set(found.rules)
    steps = controller.recalibrate_steps
    if steps is None or steps >= drive.cylinders:
        settled.add("recalibrate-twice")
    yield from (name for name in found.rules if name not in rules)
    if drive.disk_inch == 5.25 and len(drive.modes) > 1 and "above 43" in controller.line_2:
        yield "line-2-track-43"
    if any(one.field == "steps" for one in controller.disputed):
        yield "step-slower"
    yield from (name for name in rules if name not in settled)
