"""Invented disks of every shape: the harbour office's files, with FATs, with a directory of 8-bit machines, or bare."""

from __future__ import annotations

import random

from imagekeeper.floppy.order import placed
from imagekeeper.geometry.shapes import Shape
from imagekeeper.tables.floppy import FatParameters, format_rows

WORDS = ("TIDE", "GAUGE", "HARBOUR", "OUTER", "MOLE", "DATUM", "FLOAT", "PAPER", "CLOCK", "STATION", "WATER", "DAY")


def shape_of(name: str) -> Shape:
    """The shape of a format, which other formats may share."""
    from imagekeeper.geometry.shapes import shapes

    return next(shape for shape in shapes() if name in shape.formats)


def text(dice: random.Random, size: int) -> bytes:
    lines = []
    while sum(map(len, lines)) < size:
        lines.append(" ".join(dice.choices(WORDS, k=8)) + f" {dice.random():.3f}\r\n")
    return "".join(lines).encode()[:size]


def code(dice: random.Random, size: int) -> bytes:
    table = [dice.randbytes(2) for _ in range(90)]
    return b"".join(dice.choices(table, k=size // 2 + 1))[:size]


def content(dice: random.Random, size: int) -> bytes:
    return (text if dice.random() < 0.5 else code)(dice, size)


def parameters(shape: Shape) -> FatParameters:
    """Those of the table, or plausible ones where it has none."""
    for name in shape.formats:
        fat = format_rows()[name].fat
        if fat is not None:
            return fat
    cluster = 2 if shape.bytes < 1_000_000 else 4
    entries = shape.bytes // shape.sector_bytes // cluster
    sectors = -(-(entries + 2) * 3 // 2 // shape.sector_bytes)
    media = {(80, 1, 8): 0xFA, (80, 2, 8): 0xFB}.get((shape.cylinders, shape.heads, shape.sectors), 0xF8)
    return FatParameters(
        reserved_sectors=1, fats=2, fat_sectors=sectors, root_entries=112, cluster_sectors=cluster, media=media
    )


def block(shape: Shape, fat: FatParameters) -> bytes:
    """A boot sector's parameter block. Offsets: Microsoft, Q140418."""
    total = shape.bytes // shape.sector_bytes
    return (
        b"\xeb\x34\x90TG85 1.0" + shape.sector_bytes.to_bytes(2, "little") + bytes([fat.cluster_sectors])
        + fat.reserved_sectors.to_bytes(2, "little") + bytes([fat.fats]) + fat.root_entries.to_bytes(2, "little")
        + total.to_bytes(2, "little") + bytes([fat.media]) + fat.fat_sectors.to_bytes(2, "little")
        + shape.sectors.to_bytes(2, "little") + shape.heads.to_bytes(2, "little") + bytes(8)
    )  # fmt: skip


def _packed(entries: list[int]) -> bytes:
    out = bytearray()
    for i in range(0, len(entries), 2):
        low, high = entries[i], entries[i + 1] if i + 1 < len(entries) else 0
        out += (low | high << 12).to_bytes(3, "little")
    return bytes(out)


def fat_disk(shape: Shape, seed: int, *, with_block: bool = True, full: float = 0.5, fill: int = 0xF6) -> bytes:
    """A disk with FATs, its files one behind the other."""
    dice, fat, size = random.Random(seed), parameters(shape), shape.sector_bytes
    boot = block(shape, fat) if with_block else b"\xeb\x20\x90" + code(dice, 40)
    boot = (boot + code(dice, size))[:size]
    root_sectors = -(-fat.root_entries * 32 // size)
    data_at = fat.reserved_sectors + fat.fats * fat.fat_sectors + root_sectors
    cluster = fat.cluster_sectors * size
    clusters = min((shape.bytes // size - data_at) // fat.cluster_sectors, fat.fat_sectors * size * 2 // 3 - 2)
    entries, root, files, number = [0xF00 | fat.media, 0xFFF], b"", b"", 0
    while len(entries) - 2 < clusters * full and number < fat.root_entries - 1:
        length = dice.randint(1, max(cluster * min(40, int(clusters * full) + 1), 2))
        count = min(-(-length // cluster), clusters + 2 - len(entries))
        length = min(length, count * cluster)
        first = len(entries)
        entries += [first + i + 1 for i in range(count - 1)] + [0xFFF]
        name = f"{dice.choice(WORDS)[:5]}{number:03d}".ljust(8) + dice.choice(["TXT", "DAT", "COM"])
        root += name.encode() + b"\x20" + bytes(10) + dice.randbytes(4) + first.to_bytes(2, "little")
        root += length.to_bytes(4, "little")
        files += content(dice, length).ljust(count * cluster, b"\0")
        number += 1
    table = _packed(entries).ljust(fat.fat_sectors * size, b"\0")[: fat.fat_sectors * size]
    disk = boot.ljust(fat.reserved_sectors * size, b"\0") + table * fat.fats
    disk += root.ljust(root_sectors * size, b"\0") + files
    return disk.ljust(shape.bytes, bytes([fill]))[: shape.bytes]


def directory_disk(shape: Shape, seed: int, *, step: int = 1, full: float = 0.5) -> bytes:
    """A disk with a directory of 8-bit machines behind its system tracks, in blocks of 1 or 2 KiB."""
    dice = random.Random(seed)
    reserved = dice.choice([1, 2, 3])
    start, block_bytes = reserved * shape.track_bytes, 1024 if shape.bytes < 260_000 else 2048
    wide = (shape.bytes - start) // block_bytes > 255   # then block numbers have 16 bits
    blocks = (shape.bytes - start) // block_bytes
    taken = 2   # of the directory
    directory, data, number = b"", b"", 0
    while taken < blocks * full and number < 60:
        each = 8 if wide else 16
        count = min(dice.randint(1, each), blocks - taken)
        last = dice.randint(1, block_bytes // 128)
        records = min((count - 1) * block_bytes // 128 + last, 128)
        numbers = b"".join(n.to_bytes(2 if wide else 1, "little") for n in range(taken, taken + count))
        name = f"{dice.choice(WORDS)[:5]}{number:02d}".ljust(8) + dice.choice(["TXT", "DAT", "COM"])
        directory += b"\0" + name.encode() + bytes([0, 0, 0, records]) + numbers.ljust(16, b"\0")
        written = -(-records * 128 // shape.sector_bytes) * shape.sector_bytes
        data += content(dice, records * 128).ljust(written, b"\x1a").ljust(count * block_bytes, b"\xe5")
        taken, number = taken + count, number + 1
    logical = directory.ljust(2 * block_bytes, b"\xe5") + data
    disk = code(dice, start) + logical.ljust(shape.bytes - start, b"\xe5")[: shape.bytes - start]
    return skewed(disk, shape, reserved, step) if step > 1 else disk


def skewed(disk: bytes, shape: Shape, reserved: int, step: int) -> bytes:
    """Lay the sectors of all tracks behind the reserved ones some apart."""
    size, out = shape.sector_bytes, [disk[: reserved * shape.track_bytes]]
    order = placed(shape.sectors, step)
    for at in range(reserved * shape.track_bytes, shape.bytes, shape.track_bytes):
        track = disk[at : at + shape.track_bytes]
        out.append(b"".join(track[(number - 1) * size : number * size] for number in order))
    return b"".join(out)


def bare_disk(shape: Shape, seed: int, *, full: float = 0.5) -> bytes:
    """Programs and data from the first track on, without any file system; the rest is the fill of formatting."""
    dice = random.Random(seed)
    sectors = round(shape.bytes * full) // shape.sector_bytes
    return content(dice, sectors * shape.sector_bytes).ljust(shape.bytes, b"\xe5")


def _place(order: str, cylinders: int, cylinder: int, head: int) -> int:
    """Where a track stands in the file: arithmetic of its own, so that the program is not held against itself."""
    if order == "alternating":
        return 2 * cylinder + head
    if head == 0:
        return cylinder
    return cylinders + cylinder if order == "side-after-side" else 2 * cylinders - 1 - cylinder


def in_order(disk: bytes, shape: Shape, order: str) -> bytes:
    """Write a disk, whose tracks come by cylinder and side, as a file of another order of sides."""
    size = shape.track_bytes
    tracks = [b""] * shape.tracks
    for cylinder in range(shape.cylinders):
        for head in (0, 1):
            at = (2 * cylinder + head) * size
            tracks[_place(order, shape.cylinders, cylinder, head)] = disk[at : at + size]
    return b"".join(tracks)
