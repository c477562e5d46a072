"""Sectors to cells and back, whole, slipped and damaged."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.floppy.cells import Cells
from imagekeeper.floppy.layout import TrackLayout, lay_out
from imagekeeper.floppy.track import Sector, decode_track, encode_track

ENCODINGS = ("fm", "mfm", "perpendicular")


def track_of(encoding: str, size_code: int = 1, seed: int = 1) -> tuple[list[Sector], TrackLayout]:
    """As many sectors of random bytes as fit."""
    layout = lay_out(encoding, sector_bytes=128 << size_code)
    chance = random.Random(seed)
    assert layout.order is not None
    sectors = [
        Sector(
            cylinder=39, head=1, record=r, size_code=size_code, data=chance.randbytes(128 << size_code),
            mark=0xF8 if r == 2 else 0xFB,
        )
        for r in layout.order.records
    ]
    return sectors, layout


sectors_of_256 = st.builds(
    Sector,
    st.integers(0, 255), st.integers(0, 255), st.integers(0, 255), st.just(1),
    st.binary(min_size=256, max_size=256) | st.sampled_from([b"\xa1" * 256, b"\xfe" * 256, b"\x00" * 256, b"N" * 256]),
    st.sampled_from([0xFB, 0xF8]),
)  # fmt: skip


@given(data=st.data(), encoding=st.sampled_from(ENCODINGS))
@settings(deadline=None)
def test_what_is_written_is_read(data: st.DataObject, encoding: str) -> None:
    count = data.draw(st.integers(1, 5))
    layout = lay_out(encoding, sectors=count, sector_bytes=256)
    sectors = data.draw(
        st.lists(sectors_of_256, min_size=count, max_size=count, unique_by=lambda s: (s.cylinder, s.head, s.record))
    )
    cells = encode_track(sectors, layout)
    assert cells.count == 16 * layout.bytes_per_track
    found = decode_track(cells, encoding)
    assert found == tuple(sectors)
    marks = [16 * f.start for f in layout.fields if f.name == "id mark"]
    assert [s.id_position for s in found] == marks
    assert [s.data_position for s in found] == [16 * f.start for f in layout.fields if f.name == "data mark"]
    assert [s.deleted for s in found] == [s.mark == 0xF8 for s in sectors]


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("size_code", [0, 1, 2, 3, 4])
def test_every_size(encoding: str, size_code: int) -> None:
    sectors, layout = track_of(encoding, min(size_code, 3 if encoding == "fm" else 4))
    assert decode_track(encode_track(sectors, layout), encoding) == tuple(sectors)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_it_does_not_matter_where_one_revolution_begins(encoding: str) -> None:
    sectors, layout = track_of(encoding)
    bits = encode_track(sectors, layout).bits()
    for turn in [*range(0, len(bits), 997), *range(16)]:
        found = decode_track(Cells.of(np.roll(bits, turn)), encoding, circular=True)
        assert sorted(found, key=lambda s: s.record or 0) == sorted(sectors, key=lambda s: s.record or 0), turn


@given(data=st.data(), encoding=st.sampled_from(ENCODINGS), seed=st.integers(0, 3))
@settings(deadline=None)
def test_slips_in_gaps_lose_no_sector(data: st.DataObject, encoding: str, seed: int) -> None:
    """Cells are inserted or deleted in every gap, where drives switch their write current."""
    sectors, layout = track_of(encoding, seed=seed)
    bits = encode_track(sectors, layout).bits().tolist()
    gaps = [f for f in layout.fields if f.name.startswith("gap")]
    for gap in reversed(gaps):
        slip = data.draw(st.integers(-15, 15))
        place = 16 * gap.start + data.draw(st.integers(16, 16 * gap.length - 16))
        if slip < 0:
            del bits[place : place - slip]
        else:
            bits[place:place] = data.draw(st.lists(st.integers(0, 1), min_size=slip, max_size=slip))
    found = decode_track(Cells.of(bits), encoding)
    assert [s for s in found if s.ok] == sectors


@given(encoding=st.sampled_from(ENCODINGS), hit=st.integers(0, 6), where=st.floats(0, 0.999999), slip=st.booleans())
@settings(deadline=None)
def test_damage_in_one_field_is_flagged_and_harms_no_other(encoding: str, hit: int, where: float, slip: bool) -> None:
    """One bit of an ID, its CRC, data or its CRC is inverted, or a cell is lost there."""
    sectors, layout = track_of(encoding)
    hit %= len(sectors)
    fields = [f for f in layout.fields if f.sector == hit + 1 and f.fill is None]
    span = [16 * f.start + cell for f in fields for cell in range(1, 16 * f.length, 2)]   # the cells of bits
    place = span[int(where * len(span))]
    bits = encode_track(sectors, layout).bits()
    if slip:
        bits = np.delete(bits, place)
    else:
        bits[place] ^= 1
    found = decode_track(Cells.of(bits), encoding)
    others = [s for n, s in enumerate(sectors) if n != hit]
    good = [s for s in found if s.ok]
    assert [s for s in good if s in others] == others
    if not slip:
        assert good == others
        assert len([s for s in found if not s.ok]) == 1
        flagged = next(s for s in found if not s.ok)
        in_id = place < 16 * (fields[1].start + 2)
        assert (flagged.id_crc_ok, flagged.data_crc_ok) == (not in_id, in_id)
        in_data = 16 * fields[2].start <= place < 16 * fields[3].start
        assert flagged.data is not None
        assert len(flagged.data) == 256
        assert (flagged.data != sectors[hit].data) == in_data
    for one in good:   # what a lost cell leaves whole may only be the sector itself
        assert one in sectors


@given(encoding=st.sampled_from(ENCODINGS), hit=st.integers(0, 6), where=st.floats(0, 0.999999),
       data_mark=st.booleans())  # fmt: skip
@settings(deadline=None)
def test_damage_in_a_mark_costs_at_most_its_own_sector(
    encoding: str, hit: int, where: float, data_mark: bool
) -> None:
    sectors, layout = track_of(encoding)
    hit %= len(sectors)
    name = "data mark" if data_mark else "id mark"
    field = next(f for f in layout.fields if f.sector == hit + 1 and f.name == name)
    bits = encode_track(sectors, layout).bits()
    bits[16 * field.start + int(where * 16 * field.length)] ^= 1
    good = [s for s in decode_track(Cells.of(bits), encoding) if s.ok]
    assert all(s in sectors for s in good)
    assert [s for s in good if s != sectors[hit]] == [s for n, s in enumerate(sectors) if n != hit]


@given(packed=st.binary(max_size=3000), count=st.integers(-5, 30000), encoding=st.sampled_from(ENCODINGS),
       circular=st.booleans())  # fmt: skip
@settings(deadline=None)
def test_any_cells_are_taken(packed: bytes, count: int, encoding: str, circular: bool) -> None:
    found = decode_track(Cells(packed, count), encoding, circular=circular)
    assert not any(s.ok for s in found)   # chance does not make two CRCs hold


@given(pieces=st.lists(st.tuples(st.sampled_from(["mark", "zero", "noise"]), st.binary(min_size=4, max_size=12))),
       encoding=st.sampled_from(ENCODINGS))  # fmt: skip
@settings(deadline=None)
def test_tracks_full_of_marks_are_taken(pieces: list[tuple[str, bytes]], encoding: str) -> None:
    marks = b"\xaa\xaa\xf5\x7e\xf5\x6f" if encoding == "fm" else bytes.fromhex("4489448944895554")
    packed = b"".join({"mark": marks + data, "zero": b"\xaa" * 6, "noise": data}[kind] for kind, data in pieces)
    found = decode_track(Cells(packed, 8 * len(packed)), encoding)
    assert sum(len(s.data or b"") for s in found) <= len(packed)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_missing_data_bad_crcs_and_doubles_are_reported(encoding: str) -> None:
    sectors, layout = track_of(encoding)
    sectors[0] = replace(sectors[0], data=None, mark=None, data_crc_ok=None)
    sectors[1] = replace(sectors[1], data_crc_ok=False)
    sectors[2] = replace(sectors[2], id_crc_ok=False)
    sectors[4] = replace(sectors[4], record=sectors[3].record)
    found = decode_track(encode_track(sectors, layout), encoding)
    assert found == (*sectors[:4], replace(sectors[4], duplicate=True), *sectors[5:])


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_damaged_id_makes_no_double_of_a_sound_sector(encoding: str) -> None:
    sectors, layout = track_of(encoding)
    sectors[1] = replace(sectors[1], record=sectors[2].record, id_crc_ok=False)
    assert decode_track(encode_track(sectors, layout), encoding) == tuple(sectors)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_data_without_its_id_is_recovered(encoding: str) -> None:
    sectors, layout = track_of(encoding)
    bits = encode_track(sectors, layout).bits()
    mark = next(f for f in layout.fields if f.name == "id mark" and f.sector == 4)
    bits[16 * mark.start : 16 * (mark.start + mark.length)] = 0
    found = decode_track(Cells.of(bits), encoding)
    assert found[3] == Sector(
        cylinder=None, head=None, record=None, size_code=None, data=sectors[3].data, mark=sectors[3].mark,
        id_crc_ok=False, data_crc_ok=True,
    )  # fmt: skip
    assert [*found[:3], *found[4:]] == [*sectors[:3], *sectors[4:]]


def test_data_that_the_cells_cut_short_is_kept_and_flagged() -> None:
    sectors, layout = track_of("mfm", 2)
    last = [f for f in layout.fields if f.name == "data"][-1]
    cells = encode_track(sectors, layout)
    found = decode_track(Cells(cells.packed, 16 * (last.start + 100)), "mfm")
    data = sectors[-1].data
    assert data is not None
    assert found[-1] == replace(sectors[-1], data=data[:100], data_crc_ok=False)


def test_what_does_not_fit_the_layout_is_refused() -> None:
    sectors, layout = track_of("mfm")
    wrong: list[list[Sector]] = [
        sectors[1:], [replace(sectors[0], data=b"short"), *sectors[1:]],
        [replace(sectors[0], record=256), *sectors[1:]],
        [replace(sectors[0], cylinder=None), *sectors[1:]], [replace(sectors[0], mark=0xF9), *sectors[1:]],
    ]  # fmt: skip
    for one in wrong:
        with pytest.raises(UsageError) as problem:
            encode_track(one, layout)
        assert problem.value.code == "usage"
    with pytest.raises(UsageError, match="bytes more than the track has"):
        encode_track([], lay_out("mfm", sectors=40))
