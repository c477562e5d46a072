"""The last sectors of files of 8-bit machines tell the size of a sector; common practice, no source."""

from __future__ import annotations

import pytest

from imagekeeper.geometry import solve
from imagekeeper.geometry.directory import directory
from imagekeeper.geometry.file_ends import file_ends
from imagekeeper.geometry.shapes import Shape
from tests.geometry.disks import directory_disk, fat_disk, shape_of


@pytest.mark.parametrize(("size", "seed"), [(128, 3), (256, 3), (512, 4), (1024, 5)])
def test_files_end_with_whole_sectors(size: int, seed: int) -> None:
    shape = next(one for one in all_shapes() if one.sector_bytes == size and one.first_track is None)
    data = directory_disk(shape, seed, full=0.6)
    ends = file_ends(data, directory(data))
    assert len(ends) >= 3
    assert all(end.fits(size) for end in ends)
    other = 512 if size != 512 else 1024
    assert not all(end.fits(other) for end in ends)


def all_shapes() -> tuple[Shape, ...]:
    from imagekeeper.geometry.shapes import shapes

    return shapes()


@pytest.mark.parametrize("seed", range(40, 44))
def test_sectors_of_the_same_track_are_told_apart(seed: int) -> None:
    """Every two shapes with the same bytes on a track, half full: the sectors must be right."""
    wrong = []
    for shape in all_shapes():
        if shape.first_track is not None or shape.sector_bytes == 128:
            continue
        best = solve(directory_disk(shape, seed, full=0.7)).candidates[0]
        if best.sectors * best.sector_bytes == shape.track_bytes and best.sector_bytes != shape.sector_bytes:
            wrong.append(f"{shape.text} as {best.geometry}")
    assert len(wrong) <= 2, wrong


def test_a_directory_of_8_bit_machines_takes_the_pcs_formats_their_lead() -> None:
    """80x1 and 40x2 lay the same tracks in the same places: neither is surer than the other."""
    found = solve(directory_disk(shape_of("5.25-40x2x9x512"), 3, full=0.6)).candidates
    assert {one.geometry for one in found[:2]} == {"40x2x9x512", "80x1x9x512"}
    assert abs(found[0].score - found[1].score) < 0.01
    assert any("systems with a FAT do not write" in one.says for one in found[0].evidence + found[1].evidence)


def test_no_directory_and_a_skewed_one_tell_nothing() -> None:
    shape = shape_of("8-77x1x26x128-fm")
    assert file_ends(b"", None) == ()
    skewed = directory_disk(shape, 3, step=6, full=0.6)
    assert file_ends(skewed, directory(skewed)) == ()
    pc = fat_disk(shape_of("5.25-40x2x9x512"), 3)
    assert file_ends(pc, directory(pc)) == ()
