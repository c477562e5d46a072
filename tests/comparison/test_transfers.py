"""What a line that takes bytes for text does to them.

CR and LF: ECMA-48, 5th edition, 1991, 8.3; that DC1 and DC3 are kept as XON and XOFF is common practice, no source;
parity: ITU-T V.4, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison import transfers
from imagekeeper.comparison.pair import Bytes
from tests.comparison.content import NAMES, PROGRAM, RANDOM, causes, flipped, pair, same_in_any_order

CONTENT = pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])

#: Each way, by the definition.
WAYS: dict[str, tuple[str, Callable[[bytes], bytes], bytes]] = {
    "cr-added": ("before", lambda data: data.replace(b"\n", b"\r\n"), b"\n"),
    "lf-added": ("after", lambda data: data.replace(b"\r", b"\r\n"), b"\r"),
    "cr-taken": ("lacks", lambda data: data.replace(b"\r", b""), b"\r"),
    "lf-taken": ("lacks", lambda data: data.replace(b"\n", b""), b"\n"),
}


def array(data: bytes) -> Bytes:
    return np.frombuffer(data, np.uint8)


@CONTENT
@pytest.mark.parametrize("way", WAYS)
def test_line_ends_that_were_changed_are_counted(good: Bytes, way: str) -> None:
    word, change, at = WAYS[way]
    sent = array(change(good.tobytes()))
    for reads, name in (((good, sent), "r2.bin"), ((sent, good), "r1.bin")):
        found = causes(*reads)[0]
        assert found.code == "line-endings-changed"
        assert word in found.why
        assert found.detail["read"] == name
        count = good.tobytes().count(at)
        assert (found.detail["changes"], found.detail["of"], found.detail["still_wrong"]) == (count, count, 0)
        assert count >= 6
        assert found.confidence > 0.9


@CONTENT
def test_a_line_broken_into_rows_has_cr_lf_put_in(good: Bytes) -> None:
    rows = [good[at : at + 128].tobytes() for at in range(0, len(good), 128)]
    sent = array(b"\r\n".join(rows))
    found = causes(good, sent)[0]
    assert (found.code, found.detail["changes"], found.detail["read"]) == (
        "line-endings-changed", len(rows) - 1, "r2.bin",
    )  # fmt: skip
    assert "put in" in found.why


@CONTENT
@pytest.mark.parametrize("way", WAYS)
def test_line_ends_are_seen_in_reads_that_were_cut_or_filled_to_size(good: Bytes, way: str) -> None:
    """As a file of fixed size holds them."""
    sent = WAYS[way][1](good.tobytes())
    same = array((sent + b"\xff" * len(good))[: len(good)])
    found = same_in_any_order(good, same)
    assert (found.code, found.detail["still_wrong"]) == ("line-endings-changed", 0)


@CONTENT
def test_a_line_that_keeps_dc1_and_dc3_lacks_them(good: Bytes) -> None:
    sent = array(re.sub(rb"[\x11\x13]", b"", good.tobytes()))
    for reads, name in (((good, sent), "r2.bin"), ((sent, good), "r1.bin")):
        found = causes(*reads)[0]
        count = int(np.isin(good, (0x11, 0x13)).sum())
        assert (found.code, found.detail["changes"], found.detail["read"]) == ("flow-control-lost", count, name)
        assert found.detail["of"] == count > 10


def test_two_changes_are_no_habit() -> None:
    data = bytes(range(0x20, 0x60)) + b"\n" + bytes(range(0x60, 0x80)) + b"\n" + bytes(range(0x30, 0x50))
    assert transfers.changed_on_the_way(array(data), array(data.replace(b"\n", b"\r\n")), NAMES) is None
    data += b"\nmore"
    told = transfers.changed_on_the_way(array(data), array(data.replace(b"\n", b"\r\n")), NAMES)
    assert told is not None
    assert told[0].about == "line-endings-changed/cr-added"


@given(data=st.binary(min_size=1, max_size=400), way=st.sampled_from(sorted(WAYS)))
def test_any_bytes_that_went_over_such_a_line_are_followed_to_the_end(data: bytes, way: str) -> None:
    """Whatever CR and LF stood there before, wherever there were three changes."""
    _, change, at = WAYS[way]
    sent = change(data)
    told = transfers.changed_on_the_way(array(data), array(sent), NAMES) if sent else None
    if data.count(at) >= 3 and sent:
        assert told is not None
        assert told[0].detail["still_wrong"] == 0


@given(st.binary(min_size=1, max_size=300))
def test_equal_bytes_did_not_change_on_the_way(data: bytes) -> None:
    assert transfers.changed_on_the_way(array(data), array(data), NAMES) is None


# ---- parity


def with_parity(good: Bytes, odd: bool) -> Bytes:
    """One byte at a time: bit 7 makes the number of ones even, or odd."""
    return np.array([(b & 127) | ((b & 127).bit_count() + odd) % 2 << 7 for b in good.tolist()], np.uint8)


@CONTENT
@pytest.mark.parametrize("parity", ["even", "odd"])
def test_bit_7_may_be_the_parity_of_the_others(good: Bytes, parity: str) -> None:
    bad = with_parity(good, parity == "odd")
    found = same_in_any_order(good, bad)
    assert (found.code, found.detail["parity"]) == ("parity-in-bit-7", parity)
    assert found.detail["changed"] == int(np.count_nonzero(good != bad))


def test_parity_with_noise_leaves_the_noise() -> None:
    bad = flipped(with_parity(RANDOM, False), 3, 9)
    held = pair(RANDOM, bad)
    (even,) = transfers.parity(held)
    assert even.left(held) == 9


def test_a_stuck_bit_7_is_no_parity() -> None:
    assert list(transfers.parity(pair(RANDOM, RANDOM | np.uint8(0x80)))) == []
