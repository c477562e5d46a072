"""Layouts against published tracks and tables."""

from __future__ import annotations

import math

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.floppy.layout import TrackLayout, bytes_per_track, lay_out
from imagekeeper.floppy.order import placed
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
