"""The registers of CRCs at any offset of one image, from one pass over its bytes a polynomial."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache


class Registers:
    """The register of one CRC polynomial before every cut, started from zero.

    A CRC is linear: the register after bytes a to b, started from r, is the register after b bytes of the image
    combined with what the difference at a becomes when it is shifted on by b - a bytes. Rows that differ only in
    their first and last step share these registers, so the image is read once a polynomial, whatever the ranges.

    Source: W. W. Peterson and D. T. Brown, Cyclic Codes for Error Detection, Proceedings of the IRE, January 1961.
    """

    def __init__(self, data: bytes, cuts: Sequence[int], width: int, poly: int, reflected: bool) -> None:
        import crcmod  # only where such a check value is taken

        self._width, self._poly, self._reflected = width, poly, reflected
        self._step = step = crcmod.mkCrcFun(1 << width | poly, initCrc=0, rev=reflected, xorOut=0)
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

    def run_over(self, register: int, data: bytes) -> int:
        """Run from a register over a few bytes that stand in the place of others."""
        on = _power_of_x(8 * len(data), self._width, self._poly)
        alone = self._step(data, 0)
        if self._reflected:
            alone = reversed_bits(alone, self._width)
        return _product(register, on, self._width, self._poly) ^ alone


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
