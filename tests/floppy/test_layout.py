"""Layouts against published tracks and tables."""

from __future__ import annotations

import math

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.floppy.layout import TrackLayout, bytes_per_track, gap3_least, gap3_most, lay_out
from imagekeeper.floppy.order import placed
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.jsonable import schema_of, to_json

EIGHT_FM = ("fm", 250_000, 360)
MINI_FM = ("fm", 125_000, 300)
EIGHT = ("mfm", 500_000, 360)
DOUBLE = ("mfm", 250_000, 300)
HIGH = ("mfm", 500_000, 300)
EXTRA = ("perpendicular", 1_000_000, 300)


def laid(kind: tuple[str, int, int], sectors: int, size: int, gap3: int, tolerance: float = 1.5,
         index_gap: int | None = None) -> TrackLayout:  # fmt: skip
    return lay_out(kind[0], data_rate=kind[1], rotation=kind[2], sectors=sectors, sector_bytes=size, gap3=gap3,
                   tolerance_percent=tolerance, index_gap=index_gap)  # fmt: skip


#: Flux transitions per radian from the titles and scopes of the standards: ISO 6596, 7487 and 8860 (7958), ECMA-99
#: (13262), ISO 9529 (15916), ECMA-147 (31831). FM writes up to two a bit, MFM one.
@pytest.mark.parametrize(
    ("ftprad", "kind", "size"),
    [(7958, MINI_FM, 3125), (7958, DOUBLE, 6250), (13262, EIGHT_FM, 5208), (13262, EIGHT, 10416),
     (15916, HIGH, 12500), (31831, EXTRA, 25000)],
)  # fmt: skip
def test_a_track_holds_what_the_standards_flux_density_gives(
    ftprad: int, kind: tuple[str, int, int], size: int
) -> None:
    assert bytes_per_track(*kind[1:]) == size
    assert math.isclose(2 * math.pi * ftprad / (16 if kind[0] == "fm" else 8), size, rel_tol=1e-4)


def test_a_fast_drive_needs_a_faster_rate() -> None:
    """Arithmetic: the same track at 300 kbit/s and 360 rev/min as at 250 and 300; too little at 250 and 360."""
    assert bytes_per_track(300_000, 360) == bytes_per_track(250_000, 300) == 6250
    assert bytes_per_track(250_000, 360) == 5208


WD = "Western Digital, FD 179X-02 data sheet, May 1980: about 247 and 598 bytes before the index"
INTEL = "Intel, 8272 data sheet, Table 5: gap lengths for format, 8 inch; totals are arithmetic"
SMSC = "Standard Microsystems, FDC37 series data sheets, typical values for formatting; totals are arithmetic"
MEMORY = "from memory; totals are arithmetic"


@pytest.mark.parametrize(
    ("kind", "sectors", "size", "gap3", "total", "spare", "source"),
    [
        (EIGHT_FM, 26, 128, 27, 4961, 247, WD), (EIGHT, 26, 256, 54, 9818, 598, WD),
        (EIGHT_FM, 15, 256, 0x2A, 5038, 170, INTEL), (EIGHT_FM, 8, 512, 0x3A, 4897, 311, INTEL),
        (EIGHT, 26, 256, 0x36, 9818, 598, INTEL), (EIGHT, 15, 512, 0x54, 10016, 400, INTEL),
        (EIGHT, 8, 1024, 0x74, 9762, 654, INTEL), (DOUBLE, 9, 512, 0x50, 6032, 218, SMSC),
        (DOUBLE, 16, 256, 0x32, 6034, 216, SMSC), (DOUBLE, 5, 1024, 0x74, 6156, 94, SMSC),
        (DOUBLE, 9, 512, 84, 6068, 182, SMSC), (HIGH, 18, 512, 108, 12422, 78, MEMORY),
        (HIGH, 18, 512, 101, 12296, 204, MEMORY), (EXTRA, 36, 512, 83, 24482, 518, MEMORY),
    ],
)  # fmt: skip
def test_published_layouts_fill_their_tracks(
    kind: tuple[str, int, int], sectors: int, size: int, gap3: int, total: int, spare: int, source: str
) -> None:
    track = laid(kind, sectors, size, gap3, tolerance=0)
    assert (track.total, track.spare, track.fits) == (total, spare, True), source


def test_a_short_index_gap() -> None:
    """ECMA-66 FM track, an index gap of 16: the sizes from memory, the total arithmetic."""
    assert laid(MINI_FM, 16, 128, 27, index_gap=16).total == 3024


@pytest.mark.parametrize(
    ("kind", "sectors", "size", "gap3", "short"),
    [
        # a period programmer's reference pairs 9 x 512 with the gap of 18 x 512
        (DOUBLE, 9, 512, 108, 34),
        # a row that slipped in Standard Microsystems' FM table for 5.25 inch: with a gap of 0 already too much
        (MINI_FM, 8, 512, 0, 1308),
    ],
)
def test_misprinted_rows_are_refused_and_say_by_how_much(
    kind: tuple[str, int, int], sectors: int, size: int, gap3: int, short: int
) -> None:
    track = laid(kind, sectors, size, gap3, tolerance=0)
    assert (track.fits, track.spare, track.exit_code, track.order) == (False, -short, 1, None)
    assert f"{short} more than the track's" in track.says


#: Arithmetic at 1.5 % of speed, the usual tolerance of drive manuals of 3.5-inch drives.
@pytest.mark.parametrize(
    ("kind", "sectors", "size", "most"),
    [(DOUBLE, 16, 256, 57), (DOUBLE, 9, 512, 93), (DOUBLE, 10, 512, 27), (DOUBLE, 5, 1024, 116), (EIGHT, 15, 512, 100),
     (EIGHT, 26, 256, 71), (EIGHT, 8, 1024, 178), (HIGH, 18, 512, 102)],
)  # fmt: skip
def test_the_largest_gap_at_the_tolerance_is_sharp(
    kind: tuple[str, int, int], sectors: int, size: int, most: int
) -> None:
    assert laid(kind, sectors, size, most).gap3_max == most
    assert laid(kind, sectors, size, most).fits
    assert not laid(kind, sectors, size, most + 1).fits


def test_a_fit_without_reserve_is_told_from_none() -> None:
    """18 x 512 with 108 is in wide use, and leaves less than 1 % for errors of speed."""
    track = laid(HIGH, 18, 512, 108)
    assert (track.fits, track.fits_nominal) == (False, True)
    assert "only on a drive at its exact speed" in track.says


def test_a_short_index_gap_leaves_ten_sectors_more_room() -> None:
    assert lay_out("mfm", sectors=10, index_gap=32).gap3_max == 38


@given(
    size=st.sampled_from([128, 256, 512, 1024]), tolerance=st.integers(0, 50),
    encoding=st.sampled_from(["fm", "mfm", "perpendicular"]),
)  # fmt: skip
def test_the_least_gap_holds_the_longest_rewritten_field(size: int, tolerance: int, encoding: str) -> None:
    """Lay the sector out on the slow drive, write its data on the fast one, and see where the writing ends."""
    percent = tolerance / 10
    track = lay_out(encoding, sectors=1, sector_bytes=size, tolerance_percent=percent, data_rate=1_000_000)
    slow, fast = 1 / (1 + percent / 100), 1 / (1 - percent / 100)   # length of a byte on the disk
    fields = {(f.name, n): f for n, f in enumerate(track.fields)}
    begin = [f.start for (name, _), f in fields.items() if name == "sync"][-1]   # the data field's sync
    gap = next(f.start for (name, _), f in fields.items() if name == "gap 3")
    written = (gap + 1 - begin) * fast + (38 if encoding == "perpendicular" else 0) * slow
    needed = written - (gap - begin) * slow
    assert needed <= (track.gap3_min + 1) * slow + 1e-6
    assert needed > (track.gap3_min - 2) * slow


@given(
    sectors=st.integers(1, 255), size=st.sampled_from([128 << n for n in range(8)]), gap3=st.integers(0, 255),
    encoding=st.sampled_from(["fm", "mfm", "perpendicular"]), index_gap=st.none() | st.integers(0, 300),
)  # fmt: skip
def test_fields_follow_each_other_to_the_end(
    sectors: int, size: int, gap3: int, encoding: str, index_gap: int | None
) -> None:
    track = lay_out(encoding, sectors=sectors, sector_bytes=size, gap3=gap3, index_gap=index_gap, interleave=1)
    place = 0
    for field in track.fields:
        assert field.start == place
        assert field.fill is None or field.length % len(bytes.fromhex(field.fill)) == 0
        place += field.length
    assert place == max(track.total, track.bytes_per_track)
    assert track.spare == track.bytes_per_track - track.total
    assert sum(field.length for field in track.fields if field.name == "data") == sectors * size


@pytest.mark.parametrize("encoding", ["fm", "mfm", "perpendicular"])
@pytest.mark.parametrize("size", [128, 512, 1024])
def test_as_many_as_fit_do_and_one_more_does_not(encoding: str, size: int) -> None:
    track = lay_out(encoding, sector_bytes=size)
    assert track.fits
    assert track.gap3_min_published <= track.gap3 <= (track.gap3_max or 0)
    more = lay_out(encoding, sector_bytes=size, sectors=track.sectors + 1)
    assert (more.gap3_max or 0) < more.gap3_min_published


def test_the_document_fits_its_schema() -> None:
    for track in (lay_out("mfm"), laid(DOUBLE, 255, 16384, 255)):
        jsonschema.validate(to_json(track), schema_of(TrackLayout))
        assert to_json(track)["schema"] == "track-layout/1"


@pytest.mark.parametrize(
    "numbers",
    [{"sector_bytes": 500}, {"sectors": 0}, {"sectors": 256}, {"rotation": math.nan}, {"rotation": math.inf},
     {"rotation": 0}, {"data_rate": 0}, {"gap3": 256}, {"gap3": -1}, {"tolerance_percent": 100.0},
     {"tolerance_percent": math.nan}, {"index_gap": 10**9}, {"interleave": 0}, {"host_delay_ms": -1.0},
     {"step_delay_ms": math.inf}],
)  # fmt: skip
def test_absurd_numbers_are_refused(numbers: dict[str, float]) -> None:
    with pytest.raises(UsageError) as problem:
        lay_out("mfm", **numbers)   # type: ignore[arg-type]
    assert problem.value.code == "usage"


@given(count=st.integers(1, 255), interleave=st.integers(1, 255))
def test_every_sector_has_one_place(count: int, interleave: int) -> None:
    assert sorted(placed(count, interleave)) == list(range(1, count + 1))


def test_a_host_without_delay_reads_in_one_revolution() -> None:
    order = lay_out("mfm", sectors=9, gap3=80).order
    assert order is not None
    assert (order.interleave, order.records) == (1, tuple(range(1, 10)))
    assert order.revolutions == round((8 * 654 + 574) / 6250, 4)   # first sync to last CRC


def test_a_slow_host_pays_a_revolution_a_sector_in_the_plain_order() -> None:
    """Gap 3 lasts 2.56 ms: a host that needs 3 ms misses the next sector each time. Arithmetic."""
    slow = lay_out("mfm", sectors=9, gap3=80, host_delay_ms=3.0, interleave=1).order
    just = lay_out("mfm", sectors=9, gap3=80, host_delay_ms=2.5, interleave=1).order
    best = lay_out("mfm", sectors=9, gap3=80, host_delay_ms=3.0).order
    assert slow is not None
    assert just is not None
    assert best is not None
    assert slow.revolutions == round((8 * (6250 + 654) + 574) / 6250, 4)
    assert just.revolutions < 1
    assert (best.interleave, math.ceil(best.revolutions)) == (2, 2)


def test_skew_bridges_the_step() -> None:
    """After the last of nine sectors 18 ms pass, 562.5 bytes; index gap, gap 4b and gap 3 are 444 of them."""
    order = lay_out("mfm", sectors=9, gap3=80, step_delay_ms=18.0).order
    assert order is not None
    assert order.skew == 1
    assert order.revolutions_per_track == round(1 + 654 / 6250, 4)


def test_perpendicular_recording_at_500_kbit() -> None:
    """Source: Standard Microsystems, FDC37 series data sheets, perpendicular mode: gap 2 is 22, and 19 are written."""
    slow = lay_out("perpendicular", sectors=18, data_rate=500_000, gap3=101, tolerance_percent=0)
    assert next(f.length for f in slow.fields if f.name == "gap 2") == 22
    assert slow.total == lay_out("mfm", sectors=18, data_rate=500_000, gap3=101).total
    assert slow.gap3_min == 1 + 19


def test_a_sector_size_is_one_that_its_code_can_say() -> None:
    """Intel 8272 data sheet, "N": the size is 128 times 2 to the power of it; 7 is 16384."""
    assert [lay_out("mfm", sector_bytes=128 << code, sectors=1).size_code for code in range(8)] == list(range(8))
    with pytest.raises(UsageError) as problem:
        lay_out("mfm", sector_bytes=32768)
    assert problem.value.code == "usage"
    assert "32768 is not one of 128, 256, 512, 1024, 2048, 4096, 8192, 16384" in str(problem.value)


def test_the_least_gap_by_hand() -> None:
    """MFM, 1024 bytes, each drive 5 % off: (12 + 4 + 1024 + 2 + 1) x (1.05 / 0.95 - 1) is 109.8, and 1 byte behind."""
    assert gap3_least(RECORDINGS["mfm"], 1024, 5) == 1 + 110


@pytest.mark.parametrize(("limit", "most"), [(146 + 5 * 574 - 1, None), (146 + 5 * 574, 0), (146 + 5 * 575, 1)])
def test_the_largest_gap_may_be_none_at_all(limit: int, most: int | None) -> None:
    assert gap3_most(limit, 146, RECORDINGS["mfm"], 5, 512) == most


def test_a_track_that_fits_ends_the_command_well() -> None:
    assert (lay_out("mfm", sectors=9, gap3=80).exit_code, lay_out("mfm", sectors=11, gap3=80).exit_code) == (0, 1)


def test_whether_a_gap_was_given_is_told() -> None:
    assert (lay_out("mfm", sectors=9, gap3=80).gap3_given, lay_out("mfm", sectors=9).gap3_given) == (True, False)


@pytest.mark.parametrize("tolerance", [0.0, 1.5])
def test_a_track_that_is_full_to_the_last_byte_fits(tolerance: float) -> None:
    """At the exact speed and on a fast drive; one byte more and it does not."""
    room = math.floor(6250 / (1 + tolerance / 100))
    gap = room - 9 * (574 + 40)
    full = lay_out("mfm", sectors=9, gap3=40, index_gap=gap, tolerance_percent=tolerance, rewrite_tolerance_percent=0)
    over = lay_out("mfm", sectors=9, gap3=40, index_gap=gap + 1, tolerance_percent=tolerance)
    assert (full.total, full.limit, full.fits, full.fits_nominal) == (room, room, True, True)
    assert full.order is not None
    assert full.says.endswith(f"fit: {6250 - room} bytes are left at the exact speed, 0 on a fast drive.")
    assert (over.fits, over.fits_nominal) == (False, tolerance > 0)
    assert (over.order is None) == (tolerance == 0)


def test_by_how_much_a_track_is_too_long_for_a_fast_drive() -> None:
    """Arithmetic: 146 + 18 x (574 + 108) bytes, and 12500 / 1.015 there."""
    assert laid(HIGH, 18, 512, 108).says.endswith("they need 12422 bytes, 107 more than the 12315 of a fast one.")


def test_what_is_left_of_a_track_is_told() -> None:
    """Arithmetic: 6250 and 6250 / 1.015, less 146 + 9 x (574 + 80)."""
    assert laid(DOUBLE, 9, 512, 80).says.endswith("fit: 218 bytes are left at the exact speed, 125 on a fast drive.")


@pytest.mark.parametrize(("gap3", "harm"), [(17, True), (18, False), (19, False)])
def test_a_gap_too_small_for_rewriting_is_warned_of(gap3: int, harm: bool) -> None:
    """At 1.5 % each, 512 bytes in MFM need 18: 1 + 531 x 0.03046, rounded up."""
    says = laid(DOUBLE, 9, 512, gap3).says
    assert ("can destroy the next: gap 3 must be 18 or more" in says) == harm
    assert ("are left at the exact speed" in says) != harm


@pytest.mark.parametrize("encoding", ["fm", "mfm", "perpendicular"])
def test_a_gap_that_is_not_given_lies_midway_between_its_limits(encoding: str) -> None:
    """From the data sheet's least, or from that which rewriting needs where the other does not fit; at most a byte."""
    met = set()
    for index_gap in range(0, 1600, 7):
        track = lay_out(encoding, sectors=9, sector_bytes=512, index_gap=index_gap, data_rate=250_000)
        most, published, least = track.gap3_max, track.gap3_min_published, track.gap3_min
        if most is None or most < least:
            met.add("too little room")
            assert track.gap3 == least
        else:
            met.add("published" if most >= published else "rewriting")
            low = published if most >= published else least
            assert track.gap3 == min((low + most) // 2, 255)
    roomy = lay_out(encoding, sectors=1, data_rate=1_000_000)
    assert roomy.gap3 == 255
    assert met == {"too little room", "published", "rewriting"}


def test_the_published_least_gap_is_kept_where_it_just_fits() -> None:
    kind = RECORDINGS["mfm"]
    need = gap3_least(kind, 512, 1.5) + kind.gap3_least
    index_gap = math.floor(6250 / 1.015) - 9 * (574 + need)
    track = lay_out("mfm", sectors=9, index_gap=index_gap)
    assert track.gap3_max == track.gap3_min_published == track.gap3 == need


def test_a_track_without_room_for_one_sector_is_laid_out_with_one_and_does_not_fit() -> None:
    track = lay_out("mfm", sector_bytes=16384)
    assert (track.sectors, track.fits, track.gap3_max) == (1, False, None)
    none = lay_out("mfm", index_gap=10_000)
    assert {one.sectors for one in none.capacity} == {0}
    assert {one.gap3_max for one in none.capacity} == {None}


def test_a_host_needs_no_time_unless_it_is_said() -> None:
    """Gap 3 of 10 bytes lasts 0.32 ms: who needed 1 ms would miss each next sector; nor does a step take time."""
    order = lay_out("mfm", sectors=10, gap3=10, index_gap=0).order
    assert order is not None
    assert (order.interleave, order.skew) == (1, 0)
    assert order.revolutions == round((9 * 584 + 574) / 6250, 4)
    tight = lay_out("mfm", sectors=19, sector_bytes=256, gap3=10, index_gap=0, tolerance_percent=0).order   # 18 left
    assert tight is not None
    assert (tight.skew, tight.revolutions_per_track) == (0, 1.0)


@pytest.mark.parametrize(("delay", "misses"), [(2.56, False), (2.5601, True)])
def test_a_byte_lasts_8_bits(delay: float, misses: bool) -> None:
    """A gap 3 of 80 bytes at 250 kbit/s lasts 80 x 8 / 250 = 2.56 ms: a host that is ready by then gets the next."""
    order = lay_out("mfm", sectors=9, gap3=80, host_delay_ms=delay, interleave=1).order
    assert order is not None
    assert (order.revolutions > 1) == misses


def test_the_fields_of_a_track_stand_in_their_order() -> None:
    """Intel, 8272 data sheet, the figure of a track in MFM; from memory."""
    track = lay_out("mfm", sectors=1, gap3=80)
    assert [(field.name, field.length, field.sector) for field in track.fields] == [
        ("gap 4a", 80, None), ("sync", 12, None), ("index mark", 4, None), ("gap 1", 50, None),
        ("sync", 12, 1), ("id mark", 4, 1), ("id", 4, 1), ("id crc", 2, 1), ("gap 2", 22, 1),
        ("sync", 12, 1), ("data mark", 4, 1), ("data", 512, 1), ("data crc", 2, 1), ("gap 3", 80, 1),
        ("gap 4b", 6250 - 146 - 654, None),
    ]  # fmt: skip


def test_what_has_no_length_is_no_field() -> None:
    track = lay_out("mfm", sectors=2, gap3=0, index_gap=0)
    assert not {"gap 1", "gap 3"} & {field.name for field in track.fields}
    assert all(field.length > 0 for field in track.fields)


#: What is laid out at all: IDs and gap registers hold a byte; the rest is our own choice of what no drive exceeds.
LIMITS: list[tuple[str, float, float, float]] = [
    ("sectors", 1, 255, 1), ("data_rate", 10_000, 10_000_000, 1), ("rotation", 60, 10_000, 0.5), ("gap3", 0, 255, 1),
    ("tolerance_percent", 0, 20, 0.5), ("rewrite_tolerance_percent", 0, 20, 0.5), ("index_gap", 0, 10_000, 1),
    ("host_delay_ms", 0, 10_000, 0.5), ("step_delay_ms", 0, 10_000, 0.5), ("interleave", 1, 8, 1),
]  # fmt: skip


@pytest.mark.parametrize(("name", "least", "most", "step"), LIMITS)
def test_the_limits_of_what_is_laid_out_belong_to_it(name: str, least: float, most: float, step: float) -> None:
    usual: dict[str, float] = {"sectors": 9, "gap3": 80, "rewrite_tolerance_percent": 1}
    for value in (least, most):
        lay_out("mfm", **{**usual, name: value})   # type: ignore[arg-type]
    for value in (least - step, most + step):
        with pytest.raises(UsageError) as problem:
            lay_out("mfm", **{**usual, name: value})   # type: ignore[arg-type]
        assert problem.value.code == "usage"
        assert f"is not between {least:g} and {most:g}" in str(problem.value)


def test_one_sector_has_one_interleave() -> None:
    order = lay_out("mfm", sectors=1, gap3=80, interleave=1).order
    assert order is not None
    with pytest.raises(UsageError) as problem:
        lay_out("mfm", sectors=1, gap3=80, interleave=2)
    assert "interleave of 1 sectors cannot be laid out" in str(problem.value)


def test_a_large_number_is_told_as_it_was_given() -> None:
    with pytest.raises(UsageError) as problem:
        lay_out("mfm", index_gap=1_234_567_890)
    assert "1234567890 is not between 0 and 10000" in str(problem.value)
