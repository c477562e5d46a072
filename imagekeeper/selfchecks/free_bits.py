"""How many bits of a figure the bytes are free to choose: lines that never change and short ranges leave fewer.

A sum over bytes whose low lines never change has low bits that are known in advance, and a sum over few bytes never
reaches its high bits. Such bits prove nothing where they fit.
"""

from __future__ import annotations

from imagekeeper.selfchecks.figures import ByteOrder, Figures, Ranges


def length(over: Ranges) -> int:
    """Count the bytes of some ranges."""
    return sum(end - start for start, end in over)


def _lowest(lines: int) -> int:
    return (lines & -lines).bit_length() - 1


def of_sum(lines: int, count: int, bits: int) -> int:
    """Count the free bits of a plain sum.

    Args:
        lines: The lines that change, one bit a line.
        count: How many are added up.
        bits: Width of the sum. [bit]

    Example:
        >>> of_sum(0xFF, 4096, 16), of_sum(0xF0, 4096, 16), of_sum(0xFF, 64, 16), of_sum(0, 4096, 16)
        (16, 12, 14, 0)
    """
    if not lines:
        return 0
    low = _lowest(lines)
    return max(min(bits - low, (count * (lines >> low)).bit_length()), 0)


def of_carried(lines: int, count: int, bits: int) -> int:
    """The same of a sum with end-around carry, in which no bit is the lowest.

    Example:
        >>> of_carried(0xF0, 4096, 16), of_carried(0x80, 64, 16)
        (16, 7)
    """
    return min(bits, (count * (lines >> _lowest(lines))).bit_length()) if lines else 0


def word_lines(figures: Figures, order: ByteOrder) -> int:
    """The lines of 16-bit words that change, one bit a line."""
    low, high = figures.variety.even, figures.variety.odd
    return low | high << 8 if order == "little" else high | low << 8


def of_bytes(bits: int, figures: Figures, over: Ranges) -> int:
    """Count the free bits of a sum of bytes."""
    return of_sum(figures.variety.all, length(over), bits)


def of_words(bits: int, order: ByteOrder, figures: Figures, over: Ranges) -> int:
    """Count the free bits of a sum of 16-bit words."""
    return of_sum(word_lines(figures, order), length(over) // 2, bits)


def of_long_words(order: ByteOrder, figures: Figures, over: Ranges) -> int:
    """Count the free bits of a 32-bit sum of 32-bit words."""
    lines = int.from_bytes(bytes(figures.variety.lanes), order)
    return of_sum(lines, length(over) // 4, 32)


def of_lanes(each: int, figures: Figures, over: Ranges) -> int:
    """Count the free bits of two sums, of the even and of the odd bytes, each of so many bits."""
    count = length(over) // 2
    return of_sum(figures.variety.even, count, each) + of_sum(figures.variety.odd, count, each)


def of_carried_bytes(figures: Figures, over: Ranges) -> int:
    """Count the free bits of an 8-bit sum with end-around carry; of mirrored bytes it is fixed in advance."""
    return 0 if figures.mirrored else of_carried(figures.variety.all, length(over), 8)


def of_carried_words(figures: Figures, over: Ranges) -> int:
    """Count the free bits of a 16-bit sum with end-around carry; of mirrored bytes it is fixed in advance."""
    return 0 if figures.mirrored else of_carried(word_lines(figures, "little"), length(over) // 2, 16)


def of_running(modulus: int, figures: Figures, over: Ranges) -> int:
    """Count the free bits of two 8-bit running sums modulo 255 or 256."""
    one = of_carried if modulus == 255 else of_sum
    return 2 * one(figures.variety.all, length(over), 8)


def of_running_words(figures: Figures, over: Ranges) -> int:
    """Count the free bits of two 16-bit running sums of words modulo 65535."""
    return 16 + of_carried(word_lines(figures, "little"), length(over) // 2, 16)


def of_running_digits(figures: Figures, over: Ranges) -> int:
    """Count the free bits of two running sums of hexadecimal digits modulo 15."""
    return 8 if figures.variety.all and length(over) >= 15 else 0


def of_running_prime(figures: Figures, over: Ranges) -> int:
    """Count the free bits of two 16-bit running sums of bytes modulo a prime."""
    return 16 + of_carried(figures.variety.all, length(over), 16)


def of_xor(figures: Figures, over: Ranges) -> int:
    """Count the free bits of an exclusive or of bytes."""
    return figures.variety.all.bit_count()


def of_word_xor(figures: Figures, over: Ranges) -> int:
    """Count the free bits of an exclusive or of 16-bit words."""
    return figures.variety.even.bit_count() + figures.variety.odd.bit_count()


def of_crc(bits: int, figures: Figures, over: Ranges) -> int:
    """Count the free bits of a CRC: any byte that changes moves all of them."""
    return bits


def of_pair(bits: int, figures: Figures, over: Ranges) -> int:
    """Count what speaks for a sum of some bits that is stored beside its complement.

    Values beside their complement are met in tables too, so the complement counts half its bits: our judgement.
    """
    return of_bytes(bits, figures, over) + bits // 2
