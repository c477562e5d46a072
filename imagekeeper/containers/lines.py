"""What the text containers share: lines, hexadecimal digits, records, and how faults in them are told."""

from __future__ import annotations

import binascii
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from imagekeeper.containers.building import FETCH_AGAIN, ImageBuilder, Problem
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError
from imagekeeper.ranked import Candidate, Evidence
from imagekeeper.units import ADDRESS_LIMIT, plural

#: How much of a file is looked at to recognise it. [byte]
SAMPLE_BYTES = 64 * 1024

#: Text is walked in chunks of about this size, so that memory stays bounded whatever the file's size. [byte]
CHUNK_BYTES = 512 * 1024

#: What may surround a line without being part of it: blanks, the tape controls NUL, XON, XOFF and DEL, the page
#: feed, and the end-of-file mark 1A of CP/M, which also fills up its last sector.
BLANKS = b" \t\0\x0b\x0c\x11\x13\x1a\x7f"

_BOM = b"\xef\xbb\xbf"
_NO_DIGIT = re.compile(rb"[^0-9A-Fa-f]")


# --- lines ---


def chunks(text: bytes, size: int = CHUNK_BYTES) -> Iterator[bytes]:
    r"""Cut a text behind line ends into chunks of about `size`; a byte order mark is left out.

    Example:
        >>> list(chunks(b"one\r\ntwo\r\nthree", size=2))
        [b'one\r\n', b'two\r\n', b'three']
    """
    start = len(_BOM) if text.startswith(_BOM) else 0
    while start < len(text):
        end = text.find(b"\n", start + size) + 1
        if not end:   # no LF comes any more, so no CR LF can be torn apart
            end = text.find(b"\r", start + size) + 1 or len(text)
        yield text[start:end]
        start = end


def numbered_lines(text: bytes) -> Iterator[tuple[int, bytes]]:
    r"""Give the lines that are not blank, without what surrounds them, each with its number from 1.

    Lines end in LF, CR LF or CR.

    Example:
        >>> list(numbered_lines(b"one \r\n\0\0two\r\rfour"))
        [(1, b'one'), (2, b'two'), (4, b'four')]
    """
    number = 0
    for chunk in chunks(text):
        for line in chunk.splitlines():
            number += 1
            if line := line.strip(BLANKS):
                yield number, line


def excerpt(line: bytes, most: int = 24) -> str:
    r"""Quote the beginning of a line, printable whatever it holds.

    Example:
        >>> excerpt(b":10\xff"), excerpt(b"A" * 30)
        ("':10\\xff'", "'AAAAAAAAAAAAAAAAAAAAAAAA...'")
    """
    more = "..." if len(line) > most else ""
    return repr((line[:most] + more.encode())).removeprefix("b")


# --- faults and records ---


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a line.

    Attributes:
        code: An error code.
        what: The failure, in words.
        why: What was found and what was expected.
    """

    code: str
    what: str
    why: str

    def at(self, line: int | None, start: int = 0, length: int = 0) -> Problem:
        """Say where it is, and which addresses it makes doubtful."""
        return Problem(self.code, self.what, self.why, FETCH_AGAIN, line, start, length)


@dataclass(frozen=True, slots=True)
class Record:
    """What one line says.

    Attributes:
        type: The record's type, as the format numbers it; -1 where the line is no record.
        address: The address field.
        data: Bytes for the image.
        payload: The content of a record that is not for the image.
        fault: What is wrong with the line; the other fields are then what could still be read.
    """

    type: int = -1
    address: int = 0
    data: bytes = b""
    payload: bytes = b""
    fault: Fault | None = None


def digit_pairs(digits: bytes, column: int = 0) -> tuple[bytes, Fault | None]:
    """Turn pairs of hexadecimal digits, upper or lower case, into bytes, as far as they go.

    Args:
        digits: The digits.
        column: How many characters of the line lie before them.

    Example:
        >>> digit_pairs(b"0aFF")
        (b'\\n\\xff', None)
        >>> data, fault = digit_pairs(b"0aF", column=1)
        >>> data, fault.why
        (b'\\n', 'the line has 3 digits, an odd number: one is missing')
    """
    try:
        return binascii.unhexlify(digits), None
    except binascii.Error:
        pass
    if bad := _NO_DIGIT.search(digits):
        fault = wrong_digit(digits, bad.start(), column)
        return binascii.unhexlify(digits[: bad.start() & ~1]), fault
    fault = Fault(
        "record-digits",
        "a record holds an odd number of digits",
        f"the line has {plural(len(digits), 'digit')}, an odd number: one is missing",
    )
    return binascii.unhexlify(digits[:-1]), fault


def wrong_digit(digits: bytes, at: int, column: int = 0) -> Fault:
    """Tell of a character that is no digit."""
    return Fault(
        "record-digits",
        "a record holds a character that is no hexadecimal digit",
        f"character {column + at + 1} of the line is {excerpt(digits[at : at + 1])}",
    )


def no_record(line: bytes, expected: str) -> Record:
    """Tell of a line that is no record at all."""
    return Record(
        fault=Fault(
            "record-form", "a line is not a record", f"it reads {excerpt(line)} where {expected} is expected"
        )
    )


def wrong_length(stated: int, found: int, of: str = "byte") -> Fault:
    """Tell of a count that disagrees with the line."""
    cut = ": it may be cut" if found < stated else ""
    return Fault(
        "record-length",
        "a record's count disagrees with its line",
        f"the count asks for {plural(stated, of)}, the line holds {max(found, 0)}{cut}",
    )


def wrong_sum(found: int, expected: int, digits: int = 2) -> Fault:
    """Tell of a check value that disagrees with the bytes before it."""
    return Fault(
        "record-sum",
        "a record's check value is wrong",
        f"the line ends in {found:0{digits}X} but its bytes call for {expected:0{digits}X}",
    )


def wrong_type(why: str) -> Fault:
    """Tell of a record type that does not exist or does not fit."""
    return Fault("record-type", "a record's type is unknown or does not fit", why)


def wrong_count(stated: int, found: int) -> Fault:
    """Tell of a stated count of records that was not met."""
    return Fault(
        "record-count",
        "the stated count of records is not met",
        f"the file states {plural(stated, 'data record')}, {found} came before",
    )


_AFTER_END = Fault("after-end", "there is more after the end record", "the end record came before this line")


class RecordReader:
    """Turns records into an image. Each format derives from it and says what its records mean.

    Args:
        container: The kind of file.
        end_record: What ends the file, in words.
        keep_doubtful: Keep what can be kept instead of raising at the first problem.
    """

    def __init__(self, container: str, end_record: str, keep_doubtful: bool) -> None:
        self.builder = ImageBuilder(container, keep_doubtful=keep_doubtful)
        self.ended = False
        self.data_records = 0
        self._end_record = end_record
        self._last_line = 0

    def parse(self, line: bytes) -> Record:
        """Read one line by the rules of the format."""
        raise NotImplementedError

    def base(self) -> int:
        """Give what the records before this one add to its address."""
        return 0

    def spans(self, record: Record) -> list[tuple[int, bytes]]:
        """Give the bytes of a record with the addresses where they belong."""
        return [(self.base() + record.address, record.data)] if record.data else []

    def take(self, record: Record, line: int) -> None:
        """Follow what a record says beyond its bytes; it may be a faulty one that was kept."""

    def read_line(self, number: int, line: bytes) -> None:
        """Take one line.

        Raises:
            InputError: Where it is wrong, unless doubtful input is kept.
        """
        self._take(number, self.parse(line))

    def _take(self, number: int, record: Record) -> None:
        self._last_line = number
        spans = self.spans(record)
        fault = _AFTER_END if self.ended else record.fault
        if fault:
            for start, data in spans or [(0, b"")]:
                self.builder.problem(fault.at(number, start, len(data)))
        for start, data in spans:
            self.builder.put(start, data, line=number)
        self.data_records += bool(record.data)
        self.take(record, number)

    def read_run(self, address: int, data: bytes, record_bytes: int, line: int) -> None:
        """Take consecutive lines of faultless data records, all with as many bytes and at consecutive addresses.

        Args:
            address: The first record's address field.
            data: All their bytes.
            record_bytes: How many bytes each holds. [byte]
            line: The first line's number.
        """
        count = len(data) // record_bytes
        if self.ended:
            for i in range(count):
                at = i * record_bytes
                self._take(line + i, Record(0, address + at, data[at : at + record_bytes]))
            return
        start = self.base() + address
        self.builder.put_run(data, range(start, start + len(data), record_bytes), range(line, line + count))
        self.data_records += count
        self._last_line = line + count - 1

    def finish(self) -> Image:
        """Give the image.

        Raises:
            InputError: `no-end`, unless doubtful input is kept; and what `ImageBuilder.finish` raises.
        """
        image = None
        if not self.ended and self.data_records:
            why = f"the file stops after line {self._last_line} without {self._end_record}"
            self.builder.problem(Fault("no-end", "the end record is missing", why).at(self._last_line))
        image = self.builder.finish()
        return image


class Reader(Protocol):
    """What walks over lines: see `RecordReader`."""

    def read_line(self, number: int, line: bytes) -> None:
        """Take one line."""

    def finish(self) -> Image:
        """Give the image."""
        ...


def read_lines(text: bytes, reader: Reader) -> Image:
    """Read a whole text line by line."""
    for number, line in numbered_lines(text):
        reader.read_line(number, line)
    return reader.finish()


# --- recognising and writing ---


def recognise_lines(sample: bytes, kind: str, form: re.Pattern[bytes], says: str) -> Candidate[str] | None:
    """Score a sample by the share of its lines that begin in a form.

    Args:
        sample: The beginning of the file; it may be cut within a line.
        kind: The answer.
        form: What such a line begins with.
        says: The form in words, after "are".

    Example:
        >>> recognise_lines(b"S9030000FC", "s-record", re.compile(rb"S[0-9]"), "records").evidence[0].says
        '1 of 1 line are records'
    """
    lines = [line for _, line in numbered_lines(sample[:SAMPLE_BYTES])]
    return judge_share(kind, sum(1 for line in lines if form.match(line)), len(lines), says)


def judge_share(kind: str, fitting: int, lines: int, says: str) -> Candidate[str] | None:
    """Score a kind by how many lines fit it; None where too few do."""
    share = fitting / lines if lines else 0.0
    if share < 0.3:
        return None
    score = 0.98 * share
    return Candidate(kind, score, (Evidence(f"{fitting} of {plural(lines, 'line')} are {says}", score),))


def check_writable(image: Image, limit: int = ADDRESS_LIMIT) -> None:
    """Refuse an image whose addresses a format cannot express.

    Raises:
        UsageError: `address-out-of-range`.
    """
    entry = image.entry or 0
    if image.end_address > limit or entry >= limit or entry < 0:
        highest = max(image.end_address - 1, entry)
        raise UsageError(
            "address-out-of-range",
            "an address does not fit the container",
            why=f"the image reaches {highest:X}, the container only {limit - 1:X}",
            hint="move the image to lower addresses, or choose another container",
        )


def rows(image: Image, size: int) -> Iterator[tuple[int, bytes]]:
    """Cut an image into records: (address, bytes), each ending where the next multiple of `size` begins.

    Example:
        >>> from imagekeeper.containers.model import Segment
        >>> list(rows(Image((Segment(0xE, b"ABCD"),)), 16))
        [(14, b'AB'), (16, b'CD')]
    """
    for segment in image.segments:
        at = segment.start
        while at < segment.end:
            after = min(at - at % size + size, segment.end)
            yield at, segment.data[at - segment.start : after - segment.start]
            at = after
