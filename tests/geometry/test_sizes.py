"""What a size cannot tell: disks of other recordings, with sector holes, or of tracks that differ, have the same sizes.

How usual a disk is, is our judgement; that several families have one size is arithmetic on published figures, which are
named where they stand.
"""

from __future__ import annotations

import random

import pytest

from imagekeeper.errors import UsageError
from imagekeeper.geometry import Known, best_format, solve
from imagekeeper.geometry.results import SPEAKS, GeometrySolution
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.other_disks import of_size, other_disks
from tests.geometry.disks import directory_disk, fat_disk, shape_of
from tests.refusals import refuses


def by_size(size: int, **known: object) -> GeometrySolution:
    return solve(known=Known(size_bytes=size, **known))   # type: ignore[arg-type]


def answers(found: GeometrySolution) -> list[str]:
    """All answers that are exact, best first, by their formats."""
    both = [*((one.score, one.formats) for one in found.candidates if one.exact),
            *((one.score, (one.format,)) for one in found.rivals)]  # fmt: skip
    return [name for _, names in sorted(both, key=lambda one: -one[0]) for name in names]


@pytest.mark.parametrize(
    ("size", "first", "beside"),
    [
        # 35 tracks of 16 sectors of 256 bytes: group code (common practice), sixteen holes (Micropolis, 35 tracks)
        (143_360, "5.25-35x1x16x256-gcr", {"5.25-35x1x16x256", "5.25-35x1x16x256-16holes"}),
        # ten hard sectors of 256 bytes, 35 tracks: a collector's page on such disks
        (89_600, "5.25-35x1x10x256-fm-10holes", {"5.25-35x1x10x256-fm"}),
        (179_200, "5.25-35x1x10x512-10holes", set()),
        # 77 tracks at 100 tpi: the maker's page on its controller has sixteen sectors
        (315_392, "8-77x1x8x512-fm", {"5.25-77x1x16x256-100tpi", "8-77x1x32x128-fm-32holes"}),
        # a track-at-once disk, 11 sectors (ROM Kernel Reference, Devices, appendix C); a sampler's (Giebler)
        (901_120, "3.5-80x2x11x512-whole", {"3.5-80x2x5x1024-512"}),
        # zones of 12 to 8 sectors: a maker's note 45016
        (819_200, "3.5-80x2-800x512-gcr",
         {"3.5-80x2x10x512", "5.25-80x2x10x512", "3.5-80x2x5x1024", "5.25-80x2x5x1024"}),
        # an 8-inch disk of one side with track 00 in FM: 76 x 26 x 256 + 26 x 128
        (509_184, "8-77x1x26x256-fm0", set()),
        # zones of 21, 19, 18, 17 sectors: 683 of 256 bytes
        (174_848, "5.25-35x1-683x256-gcr", set()),
        # M2FM (a handbook of the 9895A, figure 2-4) beside MFM
        (1_182_720, "8-77x2x15x512", {"8-77x2x30x256-m2fm"}),
    ],
)  # fmt: skip
def test_a_size_names_its_rivals_and_is_never_sure(size: int, first: str, beside: set[str]) -> None:
    found = by_size(size)
    assert answers(found)[0] == first
    assert set(answers(found)) == {first, *beside}
    assert not found.says.startswith("This is")
    assert "Only its size speaks" in found.says
    assert all(one.score <= 0.9 for one in (*found.candidates, *found.rivals))
    assert found.exit_code == 0
    assert bool(found.tells) == bool(beside)


@pytest.mark.parametrize("size", sorted({row.bytes for row in (*format_rows().values(), *other_disks().values())}))
def test_no_size_of_the_tables_is_sure_and_every_disk_of_it_is_named(size: int) -> None:
    found = by_size(size)
    assert {one.id for one in of_size(size)} <= {*answers(found)}
    assert max(one.score for one in (*found.candidates, *found.rivals)) <= 0.9
    assert "This is" not in found.says


def test_how_to_tell_is_to_look_for_the_holes_the_machine_and_the_first_tracks() -> None:
    tells = by_size(143_360).tells
    assert any("count the holes" in one and "16 sector holes" in one for one in tells)
    assert any("label" in one and "Apple II" in one for one in tells)
    assert any("tracks 0 and 1" in one for one in tells)
    assert by_size(819_200).tells[0] == "Measure the disk: 3.5 or 5.25 inch."
    assert any("FM or in MFM" in one for one in by_size(512_512).tells)


@pytest.mark.parametrize(
    ("size", "known", "left"),
    [
        (89_600, {"holes": 10}, ["5.25-35x1x10x256-fm-10holes"]), (89_600, {"holes": 0}, ["5.25-35x1x10x256-fm"]),
        (143_360, {"encoding": "gcr"}, ["5.25-35x1x16x256-gcr"]),
        (143_360, {"holes": 16}, ["5.25-35x1x16x256-16holes"]),
        (143_360, {"encoding": "mfm", "holes": 0}, ["5.25-35x1x16x256"]),
        (819_200, {"disk_inch": 5.25, "sectors": 10}, ["5.25-80x2x10x512"]),
        (512_512, {"encoding": "m2fm"}, ["8-77x1x52x128-m2fm"]),
    ],
)  # fmt: skip
def test_what_a_person_saw_settles_it(size: int, known: dict[str, object], left: list[str]) -> None:
    assert answers(by_size(size, **known)) == left


def test_facts_of_other_recordings_that_exclude_each_other_are_named() -> None:
    with refuses(UsageError, "usage", "10 sector holes"):
        solve(known=Known(holes=10, encoding="gcr"))
    found = solve(known=Known(holes=10))
    assert {one.holes for one in found.rivals} == {10}
    assert not found.candidates


def test_where_a_rival_leads_no_format_of_a_controller_is_given() -> None:
    assert best_format(by_size(143_360)) is None
    assert best_format(by_size(368_640)) is format_rows()["5.25-40x2x9x512"]


def test_file_allocation_tables_leave_no_disk_of_another_recording() -> None:
    """Group-coded, M2FM and hard-sectored disks are of systems without FATs: common practice, no source."""
    for name in ("3.5-80x2x10x512", "8-77x2x15x512"):
        found = solve(fat_disk(shape_of(name), 3, full=0.5))
        assert found.candidates[0].score > 0.9
        assert found.candidates[0].content >= SPEAKS
        assert found.leading_rival is None
        assert sum(one.score for one in found.rivals) < 0.01


def test_a_directory_speaks_for_all_disks_that_have_their_sectors_there() -> None:
    """The same bytes lie in the same places, whatever the recording: content cannot part these."""
    found = solve(directory_disk(shape_of("5.25-40x1x10x256-fm"), 3, full=0.5))
    same = next(one for one in found.rivals if one.format == "5.25-40x1x10x256-fm-10holes")
    assert same.content == pytest.approx(found.candidates[0].content)
    assert "Only its size speaks" not in found.says


@pytest.mark.parametrize(("media", "drive"), [(0xF8, 0x80), (0xF8, 0), (0xFD, 0), (0xF9, 0x80)])
def test_a_consistent_block_of_one_side_is_believed(media: int, drive: int) -> None:
    """1 head x 9 sectors, 720 in all: 80 tracks on one side, media byte F8 (Microsoft, Q75131 has two heads for F9).

    Formatting programs write F8 and drive 80 where they do not know the disk, and then heads and sectors of no floppy
    disk; these are those of one.
    """
    data = bytearray(fat_disk(shape_of("3.5-80x1x9x512"), 3, full=0.5))
    start = data[21]
    data[21], data[36] = media, drive
    for at in [i for i in range(512, 512 * 8, 512) if data[i : i + 3] == bytes([start, 255, 255])]:
        data[at] = media
    data[38] = 0x29
    found = solve(bytes(data))
    assert found.candidates[0].geometry == "80x1x9x512"
    assert found.candidates[0].score > 0.9
    assert "the parameter block states this shape" in " ".join(e.says for e in found.candidates[0].evidence)


@pytest.mark.parametrize("size", [143_360, 901_120, 533_248, 737_280])
def test_bytes_without_a_system_leave_it_at_the_size(size: int) -> None:
    found = solve(random.Random(size).randbytes(size))
    assert max(one.score for one in (*found.candidates, *found.rivals)) <= 0.9
    assert "Only its size speaks" in found.says
