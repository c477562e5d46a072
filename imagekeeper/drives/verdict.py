"""What one drive can do for a disk."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from imagekeeper.drives import fit
from imagekeeper.drives.controlling import control, left_to_see
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.results import Answer, Caution, Settings, Verdict, caution
from imagekeeper.tables.controllers import ControllerRow
from imagekeeper.tables.drives import DriveRow, Mode, medium_rows, precompensation_rows

#: From here on a controller of the 765 family does not surely reach track 00 with one command.
RECALIBRATE_STEPS = 77


def verdict(
    disk: DiskForDrive, drive: DriveRow, *, optional_modes: Collection[str] | None = None,
    controller: ControllerRow | None = None,
) -> Verdict:  # fmt: skip
    """Judge one drive.

    Size, pitch, cylinders, heads and bits in a revolution decide whether it can; that somebody must see to something
    makes yes into with-care: steps doubled, a density that the disk does not show, a mode that not every drive has.

    Args:
        disk: The disk.
        drive: The class of the drive, or a person's own drive as a changed row.
        optional_modes: The ids of the optional modes that this drive has; None when that is not known.
        controller: What controls it; None when that is not known, and then its part is left to cautions.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> from imagekeeper.tables.floppy import format_rows
        >>> one = verdict(DiskForDrive.of(format_rows()["5.25-40x2x9x512"]), drive_rows()["5.25-96tpi-hd-360"])
        >>> one.can_write, one.settings.data_rate, one.settings.step
        ('with-care', 300000, 'double')
        >>> disk = DiskForDrive.of(format_rows()["3.5-80x2x15x512-360rpm"])
        >>> [verdict(disk, drive_rows()["3.5-hd"], optional_modes=known).can_write for known in (None, (), ["360-500"])]
        ['with-care', 'no', 'yes']

        A drive of two speeds is set to the one whose rate its controller has.

        >>> from imagekeeper.tables.controllers import controller_rows
        >>> disk, drive = DiskForDrive.of(format_rows()["5.25-40x2x9x512"]), drive_rows()["5.25-96tpi-hd-dual"]
        >>> verdict(disk, drive, controller=controller_rows()["pc-adapter"]).settings.mode
        '300-250'
        >>> verdict(disk, drive_rows()["5.25-96tpi-hd-360"], controller=controller_rows()["pc-adapter"]).because
        ('its controller cannot: it has 250 kbit/s in MFM, and 300 are needed',)
    """
    if drive.disk_inch != disk.disk_inch:
        return _never(drive, fit.Obstacle(
            f"a disk of {disk.disk_inch:g} inch does not fit a drive for {drive.disk_inch:g} inch"))  # fmt: skip
    step = fit.steps(disk, drive)
    if isinstance(step, fit.Obstacle):
        return _never(drive, step)
    hindered = fit.obstacle(disk, drive, step)
    if hindered is not None:
        return _never(drive, hindered)
    modes = fit.modes(disk, drive, optional_modes)
    near = not modes
    modes = modes or fit.near_modes(disk, drive, optional_modes)
    if not modes:
        return _never(drive, fit.no_mode(disk, drive, optional_modes))
    unclear = None   # what of its controller must be seen first
    if controller is not None:
        controls = {mode.id: control(disk, mode, controller) for mode in modes}
        able = [mode for mode in modes if controls[mode.id].answer != "no"]
        if not able:
            why = controls[modes[0].id]
            return _never(drive, fit.Obstacle(f"its controller cannot: {why.says}", next(iter(why.rules), None)))
        modes = sorted(able, key=lambda mode: (mode.medium != disk.coated, controls[mode.id].answer != "yes"))
        unclear = None if controls[modes[0].id].answer == "yes" else controls[modes[0].id].says
    mode = modes[0]
    unsure = mode.optional and optional_modes is None
    unseen = mode.medium != drive.modes[0].medium and not _has_hole(disk)
    doubtful = unsure or disk.own_controller or unclear is not None
    can_read: Answer = "with-care" if doubtful or near else "yes"
    can_write: Answer = "with-care" if doubtful or unseen or step > 1 else "yes"
    if mode.medium != disk.coated or near:
        can_write = "no"
    rules = list(_rules(disk, drive, mode, step, unsure, unseen))
    if controller is not None:
        rules = list(left_to_see(rules, disk, drive, mode, controller))
    cautions = [*([caution("near-speed")] if near else []), *map(caution, rules)]
    others = [other for other in modes[1:] if other.medium == mode.medium and not other.optional]
    return Verdict(
        drive=drive.id, title=drive.title, can_read=can_read, can_write=can_write, settings=settings(disk, mode, step),
        alternatives=tuple(settings(disk, other, step) for other in others),
        because=(*_reasons(disk, drive, mode, step, unsure, unseen, near=near),
                 *([] if unclear is None else [f"its controller: {unclear}"])),
        cautions=tuple(cautions),
        sources=_sources(drive, disk, cautions),
    )  # fmt: skip


def settings(disk: DiskForDrive, mode: Mode, step: int = 1) -> Settings:
    """Say how a drive is set for a disk in one of its modes."""
    medium = medium_rows()[disk.medium if mode.medium == disk.coated else mode.medium]
    rate = mode.data_rate // (2 if disk.encoding == "fm" else 1)
    return Settings(
        mode=mode.id, data_rate=round(disk.data_rate) if disk.encoding == "gcr" else rate, rotation=mode.rotation,
        encoding=disk.encoding, step="double" if step == 2 else "single", density=mode.density, media=medium.id,
        buy=medium.buy, coercivity_oe=medium.coercivity_oe, blank=medium.degauss,
        precompensation=_precompensation(disk),
    )  # fmt: skip


def controller_rules(disk: DiskForDrive) -> Iterator[str]:
    """Name the rules on what the controller must be able to do, whichever drive it has."""
    if disk.holes:
        yield "hard-sectored"
    elif disk.own_controller:
        yield "other-recording"
    if disk.encoding == "fm":
        yield "fm-controller"
    if disk.first_track_fm:
        yield "fm-first-track"


def power_rules(drive: DriveRow) -> Iterator[str]:
    """Name the rules on what can hurt a person or the drive before anything is written, the weightiest first."""
    if drive.mains_motor:
        yield "mains"
    if drive.disk_inch == 8 and drive.heads == 1:
        yield "minus-supply"
    if drive.mains_motor:
        yield "mains-frequency"
    if drive.odd_supply:
        yield "odd-lines-supply"
    if drive.interface not in (34, 50):
        yield "own-interface"


def common_rules(disk: DiskForDrive, drive: DriveRow) -> Iterator[str]:
    """Name the rules that hold for a disk in a drive whatever is set, as long as it fits."""
    if drive.low_current_above_track is not None:
        yield "track-43"
    if drive.disk_inch == 8:
        yield from ("index-hole-8", "notch-8")
    if disk.cylinders == 77 < drive.cylinders:
        yield "77-cylinders"
    if drive.cylinders > RECALIBRATE_STEPS:
        yield "recalibrate-twice"
    if disk.encoding == "mfm":
        yield "precompensation"


def _never(drive: DriveRow, why: fit.Obstacle) -> Verdict:
    cautions = (caution(why.rule),) if why.rule else ()
    cited = tuple(one.id for one in drive.sources)
    return Verdict(
        drive=drive.id, title=drive.title, can_read="no", can_write="no", settings=None, alternatives=(),
        because=(why.says,), cautions=cautions, sources=unique([*cited, *_cited(cautions)]),
    )  # fmt: skip


def _has_hole(disk: DiskForDrive) -> bool:
    """Whether the disk shows its density to the drive: rules hole-3.5 and no-hole."""
    return disk.disk_inch == 3.5


def _rules(disk: DiskForDrive, drive: DriveRow, mode: Mode, step: int, unsure: bool, unseen: bool) -> Iterator[str]:
    """Name the rules that matter, the weightiest first."""
    yield from power_rules(drive)
    yield from controller_rules(disk)
    if step > 1:
        yield from ("one-drive-writes", "blank-disk")
    if unsure:
        yield "optional-mode"
    if unseen:
        yield "write-current"
    if mode.rotation == 360 and disk.rotation <= 300:
        yield from ("rate-at-360", "refuse-250-at-360")
    if step > 1:
        yield from ("double-step", "narrow-over-wide", "narrow-head-reads", "boot-disk-in-96-tpi")
    elif disk.tracks_per_inch == 48 and disk.disk_inch == 5.25:
        yield "narrow-over-wide"
    if mode.rotation == 300 and drive.modes[0].rotation == 360:
        yield "rate-at-300"
    if len({one.rotation for one in drive.modes if not one.optional}) > 1:
        yield "dual-speed"
    if drive.disk_inch == 5.25 and len(drive.modes) > 1:
        yield "density-line"
    right_disk = fit.coercivity(disk.disk_inch)
    if right_disk is not None:
        yield right_disk
    if len({one.medium for one in drive.modes}) > 1:
        yield "hole-3.5" if _has_hole(disk) else "no-hole"
    if drive.modes[0].medium == "3.5-ed":
        yield "ed-drive"
    yield from common_rules(disk, drive)


def _reasons(
    disk: DiskForDrive, drive: DriveRow, mode: Mode, step: int, unsure: bool, unseen: bool, *, near: bool
) -> Iterator[str]:
    rate = f"{mode.data_rate / 1000 / (2 if disk.encoding == 'fm' else 1):g} kbit/s at {mode.rotation} rev/min"
    if disk.encoding == "gcr":
        yield f"it turns at {mode.rotation} rev/min, as the disk's own drive does; the rate is the controller's matter"
    elif near:
        apart = abs(mode.bits_per_revolution / disk.bits_per_revolution - 1)
        yield f"{rate} has a revolution that is {apart:.0%} from the disk's: it reads, and must not write"
    else:
        yield f"{rate} puts the {disk.track_bytes} bytes of the disk's track on a revolution"
    if step > 1:
        yield f"the pitch of the disk is twice that of the drive: {disk.cylinders * step} of its tracks are needed"
    else:
        yield f"both have {drive.tracks_per_inch} tracks to the inch"
    if drive.cylinders > disk.cylinders * step or drive.heads > disk.heads:
        yield f"the drive reaches {drive.cylinders} cylinders on {'both sides' if drive.heads == 2 else 'one side'}"
    if unseen:
        yield "nothing on the disk shows its density to the drive: the host must set the write current"
    if unsure:
        yield "not every drive of this class has the mode"
    if mode.medium != disk.coated:
        yield "in this mode it is made for other disks, so it reads but must not write"
    density = drive.flux_per_inch((disk.cylinders - 1) * step, disk.heads - 1, disk.bits_per_revolution)
    if density is not None and disk.encoding != "gcr":
        yield f"the innermost track takes up to {density:.0f} flux transitions to the inch"


def _precompensation(disk: DiskForDrive) -> str | None:
    if disk.encoding == "perpendicular":
        return "none in perpendicular recording"
    if disk.encoding == "fm":
        return None
    row = precompensation_rows().get(f"{disk.disk_inch:g}-{disk.tracks_per_inch}")
    return None if row is None else row.says


def _sources(drive: DriveRow, disk: DiskForDrive, cautions: Iterable[Caution]) -> tuple[str, ...]:
    precompensation = precompensation_rows().get(f"{disk.disk_inch:g}-{disk.tracks_per_inch}")
    cited = [one.id for one in (*drive.sources, *medium_rows()[disk.medium].sources)]
    if disk.encoding == "perpendicular":
        cited.append("smsc-perpendicular")
    elif disk.encoding == "mfm" and precompensation is not None:
        cited += [one.id for one in precompensation.sources]
    return unique([*cited, *_cited(cautions)])


def _cited(cautions: Iterable[Caution]) -> list[str]:
    return [name for one in cautions for name in one.sources]


def unique(names: Iterable[str]) -> tuple[str, ...]:
    """Keep the first of each name.

    Example:
        >>> unique(["b", "a", "b"])
        ('b', 'a')
    """
    return tuple(dict.fromkeys(names))
