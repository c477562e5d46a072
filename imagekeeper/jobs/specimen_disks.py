"""Invented disks for demonstrations: the harbour office's, and that of the recorder's computer on the outer mole.

They are put together byte by byte from the published descriptions, without the code that reads them.
"""

from __future__ import annotations

# -- the harbour office's disk, with a file allocation table

_SECTOR, _CLUSTER, _FAT_START, _ROOT, _DATA = 512, 1024, 512, 2560, 6144

#: 18 April 1991, 09:30.
_DATE, _TIME = 11 << 9 | 4 << 5 | 18, 9 << 11 | 30 << 5


def _record(name: bytes, attributes: int, start: int, size: int) -> bytes:
    """One record of a directory."""
    stamp = _TIME.to_bytes(2, "little") + _DATE.to_bytes(2, "little")
    return name + bytes([attributes]) + bytes(10) + stamp + start.to_bytes(2, "little") + size.to_bytes(4, "little")


def office() -> bytes:
    """The sound disk: Microsoft, Q75131, gives where its parts lie, and Q140418 the fields of the first sector."""
    image = bytearray(b"\xf6" * 720 * _SECTOR)
    image[:_DATA] = bytes(_DATA)
    entries = {0: 0xFFD, 1: 0xFFF}

    def put(first: int, content: bytes, *, keep: bool = True) -> None:
        at = _DATA + (first - 2) * _CLUSTER
        image[at : at + len(content)] = content
        last = first + max(-(-len(content) // _CLUSTER), 1) - 1
        if keep:
            entries.update({cluster: cluster + 1 for cluster in range(first, last)} | {last: 0xFFF})

    log = b"".join(b"%02d:00 %5.3f\r\n" % (hour % 24, 1.862 + hour % 7 / 10) for hour in range(240))
    put(2, log)
    put(6, b"Quillmere TG-85, station 07, outer mole\r\n")
    march = _record(b"MARCH   TXT", 32, 8, 1500)
    put(7, (_record(b".          ", 16, 7, 0) + _record(b"..         ", 16, 0, 0) + march).ljust(_CLUSTER, b"\0"))
    put(8, log[:1500])
    put(10, log[:900], keep=False)
    root = [
        _record(b"HARBOUR    ", 8, 0, 0), _record(b"TIDE    LOG", 32, 2, len(log)),
        _record(b"STATION TXT", 33, 6, 41), _record(b"SURVEY     ", 16, 7, 0), _record(b"\xe5LD     LOG", 32, 10, 900),
    ]  # fmt: skip
    image[_ROOT : _ROOT + 32 * len(root)] = b"".join(root)
    table = bytearray(2 * _SECTOR)
    for cluster, value in entries.items():
        at, shift = cluster * 3 // 2, 4 * (cluster % 2)
        both = int.from_bytes(table[at : at + 2], "little") | value << shift
        table[at : at + 2] = both.to_bytes(2, "little")
    image[_FAT_START : _FAT_START + 1024] = image[_FAT_START + 1024 : _ROOT] = table
    head = bytes.fromhex("eb3490") + b"HARBOUR " + bytes.fromhex("0002 02 0100 02 7000 d002 fd 0200 0900 0200")
    image[: len(head)] = head
    image[510:512] = b"\x55\xaa"
    return bytes(image)


def worn() -> bytes:
    """The harbour office's disk after some years: its first table has a wrong entry, that of cluster 3."""
    image = bytearray(office())
    image[_FAT_START + 3 * 3 // 2] ^= 0x50
    return bytes(image)


# -- the disk of the outer mole, with the directory of an 8-bit machine

_RECORD, _BLOCK, _TRACK, _OFFSET = 128, 1024, 26 * 128, 2

#: The sectors of a track in the order in which they are used.
_ORDER = (1, 7, 13, 19, 25, 5, 11, 17, 23, 3, 9, 15, 21, 2, 8, 14, 20, 26, 6, 12, 18, 24, 4, 10, 16, 22)


def mole() -> bytes:
    """The sound disk. How it is divided: Digital Research, CP/M 2.2 Alteration Guide, from memory."""
    log = b"".join(b"%02d:00 %5.3f\r\n" % (hour % 24, 1.862 + hour % 7 / 10) for hour in range(400))
    note = b"Quillmere TG-85, station 07, outer mole.\r\nPaper changed on 18 April.\r\n"
    logical = bytearray(b"\xe5" * 75 * _TRACK)
    block, entries = 2, b""
    for user, name, content in (
        (0, b"TIDE    LOG", log), (0, b"STATION TXT", note), (0xE5, b"OLD     LOG", log[:1800]),
        (3, b"MARCH   LOG", log[500:3700]),
    ):  # fmt: skip
        records = -(-len(content) // _RECORD)
        blocks = range(block, block := block + -(-records * _RECORD // _BLOCK))
        entries += bytes([user]) + name + bytes([0, 0, 0, records]) + bytes(blocks).ljust(16, b"\0")
        logical[blocks[0] * _BLOCK : blocks[0] * _BLOCK + records * _RECORD] = content.ljust(records * _RECORD, b"\x1a")
    logical[: len(entries)] = entries
    disk = bytearray(b"\xe5" * 77 * _TRACK)
    for at in range(0, len(logical), _TRACK):
        for place, sector in enumerate(_ORDER):
            begin = _OFFSET * _TRACK + at + (sector - 1) * _RECORD
            disk[begin : begin + _RECORD] = logical[at + place * _RECORD : at + (place + 1) * _RECORD]
    return bytes(disk)


def knocked() -> bytes:
    """The disk of the outer mole after an accident: two files name the same block."""
    disk = bytearray(mole())
    disk[disk.index(b"STATION TXT") + 15] = 3
    return bytes(disk)


def files() -> dict[str, bytes]:
    """Every file, by name; `bad.csv` lists the bad sectors of `office.img`."""
    return {
        "office.img": office(),
        "worn.img": worn(),
        "bad.csv": b"cylinder,head,sector,state\n0,1,6,bad\n",
        "mole.img": mole(),
        "knock.img": knocked(),
    }
