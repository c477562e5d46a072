"""Which value counts where a file gives an address several is the user's to say."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import containers
from imagekeeper.containers import intel_hex, s_record
from imagekeeper.containers.model import Image
from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import InputError


def records(pieces: list[tuple[int, bytes]], kind: str) -> bytes:
    """Write pieces in their order, as one file."""
    write = intel_hex.write if kind == "intel-hex" else s_record.write
    lines = [line for at, data in pieces for line in write(Image.from_bytes(data, at)).splitlines(keepends=True)]
    ends = (b":00000001", b"S9", b"S0")
    body = b"".join(line for line in lines if not line.startswith(ends))
    return body + (b":00000001FF\n" if kind == "intel-hex" else b"S9030000FC\n")


PIECES = st.lists(st.tuples(st.integers(0, 200), st.binary(min_size=1, max_size=60)), min_size=1, max_size=6)


@given(PIECES, st.sampled_from(["intel-hex", "s-record"]))
def test_first_and_last_are_what_laying_bytes_over_each_other_gives(
    pieces: list[tuple[int, bytes]], kind: str
) -> None:
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    again = 0
    for start, data in pieces:
        for at, value in enumerate(data, start):
            again += at in last
            first.setdefault(at, value)
            last[at] = value
    text = records(pieces, kind)
    for choice, wanted in (("first", first), ("last", last)):
        image = containers.read(text, kind=kind, repeated=choice)  # type: ignore[arg-type]
        found = {at: value for start, piece in image.pieces() for at, value in enumerate(piece, start)}
        assert (found, image.doubts) == (wanted, ())
        assert (image.repeats is not None) == (again > 0)
        if image.repeats is not None:
            assert (image.repeats.choice, image.repeats.again) == (choice, again)
            assert [one.code for one in remarks(image)] == ["addresses-repeated"]
    if again:
        with pytest.raises(InputError) as refused:   # the rule without a choice
            containers.read(text, kind=kind)
        assert refused.value.code in ("conflict", "overlap")
        kept = containers.read(text, kind=kind, keep_doubtful=True)
        assert kept.repeats is None
        assert {doubt.code for doubt in kept.doubts} <= {"conflict", "overlap"} != set()
        assert {at: value for start, piece in kept.pieces() for at, value in enumerate(piece, start)} == first


def test_how_many_values_differed_is_counted() -> None:
    text = records([(0, b"TIDE"), (0, b"TIME"), (16, b"X")], "intel-hex")
    image = containers.read(text, repeated="last")
    assert image.repeats is not None
    assert (image.tobytes(), image.repeats.again, image.repeats.differing, image.repeats.first) == (b"TIMEX", 4, 1, 0)
    (said,) = remarks(image)
    assert said.severity == "warning"
    assert "4 bytes came for addresses that had one already" in said.why
    assert "1 of them" in said.why
    same = containers.read(records([(0, b"TIDE"), (0, b"TIDE")], "intel-hex"), repeated="first")
    assert [one.severity for one in remarks(same)] == ["note"]


def test_lines_of_a_listing_that_come_again() -> None:
    text = b"0100: 21 00 40 C9\n0104: 3E 01 D3 00\n0104: 3E 02 D3 00\n0108: 00 00 00 01\n010C: 01 02 03 04\n"
    values = {}
    for choice in ("first", "last"):
        image = containers.read(text, kind="hex-text", keep_doubtful=True, repeated=choice)
        values[choice] = image.tobytes()[5]
        assert image.repeats is not None
    assert values == {"first": 1, "last": 2}
