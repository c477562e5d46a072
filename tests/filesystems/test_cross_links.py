"""Which files share bytes: against the slow way of comparing each with each."""

from __future__ import annotations

import time

from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.filesystems.cross_links import cross_linked
from imagekeeper.filesystems.model import Entry, Extent

PLACES = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 6)), max_size=3)


def entries(files: list[list[tuple[int, int]]]) -> list[Entry]:
    return [
        Entry(
            path=f"F{number}", name=f"F{number}", name_hex="", kind="file", size_bytes=0,
            extents=tuple(Extent(*one) for one in places),
        )
        for number, places in enumerate(files)
    ]


def overlap(one: list[tuple[int, int]], two: list[tuple[int, int]]) -> bool:
    return any(
        max(a, b) < min(a + length, b + size) for a, length in one for b, size in two if length and size
    )


@given(st.lists(PLACES, max_size=6))
def test_every_file_that_shares_bytes_is_found_and_no_other(files: list[list[tuple[int, int]]]) -> None:
    found = cross_linked(entries(files))
    for number, mine in enumerate(files):
        others = {f"F{i}" for i, other in enumerate(files) if i != number and overlap(mine, other)}
        assert set(found.get(number, ())) <= others
        assert bool(found.get(number)) == bool(others)


def test_a_disk_whose_files_all_lie_on_each_other_takes_no_longer() -> None:
    begin = time.process_time()
    found = cross_linked(entries([[(0, 1000)]] * 50_000))
    assert len(found) == 50_000
    assert time.process_time() - begin < 20   # each with each would be more than a thousand million
