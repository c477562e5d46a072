"""Figures over ranges against worked values and against plain arithmetic."""

from __future__ import annotations

import zlib

import crcmod
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import tables
from imagekeeper.selfchecks.balances import BALANCES
from imagekeeper.selfchecks.figures import Figures
from imagekeeper.selfchecks.stored import stored_rules

DIGITS = b"123456789"
EIGHT = b"12345678"
WHOLE_9, WHOLE_8 = ((0, 9),), ((0, 8),)


def stored(rule_id: str, data: bytes) -> int:
    rule = {rule.id: rule for rule in stored_rules()}[rule_id]
    return rule.figure(Figures(data, []), ((0, len(data)),)) % (1 << rule.bits)


def balance(rule_id: str, data: bytes) -> int:
    rule = {rule.id: rule for rule in BALANCES}[rule_id]
    return rule.figure(Figures(data, []), ((0, len(data)),)) % (1 << rule.bits)


def test_sums_of_the_digits() -> None:
    """Worked by hand: 31 + 32 + ... + 39 = 1DD (hexadecimal), from which the rest follows by definition."""
    assert stored("sum8", DIGITS) == 0xDD
    assert stored("sum16", DIGITS) == 0x01DD
    assert stored("sum16-complement", DIGITS) == 0xFE23
    assert stored("sum16-inverse", DIGITS) == 0xFE22
    assert stored("sum32-complement", DIGITS) == 0xFFFFFE23
    assert balance("xor8-zero", DIGITS) == 0x31


def test_sums_of_words() -> None:
    """Worked by hand: 31 + 33 + 35 + 37 = D0, 32 + 34 + 36 + 38 = D4."""
    assert stored("words-le", EIGHT) == 0xD4D0
    assert stored("words-be", EIGHT) == 0xD0D4
    assert balance("lanes-zero", EIGHT) == 0xD0D4


@pytest.mark.parametrize("row", tables.crcs().values(), ids=lambda row: row.name)
def test_check_values_of_the_crc_catalogue(row: tables.Crc) -> None:
    """Catalogue of parametrised CRC algorithms (CRC RevEng): the CRC of 123456789, whole and cut anywhere."""
    for cut in range(10):
        assert Figures(DIGITS, [cut]).crc(row, ((0, cut), (cut, 9))) == row.check


def test_crcs_of_eight_digits() -> None:
    """CRC-32 by zlib, CRC-16/ARC by crcmod's own predefined parameters."""
    assert stored("CRC-32/ISO-HDLC", EIGHT) == 0x9AE0DAAF == zlib.crc32(EIGHT)
    assert stored("CRC-16/ARC", EIGHT) == 0x3C9D == crcmod.predefined.mkPredefinedCrcFun("crc-16")(EIGHT)


def test_residues() -> None:
    """Catalogue of parametrised CRC algorithms: the residue of CRC-16/ARC is 0000, that of CRC-32/ISO-HDLC DEBB20E3.

    The catalogue states residues before the final inversion; after it the second is 2144DF1C.
    """
    rows = tables.crcs()
    for message in (b"", DIGITS, b"\xff" * 100):
        with_arc = message + Figures(message, []).crc(rows["CRC-16/ARC"], ((0, len(message)),)).to_bytes(2, "little")
        assert Figures(with_arc, []).crc(rows["CRC-16/ARC"], ((0, len(with_arc)),)) == 0
        with_crc = message + zlib.crc32(message).to_bytes(4, "little")
        assert Figures(with_crc, []).crc(rows["CRC-32/ISO-HDLC"], ((0, len(with_crc)),)) == 0x2144DF1C
        assert Figures(with_crc, []).crc(rows["CRC-32/JAMCRC"], ((0, len(with_crc)),)) == 0xDEBB20E3


@given(data=st.binary(min_size=1, max_size=200), where=st.tuples(st.integers(0, 200), st.integers(0, 200)))
def test_any_two_ranges_give_what_the_bytes_alone_give(data: bytes, where: tuple[int, int]) -> None:
    a, b = sorted(min(edge, len(data)) for edge in where)
    figures, over, rest = Figures(data, [a, b]), ((0, a), (b, len(data))), data[:a] + data[b:]
    assert figures.total(over) == sum(rest)
    alone = Figures(rest, [])
    assert figures.xor(over) == alone.xor(((0, len(rest)),))
    for row in tables.crcs().values():
        assert figures.crc(row, over) == alone.crc(row, ((0, len(rest)),))
    if len(data[a:b]) % 2 == 0:
        words = [data[i : i + 2] for i in range(a, b, 2)]
        assert figures.words(((a, b),), "little") == sum(int.from_bytes(word, "little") for word in words)
        assert figures.words(((a, b),), "big") == sum(int.from_bytes(word, "big") for word in words)


@given(data=st.binary(min_size=2, max_size=50))
def test_variety_knows_the_lines_that_change(data: bytes) -> None:
    variety = Figures(data, [1]).variety
    for lane, lines in ((data[0::2], variety.even), (data[1::2], variety.odd)):
        assert lines == sum(1 << bit for bit in range(8) if len({byte >> bit & 1 for byte in lane}) == 2)
