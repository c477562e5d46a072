"""Orders of sides and sectors, against an oracle that knows every sector by its place on the disk."""

from __future__ import annotations

import time
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.floppy.arrangement import SIDE_ORDERS, Geometry, SideOrder, fit, order_sectors, order_sides, passing
from imagekeeper.tables.floppy import format_rows

BYTES = 32   # sectors as small as they may be


@st.composite
def geometries(draw: st.DrawFn, heads: int | None = None) -> Geometry:
    first = draw(st.none() | st.tuples(st.integers(1, 9), st.sampled_from([32, 64])))
    return Geometry(
        cylinders=draw(st.integers(1, 6)), heads=heads or draw(st.integers(1, 3)), sectors=draw(st.integers(1, 9)),
        sector_bytes=draw(st.sampled_from([32, 48, 64])), first_track=first,
    )  # fmt: skip


def image(geometry: Geometry) -> bytes:
    """Bytes of which no two sectors hold the same."""
    return np.random.default_rng(85).integers(0, 256, geometry.bytes, np.uint8).tobytes()


#: How each order was described to a person: the cylinders and sides of two cylinders, written out by hand.
BY_HAND: dict[SideOrder, list[tuple[int, int]]] = {
    "alternating": [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)],
    "side-after-side": [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1)],
    "side-1-reversed": [(0, 0), (1, 0), (2, 0), (2, 1), (1, 1), (0, 1)],
}


@pytest.mark.parametrize(("before", "after"), [*product(SIDE_ORDERS, SIDE_ORDERS)])
@pytest.mark.parametrize("first_track", [None, (2, 32)])
def test_sides_against_a_written_list(
    before: SideOrder, after: SideOrder, first_track: tuple[int, int] | None
) -> None:
    """Common practice, no source: the lists above are the definition."""
    geometry = Geometry(cylinders=3, heads=2, sectors=4, sector_bytes=64, first_track=first_track)

    def track(cylinder: int, side: int) -> bytes:
        length = 64 if first_track and (cylinder, side) == (0, 0) else 256
        return bytes([16 * cylinder + side]) * length

    files = {order: b"".join(track(*place) for place in places) for order, places in BY_HAND.items()}
    assert order_sides(files[before], geometry, before, after) == files[after]


@given(st.integers(1, 40), st.integers(1, 4), st.sampled_from(sorted(SIDE_ORDERS)))
def test_sides_against_axes_of_an_array(cylinders: int, sectors: int, order: SideOrder) -> None:
    geometry = Geometry(cylinders=cylinders, heads=2, sectors=sectors, sector_bytes=BYTES)
    data = image(geometry)
    disk = np.frombuffer(data, np.uint8).reshape(cylinders, 2, -1)
    expected = {
        "alternating": disk,
        "side-after-side": disk.transpose(1, 0, 2),
        "side-1-reversed": np.stack([disk[:, 0], disk[::-1, 1]]),
    }[order]
    assert order_sides(data, geometry, "alternating", order) == expected.tobytes()


@given(geometries(heads=2), st.sampled_from(sorted(SIDE_ORDERS)), st.sampled_from(sorted(SIDE_ORDERS)))
def test_sides_there_and_back(geometry: Geometry, before: SideOrder, after: SideOrder) -> None:
    data = image(geometry)
    assert order_sides(order_sides(data, geometry, before, after), geometry, after, before) == data


def test_one_side_has_no_order() -> None:
    geometry = Geometry(cylinders=40, heads=1, sectors=9, sector_bytes=512)
    with pytest.raises(UsageError) as problem:
        order_sides(bytes(geometry.bytes), geometry, "alternating", "side-after-side")
    assert problem.value.code == "usage"
    assert "has 1" in problem.value.why


def test_the_well_known_order_of_26_sectors() -> None:
    """Interleave 6 on 26 sectors, as 8-inch disks of the period were used; from memory."""
    known = [1, 7, 13, 19, 25, 5, 11, 17, 23, 3, 9, 15, 21, 2, 8, 14, 20, 26, 6, 12, 18, 24, 4, 10, 16, 22]
    order = passing(26, 6)
    assert [order.index(number) + 1 for number in range(1, 27)] == known


def test_interleaves_written_by_hand() -> None:
    """Common practice, no source: two sectors on from one to the next; the next free place where one is taken."""
    track = b"".join(bytes([number]) * BYTES for number in range(1, 10))
    stored = order_sectors(track, Geometry(cylinders=1, heads=1, sectors=9, sector_bytes=BYTES), interleave_to=2)
    assert list(stored[::BYTES]) == [1, 6, 2, 7, 3, 8, 4, 9, 5]
    skewed = order_sectors(track * 4, Geometry(cylinders=4, heads=1, sectors=9, sector_bytes=BYTES), skew_to=3)
    rows = np.frombuffer(skewed, np.uint8)[::BYTES].reshape(4, 9)
    assert rows[:, 0].tolist() == [1, 7, 4, 1]
    assert rows[1].tolist() == [7, 8, 9, 1, 2, 3, 4, 5, 6]


@given(geometries(), st.data())
def test_sectors_against_a_dictionary_of_places(geometry: Geometry, data: st.DataObject) -> None:
    """The oracle goes sector by sector: number k of track t passes in slot place(k) + skew * t."""
    interleave = data.draw(st.integers(1, max(geometry.sectors - 1, 1)))
    skew = data.draw(st.integers(0, max(geometry.sectors - 1, 0)))
    source = image(geometry)
    at, expected = 0, []
    for track in range(geometry.cylinders * geometry.heads):
        count, size = (track == 0 and geometry.first_track) or (geometry.sectors, geometry.sector_bytes)
        slots: dict[int, bytes] = {}
        place = 0
        for number in range(count):
            while (place + skew * track) % count in slots:
                place += 1
            slots[(place + skew * track) % count] = source[at + number * size : at + (number + 1) * size]
            place = (place + interleave) % count
        expected += [slots[slot] for slot in range(count)]
        at += count * size
    assert order_sectors(source, geometry, interleave_to=interleave, skew_to=skew) == b"".join(expected)


@given(geometries(), st.data())
def test_sectors_there_and_back(geometry: Geometry, data: st.DataObject) -> None:
    interleaves, skews = st.integers(1, max(geometry.sectors - 1, 1)), st.integers(0, max(geometry.sectors - 1, 0))
    (one, other), (skew, another) = data.draw(st.tuples(interleaves, interleaves)), data.draw(st.tuples(skews, skews))
    source = image(geometry)
    there = order_sectors(
        source, geometry, interleave_from=one, skew_from=skew, interleave_to=other, skew_to=another
    )
    assert sorted(there) == sorted(source)
    back = order_sectors(there, geometry, interleave_from=other, skew_from=another, interleave_to=one, skew_to=skew)
    assert back == source


@pytest.mark.parametrize(
    ("more", "why"), [(1, "1 byte more"), (-512, "512 bytes fewer"), (9216, "9216 bytes (9K) more")]
)
def test_another_size_is_refused_with_by_how_many_bytes(more: int, why: str) -> None:
    geometry = Geometry(cylinders=80, heads=2, sectors=9, sector_bytes=512)
    data = bytes(geometry.bytes + more)
    for change in (
        lambda: order_sides(data, geometry, "alternating", "side-after-side"),
        lambda: order_sectors(data, geometry, interleave_to=2),
    ):
        with pytest.raises(UsageError) as problem:
            change()
        assert problem.value.code == "does-not-fit"
        assert why in problem.value.why


@pytest.mark.parametrize("orders", [{"interleave_to": 9}, {"interleave_from": 0}, {"skew_to": 9}, {"skew_from": -1}])
def test_orders_that_a_track_cannot_have(orders: dict[str, int]) -> None:
    geometry = Geometry(cylinders=1, heads=1, sectors=9, sector_bytes=BYTES)
    with pytest.raises(UsageError) as problem:
        order_sectors(bytes(geometry.bytes), geometry, **orders)
    assert problem.value.code == "usage"


def test_fitting_pads_and_cuts_whole_tracks() -> None:
    forty, eighty = Geometry(
        cylinders=40, heads=2, sectors=9, sector_bytes=512
    ), Geometry(cylinders=80, heads=2, sectors=9, sector_bytes=512)
    data = image(forty)
    padded = fit(data, eighty, 0xE5)
    assert padded == data + b"\xe5" * forty.bytes
    assert fit(padded, forty, 0xE5) == data
    assert fit(data, forty, 0xE5) == data


def test_fitting_refuses_to_lose_data_unless_told() -> None:
    geometry = Geometry(cylinders=2, heads=1, sectors=2, sector_bytes=BYTES)
    data = bytes(geometry.bytes) + b"\xe5" * 60 + b"tide"
    with pytest.raises(UsageError) as problem:
        fit(data, geometry, 0xE5)
    assert problem.value.code == "would-lose"
    assert "of the 64 bytes beyond 2x1x2x32, 4 are not the fill byte E5" in problem.value.why
    assert fit(data, geometry, 0xE5, cut_data=True) == bytes(geometry.bytes)


@pytest.mark.parametrize(("size", "short"), [(1, 63), (63, 1), (65, 127), (64 + 128 + 100, 28)])
def test_fitting_refuses_half_a_track(size: int, short: int) -> None:
    """The first track has 64 bytes, the others 128."""
    geometry = Geometry(cylinders=4, heads=1, sectors=4, sector_bytes=32, first_track=(2, 32))
    with pytest.raises(UsageError) as problem:
        fit(bytes(size), geometry, 0)
    assert problem.value.code == "does-not-fit"
    assert f"{short} byte" in problem.value.why
    assert len(fit(bytes(size + short), geometry, 0)) == geometry.bytes


@pytest.mark.parametrize(
    "row", [row for row in format_rows().values() if row.first_track and row.heads == 2], ids=lambda row: row.id
)
def test_formats_with_a_first_track_in_fm(row: object) -> None:
    from imagekeeper.tables.floppy import FormatRow

    assert isinstance(row, FormatRow)
    assert row.first_track is not None
    geometry = Geometry.of(row)
    assert geometry.bytes == row.bytes
    data = image(geometry)
    first = row.first_track.sectors * row.first_track.sector_bytes
    track = row.sectors * row.sector_bytes
    turned = order_sides(data, geometry, "alternating", "side-after-side")
    assert turned[:first] == data[:first]
    assert turned[first : first + track] == data[first + track : first + 2 * track]   # cylinder 1 of side 0
    assert order_sides(turned, geometry, "side-after-side", "alternating") == data


@pytest.mark.parametrize(
    "figures", [(0, 2, 9, 512), (80, 0, 9, 512), (80, 2, 0, 512), (80, 2, 9, 16), (65535, 255, 255, 16384)]
)
def test_figures_that_are_no_geometry(figures: tuple[int, int, int, int]) -> None:
    with pytest.raises(UsageError) as problem:
        Geometry(cylinders=figures[0], heads=figures[1], sectors=figures[2], sector_bytes=figures[3])
    assert problem.value.code == "usage"


def test_a_large_image_takes_no_time_per_byte() -> None:
    """64 MiB in sectors of 512 bytes; a loop over bytes would take many times as long."""
    geometry = Geometry(cylinders=1024, heads=2, sectors=64, sector_bytes=512)
    data = bytes(geometry.bytes)
    began = time.process_time()
    assert len(order_sectors(data, geometry, interleave_to=3, skew_to=1)) == len(data)
    assert len(order_sides(data, geometry, "alternating", "side-1-reversed")) == len(data)
    assert time.process_time() - began < 4
