"""Fingerprints: the figures by which an image is known, in one pass over bytes of any amount."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Literal, Protocol

from imagekeeper.addresses import Doubt, Span
from imagekeeper.containers.model import Image
from imagekeeper.digests import Crc32, Stream, feed, new
from imagekeeper.errors import UsageError

if TYPE_CHECKING:
    from imagekeeper.tables import Crc

#: From this size on numpy pays for being imported. [byte]
VECTOR_BYTES = 1 << 18

DIGESTS = ("md5", "sha512")
SUMS = ("sum8-complement", "sum8-inverse", "sum16-complement", "sum16-words-le", "sum16-words-be")


@dataclass(frozen=True, kw_only=True)
class Fingerprint:
    """The figures of one image. All are taken over the bytes present, in address order; gaps contribute nothing.

    Attributes:
        name: The file's name as given, made printable.
        container: The kind of file: raw, intel-hex, ...
        wrapped_in: gzip, zip, or several outermost first as in zip+gzip; null for nothing.
        size_bytes: How many bytes are present. [byte]
        span_bytes: From the first to the last address, gaps included. [byte]
        first_address: The lowest address. [byte]
        gaps: Addresses between the first and the last that hold nothing.
        crc32: CRC-32/ISO-HDLC, eight upper-case digits.
        sha1: SHA-1, lower case.
        sha256: SHA-256, lower case: the identity of the image.
        sum8: Sum of the bytes, modulo 256.
        sum16: Sum of the bytes, modulo 65536: the usual figure on a chip's label.
        sum32: Sum of the bytes, modulo 2^32.
        xor8: Exclusive or of the bytes.
        blank: The byte that all bytes equal, as "FF", or null.
        doubts: Bytes that the file itself speaks against.
        more: Figures asked for by name: MD5, SHA-512, any CRC of the table, other sums.
        name_base64: The exact bytes of the file name where text cannot carry them, else null.
    """

    name: str
    container: str
    wrapped_in: str | None
    size_bytes: int
    span_bytes: int
    first_address: int
    gaps: tuple[Span, ...]
    crc32: str
    sha1: str
    sha256: str
    sum8: str
    sum16: str
    sum32: str
    xor8: str
    blank: str | None
    doubts: tuple[Doubt, ...]
    more: dict[str, str] = field(default_factory=dict)
    name_base64: str | None = None


@dataclass(frozen=True)
class Fingerprints:
    """The fingerprints of some files.

    Attributes:
        files: One a file, in the order given.
    """

    SCHEMA: ClassVar[Literal["fingerprint/1"]] = "fingerprint/1"

    files: tuple[Fingerprint, ...]


class _Figure(Protocol):
    """A stream that ends in a text."""

    def update(self, block: bytes, /) -> None: ...
    def hexdigest(self) -> str: ...


class RunningSums:
    """Sum and exclusive or of all bytes, and whether they are all the same.

    Example:
        >>> sums = RunningSums(); sums.update(b"123456789")
        >>> f"{sums.total:X}", f"{sums.xor:X}", sums.blank
        ('1DD', '31', None)
    """

    def __init__(self) -> None:
        self.total = 0
        self.xor = 0
        self._first: int | None = None
        self._uniform = True

    @property
    def blank(self) -> int | None:
        """The byte that all bytes so far equal, or None."""
        return self._first if self._uniform else None

    def update(self, block: bytes, /) -> None:
        """Take the next bytes."""
        if self._uniform and block:
            first = block[0] if self._first is None else self._first
            self._first = first
            # the second test looks at everything, and only as long as there is hope
            self._uniform = block[-1] == first and block == bytes((first,)) * len(block)
        total, xor = sum_and_xor(block)
        self.total += total
        self.xor ^= xor


def sum_and_xor(block: bytes) -> tuple[int, int]:
    """Add up the bytes, and combine them by exclusive or.

    Example:
        >>> sum_and_xor(bytes(range(256)) * 3)
        (97920, 0)
    """
    if len(block) < VECTOR_BYTES:
        return sum(block), _folded_xor(int.from_bytes(block), len(block))
    import numpy as np  # slow to load: only where there is work for it

    bulk = len(block) // 256 * 256
    values = np.frombuffer(block, np.uint8, bulk)
    # 256 bytes add up to at most 65280, so that columns of 256 fit 16 bits: several times faster than wide sums
    columns = np.add.reduce(values.reshape(256, -1), axis=0, dtype=np.uint16)
    folded = int(np.bitwise_xor.reduce(values.view(np.uint64)))
    total, xor = sum_and_xor(block[bulk:])
    return total + int(columns.sum(dtype=np.uint64)), xor ^ _folded_xor(folded, 8)


def _folded_xor(value: int, length: int) -> int:
    """Combine the bytes of a long number: halves onto each other until one byte is left."""
    while length > 1:
        half = (length + 1) // 2
        value = (value >> (8 * half)) ^ (value & ((1 << (8 * half)) - 1))
        length = half
    return value


class _ByteSum:
    """A figure made from the sum of all bytes."""

    def __init__(self, digits: int, finish: Callable[[int], int]) -> None:
        self._sums = RunningSums()
        self._digits = digits
        self._finish = finish

    def update(self, block: bytes, /) -> None:
        self._sums.update(block)

    def hexdigest(self) -> str:
        return f"{self._finish(self._sums.total) % 16**self._digits:0{self._digits}X}"


class _Together:
    """Several quick streams as one, to share the work in even portions."""

    def __init__(self, streams: Sequence[Stream[bytes]]) -> None:
        self._streams = streams

    def update(self, block: bytes, /) -> None:
        for stream in self._streams:
            stream.update(block)


class _WordSum:
    """Sum of the 16-bit words; an odd last byte has no word, and then there is no figure."""

    def __init__(self, byteorder: Literal["little", "big"]) -> None:
        self._shifts = (0, 8) if byteorder == "little" else (8, 0)
        self._length = 0
        self._total = 0

    def update(self, block: bytes, /) -> None:
        for lane in (0, 1):
            total, _ = sum_and_xor(block[lane::2])
            self._total += total << self._shifts[(self._length + lane) % 2]
        self._length += len(block)

    def hexdigest(self) -> str:
        return "" if self._length % 2 else f"{self._total % 65536:04X}"


class _NamedCrc:
    """Any CRC of the table, by crcmod."""

    def __init__(self, row: Crc) -> None:
        import crcmod  # only where such a check value is taken

        init = int(f"{row.init:0{row.width}b}"[::-1], 2) if row.reflected else row.init
        self._crc = crcmod.Crc(
            (1 << row.width) | row.poly, initCrc=init ^ row.xorout, rev=row.reflected, xorOut=row.xorout
        )
        self._digits = row.width // 4

    def update(self, block: bytes, /) -> None:
        self._crc.update(block)

    def hexdigest(self) -> str:
        return f"{self._crc.crcValue:0{self._digits}X}"


def figure(name: str) -> _Figure:
    """Start a figure by name: a digest of `DIGESTS`, a sum of `SUMS`, or a CRC of the table.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> crc = figure("CRC-16/ARC"); crc.update(b"123456789"); crc.hexdigest()
        'BB3D'
    """
    makers: dict[str, Callable[[], _Figure]] = {
        "md5": partial(new, "md5"),
        "sha512": hashlib.sha512,
        "sum8-complement": partial(_ByteSum, 2, lambda total: -total),
        "sum8-inverse": partial(_ByteSum, 2, lambda total: ~total),
        "sum16-complement": partial(_ByteSum, 4, lambda total: -total),
        "sum16-words-le": partial(_WordSum, "little"),
        "sum16-words-be": partial(_WordSum, "big"),
    }
    if name in makers:
        return makers[name]()
    from imagekeeper import tables  # only here, so that an ordinary fingerprint loads none

    row = tables.crcs().get(name.upper())
    if row is None:
        raise UsageError(
            "unknown-name", f"there is no figure called {name!r}",
            why=f"the names are {', '.join((*DIGESTS, *SUMS, *tables.crcs()))}", hint="give one of these",
        )  # fmt: skip
    return _NamedCrc(row)


def take(
    image: Image,
    name: str = "",
    *,
    more: Sequence[str] = (),
    name_base64: str | None = None,
    advance: Callable[[int], None] = lambda done: None,
) -> Fingerprint:
    """Take the fingerprint of an image in one pass, in bounded memory.

    Args:
        image: The image.
        name: The file's name, for the result.
        more: Further figures by name, see `figure`.
        name_base64: The file name's exact bytes, for the result.
        advance: Told the bytes done since the last call.

    Raises:
        UsageError: `unknown-name` in `more`.

    Sources:
        SHA-1, SHA-256, SHA-512: FIPS 180-4. MD5: RFC 1321. CRCs: the catalogue of parametrised CRC algorithms.
        Sums: common practice, no source.

    Example:
        >>> take(Image.from_bytes(b"123456789")).sum16
        '01DD'
    """
    crc, sha1, sha256, sums = Crc32(), new("sha1"), hashlib.sha256(), RunningSums()
    others = {wanted: figure(wanted) for wanted in more}

    def blocks() -> Iterator[bytes]:
        for _, piece in image.pieces():
            yield piece
            advance(len(piece))

    streams: list[Stream[bytes]] = [sha256, sha1, _Together([crc, sums]), *others.values()]
    feed(blocks(), streams)
    return Fingerprint(
        name=name,
        container=image.container,
        wrapped_in=image.wrapped_in,
        size_bytes=image.size_bytes,
        span_bytes=image.span_bytes,
        first_address=image.first_address,
        gaps=image.gaps,
        crc32=crc.hexdigest(),
        sha1=sha1.hexdigest(),
        sha256=sha256.hexdigest(),
        sum8=f"{sums.total % (1 << 8):02X}",
        sum16=f"{sums.total % (1 << 16):04X}",
        sum32=f"{sums.total % (1 << 32):08X}",
        xor8=f"{sums.xor:02X}",
        blank=None if sums.blank is None else f"{sums.blank:02X}",
        doubts=image.doubts,
        more={wanted: stream.hexdigest() for wanted, stream in others.items()},
        name_base64=name_base64,
    )
