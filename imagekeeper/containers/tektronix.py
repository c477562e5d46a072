"""Tektronix hex and extended Tektronix hex.

Tektronix hex, `tektronix-hex`::

    / AAAA CC SS data TT      data: address, byte count, first check, second check
    / AAAA 00 SS              end: address is the entry
    // text                   the sender broke off

SS is the sum of the six digits before it, TT that of the data's digits. Sources disagree about TT: some
describe the sum of the data's bytes, so reading accepts either.

Extended Tektronix hex, `tektronix-extended`::

    % LL T CC N address data

LL counts the characters behind `%`; T is 6 for data, 3 for symbols, 8 for the end; CC is the sum modulo 256
of the values of all characters but `%` and CC itself; N is the number of address digits, 0 standing for 16.

Source:
    Secondary: encyclopaedia articles and manual pages of period makers, checked against their worked
    records. The address of 16 digits, the symbol records and the abort record are from memory.
"""

from __future__ import annotations

import re
import string

from imagekeeper.containers.lines import (
    Fault,
    check_record_bytes,
    check_writable,
    digit_pairs,
    excerpt,
    not_a_record,
    read_lines,
    recognise_lines,
    rows,
    wrong_digit,
)
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.containers.records import LineRecord, RecordReader, too_short, wrong_length, wrong_sum
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT, address_digits

NAME = "tektronix-hex"
EXTENDED = "tektronix-extended"
SYMBOLS, DATA, END, ABORT = 3, 6, 8, 9   # as extended Tektronix hex numbers them; the last number is ours

#: What each character counts for in the extended check value.
VALUES = {
    ord(c): value
    for value, c in enumerate(string.digits + string.ascii_uppercase + "$%._" + string.ascii_lowercase)
}

_SHAPE = re.compile(rb"/[0-9A-Fa-f]{6}")
_EXTENDED_SHAPE = re.compile(rb"%[0-9A-Fa-f]{2}[368]")
_HEAD = re.compile(rb"%([0-9A-Fa-f]{2})([0-9A-Za-z])([0-9A-Fa-f]{2})([0-9A-Fa-f])")


# --- Tektronix hex ---


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like Tektronix hex."""
    return recognise_lines(sample, NAME, _SHAPE, "records beginning with '/' and digits")


def digit_sum(data: bytes) -> int:
    r"""Add up the hexadecimal digits of some bytes, modulo 256.

    Example:
        >>> digit_sum(b"\x10\x20\x30\x40")
        10
    """
    return sum((byte >> 4) + (byte & 15) for byte in data) & 0xFF


def parse_record(line: bytes) -> LineRecord:
    """Read one record of Tektronix hex, as far as it can be read.

    Example:
        >>> parse_record(b"/01000405102030400A").data.hex()
        '10203040'
    """
    if line.startswith(b"//"):
        return LineRecord(type=ABORT, fault=Fault("no-end/broken-off", words=excerpt(line[2:])))
    if not line.startswith(b"/"):
        return LineRecord(fault=not_a_record(line, Phrase("record-form/slash")))
    body, fault = digit_pairs(line[1:], column=1)
    if len(body) < 3:
        return LineRecord(fault=fault or too_short(len(body), 4))
    count = body[2]
    return LineRecord(
        type=END if count == 0 and len(body) <= 4 else DATA,
        address=int.from_bytes(body[:2]),
        data=body[4 : 4 + count],
        fault=fault or _fault(body, count),
    )


def _fault(body: bytes, count: int) -> Fault | None:
    checks = 2 if count else 1
    if len(body) != 3 + count + checks:
        return wrong_length(count, len(body) - 3 - checks)
    expected = digit_sum(body[:3])
    if body[3] != expected:
        return wrong_sum(body[3], expected, place=Phrase("record-sum/first-check"))
    data = body[4:-1]
    if count and body[-1] not in (digit_sum(data), sum(data) & 0xFF):
        return wrong_sum(body[-1], digit_sum(data))
    return None


class _Reader(RecordReader):
    container = NAME
    end_record = "a record of count 00"
    data_types = (DATA,)

    def parse(self, line: bytes) -> LineRecord:
        return parse_record(line)

    def take(self, record: LineRecord, line: int) -> None:
        if record.type == END:
            if self.end(record):
                self.builder.entry = record.address
        elif record.type == ABORT:
            self.ended = self._has_end = True


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file in Tektronix hex.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read(b"/01000405102030400A\n/01000001\n").segments
        (Segment(start=256, data=b'\x10 0@'),)
    """
    return read_lines(text, _Reader(keep_doubtful, manner))


# --- extended Tektronix hex ---


def recognise_extended(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like extended Tektronix hex."""
    return recognise_lines(sample, EXTENDED, _EXTENDED_SHAPE, "records beginning with '%' and digits")


def extended_sum(line: bytes) -> int | None:
    """Give the check value that a record calls for; None where a character has no value.

    Example:
        >>> f"{extended_sum(b'%1A626810000000202020202020'):02X}"
        '26'
    """
    try:
        return sum(VALUES[c] for c in line[1:4] + line[6:]) & 0xFF
    except KeyError:
        return None


def parse_extended(line: bytes) -> LineRecord:
    """Read one record of extended Tektronix hex, as far as it can be read.

    Example:
        >>> record = parse_extended(b"%1A626810000000202020202020")
        >>> f"{record.address:X}", record.data.hex()
        ('10000000', '202020202020')
    """
    if not line.startswith(b"%"):
        return LineRecord(fault=not_a_record(line, Phrase("record-form/percent")))
    head = _HEAD.match(line)
    if head is None:
        if len(line) < 7:
            return LineRecord(fault=too_short(len(line) - 1, 7, "character"))
        at = next(i for i in range(1, 7) if not _HEAD.match(line[: i + 1] + b"000000"[i:]))
        return LineRecord(fault=wrong_digit(line, at))
    length, type_, check, width = int(head[1], 16), head[2], int(head[3], 16), int(head[4], 16) or 16
    fault = _extended_fault(line, length, check, type_)
    if type_ == b"3":
        return LineRecord(type=SYMBOLS, fault=fault)
    if type_ not in (b"6", b"8"):
        return LineRecord(fault=fault)
    address, wrong_address = digit_pairs(line[7 : 7 + width].rjust(16, b"0"), column=7 + width - 16)
    if wrong_address or len(line) < 7 + width:
        return LineRecord(fault=fault or wrong_address or wrong_length(width, len(line) - 7, "address digit"))
    content, wrong_content = digit_pairs(line[7 + width :], column=7 + width)
    place = int.from_bytes(address)
    if type_ == b"8":
        if place >= ADDRESS_LIMIT and fault is None:
            fault = Fault("address-limit/start", at=place)
        return LineRecord(type=END, address=place, fault=fault)
    return LineRecord(type=DATA, address=place, data=content, fault=fault or wrong_content)


def _extended_fault(line: bytes, length: int, check: int, type_: bytes) -> Fault | None:
    if len(line) - 1 != length:
        return wrong_length(length, len(line) - 1, "character")
    expected = extended_sum(line)
    if expected is None:
        return wrong_digit(line, next(i for i in range(1, len(line)) if line[i] not in VALUES))
    if check != expected:
        return wrong_sum(check, expected, place=Phrase("record-sum/check-value"))
    if type_ not in (b"3", b"6", b"8"):
        return Fault("record-type/of-three", type=type_.decode())
    return None


class _ExtendedReader(RecordReader):
    container = EXTENDED
    end_record = "a record of type 8"
    data_types = (DATA,)

    def parse(self, line: bytes) -> LineRecord:
        return parse_extended(line)

    def take(self, record: LineRecord, line: int) -> None:
        if record.type == END and self.end(record):
            self.builder.entry = record.address


def read_extended(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file in extended Tektronix hex; symbols are checked and left out.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read_extended(b"%126144010000010203\n%0A81740100\n").segments
        (Segment(start=256, data=b'\x00\x01\x02\x03'),)
    """
    return read_lines(text, _ExtendedReader(keep_doubtful, manner))


def write_extended(image: Image, record_bytes: int = 16) -> bytes:
    r"""Encode an image in extended Tektronix hex.

    Args:
        image: The image; its gaps stay gaps. An unknown entry becomes 0, since the end record must state one.
        record_bytes: Bytes in a data record, 1 to 120; 16 and 32 are usual. [byte]

    Raises:
        UsageError: `address-out-of-range`.

    Example:
        >>> print(write_extended(Image.from_bytes(b"\0\1\2\3", 0x100)).decode(), end="")
        %126144010000010203
        %0A81640000
    """
    check_record_bytes(record_bytes, 120)
    check_writable(image)
    entry = image.entry or 0
    digits = address_digits(max(image.end_address, entry + 1))
    lines = [_extended_line(DATA, address, digits, data) for address, data in rows(image, record_bytes)]
    lines.append(_extended_line(END, entry, digits, b""))
    return b"".join(lines)


def _extended_line(type_: int, address: int, digits: int, data: bytes) -> bytes:
    content = f"{digits}{address:0{digits}X}{data.hex().upper()}"
    line = f"%{len(content) + 5:02X}{type_}00{content}".encode()
    check = sum(VALUES[c] for c in line[1:4] + line[6:]) & 0xFF
    return b"%s%02X%s\n" % (line[:4], check, line[6:])
