"""Disks that went between a drive of the bench and the machine's own: what they show, and how that ages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.drives import DiskForDrive
from imagekeeper.drives.answering import answer, request
from imagekeeper.drives.at_hand import AtHand
from imagekeeper.drives.bench import Bench, Interchange, OwnDrive, OwnMedium, Retried
from imagekeeper.drives.bench_form import parse
from imagekeeper.drives.interchange import Shown, proved
from imagekeeper.errors import InputError
from imagekeeper.floppy.formats import find
from imagekeeper.jobs import specimen
from imagekeeper.jobs.bench.interchanging import InterchangeNoted
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]

DISK = DiskForDrive.of(find("360K"))
TODAY = "2026-03-05T10:00:00Z"


def trial(**members: Any) -> Interchange:
    usual: dict[str, Any] = {
        "drive": "B", "machine_drive": "drive A of the TG-85", "wrote": "here", "format": "5.25-40x2x9x512",
        "cylinders": 40, "on": "2026-03-02",
    }  # fmt: skip
    return Interchange(**(usual | members))


def bench(*trials: Interchange) -> Bench:
    return Bench(drives=(OwnDrive("B", "5.25-96tpi-hd-360"),), media=(OwnMedium("5.25-dd", 5),), interchanges=trials)


def shown_of_b(today: str | None, *trials: Interchange) -> tuple[Shown, ...]:
    return AtHand(DISK, bench(*trials), today).own(OwnDrive("B", "5.25-96tpi-hd-360"))[1]


def test_a_fresh_trial_is_evidence_in_place_of_a_safer_drive() -> None:
    found = answer(DISK, bench(trial()), TODAY)
    assert "It wrote a disk of which drive A of the TG-85 read all 40 cylinders, on 2026-03-02." in found.says
    assert "Safer" not in found.says
    assert request(DISK, found) is None
    way = found.solutions[0]
    assert (way.answer.proved, way.answer.can_write, way.evidence[0].weight > 0.9) == (True, "with-care", True)
    assert found.drives[0].verdict.because[0].startswith("it wrote a disk of which drive A of the TG-85 read all")
    without = answer(DISK, bench(), TODAY)
    assert "Safer" in without.says
    assert way.score > without.solutions[0].score


def test_an_old_trial_says_how_old_and_proves_nothing_any_more() -> None:
    scores = []
    for on, words in (("2026-03-02", "2026-03-02."), ("2025-02", "more than a year ago: try again"),
                      ("2020", "more than 6 years ago: try again")):  # fmt: skip
        found = answer(DISK, bench(trial(on=on)), TODAY)
        assert words in found.says
        assert ("Safer" in found.says) == (on != "2026-03-02")
        scores.append(found.solutions[0].score)
    assert scores == sorted(scores, reverse=True)
    assert len(set(scores)) == 3
    assert not proved(shown_of_b(None, trial()))   # nobody knows what day it is


def test_failed_cylinders_put_the_drive_behind_one_that_is_got() -> None:
    found = answer(DISK, bench(trial(failed=(38, 39))), TODAY)
    assert found.says.startswith("Your drive B may not write PC 360K: it wrote a disk of which")
    assert "cylinders 38-39" in found.says
    assert found.solutions[0].answer.drive is None
    assert "5.25-48tpi" in (request(DISK, found) or "")
    assert answer(DISK, bench(trial(failed=(38, 39)), trial(on="2026-03-03")), TODAY).solutions[0].answer.proved


def test_a_drive_that_needed_no_care_needs_it_once_cylinders_failed() -> None:
    own = Bench(drives=(OwnDrive("B", "5.25-48tpi"),), media=(OwnMedium("5.25-dd", 5),))
    for wrote, expected in ((None, ("yes", "yes")), ("here", ("with-care", "yes")), ("there", ("yes", "with-care"))):
        trials = () if wrote is None else (trial(failed=(0,), wrote=wrote),)
        found = answer(DISK, Bench(drives=own.drives, media=own.media, interchanges=trials), TODAY).drives[0].verdict
        assert (found.can_write, found.can_read) == expected
    part = answer(DISK, Bench(drives=own.drives, interchanges=(trial(cylinders=35),)), TODAY).drives[0].verdict
    assert part.can_write == "yes"   # cylinders that nobody tried are no failure
    other = Bench(drives=(OwnDrive("B", "3.5-hd"),), interchanges=(trial(failed=(0,)),))
    assert "does not fit" in answer(DISK, other, TODAY).drives[0].verdict.because[0]


@pytest.mark.parametrize(("other", "counts"), [
    ({"format": "5.25-40x2x8x512"}, True),      # the same tracks with other sectors
    ({"format": "5.25-80x2x9x512"}, False),     # other tracks
    ({"format": "5.25-80x2x15x512"}, False),    # another density
    ({"drive": "C"}, False),
    ({"format": "of an own row that is gone"}, False),
])  # fmt: skip
def test_a_trial_counts_for_disks_of_its_kind_and_for_its_drive(other: dict[str, Any], counts: bool) -> None:
    assert bool(shown_of_b(TODAY, trial(**other))) == counts


def test_cylinders_that_nobody_tried_and_tries_that_were_needed_weigh_less() -> None:
    whole, part, again = (
        shown_of_b(TODAY, one)[0]
        for one in (trial(), trial(cylinders=35), trial(retried=(Retried(37, 3), Retried(38, 1))))
    )
    assert (whole.holds, part.holds, again.holds) == (True, False, True)
    assert not proved([part])
    assert whole.weight > part.weight > 0
    assert whole.weight > again.weight > 0
    assert "after 4 more tries on cylinders 37-38" in again.says
    assert "read cylinders 0-34" in part.says


def test_each_machine_and_each_direction_is_told_apart() -> None:
    found = shown_of_b(TODAY, trial(), trial(wrote="there"), trial(machine_drive="drive B", failed=(3,)))
    assert len(found) == 3
    assert not proved(found)   # one machine reads it, another does not


@pytest.mark.parametrize(("change", "why"), [
    ("wrote = 'nowhere'", "wrote"), ("cylinders = 0", "cylinders"), ("cylinders = true", "cylinders"),
    ("cylinders = 9999", "cylinders"), ("on = 'soon'", "no day"), ("on = 2026-03-02", "on is missing"),
    ("failed = [40]", "failed"), ("failed = 3", "failed"), ("retried = [3]", "retried"), ("retried = 1", "retried"),
    ("retried = [[3, 0]]", "retried"), ("drive = ''", "drive"), ("side = 1", "'side'"), ("note = 1", "note"),
])  # fmt: skip
def test_what_is_wrong_in_a_trial_is_told(change: str, why: str) -> None:
    rows = {
        "drive": "'B'", "machine_drive": "'A'", "wrote": "'here'", "format": "'5.25-40x2x9x512'", "cylinders": "40",
        "on": "'2026-03-02'",
    }  # fmt: skip
    assert parse("[[interchange]]\n" + "\n".join(f"{name} = {value}" for name, value in rows.items())).interchanges
    name, _, value = change.partition(" = ")
    rows[name] = value
    with pytest.raises(InputError) as caught:
        parse("[[interchange]]\n" + "\n".join(f"{name} = {value}" for name, value in rows.items()))
    assert (caught.value.code, why in caught.value.why) == ("bench-form", True), caught.value.why


@pytest.fixture
def harbour(cli: Cli) -> tuple[str, str]:
    cli("archive", "init", "harbour")
    cli("floppy", "bench", "add", "drive", "B", "--class", "5.25-96tpi-hd-360", "--archive", "harbour")
    return "--archive", "harbour"


ASKED = ("floppy", "bench", "interchange", "B", "--with", "drive A of the TG-85", "--format", "720K 5.25")


def test_cylinders_are_found_by_holding_the_read_against_what_was_written(
    cli: Cli, harbour: tuple[str, str], tmp_path: Path
) -> None:
    written = specimen.station_disk()
    read = bytearray(written)
    read[38 * 9216 + 5000] ^= 1      # cylinder 38, side 1
    (tmp_path / "w.img").write_bytes(written)
    (tmp_path / "r.img").write_bytes(read[:79 * 9216 + 1])   # and the last cylinder ends too early
    ran = cli(*ASKED, "--wrote", "here", "--known", "w.img", "--read", "r.img", "--json", *harbour)
    assert (ran.code, list(ran.json)) == (1, schema_of(InterchangeNoted)["required"])
    assert ran.json["failed"] == [38, 79]
    assert ran.json["still"]
    held = (tmp_path / "harbour" / "bench.toml").read_text()
    assert "failed = [38, 79]" in held
    listed = cli("floppy", "bench", "list", "--json", *harbour).json
    assert listed["interchanges"][0]["failed"] == [38, 79]


def test_both_ways_and_what_floppy_drives_makes_of_it(cli: Cli, harbour: tuple[str, str], tmp_path: Path) -> None:
    here = cli(*ASKED, "--wrote", "here", "--retried", "70-71x2", *harbour)
    assert (here.code, "now the other way" in here.out) == (0, True)
    there = cli(*ASKED, "--wrote", "there", "--all-read", *harbour)
    assert (there.code, "now the other way" in there.out) == (0, False)
    out = " ".join(cli("floppy", "drives", "720K 5.25", *harbour).out.split())
    assert "drive A of the TG-85 read all 80 cylinders, after 4 more tries on cylinders 70-71" in out
    assert "Of a disk that drive A of the TG-85 wrote it read all 80 cylinders" in out
    (tmp_path / "w.img").write_bytes(specimen.station_disk())
    sheet = cli("plan", "disk", "w.img", "--format", "720K 5.25", "--drive", "B", "-o", "o.img", *harbour).out
    assert "after 4 more tries on cylinders 70-71" in " ".join(sheet.split())
    gone = cli("floppy", "bench", "remove", "drive", "B", "--reason", "sold", *harbour)
    assert gone.code == 0   # its trials stay as what was seen
    assert "trial" in cli("floppy", "bench", "list", *harbour).out


@pytest.mark.parametrize(("options", "code"), [
    ((), 2), (("--all-read", "--failed", "3"), 2), (("--failed", "80"), 2), (("--failed", "5-3"), 2),
    (("--failed", "x"), 2), (("--retried", "3x0"), 2), (("--known", "w.img"), 2), (("--cylinders", "81"), 2),
    (("--all-read", "--date", "2999"), 2), (("--all-read", "--date", "soon"), 2),
    (("--known", "w.img", "--read", "w.img"), 2), (("--known", "w.img", "--read", "none.img"), 5),
    (("--known", "short.img", "--read", "w.img"), 2), (("--failed", "٣"), 2),
])  # fmt: skip
def test_what_was_not_seen_is_not_noted(
    cli: Cli, harbour: tuple[str, str], tmp_path: Path, options: tuple[str, ...], code: int
) -> None:
    (tmp_path / "w.img").write_bytes(specimen.station_disk())
    (tmp_path / "short.img").write_bytes(bytes(512))
    before = (tmp_path / "harbour" / "bench.toml").read_bytes()
    ran = cli(*ASKED, "--wrote", "here", *options, *harbour)
    assert (ran.code, "next:" in ran.err) == (code, True), ran.err
    assert (tmp_path / "harbour" / "bench.toml").read_bytes() == before


def test_a_drive_that_is_not_there_or_never_met_the_disk(cli: Cli, harbour: tuple[str, str]) -> None:
    common = ("--with", "drive A", "--wrote", "here", "--all-read", *harbour)
    assert cli("floppy", "bench", "interchange", "C", "--format", "360K", *common).code == 2
    ran = cli("floppy", "bench", "interchange", "B", "--format", "1.44M", *common, "--json")
    assert (ran.code, ran.json["code"]) == (1, "drive-cannot")


@pytest.mark.parametrize(("on", "today", "age", "words"), [
    ("2026-03-05", "2026-03-05T00:00:00Z", 0, "on 2026-03-05"),
    ("2026-03-06", "2026-03-05T23:00:00Z", 0, "on 2026-03-06"),           # it is that day elsewhere
    ("2025-03-05", "2026-03-05T10:00:00Z", 365, "on 2025-03-05"),
    ("2025-03-04", "2026-03-05T10:00:00Z", 366, "on 2025-03-04, more than a year ago: try again"),
    ("2025", "2026-01-01T10:00:00Z", 365, "on 2025"),                     # from the first day that it may have been
    ("2024-03", "2026-03-05T10:00:00Z", 734, "on 2024-03, more than 2 years ago: try again"),
])  # fmt: skip
def test_age_is_told_from_the_first_day_that_it_may_have_been(on: str, today: str, age: int, words: str) -> None:
    found = shown_of_b(today, trial(on=on))[0]
    assert (found.age, found.says.endswith(words)) == (age, True), found.says
    assert proved([found]) == (age <= 365)
    assert found.weight == pytest.approx(0.5 ** (age / 365))


def test_of_two_trials_the_later_day_counts_and_on_one_day_the_later_line() -> None:
    bad, good = trial(failed=(3,)), trial()
    assert not shown_of_b(TODAY, good, bad)[0].holds
    assert shown_of_b(TODAY, bad, good)[0].holds
    assert not shown_of_b(TODAY, trial(failed=(3,), on="2026-03-03"), trial(on="2026-03-01"))[0].holds


def test_cylinders_beyond_the_disk_are_no_failure_of_it() -> None:
    wide = trial(format="5.25-40x2x8x512", cylinders=40, failed=(35,))
    thirty_five = DiskForDrive.of(find("5.25-35x1x16x256"))
    found = AtHand(thirty_five, bench(wide), TODAY).own(OwnDrive("B", "5.25-96tpi-hd-360"))[1]
    assert [one.holds for one in found] == [True]
    assert found[0].weight < 1   # more cylinders than the disk has count no more


def test_one_more_try_is_one_try() -> None:
    found = shown_of_b(TODAY, trial(retried=(Retried(5, 1),)))[0]
    assert "after 1 more try on cylinder 5," in found.says
    assert found.weight == pytest.approx(shown_of_b(TODAY, trial())[0].weight / 2)
    assert "after 2 more tries" in shown_of_b(TODAY, trial(retried=(Retried(5, 2),)))[0].says
