"""Sums, exclusive ors, position sums and CRCs over many ranges of one image, from one pass over its bytes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from imagekeeper.selfchecks.registers import Registers, reversed_bits
from imagekeeper.selfchecks.tallies import LANES, Totals, tally
from imagekeeper.tables import Crc
from imagekeeper.units import MIB

ByteOrder = Literal["little", "big"]

#: Ranges of offsets, first included and last not; together they are what a check value is taken over. [byte]
Ranges = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Variety:
    """Which data lines ever change; the figures of bits that never change are known in advance.

    Attributes:
        even: The lines that change among bytes at even offsets, one bit a line.
        odd: The same at odd offsets.
        lanes: The same at offsets 0, 1, 2 and 3 modulo 4.
    """

    even: int
    odd: int
    lanes: tuple[int, int, int, int]

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
        self._marks: dict[int, Totals] = {}
        self._registers: dict[tuple[int, int, bool], Registers] = {}
        so_far, before = Totals(), 0
        for cut in self._cuts:
            so_far = so_far.after(tally(data, before, cut))
            self._marks[cut] = so_far
            before = cut
        self.size = len(data)
        one, some = so_far.common, so_far.any
        self.variety = Variety(
            (some[0] | some[2]) & ~(one[0] & one[2]), (some[1] | some[3]) & ~(one[1] & one[3]),
            (some[0] & ~one[0], some[1] & ~one[1], some[2] & ~one[2], some[3] & ~one[3]),
        )  # fmt: skip

    @cached_property
    def mirrored(self) -> bool:
        """Whether nearly every byte stands beside its complement, as in ramps and in data with their inverse.

        With end-around carry such bytes add up to zero by themselves.
        """
        import numpy as np  # slow to load: only where there is work for it

        values, apart = np.frombuffer(self._data, np.uint8), 0
        for lane in (0, 1):
            counts = np.zeros(256, np.int64)
            for at in range(lane, self.size, MIB):   # a count of bytes takes eight times their memory
                counts += np.bincount(values[at : at + MIB : 2], minlength=256)
            apart += int(np.abs(counts - counts[::-1]).sum())
        return 16 * apart <= self.size

    def quarters(self, ranges: Ranges) -> tuple[int, ...]:
        """Add up the bytes at offsets 0, 1, 2 and 3 modulo 4."""
        marks = [(self._marks[a].sums, self._marks[b].sums) for a, b in ranges]
        return tuple(sum(b[lane] - a[lane] for a, b in marks) for lane in range(LANES))

    def lanes(self, ranges: Ranges) -> tuple[int, int]:
        """Add up the bytes at even and at odd offsets."""
        sums = self.quarters(ranges)
        return sums[0] + sums[2], sums[1] + sums[3]

    def total(self, ranges: Ranges) -> int:
        """Add up all bytes."""
        return sum(self.quarters(ranges))

    def words(self, ranges: Ranges, order: ByteOrder) -> int:
        """Add up the 16-bit words; every range must start and end at the side of a word."""
        even, odd = self.lanes(ranges)
        if ranges[0][0] % 2:
            even, odd = odd, even
        return even + 256 * odd if order == "little" else 256 * even + odd

    def long_words(self, ranges: Ranges, order: ByteOrder) -> int:
        """Add up the 32-bit words; every range must start and end at the side of one."""
        sums = self.quarters(ranges)
        return sum(part << 8 * (lane if order == "little" else 3 - lane) for lane, part in enumerate(sums))

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

    def running(self, ranges: Ranges) -> tuple[int, int]:
        """Add up all bytes, and the sums that stand behind each of them (J. G. Fletcher's two sums, not reduced).

        Example:
            >>> Figures(b"abcde", []).running(((0, 5),))   # by hand: 97 + ... + 101; 97*5 + 98*4 + ... + 101
            (495, 1475)
        """
        first = second = 0
        for a, b in ranges:
            before, after = self._marks[a], self._marks[b]
            part = sum(after.sums) - sum(before.sums)
            second += (b - a) * first + b * part - (sum(after.moments) - sum(before.moments))
            first += part
        return first, second

    def running_words(self, ranges: Ranges, order: ByteOrder) -> tuple[int, int]:
        """The same of 16-bit words; every range must start and end at the side of a word."""
        first = second = 0
        for a, b in ranges:
            even, odd = self.lanes(((a, b),))
            before, after = self._marks[a].moments, self._marks[b].moments
            by_even, by_odd = (after[0] - before[0]) // 2, (after[1] - before[1] - odd) // 2
            low, high = (1, 256) if order == "little" else (256, 1)
            part = low * even + high * odd
            second += (b - a) // 2 * first + b // 2 * part - (low * by_even + high * by_odd)
            first += part
        return first, second

    def running_digits(self, ranges: Ranges) -> tuple[int, int]:
        """The same of the hexadecimal digits, the high one first, both modulo 15."""
        first = second = 0
        for a, b in ranges:
            before, after = self._marks[a], self._marks[b]
            part = sum(after.sums) - sum(before.sums)   # a byte is the sum of its digits modulo 15
            by_place = b * part - (sum(after.moments) - sum(before.moments))
            second += 2 * (b - a) * first + 2 * by_place - (after.low_digits - before.low_digits)
            first += part
        return first % 15, second % 15

    def crc(self, row: Crc, ranges: Ranges, instead: tuple[int, bytes] | None = None) -> int:
        """Take a CRC over the ranges, one after the other.

        Args:
            row: The CRC.
            ranges: What it is taken over.
            instead: Behind how many of the ranges some bytes are counted that are not in the image, and those bytes.
        """
        kind = (row.width, row.poly, row.reflected)
        if kind not in self._registers:
            self._registers[kind] = Registers(self._data, self._cuts, *kind)
        steps, register = self._registers[kind], row.init
        for number, (start, end) in enumerate(ranges):
            if instead and instead[0] == number:
                register = steps.run_over(register, instead[1])
            register = steps.run(register, start, end)
        if instead and instead[0] == len(ranges):
            register = steps.run_over(register, instead[1])
        return (reversed_bits(register, row.width) if row.reflected else register) ^ row.xorout
