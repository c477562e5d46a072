"""Drives, disks, lines and rules: every claim says what it rests on, and the figures agree with published ones."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from imagekeeper.tables import load
from imagekeeper.tables.controllers import cable_rows, controller_rows
from imagekeeper.tables.drives import (
    drive_rows,
    medium_rows,
    pin_rows,
    precompensation_rows,
    rule_rows,
    wire_rows,
)
from imagekeeper.tables.floppy import GROUNDS, format_rows, standard_rows
from imagekeeper.tables.other_disks import other_disks

ROWS: list[tuple[str, dict[str, Any]]] = [
    (kind, row)
    for table, kinds in {
        "drives": ["drive"], "media": ["medium"], "interface": ["pin", "wire"],
        "drive_rules": ["rule", "precompensation"], "controllers": ["controller"], "cables": ["cable"],
    }.items()
    for kind in kinds
    for row in load(table)[kind]
]  # fmt: skip


def fields(row: dict[str, Any]) -> set[str]:
    """The claims of a row; those of its modes one by one."""
    plain = set(row) - {"id", "modes", *GROUNDS}
    return plain | {f"modes.{name}" for mode in row.get("modes", ()) for name in mode}


@pytest.mark.parametrize(("kind", "row"), ROWS, ids=[f"{kind}-{row['id']}" for kind, row in ROWS])
def test_every_field_is_sourced_derived_or_from_memory(kind: str, row: dict[str, Any]) -> None:
    sourced = {field for one in row.get("sources", ()) for field in one["gives"]}
    derived, unsourced = set(row.get("derived", ())), set(row.get("unsourced", ()))
    assert sourced | derived | unsourced == fields(row)
    assert not sourced & derived
    assert not sourced & unsourced
    assert not derived & unsourced
    assert all(one["field"] in fields(row) for one in row.get("disputed", ()))


def test_ids_are_not_repeated() -> None:
    counts = Counter((kind, row["id"]) for kind, row in ROWS)
    assert [name for name, count in counts.items() if count > 1] == []
    loaded: list[Callable[[], dict[str, Any]]] = [
        drive_rows, medium_rows, pin_rows, wire_rows, rule_rows, precompensation_rows, controller_rows, cable_rows,
    ]  # fmt: skip
    assert sum(len(rows()) for rows in loaded) == len(ROWS)


@pytest.mark.parametrize("row", drive_rows().values(), ids=list(drive_rows()))
def test_a_drive_is_sane(row: Any) -> None:
    assert row.heads in (1, 2)
    assert len(row.track_00_mm) in (0, row.heads)
    if row.id == "4in":   # nothing is known of it, and nothing is said
        assert (row.modes, row.tracks_per_inch, row.cylinders) == ((), 0, 0)
        return
    assert {medium_rows()[mode.medium].disk_inch for mode in row.modes} == {row.disk_inch}
    assert not row.modes[0].optional
    assert len({mode.id for mode in row.modes}) == len(row.modes)
    assert list(row.step_ms) == sorted(row.step_ms, reverse=True)
    assert list(row.settle_ms) == sorted(row.settle_ms, reverse=True)
    own = row.disk_inch in (3, 2.8, 4) or row.id in ("5.25-48tpi-288", "3.5-five-speeds")
    assert (row.interface not in (34, 50)) == own
    assert own or row.interface == (50 if row.disk_inch == 8 else 34)
    if row.disk_inch != 3.5 and row.tracks_per_inch:   # there 135 is a rounded figure
        assert row.pitch_mm == pytest.approx(25.4 / row.tracks_per_inch, abs=1e-5)
    assert row.head_width_mm is None or row.head_width_mm < row.pitch_mm


def test_every_format_has_a_medium() -> None:
    disks = {row.medium for row in format_rows().values()} | {row.medium for row in other_disks().values()}
    assert disks | {"2.8-inch", "4-inch"} == set(medium_rows())   # of these two no sectors are known


def test_no_write_current_of_3_5_inch_drives_is_said_to_be_the_higher() -> None:
    """IBM's journal of 1989 and a hobby page contradict each other: only that they differ is sure."""
    words = [mode.density for row in drive_rows().values() if row.disk_inch == 3.5 for mode in row.modes]
    assert len(words) >= 9
    assert not [text for text in words if "current" in text or "higher" in text or "lower" in text]


@pytest.mark.parametrize(("drive", "mode", "published"), [
    # the cells of a track by the titles of Ecma's standards, 2 pi x flux transitions per radian
    ("8in-two-sides", 0, "ecma-69"), ("5.25-48tpi", 0, "ecma-70"), ("5.25-96tpi-dd", 0, "ecma-78"),
    ("5.25-96tpi-hd-360", 0, "ecma-99"), ("5.25-96tpi-hd-360", 1, "ecma-78"), ("5.25-96tpi-hd-dual", 1, "ecma-78"),
    ("5.25-96tpi-hd-dual", 2, "ecma-78"), ("3.5-dd", 0, "ecma-100"), ("3.5-hd", 0, "ecma-125"),
    ("3.5-hd", 1, "ecma-100"), ("3.5-hd", 2, "ecma-99"), ("3.5-ed", 0, "ecma-147"),
])  # fmt: skip
def test_a_mode_writes_the_track_of_the_standard(drive: str, mode: int, published: str) -> None:
    bits = drive_rows()[drive].modes[mode].bits_per_revolution
    assert bits == pytest.approx(2 * math.pi * standard_rows()[published].flux_per_radian, rel=1e-4)


@pytest.mark.parametrize(("drive", "cylinder", "head", "bits", "published"), [
    ("5.25-48tpi", 0, 0, 50_000, 3536),        # BASF 6106/6108 manual, page 2-20
    ("5.25-48tpi", 39, 0, 50_000, 5536),       # the same
    ("5.25-48tpi", 39, 1, 50_000, 5876),       # from memory
    ("5.25-96tpi-dd", 79, 1, 50_000, 5922),    # from memory
    ("5.25-96tpi-hd-360", 79, 1, 83_333, 9870),   # from memory
    ("8in-two-sides", 76, 0, 83_333, 6536),    # from memory; drive notes have 6400 to 6500
    ("8in-two-sides", 76, 1, 83_333, 6816),    # from memory
    ("3.5-dd", 79, 1, 50_000, 8717),           # OEM manual of a 3.5-inch drive, table 2.1
    ("3.5-hd", 79, 1, 83_333, 14528),          # the same
    ("3.5-hd", 79, 1, 100_000, 17434),         # the same
    ("3.5-ed", 79, 1, 200_000, 34868),         # from memory
])  # fmt: skip
def test_radii_give_the_published_densities(drive: str, cylinder: int, head: int, bits: int, published: int) -> None:
    assert drive_rows()[drive].flux_per_inch(cylinder, head, bits) == pytest.approx(published, abs=1.5)


def test_a_drive_without_radii_has_no_density() -> None:
    assert drive_rows()["5.25-100tpi"].flux_per_inch(0, 0, 50_000) is None
    assert drive_rows()["5.25-48tpi-35"].flux_per_inch(0, 1, 50_000) is None


def test_every_line_goes_to_another_and_to_one_that_exists() -> None:
    """Two hobby pages on wiring 8-inch drives to the 34-line interface."""
    to = {row.pin: row.to for row in wire_rows().values()}
    assert len(set(to.values())) == len(to) == 16
    assert set(to.values()) <= {row.pin for row in pin_rows().values()}
    assert {row.pin for row in pin_rows().values()} == set(range(2, 35, 2))
    assert (to[14], to[20], to[46]) == (32, 8, 30)


def test_the_disputed_lines_are_said_to_be() -> None:
    assert "line 2" in wire_rows()["50-14"].disputed[0].says
    assert len(pin_rows()["34-2"].disputed) == 2


def test_coercivity_rises_with_density() -> None:
    oe = {name: row.coercivity_oe for name, row in medium_rows().items()}
    assert min(oe["5.25-hd"]) == 2 * max(oe["5.25-dd"])            # posts and notes, rule coercivity-5.25
    assert max(oe["3.5-dd"]) < min(oe["3.5-hd"]) < max(oe["3.5-hd"]) <= min(oe["3.5-ed"])
    assert round(100 * (720 / 660 - 1)) == 9                       # a page on media, rule coercivity-3.5
