"""Sums, exclusive ors and CRCs over many ranges of one image, from one pass over its bytes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from imagekeeper.tables import Crc

ByteOrder = Literal["little", "big"]

#: Ranges of offsets, first included and last not; together they are what a check value is taken over. [byte]
Ranges = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class _Mark:
    """The figures of everything before one offset; index 0 for even offsets, 1 for odd ones."""

    sums: tuple[int, int]
    xors: tuple[int, int]


@dataclass(frozen=True)
class Variety:
    """Which data lines ever change; the figures of bits that never change are known in advance.

    Attributes:
        even: The lines that change among bytes at even offsets, one bit a line.
        odd: The same at odd offsets.
    """

    even: int
    odd: int

    @property
    def all(self) -> int:
        """The lines that change among all bytes, as far as each lane shows it."""
        return self.even | self.odd


class Figures:
    """The figures of any range between offsets that were announced.

    Args:
        data: The bytes.
        cuts: Every offset at which a range will start or end. [byte]

    Example:
        >>> figures = Figures(b"12345678", [2])
        >>> f"{figures.total(((0, 8),)):X}", f"{figures.words(((0, 8),), 'little') % 65536:X}"
        ('1A4', 'D4D0')
        >>> f"{figures.xor(((2, 8),)):02X}"
        '0B'
    """

    def __init__(self, data: bytes, cuts: Iterable[int]) -> None:
        self._data = data
        self._cuts = sorted({0, len(data), *cuts})
        self._marks: dict[int, _Mark] = {}
        self._registers: dict[tuple[int, int, bool], _Registers] = {}
        lines = [[0xFF, 0x00], [0xFF, 0x00]]
        sums, xors = [0, 0], [0, 0]
        import numpy as np  # slow to load: only where there is work for it

        values, before = np.frombuffer(data, np.uint8), 0
        for cut in self._cuts:
            for lane in (0, 1):
                part = values[before + (before + lane) % 2 : cut : 2]
                if len(part):
                    sums[lane] += int(part.sum(dtype=np.uint64))
                    xors[lane] ^= int(np.bitwise_xor.reduce(part))
                    lines[lane][0] &= int(np.bitwise_and.reduce(part))
                    lines[lane][1] |= int(np.bitwise_or.reduce(part))
            self._marks[cut] = _Mark((sums[0], sums[1]), (xors[0], xors[1]))
            before = cut
        self.variety = Variety(*(low ^ high if high >= low else 0 for low, high in lines))

    def lanes(self, ranges: Ranges) -> tuple[int, int]:
        """Add up the bytes at even and at odd offsets."""
        marks = [(self._marks[a].sums, self._marks[b].sums) for a, b in ranges]
        return sum(b[0] - a[0] for a, b in marks), sum(b[1] - a[1] for a, b in marks)

    def total(self, ranges: Ranges) -> int:
        """Add up all bytes."""
        return sum(self.lanes(ranges))

    def words(self, ranges: Ranges, order: ByteOrder) -> int:
        """Add up the 16-bit words; every range must start and end at the side of a word."""
        even, odd = self.lanes(ranges)
        if ranges[0][0] % 2:
            even, odd = odd, even
        return even + 256 * odd if order == "little" else 256 * even + odd

    def xor_lanes(self, ranges: Ranges) -> tuple[int, int]:
        """Combine the bytes at even and at odd offsets by exclusive or."""
        even = odd = 0
        for a, b in ranges:
            before, after = self._marks[a].xors, self._marks[b].xors
            even ^= before[0] ^ after[0]
            odd ^= before[1] ^ after[1]
        return even, odd

    def xor(self, ranges: Ranges) -> int:
        """Combine all bytes by exclusive or."""
        even, odd = self.xor_lanes(ranges)
        return even ^ odd

    def crc(self, row: Crc, ranges: Ranges) -> int:
        """Take a CRC over the ranges, one after the other."""
        kind = (row.width, row.poly, row.reflected)
        if kind not in self._registers:
            self._registers[kind] = _Registers(self._data, self._cuts, *kind)
        register = row.init
        for start, end in ranges:
            register = self._registers[kind].run(register, start, end)
        return (reversed_bits(register, row.width) if row.reflected else register) ^ row.xorout


class _Registers:
    """The register of one CRC polynomial before every cut, started from zero.

    A CRC is linear: the register after bytes a to b, started from r, is the register after b bytes of the image
    combined with what the difference at a becomes when it is shifted on by b - a bytes. Rows that differ only in
    their first and last step share these registers, so the image is read once a polynomial, whatever the ranges.

    Source: W. W. Peterson and D. T. Brown, Cyclic Codes for Error Detection, Proceedings of the IRE, January 1961.
    """

    def __init__(self, data: bytes, cuts: Sequence[int], width: int, poly: int, reflected: bool) -> None:
        import crcmod  # only where such a check value is taken

        self._width, self._poly = width, poly
        step = crcmod.mkCrcFun(1 << width | poly, initCrc=0, rev=reflected, xorOut=0)
        self._at: dict[int, int] = {}
        register, before, view = 0, 0, memoryview(data)
        for cut in cuts:
            register = step(view[before:cut], register)
            self._at[cut] = reversed_bits(register, width) if reflected else register
            before = cut

    def run(self, register: int, start: int, end: int) -> int:
        """Run from a register over the bytes from `start` to `end`."""
        on = _power_of_x(8 * (end - start), self._width, self._poly)
        return _product(register ^ self._at[start], on, self._width, self._poly) ^ self._at[end]


def reversed_bits(value: int, width: int) -> int:
    """Give a number with its bits in the opposite order.

    Example:
        >>> reversed_bits(0x8005, 16) == 0xA001
        True
    """
    return int(f"{value:0{width}b}"[::-1], 2)


def _product(a: int, b: int, width: int, poly: int) -> int:
    """Multiply two polynomials over bits, modulo a CRC's polynomial."""
    top, whole, result = 1 << width, 1 << width | poly, 0
    while b:
        if b & 1:
            result ^= a
        b >>= 1
        a <<= 1
        if a & top:
            a ^= whole
    return result


@cache
def _power_of_x(exponent: int, width: int, poly: int) -> int:
    """The polynomial x to some power, modulo a CRC's polynomial."""
    result, square = 1, 2
    while exponent:
        if exponent & 1:
            result = _product(result, square, width, poly)
        square = _product(square, square, width, poly)
        exponent >>= 1
    return result
