"""An invented disk for docs/how-to/look-into-an-8-bit-disk.md: that of the recorder's computer on the outer mole.

    mole.img    8-inch single density, in blocks of 1024 bytes, 64 entries, 2 reserved tracks, sectors 6 apart
    knock.img   the same after an accident: two files name the same block
"""

from __future__ import annotations

from pathlib import Path

RECORD, BLOCK, TRACK, OFFSET = 128, 1024, 26 * 128, 2

#: The sectors of a track in the order in which they are used.
ORDER = (1, 7, 13, 19, 25, 5, 11, 17, 23, 3, 9, 15, 21, 2, 8, 14, 20, 26, 6, 12, 18, 24, 4, 10, 16, 22)


def mole() -> bytes:
    """The sound disk. How it is divided: Digital Research, CP/M 2.2 Alteration Guide, from memory."""
    log = b"".join(b"%02d:00 %5.3f\r\n" % (hour % 24, 1.862 + hour % 7 / 10) for hour in range(400))
    note = b"Quillmere TG-85, station 07, outer mole.\r\nPaper changed on 18 April.\r\n"
    logical = bytearray(b"\xe5" * 75 * TRACK)
    block, entries = 2, b""
    for user, name, content in (
        (0, b"TIDE    LOG", log), (0, b"STATION TXT", note), (0xE5, b"OLD     LOG", log[:1800]),
        (3, b"MARCH   LOG", log[500:3700]),
    ):  # fmt: skip
        records = -(-len(content) // RECORD)
        blocks = range(block, block := block + -(-records * RECORD // BLOCK))
        entries += bytes([user]) + name + bytes([0, 0, 0, records]) + bytes(blocks).ljust(16, b"\0")
        logical[blocks[0] * BLOCK : blocks[0] * BLOCK + records * RECORD] = content.ljust(records * RECORD, b"\x1a")
    logical[: len(entries)] = entries
    disk = bytearray(b"\xe5" * 77 * TRACK)
    for at in range(0, len(logical), TRACK):
        for place, sector in enumerate(ORDER):
            begin = OFFSET * TRACK + at + (sector - 1) * RECORD
            disk[begin : begin + RECORD] = logical[at + place * RECORD : at + (place + 1) * RECORD]
    return bytes(disk)


def write(folder: Path) -> None:
    """Write the disks to a folder."""
    disk = mole()
    (folder / "mole.img").write_bytes(disk)
    knocked = bytearray(disk)
    at = knocked.index(b"STATION TXT")
    knocked[at + 15] = 3
    (folder / "knock.img").write_bytes(knocked)
