"""TI-TXT: `@` and an address, then bytes in hexadecimal separated by blanks; `q` ends the file.

There is no check value. The source asks for even addresses, which nothing needs: odd ones are read too.

Where a byte belongs is said by the address line before it and by how many bytes lie between. So a faulty address line,
and a line of which it is not certain how many bytes it held, make doubtful what follows up to the next good address.

Source:
    Texas Instruments, SLAU101, section A.2.
"""

from __future__ import annotations

import re

from imagekeeper.containers.building import ImageBuilder
from imagekeeper.containers.lines import (
    AFTER_END,
    SAMPLE_BYTES,
    Fault,
    check_writable,
    digit_pairs,
    judge_share,
    not_a_record,
    numbered_lines,
    read_lines,
    rows,
    wrong_word,
)
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase

NAME = "ti-txt"

#: More digits than any address has.
MAX_ADDRESS_DIGITS = 16

_ADDRESS = re.compile(rb"@[0-9A-Fa-f]+")
_SHAPE = re.compile(rb"@[0-9A-Fa-f]+$|[qQ]$|[0-9A-Fa-f]{2}([ \t]+[0-9A-Fa-f]{1,2}){0,63}$")


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like TI-TXT: an address line must come first."""
    lines = [line for _, line in numbered_lines(sample[:SAMPLE_BYTES])]
    if not lines or not _ADDRESS.fullmatch(lines[0]):
        return None
    fitting = sum(1 for line in lines if _SHAPE.match(line))
    return judge_share(NAME, fitting, len(lines), "addresses behind '@', bytes in digits, or 'q'")


#: Bytes on a line, or a word that is something else. The run is limited, so that a match needs little memory.
_WORDS = re.compile(rb"(?:[0-9A-Fa-f]{2}(?:\s+|$)){1,1024}|\S+")


def _bytes_apart(line: bytes) -> bytes | None:
    """Read bytes with a blank at least between any two; None where anything else stands there.

    Example:
        >>> _bytes_apart(b"31 40"), _bytes_apart(b"31  40 "), _bytes_apart(b"3140"), _bytes_apart(b"31 4")
        (b'1@', b'1@', None, None)
    """
    try:
        data = bytes.fromhex(line.decode("ascii"))
    except ValueError:
        return None
    return data if 3 * len(data) - 1 == len(line) or len(line.split()) == len(data) else None


class _Reader:
    def __init__(self, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        self.builder = ImageBuilder(NAME, keep_doubtful=keep_doubtful, manner=manner)
        self.address: int | None = None
        self.ended = False
        self.last_line = 0

    def read_line(self, number: int, line: bytes) -> None:
        self.last_line = number
        after_end = AFTER_END if self.ended else None
        if line.startswith(b"@"):
            self.read_address(number, line, after_end)
        elif line in (b"q", b"Q"):
            self.tell(after_end, number)
            self.ended = True
        else:
            self.read_bytes(number, line, after_end)

    def read_address(self, number: int, line: bytes, fault: Fault | None) -> None:
        digits = line[1:].strip()
        _, wrong = digit_pairs(digits.rjust(len(digits) + len(digits) % 2, b"0"), column=1 - len(digits) % 2)
        if not digits:
            wrong = not_a_record(line, Phrase("record-form/address"))
        elif wrong is None and len(digits) > MAX_ADDRESS_DIGITS:
            wrong = Fault("address-limit/digits", digits=len(digits))
        self.tell(fault or wrong, number)
        if wrong:
            self.address = None
            return
        self.address = int(digits, 16)
        self.builder.depend_no_more()

    def read_bytes(self, number: int, line: bytes, fault: Fault | None) -> None:
        if self.address is None:
            self.tell(fault or not_a_record(line, Phrase("record-form/address-first")), number)
            return
        start = self.address
        wrong, certain = None, True
        if (data := _bytes_apart(line)) is not None:
            pieces = [(start, data)]
            self.address += len(data)
        else:
            pieces, wrong, certain = self.sort_out(line)
        self.tell(fault or wrong, number, start, self.address - start)
        for at, data in pieces:
            self.builder.put(at, data, line=number)
        if wrong and not certain:
            self.builder.depend(wrong.at(number))

    def sort_out(self, line: bytes) -> tuple[list[tuple[int, bytes]], Fault | None, bool]:
        """Take the good bytes of a line; what is no byte leaves a gap of one address.

        Returns:
            The bytes with their addresses; the first fault; and whether it is certain how many bytes the line held.
        """
        pieces: list[tuple[int, bytes]] = []
        fault, certain = None, True
        assert self.address is not None
        for word in _WORDS.finditer(line):
            data = _bytes_apart(word[0])
            if data is not None:
                pieces.append((self.address, data))
                self.address += len(data)
                continue
            fault = fault or wrong_word(line, word.start(), word[0])
            certain = certain and len(word[0]) == 2   # a character of it is wrong, and it still is one byte
            self.address += 1
        return pieces, fault, certain

    def tell(self, fault: Fault | None, number: int, start: int = 0, length: int = 0) -> None:
        if fault:
            self.builder.problem(fault.at(number, start, length))

    def finish(self) -> Image:
        if not self.ended and self.address is not None:
            self.tell(Fault("no-end/mark", line=self.last_line, wanted="'q'"), self.last_line)
        return self.builder.finish()


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read(b"@FFFE\n00 F0\nq\n").segments
        (Segment(start=65534, data=b'\x00\xf0'),)
    """
    return read_lines(text, _Reader(keep_doubtful, manner))


def write(image: Image) -> bytes:
    r"""Encode an image, 16 bytes to a line; each segment has its address line. The format holds no entry.

    Raises:
        UsageError: `address-out-of-range`.

    Example:
        >>> print(write(Image.from_bytes(b"\x00\xf0", 0xFFFE)).decode(), end="")
        @FFFE
        00 F0
        q
    """
    check_writable(image)
    lines = []
    end = -1
    for address, data in rows(image, 16):
        if address != end:
            lines.append(f"@{address:04X}\n")
        lines.append(data.hex(" ").upper() + "\n")
        end = address + len(data)
    return "".join([*lines, "q\n"]).encode()
