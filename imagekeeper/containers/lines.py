"""What all text containers share: lines, hexadecimal digits, and how faults in them are told."""

from __future__ import annotations

import binascii
import re
from collections.abc import Iterator
from typing import Any, Protocol

from imagekeeper import budget
from imagekeeper.containers.building import LineProblem
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError
from imagekeeper.ranked import Candidate, Evidence
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT, plural

#: How much of a file is looked at to recognise it. [byte]
SAMPLE_BYTES = 64 * 1024

#: Text is walked in chunks of about this size, so that memory stays bounded whatever the file's size. [byte]
CHUNK_BYTES = 128 * 1024

#: What may surround a line without being part of it: blanks, the tape controls NUL, XON, XOFF and DEL, the
#: page feed, and the end-of-file mark 1A, with which some systems also fill up the last sector.
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
    allowed = budget.current()
    while start < len(text):
        end = text.find(b"\n", start + size) + 1
        if not end:   # no LF comes any more, so no CR LF can be torn apart
            end = text.find(b"\r", start + size) + 1 or len(text)
        allowed.tick()
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
    return repr(line[:most] + more.encode()).removeprefix("b")


# --- digits, and faults in them ---


class Fault(Phrase):
    """What is wrong with a line: the key of its sentences, with what was found and what was expected."""

    @property
    def why(self) -> str:
        """What was found and what was expected, in words."""
        return str(self)

    def at(self, line: int | None, start: int = 0, length: int = 0) -> LineProblem:
        """Say where it is, and which addresses it makes doubtful."""
        return LineProblem(self, line, start, length)

    def saying(self, **values: Any) -> Fault:
        """Say more of it: with further values, or other ones."""
        return Fault(self.about, **{**self.values, **values})


def digit_pairs(digits: bytes, column: int = 0) -> tuple[bytes, Fault | None]:
    r"""Turn pairs of hexadecimal digits, upper or lower case, into bytes, as far as they go.

    Args:
        digits: The digits.
        column: How many characters of the line lie before them.

    Example:
        >>> digit_pairs(b"0aFF")
        (b'\n\xff', None)
        >>> data, fault = digit_pairs(b"0aF", column=1)
        >>> data, fault.why
        (b'\n', 'there are 3 of them: one is missing')
    """
    try:
        return binascii.unhexlify(digits), None
    except binascii.Error:
        pass
    if bad := _NO_DIGIT.search(digits):
        fault = wrong_digit(digits, bad.start(), column)
        return binascii.unhexlify(digits[: bad.start() & ~1]), fault
    return binascii.unhexlify(digits[:-1]), Fault("record-digits/odd", digits=len(digits))


def wrong_digit(digits: bytes, at: int, column: int = 0) -> Fault:
    """Tell of a character that is no digit."""
    return Fault("record-digits/no-digit", column=column + at + 1, found=excerpt(digits[at : at + 1]))


def wrong_word(line: bytes, at: int, word: bytes) -> Fault:
    """Tell of a word on a line that should be two digits."""
    if bad := _NO_DIGIT.search(word):
        return wrong_digit(line, at + bad.start())
    return Fault("record-digits/no-byte", column=at + 1, found=excerpt(word, 8))


def not_a_record(line: bytes, expected: Phrase) -> Fault:
    """Tell of a line that is no record at all."""
    return Fault("record-form", found=excerpt(line), expected=expected)


AFTER_END = Fault("after-end")


# --- reading, recognising, writing ---


class TextReader(Protocol):
    """What takes the lines of a text one after the other."""

    def read_line(self, number: int, line: bytes) -> None:
        """Take one line."""

    def finish(self) -> Image:
        """Give the image."""
        ...


def read_lines(text: bytes, reader: TextReader) -> Image:
    """Read a whole text line by line."""
    for number, line in numbered_lines(text):
        reader.read_line(number, line)
    return reader.finish()


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


def judge_share(
    kind: str, fitting: int, looked_at: int, says: str, of: str = "line"
) -> Candidate[str] | None:
    """Score a kind by how many lines fit it; None where too few do."""
    share = fitting / looked_at if looked_at else 0.0
    if share < 0.3:
        return None
    score = 0.98 * share
    return Candidate(kind, score, (Evidence(f"{fitting} of {plural(looked_at, of)} are {says}", score),))


def check_writable(image: Image, limit: int = ADDRESS_LIMIT) -> None:
    """Refuse an image whose addresses a format cannot express.

    Raises:
        UsageError: `address-out-of-range`.
    """
    entry = image.entry or 0
    if image.end_address > limit or entry >= limit or entry < 0:
        highest = max(image.end_address - 1, entry)
        raise UsageError("address-out-of-range/container", highest=highest, last=limit - 1)


def check_record_bytes(size: int, most: int) -> None:
    """Refuse records of a size that the container cannot have. [byte]

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_record_bytes(256, 255)
        Traceback (most recent call last):
        imagekeeper.errors.UsageError: records of 256 bytes cannot be written: the container allows 1 to 255
    """
    if not 1 <= size <= most:
        raise UsageError("usage/size-of-records", size=size, most=most)


def rows(image: Image, size: int, border: int = ADDRESS_LIMIT) -> Iterator[tuple[int, bytes]]:
    """Cut an image into records of at most `size` bytes, none of which crosses a multiple of `border`.

    Example:
        >>> from imagekeeper.containers.model import Segment
        >>> list(rows(Image(segments=(Segment(0xE, b"ABCDEF"),)), 4, border=0x10))
        [(14, b'AB'), (16, b'CDEF')]
    """
    check_record_bytes(size, size)
    for start, piece in image.pieces():
        at = 0
        while at < len(piece):
            after = at + min(size, border - (start + at) % border)
            yield start + at, piece[at:after]
            at = after
