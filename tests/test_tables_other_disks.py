"""The tables of other recordings and of hard disks: grounds of every claim, and figures published elsewhere."""

from __future__ import annotations

from typing import Any

import pytest

from imagekeeper.filesystems.directory_parameters import DiskParameters
from imagekeeper.tables import load, sources
from imagekeeper.tables.drives import drive_rows, medium_rows
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.hard_disks import bios_types, hard_drives, hard_tracks
from imagekeeper.tables.other_disks import ENCODINGS, OtherDisk, other_disks
from imagekeeper.tables.parameter_blocks import parameter_block_rows

DISKS = load("other_disks")["disk"]
HARD = [
    (kind, row) for kind in ("track", "drive", "bios_type", "code", "partition_type")
    for row in load("hard_disks")[kind]
]  # fmt: skip
GROUNDS = {"id", "sources", "derived", "unsourced", "disputed"}


@pytest.mark.parametrize(
    ("free", "row"), [*(({"title", "aliases"}, row) for row in DISKS), *((set(), row) for _, row in HARD)],
    ids=[row["id"] for row in DISKS] + [f"{kind}-{row['id']}" for kind, row in HARD],
)  # fmt: skip
def test_every_field_is_sourced_derived_or_from_memory(free: set[str], row: dict[str, Any]) -> None:
    sourced = {field for one in row.get("sources", []) for field in one["gives"]}
    derived, unsourced = set(row.get("derived", {})), set(row.get("unsourced", []))
    assert sourced | derived | unsourced == set(row) - GROUNDS - free
    assert not sourced & derived
    assert not sourced & unsourced
    assert not derived & unsourced
    assert {one["id"] for one in row.get("sources", [])} <= set(sources())
    assert all(one["field"] in row for one in row.get("disputed", []))


@pytest.mark.parametrize("row", other_disks().values(), ids=list(other_disks()))
def test_a_disk_of_another_recording_is_one_that_can_be(row: OtherDisk) -> None:
    assert row.id not in format_rows()
    assert sum(tracks for tracks, _ in row.zones) == row.cylinders
    assert [count for _, count in row.zones] == sorted((count for _, count in row.zones), reverse=True)
    assert row.encoding in ENCODINGS
    assert medium_rows()[row.medium].disk_inch == row.disk_inch
    assert medium_rows()[row.medium].holes == row.holes   # never a disk of the wrong sectoring
    assert len(row.rotations) in (0, len(row.zones))
    assert len(row.first_tracks) <= row.heads
    if row.encoding != "gcr":   # the data of a track is below what the cells of a revolution can hold
        held = row.zones[0][1] * row.sector_bytes + (row.last_sector_bytes or 0)
        assert held < row.cell_rate * 60 / row.rotation / 16


def test_there_is_one_of_every_family() -> None:
    rows = other_disks().values()
    assert {row.encoding for row in rows} == {"fm", "mfm", "m2fm", "mmfm", "gcr"}
    assert {row.holes for row in rows} == {0, 10, 16, 32}
    assert any(row.rotations for row in rows)
    assert any(len(row.zones) > 1 and not row.rotations for row in rows)
    assert any(row.whole_tracks for row in rows)
    assert any(len(row.first_tracks) == 2 for row in rows)


#: Bytes as published: zones of a drive's ROM and of a maker's note; mixed 8-inch disks of a page on types 2 and 2D.
PUBLISHED = {
    "5.25-35x1-683x256-gcr": 683 * 256, "5.25-35x1-690x256-gcr": 690 * 256, "5.25-77x1-2083x256-100tpi-gcr": 533_248,
    "5.25-77x2-2083x256-100tpi-gcr": 1_066_496, "3.5-80x1-800x512-gcr": 409_600, "3.5-80x2-800x512-gcr": 819_200,
    "3.5-80x2x11x512-whole": 901_120, "3.5-80x1x5x1024-512": 450_560, "3.5-80x2x5x1024-512": 901_120,
    "8-77x2x15x512-labels": 74 * 2 * 15 * 512 + 2 * 2 * 15 * 512 + 26 * 128 + 26 * 256,
    "8-77x1x8x512-fm-labels": 303_104 + 2 * 8 * 512 + 26 * 128, "5.25-35x2x10x512-10holes": 358_400,
}  # fmt: skip


@pytest.mark.parametrize(("name", "size"), PUBLISHED.items(), ids=list(PUBLISHED))
def test_published_sizes(name: str, size: int) -> None:
    assert other_disks()[name].bytes == size


def test_the_100_tpi_family_of_77_tracks_has_sixteen_holes() -> None:
    """Micropolis, page on the 1071 controller: sixteen sectors, the index hole half way between two of them."""
    assert not [row.id for row in format_rows().values() if row.tracks_per_inch == 100 and row.disk_inch == 5.25]
    assert {row.holes for row in other_disks().values() if row.id.endswith("-100tpi")} == {16}


def test_the_standard_with_fm_on_its_first_track_is_for_77_tracks() -> None:
    """ISO 8630-2:1987, title; BS EN 28630-2:1992, list of figures: track 00 of side 0, and all other tracks."""
    row = format_rows()["5.25-77x2x26x256-fm0"]
    assert row.bytes == 77 * 2 * 26 * 256 - 26 * 128
    old = format_rows()["5.25-80x2x26x256-fm0"]
    assert {one.field for one in old.disputed} == {"first_track", "cylinders"}
    assert not any("ECMA-147" in (row.note or "") for row in format_rows().values())


def test_drives_of_every_size_and_speed_are_there() -> None:
    rows = drive_rows().values()
    assert {row.disk_inch for row in rows} == {8, 5.25, 3.5, 3, 2.8, 4}
    assert {mode.rotation for row in rows for mode in row.modes} >= {288, 300, 360, 600}
    eight = {(row.supplies_v, row.mains_motor) for row in rows if row.disk_inch == 8}
    assert eight >= {((5, 24, -5), True), ((5, 24), True), ((5, 24, -15), True), ((5, 24), False)}
    assert {row.heads for row in rows if row.tracks_per_inch == 100 and row.disk_inch == 5.25} == {1, 2}


@pytest.mark.parametrize(
    ("name", "allocation", "entries", "reserved"),
    [
        # two independent lists of disk parameters, ten sectors of 512 bytes: AL0 F0 with 64 entries; C0 with 64
        ("5.25-40x1x10x512-1x1k64", 0xF000, 64, 1), ("5.25-40x2x10x512-1x2k64", 0xC000, 64, 1),
        ("5.25-40x2x10x512-2x2k128", 0xC000, 128, 2),   # comp.os.cpm, 15 February 1990: DSM 194, DRM 127, OFF 2
    ],
)  # fmt: skip
def test_reserved_blocks_of_directories(name: str, allocation: int, entries: int, reserved: int) -> None:
    row = parameter_block_rows()[name]
    assert (row.allocation, row.directory_entries, row.reserved_tracks) == (allocation, entries, reserved)
    assert DiskParameters.of(row).allocation == allocation
    assert DiskParameters.of(row).kept_blocks == bin(allocation).count("1")


def test_no_track_of_a_hard_disk_holds_more_than_it_can() -> None:
    """31 x 512 bytes are more than 15625, and 32 more still: no rate is claimed for the one, and the other is MFM."""
    for track in hard_tracks().values():
        if track.bytes_per_track is not None:
            assert track.sectors * track.sector_bytes < track.bytes_per_track, track.id
    assert hard_tracks()["rll-31"].bytes_per_track is None
    assert "rll-32" not in hard_tracks()
    assert (hard_tracks()["mfm-32x256"].sectors, hard_tracks()["mfm-32x256"].encoding) == (32, "mfm")


def test_types_of_at_machines() -> None:
    """Listing of an AT BIOS, types 1 to 13, whole; help file on the types, the others as far as it was seen."""
    types = bios_types()
    assert sorted(types) == [*range(1, 15), *range(16, 32)]   # 15 is reserved
    assert [(types[n].cylinders, types[n].heads, types[n].precompensation_from, types[n].landing_zone)
            for n in (1, 2, 7, 9, 13)] == [
        (306, 4, 128, 305), (615, 4, 300, 615), (462, 8, 256, 511), (900, 15, 65535, 901), (306, 8, 128, 319),
    ]  # fmt: skip
    assert {n for n, one in types.items() if one.disputed} == {1, 6, 14}   # makers differ among the low numbers too
    assert {one for row in hard_drives().values() for one in row.bios_types} == set(types)
    assert not [n for n in types if (types[n].cylinders, types[n].heads) == (820, 6)]   # the help file has none


def test_the_coercivity_of_the_densest_disk_is_no_sure_figure() -> None:
    """An encyclopedia has 900; a PC repair handbook 750, from memory; no maker's figure was found."""
    row = medium_rows()["3.5-ed"]
    assert row.coercivity_oe == (750, 900)
    assert [one.field for one in row.disputed] == ["coercivity_oe"]
    assert "coercivity_oe" in row.unsourced
