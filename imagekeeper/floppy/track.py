"""Sectors to the cells of a track, and the cells of any track back to sectors.

Decoding looks for marks at every cell, and takes its alignment anew from each: what happens in the gaps, where drives
switch their write current, costs no sector. What it finds is never corrected, only reported with the state of its CRCs.
"""

from __future__ import annotations

from bisect import bisect, bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from imagekeeper.errors import UsageError
from imagekeeper.floppy import cells as cell
from imagekeeper.floppy.cells import Bits, Cells
from imagekeeper.floppy.crc import crc16, field_crc, preset
from imagekeeper.floppy.layout import TrackLayout
from imagekeeper.floppy.recording import CRC_BYTES, DATA_MARK, DATA_MARKS, DELETED_MARK, ID_BYTES, ID_MARK, recording
from imagekeeper.sentences.say import Phrase

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
        raise _misfit(Phrase("usage/track-too-short", over=-layout.spare))
    if len(sectors) != layout.sectors:
        raise _misfit(Phrase("usage/track-sectors", sectors=len(sectors), wanted=layout.sectors))
    for sector in sectors:
        _check(sector, layout)
    track = bytearray(layout.bytes_per_track)
    marks: list[int] = []
    leads = max(len(recording(layout.encoding).lead), 1)
    fill = bytes([recording(layout.encoding).fill])
    for one in layout.fields:
        of = sectors[one.sector - 1] if one.sector else None
        if of is not None and of.data is None and one.name.startswith("data"):
            track[one.start : one.start + one.length] = fill * one.length
            continue
        content = _content(one.name, of, layout.encoding)
        if content is None:
            assert one.fill is not None
            unit = bytes.fromhex(one.fill)
            content = unit * (one.length // len(unit))
        if one.name.endswith("mark"):
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
    if not name.startswith("data"):
        return None
    assert sector.data is not None
    assert sector.mark is not None
    if name == "data mark":
        return recording(encoding).lead + bytes([sector.mark])
    if name == "data":
        return sector.data
    return _crc(bytes([sector.mark]) + sector.data, encoding, ok=bool(sector.data_crc_ok))


def _crc(covered: bytes, encoding: str, *, ok: bool) -> bytes:
    return (field_crc(covered, encoding) ^ (0 if ok else 0xFFFF)).to_bytes(CRC_BYTES, "big")


def _check(sector: Sector, layout: TrackLayout) -> None:
    parts = (sector.cylinder, sector.head, sector.record, sector.size_code)
    if any(part is None or not 0 <= part <= 255 for part in parts):
        raise _misfit(Phrase("usage/track-id", id=parts))
    if sector.data is None:
        return
    if len(sector.data) != layout.sector_bytes:
        held = len(sector.data)
        raise _misfit(Phrase("usage/track-data", sector=sector.record, size=held, wanted=layout.sector_bytes))
    if sector.mark not in (DATA_MARKS if layout.encoding == "fm" else DATA_MARKS[:2]):
        raise _misfit(Phrase("usage/track-mark", sector=sector.record, recording=layout.encoding))


def _misfit(why: Phrase) -> UsageError:
    return UsageError("usage/track", trouble=why)


@dataclass(frozen=True)
class _Mark:
    """A mark that was found: where it begins, where its byte lies, which it is, and whether it cannot be chance."""

    position: int
    start: int
    byte: int
    attested: bool

    def end(self, length: int) -> int:
        """The first cell behind its field, which holds so many bytes and their CRC."""
        return self.start + 16 * (1 + length + CRC_BYTES)


def decode_track(cells: Cells, encoding: str, *, circular: bool = False) -> tuple[Sector, ...]:
    """Find the sectors in any cells.

    An ID whose CRC fails is kept when its mark is certain, since noise gives marks by chance: in MFM two sync words in
    a row, in FM a byte of sync before it. Its data is then taken at the size at which its CRC holds, if there is one.
    Data behind no ID is given without one.

    Args:
        cells: The cells; they need not begin at the index, nor at the edge of a byte.
        encoding: fm, mfm or perpendicular.
        circular: The cells are exactly one revolution, so that a sector may run over their end.

    Returns:
        In the order of their first marks, from the first cell on.

    Raises:
        UsageError: `unknown-name` for the encoding; nothing for any cells.
    """
    bits = cells.bits()
    if not circular:
        return _numbered(_found(bits, encoding))
    # of three revolutions the second: there nothing is cut, and what came before it is known
    return _numbered(_of_the_second(_found(np.concatenate((bits, bits, bits)), encoding), len(bits)))


def _found(bits: Bits, encoding: str) -> list[Sector]:
    fm = recording(encoding).encoding == "fm"
    return _Reader(bits, encoding, _fm_marks(bits) if fm else _mfm_marks(bits)).sectors()


def _of_the_second(found: list[Sector], count: int) -> list[Sector]:
    """Give the sectors that begin in the second of some revolutions, with their places counted from its first cell."""
    kept = []
    for one in found:
        of_id, of_data = one.id_position, one.data_position
        first = of_data if of_id is None else of_id
        if first is not None and first // count == 1:
            placed = replace(one, id_position=None if of_id is None else of_id % count)
            kept.append(replace(placed, data_position=None if of_data is None else of_data % count))
    return kept


def _fm_marks(bits: Bits) -> list[_Mark]:
    words = cell.words(bits)
    by_word = {cell.word(byte, "fm"): byte for byte in (ID_MARK, *DATA_MARKS)}
    places = np.flatnonzero(np.isin(words, list(by_word))).tolist()
    return [_Mark(p, p, by_word[int(words[p])], p >= 16 and int(words[p - 16]) == 0xAAAA) for p in places]


def _mfm_marks(bits: Bits) -> list[_Mark]:
    places = np.flatnonzero(cell.words(bits) == cell.word(0xA1, "mfm")).tolist()
    known = set(places)
    by_byte = {bytes([byte]): byte for byte in (ID_MARK, *DATA_MARKS)}
    marks = []
    for place in places:
        byte = by_byte.get(cell.decode(bits, place + 16, 1))
        if byte is not None:
            first = next((one for one in (place, place - 16) if one - 16 not in known), place - 32)
            marks.append(_Mark(first, place + 16, byte, first < place))
    return marks


class _Reader:
    """Goes through the marks of one track."""

    def __init__(self, bits: Bits, encoding: str, marks: list[_Mark]) -> None:
        self._bits = bits
        self._encoding = encoding
        self._ids = {m.start: cell.decode(bits, m.start, 1 + ID_BYTES + CRC_BYTES) for m in marks if m.byte == ID_MARK}
        self._marks = [m for m in marks if m.byte != ID_MARK or len(self._ids[m.start]) > ID_BYTES]
        self._starts = [m.start for m in self._marks]
        self._sound = [start for start, read in self._ids.items() if self._holds(read)]

    def sectors(self) -> list[Sector]:
        """Find the sectors, in the order of their first marks."""
        found: list[Sector] = []
        sure = doubtful = 0   # the ends of the last data whose CRC held, and of the last field
        for mark in self._marks:
            certain = mark.start in self._sound or (mark.attested and mark.start >= doubtful)
            if mark.start < sure or not certain:
                continue
            sector, doubtful = self._with_id(mark) if mark.byte == ID_MARK else self._without_id(mark)
            if sector.data_crc_ok:
                sure = doubtful
            found.append(sector)
        return found

    def _with_id(self, mark: _Mark) -> tuple[Sector, int]:
        """Read an ID and the data field that is its: that whose CRC holds, or else the likeliest."""
        _, cylinder, head, record, code = self._ids[mark.start][: 1 + ID_BYTES]
        sector = Sector(
            cylinder=cylinder, head=head, record=record, size_code=code, data=None, mark=None,
            id_crc_ok=mark.start in self._sound, data_crc_ok=None, id_position=mark.position,
        )  # fmt: skip
        end = mark.end(ID_BYTES)
        behind, beyond = bisect_left(self._starts, end), bisect(self._starts, min(end + 16 * REACH, self._wall(mark)))
        fields = [(one, *self._data(one, sector)) for one in self._marks[behind:beyond] if one.byte != ID_MARK]
        if not fields:
            return sector, end
        best, data, ok = max(fields, key=lambda field: (field[2], field[0].attested))   # the first of equals
        told = replace(sector, data=data, mark=best.byte, data_crc_ok=ok, data_position=best.position)
        return told, best.end(len(data))

    def _without_id(self, mark: _Mark) -> tuple[Sector, int]:
        """Read data behind no ID: where its CRC holds at no size, nobody knows how much it is."""
        sector = Sector(
            cylinder=None, head=None, record=None, size_code=None, data=None, mark=mark.byte,
            id_crc_ok=False, data_crc_ok=False, data_position=mark.position,
        )  # fmt: skip
        data, ok = self._data(mark, sector)
        return (replace(sector, data=data, data_crc_ok=True), mark.end(len(data))) if ok else (sector, mark.start)

    def _wall(self, mark: _Mark) -> int:
        """The next ID whose CRC holds, or the end of the cells: data whose CRC fails ends there."""
        return [*self._sound, len(self._bits)][bisect(self._sound, mark.start)]

    def _holds(self, read: bytes) -> bool:
        """Whether an ID, from the byte of its mark on, is followed by its CRC."""
        covered, crc = read[: 1 + ID_BYTES], read[1 + ID_BYTES :]
        return field_crc(covered, self._encoding).to_bytes(CRC_BYTES, "big") == crc

    def _data(self, mark: _Mark, sector: Sector) -> tuple[bytes, bool]:
        """Read a data field at the size of its ID; where that is in doubt, at the size at which its CRC holds."""
        code = sector.size_code or 0
        sizes = [128 << code] if sector.id_crc_ok and code < 8 else [128 << one for one in range(8)]
        read = cell.decode(self._bits, mark.start + 16, sizes[-1] + CRC_BYTES)
        so_far, done = crc16(bytes([mark.byte]), preset(self._encoding)), 0
        for size in sizes:
            so_far, done = crc16(read[done:size], so_far), size
            if so_far.to_bytes(CRC_BYTES, "big") == read[size : size + CRC_BYTES]:
                return read[:size], True
        size = 128 << (code & 7)   # the low bits, as common controllers take it: common practice, no source
        return cell.decode(self._bits[: self._wall(mark)], mark.start + 16, size), False


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
