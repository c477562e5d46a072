"""A small writer of volumes with a FAT, independent of the reader: what it puts in, the reader must give back."""

from __future__ import annotations

import random
import struct
from dataclasses import dataclass, field


@dataclass
class File:
    """A file to write."""

    name: bytes   # eleven bytes
    content: bytes = b""
    attributes: int = 0x20
    date: int = 0x16A5
    time: int = 0x7194
    long_name: str = ""


@dataclass
class Directory:
    """A directory to write."""

    name: bytes
    inside: list[File | Directory] = field(default_factory=list)
    attributes: int = 0x10
    date: int = 0x16A5
    time: int = 0x7194
    long_name: str = ""


@dataclass(frozen=True)
class Shape:
    """Where the parts lie."""

    sector: int = 512
    cluster_sectors: int = 2
    reserved: int = 1
    fats: int = 2
    fat_sectors: int = 2
    root_entries: int = 112
    total: int = 720
    media: int = 0xFD
    track: int = 9
    heads: int = 2
    block: bool = True
    label: bytes = b""

    @property
    def root_start(self) -> int:
        return (self.reserved + self.fats * self.fat_sectors) * self.sector

    @property
    def data_start(self) -> int:
        return self.root_start + -(-self.root_entries * 32 // self.sector) * self.sector

    @property
    def clusters(self) -> int:
        return (self.total * self.sector - self.data_start) // (self.cluster_sectors * self.sector)

    @property
    def bits(self) -> int:
        return 12 if self.clusters < 4085 else 16


def shape_for(clusters: int, **given: int) -> Shape:
    """A shape with so many clusters and FATs of just the size."""
    sector, cluster = given.get("sector", 512), given.get("cluster_sectors", 2)
    bits = 12 if clusters < 4085 else 16
    fat = -(-(clusters + 2) * bits // 8)
    fat_sectors = -(-fat // sector)
    root = -(-given.get("root_entries", 112) * 32 // sector)
    total = given.get("reserved", 1) + given.get("fats", 2) * fat_sectors + root + clusters * cluster
    return Shape(**{**given, "fat_sectors": fat_sectors, "total": total})   # type: ignore[arg-type]


class Writer:
    """Writes one volume."""

    def __init__(self, shape: Shape, seed: int | None = None) -> None:
        self.shape = shape
        self.image = bytearray(shape.total * shape.sector)
        self.fat = [0] * (shape.clusters + 2)
        self.end = 0xFFF if shape.bits == 12 else 0xFFFF
        self.fat[0], self.fat[1] = self.end & ~0xFF | shape.media, self.end
        self.free = list(range(2, shape.clusters + 2))
        if seed is not None:   # scattered over the disk
            random.Random(seed).shuffle(self.free)
        self.free.reverse()

    def start_of(self, cluster: int) -> int:
        return self.shape.data_start + (cluster - 2) * self.cluster_bytes

    @property
    def cluster_bytes(self) -> int:
        return self.shape.cluster_sectors * self.shape.sector

    def chain(self, content: bytes) -> int:
        """Write content into free clusters, and give the first."""
        count = -(-len(content) // self.cluster_bytes)
        mine = [self.free.pop() for _ in range(count)]
        for number, cluster in enumerate(mine):
            piece = content[number * self.cluster_bytes : (number + 1) * self.cluster_bytes]
            self.image[self.start_of(cluster) : self.start_of(cluster) + len(piece)] = piece
            self.fat[cluster] = mine[number + 1] if number + 1 < count else self.end
        return mine[0] if mine else 0

    def write(self, entries: list[File | Directory]) -> bytes:
        """Write everything."""
        root = b"".join(self.record(one, 0) for one in entries)
        if self.shape.label:
            root = self.plain(self.shape.label, 0x08, 0, 0, 0x16A5, 0x7194) + root
        assert len(root) <= self.shape.root_entries * 32
        self.image[self.shape.root_start : self.shape.root_start + len(root)] = root
        table = self.table()
        for number in range(self.shape.fats):
            at = (self.shape.reserved + number * self.shape.fat_sectors) * self.shape.sector
            self.image[at : at + len(table)] = table
        if self.shape.block:
            self.image[:512] = self.boot_sector()
        return bytes(self.image)

    def record(self, one: File | Directory, above: int) -> bytes:
        long = long_records(one.long_name, one.name) if one.long_name else b""
        if isinstance(one, File):
            start = self.chain(one.content)
            return long + self.plain(one.name, one.attributes, start, len(one.content), one.date, one.time)
        # the directory's first cluster must be known to what lies in it
        start = self.free.pop()
        self.fat[start] = self.end
        content = self.plain(b".          ", 0x10, start, 0, one.date, one.time)
        content += self.plain(b"..         ", 0x10, above, 0, one.date, one.time)
        content += b"".join(self.record(inner, start) for inner in one.inside)
        first, rest = content[: self.cluster_bytes], content[self.cluster_bytes :]
        self.image[self.start_of(start) : self.start_of(start) + len(first)] = first
        if rest:
            self.fat[start] = self.chain(rest)
        return long + self.plain(one.name, one.attributes, start, 0, one.date, one.time)

    @staticmethod
    def plain(name: bytes, attributes: int, start: int, size: int, date: int, time: int) -> bytes:
        return struct.pack("<11sB10xHHHI", name, attributes, time, date, start, size)

    def table(self) -> bytes:
        if self.shape.bits == 16:
            return struct.pack(f"<{len(self.fat)}H", *self.fat)
        raw = bytearray(-(-len(self.fat) * 3 // 2) + 1)
        for number, value in enumerate(self.fat):
            at = number * 3 // 2
            if number % 2:
                raw[at] |= (value & 15) << 4
                raw[at + 1] = value >> 4
            else:
                raw[at] = value & 0xFF
                raw[at + 1] |= value >> 8
        room = self.shape.fat_sectors * self.shape.sector
        return bytes(raw[:room])

    def boot_sector(self) -> bytes:
        s = self.shape
        small, large = (s.total, 0) if s.total < 65536 else (0, s.total)
        head = struct.pack(
            "<3s8sHBHBHHBHHHII", b"\xeb\x3c\x90", b"HARBOUR ", s.sector, s.cluster_sectors, s.reserved, s.fats,
            s.root_entries, small, s.media, s.fat_sectors, s.track, s.heads, 0, large,
        )  # fmt: skip
        more = struct.pack("<BBBI11s8s", 0, 0, 0x29, 0x12345678, s.label or b"NO NAME    ", f"FAT{s.bits}   ".encode())
        return (head + more).ljust(510, b"\0") + b"\x55\xaa"


def long_records(name: str, short: bytes) -> bytes:
    """The records of a long name, last part first."""
    total = 0
    for byte in short:
        total = ((total >> 1) | (total & 1) << 7) + byte & 0xFF
    raw = name.encode("utf-16-le")
    raw += b"\0\0" if len(raw) % 26 else b""
    raw += b"\xff" * (-len(raw) % 26)
    parts = [raw[i : i + 26] for i in range(0, len(raw), 26)]
    records = []
    for number, part in enumerate(parts, 1):
        mark = number | (0x40 if number == len(parts) else 0)
        records.append(
            bytes([mark]) + part[:10] + b"\x0f\0" + bytes([total]) + part[10:22] + b"\0\0" + part[22:26]
        )
    return b"".join(reversed(records))
