"""Where each rule on drives stands: over every format in every drive that takes it, it is there or it is not.

What is expected is told by the names of drives and formats, never by the figures from which the verdict is computed.
The rules and their sources are the rows of drive_rules.toml.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module

import pytest

from imagekeeper.drives import DiskForDrive, Verdict, verdict
from imagekeeper.drives.results import Settings
from imagekeeper.drives.verdict import settings
from imagekeeper.tables.drives import DriveRow, drive_rows, precompensation_rows
from imagekeeper.tables.floppy import FormatRow, format_rows
from imagekeeper.tables.other_disks import other_disks

FINE = {"5.25-96tpi-dd-one-side", "5.25-96tpi-dd", "5.25-96tpi-hd-360", "5.25-96tpi-hd-dual"}
EIGHTY = {"3.5-dd-one-side", "3.5-dd", "3.5-hd", "3.5-ed", "3.5-600"}
HIGH = {"5.25-96tpi-hd-360", "5.25-96tpi-hd-dual"}


@dataclass(frozen=True)
class Pairing:
    row: FormatRow
    drive: DriveRow
    verdict: Verdict
    settings: Settings

    @property
    def rules(self) -> list[str]:
        return [one.rule for one in self.verdict.cautions]


@cache
def pairings() -> list[Pairing]:
    found = []
    for row in format_rows().values():
        for drive in drive_rows().values():
            one = verdict(DiskForDrive.of(row), drive)
            if one.settings is not None:
                found.append(Pairing(row, drive, one, one.settings))
    return found


def coarse(pair: Pairing) -> bool:
    return pair.row.id.startswith(("5.25-40x", "5.25-35x", "5.25-33x"))


def coarse_in_fine(pair: Pairing) -> bool:
    return (coarse(pair) and pair.drive.id in FINE) or (pair.row.id.startswith("3-40x") and pair.drive.id == "3in-80")


def double_in_high(pair: Pairing) -> bool:
    return pair.drive.id in HIGH and pair.row.medium == "5.25-dd"


WHERE: dict[str, Callable[[Pairing], bool]] = {
    "one-drive-writes": coarse_in_fine,
    "blank-disk": coarse_in_fine,
    "double-step": coarse_in_fine,
    "narrow-head-reads": coarse_in_fine,
    "boot-disk-in-96-tpi": coarse_in_fine,
    "narrow-over-wide": lambda pair: coarse(pair) or coarse_in_fine(pair),
    "write-current": double_in_high,
    "rate-at-360": lambda pair: double_in_high(pair) and pair.drive.id == "5.25-96tpi-hd-360",
    "refuse-250-at-360": lambda pair: double_in_high(pair) and pair.drive.id == "5.25-96tpi-hd-360",
    "rate-at-300": lambda pair: double_in_high(pair) and pair.drive.id == "5.25-96tpi-hd-dual",
    "dual-speed": lambda pair: pair.drive.id == "5.25-96tpi-hd-dual",
    "density-line": lambda pair: pair.drive.id in HIGH,
    "no-hole": lambda pair: pair.drive.id in HIGH,
    "hole-3.5": lambda pair: pair.drive.id in ("3.5-hd", "3.5-ed"),
    "ed-drive": lambda pair: pair.drive.id == "3.5-ed",
    "coercivity-5.25": lambda pair: pair.drive.id.startswith("5.25"),
    "coercivity-3.5": lambda pair: pair.drive.id.startswith("3.5"),
    "optional-mode": lambda pair: pair.row.id.endswith("360rpm"),
    "track-43": lambda pair: pair.drive.id.startswith("8in"),
    "index-hole-8": lambda pair: pair.drive.id.startswith("8in"),
    "mains": lambda pair: pair.drive.id.startswith("8in") and not pair.drive.id.endswith("-dc"),
    "mains-frequency": lambda pair: pair.drive.id.startswith("8in") and not pair.drive.id.endswith("-dc"),
    "notch-8": lambda pair: pair.drive.id.startswith("8in"),
    "minus-supply": lambda pair: pair.drive.id.startswith("8in-one-side"),
    "odd-lines-supply": lambda pair: pair.drive.id.startswith("3.5-600"),
    "own-interface": lambda pair: pair.drive.id.startswith(("3in", "5.25-48tpi-288")),
    "near-speed": lambda pair: pair.row.id.endswith("288rpm") != pair.drive.id.endswith("288"),
    "77-cylinders": lambda pair: "77x" in pair.row.id and pair.drive.id in {*FINE, *EIGHTY},
    "recalibrate-twice": lambda pair: pair.drive.id in {*FINE, *EIGHTY, "3in-80"},
    "precompensation": lambda pair: pair.row.encoding == "mfm",
    "fm-controller": lambda pair: pair.row.encoding == "fm",
    "fm-first-track": lambda pair: "-fm0" in pair.row.id,
}


@pytest.mark.parametrize("rule", WHERE)
def test_where_a_rule_stands(rule: str) -> None:
    wrong = [
        f"{pair.row.id} in {pair.drive.id}" for pair in pairings() if (rule in pair.rules) != WHERE[rule](pair)
    ]  # fmt: skip
    assert not wrong
    assert any(rule in pair.rules for pair in pairings())


def test_no_rule_is_without_its_place() -> None:
    assert {rule for pair in pairings() for rule in pair.rules} == set(WHERE)


def test_no_rule_is_told_twice() -> None:
    assert all(len(set(pair.rules)) == len(pair.rules) for pair in pairings())


def test_a_step_is_double_for_a_coarse_disk_in_a_fine_drive_alone() -> None:
    """Rule double-step: and then twice as many tracks of the drive are needed."""
    for pair in pairings():
        assert pair.settings.step == ("double" if coarse_in_fine(pair) else "single")
        needed = f"{2 * pair.row.cylinders} of its tracks are needed"
        assert any(needed in text for text in pair.verdict.because) == coarse_in_fine(pair)
        same = f"both have {pair.row.tracks_per_inch} tracks to the inch"
        assert (same in pair.verdict.because) != coarse_in_fine(pair)


def test_fm_is_recorded_at_half_the_rate_of_mfm() -> None:
    """IBM, diskette OEM information: FM spends two cells where MFM spends one, in cells of the same length."""
    for pair in pairings():
        mode = next(one for one in pair.drive.modes if one.id == pair.settings.mode)
        assert pair.settings.data_rate * (2 if pair.row.encoding == "fm" else 1) == mode.data_rate
        rate = pair.settings.data_rate // 1000
        does = "has a revolution" if "near-speed" in pair.rules else "puts the "
        assert pair.verdict.because[0].startswith(f"{rate} kbit/s at {mode.rotation} rev/min {does}")


def test_a_drive_that_reaches_further_than_the_disk_is_told() -> None:
    disk = DiskForDrive.of(format_rows()["5.25-80x1x9x512"])
    exact, other_side = drive_rows()["5.25-96tpi-dd-one-side"], drive_rows()["5.25-96tpi-dd"]
    further = replace(exact, cylinders=82)

    def reach(drive: DriveRow) -> list[str]:
        return [text for text in verdict(disk, drive).because if text.startswith("the drive reaches")]

    assert reach(exact) == []
    assert reach(other_side) == ["the drive reaches 80 cylinders on both sides"]
    assert reach(further) == ["the drive reaches 82 cylinders on one side"]
    twice = DiskForDrive.of(format_rows()["5.25-40x1x9x512"])
    assert not any("reaches" in text for text in verdict(twice, exact).because)


def test_what_the_host_must_see_to_is_among_the_reasons() -> None:
    for pair in pairings():
        text = " ".join(pair.verdict.because)
        assert ("set the write current" in text) == double_in_high(pair)
        assert ("not every drive of this class" in text) == pair.row.id.endswith("360rpm")
        assert ("must not write" in text) == ("near-speed" in pair.rules)


@pytest.mark.parametrize(("name", "drive", "published"), [
    ("5.25-40x1x9x512", "5.25-48tpi-one-side", 5536),   # a 48 tpi drive's manual: side 0, innermost track
    ("5.25-40x2x9x512", "5.25-48tpi", 5876),            # from memory
    ("5.25-40x2x9x512", "5.25-96tpi-dd", 5876),         # the same circle, reached in steps half as long
    ("5.25-80x2x9x512", "5.25-96tpi-dd", 5922),         # from memory
    ("3.5-80x2x9x512", "3.5-dd", 8717),                 # OEM manual of a 3.5-inch drive, table 2.1
])  # fmt: skip
def test_the_density_told_is_that_of_the_innermost_track(name: str, drive: str, published: int) -> None:
    found = verdict(DiskForDrive.of(format_rows()[name]), drive_rows()[drive])
    (text,) = [one for one in found.because if "innermost" in one]
    assert int(text.split("up to ")[1].split()[0]) == pytest.approx(published, abs=1.5)


def test_no_density_is_told_where_the_radii_are_not_known() -> None:
    one = verdict(DiskForDrive.of_other(other_disks()["5.25-77x2x16x256-100tpi"]), drive_rows()["5.25-100tpi"])
    assert one.can_write == "with-care"
    assert not any("innermost" in text for text in one.because)


def test_an_alternative_is_for_the_same_disks_and_in_every_drive() -> None:
    """Rules write-current and optional-mode: another current or another drive is no other setting."""
    disk, drive = DiskForDrive.of(format_rows()["5.25-40x2x9x512"]), drive_rows()["5.25-96tpi-hd-dual"]
    slow = next(mode for mode in drive.modes if (mode.rotation, mode.data_rate) == (300, 250_000))
    fast = next(mode for mode in drive.modes if (mode.rotation, mode.data_rate) == (360, 300_000))

    def others(changed: DriveRow) -> list[int]:
        return [one.rotation for one in verdict(disk, changed).alternatives]

    own = drive.modes[0]
    assert others(replace(drive, modes=(own, slow, fast))) == [360]
    assert others(replace(drive, modes=(own, slow, replace(fast, optional=True)))) == []
    assert others(replace(drive, modes=(own, slow, replace(fast, medium="5.25-hd")))) == []


def test_two_speeds_that_only_some_drives_have_are_no_matter_of_jumpers() -> None:
    """Rule dual-speed is on drives of which every one has both."""
    drive = drive_rows()["5.25-96tpi-hd-dual"]
    disk = DiskForDrive.of(format_rows()["5.25-80x2x15x512"])
    modes = tuple(replace(mode, optional=mode.rotation == 300) for mode in drive.modes)
    rules = [one.rule for one in verdict(disk, replace(drive, modes=modes)).cautions]
    assert "dual-speed" not in rules
    assert "density-line" in rules


def test_a_controller_gives_77_step_pulses_to_find_track_00() -> None:
    """Intel 8272 data sheet, "Recalibrate": it gives up after 77; that more tracks than that are too many is ours."""
    disk, drive = DiskForDrive.of(format_rows()["5.25-77x2x8x1024"]), drive_rows()["5.25-96tpi-hd-360"]
    for cylinders, warned in ((77, False), (78, True), (80, True)):
        rules = [one.rule for one in verdict(disk, replace(drive, cylinders=cylinders)).cautions]
        assert ("recalibrate-twice" in rules) == warned
        assert ("77-cylinders" in rules) == warned


def test_a_disk_of_another_size_has_no_rule_and_no_settings() -> None:
    one = verdict(DiskForDrive.of(format_rows()["3.5-80x2x9x512"]), drive_rows()["5.25-96tpi-dd"])
    assert (one.can_read, one.can_write, one.settings, one.cautions) == ("no", "no", None, ())
    assert one.because == ("a disk of 3.5 inch does not fit a drive for 5.25 inch",)
    assert one.sources == tuple(source.id for source in drive_rows()["5.25-96tpi-dd"].sources)


def test_what_cannot_be_read_cannot_be_written_and_says_which_rule_forbids() -> None:
    for row in format_rows().values():
        for drive in drive_rows().values():
            one = verdict(DiskForDrive.of(row), drive)
            if one.settings is None:
                assert (one.can_read, one.can_write) == ("no", "no")
                assert len(one.because) == 1
    fine = verdict(DiskForDrive.of(format_rows()["5.25-80x2x9x512"]), drive_rows()["5.25-48tpi"])
    assert [caution.rule for caution in fine.cautions] == ["wide-head"]


def test_figures_for_precompensation_are_cited_where_they_are_given() -> None:
    for pair in pairings():
        figures = precompensation_rows().get(f"{pair.row.disk_inch:g}-{pair.row.tracks_per_inch}")
        told = pair.settings.precompensation
        if pair.row.encoding == "mfm":
            assert told == (None if figures is None else figures.says)
            assert figures is None or {one.id for one in figures.sources} <= set(pair.verdict.sources)
        else:
            assert ("perpendicular" in str(told)) == (pair.row.encoding == "perpendicular")
        own = verdict(DiskForDrive.of(pair.row), replace(pair.drive, sources=())).sources
        assert ("smsc-perpendicular" in own) == (pair.row.encoding == "perpendicular")
    assert any(pair.row.encoding == "mfm" and pair.settings.precompensation is None for pair in pairings())


def test_a_mode_is_set_with_single_steps_unless_told_otherwise() -> None:
    disk, drive = DiskForDrive.of(format_rows()["5.25-80x2x9x512"]), drive_rows()["5.25-96tpi-dd"]
    assert settings(disk, drive.modes[0]) == verdict(disk, drive).settings


def test_the_source_of_figures_is_cited_whatever_else_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """A figure is a claim: whoever is given it sees where it is from; who is given none needs no source of it."""
    other = next(one for one in drive_rows()["3.5-hd"].sources if one.id == "sfd-oem")   # of no 5.25-inch drive
    rows = {key: replace(row, sources=(other,)) for key, row in precompensation_rows().items()}
    monkeypatch.setattr(import_module("imagekeeper.drives.verdict"), "precompensation_rows", lambda: rows)
    drive = replace(drive_rows()["5.25-48tpi"], sources=())
    cited = {
        name: other.id in verdict(DiskForDrive.of(format_rows()[name]), drive).sources
        for name in ("5.25-40x2x9x512", "5.25-40x1x16x128-fm")
    }
    assert cited == {"5.25-40x2x9x512": True, "5.25-40x1x16x128-fm": False}
