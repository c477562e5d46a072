"""The tables of disks: every claim says what it rests on, and agrees with what was published elsewhere."""

from __future__ import annotations

import math
from typing import Any

import pytest

from imagekeeper import tables
from imagekeeper.floppy.formats import clusters, describe, find
from imagekeeper.floppy.gaps import judge
from imagekeeper.floppy.layout import bytes_per_track, lay_out
from imagekeeper.tables.floppy import FormatRow, format_rows, standard_rows
from imagekeeper.tables.gaps import GapRow, gap_rows

FORMATS = tables.load("formats")["format"]
STANDARDS = tables.load("standards")["standard"]
GROUNDS = {"id", "sources", "derived", "unsourced", "disputed"}


def names(rows: list[dict[str, Any]]) -> list[str]:
    return [row["id"] for row in rows]


@pytest.mark.parametrize("row", [*FORMATS, *STANDARDS], ids=[*names(FORMATS), *names(STANDARDS)])
def test_every_field_is_sourced_derived_or_from_memory(row: dict[str, Any]) -> None:
    sourced = {field for one in row.get("sources", []) for field in one["gives"]}
    derived, unsourced = set(row.get("derived", {})), set(row.get("unsourced", []))
    assert sourced | derived | unsourced == set(row) - GROUNDS - {"title", "aliases"}   # these two are ours
    assert not sourced & derived
    assert not sourced & unsourced
    assert not derived & unsourced
    assert all(one["field"] in row for one in row.get("disputed", []))


def test_there_are_formats_of_every_family() -> None:
    rows = list(format_rows().values())
    assert len(rows) == len(set(names(FORMATS))) >= 60
    assert {(r.disk_inch, r.encoding) for r in rows} == {
        (8, "fm"), (8, "mfm"), (5.25, "fm"), (5.25, "mfm"), (3.5, "mfm"), (3.5, "perpendicular"),
        (3, "mfm"),
    }  # fmt: skip
    assert {(r.disk_inch, r.sector_bytes) for r in rows} >= {(5.25, n) for n in (128, 256, 512, 1024)}
    assert any(r.disk_inch == 3.5 and r.rotation == 360 and r.cylinders == 77 for r in rows)
    assert {r.disk_inch for r in rows if r.first_track} == {8, 5.25}


@pytest.mark.parametrize("row", format_rows().values(), ids=list(format_rows()))
def test_a_format_is_named_by_its_fields_and_fits_its_track(row: FormatRow) -> None:
    ending = ("-fm" if row.encoding == "fm" else "") + ("-fm0" if row.first_track else "")
    ending += "-360rpm" if row.disk_inch == 3.5 and row.rotation == 360 else ""
    ending += "-288rpm" if row.rotation == 288 else ""
    assert row.id == f"{row.disk_inch:g}-{row.geometry}{ending}"
    layout = lay_out(
        row.encoding, sectors=row.sectors, sector_bytes=row.sector_bytes, data_rate=row.data_rate,
        rotation=row.rotation, gap3=0,
    )  # fmt: skip
    assert layout.fits
    if row.first_track:
        one = row.first_track
        assert lay_out(
            one.encoding, sectors=one.sectors, sector_bytes=one.sector_bytes, data_rate=one.data_rate,
            rotation=row.rotation,
        ).fits  # fmt: skip


@pytest.mark.parametrize("row", format_rows().values(), ids=list(format_rows()))
def test_a_format_has_the_track_of_its_standard(row: FormatRow) -> None:
    """FM at half the flux density of the medium's MFM, as all of them have it."""
    if row.standard is None:
        return
    standard = standard_rows()[row.standard]
    assert {200: 8, 130: 5.25, 90: 3.5}[standard.size_mm] == row.disk_inch
    assert {1.9: 48, 3.8: 96, 5.3: 135}[standard.tracks_per_mm] == row.tracks_per_inch
    assert row.encoding == standard.encoding
    assert bytes_per_track(row.data_rate, row.rotation) == pytest.approx(standard.bytes_per_track, abs=1.5)


@pytest.mark.parametrize("flux", [7958, 13262, 15916, 31831])
def test_the_flux_densities_of_the_titles_are_round_numbers_of_cells(flux: int) -> None:
    """Source: the titles of ECMA-100, -99, -125 and -147; 2 pi ftprad is within 0.01 % of data rate over rotation."""
    transitions = 2 * math.pi * flux
    rates = {7958: (250_000, 300), 13262: (500_000, 360), 15916: (500_000, 300), 31831: (1_000_000, 300)}
    rate, rotation = rates[flux]
    assert transitions == pytest.approx(rate * 60 / rotation, rel=1e-4)
    using = [s for s in standard_rows().values() if s.flux_per_radian == flux]
    assert using
    assert all((s.rotation == rotation) for s in using)


def test_bytes_per_track_of_a_board_manual() -> None:
    """Source: a controller board's manual, page S/W-17: FM 5208 and 3125, MFM 10416 and 6250 bytes."""
    assert [bytes_per_track(r, n) for r, n in ((250_000, 360), (125_000, 300), (500_000, 360), (250_000, 300))] == [
        5208, 3125, 10416, 6250,
    ]  # fmt: skip


#: Source: Microsoft, knowledge-base article Q75131: bytes, clusters, media byte.
PUBLISHED = {
    "160K": (163_840, 313, 0xFE), "180K": (184_320, 351, 0xFC), "320K": (327_680, 315, 0xFF),
    "360K": (368_640, 354, 0xFD), "720K": (737_280, 713, 0xF9), "1.2M": (1_228_800, 2371, 0xF9),
    "1.44M": (1_474_560, 2847, 0xF0), "2.88M": (2_949_120, 2863, 0xF0),
}  # fmt: skip


@pytest.mark.parametrize(("name", "published"), PUBLISHED.items(), ids=list(PUBLISHED))
def test_published_sizes_clusters_and_media_bytes(name: str, published: tuple[int, int, int]) -> None:
    row = find(name)
    assert row.fat is not None
    assert (row.bytes, clusters(row, row.fat), row.fat.media) == published


@pytest.mark.parametrize(
    ("name", "printed", "ruled"), [("8-inch 250K", 497, 493), ("8-inch 500K", 997, 992), ("8-inch 1.2M", 1227, 1221)]
)
def test_the_printed_counts_of_8_inch_clusters_forget_the_root_directory(name: str, printed: int, ruled: int) -> None:
    """Source: Microsoft, knowledge-base article Q75131, whose own rule gives the smaller figures."""
    row = find(name)
    assert row.fat is not None
    assert clusters(row, row.fat) == ruled
    root = -(-row.fat.root_entries * 32 // row.sector_bytes)
    total = row.bytes // row.sector_bytes
    without_root = total - row.fat.reserved_sectors - row.fat.fats * row.fat.fat_sectors
    assert without_root // row.fat.cluster_sectors == printed
    assert without_root - root < without_root


@pytest.mark.parametrize(
    ("name", "kilobytes"),
    [("8-73x1x26x128-fm", 242), ("8-74x1x15x256-fm", 284), ("8-74x1x8x512-fm", 303), ("8-74x2x26x128-fm", 492),
     ("8-74x2x15x256-fm", 568), ("8-74x2x26x256", 985), ("8-74x2x15x512", 1136), ("8-74x2x8x1024", 1212)],
)  # fmt: skip
def test_data_areas_of_the_published_list(name: str, kilobytes: int) -> None:
    """Source: table of the families of diskettes, in thousands of bytes."""
    assert find(name).bytes // 1000 == kilobytes


def test_published_sizes_of_3_5_inch_formats() -> None:
    """Source: 3.5-inch drive OEM manual, table 2.1, in thousands of bytes."""
    published = {"80x2x16x256": 655.4, "80x2x5x1024": 819.2, "80x2x18x512": 1474.6, "80x2x32x256": 1310.7,
                 "80x2x10x1024": 1638.4, "80x2x26x256-360rpm": 1065.0, "80x2x8x1024-360rpm": 1310.7}  # fmt: skip
    assert {name: round(find(f"3.5-{name}").bytes / 1000, 1) for name in published} == published


def test_one_disk_in_fm_on_its_first_track() -> None:
    """Source: ECMA-69's first track in FM, as a Japanese glossary has it: 26 x 128 instead of 26 x 256 bytes."""
    assert find("8-77x2x26x256").bytes - find("8-77x2x26x256-fm0").bytes == 26 * 128
    assert find("8-77x2x26x256-fm0").bytes == 1_021_696


@pytest.mark.parametrize("row", gap_rows(), ids=[f"{n}" for n in range(len(gap_rows()))])
def test_handbook_gaps_fit_their_track_unless_they_are_misprints(row: GapRow) -> None:
    """Source: the handbooks that gaps.toml names; misprints: four lines of FM, and 108 for 9 x 512."""
    judged = judge(row)
    assert (judged.spare < 0) == (row.misprint or judged.verdict == "short-index-gap-only")
    assert row.unsourced == (row.source is None)
    assert row.gap3_write is None or row.gap3_write < row.gap3_format


def test_the_figures_of_the_handbooks_own_worked_tracks() -> None:
    """Source: Western Digital, FD 179X-02 data sheet, May 1980: about 247 bytes are left in FM, about 598 in MFM."""
    spare = {(r.encoding, r.sectors): judge(r).spare for r in gap_rows() if r.sectors == 26}
    assert spare == {("fm", 26): 247, ("mfm", 26): 598}


def test_1_44m_with_its_usual_gap_has_no_room_for_a_fast_drive() -> None:
    one = next(gap for gap in describe(find("1.44M")).handbook_gaps if gap.gap3_format == 108)
    assert (one.verdict, one.spare) == ("exact-speed-only", 78)
    assert describe(find("1.44M")).gap3_max == 102
