"""Bytes to cells and back, in FM and MFM, with marks that miss clocks.

A byte becomes sixteen cells: for each bit, most significant first, a clock and the bit itself. In FM every clock is 1.
In MFM a clock is 1 only between two bits that are 0. Marks leave clocks out, so that no data can look like them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from imagekeeper.floppy.recording import recording

Bits = npt.NDArray[np.uint8]

#: The clocks of bytes that miss some. Source: Western Digital, FD 179X-02 data sheet, May 1980, control bytes of
#: "Write track": in FM C7, and D7 for the index mark; in MFM A1 without the clock between its bits 4 and 5, C2
#: without that between bits 3 and 4, counted in the order of writing from 0.
FM_CLOCKS = {0xFE: 0xC7, 0xFB: 0xC7, 0xFA: 0xC7, 0xF9: 0xC7, 0xF8: 0xC7, 0xFC: 0xD7}
MFM_CLOCKS = {0xA1: 0x0A, 0xC2: 0x14}


@dataclass(frozen=True)
class Cells:
    """A stretch of cells, eight to a byte, the first in the most significant bit.

    Attributes:
        packed: The cells.
        count: How many of them count; the rest of the last byte is 0.
    """

    packed: bytes
    count: int

    @classmethod
    def of(cls, bits: Any) -> Cells:
        r"""Pack an array of cells that are 0 or 1.

        Example:
            >>> Cells.of([1, 0, 1])
            Cells(packed=b'\xa0', count=3)
        """
        array = np.asarray(bits, dtype=np.uint8)
        return cls(np.packbits(array).tobytes(), len(array))

    def bits(self) -> Bits:
        """Give an array with one element a cell; a count beyond the bytes is cut to them."""
        held = np.unpackbits(np.frombuffer(self.packed, np.uint8))
        return held[: max(self.count, 0)]


def encode(data: bytes, encoding: str, marks: Sequence[int] = ()) -> Bits:
    """Turn bytes into cells.

    Args:
        data: The bytes.
        encoding: fm, mfm or perpendicular, which has the cells of mfm.
        marks: The places in `data` of the bytes that miss clocks.

    Raises:
        UsageError: `unknown-name`.
        ValueError: A byte at one of the places has no form with missing clocks.

    Example:
        >>> Cells.of(encode(bytes([0xA1]), "mfm", [0])).packed.hex(), Cells.of(encode(b"N", "mfm")).packed.hex()
        ('4489', '9254')
    """
    fm = recording(encoding).encoding == "fm"
    values = np.unpackbits(np.frombuffer(data, np.uint8))
    cells = np.empty(2 * len(values), np.uint8)
    cells[1::2] = values
    if fm:
        cells[0::2] = 1
    else:
        cells[0:1] = 1 - values[0:1]   # what was before counts as 0, as the end of every gap and sync is
        cells[2::2] = 1 - (values[1:] | values[:-1])
    clocks = FM_CLOCKS if fm else MFM_CLOCKS
    for place in marks:
        if data[place] not in clocks:
            raise ValueError(f"{data[place]:02X} is no mark of {encoding}")
        cells[16 * place : 16 * place + 16 : 2] = [clocks[data[place]] >> bit & 1 for bit in range(7, -1, -1)]
    return cells


def decode(cells: Bits, start: int, length: int) -> bytes:
    """Turn cells into bytes, whatever their clocks.

    Args:
        cells: One element a cell.
        start: The clock cell of the first bit.
        length: How many bytes; fewer are given where the cells end.

    Example:
        >>> decode(encode(b"tide", "fm"), 16, 9)
        b'ide'
    """
    values = cells[start + 1 : start + 16 * length : 2]
    return np.packbits(values[: len(values) // 8 * 8]).tobytes()


def words(cells: Bits) -> npt.NDArray[np.uint16]:
    """Give, for every cell, the sixteen cells from there on as one number.

    Example:
        >>> [f"{w:04X}" for w in words(np.array([0] + [1] * 16, np.uint8))]
        ['7FFF', 'FFFF']
    """
    found: npt.NDArray[np.uint16] = cells.astype(np.uint16)
    for width in (1, 2, 4, 8):
        if len(found) <= width:
            return found[:0]
        found = (found[:-width] << np.uint16(width)) | found[width:]
    return found


def word(byte: int, encoding: str) -> int:
    """Give the cells of a mark byte as a word.

    Example:
        >>> f"{word(0xFE, 'fm'):04X} {word(0xC2, 'mfm'):04X}"
        'F57E 5224'
    """
    return int.from_bytes(Cells.of(encode(bytes([byte]), encoding, [0])).packed, "big")
