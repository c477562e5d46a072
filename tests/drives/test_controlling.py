"""What a controller leaves open: which words and rules come with it, and which are settled."""

from __future__ import annotations

import pytest

from imagekeeper.drives import DiskForDrive
from imagekeeper.drives.controlling import Control, control, left_to_see, wanted
from imagekeeper.drives.verdict import verdict
from imagekeeper.floppy.formats import find
from imagekeeper.tables.controllers import controller_rows
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.other_disks import other_disks


def judged(disk: str, drive: str, mode: int, card: str) -> Control:
    return control(DiskForDrive.of(find(disk)), drive_rows()[drive].modes[mode], controller_rows()[card])


def rules(disk: str, drive: str, card: str | None) -> list[str]:
    row = None if card is None else controller_rows()[card]
    found = verdict(DiskForDrive.of(find(disk)), drive_rows()[drive], controller=row)
    return [one.rule for one in found.cautions]


@pytest.mark.parametrize(("case", "says", "names"), [
    (("8-inch 250K", "8in-one-side", 0, "pc-adapter"), "it does not do FM", ("fm-controller",)),
    (("360K", "5.25-48tpi", 0, "i8271"), "it does not do MFM", ()),
    (("2.88M", "3.5-ed", 0, "8272"), "it does not do perpendicular recording", ()),
    (("1.44M", "3.5-hd", 0, "wd1770"), "it has 250 kbit/s in MFM, and 500 are needed", ("controller-lacks-rate",)),
    (("360K", "5.25-48tpi", 0, "8272"), "only some of its class have 250 kbit/s", ("controller-clock",)),
    (("8-inch 250K", "8in-one-side", 0, "fd179x"), "only some of its class have 500 kbit/s and FM",
     ("controller-clock", "fm-controller")),
    (("8-inch 250K", "8in-one-side", 0, "82c765b"), "only some of its class have FM", ("fm-controller",)),
    (("2.88M", "3.5-ed", 0, "pc8477b"), "only some of its class have perpendicular recording", ()),
    (("1.44M", "3.5-hd", 0, "fdc37"), "it has 500 kbit/s in MFM", ()),
])  # fmt: skip
def test_what_is_said_of_a_controller(case: tuple[str, str, int, str], says: str, names: tuple[str, ...]) -> None:
    found = judged(*case)
    assert (found.says, found.rules) == (says, names)


def test_a_first_track_in_fm_asks_for_both_ways_of_recording() -> None:
    """Ecma, ECMA-147, brief history: track 00 of side 0 in FM, the others in MFM."""
    disk = DiskForDrive.of(find("8-77x2x26x256-fm0"))
    assert disk.first_track_fm
    mode = drive_rows()["8in-two-sides"].modes[0]
    assert wanted(disk, mode) == "500 kbit/s in MFM, and FM for its first track"
    assert control(disk, mode, controller_rows()["fdc37"]).answer == "with-care"
    assert control(disk, mode, controller_rows()["i8271"]).answer == "no"


def test_a_disk_of_another_recording_takes_its_own_controller() -> None:
    holes = DiskForDrive.of_other(other_disks()["5.25-35x1x10x256-fm-10holes"])
    group = DiskForDrive.of_other(other_disks()["5.25-35x1x16x256-gcr"])
    mode = drive_rows()["5.25-48tpi"].modes[0]
    for disk, rule in ((holes, "hard-sectored"), (group, "other-recording")):
        for card in controller_rows().values():
            assert control(disk, mode, card).rules == (rule,)


@pytest.mark.parametrize(("disk", "drive", "card", "with_", "without"), [
    ("360K", "5.25-96tpi-hd-360", "fdc37", {"rate-at-360", "double-step"}, {"refuse-250-at-360", "recalibrate-twice"}),
    ("720K 3.5", "3.5-dd", "82c765b", set(), {"controller-clock"}),
    ("1.2M", "5.25-96tpi-hd-360", "8272", {"controller-clock", "recalibrate-twice"}, {"line-2-track-43"}),
    ("1.2M", "5.25-96tpi-hd-360", "fd179x", {"controller-clock", "line-2-track-43"}, {"recalibrate-twice"}),
    ("360K", "5.25-48tpi", "wd279x", {"controller-clock"}, {"line-2-track-43"}),
    ("360K", "5.25-48tpi", "wd1772", {"step-slower"}, {"controller-clock"}),
    ("360K", "5.25-48tpi", "wd1770", set(), {"step-slower"}),
    ("5.25-40x1x16x128-fm", "5.25-48tpi", "wd1770", set(), {"fm-controller"}),
    ("5.25-40x1x16x128-fm", "5.25-48tpi", "fdc37", {"fm-controller"}, set()),
    ("1.44M", "3.5-hd", "82077aa", {"hole-3.5"}, {"step-slower", "line-2-track-43"}),   # another field is disputed
])  # fmt: skip
def test_which_rules_a_controller_leaves_open(
    disk: str, drive: str, card: str, with_: set[str], without: set[str]
) -> None:
    found = rules(disk, drive, card)
    assert with_ <= set(found)
    assert not without & set(found)
    assert len(found) == len(set(found))   # nothing is said twice


def test_77_steps_reach_track_00_of_a_drive_of_77_tracks() -> None:
    """Intel, 8272 data sheet: it gives up after 77 step pulses; a drive of more tracks may need a second command."""
    disk, card = DiskForDrive.of(find("1.2M")), controller_rows()["8272"]
    for drive, left in (("5.25-96tpi-hd-360", True), ("5.25-100tpi", False)):
        row = drive_rows()[drive]
        found = left_to_see(["recalibrate-twice"], disk, row, drive_rows()["5.25-96tpi-hd-360"].modes[0], card)
        assert ("recalibrate-twice" in list(found)) == left
