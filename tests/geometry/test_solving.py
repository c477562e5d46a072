"""Which disk: by size, by facts, by content."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import ImagekeeperError, InputError, UsageError
from imagekeeper.geometry import GeometrySolution, Known, best_format, solve
from imagekeeper.geometry.media import MEDIA
from imagekeeper.geometry.shapes import shapes
from tests import tools
from tests.geometry.disks import bare_disk, block, directory_disk, fat_disk, in_order, parameters, shape_of
from tests.refusals import refuses

PC_360K, PC_720K = shape_of("5.25-40x2x9x512"), shape_of("3.5-80x2x9x512")


def by_size(size: int) -> GeometrySolution:
    return solve(known=Known(size_bytes=size))


def says(found: GeometrySolution, number: int = 0) -> str:
    return "; ".join(e.says for e in found.candidates[number].evidence)


# ---- by size

@pytest.mark.parametrize("shape", shapes(), ids=lambda shape: shape.formats[0])
def test_every_format_is_among_the_first_three_by_size_alone(shape: object) -> None:
    found = by_size(shape.bytes)   # type: ignore[attr-defined]
    assert shape.formats in [one.formats for one in found.candidates[:3]]   # type: ignore[attr-defined]
    assert found.exit_code == 0


@pytest.mark.parametrize(
    ("size", "name"),
    [
        (368_640, "5.25-40x2x9x512"), (737_280, "3.5-80x2x9x512"), (1_228_800, "5.25-80x2x15x512"),
        (1_474_560, "3.5-80x2x18x512"), (2_949_120, "3.5-80x2x36x512"),
        (1_261_568, "8-77x2x8x1024"),   # 1232 sectors of 1024 bytes
        (242_944, "8-73x1x26x128-fm"),
    ],
)  # fmt: skip
def test_published_sizes(size: int, name: str) -> None:
    """Source: Microsoft, Q75131; the last: table of diskette families, 242 KB."""
    row = best_format(by_size(size))
    assert row is not None
    assert row.id == name


def test_formats_that_a_controller_cannot_tell_apart_are_one_candidate() -> None:
    found = by_size(737_280)
    assert set(found.candidates[0].formats) == {"3.5-80x2x9x512", "5.25-80x2x9x512", "3-80x2x9x512"}
    assert [one.geometry for one in found.candidates].count("80x2x9x512") == 1
    assert "3 or 3.5 or 5.25 inch" in found.hint


@pytest.mark.parametrize(
    ("size", "geometry", "short", "extra", "words"),
    [
        (737_280 - 4608, "80x2x9x512", 4608, 0, "one track short of 80x2x9x512"),
        (737_280 - 9216, "80x2x9x512", 9216, 0, "one cylinder short of"),
        (737_280 - 512, "80x2x9x512", 512, 0, "one sector short of"),
        (82 * 9216, "80x2x9x512", 0, 18_432, "82 cylinders were read, 80 is the format"),
        (41 * 9216, "40x2x9x512", 0, 9216, "41 cylinders were read, 40 is the format"),
        (42 * 9216, "40x2x9x512", 0, 18_432, "42 cylinders were read, 40 is the format"),
        (1_474_560 + 256, "80x2x18x512", 0, 256, "256 bytes more than 80x2x18x512: a header in front"),
        (1_474_560 - 100, "80x2x18x512", 100, 0, "100 bytes short of"),
    ],
)  # fmt: skip
def test_sizes_that_are_off_are_recognised(size: int, geometry: str, short: int, extra: int, words: str) -> None:
    found = by_size(size)
    best = found.candidates[0]
    assert (best.geometry, best.short_bytes, best.extra_bytes) == (geometry, short, extra)
    assert words in says(found)


def test_a_shape_that_no_format_has_is_solved_freely() -> None:
    found = by_size(80 * 2 * 21 * 512)
    assert found.exit_code == 0
    assert ("80x2x21x512", "mfm", 500_000) in [(c.geometry, c.encoding, c.data_rate) for c in found.candidates]
    for one in found.candidates:
        whole = one.cylinders * one.heads * one.sectors * one.sector_bytes
        assert whole + one.extra_bytes - one.short_bytes == 80 * 2 * 21 * 512 or one.formats


@pytest.mark.parametrize("size", [1, 7, 101, 65_537, 1 << 32, (1 << 32) - 5, 5_000_011])
def test_sizes_of_no_disk_give_no_candidate_and_say_what_to_do(size: int) -> None:
    found = by_size(size)
    assert (found.candidates, found.exit_code) == ((), 1)
    assert found.says
    assert found.hint


def test_nothing_is_an_error() -> None:
    with pytest.raises(InputError) as empty:
        solve(b"")
    assert empty.value.code == "empty"
    with refuses(UsageError, "usage", "there is nothing to solve from"):
        solve()
    with refuses(UsageError, "usage", "no floppy disk has a size of 0 bytes"):
        by_size(0)


# ---- by facts

@pytest.mark.parametrize(
    ("known", "words"),
    [
        (Known(sectors=18, sector_bytes=512, data_rate=250_000), ("18 sectors of 512 bytes", "250 kbit/s")),
        (Known(sectors=8, sector_bytes=512, encoding="fm", data_rate=125_000), ("8 sectors of 512", "125 kbit/s")),
        (Known(disk_inch=8, cylinders=40), ("8 inch", "40 cylinders")),
        (Known(disk_inch=3.5, encoding="fm"), ("3.5 inch", "FM")),
        (Known(cylinders=80, heads=2, sectors=9, sector_bytes=512, size_bytes=1_474_560),
         ("80x2x9x512", "1474560 bytes")),
        (Known(encoding="perpendicular", data_rate=250_000), ("PERPENDICULAR", "250 kbit/s")),
    ],
)  # fmt: skip
def test_two_facts_that_exclude_each_other_are_both_named(known: Known, words: tuple[str, str]) -> None:
    with pytest.raises(UsageError) as error:
        solve(known=known)
    assert all(word in error.value.what for word in words)


def test_sectors_that_fit_no_track_are_refused_with_the_bytes() -> None:
    """Standard Microsystems, FDC37 series data sheets, prints 8 x 512 for FM on 5.25 inch: a row that has slipped."""
    with refuses(UsageError, "usage", "8 sectors of 512 bytes do not fit") as error:
        solve(known=Known(sectors=8, sector_bytes=512, encoding="fm", data_rate=125_000, rotation=300))
    assert f"{16 + 8 * (33 + 512) - 3125} bytes too many for the 3125" in error.value.why


@pytest.mark.parametrize(
    "absurd",
    [Known(cylinders=0), Known(cylinders=5000), Known(heads=3), Known(sectors=0), Known(sector_bytes=500),
     Known(encoding="rll"), Known(holes=12), Known(data_rate=1), Known(rotation=0.5), Known(disk_inch=5.0),
     Known(size_bytes=-1)],
)  # fmt: skip
def test_absurd_facts_are_refused(absurd: Known) -> None:
    with refuses(UsageError, "usage", "no floppy disk has"):
        solve(known=absurd)


def test_facts_narrow_the_answer() -> None:
    found = solve(known=Known(size_bytes=368_640, heads=1))
    assert found.candidates[0].geometry == "80x1x9x512"
    found = solve(known=Known(size_bytes=737_280, disk_inch=5.25))
    assert found.candidates[0].formats == ("5.25-80x2x9x512",)
    # the 300 kbit/s of a 360 rev/min drive write the track that 250 write at 300 rev/min (arithmetic)
    found = solve(known=Known(sectors=9, sector_bytes=512, heads=2, cylinders=40, data_rate=300_000, rotation=360))
    assert found.candidates[0].format == "5.25-40x2x9x512"


# ---- by content

@pytest.mark.parametrize(
    "name",
    ["5.25-40x1x8x512", "5.25-40x2x9x512", "3.5-80x2x9x512", "5.25-80x2x15x512", "3.5-80x2x18x512", "3.5-80x2x36x512",
     "8-77x1x26x128-fm", "8-77x2x8x1024"],
)  # fmt: skip
@pytest.mark.parametrize("with_block", [True, False])
def test_disks_with_fats(name: str, with_block: bool) -> None:
    found = solve(fat_disk(shape_of(name), 1, with_block=with_block))
    assert name in found.candidates[0].formats
    assert found.exit_code == 0
    assert "FAT" in says(found) or "parameter block" in says(found)


@pytest.mark.parametrize("media", sorted(MEDIA))
@pytest.mark.parametrize("size", [327_680, 368_640, 655_360, 737_280])
def test_a_media_byte_alone_never_decides(media: int, size: int) -> None:
    plain = solve(bytes(size))
    marked = solve(bytes(512) + bytes([media]) + bytes(size - 513))
    assert [one.geometry for one in marked.candidates[:2]] == [one.geometry for one in plain.candidates[:2]]


def test_a_shared_media_byte_does_not_make_an_8_inch_disk_a_pc_disk() -> None:
    """FD is the 360K disk's too. Source: Microsoft, Q75131."""
    shape = shape_of("8-77x2x26x128-fm")
    assert parameters(shape).media == parameters(PC_360K).media == 0xFD
    best = solve(fat_disk(shape, 3)).candidates[0]
    assert best.geometry == "77x2x26x128"


def test_a_block_that_contradicts_the_size_stands_beside_it() -> None:
    disk = block(PC_360K, parameters(PC_360K)).ljust(1_474_560, b"\0")
    found = solve(disk)
    assert {"80x2x18x512", "40x2x9x512"} <= {one.geometry for one in found.candidates}
    assert any("the parameter block states 9 sectors" in says(found, i) for i in range(len(found.candidates)))


def test_a_header_is_found_where_the_parameter_block_shows_it() -> None:
    found = solve(bytes(128) + fat_disk(PC_720K, 4))
    best = found.candidates[0]
    assert (best.geometry, best.data_start, best.extra_bytes) == ("80x2x9x512", 128, 128)
    assert "128 bytes" in found.hint
    trailer = solve(fat_disk(PC_720K, 4) + bytes(128)).candidates[0]
    assert (trailer.geometry, trailer.data_start, trailer.extra_bytes) == ("80x2x9x512", 0, 128)


def test_the_directory_of_8_bit_machines_tells_the_track_and_the_skew() -> None:
    shape = shape_of("8-77x1x26x128-fm")
    found = solve(directory_disk(shape, 5, step=6))
    assert found.candidates[0].geometry == "77x1x26x128"
    assert "6 sectors of 128 bytes apart: the skew" in says(found)
    assert "behind" in says(found)


def test_a_40_track_disk_read_without_double_stepping() -> None:
    disk = bare_disk(PC_360K, 6)
    size = PC_360K.cylinder_bytes
    twice = b"".join(disk[at : at + size] * 2 for at in range(0, len(disk), size))
    found = solve(twice)
    best = found.candidates[0]
    assert (best.geometry, best.format, best.extra_bytes) == ("40x2x9x512", "5.25-40x2x9x512", 368_640)
    assert "without double stepping" in says(found)
    assert "double" in found.hint


@pytest.mark.parametrize("order", ["alternating", "side-after-side"])
def test_one_side_read_twice(order: str) -> None:
    side = bare_disk(shape_of("5.25-40x1x9x512"), 7)
    twice = b"".join(side[at : at + 4608] * 2 for at in range(0, len(side), 4608))
    found = solve(side + side if order == "side-after-side" else twice)
    assert found.candidates[0].geometry == "40x1x9x512"
    assert "side 1 equals side 0" in says(found)


def test_reading_beyond_the_last_track() -> None:
    disk = bare_disk(PC_720K, 8, full=1.0)
    found = solve(disk + disk[-9216:] * 2)
    assert (found.candidates[0].geometry, found.candidates[0].extra_bytes) == ("80x2x9x512", 18_432)
    assert "the drive went no further than cylinder 79" in says(found)


@pytest.mark.parametrize("order", ["alternating", "side-after-side", "side-1-reversed"])
@pytest.mark.parametrize("full", [0.3, 0.9])
def test_fats_tell_the_order_of_sides(order: str, full: float) -> None:
    disk = in_order(fat_disk(PC_720K, 9, full=full), PC_720K, order)
    assert solve(disk).candidates[0].side_order == order


def test_a_blank_area_in_pieces_tells_the_order_and_one_piece_does_not() -> None:
    disk = bare_disk(PC_720K, 10)
    assert solve(in_order(disk, PC_720K, "side-after-side")).candidates[0].side_order == "side-after-side"
    asked = solve(disk)
    assert asked.candidates[0].side_order is None
    assert "ask" in asked.hint


@pytest.mark.parametrize("fill", [0xE5, 0xF6, 0x00, 0xFF])
def test_a_blank_disk_says_that_only_the_size_speaks(fill: int) -> None:
    found = solve(bytes([fill]) * 737_280)
    assert f"Every byte is {fill:02X}" in found.says
    assert found.candidates[0].side_order is None


# ---- judged by another program

@tools.needs("mkfs.fat")
@pytest.mark.parametrize(
    ("kib", "name"),
    [(160, "5.25-40x1x8x512"), (180, "5.25-40x1x9x512"), (320, "5.25-40x2x8x512"), (360, "5.25-40x2x9x512"),
     (720, "3.5-80x2x9x512"), (1200, "5.25-80x2x15x512"), (1440, "3.5-80x2x18x512"), (2880, "3.5-80x2x36x512")],
)  # fmt: skip
def test_disks_that_mkfs_fat_makes(tmp_path: Path, kib: int, name: str) -> None:
    subprocess.run([tools.path("mkfs.fat"), "-C", tmp_path / "disk.img", str(kib)], check=True, capture_output=True)
    found = solve((tmp_path / "disk.img").read_bytes())
    assert found.candidates[0].format == name
    assert found.exit_code == 0


# ---- anything

def whole(found: GeometrySolution) -> None:
    assert found.says.endswith(".")
    assert found.hint
    assert len(found.candidates) <= 12
    scores = [one.score for one in found.candidates]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= score <= 1 for score in scores)
    assert sum(scores) <= 1.01
    for one in found.candidates:
        assert one.format == (one.formats[0] if one.formats else None)


@given(st.integers(1, 5_000_000))
def test_any_size_gets_an_answer(size: int) -> None:
    whole(by_size(size))


@given(st.binary(min_size=1, max_size=3000), st.sampled_from([184_320, 256_256, 92_160, 71_680, 1000]))
def test_random_bytes_get_an_answer(raw: bytes, size: int) -> None:
    whole(solve((raw * (size // len(raw) + 1))[:size]))


@given(st.binary(min_size=25, max_size=25), st.sampled_from([163_840, 368_640, 368_896]))
def test_random_parameter_blocks_get_an_answer(fields: bytes, size: int) -> None:
    whole(solve((b"\xeb\x34\x90TG85 1.0" + fields).ljust(size, b"\xf6")))


@given(
    st.builds(
        Known, cylinders=st.none() | st.integers(0, 90), heads=st.none() | st.integers(0, 3),
        sectors=st.none() | st.integers(0, 300),
        sector_bytes=st.none() | st.sampled_from([0, 128, 256, 512, 1024, 9000]),
        encoding=st.none() | st.sampled_from(["fm", "mfm", "perpendicular", "x"]),
        data_rate=st.none() | st.sampled_from([0, 125_000, 250_000, 300_000, 500_000, 1_000_000]),
        rotation=st.none() | st.sampled_from([0, 300, 360]), disk_inch=st.none() | st.sampled_from([3.5, 5.25, 8, 3]),
        size_bytes=st.none() | st.integers(-1, 3_000_000),
    )
)  # fmt: skip
def test_any_facts_get_an_answer_or_our_error(known: Known) -> None:
    try:
        whole(solve(known=known))
    except ImagekeeperError as error:
        assert error.why
        assert error.hint
