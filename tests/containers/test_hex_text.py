"""Hexadecimal listings: layouts of monitors and debuggers, noise around them, and damage that must not pass.

The layouts in the tables are common practice, no source; the tools `od`, `xxd` and `hexdump` are judges from outside.
"""

import random
import subprocess
import time
import tracemalloc
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from imagekeeper.containers.hex_text import read, recognise
from imagekeeper.errors import CODES, InputError
from tests import tools
from tests.refusals import refuses

PROGRAM = bytes.fromhex("21004011005001000EDB0C3E01D30076 47686F7374206F66207468652074696465 C3000000FF")
ABC = bytes(range(0x41, 0x41 + 16))


def spaced(data: bytes, group: int = 1) -> str:
    return data.hex(" ", group).upper() if len(data) % group == 0 else data.hex(" ", -group).upper()


def shown(data: bytes) -> str:
    return "".join(chr(b) if 0x20 <= b < 0x7F else "." for b in data)


def listing(data: bytes, form: str = "{0:04X}: {1}", start: int = 0x100, per_line: int = 16, end: str = "\n") -> str:
    lines = [
        form.format(start + i, spaced(data[i : i + per_line]), shown(data[i : i + per_line]))
        for i in range(0, len(data), per_line)
    ]
    return end.join(lines) + end


def lines_of(text: str) -> list[str]:
    return text.splitlines(keepends=True)


FORMS = [
    "{0:04X}: {1}", "{0:04x}:{1}", "{0:04X} {1}", "{0:04X}  {1}", "{0:04X}- {1}", "{0:04X}. {1}", "{0:04X}h {1}",
    "{0:04X}H: {1}", "0x{0:04x}: {1}", "0x{0:04X} {1}", "${0:04X} {1}", ">{0:04X} {1}", "> {0:04X}  {1}",
    "   {0:04X} {1}", "*{0:04X}- {1}", "[{0:04X}] {1}", "({0:04X}) {1}", "{0:04X} | {1}", "{0:04X} / {1}", "{0:X}: {1}",
    "{0:08X}: {1}", "0000:{0:04X} {1}", "0000:{0:04X}: {1}", "  0000:{0:04X}  {1}", "{0:06X} {1}   ",
    "{0:04X}: {1:47}  {2}", "{0:04X} {1:47}  |{2}|", "{0:04X} {1} {2}", "{0:04X}: {1}  {2}", "{0:04X} {1}   [{2}]",
    "{0:04X}: {1:47} | {2}", "[2026-03-01 10:00:07.250] {0:04X}: {1}", "10:00:07 {0:04X}: {1}",
]  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("per_line", [4, 8, 16])
def test_forms_of_address_and_text_column(form: str, per_line: int) -> None:
    text = listing(PROGRAM, form, per_line=per_line)
    image = read(text.encode())
    assert (image.first_address, image.tobytes(), image.addressed) == (0x100, PROGRAM, True)
    assert image.container == "hex-text"
    assert not image.doubts
    found = recognise(text.encode())
    assert found is not None
    assert found.answer == "hex-text"
    assert 0.4 < found.score <= 0.9


TEXTS = {
    "no addresses": ("41 42 43 44\n45 46 47 48\n49 4A\n", 0, ABC[:10]),
    "no addresses, text column": ("41 42 43 44  ABCD\n45 46 47 48  EFGH\n49 4A        IJ\n", 0, ABC[:10]),
    "no addresses, dashes": ("41-42-43-44\n45-46-47-48\n", 0, ABC[:8]),
    "words": ("0000 4142 4344 4546 4748\n0008 494A 4B4C 4D4E 4F50\n", 0, ABC),
    "one line of words": ("0000 4142 4344 4546 4748\n", 0, ABC[:8]),
    "words without addresses": ("4142 4344 4546 4748\n494A 4B4C 4D4E 4F50\n", 0, ABC),
    "double words": ("0000: 41424344 45464748\n0008: 494A4B4C 4D4E4F50\n", 0, ABC),
    "an odd last byte": ("0000: 4142 4344\n0004: 4546 47\n", 0, ABC[:7]),
    "run together": ("41424344454647484142\n494A4B4C\n", 0, ABC[:8] + b"AB" + ABC[8:12]),
    "run together behind addresses": ("0000: 414243444546\n0006: 4748494A4B4C\n", 0, ABC[:12]),
    "a dash in the middle": ("0000 41 42-43 44\n0004 45 46-47 48\n", 0, ABC[:8]),
    "a wide dash": ("0000 41 42 - 43 44\n0004 45 46 - 47 48\n", 0, ABC[:8]),
    "two blanks in the middle": (
        "0000 41 42  43 44  ABCD\n0004 45 46  47 48  EFGH\n0008 49 4A         IJ\n", 0, ABC[:10]),
    "tabs": ("0000:\t41 42 43 44\tABCD\n0004:\t45 46 47 48\tEFGH\n", 0, ABC[:8]),
    "text that looks like digits": ("0000 41 42  AB\n0002 43 44  CD\n0004 45 46  EF\n", 0, ABC[:6]),
    "text of digits, one line": ("0000 41 42  AB\n", 0, ABC[:2]),
    "text of digits, short line": (
        "0000: 41 42 43 44 ABCD\n0004: 45 46 47 48 EFGH\n0008: 41 42 AB\n", 0, ABC[:8] + b"AB"),
    "text of blanks": ("0000: 20 20 41 42    AB\n0004: 20 20 20 20\n0008: 43 44 45 46  CDEF\n", 0, b"  AB    CDEF"),
    "segment and offset": ("F000:0100 41 42 43 44\nF000:0104 45 46 47 48\n", 0xF0100, ABC[:8]),
    "segments that change": (
        "0010:0000 4142 4344\n0010:0004 4546 4748\n0000:0108 494A 4B4C\n", 0x100, ABC[:8] + ABC[8:12]),
    "no colon but words": ("0000:4142 4344 4546 4748\n0008:494A 4B4C 4D4E 4F50\n", 0, ABC),
    "addresses grow": ("FFF8: 41 42 43 44\nFFFC: 45 46 47 48\n10000: 49 4A 4B 4C\n", 0xFFF8, ABC[:12]),
    "the highest address": ("FFFFFFF0: " + spaced(ABC) + "\n", 0xFFFFFFF0, ABC),
    "a first line that catches up": ("0102: 43 44\n0104: 45 46 47 48\n0108: 49 4A 4B 4C\n", 0x102, ABC[2:12]),
    "the end address": ("0000: 41 42 43 44\n0004: 45 46\n0006\n", 0, ABC[:6]),
    "repeated lines": ("0000 41 42\n*\n0006 43 44\n0008\n", 0, b"ABABABCD"),
    "repeated lines at the end": ("0000 41 42\n*\n0006\n", 0, b"ABABAB"),
    "dots for repeated lines": ("0000: 41 42\n...\n0006: 43 44\n", 0, b"ABABABCD"),
    "column headings": (
        "Addr   0  1  2  3\n----  -- -- -- --\n0100: 41 42 43 44\n\n      00 01 02 03\n0104: 45 46 47 48\n",
        0x100, ABC[:8]),
    "commands and prompts": (
        "TG-85 MONITOR 1.2\n\n> dump 0100\n0100 41 42 43 44\n0104 45 46 47 48\n> d 108 10b\n0108 49 4A 4B 4C\n> _\n",
        0x100, ABC[:12]),
    "a range typed bare": ("*0000.0007\n\n0000- 41 42 43 44\n0004- 45 46 47 48\n*", 0, ABC[:8]),
    "a range typed like words": ("0000 0007\n0000 4142 4344 4546 4748\n0008 494A 4B4C 4D4E 4F50\n", 0, ABC),
    "an address typed": ("0100\n0100: 41 42 43 44\n0104: 45 46 47 48\n", 0x100, ABC[:8]),
    "decimal addresses": ("0000000 41 42 43 44 45 46 47 48 49 4A\n0000010 4B 4C\n0000012\n", 0, ABC[:12]),
    "escapes": ("\x1b[2J\x1b[1m0000\x1b[0m: 41 42\x1b[1C43 44\x1b[K\r\n0004: 45 46 47 48\r\n", 0, ABC[:8]),
    "backspaces": ("0000: 41 43\b2 43 44\n0004: 45 46 47 4\b \b48\n", 0, ABC[:8]),
    "NUL, XON, XOFF, DEL, Ctrl-Z": (
        "\0\0\x110000: 41 42\x13\x11 43\0 44\x7f\r\n0004: 45 46 47 48\r\n\x1a\x1a", 0, ABC[:8]),
    "CR only": ("0000: 41 42\r0002: 43 44\r", 0, ABC[:4]),
    "LF CR": ("0000: 41 42\n\r0002: 43 44\n\r", 0, ABC[:4]),
    "CR CR LF": ("0000: 41 42\r\r\n0002: 43 44\r\r\n", 0, ABC[:4]),
    "a byte order mark": ("\ufeff0000: 41 42\n0002: 43 44\n", 0, ABC[:4]),
    "letters beyond ASCII": ("Gezeitenpegel Süd\n0000: 41 42 43 44  ABÄD\n", 0, ABC[:4]),
    "one byte": ("0000 41\n", 0, b"A"),
}  # fmt: skip


@pytest.mark.parametrize("name", TEXTS)
def test_reads(name: str) -> None:
    text, start, data = TEXTS[name]
    image = read(text.encode())
    assert (image.first_address, image.tobytes()) == (start, data)
    assert not image.doubts


def test_utf_16_as_windows_terminals_save_it() -> None:
    assert read("0000: 41 42\r\n0002: 43 44\r\n".encode("utf-16")).tobytes() == b"ABCD"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\n\r"])
def test_problems_name_the_line_whatever_ends_lines(end: str) -> None:
    text = "ready\n\n0000: 41 42\n0002: 43 44\n0006: 45 46\n0008: 47 48\n".replace("\n", end)
    with pytest.raises(InputError) as caught:
        read(text.encode())
    assert (caught.value.code, caught.value.where.line) == ("line-lost", 5)


def test_unaddressed_listings_say_so() -> None:
    assert not read(b"41 42 43 44\n45 46 47 48\n").addressed


def test_blocks_made_on_purpose_leave_a_plain_gap() -> None:
    for between in ("\n", "> dump 0200\n", "      0  1  2  3\n", "0104\n"):
        image = read(f"0100: 41 42 43 44\n{between}0200: 45 46 47 48\n".encode())
        assert [(s.start, s.data) for s in image.segments] == [(0x100, ABC[:4]), (0x200, ABC[4:8])]


def test_a_machine_may_wrap_from_its_last_address_to_its_first() -> None:
    image = read(b"FFFC: 41 42\nFFFE: 43 44\n0000: 45 46\n0002: 47 48\n")
    assert [(s.start, s.data) for s in image.segments] == [(0, b"EFGH"), (0xFFFC, b"ABCD")]


def test_blocks_may_come_in_any_order() -> None:
    image = read(b"0100: 41 42 43 44\n0104: 45 46 47 48\n\n0000: 49 4A 4B 4C\n0004: 4D 4E 4F 50\n")
    assert [s.start for s in image.segments] == [0, 0x100]


# --- damage: text, code, line, doubtful range, a part of the explanation ---

DAMAGE = {
    "a line lost": (
        "0000: 41 42 43 44\n0004: 45 46 47 48\n000C: 4D 4E 4F 50\n0010: 51 52 53 54\n", "line-lost", 3, (8, 4),
        "line 3 continues at 000C where 0008 was expected: 4 bytes missing"),
    "the second of two": ("0000 41 42 43 44\n0008 45 46 47 48\n", "line-lost", 2, (4, 4), "4 bytes missing"),
    "the end address is further": ("0000: 41 42\n0002: 43 44\n0008\n", "line-lost", 3, (4, 4), "0004 to 0007"),
    "a line twice": (
        "0000: 41 42\n0002: 43 44\n0002: 43 44\n0004: 45 46\n", "line-repeated", 3, (2, 2), "as line 2"),
    "an earlier line again": (
        "0000: 41 42\n0002: 43 44\n0004: 45 46\n0002: 43 44\n0006: 47 48\n", "line-repeated", 4, (2, 2), "as line 2"),
    "a dump made twice": (
        "0000: 41 42\n0002: 43 44\n\n0000: 41 42\n0002: 43 44\n", "line-repeated", 4, (0, 2), "line 1"),
    "a line twice with other bytes": (
        "0000: 41 42\n0002: 43 44\n0002: 43 4C\n0004: 45 46\n", "conflict", 3, (2, 2),
        "4C at 0003 where line 2 gave 44"),
    "lines that overlap": ("0000: 41 42\n0002: 43 44\n\n0001: 42 43\n0003: 44 45\n", "overlap", 4, (1, 3), ""),
    "a line cut in the middle": (
        "0000: 41 42 43 44\n0004: 45 46\n0008: 49 4A 4B 4C\n", "record-length", 2, (6, 2), "0006 to 0007 missing"),
    "the first of two cut": ("0000: 41 42 43\n0004: 45 46 47 48\n0008: 45 46 47 48\n", "record-length", 1, (3, 1), ""),
    "a line cut within a group": (
        "0000: 4142 4344\n0004: 4546 4\n0008: 494A 4B4C\n", "record-digits", 2, (6, 2), "'4'"),
    "a digit lost": (
        "0000: 41 42 43 44\n0004: 45 4 47 48\n0008: 49 4A 4B 4C\n", "record-digits", 2, (5, 3), "'4 47 48'"),
    "a digit too many": (
        "0000: 41 42 43 44\n0004: 451 46 47 48\n0008: 49 4A 4B 4C\n", "record-digits", 2, None, "has no 2 hexadecimal"),
    "a digit too many on a narrow line": (
        "0000 41 42\n0002 434 44\n0004 45 46\n0006 47 48 \n", "record-length", 2, (2, 2), "0002 to 0003"),
    "a line cut behind its address": (
        "0000: 41 42\n0002:\n0004: 45 46\n0006: 47 48\n", "record-length", 2, (2, 2), "no bytes"),
    "a line cut within its address": (
        "0000: 41 42\n00\n0004: 45 46\n0006: 47 48\n", "line-lost", 3, (2, 2), ""),
    "a group and the next run together": (
        "0000  41 42 43 44  ABCD\n0004  45 4647 48  EFGH\n0008  49 4A 4B 4C  IJKL\n", "record-digits", 2, None, ""),
    "a letter for a digit": (
        "0000: 41 42 43 44\n0004: 45 4l 47 48\n0008: 49 4A 4B 4C\n", "record-digits", 2, (5, 3), "'4l 47 48'"),
    "a letter for the first digits": (
        "0000: 41 42 43 44\n0004: O5 46 47 48\n0008: 49 4A 4B 4C\n", "record-digits", 2, None, ""),
    "a damaged address": (
        "0000: 41 42 43 44\nOOO4: 45 46 47 48\n0008: 49 4A 4B 4C\n", "record-form", 2, None,
        "'OOO4: 45 46 47 48' where an address"),
    "no address on one line": (
        "0000 41 42 43 44\n45 46 47 48\n0008 49 4A 4B 4C\n", "record-form", 2, None, "'45 46 47 48' where an address"),
    "an address that goes back": (
        "1000: 41 42\n1002: 43 44\n0004: 45 46\n", "line-lost", 3, (4, 2), "goes back to 0004 where 1004"),
    "a heading is not excused by its place": (
        "0000: 41 42 43 44\nFF FE FD FC\n0008: 49 4A 4B 4C\n", "record-form", 2, None, ""),
    "a line too long": (
        "0000: 41 42\n0002: 43 44 45\n0004: 45 46\n0006: 47 48\n", "record-length", 2, (2, 2), "goes on with '45'"),
    "short in the middle without addresses": (
        "41 42 43 44\n45 46\n49 4A 4B 4C\n4D 4E 4F 50\n", "record-length", 2, (4, 2), "another line follows"),
    "odd digits without addresses": ("41 42 43 44\n45 4 47 48\n49 4A 4B 4C\n", "record-digits", 2, (5, 3), ""),
    "odd first digits without addresses": ("41 42 43 44\n4 46 47 48\n49 4A 4B 4C\n", "record-digits", 2, None, ""),
    "the text disagrees": (
        "0000: 41 42 43 44  ABCD\n0004: 45 46 47 48  EFGX\n0008: 49 4A 4B 4C  IJKL\n", "column-mismatch", 2, (4, 4),
        "at 0004 byte 4 of the line is 48, 'H', its text column has 'X'"),
    "the text between bars disagrees": (
        "0000: 41 42 43 44  |ABCD|\n0004: 45 46 47 48  |EFGH|\n0008: 49 4B        |IJ|\n",
        "column-mismatch", 3, (8, 2), ""),
    "the text between bars is cut": (
        "0000: 41 42 43 44  |ABCD|\n0004: 45 46 47 48  |EFGH|\n0008: 49 4A 4B 4C  |IJ\n", "column-mismatch", 3, (8, 4),
        "2 characters for 4 bytes"),
    "words low byte first": (
        "0000: 4241 4443  ABCD\n0004: 4645 4847  EFGH\n", "column-mismatch", 1, (0, 4), "low byte first"),
    "repeated up to nowhere": ("0000 41 42\n0002 43 44\n*\n", "line-lost", 3, (4, 0), "no address says"),
    "repeated, then a command": ("0000 41 42\n0002 43 44\n*\n> dump\n0008 43 44\n", "line-lost", 3, (4, 0), ""),
    "repeated unevenly": ("0000 41 42\n*\n0005 43 44\n0007\n", "line-lost", 2, (2, 3), "does not fill evenly"),
    "repeated without addresses": ("41 42 43 44\n*\n45 46 47 48\n", "line-lost", 2, (4, 0), ""),
    "repeated absurdly": (
        "00000000  41 42\n*\nfffffff0  43 44\nfffffff2\n", "too-large-to-fill", 2, (2, 0xFFFFFFEE), "the limit is"),
    "an odd size in words": (
        "0000000 4142 4344\n0000004 4546 0047\n0000007\n", "record-length", 3, (7, 1), "filled up"),
    "beyond 4 GiB": ("FFFFFFFE: 41 42 43 44\n", "address-limit", 1, None, ""),
    "far beyond": ("0000: 41 42\n123456789ABC: 43 44\n0002: 43 44\n0004: 45 46\n", "address-limit", 2, None, ""),
}  # fmt: skip


@pytest.mark.parametrize("name", DAMAGE)
def test_damage_is_told(name: str) -> None:
    text, code, line, doubtful, says = DAMAGE[name]
    with pytest.raises(InputError) as caught:
        read(text.encode())
    assert (caught.value.code, caught.value.where.line) == (code, line)
    assert says in caught.value.why
    assert "with its doubts" in caught.value.hint
    if name == "beyond 4 GiB":
        return   # nothing is left to keep
    doubts = read(text.encode(), True).doubts
    assert (code, line) in [(d.code, d.line) for d in doubts]
    if doubtful:
        assert doubtful in [(d.start, d.length) for d in doubts if (d.code, d.line) == (code, line)]


def test_what_is_kept_of_a_damaged_listing() -> None:
    text = b"0000: 41 42\n0002: 43 44\n0002: 43 4C\n0006: 47 48\n0008: 49 4A\n"
    image = read(text, True)
    assert [(s.start, s.data) for s in image.segments] == [(0, b"ABCD"), (6, b"GHIJ")]
    assert [(d.code, d.start, d.length, d.line) for d in image.doubts] == [
        ("conflict", 2, 2, 3), ("line-lost", 4, 2, 4),
    ]  # fmt: skip


def test_an_odd_group_keeps_what_came_before_it_and_loses_nothing_after_the_line() -> None:
    image = read(b"0000: 41 42 43 44\n0004: 45 4 47 48\n0008: 49 4A 4B 4C\n", True)
    assert [(s.start, s.data) for s in image.segments] == [(0, b"ABCDE"), (8, b"IJKL")]
    assert [(d.code, d.start, d.length) for d in image.doubts] == [("record-digits", 5, 3)]


@pytest.mark.parametrize("text", ["", "\n\n", "no digits here", "add the dead face", "@F000\n",
    ":00000001FF\n", "\0" * 99])
def test_what_is_no_listing(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text.encode())
    assert caught.value.code == "not-this-kind"
    assert recognise(text.encode()) is None


NOT_RECOGNISED = {
    "prose": "We add the tide gauge to the log, and face a dead end.\nA decade on the facade fell.\n" * 9,
    "words made of digits": "dead beef cafe\nface fade deed\nadd feed babe\n" * 9,
    "decimal table": "1985 10 20 30\n1986 11 21 31\n1987 12 22 32\n" * 9,
    "decimal columns": "10 20 30 40\n11 21 31 41\n12 22 32 42\n" * 9,
    "tide log": "0600 1240 0310\n1200 0410 0290\n1800 1190 0305\n" * 9,
    "Intel HEX": ":10010000214601360121470136007EFE09D2190140\n:100110002146017E17C20001FF5F16002148011928\n",
    "S-records": (
        "S00F000068656C6C6F202020202000003C\n"
        "S11F00007C0802A6900100049421FFF07C6C1B787C8C23783C60000038630000\n"
    ),
    "TI-TXT": "@F000\n31 40 00 03 B2 40 80 5A 20 01 D2 D3 22 00 D2 E3\n21 00 3F 40 E8 FD 1F 83 FE 23 F9 3F\nq\n",
    "a digest and a name": "d41d8cd98f00b204e9800998ecf8427e  tide.bin\n0cc175b9c0f1b6a831c399e269772661  u4.bin\n",
    "a digest alone": "d41d8cd98f00b204e9800998ecf8427e\n",
    "source": "start:  ld a, 41h\n        add a, b\n        jp 0100h\n" * 9,
    "raw bytes": random.Random(5).randbytes(4000).decode("latin-1"),
    "a listing in the corner of a disk": "0000: 41 42 43 44\n" * 9 + "\0" * 9000,
}  # fmt: skip


@pytest.mark.parametrize("name", NOT_RECOGNISED)
def test_not_recognised(name: str) -> None:
    assert recognise(NOT_RECOGNISED[name].encode("latin-1")) is None


def test_evidence_counts() -> None:
    found = recognise(listing(random.Random(1).randbytes(480)).encode())
    assert found is not None
    says = [e.says for e in found.evidence]
    assert "30 of 30 lines hold groups of hexadecimal digits" in says
    assert "29 of 29 addresses continue where the line before ended" in says
    assert "30 of 30 lines have 16 bytes each" in says


@pytest.mark.parametrize("cut", [*range(64 * 1024 - 70, 64 * 1024, 7), 500, 900])
def test_a_sample_may_be_cut_anywhere(cut: int) -> None:
    text = listing(random.Random(2).randbytes(24_000), "{0:04X}: {1:47}  {2}").encode()
    found = recognise(text[:cut])
    assert found is not None
    assert found.score > 0.85


def test_a_log_with_much_else_is_recognised_with_less_certainty() -> None:
    block = listing(random.Random(3).randbytes(320))
    clean, log = recognise(block.encode()), recognise(("QUILLMERE TG-85\nREADY\n> help me\n" * 4 + block).encode())
    assert clean is not None
    assert log is not None
    assert 0.5 < log.score < clean.score


# --- judges from outside ---

TOOLS = [
    "od -A x -t x1", "od -A x -t x1z", "od -A d -t x1", "od -t x1", "od -A n -t x1",
    "od -A x -t x1 -w8", "od -A x -v -t x1z",
    "od -A x -t x2 --endian=big", "od -A x -t x4 --endian=big", "od -A d -t x2 --endian=big",
    "od -A x -t x8 --endian=big",
    "xxd", "xxd -u", "xxd -g 1", "xxd -g 4", "xxd -g 8", "xxd -c 8", "xxd -c 10 -g 2",
    "xxd -c 5 -g 2", "xxd -c 32", "xxd -p",
    "xxd -d", "xxd -a", "hexdump -C", "hexdump -vC", "hexdump -e '\"%04.4_ax: \" 16/1 \"%02X \" \"\\n\"'",
]  # fmt: skip

DATA = {
    "random": random.Random(4).randbytes(4096),
    "text": b"Harbour office, tide recorder TG-85: AB CD EF 00 11 22 cafe dead beef  *** ||| >< " * 20,
    "words of digits": b"CAFE BABE DEADBEEF 0123 4567 FACE " * 24,
    "blanks": b" " * 40 + b"A" + b" " * 88 + bytes(range(256)) + b"B",
    "repeats": b"\xff" * 100 + bytes(156) + b"AB" * 300 + bytes(77),
    "all equal": b"\xff" * 1000,
    "short": b"AB CD",
    "one line": bytes(range(0x30, 0x40)),
    "odd": random.Random(6).randbytes(1001),
}


def marked(*commands: str) -> list[Any]:
    return [pytest.param(command, marks=tools.needs(command.split()[0])) for command in commands]


def run(command: str, data: bytes) -> bytes:
    import shlex

    words = shlex.split(command)
    done = subprocess.run([tools.path(words[0]), *words[1:]], input=data, capture_output=True, check=False, timeout=20)
    if done.returncode:
        pytest.skip(f"this {words[0]} does not know an option of {command!r}")
    return done.stdout


@pytest.mark.parametrize("command", marked(*TOOLS))
@pytest.mark.parametrize("name", DATA)
def test_reads_what_other_tools_print(command: str, name: str) -> None:
    data = DATA[name]
    if "x2" in command or "x4" in command or "x8" in command:
        data += bytes(-len(data) % 8)   # od fills the last word up
    text = run(command, data)
    if b"\n*\n" in text and "-A n" in command:
        with refuses(InputError, "line-lost", "repeated lines cannot"):   # nothing says how many the * stands for
            read(text)
        return
    image = read(text)
    assert image.tobytes() == data
    assert image.first_address == 0
    assert not image.doubts
    assert image.addressed == (command not in ("od -A n -t x1", "xxd -p"))


@pytest.mark.parametrize("command", marked("hexdump", "od -A x -t x2 --endian=little"))
def test_words_low_byte_first_come_as_printed(command: str) -> None:
    data = random.Random(7).randbytes(512)
    swapped = b"".join(data[i : i + 2][::-1] for i in range(0, len(data), 2))
    assert read(run(command, data)).tobytes() == swapped


@tools.needs("xxd")
def test_words_low_byte_first_are_found_out_by_their_text() -> None:
    with pytest.raises(InputError) as caught:
        read(run("xxd -e", DATA["text"]))
    assert caught.value.code == "column-mismatch"
    assert "low byte first" in caught.value.why


# --- properties ---


@st.composite
def layouts(draw: st.DrawFn) -> tuple[str, int, int, bool]:
    """A form for a line, bytes on a line, bytes in a group, lower case or not."""
    address = draw(
        st.sampled_from(
            ["{a:04X}: ", "{a:06X}  ", "${a:04X} ", ">{a:04X} ", "0x{a:04x}: ", "{a:04X}- ",
            "F000:{a:04X}  ", "{a:X}: "]
        )
    )
    text = draw(st.sampled_from(["", "  {t}", "  |{t}|", "   [{t}]"]))
    group = draw(st.sampled_from([1, 1, 1, 2, 4]))
    return address + "{d}" + text, draw(st.sampled_from([4, 8, 16, 32])), group, draw(st.booleans())


NOISE = ["", "> dump", "      0  1  2  3  4  5", "TG-85 monitor, harbour office", "page 2 of 3", "\x1b[H", "ok."]


def render(layout: tuple[str, int, int, bool], data: bytes, start: int) -> list[str]:
    form, per_line, group, lower = layout
    width = 2 * per_line + per_line // group - 1
    lines = []
    for i in range(0, len(data), per_line):
        part = data[i : i + per_line]
        digits = part.hex(" ", -group)
        digits = digits.lower() if lower else digits.upper()
        padded = digits.ljust(width) if "{t}" in form else digits
        lines.append(form.format(a=start + i, d=padded, t=shown(part)))
    return lines


@settings(max_examples=300, deadline=None)
@given(layouts(), st.binary(min_size=40, max_size=400), st.data())
def test_reads_back_what_was_rendered(layout: tuple[str, int, int, bool], data: bytes, more: st.DataObject) -> None:
    form, per_line, group, _ = layout
    data = data[: len(data) // group * group]
    start = more.draw(st.integers(0, 200)) * per_line
    lines = render(layout, data, start)
    for _ in range(more.draw(st.integers(0, 3))):
        lines.insert(more.draw(st.integers(0, len(lines))), more.draw(st.sampled_from(NOISE)))
    image = read(more.draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines).encode())
    base = 0xF0000 if form.startswith("F000") else 0
    assert image.tobytes() == data
    assert image.first_address == base + start
    assert not image.doubts


@settings(max_examples=200, deadline=None)
@given(layouts(), st.binary(min_size=200, max_size=400), st.data())
def test_a_line_taken_out_or_doubled_is_told_with_its_addresses(
    layout: tuple[str, int, int, bool], data: bytes, more: st.DataObject
) -> None:
    form, per_line, _, _ = layout
    data = data[: len(data) // per_line * per_line]
    lines = render(layout, data, 0)
    base = 0xF0000 if form.startswith("F000") else 0
    at = more.draw(st.integers(1, len(lines) - 2))
    doubled = more.draw(st.booleans())
    changed = lines[: at + 1] + lines[at:] if doubled else lines[:at] + lines[at + 1 :]
    text = "\n".join(changed).encode()
    code, line = ("line-repeated", at + 2) if doubled else ("line-lost", at + 1)
    with pytest.raises(InputError) as caught:
        read(text)
    assert (caught.value.code, caught.value.where.line) == (code, line)
    image = read(text, True)
    told = [(code, base + at * per_line, per_line, line)]
    if not doubled and at == len(lines) - 2:   # nothing bears out the address of the last line
        told.append((code, base + (at + 1) * per_line, per_line, line))
    assert [(d.code, d.start, d.length, d.line) for d in image.doubts] == told
    kept = data if doubled else data[: at * per_line] + data[(at + 1) * per_line :]
    assert image.tobytes() == kept


@settings(max_examples=400, deadline=None)
@given(layouts(), st.binary(min_size=300, max_size=400), st.data())
def test_no_character_lost_or_spoilt_within_a_listing_passes(
    layout: tuple[str, int, int, bool], data: bytes, more: st.DataObject
) -> None:
    _, per_line, group, _ = layout
    assume(per_line > group)   # with one group on a line, a spoilt line looks like a command that names an address
    lines = render(layout, data[: len(data) // per_line * per_line], 0)
    at = more.draw(st.integers(1, len(lines) - 2))
    place = more.draw(st.integers(0, len(lines[at]) - 1))
    instead = more.draw(st.sampled_from(["", "?", "O", "~~~"]))
    lines[at] = lines[at][:place] + instead + lines[at][place + 1 :]
    try:
        image = read("\n".join(lines).encode())
    except InputError as problem:
        assert problem.where.line in (at + 1, at + 2)
    else:
        assert image.tobytes() == data[: len(data) // per_line * per_line]


FRAGMENTS = st.sampled_from(
    ["0000", "FFFFFFF0", "41", "4", "4142", ":", " ", "  ", "-", "*", "...", "\n", "\r", "\x1b[",
    "\x1b]", "\b", "|", ">",
     "h", "0x", "F000:", "zz", "\0", "\t", "0010: 41 42", "\n0000 41 42 43 44\n", "\n0004 45 46 47 48\n", "é", "\n*\n"]
)  # fmt: skip


@settings(max_examples=600, deadline=None)
@given(
    st.one_of(
        st.binary(max_size=400),
        st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")),
        st.lists(FRAGMENTS, max_size=60).map(lambda parts: "".join(parts).encode()),
    ),
    st.booleans(),
)
def test_whatever_comes_gives_an_image_or_an_error_of_ours(text: bytes, keep: bool) -> None:
    found = recognise(text)
    assert found is None or 0 <= found.score <= 0.9
    try:
        image = read(text, keep)
    except InputError as problem:
        assert problem.code in CODES
        assert problem.hint
    else:
        assert image.size_bytes > 0
        assert image.end_address <= 1 << 32


# --- bounds ---

_LONG = {
    "lines": listing(random.Random(8).randbytes(60_000), "{0:06X}: {1:47}  |{2}|").encode(),
    "one line of groups": b"41 " * 100_000,
    "one line of wide groups": b"41  " * 80_000,
    "one line of digits": b"41" * 150_000,
    "blanks": b" " * 300_000,
    "carriage returns": b"\r" * 300_000,
    "escapes": b"\x1b[0" * 100_000,
    "strings that never end": b"\x1b]0" * 100_000,
    "dashes": b"0000-" + b"-" * 300_000,
    "one-digit groups": b"0000 " + b"4 " * 150_000,
    "backspaces": b"4\b" * 150_000,
    "stars": b"0000 41 42\n" + b"*\n" * 150_000,
    "downwards": b"".join(b"%06X 41 42\n" % a for a in range(50_000, 0, -2)),
    "a text column that never fits": b"".join(b"%06X 41 42  xyz 41 42\n" % a for a in range(0, 26_000, 2)),
    "broken lines": b"".join(b"%06X: 41 42 4\n" % a for a in range(0, 60_000, 3)),
}


@pytest.mark.parametrize("name", _LONG)
def test_time_grows_with_the_text_only(name: str) -> None:
    text = _LONG[name]
    assert len(text) >= 200_000
    began = time.process_time()
    recognise(text)
    for keep in (False, True):
        try:
            read(text, keep)
        except InputError as problem:
            assert problem.code in CODES
    assert time.process_time() - began < 12   # about 1 s; a quadratic step takes minutes


def test_absurd_addresses_take_no_memory() -> None:
    text = b"00000000 41 42\n00000002 43 44\n7FFFFFF0 45 46\nFFFFFFF0 47 48\nFFFFFFF2 49 4A\n*\nFFFFFFFE\n"
    tracemalloc.start()
    image = read(text, True)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert image.end_address == 0xFFFFFFFE
    assert peak < 4 << 20
