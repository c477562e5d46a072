"""Each rule appears where it belongs, with its source, and its arithmetic holds."""

from __future__ import annotations

import pytest

from imagekeeper.drives import DiskForDrive, Verdict, caution, match, verdict
from imagekeeper.drives.answering import answer
from imagekeeper.drives.bench import Bench, OwnController, OwnDrive
from imagekeeper.drives.fit import Obstacle, steps
from imagekeeper.errors import UsageError
from imagekeeper.floppy.formats import find
from imagekeeper.tables import sources
from imagekeeper.tables.controllers import controller_rows
from imagekeeper.tables.drives import drive_rows, medium_rows, rule_rows
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.other_disks import other_disks


def judge(name: str, drive: str) -> Verdict:
    return verdict(DiskForDrive.of(format_rows()[name]), drive_rows()[drive])


def rules(name: str, drive: str) -> list[str]:
    return [one.rule for one in judge(name, drive).cautions]


def test_q79538_a_360k_disk_in_a_1_2_mb_drive() -> None:
    """Microsoft Q79538: such a disk may fail in the wide drive after both wrote it; blank disk, one drive writes."""
    one = judge("5.25-40x2x9x512", "5.25-96tpi-hd-360")
    found = {c.rule: c for c in one.cautions}
    assert [c.rule for c in one.cautions][:2] == ["one-drive-writes", "blank-disk"]
    assert found["narrow-over-wide"].sources == found["one-drive-writes"].sources == ("kb-q79538",)
    assert one.can_read == "yes"
    assert one.settings is not None
    assert (one.settings.data_rate, one.settings.rotation, one.settings.step) == (300_000, 360, "double")
    assert "low write current" in one.settings.density
    assert (one.settings.media, one.settings.coercivity_oe) == ("5.25-dd", (300,))


def test_the_wide_drive_too_is_warned_of_a_disk_that_both_wrote() -> None:
    assert "narrow-over-wide" in rules("5.25-40x2x9x512", "5.25-48tpi")
    assert "narrow-over-wide" not in rules("5.25-80x2x9x512", "5.25-96tpi-dd")


def test_two_steps_of_96_tpi_are_one_of_48() -> None:
    """Rule double-step: the ratio is 2 exactly; rule wide-head: the other way there is no whole number."""
    disk = DiskForDrive.of(format_rows()["5.25-40x2x9x512"])
    assert steps(disk, drive_rows()["5.25-96tpi-dd"]) == 2
    assert steps(disk, drive_rows()["5.25-48tpi"]) == 1
    fine = steps(DiskForDrive.of(format_rows()["5.25-80x2x9x512"]), drive_rows()["5.25-48tpi"])
    assert isinstance(fine, Obstacle)
    assert fine.rule == "wide-head"


def test_100_tpi_is_half_a_track_off_after_8_tracks() -> None:
    """Rule pitch-100-tpi: 25.4/96 - 25.4/100 is 0.0106 mm; eight of them are 0.085 mm, half of 0.16 mm and a little."""
    pitch = {name: drive_rows()[name].pitch_mm for name in ("5.25-96tpi-dd", "5.25-100tpi")}
    error = pitch["5.25-96tpi-dd"] - pitch["5.25-100tpi"]
    assert error == pytest.approx(0.0106, abs=5e-5)
    assert 8 * error == pytest.approx(0.085, abs=5e-4)
    found = steps(DiskForDrive.of(format_rows()["5.25-80x2x9x512"]), drive_rows()["5.25-100tpi"])
    assert isinstance(found, Obstacle)
    assert "after 8 tracks" in found.says
    assert found.rule == "pitch-100-tpi"


def test_the_rate_follows_the_rotation() -> None:
    """Rule rate-at-360 (post of March 2000): 300 kbit/s, and 150 in FM; rule rate-at-300 (post of March 2014): 250."""
    mfm, fm = "5.25-40x2x9x512", "5.25-40x1x16x128-fm"
    rates = {
        drive: [getattr(judge(name, drive).settings, "data_rate", None) for name in (mfm, fm)]
        for drive in ("5.25-48tpi", "5.25-96tpi-hd-360", "5.25-96tpi-hd-dual")
    }
    assert rates == {
        "5.25-48tpi": [250_000, 125_000], "5.25-96tpi-hd-360": [300_000, 150_000],
        "5.25-96tpi-hd-dual": [250_000, 125_000],
    }  # fmt: skip
    other = judge(mfm, "5.25-96tpi-hd-dual").alternatives
    assert [(one.rotation, one.data_rate) for one in other] == [(360, 300_000)]


def test_250_kbit_at_360_is_warned_of() -> None:
    """A 360 rev/min drive at 250 kbit/s holds 5208 bytes, and a double-density track has 6250."""
    assert int(250_000 * 60 / 360 / 8) == 5208
    assert "refuse-250-at-360" in rules("5.25-40x2x9x512", "5.25-96tpi-hd-360")
    assert "refuse-250-at-360" not in rules("5.25-40x2x9x512", "5.25-96tpi-dd")
    assert "refuse-250-at-360" not in rules("5.25-80x2x15x512", "5.25-96tpi-hd-360")
    wrong = DiskForDrive(
        format=None, title="wrong pairing", disk_inch=5.25, tracks_per_inch=96, cylinders=80, heads=2, encoding="mfm",
        data_rate=250_000, rotation=360, medium="5.25-dd",
    )  # fmt: skip
    assert {one.can_write for one in match(wrong).drives} == {"no"}
    assert match(wrong).exit_code == 1


@pytest.mark.parametrize(("name", "drive", "there", "absent"), [
    ("5.25-80x2x9x512", "5.25-96tpi-hd-360", "write-current", "double-step"),
    ("5.25-80x2x15x512", "5.25-96tpi-hd-dual", "dual-speed", "write-current"),
    ("5.25-80x2x15x512", "5.25-96tpi-hd-360", "coercivity-5.25", "dual-speed"),
    ("3.5-80x2x9x512", "3.5-hd", "hole-3.5", "no-hole"),
    ("3.5-80x2x9x512", "3.5-hd", "coercivity-3.5", "coercivity-5.25"),
    ("5.25-80x2x15x512", "5.25-96tpi-hd-360", "no-hole", "hole-3.5"),
    ("8-77x1x26x128-fm", "8in-two-sides", "index-hole-8", "one-side-drive"),
    ("8-77x1x26x128-fm", "8in-two-sides", "fm-controller", "precompensation"),
    ("8-77x2x26x256-fm0", "8in-two-sides", "fm-first-track", "fm-controller"),
    ("8-77x2x8x1024", "8in-two-sides", "track-43", "recalibrate-twice"),
    ("8-77x2x8x1024", "8in-two-sides", "mains", "77-cylinders"),
    ("5.25-77x2x8x1024", "5.25-96tpi-hd-360", "77-cylinders", "track-43"),
    ("5.25-80x2x9x512", "5.25-96tpi-dd", "recalibrate-twice", "mains"),
    ("5.25-40x2x9x512", "5.25-48tpi", "precompensation", "recalibrate-twice"),
    ("5.25-40x2x9x512", "5.25-48tpi-one-side", "one-side-drive", "35-tracks"),
    ("5.25-40x2x9x512", "5.25-48tpi-35", "35-tracks", "double-step"),
    ("3.5-80x2x15x512-360rpm", "3.5-hd", "optional-mode", "longer-track-at-300"),
    ("3.5-80x2x36x512", "3.5-hd", "ed-drive", "coercivity-3.5"),
    ("3.5-80x2x18x512", "3.5-ed", "ed-drive", "optional-mode"),
    ("5.25-80x2x15x512", "5.25-96tpi-dd", "coercivity-5.25", "wide-head"),
])  # fmt: skip
def test_a_rule_stands_where_it_belongs_and_nowhere_else(name: str, drive: str, there: str, absent: str) -> None:
    assert there in rules(name, drive)
    assert absent not in rules(name, drive)


def test_a_drive_known_to_lack_360_rev_min_is_told_why() -> None:
    disk = DiskForDrive.of(format_rows()["3.5-80x2x15x512-360rpm"])
    without = verdict(disk, drive_rows()["3.5-hd"], optional_modes=[])
    assert (without.can_read, without.can_write) == ("no", "no")
    assert [one.rule for one in without.cautions] == ["longer-track-at-300"]
    assert "12500" in without.because[0]
    having = verdict(disk, drive_rows()["3.5-hd"], optional_modes=["360-500"])
    assert (having.can_read, having.can_write) == ("yes", "yes")
    assert "optional-mode" not in [one.rule for one in having.cautions]


def test_precompensation_is_that_of_the_disk_not_of_the_drive() -> None:
    """A post of 2013: above track 23 at 48 tpi, above 43 at 96 tpi, also where a fine drive writes the coarse disk."""
    wide = judge("5.25-40x2x9x512", "5.25-96tpi-dd").settings
    fine = judge("5.25-80x2x9x512", "5.25-96tpi-dd").settings
    assert wide is not None
    assert fine is not None
    assert "above track 23" in str(wide.precompensation)
    assert "above track 43" in str(fine.precompensation)


def test_no_precompensation_where_none_applies() -> None:
    """SMSC, perpendicular mode: none is applied. In FM none is given: from memory, it needs none."""
    ed = judge("3.5-80x2x36x512", "3.5-ed")
    assert ed.settings is not None
    assert ed.settings.precompensation == "none in perpendicular recording"
    assert "smsc-perpendicular" in ed.sources
    fm = judge("8-77x1x26x128-fm", "8in-one-side").settings
    assert fm is not None
    assert fm.precompensation is None


def test_every_rule_is_met_somewhere_and_cites_what_there_is() -> None:
    met = {
        one.rule
        for row in (*format_rows().values(), *other_disks().values())
        for found in (match(row),)
        for group in (found.drives, found.substitutes)
        for part in group
        for one in part.cautions
    }
    for controller in controller_rows():   # and those on what hangs between drive and computer
        bench = Bench(
            drives=tuple(OwnDrive(name, name) for name in ("5.25-96tpi-hd-360", "5.25-48tpi", "3.5-hd")),
            controllers=(OwnController(name="card", controller=controller),),
        )
        for name in ("1.2M", "1.44M", "8-inch 250K", "360K"):
            found = answer(DiskForDrive.of(find(name)), bench)
            met |= {one.rule for own in found.drives for one in own.verdict.cautions}
            met |= {one.rule for way in found.solutions for one in way.answer.cautions}
    assert met == set(rule_rows())
    for name in rule_rows():
        one = caution(name)
        assert one.text
        assert one.because
        assert set(one.sources) <= set(sources())
        assert set(one.unsourced) <= {"text", "because"}


def test_reading_alone_where_only_the_medium_is_another() -> None:
    """A high-density recording on a double-density disk: the cells fit the drive's mode, so it reads, never writes."""
    odd = DiskForDrive(
        format=None, title="odd", disk_inch=5.25, tracks_per_inch=96, cylinders=80, heads=2, encoding="mfm",
        data_rate=500_000, rotation=360, medium="5.25-dd",
    )  # fmt: skip
    one = verdict(odd, drive_rows()["5.25-96tpi-hd-360"])
    assert (one.can_read, one.can_write) == ("yes", "no")
    assert "must not write" in " ".join(one.because)


@pytest.mark.parametrize(("change", "code"), [
    ({"cylinders": 0}, "usage"), ({"rotation": -300}, "usage"), ({"data_rate": float("nan")}, "usage"),
    ({"data_rate": float("inf")}, "usage"), ({"medium": "wax"}, "unknown-name"), ({"encoding": "rll"}, "unknown-name"),
])  # fmt: skip
def test_a_disk_that_cannot_be_is_refused(change: dict[str, object], code: str) -> None:
    fields = {
        "format": None, "title": "tide recorder", "disk_inch": 5.25, "tracks_per_inch": 48, "cylinders": 40, "heads": 1,
        "encoding": "mfm", "data_rate": 250_000, "rotation": 300, "medium": "5.25-dd",
    }  # fmt: skip
    assert match(DiskForDrive(**fields)).drives[0].can_write == "yes"   # type: ignore[arg-type]
    with pytest.raises(UsageError) as caught:
        DiskForDrive(**(fields | change))   # type: ignore[arg-type]
    assert caught.value.code == code


def test_every_source_named_is_resolved_in_the_document() -> None:
    for row in format_rows().values():
        found = match(row)
        ids = {one.id for one in found.sources}
        assert ids == {name for part in (*found.drives, *found.substitutes) for name in part.sources}
        assert all(one.settings is None or one.settings.media in medium_rows() for one in found.drives)
