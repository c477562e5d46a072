"""A small writer of volumes of 8-bit machines, from first principles: it shares no code with the reader.

Rules as in Digital Research, CP/M 2.2 Interface Guide and Alteration Guide, from memory.
"""

from __future__ import annotations

import random
from collections.abc import Container
from dataclasses import dataclass, field

WORDS = ("TIDE", "GAUGE", "HARBOUR", "OUTER", "MOLE", "DATUM", "FLOAT", "PAPER", "CLOCK", "STATION", "WATER", "DAY")


@dataclass
class Shape:
    """How the disk is made."""

    cylinders: int = 77
    heads: int = 1
    sectors: int = 26
    sector_bytes: int = 128
    block: int = 1024
    directory: int = 64
    offset: int = 2
    skew: int = 6
    mask: int | None = None         # None: the largest
    counts: str = "last-extent"
    last: str = "not-kept"
    sides: str = "alternating"

    @property
    def track(self) -> int:
        return self.sectors * self.sector_bytes

    @property
    def size(self) -> int:
        return self.cylinders * self.heads * self.track

    @property
    def blocks(self) -> int:
        return (self.size - self.offset * self.track) // self.block

    @property
    def width(self) -> int:
        return 2 if self.blocks > 256 else 1

    @property
    def exm(self) -> int:
        if self.mask is not None:
            return self.mask
        return self.block // 1024 // self.width - 1

    @property
    def possible(self) -> bool:
        room = self.directory * 32 <= 16 * self.block and self.directory * 32 < self.blocks * self.block
        return room and 16 * self.block // self.width >= 16384


@dataclass
class Content:
    """What a file holds: its records of 128 bytes by number; those left out are holes."""

    user: int
    name: bytes                     # 11 bytes with attributes
    records: dict[int, bytes] = field(default_factory=dict)
    bytes_of_last: int = 128

    @property
    def expected(self) -> bytes:
        """The bytes that a reader must give, holes as zero, blocks filled up with what was written."""
        count = max(self.records, default=-1) + 1
        return b"".join(self.records.get(i, bytes(128)) for i in range(count))


def order_of(sectors: int, skew: int) -> list[int]:
    """The sector at which each logical sector lies, from 0: the rule of the published table."""
    free, at, found = set(range(sectors)), 0, []
    for _ in range(sectors):
        while at not in free:
            at = (at + 1) % sectors
        free.remove(at)
        found.append(at)
        at = (at + skew) % sectors
    return found


def write(shape: Shape, files: list[Content], dice: random.Random | None = None, system: bytes = b"",
          gone: Container[int] = ()) -> bytes:
    """Write a volume; with dice, blocks and entries are given in any order; files of some numbers are deleted."""
    logical = bytearray(b"\xe5" * (shape.cylinders * shape.heads * shape.track - shape.offset * shape.track))
    free = list(range(-(-shape.directory * 32 // shape.block), shape.blocks))
    if dice:
        dice.shuffle(free)
    per_block, entry_records = shape.block // 128, (shape.exm + 1) * 128
    entries: list[bytes] = []
    for place, file in enumerate(files):
        count = max(file.records, default=-1) + 1
        for number in range(max(-(-count // entry_records), 1)):
            first = number * entry_records
            inside = [i for i in file.records if first <= i < first + entry_records]
            if not inside and count:
                continue            # a part that is all hole has no entry
            numbers = []
            for start in range(first, first + entry_records, per_block):
                if not any(start + i in file.records for i in range(per_block)):
                    numbers.append(0)
                    continue
                block = free.pop(0)
                numbers.append(block)
                for i in range(per_block):
                    at = block * shape.block + i * 128
                    if start + i in file.records:
                        logical[at : at + 128] = file.records[start + i]
                    elif start + i < count:
                        logical[at : at + 128] = bytes(128)
                        file.records[start + i] = bytes(128)
            held = max(inside, default=first - 1) + 1 - first
            extent = first // 128 + max(held - 1, 0) // 128
            records = held if shape.counts == "whole-entry" else held - max(held - 1, 0) // 128 * 128
            final = number == -(-count // entry_records) - 1 and file.bytes_of_last < 128
            spare = {"not-kept": 0, "used": file.bytes_of_last, "unused": 128 - file.bytes_of_last}[shape.last]
            counts = bytes([extent % 32, spare if final else 0, extent // 32, records & 0xFF])
            raw = bytes([0xE5 if place in gone else file.user]) + file.name + counts
            entries.append(raw + b"".join(n.to_bytes(shape.width, "little") for n in numbers).ljust(16, b"\0"))
    assert len(entries) <= shape.directory
    if dice:
        dice.shuffle(entries)
    table = b"".join(entries).ljust(shape.directory * 32, b"\xe5")
    logical[: len(table)] = table
    return lay(shape, bytes(logical), system)


def lay(shape: Shape, logical: bytes, system: bytes = b"") -> bytes:
    """Put logical bytes behind the reserved tracks to their tracks and sectors."""
    disk = bytearray(b"\xe5" * shape.size)
    disk[: len(system)] = system
    order, half = order_of(shape.sectors, shape.skew), shape.cylinders
    for at in range(0, len(logical), shape.track):
        track = shape.offset + at // shape.track
        if shape.sides == "side-after-side":
            track = 2 * track if track < half else 2 * (track - half) + 1
        elif shape.sides == "side-1-reversed":
            track = 2 * track if track < half else 2 * (2 * half - 1 - track) + 1
        for slot, sector in enumerate(order):
            begin = track * shape.track + sector * shape.sector_bytes
            disk[begin : begin + shape.sector_bytes] = (
                logical[at + slot * shape.sector_bytes : at + (slot + 1) * shape.sector_bytes]
            )
    return bytes(disk)


def text(dice: random.Random, size: int) -> bytes:
    lines, length = [], 0
    while length < size:
        line = " ".join(dice.choices(WORDS, k=8)) + f" {dice.random():.3f}\r\n"
        lines.append(line)
        length += len(line)
    return "".join(lines).encode()[:size]


def code(dice: random.Random, size: int) -> bytes:
    table = [dice.randbytes(2) for _ in range(90)]
    return b"".join(dice.choices(table, k=size // 2 + 1))[:size]


def whole(user: int, name: str, content: bytes) -> Content:
    """A file written in order; the last record is filled with the end mark of texts."""
    raw = name.encode()
    padded = content.ljust(-(-len(content) // 128) * 128, b"\x1a")
    return Content(user, raw, {i: padded[i * 128 : i * 128 + 128] for i in range(len(padded) // 128)},
                   len(content) - (len(padded) - 128) if content else 128)


def filled(shape: Shape, seed: int, full: float, *, worn: bool = False) -> tuple[bytes, list[Content]]:
    """A disk as people have them: texts and programs, one behind the other, up to a share of its blocks.

    A worn one had as many files again, deleted since: their blocks and entries were used again, or still hold them.
    """
    dice = random.Random(seed)
    left = int((shape.blocks - -(-shape.directory * 32 // shape.block)) * full)
    files: list[Content] = []
    entries = 0
    while left > 0 and entries < shape.directory:
        size = min(int(dice.expovariate(1 / 9000)) + 1, left * shape.block)
        parts = -(-size // ((shape.exm + 1) * 16384))
        if entries + parts > shape.directory:
            break
        entries += parts
        left -= -(-size // shape.block)
        name = f"{dice.choice(WORDS)[:5]}{len(files):03d}".ljust(8) + dice.choice(["TXT", "DAT", "COM"])
        maker = code if name.endswith("COM") else text
        files.append(whole(dice.choice([0, 0, 0, 1, 5]), name, maker(dice, size)))
    system = code(dice, shape.offset * shape.track)
    if worn:
        gone = set(dice.sample(range(len(files)), len(files) // 2))
        return write(shape, files, dice, system, gone), [one for i, one in enumerate(files) if i not in gone]
    return write(shape, files, system=system), files


def noise(dice: random.Random, size: int) -> bytes:
    return dice.randbytes(size)


def sparse(shape: Shape, seed: int) -> tuple[bytes, list[Content]]:
    """A disk that tells little: one to six files of one kind.

    Every second one has old data where no file is: in the disk's own order, or now and then in that of another machine.
    """
    dice = random.Random(seed)
    maker = dice.choice([text, code, noise, noise])
    files: list[Content] = []
    left = shape.blocks - -(-shape.directory * 32 // shape.block)
    for number in range(dice.randint(1, 6)):
        size = min(int(dice.expovariate(1 / 6000)) + 1, left * shape.block)
        left -= -(-size // shape.block)
        if left < 0 or not size:
            break
        name = f"{dice.choice(WORDS)[:5]}{number:03d}".ljust(8) + dice.choice(["TXT", "DAT", "COM"])
        files.append(whole(0, name, maker(dice, size)))
    disk = bytearray(write(shape, files, system=code(dice, shape.offset * shape.track)))
    if dice.random() < 0.5:
        length = shape.size - shape.offset * shape.track
        old = lay(shape, maker(dice, length)) if dice.random() < 0.7 else maker(dice, shape.size)
        first = (shape.offset * (2 if shape.sides != "alternating" else 1) + 2) * shape.track
        for at in range(first, shape.size, shape.track):
            if disk[at : at + shape.track] == b"\xe5" * shape.track and dice.random() < 0.8:
                disk[at : at + shape.track] = old[at : at + shape.track]
    return bytes(disk), files
