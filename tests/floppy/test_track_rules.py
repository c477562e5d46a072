"""The rules by which sectors are found in cells, one by one, on tracks that no layout would give.

The tracks are put together from bytes and marks here. Source of marks, fields and CRC: Western Digital, FD 179X-02 data
sheet, May 1980, "Write track" and "Formatting the disk": marks of FM have the clocks C7; in MFM three A1 that miss
a clock, 4489 as cells, go before the byte; the CRC is preset to ones and covers the marks, those A1 among them.
"""

from __future__ import annotations

import binascii
from dataclasses import replace

import numpy as np
import pytest

from imagekeeper.floppy import cells as cell
from imagekeeper.floppy.cells import Cells
from imagekeeper.floppy.layout import lay_out
from imagekeeper.floppy.track import Sector, decode_track, encode_track

KINDS = ("fm", "mfm")
FILL = {"fm": b"\xff", "mfm": b"\x4e"}
DATA = bytes(range(100, 228))

#: Bytes as they are; a number is a byte that misses clocks.
Piece = bytes | int


def track(encoding: str, *pieces: Piece) -> Cells:
    """Put pieces one behind another."""
    whole, marks = bytearray(), []
    for piece in pieces:
        if isinstance(piece, int):
            marks.append(len(whole))
            piece = bytes([piece])
        whole += piece
    return Cells.of(cell.encode(bytes(whole), encoding, marks))


def mark(encoding: str, byte: int, lead: int = 3) -> list[Piece]:
    return [byte] if encoding == "fm" else [*[0xA1] * lead, bytes([byte])]


def crc(encoding: str, covered: bytes) -> bytes:
    """The CRC of a field from the byte of its mark on, by the standard library."""
    lead = b"" if encoding == "fm" else b"\xa1" * 3
    return binascii.crc_hqx(lead + covered, 0xFFFF).to_bytes(2, "big")


def field(encoding: str, byte: int, content: bytes, *, wrong: bytes = b"", lead: int = 3) -> list[Piece]:
    """A mark, what it begins, and its CRC, or another in its place."""
    return [*mark(encoding, byte, lead), content, wrong or crc(encoding, bytes([byte]) + content)]


def ident(encoding: str, record: int, code: int = 0, *, wrong: bytes = b"", lead: int = 3) -> list[Piece]:
    return field(encoding, 0xFE, bytes([7, 1, record, code]), wrong=wrong, lead=lead)


def told(cells: Cells, encoding: str) -> list[tuple[int | None, bool, bytes | None, bool | None]]:
    """Of each sector: record, CRC of the ID, data, CRC of the data."""
    return [(one.record, one.id_crc_ok, one.data, one.data_crc_ok) for one in decode_track(cells, encoding)]


# ---- which marks are believed


@pytest.mark.parametrize("encoding", KINDS)
def test_a_sound_id_at_the_very_first_cell_is_found(encoding: str) -> None:
    [only] = decode_track(track(encoding, *ident(encoding, 5)), encoding)
    assert (only.id_position, only.record, only.id_crc_ok, only.duplicate) == (0, 5, True, False)


@pytest.mark.parametrize("byte", [0xFE, 0xFB])
def test_in_fm_a_mark_whose_crc_fails_is_believed_behind_a_byte_of_sync(byte: int) -> None:
    """The formats of the data sheet have six bytes of 00 before every mark."""
    doubtful = field("fm", byte, bytes([7, 1, 5, 0]), wrong=b"\x12\x34")
    assert len(decode_track(track("fm", b"\x00", *doubtful), "fm")) == 1
    assert not decode_track(track("fm", b"\xff" * 9, *doubtful), "fm")
    assert not decode_track(track("fm", *doubtful, b"\x00" * 9), "fm")


@pytest.mark.parametrize("byte", [0xFE, 0xFB])
@pytest.mark.parametrize("lead", [1, 2, 3, 4, 6])
def test_in_mfm_a_mark_whose_crc_fails_is_believed_behind_two_sync_words(byte: int, lead: int) -> None:
    """The mark begins with the first of them, and has no more than the three of the data sheet."""
    doubtful = field("mfm", byte, bytes([7, 1, 5, 0]), wrong=b"\x12\x34", lead=lead)
    found = decode_track(track("mfm", b"\x4e" * 4, *doubtful), "mfm")
    begins = [16 * (4 + max(lead - 3, 0))] if lead > 1 else []
    assert [one.id_position if byte == 0xFE else one.data_position for one in found] == begins


@pytest.mark.parametrize("lead", [1, 2, 3, 4])
def test_in_mfm_one_sync_word_is_enough_where_the_crc_holds(lead: int) -> None:
    found = decode_track(track("mfm", b"\x4e" * 4, *ident("mfm", 5, lead=lead)), "mfm")
    assert [(one.record, one.id_position) for one in found] == [(5, 16 * (4 + max(lead - 3, 0)))]


@pytest.mark.parametrize("encoding", KINDS)
def test_an_id_without_its_crc_is_told_as_long_as_its_address_is_whole(encoding: str) -> None:
    whole = track(encoding, b"\x00", *ident(encoding, 5))
    assert [one.id_crc_ok for one in decode_track(whole, encoding)] == [True]
    for missing, ids in ((1, [(5, False)]), (16, [(5, False)]), (32, [(5, False)]), (33, []), (48, [])):
        found = decode_track(Cells.of(whole.bits()[:-missing]), encoding)
        assert [(one.record, one.id_crc_ok) for one in found] == ids, missing


# ---- which data belongs to an ID


@pytest.mark.parametrize(
    ("encoding", "distance", "its"),
    [
        ("fm", 0, True), ("fm", 30, True), ("mfm", 43, True), ("mfm", 57, True),
        ("fm", 96, True), ("mfm", 96, True), ("fm", 97, False), ("mfm", 97, False),
    ],
)  # fmt: skip
def test_data_that_lies_too_far_behind_an_id_is_not_its(encoding: str, distance: int, its: bool) -> None:
    """A controller looks for the data mark within 30 bytes in FM and 43 in MFM.

    Source: Western Digital, FD 179X-02 data sheet, May 1980, "Read sector" (from memory). 57 is perpendicular
    recording: gap 2 of 41, 12 of sync, A1 three times and the mark. The limit of 96 is our own choice between that and
    the 128 of the shortest sector.
    """
    ahead = distance - (0 if encoding == "fm" else 3)   # the sync words count
    gap = (FILL[encoding] * ahead)[: -6 or None] + b"\x00" * 6 if ahead > 6 else b""
    cells = track(encoding, *ident(encoding, 5), gap, *field(encoding, 0xFB, DATA), FILL[encoding])
    assert told(cells, encoding) == (
        [(5, True, DATA, True)] if its else [(5, True, None, None), (None, False, DATA, True)]
    )
    if distance == 96:   # one cell more is too far
        at = 16 * 12
        moved = np.insert(cells.bits(), at, 0)
        assert told(Cells.of(moved), encoding) == [(5, True, None, None), (None, False, DATA, True)]


def test_what_looks_like_a_data_mark_within_an_id_begins_no_data() -> None:
    address = bytes([7, 1, 0xFB, 0])
    holds = crc("fm", b"\xfe" + address)
    cells = track("fm", 0xFE, address[:2], 0xFB, address[3:], holds, b"\xff" * 9, 0xFB, DATA, b"\x12\x34")
    [only] = decode_track(cells, "fm")
    assert (only.record, only.data, only.data_crc_ok) == (0xFB, DATA, False)


@pytest.mark.parametrize("encoding", KINDS)
def test_data_behind_the_next_sound_id_is_of_that(encoding: str) -> None:
    """Even when it lies near enough to the one before, whose data is missing."""
    cells = track(encoding, *ident(encoding, 5), b"\0", *ident(encoding, 6), b"\0", *field(encoding, 0xFB, DATA))
    assert told(cells, encoding) == [(5, True, None, None), (6, True, DATA, True)]


@pytest.mark.parametrize("encoding", KINDS)
def test_of_several_data_marks_behind_an_id_that_whose_crc_holds_counts(encoding: str) -> None:
    """Then that which cannot be chance, then the first."""
    begin = [*ident(encoding, 5), FILL[encoding] * 9]
    chance = mark(encoding, 0xF8, lead=1)
    good = field(encoding, 0xFB, DATA)
    bad = field(encoding, 0xFB, DATA, wrong=b"\x12\x34")
    certain: list[Piece] = [b"\x00", *mark(encoding, 0xF8), b"\x55" * 9]

    def one(*pieces: Piece) -> tuple[int | None, bytes, bool | None]:
        [only] = decode_track(track(encoding, *begin, *pieces, FILL[encoding] * 200), encoding)
        assert only.data is not None
        return only.mark, only.data[:2], only.data_crc_ok

    assert one(*certain, b"\x00", *good) == (0xFB, DATA[:2], True)
    assert one(*chance, FILL[encoding], b"\x00", *bad) == (0xFB, DATA[:2], False)
    assert one(*certain, b"\x00", *bad) == (0xF8, b"\x55\x55", False)


@pytest.mark.parametrize("encoding", KINDS)
def test_a_damaged_id_behind_an_id_begins_no_data_of_it(encoding: str) -> None:
    damaged = ident(encoding, 6, wrong=b"\x12\x34")
    bad = field(encoding, 0xFB, DATA, wrong=b"\x12\x34", lead=1)
    cells = track(encoding, *ident(encoding, 5), b"\x00", *damaged, FILL[encoding] * 3, *bad)
    assert told(cells, encoding) == [(5, True, DATA, False)]


# ---- what lies within a field, and directly behind it


@pytest.mark.parametrize("with_id", [True, False])
@pytest.mark.parametrize("place", [1, 60, 121, 126])
def test_an_id_within_data_whose_crc_holds_is_none(place: int, with_id: bool) -> None:
    """Whether it ends within the data or behind it; what is written there as a mark is data as any other."""
    inner = bytes([0xFE, 7, 1])   # its record and code follow, or are the CRC
    held = DATA[:place] + inner + DATA[place + 3 :]
    if place == 126:   # an ID that goes on with the CRC of the data
        held = held[:128]
        checked = crc("fm", b"\xfb" + held)
        address = held[127:] + checked + b"\x00"
        behind = b"\x00" + crc("fm", b"\xfe" + address)
    else:
        address = held[place + 1 : place + 5]
        held = held[: place + 5] + crc("fm", b"\xfe" + address) + held[place + 7 :]
        checked, behind = crc("fm", b"\xfb" + held), b""
    assert len(held) == 128
    data: list[Piece] = [0xFB, held[:place], 0xFE, held[place + 1 :], checked, behind]
    before = ident("fm", 5) if with_id else []
    assert told(track("fm", *before, b"\x00", *data), "fm") == [
        (5 if with_id else None, with_id, held, True),
    ]


@pytest.mark.parametrize("with_id", [True, False])
def test_an_id_directly_behind_data_whose_crc_holds_is_found(with_id: bool) -> None:
    before = ident("fm", 5) if with_id else []
    cells = track("fm", *before, b"\x00", *field("fm", 0xFB, DATA), *ident("fm", 6))
    assert told(cells, "fm") == [(5 if with_id else None, with_id, DATA, True), (6, True, None, None)]


def test_within_data_whose_crc_fails_only_a_sound_id_is_believed() -> None:
    damaged: list[Piece] = [b"\x00", *ident("fm", 6, wrong=b"\x12\x34")]
    sound: list[Piece] = [b"\x00", *ident("fm", 6)]
    start = [*ident("fm", 5), b"\x00", 0xFB, DATA[:40]]
    rest: list[Piece] = [DATA[:80], b"\x12\x34"]
    [only] = decode_track(track("fm", *start, *damaged, *rest), "fm")
    assert (only.record, only.data_crc_ok, len(only.data or b"")) == (5, False, 128)
    assert told(track("fm", *start, *sound, *rest), "fm") == [
        (5, True, DATA[:40] + b"\x00", False), (6, True, None, None),
    ]  # fmt: skip


@pytest.mark.parametrize("byte", [0xFE, 0xFB])
def test_directly_behind_data_whose_crc_fails_a_certain_mark_is_believed(byte: int) -> None:
    """The last byte of its CRC is the sync."""
    bad = field("fm", 0xFB, DATA, wrong=b"\x12\x00")
    cells = track("fm", *ident("fm", 5), b"\x00", *bad, *field("fm", byte, bytes([7, 1, 6, 0]), wrong=b"\x12\x34"))
    assert [(one.record, one.mark) for one in decode_track(cells, "fm")] == [
        (5, 0xFB), (6, None) if byte == 0xFE else (None, 0xFB),
    ]  # fmt: skip


def test_data_whose_crc_fails_ends_where_a_sound_id_overlaps_its_mark() -> None:
    """The mark FB ends in four cells 1, with which FE may begin; then nothing of the data is left."""
    after = track("fm", *ident("fm", 6)).bits()
    cells = np.concatenate((track("fm", *ident("fm", 5), b"\x00", 0xFB).bits()[:-4], after, np.ones(4000, np.uint8)))
    assert told(Cells.of(cells), "fm") == [(5, True, b"", False), (6, True, None, None)]


# ---- how much data there is


@pytest.mark.parametrize("encoding", KINDS)
@pytest.mark.parametrize("code", [0, 1, 2])
def test_data_whose_crc_fails_is_as_long_as_its_id_says(encoding: str, code: int) -> None:
    data = bytes(range(256)) * 4
    bad = field(encoding, 0xFB, data[: 128 << code], wrong=b"\x12\x34")
    cells = track(encoding, *ident(encoding, 5, code), b"\x00", *bad, FILL[encoding] * 600)
    assert told(cells, encoding) == [(5, True, data[: 128 << code], False)]


@pytest.mark.parametrize("code", [0, 7, 8])
def test_data_without_an_id_is_tried_at_the_sizes_of_codes_up_to_7(code: int) -> None:
    """The number of the size stands in three bits of the ID: common practice, no source."""
    data = bytes(128 << code)
    cells = track("fm", b"\x00", *field("fm", 0xFB, data))
    assert told(cells, "fm") == [(None, False, data if code < 8 else None, code < 8)]


@pytest.mark.parametrize("lost", [1, 16, 17, 32])
def test_data_whose_crc_is_cut_by_the_end_of_the_cells_is_flagged(lost: int) -> None:
    whole = track("fm", *ident("fm", 5), b"\x00", *field("fm", 0xFB, DATA)).bits()
    assert told(Cells.of(whole[:-lost]), "fm") == [(5, True, DATA, False)]


# ---- one revolution


@pytest.mark.parametrize("encoding", KINDS)
def test_the_sectors_of_a_revolution_come_in_the_order_of_their_first_marks(encoding: str) -> None:
    """Each once, wherever it is cut: within a mark, an ID, between ID and data, within data."""
    sectors = [one for n in (1, 2, 3) for one in (
        b"\x00", *ident(encoding, n), FILL[encoding] * 4, b"\x00", *field(encoding, 0xFB, DATA), FILL[encoding] * 6
    )]  # fmt: skip
    bits = track(encoding, *sectors).bits()
    for turn in range(0, 16 * 25, 9):
        found = decode_track(Cells.of(np.roll(bits, -turn)), encoding, circular=True)
        positions = [one.id_position for one in found]
        assert positions == sorted((16 * n * len(bits) // 48 + 16 - turn) % len(bits) for n in range(3)), turn
        assert [one.record for one in found] == ([1, 2, 3] if turn <= 16 else [2, 3, 1]), turn
        assert all(one.ok and one.data == DATA and not one.duplicate for one in found), turn


@pytest.mark.parametrize("encoding", KINDS)
def test_data_without_an_id_is_told_once_in_a_revolution(encoding: str) -> None:
    bits = track(encoding, FILL[encoding] * 9, b"\x00", *field(encoding, 0xFB, DATA)).bits()
    for turn in (0, 100, 1000):
        [only] = decode_track(Cells.of(np.roll(bits, turn)), encoding, circular=True)
        assert (only.data, only.id_position, only.data_position) == (DATA, None, (160 + turn) % len(bits))


# ---- what is written


@pytest.mark.parametrize("encoding", KINDS)
def test_of_a_sector_without_data_only_the_id_is_written(encoding: str) -> None:
    layout = lay_out(encoding, sectors=1, sector_bytes=128)
    bare = Sector(cylinder=7, head=1, record=5, size_code=0, data=None)
    for one in (bare, replace(bare, mark=None)):
        cells = encode_track([one], layout)
        assert cells.count == 16 * layout.bytes_per_track
        assert told(cells, encoding) == [(5, True, None, None)]
