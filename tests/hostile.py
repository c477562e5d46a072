"""Files of less than a megabyte that ask for as much time or memory as they can; each is made where it is tried."""

from __future__ import annotations

import gzip
import io
import random
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator

MB = 1 << 20

#: An entry of a directory of 8-bit machines. Its form: Digital Research, CP/M 2.2 Interface Guide, from memory.
ENTRY = b"\0TIDE    DAT\0\0\0\x08\x02\x03" + bytes(14)


def packed(blocks: Iterable[bytes]) -> bytes:
    """Pack into one member of gzip. Source of the number: zlib manual, deflateInit2: 16 and more for a gzip header."""
    engine = zlib.compressobj(9, zlib.DEFLATED, 31)
    return b"".join(engine.compress(block) for block in blocks) + engine.flush()


def zipped(data: bytes, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.writestr("u4.bin", data)
    return out.getvalue()


def many_members() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(8000):
            archive.writestr(zipfile.ZipInfo(f"{number:05d}.bin"), b"x")
    return out.getvalue()


def taken(parts: Iterable[bytes], most: int = MB - 64) -> bytes:
    """Join parts up to a size."""
    out = bytearray()
    for part in parts:
        if len(out) + len(part) > most:
            break
        out += part
    return bytes(out)


def intel(address: int, data: bytes, kind: int = 0) -> bytes:
    """A record. Source: Intel, Hexadecimal Object File Format Specification, revision A, 1988."""
    body = bytes([len(data), address >> 8 & 255, address & 255, kind]) + data
    return b":" + (body + bytes([-sum(body) & 255])).hex().upper().encode() + b"\n"


def motorola(address: int, data: bytes) -> bytes:
    """A record of type 2. Source: Motorola, M68000 Family Programmer's Reference Manual, appendix C."""
    body = bytes([len(data) + 4]) + address.to_bytes(3, "big") + data
    return b"S2" + (body + bytes([~sum(body) & 255])).hex().upper().encode() + b"\n"


END = b":00000001FF\n"


def noise(size: int) -> bytes:
    return random.Random(85).randbytes(size)


def numbered(fields: Callable[[int], bytes]) -> bytes:
    dice = random.Random(85)
    return b"".join(b"\0F%07dDAT" % i + fields(i) + dice.randbytes(16) for i in range(960 * 32))


def fat(root: bytes, chain: list[int], body: bytes = b"") -> bytes:
    """A volume of 2000 sectors with a FAT of 12 bits. Source: ECMA-107; offsets, Microsoft, Q140418."""
    boot = bytearray(512)
    boot[0:3], boot[3:11], boot[510:] = b"\xeb\x3c\x90", b"HARBOUR ", b"\x55\xaa"
    struct.pack_into("<HBHBHHBHHH", boot, 11, 512, 1, 1, 2, len(root) // 32, 2000, 0xF8, 6, 18, 2)
    pairs = zip(chain[::2], chain[1::2], strict=False)
    table = b"".join(bytes([a & 255, a >> 8 | (b & 15) << 4, b >> 4]) for a, b in pairs).ljust(3072, b"\0")
    return (bytes(boot) + 2 * table + root + body).ljust(2000 * 512, b"\0")[: 2000 * 512]


def in_root(number: int, start: int, size: int, attributes: int = 0x20) -> bytes:
    return b"F%07dDAT" % number + bytes([attributes]) + bytes(14) + struct.pack("<HI", start, size)


LAST = 1900
CHAIN = [0xFF8, 0xFFF, *range(3, LAST), 0xFFF, 0]
ENDS = [0xFF8, 0xFFF] + [0xFFF] * LAST


def partitions() -> bytes:
    """A table whose extended partitions name each other."""

    def entry(kind: int, start: int) -> bytes:
        return bytes([0, 1, 1, 0, kind, 7, 17, 10]) + struct.pack("<II", start, 1900)

    sectors = [bytes(446) + entry(5, 1) + bytes(48) + b"\x55\xaa"]
    sectors += [bytes(446) + entry(1, 1) + entry(5, i) + bytes(32) + b"\x55\xaa" for i in range(1, 1950)]
    return b"".join(sectors)


def tarred(size: int) -> Iterator[bytes]:
    one = tarfile.TarInfo("bag/data")
    one.size = size
    yield one.tobuf()
    for _ in range(size // MB):
        yield bytes(MB)
    yield bytes(1024)


IMAGES: dict[str, Callable[[], bytes]] = {
    # wrappers
    "bzip2": lambda: zipped(bytes(64 * MB), zipfile.ZIP_BZIP2),
    "lzma": lambda: zipped(bytes(64 * MB), zipfile.ZIP_LZMA),
    "zip of zeros": lambda: zipped(bytes(240 * MB)),
    "zip of many members": many_members,
    "gzip of zeros": lambda: packed(bytes(MB) for _ in range(900)),
    "gzip in gzip": lambda: packed([packed(bytes(MB) for _ in range(240))]),
    "gzip of empty members": lambda: gzip.compress(b"", mtime=0) * 52_000,
    "gzip of short members": lambda: gzip.compress(b"AB", mtime=0) * 47_000,
    "gzip of fill": lambda: packed([b"\xe5" * MB] * 30),
    "gzip of noise": lambda: packed([noise(16384) * 64] * 30),
    "gzip of a directory": lambda: packed([ENTRY * (MB // 32)] * 30),
    # text
    "gzip of hexadecimal text": lambda: packed([(b"00 " * 16 + b"\n") * (MB // 49)] * 250),
    "gzip of short lines": lambda: packed([b"00\n" * (MB // 3)] * 5),
    "gzip of blank lines": lambda: packed([b"\n" * MB] * 5),
    "gzip of records of nothing": lambda: packed([intel(0, b"") * (MB // 12)] * 5 + [END]),
    "gzip of records of one place": lambda: packed([intel(0, b"\0") * (MB // 14)] * 5 + [END]),
    "gzip of end records": lambda: packed([b"S9030000FC\n" * (MB // 11)] * 5),
    "scattered records": lambda: taken(motorola(i * 3, b"U") for i in range(MB)) + b"S9030000FC\n",
    "backward records": lambda: taken(motorola(0xFFFFF0 - i * 4, b"U") for i in range(MB)) + b"S9030000FC\n",
    "overlapping records": lambda: taken(intel(i * 7919 & 0xFFFE, noise(2)) for i in range(MB)) + END,
    "wrong records": lambda: taken(intel(i & 0xFFFF, b"U")[:-3] + b"00\n" for i in range(MB)) + END,
    "digits": lambda: b"0" * (MB - 1),
    "addresses": lambda: b"@0000\n00\n" * (MB // 9 - 1),
    # disks
    "blank disk": lambda: b"\xe5" * (1000 * 1024),
    "one entry": lambda: ENTRY * (960 * 32),
    "deleted entries": lambda: (b"\xe5" + ENTRY[1:]) * (960 * 32),
    "entries in front": lambda: (ENTRY * 2048).ljust(960 * 1024, b"\xe5"),
    "entries of many files": lambda: numbered(lambda i: bytes([0, 0, 0, 128])),
    "parts of many files": lambda: numbered(lambda i: bytes([i % 32, 0, i // 32 % 64, 128])),
    "files of the whole disk": lambda: fat(b"".join(in_root(i, 2, LAST * 512) for i in range(4096)), CHAIN),
    "directories of directories": lambda: fat(
        b"".join(in_root(i, 2, 0, 0x10) for i in range(512)), ENDS,
        b"".join(in_root(i, 2 + i % 1800, 512, 0x10) for i in range(29_000)),
    ),
    "deleted files": lambda: fat(
        in_root(0, 2, 0, 0x10) * 16, CHAIN, b"".join(b"\xe5" + in_root(i, 2, 512)[1:] for i in range(29_000))
    ),
    "chained partitions": partitions,
    # chips
    "noise": lambda: noise(MB - 1),
    "two values": lambda: bytes(byte & 1 for byte in noise(MB - 1)),
    "ramp": lambda: bytes(range(256)) * 4095,
    "rows": lambda: noise(16) * (MB // 16 - 1),
}  # fmt: skip

TABLES: dict[str, Callable[[], bytes]] = {
    "lines": lambda: b"name,size,sha256\n" + (b"a,1," + b"0" * 64 + b"\n") * 14_000,
    "blank lines": lambda: b"name,size,sha256\n" + b"\n" * 1_000_000,
    "commas": lambda: b"name,size,sha256\n" + b"," * 1_000_000,
    "an open quote": lambda: b'name,size,sha256\n"' + b"a" * 1_000_000,
}

BAGS: dict[str, Callable[[], bytes]] = {
    "bag.zip": lambda: zipped(bytes(240 * MB)),
    "bag-bzip2.zip": lambda: zipped(bytes(64 * MB), zipfile.ZIP_BZIP2),
    "bag-lzma.zip": lambda: zipped(bytes(64 * MB), zipfile.ZIP_LZMA),
    "bag-many.zip": many_members,
    "bag.tar.gz": lambda: packed(tarred(800 * MB)),
    "bag-members.tar.gz": lambda: gzip.compress(b"", mtime=0) * 52_000,
}
