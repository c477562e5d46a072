"""The facts of an inspection: blocks, strings, fill, lines, processors."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from imagekeeper.containers.model import Image
from imagekeeper.inspection.inspection import inspect_image
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs import specimen

ROOT = Path(__file__).parent.parent.parent


def inspected(data: bytes, start: int | None = None) -> Inspection:
    image = Image.from_bytes(data)
    return inspect_image(image if start is None else image.moved(start))


def hints(data: bytes, start: int | None = None) -> list[str]:
    return [hint.processor for hint in inspected(data, start).processors]


def test_blocks_tell_kinds_apart() -> None:
    dice = np.random.default_rng(1)
    fill = b"\xff" * 1024
    text = (b"SET CLOCK AND CHECK THE PAPER. " * 40)[:1024]
    table = bytes(round(128 + 100 * math.sin(i / 40)) for i in range(1024))
    chance = dice.integers(0, 256, 1024).astype(np.uint8).tobytes()
    sparse = bytes(900) + b"\x4e\x75" * 62
    result = inspected(fill + text + table + chance + sparse)
    kinds = [block.kind for block in result.blocks]
    assert kinds[:16] == ["fill"] * 4 + ["text"] * 4 + ["table"] * 4 + ["dense"] * 4
    assert result.block_bytes == 256
    assert result.blocks[0].entropy == 0
    assert (result.blocks[0].commonest, result.blocks[0].commonest_share) == ("FF", 1.0)


def test_entropy_of_equally_frequent_values() -> None:
    """Shannon 1948, section 6: log2 n for n equally likely values."""
    for n in (2, 16, 256):
        assert inspected(bytes(range(n)) * 512).entropy == math.log2(n)


def test_data_lines_count_their_ones() -> None:
    lines = inspected(bytes([0x80, 0x81, 0x83, 0x80])).data_lines
    assert [(d.line, d.ones, d.constant) for d in lines][:3] == [("D0", 2, None), ("D1", 1, None), ("D2", 0, 0)]
    assert (lines[7].ones, lines[7].constant) == (4, 1)


def test_fill_runs() -> None:
    result = inspected(b"AB" + bytes(100) + b"CD" + b"\xff" * 31 + b"E", 0x2000)
    assert [(f.start, f.length, f.value) for f in result.fills] == [(0x2002, 100, "00")]
    assert result.fill_bytes == 100


def test_strings_of_three_forms_and_their_cap() -> None:
    high = bytes(c | 0x80 for c in b"INSERT DISK")
    data = b"\0HARBOUR OFFICE\0\1" + b"LOW WATE\xd2" + b"\2\3" + high + b"\0UUUUUUUUUU\0"
    found = [(t.text, t.form) for t in inspected(data, 0x100).texts]
    assert found == [("HARBOUR OFFICE", "ascii"), ("LOW WATER", "bit-7-last"), ("INSERT DISK", "bit-7")]
    many = b"".join(b"TIDE %05d\0" % i for i in range(1000))
    result = inspected(many)
    assert (len(result.texts), result.texts_total) == (200, 1000)
    assert len(inspected(b"HARBOUR " * 1000).texts[0].text) == 121


def test_a_68000_program_and_none_in_its_lanes() -> None:
    assert hints(specimen.program()) == ["68000"]
    assert "68000" not in hints(specimen.program()[::2])


def invented(call: int, ret: int, order: str, base: int, size: int = 8192) -> bytearray:
    """A program of short subroutines that call each other, made by rule; the bytes between are never opcodes of its."""
    dice = np.random.default_rng(call)
    code, begins = bytearray(), [0]
    while len(code) < size - 400:
        for _ in range(int(dice.integers(4, 9))):
            code += bytes(dice.integers(0x80, 0xA0, int(dice.integers(1, 4))).astype(np.uint8))
            target = base + begins[int(dice.integers(len(begins)))]
            code += bytes([call]) + target.to_bytes(2, "big" if order == "big" else "little")
        code.append(ret)
        begins.append(len(code))
    return code + bytes([0x81]) * (size - len(code))


@pytest.mark.parametrize(("name", "call", "ret", "order", "base"), [
    ("Z80, 8080 or 8085", 0xCD, 0xC9, "little", 0),        # Zilog, UM0080: CALL nn, RET
    ("6502", 0x20, 0x60, "little", 0xE000),                # JSR, RTS: from memory
    ("6800, 6809 or 68HC11", 0xBD, 0x39, "big", 0xE000),   # JSR, RTS: from memory
    ("8051", 0x12, 0x22, "big", 0),                        # LCALL, RET: from memory
])  # fmt: skip
def test_calls_lead_to_the_beginnings_of_subroutines(name: str, call: int, ret: int, order: str, base: int) -> None:
    result = inspected(bytes(invented(call, ret, order, base)))
    assert result.processors[0].processor == name
    assert f"image at {base:04X}" in result.processors[0].evidence[0].says
    assert result.processors[0].weight < 1


def test_vectors_at_the_top() -> None:
    """The worked example: NMI C000, RESET C010, IRQ C020, low byte first. From memory."""
    data = bytearray(16384)
    data[:] = bytes(i * 7 % 251 for i in range(16384))
    data[0x10:0x15] = bytes.fromhex("78 D8 A2 FF 9A")
    data[-6:] = bytes.fromhex("00C0 10C0 20C0")
    (hint,) = inspected(bytes(data)).processors
    assert hint.processor == "6502"
    assert "at C010 stands 78" in hint.evidence[0].says


def test_an_extension_rom() -> None:
    """55 AA: Plug and Play BIOS Specification 1.0A, section 3.1."""
    data = bytes.fromhex("55AA04CB") + bytes(i * 7 % 251 for i in range(2044))
    assert hints(data) == ["x86"]


def test_text_and_chance_hint_at_nothing() -> None:
    text = b"".join(p.read_bytes() for p in sorted((ROOT / "docs" / "how-to").glob("*.md")))[:32768]
    assert hints(text) == []
    for seed in range(20):
        assert hints(np.random.default_rng(seed).integers(0, 256, 16384).astype(np.uint8).tobytes()) == []
