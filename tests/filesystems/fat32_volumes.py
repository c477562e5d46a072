"""A small writer of FAT32 volumes for tests, on top of the one for FAT12 and FAT16."""

from __future__ import annotations

import struct

from .fat_volumes import Directory, File, Shape, Writer

#: The root directory begins here: not at cluster 2, so that a reader that assumes so is found out.
ROOT = 5

INFO, COPY, RESERVED = 1, 6, 32


class Writer32(Writer):
    """Writes one volume; the sectors before it are those that its boot sector states."""

    def __init__(self, clusters: int = 66_000, cluster_sectors: int = 1, hidden: int = 0, track: int = 17) -> None:
        fat_sectors = -(-(clusters + 2) * 4 // 512)
        total = RESERVED + 2 * fat_sectors + clusters * cluster_sectors
        super().__init__(Shape(
            cluster_sectors=cluster_sectors, reserved=RESERVED, fat_sectors=fat_sectors, root_entries=0, total=total,
            media=0xF8, track=track, heads=4,
        ))
        self.hidden = hidden
        self.end = 0x0FFFFFFF
        self.fat[0], self.fat[1], self.fat[ROOT] = 0x0FFFFFF8, self.end, self.end
        self.free.remove(ROOT)

    def write(self, entries: list[File | Directory]) -> bytes:
        """Write everything."""
        root = b"".join(self.record(one, 0) for one in entries)
        first, rest = root[: self.cluster_bytes], root[self.cluster_bytes :]
        self.image[self.start_of(ROOT) : self.start_of(ROOT) + len(first)] = first
        if rest:
            self.fat[ROOT] = self.chain(rest)
        table = struct.pack(f"<{len(self.fat)}I", *self.fat)
        for number in range(self.shape.fats):
            at = (RESERVED + number * self.shape.fat_sectors) * 512
            self.image[at : at + len(table)] = table
        info = b"RRaA".ljust(484, b"\0") + b"rrAa" + struct.pack("<II", self.fat[2:].count(0), 2)
        for sector, content in ((0, self.boot_sector()), (INFO, info.ljust(510, b"\0") + b"\x55\xaa")):
            for at in (sector * 512, (COPY + sector) * 512):
                self.image[at : at + 512] = content
        return bytes(self.image)

    @staticmethod
    def plain(name: bytes, attributes: int, start: int, size: int, date: int, time: int) -> bytes:
        return struct.pack("<11sB8xHHHHI", name, attributes, start >> 16, time, date, start & 0xFFFF, size)

    def boot_sector(self) -> bytes:
        s = self.shape
        head = struct.pack(
            "<3s8sHBHBHHBHHHII", b"\xeb\x58\x90", b"HARBOUR ", 512, s.cluster_sectors, RESERVED, 2, 0, 0, s.media, 0,
            s.track, s.heads, self.hidden, s.total,
        )  # fmt: skip
        more = struct.pack("<IHHIHH12xBBBI11s8s", s.fat_sectors, 0, 0, ROOT, INFO, COPY, 0x80, 0, 0x29, 0x12345678,
                           b"NO NAME    ", b"FAT32   ")  # fmt: skip
        return (head + more).ljust(510, b"\0") + b"\x55\xaa"
