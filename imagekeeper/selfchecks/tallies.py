"""What is added up of every stretch of bytes, so that sums over any range come from differences."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, reduce
from operator import add, and_, or_, xor
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: Sums are kept apart by the offset modulo this, so that words of 16 and 32 bits can be told from them. [byte]
LANES = 4

#: Shorter stretches are added up without numpy, whose calls would take longer. [byte]
_SHORT = 64

#: So many bytes are one row of a product of matrices: position sums within a row stay exact in 53 bits. [byte]
_ROW = 4096

#: So many rows are taken at once: a byte takes eight times its memory there, and larger products wake other threads.
_ROWS = 16

_Four = tuple[int, int, int, int]


@dataclass(frozen=True, kw_only=True)
class Totals:
    """What a stretch of bytes adds up to.

    Attributes:
        sums: The bytes added up, by their offset modulo 4.
        xors: The bytes at even and at odd offsets combined by exclusive or.
        moments: Every byte times its offset in the image, added up, at even and at odd offsets.
        low_digits: The low four bits added up.
        common: The bits that all bytes have, by their offset modulo 4.
        any: The bits that one byte has at least.
    """

    sums: _Four = (0, 0, 0, 0)
    xors: tuple[int, int] = (0, 0)
    moments: tuple[int, int] = (0, 0)
    low_digits: int = 0
    common: _Four = (0xFF, 0xFF, 0xFF, 0xFF)
    any: _Four = (0, 0, 0, 0)

    def after(self, more: Totals) -> Totals:
        """The tally of this stretch and one behind it."""
        return Totals(
            sums=_four(map(add, self.sums, more.sums)),
            xors=(self.xors[0] ^ more.xors[0], self.xors[1] ^ more.xors[1]),
            moments=(self.moments[0] + more.moments[0], self.moments[1] + more.moments[1]),
            low_digits=self.low_digits + more.low_digits,
            common=_four(map(and_, self.common, more.common)),
            any=_four(map(or_, self.any, more.any)),
        )


def _four(values: Iterable[int]) -> _Four:
    a, b, c, d = values
    return a, b, c, d


def tally(data: bytes, start: int, end: int) -> Totals:
    """Add up the bytes from one offset to another.

    Example:
        >>> found = tally(b"12345678", 2, 8)
        >>> found.sums, f"{found.xors[0] ^ found.xors[1]:02X}"
        ((53, 54, 106, 108), '0B')
    """
    if end - start <= _SHORT:
        return _short(data, start, end)
    first, last = start + -start % LANES, end - end % LANES
    return _short(data, start, first).after(_long(data, first, last)).after(_short(data, last, end))


def _short(data: bytes, start: int, end: int) -> Totals:
    lanes = [data[start + (lane - start) % LANES : end : LANES] if start < end else b"" for lane in range(LANES)]
    moments = [0, 0]
    for at in range(start, end):
        moments[at % 2] += at * data[at]
    return Totals(
        sums=_four(map(sum, lanes)),
        xors=(reduce(xor, lanes[0] + lanes[2], 0), reduce(xor, lanes[1] + lanes[3], 0)),
        moments=(moments[0], moments[1]),
        low_digits=sum(byte & 0x0F for byte in data[start:end]),
        common=_four(reduce(and_, lane, 0xFF) for lane in lanes),
        any=_four(reduce(or_, lane, 0) for lane in lanes),
    )


def _long(data: bytes, start: int, end: int) -> Totals:
    """The same, of whole groups of four bytes."""
    import numpy as np  # slow to load: only where there is work for it

    values = np.frombuffer(data, np.uint8, end - start, start)
    # one product of matrices gives the sum of each lane and the position sums, of every row
    sums, moments, low_digits = np.zeros(LANES, np.int64), np.zeros(2, np.int64), 0
    for at in range(0, len(values), _ROW * _ROWS):
        part = values[at : at + _ROW * _ROWS]
        low_digits += int((part & 0x0F).sum(dtype=np.int64))
        short = len(part) < _ROW
        rows = part.reshape(1, -1) if short else part[: len(part) // _ROW * _ROW].reshape(-1, _ROW)
        for piece, offset in ((rows, at), (part[rows.size :].reshape(1, -1), at + rows.size)):
            if not piece.size:
                continue
            found = (piece.astype(np.float64) @ _weights()[: piece.shape[1]]).astype(np.int64)
            sums += found[:, :LANES].sum(axis=0)
            before = start + offset + np.arange(len(piece), dtype=np.int64) * _ROW   # what each row begins at
            lanes = found[:, 0:2] + found[:, 2:4]
            moments += found[:, LANES:].sum(axis=0) + (lanes * before[:, None]).sum(axis=0)
    groups, both = values.view("<u4"), int(np.bitwise_xor.reduce(values.view("<u2")))
    return Totals(
        sums=_four(map(int, sums)),
        xors=(both & 0xFF, both >> 8),
        moments=(int(moments[0]), int(moments[1])),
        low_digits=low_digits,
        common=_four(int(np.bitwise_and.reduce(groups)).to_bytes(LANES, "little")),
        any=_four(int(np.bitwise_or.reduce(groups)).to_bytes(LANES, "little")),
    )


@cache
def _weights() -> NDArray[np.float64]:
    """One column a lane, and two of offsets in the row, even and odd."""
    import numpy as np  # slow to load: only where there is work for it

    places = np.arange(_ROW)
    columns = [places % LANES == lane for lane in range(LANES)]
    columns += [places * (places % 2 == parity) for parity in (0, 1)]
    return np.stack(columns, axis=1).astype(np.float64)
