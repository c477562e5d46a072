"""Cells, marks and CRCs against what is published of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.floppy import cells
from imagekeeper.floppy.crc import crc16, field_crc, preset

ENCODINGS = ("fm", "mfm", "perpendicular")

#: Bytes and clocks: Western Digital, FD 179X-02 data sheet, May 1980, control bytes of "Write track". The words follow
#: from them bit by bit; 4489 is printed in many descriptions of double density.
WORDS = [
    ("mfm", 0xA1, 0x4489), ("mfm", 0xC2, 0x5224), ("perpendicular", 0xA1, 0x4489),
    ("fm", 0xFE, 0xF57E), ("fm", 0xFB, 0xF56F), ("fm", 0xF8, 0xF56A), ("fm", 0xF9, 0xF56B), ("fm", 0xFA, 0xF56E),
    ("fm", 0xFC, 0xF77A),
]  # fmt: skip


@pytest.mark.parametrize(("encoding", "byte", "word"), WORDS)
def test_marks_miss_the_published_clocks(encoding: str, byte: int, word: int) -> None:
    assert cells.word(byte, encoding) == word


#: Without missing clocks, by the rules of FM and MFM: computed by hand from the definition.
@pytest.mark.parametrize(
    ("encoding", "byte", "word"),
    [("mfm", 0xA1, 0x44A9), ("mfm", 0xC2, 0x52A4), ("mfm", 0x4E, 0x9254), ("mfm", 0x00, 0xAAAA), ("fm", 0x00, 0xAAAA),
     ("fm", 0xFF, 0xFFFF)],
)  # fmt: skip
def test_plain_bytes(encoding: str, byte: int, word: int) -> None:
    assert cells.Cells.of(cells.encode(bytes([byte]), encoding)).packed == word.to_bytes(2, "big")


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_no_data_looks_like_a_mark_at_any_alignment(encoding: str) -> None:
    """That is what missing clocks are for. Every sequence of sixteen data bits is tried, at both alignments."""
    marks = [word for name, byte, word in WORDS if name == encoding and byte != 0xC2]
    every = b"".join(bytes([0x00, a, b, 0x5A]) for a in range(256) for b in range(256))
    words = cells.words(cells.encode(every, encoding))
    assert not np.isin(words, marks).any()


def test_only_marks_miss_clocks() -> None:
    with pytest.raises(ValueError, match="4E is no mark of mfm"):
        cells.encode(b"\x4e", "mfm", [0])


def test_an_unknown_encoding_is_named() -> None:
    with pytest.raises(UsageError) as problem:
        cells.encode(b"", "gcr")
    assert problem.value.code == "unknown-name"


@given(data=st.binary(max_size=200), encoding=st.sampled_from(ENCODINGS), before=st.integers(0, 40))
def test_bytes_come_back_from_any_alignment(data: bytes, encoding: str, before: int) -> None:
    moved = np.concatenate((np.ones(before, np.uint8), cells.encode(data, encoding)))
    packed = cells.Cells.of(moved)
    assert packed.count == before + 16 * len(data)
    assert cells.decode(packed.bits(), before, len(data)) == data


@given(data=st.binary(max_size=200), encoding=st.sampled_from(["mfm", "perpendicular"]))
def test_mfm_keeps_ones_apart(data: bytes, encoding: str) -> None:
    """Two to four cells from one pulse to the next: the 4, 6 and 8 us at 250 kbit/s of 3.5-inch drive manuals."""
    gaps = np.diff(np.flatnonzero(cells.encode(data, encoding)))
    assert set(gaps.tolist()) <= {2, 3, 4}


def test_the_crc_has_the_catalogues_check_value() -> None:
    """The catalogue of parametrised CRC algorithms, CRC-16/IBM-3740."""
    assert crc16(b"123456789") == 0x29B1


#: Computed by long division from the generator x^16 + x^12 + x^5 + 1 and the preset of all ones; no source prints any.
FIELDS = [
    ("mfm", "FE", 0xB230), ("mfm", "FB", 0xE295), ("mfm", "F8", 0xD2F6), ("fm", "FE", 0xEF21), ("fm", "FB", 0xBF84),
    ("fm", "F8", 0x8FE7), ("mfm", "FE 00 00 01 02", 0xCA6F), ("mfm", "FE 00 00 01 01", 0xFA0C),
    ("mfm", "FE 27 01 09 02", 0x1295), ("mfm", "FE 4F 01 12 02", 0x110D), ("mfm", "FE 4C 01 08 03", 0x7648),
    ("fm", "FE 00 00 01 00", 0xD2C3), ("fm", "FE 4C 00 1A 00", 0x2CE4), ("mfm", "FB" + "E5" * 512, 0xC40B),
    ("mfm", "FB" + "F6" * 512, 0x2BF6), ("mfm", "FB" + "00" * 512, 0xDA6E), ("mfm", "FB" + "4E" * 512, 0x8284),
    ("mfm", "FB" + "E5" * 256, 0x7827), ("mfm", "FB" + "40" * 256, 0x9AF5), ("mfm", "FB" + "E5" * 1024, 0x1B30),
    ("fm", "FB" + "E5" * 128, 0x5D30), ("fm", "FB" + "40" * 128, 0x15D8), ("fm", "FB" + "00" * 128, 0x4829),
    ("fm", "FB" + "E5" * 256, 0xA40C), ("fm", "F8" + "E5" * 128, 0x063D),
]  # fmt: skip


def divided(data: bytes) -> int:
    """The CRC by the definition, a bit at a time."""
    register = 0xFFFF
    for byte in data:
        for bit in range(7, -1, -1):
            top = register >> 15 ^ byte >> bit & 1
            register = (register << 1 & 0xFFFF) ^ (0x1021 if top else 0)
    return register


@pytest.mark.parametrize(("encoding", "field", "crc"), FIELDS, ids=lambda v: str(v)[:20])
def test_fields_have_the_crc_of_long_division(encoding: str, field: str, crc: int) -> None:
    data = bytes.fromhex(field)
    assert field_crc(data, encoding) == crc == divided((b"" if encoding == "fm" else b"\xa1" * 3) + data)
    assert field_crc(data + crc.to_bytes(2, "big"), encoding) == 0


def test_the_register_after_the_sync_bytes() -> None:
    assert [crc16(b"\xa1" * n) for n in (1, 2, 3)] == [0x443B, 0x968B, 0xCDB4]
    assert [preset(name) for name in ENCODINGS] == [0xFFFF, 0xCDB4, 0xCDB4]
