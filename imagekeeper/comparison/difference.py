"""Where and how reads differ: the counts by range, direction, data line and address line."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.units import ADDRESS_LIMIT


@dataclass(frozen=True)
class Range:
    """Consecutive addresses that all differ.

    Attributes:
        start: First address. [byte]
        length: How many addresses. [byte]
        zero_to_one: Bits there that are 0 in the first read and 1 in another.
        one_to_zero: Bits there that are 1 in the first read and 0 in another.
    """

    start: int
    length: int
    zero_to_one: int
    one_to_zero: int


@dataclass(frozen=True)
class DataLineDifference:
    """How one data line contributes to the differences.

    Attributes:
        line: D0 for the least significant bit of each byte, to D7.
        zero_to_one: Addresses where it is 0 in the first read and 1 in another.
        one_to_zero: Addresses where it is 1 in the first read and 0 in another.
    """

    line: str
    zero_to_one: int
    one_to_zero: int


@dataclass(frozen=True)
class AddressLine:
    """How the differing addresses divide over one address line.

    Attributes:
        line: A0 for the least significant bit of the address, and so on.
        low: Differing addresses where the line is 0.
        high: Differing addresses where the line is 1.
    """

    line: str
    low: int
    high: int


@dataclass(frozen=True)
class DifferenceMap:
    """How the differing bits lie over the addresses: counts in columns of equal width.

    Attributes:
        start: Address where the first column begins. [byte]
        column_bytes: Addresses in a column; the last may be shorter. [byte]
        zero_to_one: One row a data line, D0 first, of one count a column.
        one_to_zero: The same for the other direction.
    """

    start: int
    column_bytes: int
    zero_to_one: tuple[tuple[int, ...], ...]
    one_to_zero: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Differences:
    """Where and how reads differ, over the addresses that all of them hold.

    With more than two reads every count is of the first read against all others together: an address or bit
    counts once, however many reads differ there.

    Attributes:
        bytes: Addresses where not all reads are equal.
        bits: Bits where not all reads are equal.
        zero_to_one: Bits that are 0 in the first read and 1 in another.
        one_to_zero: Bits that are 1 in the first read and 0 in another.
        ranges: The differing ranges, ascending, the first thousand of them.
        ranges_total: How many differing ranges there are.
        data_lines: One a data line, D0 first.
        address_lines: One an address line that the image uses, A0 first.
        compared_bytes: How many addresses were compared. [byte]
    """

    bytes: int
    bits: int
    zero_to_one: int
    one_to_zero: int
    ranges: tuple[Range, ...]
    ranges_total: int
    data_lines: tuple[DataLineDifference, ...]
    address_lines: tuple[AddressLine, ...]
    compared_bytes: int


def address_lines_below(end_address: int) -> int:
    """Count the address lines that addresses below `end_address` use, at least one.

    Example:
        >>> address_lines_below(2048), address_lines_below(1)
        (11, 1)
    """
    return max((min(end_address, ADDRESS_LIMIT) - 1).bit_length(), 1)


def no_differences(compared_bytes: int, end_address: int) -> Differences:
    """Give the counts of reads that agree.

    Example:
        >>> no_differences(2048, 2048).bits
        0
    """
    return Differences(
        bytes=0, bits=0, zero_to_one=0, one_to_zero=0, ranges=(), ranges_total=0,
        data_lines=tuple(DataLineDifference(f"D{bit}", 0, 0) for bit in range(8)),
        address_lines=tuple(AddressLine(f"A{i}", 0, 0) for i in range(address_lines_below(end_address))),
        compared_bytes=compared_bytes,
    )  # fmt: skip
