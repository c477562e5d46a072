"""Other forms in which an image may be known: without padding, once instead of several times, as lanes, as halves.

Bytes in, values out. Common practice, no source: chips are padded with FF or 00, smaller images are repeated to fill
larger chips, and 16-bit machines keep even and odd bytes in chips of their own.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

#: Less than this is no content to know an image by. [byte]
LEAST = 64

#: Larger images are known by their digests only: no chip holds more, few floppies a tenth. [byte]
LIMIT = 32 << 20

#: The bytes that chips are padded with.
FILLS = (0xFF, 0x00)


@dataclass(frozen=True)
class Core:
    """What is left of an image without padding and repetition.

    Attributes:
        data: The bytes.
        copies: How many times over the image held them.
        before: How many fill bytes stood before. [byte]
        behind: How many fill bytes stood behind. [byte]
    """

    data: bytes
    copies: int
    before: int
    behind: int


def core(data: bytes) -> Core:
    r"""Take fill away at both ends, and repetition.

    Example:
        >>> core((b"TIDE GAUGE" + b"\xff" * 6) * 2)
        Core(data=b'TIDE GAUGE', copies=2, before=0, behind=6)
        >>> core(b"\xff" * 16).data
        b''
    """
    copies, before, behind = 1, 0, 0
    while True:
        size = len(data)
        unit = _unit(data)
        copies *= size // unit if unit else 1
        data = data[:unit]
        for fill in FILLS:
            kept = data.rstrip(bytes([fill]))
            behind += len(data) - len(kept)
            data = kept.lstrip(bytes([fill]))
            before += len(kept) - len(data)
        if len(data) in (0, size):
            return Core(data, copies, before, behind)


def _unit(data: bytes) -> int:
    """Give the size of the shortest part that the data are whole copies of. [byte]"""
    unit = len(data)
    rest, factor = unit, 2
    while factor * factor <= rest:
        while rest % factor == 0:
            rest //= factor
            unit = _divided(data, unit, factor)
        factor += 1
    return _divided(data, unit, rest) if rest > 1 else unit


def _divided(data: bytes, unit: int, factor: int) -> int:
    shorter = unit // factor
    return shorter if data[shorter:unit] == data[: unit - shorter] else unit


def core_digest(data: bytes) -> bytes | None:
    """Digest the core; None where it is too short to know an image by."""
    found = core(data).data
    return short_digest(found) if len(found) >= LEAST else None


def parts(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Give the parts that other chips may hold: lanes and halves, without those of a single value.

    Example:
        >>> [what for what, _ in parts(bytes(range(128)))]
        ['lane 0 of 2', 'lane 1 of 2', 'the lower half', 'the upper half']
    """
    for lanes in (2, 4):
        if len(data) % lanes == 0:
            for lane in range(lanes):
                yield from _worth(f"lane {lane} of {lanes}", data[lane::lanes])
    if len(data) % 2 == 0:
        half = len(data) // 2
        yield from _worth("the lower half", data[:half])
        yield from _worth("the upper half", data[half:])


def _worth(what: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    if len(data) >= LEAST and data.count(data[0]) < len(data):
        yield what, data


def short_digest(data: bytes) -> bytes:
    """Give the first 16 bytes of a SHA-256: enough to find what is then compared."""
    return hashlib.sha256(data).digest()[:16]
