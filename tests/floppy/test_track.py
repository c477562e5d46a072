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

pytestmark = pytest.mark.long

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
    cylinder=st.integers(0, 255), head=st.integers(0, 255), record=st.integers(0, 255), size_code=st.just(1),
    data=st.binary(min_size=256, max_size=256)
    | st.sampled_from([b"\xa1" * 256, b"\xfe" * 256, b"\x00" * 256, b"N" * 256]),
    mark=st.sampled_from([0xFB, 0xF8]),
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


# ---- the rules of finding, one by one


def one_track(encoding: str, count: int = 2, size_code: int = 1) -> tuple[list[Sector], TrackLayout]:
    layout = lay_out(encoding, sectors=count, sector_bytes=128 << size_code)
    chance = random.Random(7)
    size = 128 << size_code
    ids = [{"cylinder": 3, "head": 0, "record": n, "size_code": size_code} for n in range(1, count + 1)]
    return [Sector(**one, data=chance.randbytes(size)) for one in ids], layout


def start_of(layout: TrackLayout, name: str, sector: int) -> int:
    """The first cell of a field."""
    return 16 * next(f.start for f in layout.fields if f.name == name and f.sector == sector)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_places_on_a_revolution_are_counted_from_its_first_cell(encoding: str) -> None:
    """Wherever the revolution is cut, a mark lies as far from the first cell as it did, once round."""
    sectors, layout = one_track(encoding)
    bits = encode_track(sectors, layout).bits()
    straight = decode_track(Cells.of(bits), encoding)
    for turn in (0, 16, 1000, start_of(layout, "data", 2), len(bits) - start_of(layout, "id", 1)):
        found = {s.record: s for s in decode_track(Cells.of(np.roll(bits, turn)), encoding, circular=True)}
        assert len(found) == len(sectors)
        for one in straight:
            there = found[one.record]
            assert one.id_position is not None
            assert one.data_position is not None
            assert there.id_position == (one.id_position + turn) % len(bits)
            assert there.data_position == (one.data_position + turn) % len(bits)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_crc_that_is_said_to_fail_has_every_bit_inverted(encoding: str) -> None:
    sectors, layout = one_track(encoding)
    whole = encode_track(sectors, layout)
    wrong = encode_track([replace(sectors[0], data_crc_ok=False), sectors[1]], layout)
    at = start_of(layout, "data crc", 1)
    data_bits = [np.asarray(one.bits()[at + 1 : at + 32 : 2]) for one in (whole, wrong)]
    assert (data_bits[0] ^ data_bits[1]).tolist() == [1] * 16
    found = decode_track(wrong, encoding)
    assert [(one.ok, one.data) for one in found] == [(False, sectors[0].data), (True, sectors[1].data)]


def test_by_how_much_a_layout_is_too_long_is_told() -> None:
    layout = lay_out("mfm", sectors=11, gap3=80)
    with pytest.raises(UsageError, match=f"its layout needs {-layout.spare} bytes more than the track has"):
        encode_track([], layout)


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("size_code", [7, 8, 9])
def test_a_size_code_beyond_7_is_no_size(encoding: str, size_code: int) -> None:
    """Of codes above 7 the low bits count, as common controllers take it; the size at which the CRC holds is found."""
    sectors, layout = one_track(encoding)
    wanted = [replace(sectors[0], size_code=size_code), sectors[1]]
    found = decode_track(encode_track(wanted, layout), encoding)
    assert [one.size_code for one in found] == [size_code, 1]
    assert found[1] == sectors[1]
    if size_code > 7:
        assert (found[0].data, found[0].data_crc_ok) == (sectors[0].data, True)
    else:
        assert found[0].data_crc_ok is False


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_data_of_a_sector_that_fails_ends_before_the_next_sure_id(encoding: str) -> None:
    """An ID that says 512 where 256 are: what is read ends at the mark of the next ID, byte for byte."""
    sectors, layout = one_track(encoding)
    found = decode_track(encode_track([replace(sectors[0], size_code=7), sectors[1]], layout), encoding)
    assert found[0].data is not None
    first = found[0].data_position
    second = start_of(layout, "id mark", 2) + (48 if encoding != "fm" else 0)
    assert first is not None
    start = first + (48 if encoding != "fm" else 0)
    assert len(found[0].data) == (second - start) // 16 - 1
    assert found[0].data[:256] == sectors[0].data
    assert found[1] == sectors[1]


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_an_id_without_data_and_data_without_an_id_are_each_told(encoding: str) -> None:
    sectors, layout = one_track(encoding, count=3)
    bits = encode_track([sectors[0], replace(sectors[1], data=None, mark=None, data_crc_ok=None), sectors[2]], layout)
    found = decode_track(bits, encoding)
    assert [(one.record, one.data) for one in found] == [(1, sectors[0].data), (2, None), (3, sectors[2].data)]
    cells = encode_track(sectors, layout).bits()
    at = start_of(layout, "id mark", 2)
    cells[at : at + 16 * 4] = 0   # the mark of the ID of the second
    alone = decode_track(Cells.of(cells), encoding)
    assert [(one.record, one.data, one.data_crc_ok) for one in alone] == [
        (1, sectors[0].data, True), (None, sectors[1].data, True), (3, sectors[2].data, True),
    ]  # fmt: skip
