"""Images of partitioned hard disks, made for tests."""

from __future__ import annotations

from .fat_volumes import Directory, File, Shape, Writer

HEADS, SECTORS = 4, 17


def chs(sector: int, heads: int = HEADS, sectors: int = SECTORS) -> bytes:
    """A place as the table has it."""
    track, number = divmod(sector, sectors)
    cylinder, head = min(track // heads, 1023), track % heads   # no table can state more
    return bytes([head, number + 1 | cylinder >> 8 << 6, cylinder & 0xFF])


def record(kind: int, start: int, count: int, *, active: bool = False, at: int | None = None) -> bytes:
    """One record; `at` is the true sector where `start` counts from elsewhere."""
    first = start if at is None else at
    places = bytes([0x80 if active else 0]) + chs(first) + bytes([kind]) + chs(first + count - 1)
    return places + start.to_bytes(4, "little") + count.to_bytes(4, "little")


def table(*records: bytes, code: bytes = b"\xfa\x33\xc0") -> bytes:
    """A sector with a partition table."""
    return code.ljust(446, b"\0") + b"".join(records).ljust(64, b"\0") + b"\x55\xaa"


def partition(files: list[File | Directory], sectors: int) -> bytes:
    """A volume with FAT12 that fills so many sectors."""
    shape = Shape(
        cluster_sectors=4, fat_sectors=12, root_entries=512, total=sectors, media=0xF8, track=SECTORS, heads=HEADS
    )
    image = bytearray(Writer(shape).write(files))
    image[28:32] = SECTORS.to_bytes(4, "little")   # the sectors before it, counted from its table
    return bytes(image)


def disk(*, loop: bool = False) -> bytes:
    """A disk of 306x4x17: a primary partition, and an extended one with two logical ones."""
    total = 306 * HEADS * SECTORS
    image = bytearray(total * 512)
    cylinder = HEADS * SECTORS

    def put(sector: int, data: bytes) -> None:
        image[sector * 512 : sector * 512 + len(data)] = data

    extended = 100 * cylinder
    put(0, table(record(1, SECTORS, extended - SECTORS, active=True), record(5, extended, total - extended)))
    put(SECTORS, partition([File(b"TIDE    LOG", b"t" * 3000)], extended - SECTORS))
    half = 100 * cylinder
    onward = record(5, 0 if loop else half, half)
    put(extended, table(record(1, SECTORS, half - SECTORS, at=extended + SECTORS), onward))
    put(extended + SECTORS, partition([File(b"GAUGE   DAT", b"g" * 5000)], half - SECTORS))
    second = extended + half
    put(second, table(record(1, SECTORS, 106 * cylinder - SECTORS, at=second + SECTORS)))
    put(second + SECTORS, partition([File(b"SURVEY  TXT", b"s" * 100)], 106 * cylinder - SECTORS))
    return bytes(image)
