"""Invented disks for demonstrations: of the harbour office, of the terminal, and of the computer on the outer mole.

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


def _pc_disk(name: bytes, root: list[bytes], contents: dict[int, bytes], lost: dict[int, bytes]) -> bytearray:
    """A disk with its files: Microsoft, Q75131, gives where its parts lie, and Q140418 the fields of the first sector.

    Args:
        name: In the first sector.
        root: Records of the root directory.
        contents: What stands from a cluster on.
        lost: The same, of files that were deleted.
    """
    image = bytearray(b"\xf6" * 720 * _SECTOR)
    image[:_DATA] = bytes(_DATA)
    entries = {0: 0xFFD, 1: 0xFFF}
    for first, content in [*contents.items(), *lost.items()]:
        at = _DATA + (first - 2) * _CLUSTER
        image[at : at + len(content)] = content
        last = first + max(-(-len(content) // _CLUSTER), 1) - 1
        if first in contents:
            entries.update({cluster: cluster + 1 for cluster in range(first, last)} | {last: 0xFFF})
    image[_ROOT : _ROOT + 32 * len(root)] = b"".join(root)
    table = bytearray(2 * _SECTOR)
    for cluster, value in entries.items():
        at, shift = cluster * 3 // 2, 4 * (cluster % 2)
        both = int.from_bytes(table[at : at + 2], "little") | value << shift
        table[at : at + 2] = both.to_bytes(2, "little")
    image[_FAT_START : _FAT_START + 1024] = image[_FAT_START + 1024 : _ROOT] = table
    head = bytes.fromhex("eb3490") + name + bytes.fromhex("0002 02 0100 02 7000 d002 fd 0200 0900 0200")
    image[: len(head)] = head
    image[510:512] = b"\x55\xaa"
    return image


def office() -> bytes:
    """The sound disk."""
    log = b"".join(b"%02d:00 %5.3f\r\n" % (hour % 24, 1.862 + hour % 7 / 10) for hour in range(240))
    march = _record(b"MARCH   TXT", 32, 8, 1500)
    folder = (_record(b".          ", 16, 7, 0) + _record(b"..         ", 16, 0, 0) + march).ljust(_CLUSTER, b"\0")
    station = b"Quillmere TG-85, station 07, outer mole\r\n"
    root = [
        _record(b"HARBOUR    ", 8, 0, 0), _record(b"TIDE    LOG", 32, 2, len(log)),
        _record(b"STATION TXT", 33, 6, 41), _record(b"SURVEY     ", 16, 7, 0), _record(b"\xe5LD     LOG", 32, 10, 900),
    ]  # fmt: skip
    return bytes(_pc_disk(b"HARBOUR ", root, {2: log, 6: station, 7: folder, 8: log[:1500]}, {10: log[:900]}))


def worn() -> bytes:
    """The harbour office's disk after some years: its first table has a wrong entry, that of cluster 3."""
    image = bytearray(office())
    image[_FAT_START + 3 * 3 // 2] ^= 0x50
    return bytes(image)


def terminal() -> bytes:
    """The disk that starts the terminal; what stands for its programs is invented, and no machine runs it."""
    system = bytes((at * at * 3 + at // 7) % 251 for at in range(9000))
    tides = bytes((at * at * 5 + at // 7) % 251 for at in range(5600))
    setup = b"terminal 1, 9600 baud, recorder on line 2\r\n"
    root = [
        _record(b"TERMINALSYS", 39, 2, len(system)), _record(b"TIDES   COM", 32, 11, len(tides)),
        _record(b"SETUP   TXT", 32, 17, len(setup)),
    ]  # fmt: skip
    disk = _pc_disk(b"QUILLTRM", root, {2: system, 11: tides, 17: setup}, {})
    code = bytes((at * 29 + 17) % 256 for at in range(160)) + b"TERMINALSYSNo TERMINAL.SYS\r\n\0"
    disk[0x3E : 0x3E + len(code)] = code
    return bytes(disk)


def terminal_read(*unread: tuple[int, int, int]) -> tuple[bytes, bytes]:
    """A read of it with fill in some sectors, cylinder, head and sector each; and the list that came with the read."""
    disk, lines = bytearray(terminal()), ["cylinder,head,sector,state"]
    for cylinder, head, sector in unread:
        at = ((cylinder * 2 + head) * 9 + sector - 1) * _SECTOR
        disk[at : at + _SECTOR] = b"\xf6" * _SECTOR
        lines.append(f"{cylinder},{head},{sector},missing")
    return bytes(disk), "".join(f"{line}\n" for line in lines).encode()


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
    """Every file, by name; `bad.csv` lists the bad sectors of `office.img`, each other list those of its read."""
    first, first_list = terminal_read((0, 1, 8), (0, 1, 9), (39, 1, 9))
    second, second_list = terminal_read((1, 1, 5))
    return {
        "office.img": office(),
        "worn.img": worn(),
        "bad.csv": b"cylinder,head,sector,state\n0,1,6,bad\n",
        "mole.img": mole(),
        "knock.img": knocked(),
        "terminal-first.img": first,
        "terminal-first.csv": first_list,
        "terminal-second.img": second,
        "terminal-second.csv": second_list,
        "terminal-third.img": terminal(),
        "terminal-fourth.img": terminal(),
    }
