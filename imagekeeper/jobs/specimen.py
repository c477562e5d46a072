"""Invented data for demonstrations: the tide recorder "Quillmere TG-85" of a harbour office, 1985.

The maker, the machine, its program, its characters and its station are all made up here, by rule. Nothing is taken from
a real machine.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path

from imagekeeper import containers
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError, Where
from imagekeeper.files import display_name, unwritable
from imagekeeper.jobs import specimen_disks

#: When the invented reads were taken: 2 March 2026, 10:00 UTC. [s since 1970]
READ_TIME = 1772445600

PROGRAM_BYTES = 32768   # two 27128, even and odd bytes
SECTOR_BYTES = 512


class _Dice:
    """A small repeatable source of numbers: X' = (1664525 X + 1013904223) mod 2^32.

    Source: W. H. Press and others, Numerical Recipes, "quick and dirty generators"; constants from memory.
    """

    def __init__(self, seed: int) -> None:
        self._state = seed

    def below(self, limit: int) -> int:
        self._state = (1664525 * self._state + 1013904223) & 0xFFFFFFFF
        return (self._state >> 16) * limit >> 16


def program() -> bytes:
    """The recorder's program for a 16-bit processor: vectors, instructions, texts, a sine table, a check word.

    The sum of all 16-bit words, high byte first, is zero.
    """
    dice = _Dice(85)
    code = bytearray(bytes.fromhex("0000 1000 0000 0400"))
    code += b"".join((0x0400 + 16 * (i % 40)).to_bytes(4) for i in range(62))
    code += bytes(0x400 - len(code))
    words = (0x2F00, 0x4E75, 0x303C, 0x41F9, 0x6100, 0x6600, 0x4A40, 0xD040, 0x3200, 0x0C40, 0x5340, 0x51C8)
    while len(code) < 0x4800:
        code += words[dice.below(len(words))].to_bytes(2)
        if dice.below(3) == 0:
            code += (dice.below(64) * 2).to_bytes(2)
    texts = (
        "QUILLMERE TG-85 TIDE GAUGE", "PROGRAM 2.1  1985", "HARBOUR OFFICE", "SET CLOCK", "SET DATUM", "PRINT DAY",
        "INSERT STATION DISK", "DISK FULL", "CHECK FLOAT WIRE", "CHECK PAPER", "LOW BATTERY", "HIGH WATER", "LOW WATER",
    )  # fmt: skip
    code += b"".join(text.encode() + b"\0" for text in texts)
    code += bytes(len(code) % 2)
    code += b"".join(round(32767 * math.sin(math.pi * i / 2048)).to_bytes(2) for i in range(1024))
    code += b"\xff" * (PROGRAM_BYTES - 2 - len(code))
    total = sum(int.from_bytes(code[i : i + 2]) for i in range(0, len(code), 2))
    return bytes(code) + (-total & 0xFFFF).to_bytes(2)


def character_generator() -> bytes:
    """128 characters of 16 rows, one byte a row; each is drawn from strokes that its code chooses."""
    rows = bytearray()
    for code in range(128):
        cell = [0] * 16
        if code > 32:
            strokes = (code * 37 + (code >> 3) * 11) & 0x7F
            for bit, (top, bottom, dots) in enumerate(
                ((3, 3, 0x7C), (3, 8, 0x04), (8, 13, 0x04), (13, 13, 0x7C), (8, 13, 0x40), (3, 8, 0x40), (8, 8, 0x7C))
            ):
                if strokes >> bit & 1:
                    for row in range(top, bottom + 1):
                        cell[row] |= dots
        rows += bytes(cell)
    return bytes(rows)


def station_constants() -> bytes:
    """The battery-backed memory: who and where the station is, and four constituents of its tide."""
    text = b"STATION 07 OUTER MOLE      DATUM +1.862 M  FLOAT 0.200 M  "
    ram = bytearray(2048)
    ram[0 : len(text)] = text
    for i, (name, amplitude, _, phase) in enumerate(_TIDE):
        entry = name.encode().ljust(4) + round(amplitude * 1000).to_bytes(2) + round(phase * 10).to_bytes(2)
        ram[0x80 + 8 * i : 0x88 + 8 * i] = entry
    dice = _Dice(30)
    for i in range(0x200, 0x700):   # the last hours of readings, in a ring
        ram[i] = dice.below(256) if i % 2 else 0x10 + dice.below(9)
    return bytes(ram)


#: Constituent, amplitude [m], speed [degree/hour], phase [degree]. The speeds are those of the real constituents,
#: from memory; amplitudes and phases are invented.
_TIDE = (
    ("M2", 1.420, 28.984104, 121.0),
    ("S2", 0.480, 30.0, 163.5),
    ("K1", 0.110, 15.041069, 12.4),
    ("O1", 0.090, 13.943036, 301.9),
)


def tide(hour: float) -> float:
    """Height of the invented station's tide above its datum. [m]"""
    return 1.862 + sum(a * math.cos(math.radians(speed * hour - phase)) for _, a, speed, phase in _TIDE)


def station_disk() -> bytes:
    """The 5.25-inch station disk: 80 tracks of 9 sectors on two sides; a label, then one sector for 24 hours a day."""
    sectors = [b"TG85 STATION DISK  07 OUTER MOLE  1985".ljust(SECTOR_BYTES, b" ")]
    for day in range(365):
        heights = (round(tide(day * 24 + i / 10) * 1000) for i in range(240))
        sectors.append(f"DAY {day + 1:03d}".encode().ljust(32) + b"".join(h.to_bytes(2, signed=True) for h in heights))
    sectors += [b"\xe5" * SECTOR_BYTES] * (80 * 2 * 9 - len(sectors))   # E5: what formatting leaves
    return b"".join(sectors)


def listing(data: bytes, base: int = 0) -> str:
    """Print bytes as the recorder's own monitor would, with its prompt and a pause between pages."""
    lines = ["TG85 MONITOR", "", f"? M {base:04X},{base + len(data) - 1:04X}", ""]
    for at in range(0, len(data), 16):
        row = data[at : at + 16]
        text = "".join(chr(c) if 32 <= c < 127 else "." for c in row)
        lines.append(f"{base + at:04X}: {' '.join(f'{c:02X}' for c in row)}  {text}")
        if at % 512 == 496 and at + 16 < len(data):
            lines.append("MORE")
    return "\r\n".join([*lines, "", "? "])


@dataclass(frozen=True)
class _Unstable:
    """A data line with a bad contact: now and then it reads 1 where it should read 0."""

    line: int
    seed: int

    def read(self, data: bytes, start: int, end: int) -> bytes:
        dice = _Dice(self.seed)
        out = bytearray(data)
        for at in range(start, end):
            if dice.below(6) == 0:
                out[at] |= 1 << self.line
        return bytes(out)


def files() -> dict[str, bytes]:
    """Every file of the demonstration, by name, as the readers would have left them."""
    even, odd = program()[0::2], program()[1::2]
    chars, ram, disk = character_generator(), station_constants(), station_disk()
    even_image = Image(segments=(Segment(0, even),), addressed=True)
    ram_text = containers.encode(Image(
        segments=(Segment(0x2000, ram),), addressed=True, title="U30"
    ), "s-record").decode()
    lines = ram_text.splitlines()
    broken = lines[40]
    lines[40] = broken[:20] + ("0" if broken[20] != "0" else "1") + broken[21:]
    return {
        "u4-first.bin": even,
        "u4-second.hex": containers.encode(even_image, "intel-hex"),
        "u5-first.bin": odd,
        "u5-second.bin": _Unstable(3, 5).read(odd, 0x1000, 0x1C00),
        "u5-third.bin": odd,
        "u17-first.log": listing(chars).encode(),
        "u17-second.bin": chars,
        "u30-first.s19": "\n".join(lines).encode() + b"\n",
        "u30-second.s19": ram_text.encode(),
        "disk-first.img": disk,
        "disk-second.img": disk,
        **specimen_disks.files(),
    }


def write(folder: Path) -> tuple[str, ...]:
    """Write the files into a folder, with the times at which they were read, a minute apart.

    Args:
        folder: It is made where it is not there; nothing in it is written over.

    Returns:
        The names of the files.

    Raises:
        UsageError: `exists` where one of the names is taken, before anything is written; `cannot-write`.
    """
    everything = files()
    for name in everything:
        there = folder / name
        if os.path.lexists(there):
            raise UsageError(
                "exists", "an invented file would take the place of another",
                why=f"{display_name(there)} is there already",
                hint="name a new or an empty folder; nothing was written", where=Where(file=display_name(there)),
            )  # fmt: skip
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for number, (name, data) in enumerate(everything.items()):
            path = folder / name
            path.write_bytes(data)
            os.utime(path, (READ_TIME + 60 * number, READ_TIME + 60 * number))
    except OSError as problem:
        raise unwritable(display_name(folder), problem) from problem
    return tuple(everything)
