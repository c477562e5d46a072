"""What else would do for a machine."""

from __future__ import annotations

import pytest

from imagekeeper.drives import Substitute, match
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.floppy import format_rows


def found(name: str) -> dict[str, Substitute]:
    return {one.drive: one for one in match(format_rows()[name]).substitutes}


@pytest.mark.parametrize(("name", "drives"), [
    # posts of December 2005 and March 2010, and pages on wiring 8-inch drives to 34 lines
    ("5.25-80x2x9x512", ["3.5-dd", "3.5-hd", "3.5-ed"]),
    ("3.5-80x2x9x512", ["5.25-96tpi-dd", "5.25-96tpi-hd-dual"]),
    ("8-77x2x8x1024", ["5.25-96tpi-hd-dual", "5.25-96tpi-hd-360", "3.5-hd", "3.5-ed"]),
    ("8-77x1x26x128-fm", ["5.25-96tpi-hd-dual", "5.25-96tpi-hd-360", "3.5-hd", "3.5-ed"]),
    ("5.25-80x2x15x512", ["3.5-hd", "3.5-ed"]),                       # an 8-inch drive lacks three cylinders
    ("5.25-77x2x8x1024", ["8in-two-sides", "8in-two-sides-dc", "3.5-hd", "3.5-ed"]),
    ("3.5-80x2x15x512-360rpm", ["5.25-96tpi-hd-dual", "5.25-96tpi-hd-360"]),
    ("3.5-80x2x18x512", []),                                          # nothing else has 12500 bytes a track
    ("3.5-80x2x36x512", []),
])  # fmt: skip
def test_what_looks_the_same(name: str, drives: list[str]) -> None:
    assert list(found(name)) == drives


@pytest.mark.parametrize("name", list(format_rows()))
def test_a_substitute_has_the_track_and_the_reach_but_other_disks(name: str) -> None:
    row = format_rows()[name]
    for one in found(name).values():
        drive = drive_rows()[one.drive]
        assert (one.settings.data_rate, one.settings.rotation, one.settings.step) == (
            row.data_rate, row.rotation, "single",
        )  # fmt: skip
        assert drive.cylinders >= row.cylinders
        assert drive.heads >= row.heads
        assert (drive.disk_inch, one.settings.media) != (row.disk_inch, row.medium)
        assert any("own disks" in text for text in one.not_solved)
        assert one.cautions[-1].rule == "mains"
        assert "qualified" in one.cautions[-1].text


def test_from_50_lines_to_34() -> None:
    """Two hobby pages: side select 14 to 32, read data 46 to 30; a second list has side select on line 2."""
    one = found("8-77x2x8x1024")["5.25-96tpi-hd-360"]
    wires = {wire.fifty: wire for wire in one.wires}
    assert (wires[14].thirty_four, wires[46].thirty_four, len(wires)) == (32, 30, 16)
    assert wires[14].disputed
    assert {"supplies", "fifty-to-34", "ready-or-disk-change", "77-cylinders"} <= {c.rule for c in one.cautions}
    adapted = " ".join(one.adapt)
    for word in ("+24 V", "-5 V", "mains", "50 lines", "above 43", "head load", "drive select", "ready"):
        assert word in adapted, word
    assert any("77 to 79" in text for text in one.not_solved)


def test_within_34_lines_there_is_no_adapter() -> None:
    one = found("5.25-80x2x9x512")["3.5-dd"]
    assert one.wires == ()
    assert "the same 34 lines" in one.adapt[0]
    assert not any("stay unused" in text for text in one.not_solved)


def test_toward_8_inch_the_drive_wants_more_lines() -> None:
    one = found("5.25-77x2x8x1024")["8in-two-sides"]
    assert len(one.wires) == 16
    assert any("wants a signal for tracks above 43" in text for text in one.adapt)


def test_what_only_some_drives_have_comes_last_and_is_said() -> None:
    some = found("8-77x2x8x1024")
    unsure = ["optional-mode" in [c.rule for c in one.cautions] for one in some.values()]
    assert unsure == [False, False, True, True]


def test_a_one_sided_machine_holds_side_select() -> None:
    assert any("side 0" in text for text in found("8-77x1x26x128-fm")["5.25-96tpi-hd-360"].adapt)
    assert not any("side 0" in text for text in found("8-77x2x26x128-fm")["5.25-96tpi-hd-360"].adapt)
