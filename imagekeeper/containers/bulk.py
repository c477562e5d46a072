"""Read long stretches of plain data records at once.

The readable rule of each format is its `parse_record`. Here stands only a shortcut for large files: lines of
one length that follow each other are laid out as a table, one line a row, and decoded together. A row is
taken only when it is a faultless data record in every respect; any other line goes to
`RecordReader.read_line`, in the order of the file.
"""

from __future__ import annotations

import binascii
import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from imagekeeper.containers.lines import BLANKS, chunks, read_lines
from imagekeeper.containers.model import Image
from imagekeeper.containers.records import RecordReader

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]

#: Smaller texts are read line by line: loading numpy would take longer. [byte]
SMALL_BYTES = 64 * 1024

#: Fewer lines of one length than this are not worth a table.
MIN_ROWS = 16


@dataclass(frozen=True, kw_only=True)
class PlainForm:
    """A data record: lead, count byte, address, type byte if any, data, check byte.

    Attributes:
        type: The record's type, as the format numbers it.
        address_bytes: Width of the address. [byte]
        has_type_byte: Whether the type stands behind the address; else the lead says it.
        uncounted: How many bytes of the line the count leaves out. [byte]
        total: The low byte of the sum of all bytes, check byte included.
        limit: The address that no byte may reach. [byte]
    """

    type: int
    address_bytes: int
    has_type_byte: bool
    uncounted: int
    total: int
    limit: int

    @property
    def data_at(self) -> int:
        """How far into the record the data begins. [byte]."""
        return 1 + self.address_bytes + self.has_type_byte


def read_records(text: bytes, forms: Mapping[bytes, PlainForm], reader: RecordReader) -> Image:
    """Read a record file, plain stretches at once.

    Args:
        text: The whole file.
        forms: The data records of the format by what their lines begin with.
        reader: Takes what is found, as if it came line by line.

    Raises:
        InputError: As the reader does.
    """
    if len(text) < SMALL_BYTES:
        return read_lines(text, reader)
    line = 1
    for chunk in chunks(text):
        line += _read_chunk(chunk, line, forms, reader)
    return reader.finish()


def _read_chunk(chunk: bytes, first: int, forms: Mapping[bytes, PlainForm], reader: RecordReader) -> int:
    """Read some whole lines; give their number."""
    import numpy as np  # slow to load: only where there is work for it

    if b"\r" in chunk:
        chunk = chunk.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not chunk.endswith(b"\n"):
        chunk += b"\n"
    characters = np.frombuffer(chunk, np.uint8)
    ends = np.flatnonzero(characters == ord("\n"))
    starts = np.concatenate(([0], ends[:-1] + 1))
    lengths = ends - starts
    changes = np.flatnonzero(lengths[1:] != lengths[:-1]) + 1
    borders = [0, *changes.tolist(), len(ends)]
    for row, after in itertools.pairwise(borders):
        start, length = int(starts[row]), int(lengths[row])
        if not length:
            continue
        lead = next((lead for lead in forms if chunk.startswith(lead, start)), None)
        if after - row >= MIN_ROWS and lead is not None:
            table = characters[start : start + (after - row) * (length + 1)].reshape(-1, length + 1)
            _read_table(table[:, :length], first + row, lead, forms[lead], reader)
        else:
            for i in range(row, after):
                _read_one(chunk[starts[i] : ends[i]], first + i, reader)
    return len(ends)


def _read_one(line: bytes, number: int, reader: RecordReader) -> None:
    if line := line.strip(BLANKS):
        reader.read_line(number, line)


def _read_table(table: Bytes, first: int, lead: bytes, form: PlainForm, reader: RecordReader) -> None:
    """Read lines of one length, each a row."""
    import numpy as np  # slow to load: only where there is work for it

    count, length = table.shape
    width, odd = divmod(length - len(lead), 2)
    data_bytes = width - form.data_at - 1
    if odd or data_bytes < 1 or width - form.uncounted > 0xFF:
        for i in range(count):
            _read_one(table[i].tobytes(), first + i, reader)
        return
    values, plain = _decode(np.ascontiguousarray(table[:, len(lead) :]))
    for column, character in enumerate(lead):
        plain &= table[:, column] == character
    plain &= values[:, 0] == width - form.uncounted
    plain &= np.add.reduce(values, axis=1, dtype=np.uint8) == form.total
    if form.has_type_byte:
        plain &= values[:, form.data_at - 1] == form.type
    addresses = np.zeros(count, np.int64)
    for column in range(1, 1 + form.address_bytes):
        addresses = (addresses << 8) | values[:, column]
    plain &= addresses <= form.limit - data_bytes
    # A run goes on while both neighbours are plain and the second begins where the first ends.
    goes_on = plain[1:] & plain[:-1] & (addresses[1:] - addresses[:-1] == data_bytes)
    borders = [0, *(np.flatnonzero(~goes_on) + 1).tolist(), count]
    payload: Any = values[:, form.data_at : -1]
    for row, after in itertools.pairwise(borders):
        if plain[row]:
            data = payload[row:after].tobytes()
            reader.read_run(form.type, int(addresses[row]), data, data_bytes, first + row)
        else:
            _read_one(table[row].tobytes(), first + row, reader)


def _decode(digits: Bytes) -> tuple[Bytes, npt.NDArray[np.bool_]]:
    """Turn rows of digits into rows of bytes, and tell which rows hold nothing but digits."""
    import numpy as np  # slow to load: only where there is work for it

    good = np.ones(len(digits), np.bool_)
    try:
        values = binascii.unhexlify(digits.data)
    except binascii.Error:
        upper = digits & 0xDF   # lower case to upper
        decimal = (digits >= ord("0")) & (digits <= ord("9"))
        good &= (decimal | ((upper >= ord("A")) & (upper <= ord("F")))).all(axis=1)
        digits = np.where(good[:, None], digits, np.uint8(ord("0")))
        values = binascii.unhexlify(digits.data)
    return np.frombuffer(values, np.uint8).reshape(len(digits), -1), good
