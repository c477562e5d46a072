"""Extension ROM headers."""

from __future__ import annotations

import hashlib
import random
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers.model import Image
from imagekeeper.selfchecks.header import read_header
from imagekeeper.selfchecks.results import SelfCheck
from imagekeeper.selfchecks.search import check, own_checks
from tests import tools

SMALLEST = bytes.fromhex("55AA01CB") + bytes(507) + b"\x35"


def search(data: bytes) -> SelfCheck:
    return check(Image.from_bytes(data))


def extension_rom(units: int, seed: int = 1) -> bytearray:
    rom = bytearray(random.Random(seed).randbytes(units * 512))
    rom[:4] = bytes((0x55, 0xAA, units, 0xE9))
    rom[0x1A:0x1C] = bytes(2)
    rom[-1] = 0
    rom[-1] = -sum(rom) % 256
    return rom


def test_the_smallest_extension_rom() -> None:
    """Rule: Plug and Play BIOS Specification 1.0A, section 3.1. By hand: 55 + AA + 1 + CB = 1CB; + 35 = 200."""
    assert sum(SMALLEST) == 0x200
    assert zlib.crc32(SMALLEST) == 0x1EAE8460
    assert hashlib.sha1(SMALLEST).hexdigest() == "ee90bb55933175e16ca86d36a4cd19fabc8417f4"
    header = search(SMALLEST).header
    assert header is not None
    assert (header.length_bytes, header.sum8, header.sum_ok, header.balance) == (512, "00", True, "35")
    assert search(SMALLEST).conclusion == "strong"
    unbalanced = search(SMALLEST[:-1] + b"\x34")
    assert unbalanced.header is not None
    assert (unbalanced.header.sum8, unbalanced.header.balance) == ("FF", "35")
    assert [found.code for found in unbalanced.findings] == ["header-sum-wrong"]
    assert unbalanced.exit_code == 1


@tools.needs("option ROMs")
@pytest.mark.parametrize("path", tools.option_roms(), ids=lambda path: path.name)
def test_extension_roms_that_others_built(path: Path) -> None:
    """The build of SeaBIOS balances the sum of every option ROM."""
    data = path.read_bytes()
    result = search(data)
    assert (result.conclusion, result.exit_code) == ("strong", 0)
    assert [one.id for one in result.holds if one.strong] == ["extension-rom"]
    assert own_checks(Image.from_bytes(data)) == ("8-bit sum of the extension ROM is zero",)
    damaged = bytearray(data)
    damaged[len(data) // 2] ^= 0x08
    result = search(bytes(damaged))
    assert result.exit_code == 1
    assert own_checks(Image.from_bytes(bytes(damaged))) == ()


def test_a_rom_in_a_larger_chip() -> None:
    rom = bytes(extension_rom(32))
    result = search(rom + b"\xff" * 16384)
    assert result.conclusion == "strong"
    assert result.header is not None
    assert result.header.covers_bytes == 16384


def test_a_second_rom_on_the_grid_of_the_scan() -> None:
    result = search(bytes(extension_rom(8, 2)) + bytes(extension_rom(8, 3)))
    assert [one.start for one in result.holds if one.id == "extension-rom"] == [0, 4096]


def test_a_system_board_socket_whose_sum_covers_64_kib() -> None:
    """Tech Help manual, page on the ROM scan: the length byte is not used, the sum covers 64 KiB."""
    rom = bytearray(random.Random(4).randbytes(65536))
    rom[:3] = b"\x55\xaa\x00"
    rom[4] = 0x90
    rom[-1] = (rom[-1] - sum(rom)) % 256
    result = search(bytes(rom))
    assert (result.conclusion, result.holds[0].id, result.exit_code) == ("strong", "extension-socket", 0)


def test_a_read_that_is_too_short_for_its_header() -> None:
    result = search(bytes(extension_rom(32))[:8192])
    assert [found.code for found in result.findings] == ["header-beyond-image"]
    assert result.exit_code == 1


def test_a_driver_for_extensible_firmware_has_no_sum() -> None:
    """UEFI Specification, PCI option ROMs: signature 0EF1 at offset 4 (from memory)."""
    rom = extension_rom(8)
    rom[4:8] = (0x0EF1).to_bytes(4, "little")
    assert search(bytes(rom)).exit_code == 0


def with_expansion(last: int) -> bytes:
    """An extension ROM with an expansion header of 32 bytes at 0100; `last` is its check byte."""
    rom = extension_rom(8)
    rom[0x1A:0x1C] = (0x100).to_bytes(2, "little")
    rom[0x100:0x120] = b"$PnP\x01\x02\x00\x00\x00" + bytes(23)
    rom[0x109] = last
    rom[-1] = (rom[-1] - sum(rom)) % 256
    return bytes(rom)


def test_an_expansion_header_has_a_sum_of_its_own() -> None:
    """Plug and Play BIOS Specification 1.0A, section 3.2: check byte at 9. By hand: 24 + 50 + 6E + 50 + 1 + 2 = 135."""
    good = search(with_expansion(0x100 - 0x35))
    assert good.header is not None
    assert [(e.start, e.length_bytes, e.sum8) for e in good.header.expansions] == [(0x100, 32, "00")]
    assert good.exit_code == 0
    bad = search(with_expansion(0))
    assert [found.where.address for found in bad.findings] == [0x100]
    assert bad.exit_code == 1


def test_a_small_part_that_checks_itself_proves_no_image() -> None:
    rom = bytearray(with_expansion(0x100 - 0x35))
    rom[-1] ^= 1
    result = search(bytes(rom))
    assert [one.id for one in result.holds if one.strong] == ["expansion-header"]
    assert result.conclusion == "weak"


def test_an_expansion_chain_that_bites_its_tail_ends() -> None:
    rom = bytearray(with_expansion(0))
    rom[0x106:0x108] = (0x100).to_bytes(2, "little")
    header = read_header(bytes(rom))
    assert header is not None
    assert len(header.expansions) == 1


@given(data=st.binary(min_size=1, max_size=3000))
def test_a_hostile_header_is_only_read(data: bytes) -> None:
    result = search(b"\x55\xaa" + data)
    assert result.header is None or result.header.sum_ok in (True, False, None)
    assert (result.header is None) == (len(data) < 1)
