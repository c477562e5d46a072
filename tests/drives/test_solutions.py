"""Drive, controller, cable and disk as one: what is at hand decides, and verdict and request say the same."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.drives import DiskForDrive, cabling, match, verdict
from imagekeeper.drives.answering import answer, request
from imagekeeper.drives.bench import Bench, OwnCable, OwnController, OwnDrive, OwnMedium
from imagekeeper.drives.controlling import control
from imagekeeper.drives.results import Solution
from imagekeeper.drives.solutions import solutions
from imagekeeper.floppy.formats import find
from imagekeeper.tables.controllers import cable_rows, controller_rows
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.floppy import format_rows

HD = OwnDrive("B", "5.25-96tpi-hd-360")
DUAL = OwnDrive("D", "5.25-96tpi-hd-dual", (300, 360))
OLD = OwnController(name="old card", controller="pc-adapter")
TOWER = OwnController(name="tower", controller="fdc37")
SHELF = tuple(OwnMedium(name) for name in ("5.25-dd", "5.25-hd", "3.5-dd", "3.5-hd", "8-inch", "3.5-ed"))


def best(name: str, **held: tuple[object, ...]) -> Solution:
    bench = Bench(**{"media": SHELF, **held})   # type: ignore[arg-type]
    return solutions(DiskForDrive.of(find(name)), bench)[0].answer


def test_without_300_kbit_s_a_drive_at_360_is_of_no_use_for_double_density() -> None:
    """Bits in a revolution: 250 000 x 60 / 360 / 8 is 5208 bytes, and a track of 6250 cannot fit."""
    disk = DiskForDrive.of(find("360K"))
    found = answer(disk, Bench(drives=(HD,), controllers=(OLD,), media=SHELF))
    assert found.drives[0].verdict.can_write == "no"
    assert "250 kbit/s in MFM, and 300 are needed" in found.drives[0].verdict.because[0]
    first, second = (one.answer for one in found.solutions)
    assert (first.drive_class, first.controller, [one.kind for one in first.missing]) == (
        "5.25-48tpi", "old card", ["drive"],
    )  # fmt: skip
    assert (second.drive, second.controller, [one.kind for one in second.missing]) == ("B", None, ["controller"])
    assert set(second.missing[0].classes) == {"82077aa", "pc8477b", "fdc37", "it8673f", "82c765b", "w83757f"}
    asked = request(disk, found)
    assert asked is not None
    assert "class 5.25-48tpi" in asked
    assert "controller" not in asked   # the best way asks for the drive alone


def test_with_300_kbit_s_nothing_is_wanting_but_what_is_safer() -> None:
    disk = DiskForDrive.of(find("360K"))
    found = answer(disk, Bench(drives=(HD,), controllers=(OLD, TOWER), media=SHELF))
    assert (found.solutions[0].answer.controller, found.drives[0].controller) == ("tower", "tower")
    rules = [one.rule for one in found.drives[0].verdict.cautions]
    assert "refuse-250-at-360" not in rules   # it has been seen to
    assert "recalibrate-twice" not in rules
    asked = request(disk, found)
    assert asked is not None
    assert "I need" not in asked
    assert asked.startswith("I can write PC 360K")


def test_a_drive_of_two_speeds_takes_the_rate_that_its_controller_has() -> None:
    """A post of 2014 and the TEAC FD-55GFR specification: 250 kbit/s at 300 rev/min, or 300 at 360."""
    for card, mode in ((OLD, "300-250"), (TOWER, "300-250")):
        assert best("720K 5.25", drives=(DUAL,), controllers=(card,)).settings.mode == mode
    only_500 = OwnController(name="x", controller="w83757f", rates=(300, 500))
    assert best("720K 5.25", drives=(DUAL,), controllers=(only_500,)).settings.mode == "360-300"


@pytest.mark.parametrize(("card", "disk", "answer_"), [
    ("i8271", "8-inch 250K", "with-care"),   # Intel, 8271 data sheet: FM alone, by the clock of the board
    ("i8271", "360K", "no"),
    ("wd1770", "360K", "yes"),               # Western Digital, WD1770 data sheet: 125 FM and 250 MFM
    ("wd1770", "1.44M", "no"),
    ("wd1770", "8-inch 250K", "no"),
    ("82077aa", "2.88M", "with-care"),       # Intel, 82077AA data sheet: the -5 has no 1 Mbit/s
    ("it8673f", "2.88M", "yes"),             # ITE, IT8673F data sheet: perpendicular mode, 1 Mbit/s
    ("pc-adapter", "5.25-40x1x16x128-fm", "no"),   # posts: FM is left out of the first PC's adapter
    ("8272", "1.2M", "with-care"),           # Intel, 8272 data sheet: 8 MHz or 4, by the board
])  # fmt: skip
def test_what_a_controller_can(card: str, disk: str, answer_: str) -> None:
    row = DiskForDrive.of(find(disk))
    native = next(one for one in match(row).drives if one.can_write == "yes")
    drive = drive_rows()[native.drive]
    mode = next(mode for mode in drive.modes if native.settings is not None and mode.id == native.settings.mode)
    assert control(row, mode, controller_rows()[card]).answer == answer_


def test_what_was_seen_of_a_controller_counts_more_than_its_class() -> None:
    fm = DiskForDrive.of(find("8-inch 250K"))
    drive = OwnDrive("eight", "8in-one-side")
    for seen, can in ((None, "with-care"), (True, "yes"), (False, "no")):
        bench = Bench(drives=(drive,), controllers=(OwnController(name="c", controller="fdc37", fm=seen),))
        assert answer(fm, bench).drives[0].verdict.can_write == can


def test_a_cable_that_would_short_a_supply_is_refused() -> None:
    """Hewlett-Packard, 9122C CE Service Handbook, table 9-2: odd lines of its drive carry 5 and 12 V."""
    drive, plain = OwnDrive("hp", "3.5-600"), OwnCable("grey", "34-straight")
    found = answer(DiskForDrive.of(find("720K 3.5")), Bench(drives=(drive,), cables=(plain,), media=SHELF))
    way = next(one.answer for one in found.solutions if one.answer.drive == "hp")
    assert [(one.kind, one.classes) for one in way.missing] == [("cable", ("34-cut-odd",))]
    assert "supply" in (way.missing[0].because or "")
    assert best("720K 3.5", drives=(drive,)).drive is None or "cable" in {
        one.kind for one in best("720K 3.5", drives=(drive,)).missing
    }   # nothing known of cables is no leave to take any
    cut = best("720K 3.5", drives=(drive,), cables=(plain, OwnCable("cut", "34-cut-odd")))
    assert (cut.cable, cut.missing) == ("cut", ())


def test_8_inch_drives_take_an_adapter_or_a_board_of_50_lines() -> None:
    """Two hobby pages, wiring from the 50-line to the 34-line interface; SA800 OEM manual: 50 lines."""
    drive = OwnDrive("eight", "8in-two-sides")
    for connector, needed in (("50-header", "50-straight"), ("34-header", "34-to-50"), (None, "50-straight")):
        card = OwnController(name="c", controller="fd179x", rates=(500,), connector=connector)
        way = best("8-77x2x8x1024", drives=(drive,), controllers=(card,), cables=(OwnCable("x", "34-twisted"),))
        assert [(one.kind, one.classes[0]) for one in way.missing] == [("cable", needed)]
    pc = best("8-77x2x8x1024", drives=(drive,), controllers=(TOWER,), cables=(OwnCable("a", "34-to-50"),))
    assert (pc.cable, pc.missing) == ("a", ())
    assert {"fifty-to-34", "supplies"} <= {one.rule for one in pc.cautions}
    assert pc.harm is not None
    assert "supply" in pc.harm


def test_the_plug_must_be_that_of_the_drive() -> None:
    """From memory: 5.25-inch drives have a card edge, 3.5-inch drives pins."""
    pins = OwnCable("pins", "34-twisted", ("34-header",))
    way = best("360K", drives=(OwnDrive("A", "5.25-48tpi"),), controllers=(OLD,), cables=(pins,))
    assert [one.kind for one in way.missing] == ["cable"]
    assert "card edge" in (way.missing[0].because or "")
    assert not best("720K 3.5", drives=(OwnDrive("A", "3.5-dd"),), controllers=(OLD,), cables=(pins,)).missing


def test_line_2_of_a_board_for_8_inch_is_warned_of_at_a_high_density_drive() -> None:
    """Western Digital, FD179X data sheet: an output for tracks above 43. TEAC FD-55GFR: line 2 is the density."""
    card = OwnController(name="c", controller="fd179x", rates=(500,))
    found = answer(DiskForDrive.of(find("1.2M")), Bench(drives=(HD,), controllers=(card,)))
    assert "line-2-track-43" in [one.rule for one in found.drives[0].verdict.cautions]
    found = answer(DiskForDrive.of(find("1.2M")), Bench(drives=(HD,), controllers=(TOWER,)))
    assert "line-2-track-43" not in [one.rule for one in found.drives[0].verdict.cautions]


def test_without_controllers_the_answer_is_as_before_and_says_what_it_takes_for_granted() -> None:
    found = match(find("360K"), bench=Bench(drives=(HD,), media=SHELF))
    assert found.bench is not None
    assert found.bench.drives[0].verdict == verdict(DiskForDrive.of(find("360K")), drive_rows()["5.25-96tpi-hd-360"])
    assert found.assumes == "a controller that has 300 kbit/s in MFM, and a cable of 34 lines"
    assert match(find("8-inch 250K")).assumes == "a controller that has 250 kbit/s in FM, and a cable of 50 lines"
    known = match(find("360K"), bench=Bench(drives=(HD,), controllers=(TOWER,), cables=(OwnCable("a", "34-straight"),)))
    assert known.assumes is None


THINGS = st.builds(
    Bench,
    drives=st.lists(st.sampled_from(list(drive_rows())), max_size=3).map(
        lambda names: tuple(OwnDrive(f"d{n}", name) for n, name in enumerate(names))),
    controllers=st.lists(st.sampled_from(list(controller_rows())), max_size=2).map(
        lambda names: tuple(OwnController(name=f"c{n}", controller=name) for n, name in enumerate(names))),
    cables=st.lists(st.sampled_from(list(cable_rows())), max_size=2).map(
        lambda names: tuple(OwnCable(f"k{n}", name) for n, name in enumerate(names))),
    media=st.sampled_from(((), SHELF)),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(bench=THINGS, name=st.sampled_from(list(format_rows())))
def test_verdict_and_request_never_contradict_each_other(bench: Bench, name: str) -> None:
    disk = DiskForDrive.of(format_rows()[name])
    found = answer(disk, bench)
    asked, way = request(disk, found), found.solutions[0].answer
    lacking = {one.kind for one in way.missing}
    assert (asked is not None and "I need" in asked) == bool(lacking)
    if way.drive is not None and lacking <= {"disk"}:
        assert found.says.startswith(f"Your drive {way.drive} can write it")
    else:
        assert found.says.startswith("Nothing on your bench can write")
    for kind in ("drive", "controller", "cable"):
        assert (f"- a {kind}:" in (asked or "").partition("Safer would be:")[0]) == (kind in lacking)
    scores = [one.score for one in found.solutions]
    assert scores == sorted(scores, reverse=True)


@settings(max_examples=150, deadline=None)
@given(bench=THINGS, name=st.sampled_from(list(format_rows())))
def test_what_a_solution_names_can_do_what_it_says(bench: Bench, name: str) -> None:
    disk = DiskForDrive.of(format_rows()[name])
    cards = {own.name: controller_rows()[own.controller] for own in bench.controllers}
    cables = {own.name: cable_rows()[own.cable] for own in bench.cables}
    for one in solutions(disk, bench):
        way, drive = one.answer, drive_rows()[one.answer.drive_class]
        mode = next(mode for mode in drive.modes if mode.id == way.settings.mode)
        card = cards.get(way.controller or "")
        if card is not None:
            assert control(disk, mode, card).answer != "no"
        if way.cable is not None:
            assert cabling.misfit(drive, card, cables[way.cable]) is None
        if cards and card is None:
            assert "controller" in {each.kind for each in way.missing}
            assert all(control(disk, each, row).answer == "no" for row in cards.values()
                       for each in drive.modes if each.id == way.settings.mode)  # fmt: skip
        for each in way.missing:
            if each.kind == "controller":
                assert all(control(disk, mode, controller_rows()[name]).answer != "no" for name in each.classes)
            if each.kind == "cable":
                assert all(cabling.misfit(drive, card, cable_rows()[name]) is None for name in each.classes)


def test_many_things_are_weighed_at_once() -> None:
    """A bench file may hold some ten thousand things: kinds of controllers are tried once each."""
    names = itertools.cycle(list(controller_rows()))
    cards = tuple(OwnController(name=f"c{n}", controller=next(names)) for n in range(5000))
    drives = tuple(OwnDrive(f"d{n}", "5.25-96tpi-hd-dual") for n in range(30))
    assert len(solutions(DiskForDrive.of(find("360K")), Bench(drives=drives, controllers=cards))) == 31


def test_of_two_controllers_that_can_the_one_with_a_cable_is_taken() -> None:
    fifty = OwnController(name="fifty", controller="fd179x", rates=(500,), connector="50-header")
    four = OwnController(name="four", controller="fd179x", rates=(500,), connector="34-header")
    for cable, card in (("34-to-50", "four"), ("50-straight", "fifty")):
        way = best("8-77x2x8x1024", drives=(OwnDrive("eight", "8in-two-sides"),), controllers=(fifty, four),
                   cables=(OwnCable("x", cable),))  # fmt: skip
        assert (way.controller, way.cable, way.missing) == (card, "x", ())


def test_known_speeds_count_with_a_controller_too() -> None:
    disk = DiskForDrive.of(find("3.5-77x2x8x1024-360rpm"))
    for speeds, can in (((), "with-care"), ((300,), "no"), ((300, 360), "yes")):
        found = answer(disk, Bench(drives=(OwnDrive("A", "3.5-hd", speeds),), controllers=(TOWER,)))
        assert found.drives[0].verdict.can_write == can
    slow = Bench(drives=(OwnDrive("A", "3.5-hd", (360,)),), controllers=(TOWER,))
    usual = answer(DiskForDrive.of(find("1.44M")), slow)
    assert usual.drives[0].verdict.can_write == "yes"   # modes that all have need not be named


def test_the_plainest_cable_is_taken() -> None:
    cables = (OwnCable("cut", "34-cut-odd"), OwnCable("adapter", "50-to-34"), OwnCable("plain", "34-straight"))
    for order in itertools.permutations(cables):
        assert best("1.44M", drives=(OwnDrive("A", "3.5-hd"),), cables=order).cable == "plain"
    assert best("1.44M", drives=(OwnDrive("A", "3.5-hd"),), cables=cables[:1]).cable == "cut"


def test_disks_that_nobody_counted_are_there_and_none_are_not() -> None:
    for media, wanting in (((OwnMedium("3.5-hd"),), False), ((OwnMedium("3.5-hd", 2),), False), ((), True),
                           ((OwnMedium("3.5-hd", 0),), True), ((OwnMedium("3.5-dd", 9),), True)):  # fmt: skip
        assert bool(best("1.44M", drives=(OwnDrive("A", "3.5-hd"),), media=media).missing) == wanting


@pytest.mark.parametrize(("drive", "cable", "plug", "fits"), [
    ("8in-one-side", "50-straight", None, True), ("5.25-48tpi", "34-straight", "34-edge", True),
    ("5.25-48tpi", "34-straight", "34-header", False), ("3.5-hd", "34-straight", "34-header", True),
    ("3.5-hd", "34-straight", "34-edge", False), ("5.25-48tpi", "50-straight", None, False),
    ("3in-40", "34-straight", None, False),
])  # fmt: skip
def test_lines_and_plugs_decide(drive: str, cable: str, plug: str | None, fits: bool) -> None:
    """SA800 OEM manual: 50 lines; the plugs are from memory."""
    row = cabling.as_owned(OwnCable("x", cable, () if plug is None else (plug,)))
    assert (cabling.misfit(drive_rows()[drive], None, row) is None) == fits
