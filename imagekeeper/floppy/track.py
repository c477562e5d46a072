"""Sectors to the cells of a track, and the cells of any track back to sectors.

Decoding looks for marks at every cell, and takes its alignment anew from each: what happens in the gaps, where drives
switch their write current, costs no sector. What it finds is never corrected, only reported with the state of its CRCs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from imagekeeper.errors import UsageError
from imagekeeper.floppy import cells as cell
from imagekeeper.floppy.cells import Bits, Cells
from imagekeeper.floppy.crc import crc16, field_crc, preset
from imagekeeper.floppy.layout import TrackLayout
from imagekeeper.floppy.recording import CRC_BYTES, DATA_MARK, DATA_MARKS, DELETED_MARK, ID_BYTES, ID_MARK, recording

#: A data mark belongs to the ID before it when it comes within this much after the CRC. The widest gap 2 with sync and
#: mark is 57; the shortest sector, which must not be jumped over, 128. [byte]
REACH = 96


@dataclass(frozen=True, kw_only=True)
class Sector:
    """One sector, as it is to be written or as it was found.

    Two are equal when they say the same, wherever on the track they lie.

    Attributes:
        cylinder: As its ID says; None when there is data whose ID was not found.
        head: The same.
        record: Its number, the same.
        size_code: The same; the data is 128 times 2 to the power of this.
        data: What the data field holds; None when there is no data field. Shorter than stated when the cells end, or
            another sector begins, before it does.
        mark: The byte that begins the data field: FB, or F8 for deleted data; None without a data field.
        id_crc_ok: Whether the CRC of the ID holds.
        data_crc_ok: Whether that of the data holds; None without a data field.
        duplicate: Whether an earlier sector of the track has the same cylinder, head and record; only IDs whose CRC
            holds count.
        id_position: The first cell of the ID mark. [cell]
        data_position: The first cell of the data mark. [cell]
    """

    cylinder: int | None
    head: int | None
    record: int | None
    size_code: int | None
    data: bytes | None
    mark: int | None = DATA_MARK
    id_crc_ok: bool = True
    data_crc_ok: bool | None = True
    duplicate: bool = False
    id_position: int | None = field(default=None, compare=False)
    data_position: int | None = field(default=None, compare=False)

    @property
    def deleted(self) -> bool:
        """Whether the data is marked as deleted."""
        return self.mark == DELETED_MARK

    @property
    def ok(self) -> bool:
        """Whether ID and data are there and both CRCs hold."""
        return self.id_crc_ok and self.data_crc_ok is True


def encode_track(sectors: Sequence[Sector], layout: TrackLayout) -> Cells:
    """Write sectors as the cells of one revolution.

    A sector without data gets its ID only. One whose CRC is said not to hold gets a CRC with every bit inverted.

    Args:
        sectors: In the order in which they pass the head.
        layout: Their places.

    Raises:
        UsageError: `usage` when the layout does not fit its track, or a sector does not fit the layout.

    Example:
        >>> from imagekeeper.floppy.layout import lay_out
        >>> nine = [Sector(cylinder=0, head=0, record=r, size_code=2, data=bytes([r]) * 512) for r in range(1, 10)]
        >>> cells = encode_track(nine, lay_out("mfm", sectors=9))
        >>> cells.count, decode_track(cells, "mfm") == tuple(nine)
        (100000, True)
    """
    if not layout.fits_nominal:
        raise _misfit(f"its layout needs {-layout.spare} bytes more than the track has")
    if len(sectors) != layout.sectors:
        raise _misfit(f"there are {len(sectors)} sectors for a layout of {layout.sectors}")
    for sector in sectors:
        _check(sector, layout)
    track = bytearray(layout.bytes_per_track)
    marks: list[int] = []
    leads = max(len(recording(layout.encoding).lead), 1)
    fill = bytes([recording(layout.encoding).fill])
    for one in layout.fields:
        of = sectors[one.sector - 1] if one.sector else None
        content = _content(one.name, of, layout.encoding)
        if content is None:
            assert one.fill is not None
            unit = bytes.fromhex(one.fill)
            content = unit * (one.length // len(unit))
        if of is not None and of.data is None and one.name.startswith("data"):
            content = fill * one.length
        elif one.name.endswith("mark"):
            marks += range(one.start, one.start + leads)
        track[one.start : one.start + one.length] = content
    return Cells.of(cell.encode(bytes(track), layout.encoding, marks))


def _content(name: str, sector: Sector | None, encoding: str) -> bytes | None:
    """Give what a field holds where the layout does not say it."""
    if sector is None:
        return None
    address = bytes(part or 0 for part in (sector.cylinder, sector.head, sector.record, sector.size_code))
    if name == "id":
        return address
    if name == "id crc":
        return _crc(bytes([ID_MARK]) + address, encoding, ok=sector.id_crc_ok)
    if sector.data is None or sector.mark is None:
        return b"" if name in ("data", "data crc") else None
    if name == "data mark":
        return recording(encoding).lead + bytes([sector.mark])
    if name == "data":
        return sector.data
    if name == "data crc":
        return _crc(bytes([sector.mark]) + sector.data, encoding, ok=bool(sector.data_crc_ok))
    return None


def _crc(covered: bytes, encoding: str, *, ok: bool) -> bytes:
    return (field_crc(covered, encoding) ^ (0 if ok else 0xFFFF)).to_bytes(CRC_BYTES, "big")


def _check(sector: Sector, layout: TrackLayout) -> None:
    parts = (sector.cylinder, sector.head, sector.record, sector.size_code)
    if any(part is None or not 0 <= part <= 255 for part in parts):
        raise _misfit(f"the ID {parts} is not four bytes")
    if sector.data is None:
        return
    if len(sector.data) != layout.sector_bytes:
        raise _misfit(f"sector {sector.record} holds {len(sector.data)} bytes, the layout {layout.sector_bytes}")
    if sector.mark not in (DATA_MARKS if layout.encoding == "fm" else DATA_MARKS[:2]):
        raise _misfit(f"sector {sector.record} begins with a mark that {layout.encoding} does not have")


def _misfit(why: str) -> UsageError:
    return UsageError("usage", "the track cannot be written", why=why, hint="lay the track out for these sectors")


@dataclass(frozen=True)
class _Mark:
    """A mark that was found: where it begins, where its byte lies, which it is, and whether it cannot be chance."""

    position: int
    start: int
    byte: int
    attested: bool


def decode_track(cells: Cells, encoding: str, *, circular: bool = False) -> tuple[Sector, ...]:
    """Find the sectors in any cells.

    An ID whose CRC fails is kept when its mark is certain, since noise gives marks by chance: in MFM two sync words in
    a row, in FM a byte of sync before it. Its data is then taken at the size at which its CRC holds, if there is one.
    Data behind no ID is given without one.

    Args:
        cells: The cells; they need not begin at the index, nor at the edge of a byte.
        encoding: fm, mfm or perpendicular.
        circular: The cells are exactly one revolution, so that a sector may run over their end.

    Raises:
        UsageError: `unknown-name` for the encoding; nothing for any cells.
    """
    fm = recording(encoding).encoding == "fm"
    bits = cells.bits()
    count = len(bits)
    if not circular:
        marks = _fm_marks(bits) if fm else _mfm_marks(bits)
        return _numbered(_Reader(bits, encoding, marks).sectors(0, count))
    bits = np.concatenate((bits, bits))
    marks = _fm_marks(bits) if fm else _mfm_marks(bits)
    return _numbered(_once(_Reader(bits, encoding, marks).sectors(_SEAM, _SEAM + count), count))


#: How far into the first of two copies of a revolution the search begins, so that a mark on the seam is seen whole.
_SEAM = 64


def _once(found: list[Sector], count: int) -> list[Sector]:
    """Give places within one revolution; data that belongs to an ID before the seam is not given a second time."""
    placed = [
        replace(
            s, id_position=None if s.id_position is None else s.id_position % count,
            data_position=None if s.data_position is None else s.data_position % count,
        )
        for s in found
    ]  # fmt: skip
    owned = {s.data_position for s in placed if s.cylinder is not None}
    return [s for s in placed if s.cylinder is not None or s.data_position not in owned]


def _fm_marks(bits: Bits) -> list[_Mark]:
    words = cell.words(bits)
    by_word = {cell.word(byte, "fm"): byte for byte in (ID_MARK, *DATA_MARKS)}
    places = np.flatnonzero(np.isin(words, list(by_word))).tolist()
    return [_Mark(p, p, by_word[int(words[p])], p >= 16 and int(words[p - 16]) == 0xAAAA) for p in places]


def _mfm_marks(bits: Bits) -> list[_Mark]:
    places = np.flatnonzero(cell.words(bits) == cell.word(0xA1, "mfm")).tolist()
    known = set(places)
    marks = []
    for place in places:
        if place + 16 in known:   # only the last of a row is followed by the byte
            continue
        byte = cell.decode(bits, place + 16, 1)
        if byte and byte[0] in (ID_MARK, *DATA_MARKS):
            first = place
            while first - 16 in known and place - first < 32:
                first -= 16
            marks.append(_Mark(first, place + 16, byte[0], first < place))
    return marks


class _Reader:
    """Goes through the marks of one track."""

    def __init__(self, bits: Bits, encoding: str, marks: list[_Mark]) -> None:
        self._bits = bits
        self._encoding = encoding
        self._marks = marks
        self._ids = {m.start: self._id(m) for m in marks if m.byte == ID_MARK}
        good = [start for start, (_, ok) in self._ids.items() if ok]
        self._walls = np.array(sorted(good), dtype=np.int64)   # data whose CRC fails ends at a sure ID

    def sectors(self, first: int, end: int) -> list[Sector]:
        """Find the sectors whose first mark lies between two cells."""
        found: list[Sector] = []
        taken: set[int] = set()   # data marks that belong to an ID
        sure, doubtful = -1, -1   # the ends of the last data whose CRC held, and of the last that failed
        for number, mark in enumerate(self._marks):
            if mark.start >= end:
                break
            if mark.start < max(first, sure) or mark.start in taken:
                continue
            if mark.byte == ID_MARK:
                address, ok = self._ids[mark.start]
                if len(address) < ID_BYTES or not (ok or (mark.attested and mark.start >= doubtful)):
                    continue
                cylinder, head, record, code = address
                sector = Sector(
                    cylinder=cylinder, head=head, record=record, size_code=code, data=None, mark=None, id_crc_ok=ok,
                    data_crc_ok=None, id_position=mark.position,
                )  # fmt: skip
                sector, after = self._with_data(sector, number, taken)
            elif mark.attested and mark.start >= doubtful:
                data, ok = self._data(mark, None)
                sector = Sector(
                    cylinder=None, head=None, record=None, size_code=None, data=data if ok else None, mark=mark.byte,
                    id_crc_ok=False, data_crc_ok=ok, data_position=mark.position,
                )  # fmt: skip
                after = mark.start + 16 * (1 + len(data) + CRC_BYTES) if ok else mark.start
            else:
                continue
            if sector.data_crc_ok:
                sure = max(sure, after)
            doubtful = max(doubtful, after)
            found.append(sector)
        return found

    def _with_data(self, sector: Sector, number: int, taken: set[int]) -> tuple[Sector, int]:
        """Find the data field of an ID: that whose CRC holds, or else the likeliest."""
        start = self._marks[number].start
        end = start + 16 * (1 + ID_BYTES + CRC_BYTES)
        best: tuple[bool, bool, _Mark, bytes] | None = None
        for mark in self._marks[number + 1 :]:
            if mark.start > end + 16 * REACH or (mark.byte == ID_MARK and self._ids[mark.start][1]):
                break
            if mark.byte == ID_MARK or mark.start < end:
                continue
            data, ok = self._data(mark, sector)
            if best is None or (ok, mark.attested) > best[:2]:
                best = (ok, mark.attested, mark, data)
            if ok:
                break
        if best is None:
            return sector, end
        ok, _, mark, data = best
        taken.add(mark.start)
        after = mark.start + 16 * (1 + len(data) + CRC_BYTES)
        return replace(sector, data=data, mark=mark.byte, data_crc_ok=ok, data_position=mark.position), after

    def _id(self, mark: _Mark) -> tuple[bytes, bool]:
        read = cell.decode(self._bits, mark.start, 1 + ID_BYTES + CRC_BYTES)
        ok = len(read) == 1 + ID_BYTES + CRC_BYTES and field_crc(read, self._encoding) == 0
        return read[1 : 1 + ID_BYTES], ok

    def _data(self, mark: _Mark, sector: Sector | None) -> tuple[bytes, bool]:
        """Read a data field at the size of its ID; where that is in doubt, at the size at which its CRC holds."""
        stated = None if sector is None else sector.size_code
        if stated is not None and sector is not None and sector.id_crc_ok and stated < 8:
            sizes = [128 << stated]
        else:
            sizes = [128 << code for code in range(8)]
        read = cell.decode(self._bits, mark.start + 16, sizes[-1] + CRC_BYTES)
        so_far, done = crc16(bytes([mark.byte]), preset(self._encoding)), 0
        for size in sizes:
            so_far, done = crc16(read[done:size], so_far), size
            if len(read) >= size + CRC_BYTES and so_far == int.from_bytes(read[size : size + CRC_BYTES], "big"):
                return read[:size], True
        size = 128 << ((stated or 0) & 7)   # the low bits, as common controllers take it: common practice, no source
        wall = int(np.searchsorted(self._walls, mark.start))
        if wall < len(self._walls):
            size = min(size, (int(self._walls[wall]) - mark.start) // 16 - 1)
        return read[:size], False


def _numbered(found: list[Sector]) -> tuple[Sector, ...]:
    """Say which sectors have the numbers of an earlier one; a damaged ID must not cast doubt on a sound one."""
    seen: set[tuple[int | None, ...]] = set()
    numbered = []
    for sector in found:
        key = (sector.cylinder, sector.head, sector.record)
        numbered.append(replace(sector, duplicate=True) if sector.id_crc_ok and key in seen else sector)
        if sector.id_crc_ok:
            seen.add(key)
    return tuple(numbered)
