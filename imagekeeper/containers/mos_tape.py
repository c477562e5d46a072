"""MOS Technology paper tape: `;` count, 16-bit address, data, 16-bit sum.

The sum is that of all bytes between `;` and itself. The last record has count 00; its address field holds the
number of data records before it. Six NULs follow each line, XOFF ends the tape; both are skipped.

Source:
    MOS Technology, KIM-1 User Manual, August 1976, appendix F.
"""

from __future__ import annotations

import re

from imagekeeper.containers.lines import (
    Fault,
    digit_pairs,
    not_a_record,
    read_lines,
    recognise_lines,
)
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.containers.records import (
    LineRecord,
    RecordReader,
    too_short,
    wrong_count,
    wrong_length,
    wrong_sum,
)
from imagekeeper.ranked import Candidate
from imagekeeper.sentences.say import Phrase

NAME = "mos-tape"
DATA, LAST = 1, 0   # the format itself numbers no types

_SHAPE = re.compile(rb";[0-9A-Fa-f]{6}")


def recognise(sample: bytes) -> Candidate[str] | None:
    """Score how much a sample looks like a MOS Technology paper tape."""
    return recognise_lines(sample, NAME, _SHAPE, "records beginning with ';' and digits")


def parse_record(line: bytes) -> LineRecord:
    """Read one record, as far as it can be read.

    Example:
        >>> parse_record(b";06024802C8CAD0F860040C").data.hex()
        '02c8cad0f860'
        >>> parse_record(b";06024802C8CAD0F860040D").fault.why
        'the line ends in 040D but its bytes call for 040C'
    """
    if not line.startswith(b";"):
        return LineRecord(fault=not_a_record(line, Phrase("record-form/semicolon")))
    body, fault = digit_pairs(line[1:], column=1)
    if len(body) < 3:
        return LineRecord(fault=fault or too_short(len(body), 5))
    count = body[0]
    return LineRecord(
        type=LAST if count == 0 and len(body) <= 5 else DATA,
        address=int.from_bytes(body[1:3]),
        data=body[3 : 3 + count],
        fault=fault or _fault(body, count),
    )


def _fault(body: bytes, count: int) -> Fault | None:
    if len(body) != count + 5:
        return wrong_length(count, len(body) - 5)
    expected, found = sum(body[:-2]), int.from_bytes(body[-2:])   # 258 bytes cannot sum to more than 16 bits
    return None if found == expected else wrong_sum(found, expected, digits=4)


class _Reader(RecordReader):
    container = NAME
    end_record = "a record of count 00"
    data_types = (DATA,)

    def parse(self, line: bytes) -> LineRecord:
        return parse_record(line)

    def take(self, record: LineRecord, line: int) -> None:
        if record.type == LAST and self.end(record) and record.address != self.data_records % 0x1_0000:
            self.builder.problem(wrong_count(record.address, self.data_records).at(line))


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a file.

    Args:
        text: The whole file.
        keep_doubtful: Keep what can be kept and record the doubts.
        manner: How the text is taken beyond that.

    Raises:
        InputError: At the first problem, with its line.

    Example:
        >>> read(b";06024802C8CAD0F860040C\r\n\0\0\0\0\0\0;0000010001\r\n\0\0\0\0\0\0\x13").segments
        (Segment(start=584, data=b'\x02\xc8\xca\xd0\xf8`'),)
    """
    return read_lines(text, _Reader(keep_doubtful, manner))
