"""A quick look at an image: whether an inspection could find in it what a fault of the reader or chip leaves.

It needs no library, so that two reads that agree are told so at once. It says too often rather than too seldom yes:
what is found is then said by the rules of the inspection. Crossed, inverted and exchanged lines are not looked for:
they show in words and calls alone, which takes the inspection's own time, and are never more than a warning.
"""

from __future__ import annotations

from itertools import combinations

from imagekeeper.containers.model import Image

#: So much of the beginning is held against its addresses. [byte]
RAMP_BYTES = 4096

#: Smaller ones say nothing of lines: no memory chip is so small. [byte]
SMALLEST = 32

#: Larger images are not looked at: no chip of the period is so large, and a disk has other faults. [byte]
GLANCE_LIMIT = 8 << 20

#: What a quick look is for, as the inspection calls it.
CODES = ("blank", "not-selected", "floating-bus", "data-line-stuck", "data-lines-shorted", "address-lines-shorted")

#: Up to this line, and for the two uppermost, the inspection takes equal quarters for a table's own.
LOW_LINE = 4
#: So many bytes are held against what tied address lines would make of them, of which so many have to be no fill.
SAMPLED, TELLING = 2048, 16


def worth_inspecting(image: Image) -> bool:
    r"""Whether a data line never changes, two lines are tied together, or the bytes repeat their addresses.

    Example:
        >>> worth_inspecting(Image.from_bytes(b"\xff" * 64)), worth_inspecting(Image.from_bytes(bytes(range(64))))
        (True, True)
        >>> worth_inspecting(Image.from_bytes(bytes(i * i * 37 >> 3 & 0xFF for i in range(256))))
        False
    """
    if not SMALLEST <= image.size_bytes <= GLANCE_LIMIT:
        return False
    values: set[int] = set()
    for _, piece in image.pieces():
        values.update(piece)
    ones = [frozenset(value for value in values if value >> line & 1) for line in range(8)]
    if any(len(line) in (0, len(values)) for line in ones):
        return True
    if any(one == other for one, other in combinations(ones, 2)):
        return True
    start, beginning = next(image.pieces(RAMP_BYTES))
    for shift, turned in ((0, 0), (0, 0xFF), (8, 0), (8, 0xFF)):
        follows = sum(byte == ((start + i) >> shift & 0xFF) ^ turned for i, byte in enumerate(beginning))
        if follows * 10 >= len(beginning) * 9:
            return True
    return len(image.segments) == 1 and _addresses_shorted(image.segments[0].data[:])


def _addresses_shorted(data: bytes) -> bool:
    """Whether two address lines may be tied together: no byte that was tried differs where only they are exchanged.

    One byte that does tells surely that these two are not, so that none is missed for being tried by few bytes.
    """
    size = len(data)
    if size & (size - 1):   # the inspection says nothing of such, either
        return False
    # an odd factor leads to other addresses all over the image, each once
    addresses = [n * 0x9E3779B1 % size for n in range(min(size, SAMPLED))]
    values = bytes(data[at] for at in addresses)
    common = max(set(values), key=values.count)
    telling = [(at, value) for at, value in zip(addresses, values, strict=True) if value != common]
    if len(telling) < TELLING:   # nearly all fill
        return size > SAMPLED
    width = size.bit_length() - 1
    return any(
        all(data[at ^ both] == value for at, value in telling if 0 < at & both < both)
        for both in (
            1 << low | 1 << high for low, high in combinations(range(width), 2) if high > LOW_LINE and low != width - 2
        )
    )
