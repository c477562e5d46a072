"""Intel HEX: `:` count, 16-bit offset, type, data, check byte.

========  ======================  =====  =======================================================
type      meaning                 count  effect
========  ======================  =====  =======================================================
00        data                    any    bytes at base + offset
01        end of file             0      ends the file
02        extended segment        2      base = value x 16; offsets wrap within 64 KiB
03        start segment           4      entry = CS x 16 + IP
04        extended linear         2      base = value x 65536; addresses carry on
05        start linear            4      entry = value
========  ======================  =====  =======================================================

All bytes of a record, check byte included, sum to 0 modulo 256.

Where a record belongs is said by the 02 or 04 record before it. Of a faulty line that is or may have been one of these,
all bytes depend up to the next good one: they are kept, and doubtful.

Source:
    Intel, Hexadecimal Object File Format Specification, revision A, 6 January 1988.
"""

from __future__ import annotations

import re

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
from imagekeeper.containers.records import LineRecord, RecordReader, too_short, wrong_length, wrong_sum
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase

NAME = "intel-hex"
SEGMENT = 0x1_0000   # what a 16-bit offset spans [byte]

DATA, END, SEGMENT_BASE, SEGMENT_ENTRY, LINEAR_BASE, LINEAR_ENTRY = range(6)

#: The count that each type but data must have. [byte]
_COUNTS = {END: 0, SEGMENT_BASE: 2, SEGMENT_ENTRY: 4, LINEAR_BASE: 2, LINEAR_ENTRY: 4}

_FORMS = {b":": PlainForm(type=DATA, address_bytes=2, has_type_byte=True, uncounted=5, total=0, limit=SEGMENT)}
_SHAPE = re.compile(rb":[0-9A-Fa-f]{6}")
_DIGITS_AND_COLON = re.compile(rb"[:0-9A-Fa-f]")
_BASE_CHARACTERS = 15


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like Intel HEX."""
    return recognise_lines(sample, NAME, _SHAPE, "records beginning with ':'")


def parse_record(line: bytes) -> LineRecord:
    """Read one record, as far as it can be read.

    Example:
        >>> parse_record(b":0300300002337A1E").data.hex()
        '02337a'
        >>> parse_record(b":0300300002337A1F").fault.why
        'the line ends in 1F but its bytes call for 1E'
    """
    if not line.startswith(b":"):
        return LineRecord(fault=not_a_record(line, Phrase("record-form/colon")), moves=_may_be_base(line))
    body, fault = digit_pairs(line[1:], column=1)
    if len(body) < 5:
        return LineRecord(fault=fault or too_short(len(body), 5), moves=_may_be_base(line))
    count, offset, type_ = body[0], int.from_bytes(body[1:3]), body[3]
    content = body[4 : 4 + count]
    whole = fault is None and len(body) == count + 5
    fault = fault or _fault(body, count, type_)
    moves = type_ in (SEGMENT_BASE, LINEAR_BASE)
    if fault and not moves:   # seven bytes alone are as long as a base record, and data seldom lie at 0000
        moves = count == 2 and (type_ != DATA or offset == 0) if whole else _may_be_base(line)
    return LineRecord(
        type=type_,
        address=offset,
        data=content if type_ == DATA else b"",
        payload=b"" if type_ == DATA else content,
        fault=fault,
        moves=moves,
    )


def _may_be_base(line: bytes) -> bool:
    """Whether a line that is no whole record may have been a base record, or a part of one, or may hold one.

    A base record has 15 characters. A remark that a terminal left is no record: most of it are no digits.

    Example:
        >>> _may_be_base(b":0200000400x1F9"), _may_be_base(b"READY."), _may_be_base(b":10010000214601360121")
        (True, False, False)
        >>> _may_be_base(b":10010000214601360121470136007EFE09D2190140x:020000040001F9")
        True
    """
    if b":" in line[1:]:
        return True   # the line end before another record was lost
    return len(line) <= _BASE_CHARACTERS + 1 and 2 * len(_DIGITS_AND_COLON.findall(line)) > len(line)


def _fault(body: bytes, count: int, type_: int) -> Fault | None:
    if len(body) != count + 5:
        return wrong_length(count, len(body) - 5)
    if sum(body) & 0xFF:
        return wrong_sum(body[-1], -sum(body[:-1]) & 0xFF)
    if type_ > LINEAR_ENTRY:
        return Fault("record-type/of-six", type=type_)
    if count != _COUNTS.get(type_, count):
        return Fault("record-type/count", type=type_, wanted=_COUNTS[type_], count=count)
    return None


class _Reader(RecordReader):
    container = NAME
    end_record = "a record of type 01"
    data_types = (DATA,)

    def __init__(self, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        super().__init__(keep_doubtful, manner)
        self._base = 0
        self._wraps = False

    def parse(self, line: bytes) -> LineRecord:
        return parse_record(line)

    def base(self) -> int:
        return self._base

    def spans(self, record: LineRecord) -> list[tuple[int, bytes]]:
        """Place a record; in a segment, what goes past its end comes round to its beginning."""
        room = SEGMENT - record.address
        if not self._wraps or len(record.data) <= room:
            return super().spans(record)
        return [(self._base + record.address, record.data[:room]), (self._base, record.data[room:])]

    def take(self, record: LineRecord, line: int) -> None:
        if record.type == END and self.end(record) and record.address and self.builder.entry is None:
            self.builder.entry = record.address   # 8-bit systems put it here; from memory
        if len(record.payload) != _COUNTS.get(record.type):
            return
        value = int.from_bytes(record.payload)
        if record.type == SEGMENT_BASE:
            self._base, self._wraps = value * 16, True
        elif record.type == LINEAR_BASE:
            self._base, self._wraps = value * SEGMENT, False
        elif record.fault:
            return   # an entry is right or not known
        elif record.type == SEGMENT_ENTRY:
            self.builder.entry = (value >> 16) * 16 + (value & 0xFFFF)
        elif record.type == LINEAR_ENTRY:
            self.builder.entry = value


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file.

    Before the first 02 or 04 record the base is 0 and addresses carry on.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read(b":0300300002337A1E\n:00000001FF\n").segments
        (Segment(start=48, data=b'\x023z'),)
    """
    return read_records(text, _FORMS, _Reader(keep_doubtful, manner))


def write(image: Image, record_bytes: int = 16) -> bytes:
    r"""Encode an image: 04 records only where an address needs them, a 05 record where the entry is known.

    Args:
        image: The image; its gaps stay gaps.
        record_bytes: Bytes in a data record, 1 to 255; 16 and 32 are usual. [byte]

    Raises:
        UsageError: `address-out-of-range`.

    Example:
        >>> print(write(Image.from_bytes(b"\x02\x33\x7a", 0x30)).decode(), end="")
        :0300300002337A1E
        :00000001FF
    """
    check_record_bytes(record_bytes, 0xFF)
    check_writable(image)
    lines = []
    base = 0
    for address, data in rows(image, record_bytes, border=SEGMENT):
        if address >> 16 != base:
            base = address >> 16
            lines.append(_line(LINEAR_BASE, 0, base.to_bytes(2)))
        lines.append(_line(DATA, address & 0xFFFF, data))
    if image.entry is not None:
        lines.append(_line(LINEAR_ENTRY, 0, image.entry.to_bytes(4)))
    lines.append(_line(END, 0, b""))
    return b"".join(lines)


def _line(type_: int, offset: int, content: bytes) -> bytes:
    body = bytes([len(content), offset >> 8, offset & 0xFF, type_]) + content
    return b":%s%02X\n" % (body.hex().upper().encode(), -sum(body) & 0xFF)
