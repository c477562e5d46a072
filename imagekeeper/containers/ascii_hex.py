"""ASCII-hex: STX, bytes as two digits each with a separator behind, ETX.

`$Ahhhh,` sets the address of the bytes that follow; without it they begin at 0. `$Shhhh,` behind ETX gives
the sum of all bytes modulo 65536. Separators are a space, `%`, `'` or `,`; a line end does as well. What
comes before STX is a leader and is skipped. A file may begin with `$A` in place of STX; it needs no ETX then.

Where a byte belongs is said by the address before it and by how many bytes lie between. So what may have been an
address, or another number of bytes than one, makes doubtful what follows up to the next address; a wrong sum all bytes.

Source:
    Common practice of device programmers, no source; from memory.
"""

from __future__ import annotations

import re

from imagekeeper.containers.building import ImageBuilder
from imagekeeper.containers.lines import (
    AFTER_END,
    SAMPLE_BYTES,
    Fault,
    judge_share,
    numbered_lines,
    read_lines,
    wrong_word,
)
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.containers.records import wrong_sum
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT

NAME = "ascii-hex"
STX, ETX = b"\x02", b"\x03"
SEPARATORS = b" \t%',"

_BEGINS = re.compile(rb"\x02|\$A[0-9A-Fa-f]{2,8}[,.]")

#: One thing on a line. The run of bytes is limited, so that a match needs little memory on any line.
_ITEM = re.compile(
    rb"""(?P<stx>\x02)
    | (?P<etx>\x03)
    | \$A(?P<address>[0-9A-Fa-f]{2,8})(?![0-9A-Fa-f])[,.]?
    | \$S(?P<sum>[0-9A-Fa-f]{2,8})(?![0-9A-Fa-f])[,.]?
    | (?P<bytes>(?:[0-9A-Fa-f]{2}(?:[ \t%',]+|(?=[\x03$])|$)){1,1024})
    | (?P<blank>[ \t%',\x00]+)
    | (?P<wrong>[^\x02\x03 \t%',]+)""",
    re.VERBOSE,
)


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like ASCII-hex: STX or an address must come before the bytes."""
    fitting = looked_at = data = 0
    has_begun = False
    for _, line in numbered_lines(sample[:SAMPLE_BYTES]):
        has_begun = has_begun or _BEGINS.match(line) is not None
        for item in _ITEM.finditer(line) if has_begun else ():
            length = len(item[0]) if item.lastgroup != "blank" else 0
            looked_at += length
            fitting += length if item.lastgroup != "wrong" else 0
            data += item.lastgroup == "bytes"
    if not data:
        return None
    says = "STX, ETX, an address behind '$A', or bytes in two digits with a separator"
    return judge_share(NAME, fitting, looked_at, says, of="character")


class _Reader:
    def __init__(self, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        self.builder = ImageBuilder(NAME, keep_doubtful=keep_doubtful, manner=manner)
        self.address = 0
        self.sum = 0
        self.low, self.high = ADDRESS_LIMIT, 0   # from the first to behind the last address given
        self.has_begun = self.has_stx = self.ended = False
        self.last_line = 0

    def read_line(self, number: int, line: bytes) -> None:
        self.last_line = number
        for item in _ITEM.finditer(line):
            self.take(item, number, line)

    def take(self, item: re.Match[bytes], number: int, line: bytes) -> None:
        kind, content = item.lastgroup, item[item.lastgroup or 0]
        fault = AFTER_END if self.ended else None
        if kind == "address":
            self.has_begun = True
            self.address = int(content, 16)
            self.tell(fault, number)
            self.builder.depend_no_more()
        elif kind == "stx":
            self.has_begun = self.has_stx = True
            self.tell(fault, number)
        elif kind == "blank" or not self.has_begun:
            return   # a leader or title may come before STX
        elif kind == "etx":
            self.ended = True
            self.tell(fault, number)
        elif kind == "sum":
            self.check_sum(int(content, 16), number)
        elif kind == "bytes":
            data = bytes.fromhex(content.translate(_NO_SEPARATORS).decode("ascii"))
            self.tell(fault, number, self.address, len(data))
            self.builder.put(self.address, data, line=number)
            self.low, self.high = min(self.low, self.address), max(self.high, self.address + len(data))
            self.address += len(data)
            self.sum += sum(data)
        else:
            wrong = wrong_word(line, item.start(), content)
            self.tell(fault or wrong, number, self.address, 1)
            self.address += 1   # what stands in a byte's place leaves a gap of one address
            if len(content) != 2:
                self.builder.depend(wrong.at(number))

    def check_sum(self, stated: int, number: int) -> None:
        if stated != self.sum & 0xFFFF:
            fault = wrong_sum(stated, self.sum & 0xFFFF, digits=4, place=Phrase("record-sum/stated-sum"))
            self.tell(fault, number, self.low, max(self.high - self.low, 0))

    def tell(self, fault: Fault | None, number: int, start: int = 0, length: int = 0) -> None:
        if fault:
            self.builder.problem(fault.at(number, start, length))

    def finish(self) -> Image:
        if self.has_stx and not self.ended:
            self.tell(Fault("no-end/mark", line=self.last_line, wanted="ETX (03)"), self.last_line)
        return self.builder.finish()


_NO_SEPARATORS = bytes(ord(" ") if c in SEPARATORS else c for c in range(256))


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read(b"\x02$A0100,\n00 01 02 03 \x03$S0006,\n").segments
        (Segment(start=256, data=b'\x00\x01\x02\x03'),)
    """
    return read_lines(text, _Reader(keep_doubtful, manner))
