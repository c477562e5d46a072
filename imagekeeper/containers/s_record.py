"""Motorola S-record: `S`, type digit, count, address, data, check byte.

=======  =============  ==========================================================================
type     address bytes  meaning
=======  =============  ==========================================================================
0        2              header: a text
1, 2, 3  2, 3, 4        data
4                       reserved
5, 6     2, 3           how many data records came before, in the address field
7, 8, 9  4, 3, 2        end, with the entry; they pair with data of types 3, 2 and 1
=======  =============  ==========================================================================

The count covers every byte behind it. All bytes behind the type, check byte included, sum to FF modulo 256.

The check value does not cover the type digit, and a wrong one would move or lose bytes unnoticed. So types are
held against each other: no header after data, no bytes in a count or end record, no single data record between
two of another type, nor before or behind one of another type with its count where their addresses do not follow each
other, and where types are mixed the end record pairs with the widest.

Source:
    Motorola, M68000 Family Programmer's Reference Manual, appendix C; Motorola, 68EVB912B32UM/D, appendix A.
    S6 is a later addition, from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from imagekeeper.addresses import Span, joined
from imagekeeper.containers.building import LineProblem
from imagekeeper.containers.bulk import PlainForm, read_records
from imagekeeper.containers.lines import (
    Fault,
    check_record_bytes,
    check_writable,
    digit_pairs,
    not_a_record,
    recognise_lines,
    rows,
)
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.containers.records import (
    MAX_RECORD_BYTES,
    LineRecord,
    RecordReader,
    too_short,
    wrong_count,
    wrong_length,
    wrong_sum,
)
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT

NAME = "s-record"
HEADER = 0
DATA = (1, 2, 3)
COUNT = (5, 6)
END = (7, 8, 9)

#: Width of the address field by type. [byte]
ADDRESS_BYTES = {0: 2, 1: 2, 2: 3, 3: 4, 5: 2, 6: 3, 7: 4, 8: 3, 9: 2}

_FORMS = {
    b"S%d" % type_: PlainForm(
        type=type_, address_bytes=ADDRESS_BYTES[type_], has_type_byte=False, uncounted=1, total=0xFF,
        limit=ADDRESS_LIMIT,
    )
    for type_ in DATA
}
_SHAPE = re.compile(rb"[Ss][0-9][0-9A-Fa-f]{4}")


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like S-records."""
    return recognise_lines(sample, NAME, _SHAPE, "records beginning with S0 to S9")


def parse_record(line: bytes) -> LineRecord:
    """Read one record, as far as it can be read.

    Example:
        >>> parse_record(b"S20801000000010203F0").data.hex()
        '00010203'
        >>> parse_record(b"S20801000000010203F1").fault.why
        'the line ends in F1 but its bytes call for F0'
    """
    if line[:1] not in (b"S", b"s") or not line[1:2].isdigit():
        return LineRecord(fault=not_a_record(line, Phrase("record-form/letter-s")))
    type_ = int(line[1:2])
    body, fault = digit_pairs(line[2:], column=2)
    count = body[0] if body else 0
    fault = fault or _fault(body, count, type_)
    width = ADDRESS_BYTES.get(type_)
    if width is None or len(body) < 1 + width:
        return LineRecord(type=type_, fault=fault)
    content = body[1 + width : count]
    is_data = type_ in DATA
    return LineRecord(
        type=type_,
        address=int.from_bytes(body[1 : 1 + width]),
        data=content if is_data else b"",
        payload=b"" if is_data else content,
        fault=fault,
    )


def _fault(body: bytes, count: int, type_: int) -> Fault | None:
    if len(body) < 2:
        return too_short(len(body), 4)
    if len(body) != count + 1:
        return wrong_length(count, len(body) - 1)
    if sum(body) & 0xFF != 0xFF:
        return wrong_sum(body[-1], ~sum(body[:-1]) & 0xFF)
    if type_ not in ADDRESS_BYTES:
        return Fault("record-type/reserved", type=type_)
    if type_ in COUNT + END and count > ADDRESS_BYTES[type_] + 1:
        return Fault("record-type/address-only", type=type_, held=count - 1)
    if count < ADDRESS_BYTES[type_] + 1:
        return Fault("record-type/address-size", type=type_, address_bytes=ADDRESS_BYTES[type_], count=count)
    return None


@dataclass(frozen=True, kw_only=True)
class _Stretch:
    """Consecutive data records of one type: where the first begins and the last ends, and on which line it begins."""

    type: int
    line: int
    count: int
    start: int
    end: int
    first: int   # how many data bytes the first has, and the last
    last: int

    def problem(self, fault: Fault) -> LineProblem:
        return fault.at(self.line, self.start, self.end - self.start)


def _torn(before: _Stretch, after: _Stretch) -> bool:
    """Whether records have the same count where the type changes, although their addresses do not go on."""
    alike = before.last + ADDRESS_BYTES[before.type] == after.first + ADDRESS_BYTES[after.type]
    return alike and before.end != after.start


class _Reader(RecordReader):
    container = NAME
    end_record = "a record S7, S8 or S9"
    data_types = DATA

    def __init__(self, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        super().__init__(keep_doubtful, manner)
        self._first_line: dict[int, int] = {}   # of each data type
        self._places: dict[int, Span] = {}   # from the first to the last address of each data type
        self._stretches: list[_Stretch] = []   # the last three

    def parse(self, line: bytes) -> LineRecord:
        return parse_record(line)

    def take(self, record: LineRecord, line: int) -> None:
        if record.type in END:
            if self.end(record):
                self.check_pairing(record.type)
                self.builder.entry = record.address
        elif record.type == HEADER and self.data_records and not self.ended:
            fault = Fault("record-type/late-header")
            self.builder.problem(fault.at(line))
            self.tear(fault, line)   # a data record whose type digit is wrong looks so
        elif record.type == HEADER and self.builder.title is None:
            self.builder.title = record.payload.decode("ascii", "replace").strip(" \0") or None
        elif record.type in COUNT and not record.fault:
            # A count that outgrew its field keeps the low bytes: common practice, no source.
            expected = self.data_records % (1 << 8 * ADDRESS_BYTES[record.type])
            if record.address != expected:
                self.builder.problem(wrong_count(record.address, expected).at(line))

    def note_data(self, type_: int, line: int, count: int, place: Span) -> None:
        super().note_data(type_, line, count, place)
        size = place.length // count
        self._first_line.setdefault(type_, line)
        known = self._places.get(type_, place)
        start = min(known.start, place.start)
        self._places[type_] = Span(start, max(known.end, place.end) - start)
        if self._stretches and self._stretches[-1].type == type_:
            last = self._stretches.pop()
            self._stretches.append(replace(last, count=last.count + count, end=place.end, last=size))
            return
        self.check_opening()
        new = _Stretch(type=type_, line=line, count=count, start=place.start, end=place.end, first=size, last=size)
        self._stretches = [*self._stretches[-2:], new]
        if len(self._stretches) == 3:
            self.check_single(*self._stretches)

    def check_single(self, before: _Stretch, odd: _Stretch, after: _Stretch) -> None:
        """Tell of a single record of another type; its bytes are wrong, and those that it should have given lack."""
        if before.type != after.type or odd.count != 1:
            return
        fault = Fault("record-type/single", odd=odd.type, around=after.type)
        self.builder.problem(odd.problem(fault))
        if before.end < after.start <= before.end + MAX_RECORD_BYTES:
            self.builder.missing(fault.at(odd.line, before.end, after.start - before.end))

    def check_opening(self) -> None:
        """Tell of a single first record that has the count of those after it, which are of another type."""
        if len(self._stretches) != 2:
            return   # later on there is another stretch before it
        odd, after = self._stretches
        if odd.count == 1 and after.count > 1 and _torn(odd, after):
            self.builder.problem(odd.problem(Fault("record-type/beside", odd=odd.type, beside=after.type)))

    def check_closing(self) -> None:
        """Tell of a single last record that has the count of those before it, which are of another type."""
        if len(self._stretches) < 2:
            return
        before, odd = self._stretches[-2:]
        if odd.count == 1 and _torn(before, odd):
            self.builder.problem(odd.problem(Fault("record-type/beside", odd=odd.type, beside=before.type)))

    def mistaken_for_data(self) -> Span:
        """Give the last record where it is as short as an end record: its type digit may be wrong."""
        last = self._stretches[-1]
        short = last.last + ADDRESS_BYTES[last.type] <= max(ADDRESS_BYTES[type_] for type_ in END)
        return Span(last.end - last.last, last.last) if short else Span(0, 0)

    def finish(self) -> Image:
        self.check_opening()
        self.check_closing()
        return super().finish()

    def check_pairing(self, end: int) -> None:
        """Hold the end record against the data; what it does not pair with is doubtful."""
        if len(self._first_line) < 2 or end == 10 - max(self._first_line):
            return
        widest = max(self._first_line)
        fault = Fault("record-type/pairing", data=widest, pair=10 - widest, end=end)
        for place in joined(place for type_, place in self._places.items() if end != 10 - type_):
            self.builder.problem(fault.at(self._first_line[widest], place.start, place.length))


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> image = read(b"S00600004844521B\nS107003000144ED492\nS9030000FC\n")
        >>> image.title, image.segments, image.entry
        ('HDR', (Segment(start=48, data=b'\x00\x14N\xd4'),), 0)
    """
    return read_records(text, _FORMS, _Reader(keep_doubtful, manner))


def write(image: Image, record_bytes: int = 16, with_count: bool = False) -> bytes:
    r"""Encode an image, with the shortest addresses that reach its last byte and its entry.

    Args:
        image: The image; its gaps stay gaps. Its title, if any, goes into the S0 record; an unknown entry
            becomes 0, since the end record has to state one.
        record_bytes: Bytes in a data record, 1 to 250; 16 and 32 are usual. [byte]
        with_count: Write the count of data records too, as S5 or S6.

    Raises:
        UsageError: `address-out-of-range`.

    Example:
        >>> print(write(Image.from_bytes(b"\x00\x14\x4e\xd4", 0x30), with_count=True).decode(), end="")
        S0030000FC
        S107003000144ED492
        S5030001FB
        S9030000FC
    """
    check_record_bytes(record_bytes, 250)
    check_writable(image)
    entry = image.entry or 0
    highest = max(image.end_address - 1, entry)
    type_ = next(t for t in DATA if highest < 1 << 8 * ADDRESS_BYTES[t])
    lines = [_line(HEADER, 0, (image.title or "").encode("ascii", "replace")[:250])]
    lines += [_line(type_, address, data) for address, data in rows(image, record_bytes)]
    count = len(lines) - 1
    if with_count and count <= 0xFFFFFF:
        lines.append(_line(5 if count <= 0xFFFF else 6, count, b""))
    lines.append(_line(10 - type_, entry, b""))
    return b"".join(lines)


def _line(type_: int, address: int, content: bytes) -> bytes:
    width = ADDRESS_BYTES[type_]
    body = bytes([width + len(content) + 1]) + address.to_bytes(width) + content
    return b"S%d%s%02X\n" % (type_, body.hex().upper().encode(), ~sum(body) & 0xFF)
