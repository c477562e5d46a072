"""Invented disks for docs/how-to/look-into-a-disk.md: the harbour office's, with a file allocation table.

    office.img   a sound disk of 360K, with files, a directory, and a file that was deleted
    worn.img     the same after some years: one FAT has a wrong entry
    bad.csv      a list of bad sectors that belongs to office.img
"""

from __future__ import annotations

from pathlib import Path

SECTOR, CLUSTER, FAT_START, ROOT, DATA = 512, 1024, 512, 2560, 6144

#: 18 April 1991, 09:30.
DATE, TIME = 11 << 9 | 4 << 5 | 18, 9 << 11 | 30 << 5


def record(name: bytes, attributes: int, start: int, size: int) -> bytes:
    """One record of a directory."""
    stamp = TIME.to_bytes(2, "little") + DATE.to_bytes(2, "little")
    return name + bytes([attributes]) + bytes(10) + stamp + start.to_bytes(2, "little") + size.to_bytes(4, "little")


def office() -> bytes:
    """The sound disk: Microsoft, Q75131, gives where its parts lie, and Q140418 the fields of the first sector."""
    image = bytearray(b"\xf6" * 720 * SECTOR)
    image[:DATA] = bytes(DATA)
    entries = {0: 0xFFD, 1: 0xFFF}

    def put(first: int, content: bytes, *, keep: bool = True) -> None:
        at = DATA + (first - 2) * CLUSTER
        image[at : at + len(content)] = content
        last = first + max(-(-len(content) // CLUSTER), 1) - 1
        if keep:
            entries.update({cluster: cluster + 1 for cluster in range(first, last)} | {last: 0xFFF})

    log = b"".join(b"%02d:00 %5.3f\r\n" % (hour % 24, 1.862 + hour % 7 / 10) for hour in range(240))
    put(2, log)
    put(6, b"Quillmere TG-85, station 07, outer mole\r\n")
    march = record(b"MARCH   TXT", 32, 8, 1500)
    put(7, (record(b".          ", 16, 7, 0) + record(b"..         ", 16, 0, 0) + march).ljust(CLUSTER, b"\0"))
    put(8, log[:1500])
    put(10, log[:900], keep=False)
    root = [
        record(b"HARBOUR    ", 8, 0, 0), record(b"TIDE    LOG", 32, 2, len(log)),
        record(b"STATION TXT", 33, 6, 41), record(b"SURVEY     ", 16, 7, 0), record(b"\xe5LD     LOG", 32, 10, 900),
    ]  # fmt: skip
    image[ROOT : ROOT + 32 * len(root)] = b"".join(root)
    table = bytearray(2 * SECTOR)
    for cluster, value in entries.items():
        at, shift = cluster * 3 // 2, 4 * (cluster % 2)
        both = int.from_bytes(table[at : at + 2], "little") | value << shift
        table[at : at + 2] = both.to_bytes(2, "little")
    image[FAT_START : FAT_START + 1024] = image[FAT_START + 1024 : ROOT] = table
    head = bytes.fromhex("eb3490") + b"HARBOUR " + bytes.fromhex("0002 02 0100 02 7000 d002 fd 0200 0900 0200")
    image[: len(head)] = head
    image[510:512] = b"\x55\xaa"
    return bytes(image)


def write(folder: Path) -> None:
    """Write all of them into a folder."""
    sound = office()
    worn = bytearray(sound)
    worn[FAT_START + 3 * 3 // 2] ^= 0x50   # the entry of cluster 3
    (folder / "office.img").write_bytes(sound)
    (folder / "worn.img").write_bytes(worn)
    (folder / "bad.csv").write_text("cylinder,head,sector,state\n0,1,6,bad\n")
