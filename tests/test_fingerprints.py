"""Figures against published vectors and against other programs."""

from __future__ import annotations

import functools
import operator
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import fingerprints, tables
from imagekeeper.addresses import Span
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError
from tests import tools

RAMP = bytes(range(256))


def take(data: bytes, *more: str) -> fingerprints.Fingerprint:
    return fingerprints.take(Image.from_bytes(data), more=more)


@pytest.mark.parametrize("row", tables.crcs().values(), ids=lambda row: row.name)
def test_check_values_of_the_crc_catalogue(row: tables.Crc) -> None:
    """Catalogue of parametrised CRC algorithms (CRC RevEng): every row's check value, through crcmod."""
    assert int(take(b"123456789", row.name).more[row.name], 16) == row.check


def crc_by_bits(row: tables.Crc, data: bytes) -> int:
    """The catalogue's model, bit by bit, as a second implementation."""
    register, top = row.init, 1 << (row.width - 1)
    for byte in data:
        for bit in range(8):
            incoming = byte >> (bit if row.reflected else 7 - bit) & 1
            feedback = bool(register & top) ^ incoming
            register = (register << 1) & ((1 << row.width) - 1) ^ (row.poly if feedback else 0)
    if row.reflected:
        register = int(f"{register:0{row.width}b}"[::-1], 2)
    return register ^ row.xorout


@given(data=st.binary(max_size=40), name=st.sampled_from(sorted(tables.crcs())))
def test_crcs_agree_with_the_model_bit_by_bit(data: bytes, name: str) -> None:
    if data:
        assert int(take(data, name).more[name], 16) == crc_by_bits(tables.crcs()[name], data)


M56 = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"
M112 = (
    b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmn"
    b"hijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu"
)

#: FIPS 180-4 example messages (as published with the standard's predecessor FIPS 180-2, appendices A to C).
SHA = [
    ("sha1", b"abc", "a9993e364706816aba3e25717850c26c9cd0d89d"),
    ("sha1", M56, "84983e441c3bd26ebaae4aa1f95129e5e54670f1"),
    ("sha1", b"a" * 1_000_000, "34aa973cd4c4daa4f61eeb2bdbad27316534016f"),
    ("sha256", b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    ("sha256", M56, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"),
    ("sha256", b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
]


@pytest.mark.parametrize(("algorithm", "message", "digest"), SHA)
def test_fips_180_4_examples(algorithm: str, message: bytes, digest: str) -> None:
    assert getattr(take(message), algorithm) == digest


def test_sha512_examples() -> None:
    """FIPS 180-4 example messages for SHA-512."""
    assert take(b"abc", "sha512").more["sha512"] == (
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f"
    )
    assert take(M112, "sha512").more["sha512"].startswith("8e959b75dae313da8cf4f72814fc143f8f7779c6eb9f7fa1")


@pytest.mark.parametrize(
    ("message", "digest"),
    [
        (b"a", "0cc175b9c0f1b6a831c399e269772661"),
        (b"abc", "900150983cd24fb0d6963f7d28e17f72"),
        (b"message digest", "f96b697d7cb7938d525a2f31aaf161d0"),
        (b"abcdefghijklmnopqrstuvwxyz", "c3fcd3d76192e4007dfb496cca67e13b"),
        (b"1234567890" * 8, "57edf4a22be3c955ac49da2e2107b67a"),
    ],
)
def test_rfc_1321_test_suite(message: bytes, digest: str) -> None:
    assert take(message, "md5").more["md5"] == digest


def test_sums_of_the_ramp() -> None:
    """Sums by their definition (common practice, no source): computed by hand for 00..FF, 255 * 256 / 2 = 7F80h."""
    figures = take(RAMP, "sum8-complement", "sum8-inverse", "sum16-complement", "sum16-words-le", "sum16-words-be")
    assert (figures.sum8, figures.sum16, figures.sum32, figures.xor8) == ("80", "7F80", "00007F80", "00")
    assert figures.crc32 == "29058C73"
    assert figures.more == {
        "sum8-complement": "80", "sum8-inverse": "7F", "sum16-complement": "8080",
        "sum16-words-le": "3F80", "sum16-words-be": "C000",
    }  # fmt: skip


def test_word_sums_of_an_odd_length_are_not_invented() -> None:
    assert take(b"123456789", "sum16-words-le").more["sum16-words-le"] == ""
    assert take(b"12345678", "sum16-words-le", "sum16-words-be").more == {
        "sum16-words-le": "D4D0", "sum16-words-be": "D0D4",
    }  # fmt: skip


def test_a_blank_chip_is_told_by_its_bytes_not_by_its_sum() -> None:
    """A blank chip of 64 KiB has the 16-bit sum 0000, as an all-zero read has."""
    blank, zero = take(b"\xff" * 65536), take(bytes(65536))
    assert (blank.sum16, zero.sum16) == ("0000", "0000")
    assert (blank.blank, zero.blank, take(b"\xff" * 65535 + b"\xfe").blank) == ("FF", "00", None)
    assert (blank.crc32, zero.crc32) == ("DEAB7E4E", "D7978EEB")


@given(data=st.binary(min_size=1, max_size=600), cut=st.integers(1, 200))
def test_sums_do_not_depend_on_how_the_bytes_arrive(data: bytes, cut: int) -> None:
    sums = fingerprints.RunningSums()
    words = fingerprints.figure("sum16-words-be")
    for at in range(0, len(data), cut):
        sums.update(data[at : at + cut])
        words.update(data[at : at + cut])
    assert sums.total == sum(data)
    assert sums.xor == functools.reduce(operator.xor, data)
    assert sums.blank == (data[0] if len(set(data)) == 1 else None)
    whole = sum(a << 8 | b for a, b in zip(data[::2], data[1::2], strict=False)) % 65536
    assert words.hexdigest() == ("" if len(data) % 2 else f"{whole:04X}")


def test_the_vector_path_gives_the_same_sums() -> None:
    data = bytes((i * 7 + (i >> 9)) & 0xFF for i in range(fingerprints.VECTOR_BYTES + 777))
    assert fingerprints.sum_and_xor(data) == (sum(data), functools.reduce(operator.xor, data))
    assert fingerprints.sum_and_xor(b"\xff" * (1 << 20)) == (255 << 20, 0)


def test_gaps_contribute_nothing_and_are_listed() -> None:
    figures = fingerprints.take(Image(segments=(Segment(0x100, b"12345"), Segment(0x110, b"6789")), addressed=True))
    assert figures.crc32 == "CBF43926"
    assert (figures.size_bytes, figures.span_bytes, figures.first_address) == (9, 20, 0x100)
    assert figures.gaps == (Span(0x105, 11),)


def test_an_unknown_figure_lists_the_names() -> None:
    with pytest.raises(UsageError) as caught:
        take(b"x", "crc-17")
    assert caught.value.code == "unknown-name"
    assert "CRC-16/ARC" in caught.value.why


@tools.needs("sha256sum", "sha1sum", "md5sum", "cksum")
@pytest.mark.parametrize("size", [1, 5_000, 3_000_001])
def test_the_systems_own_tools_agree(tmp_path: Path, size: int) -> None:
    """sha256sum, sha1sum and md5sum (coreutils), and cksum, whose CRC also takes in the length (POSIX cksum)."""
    file = tmp_path / "read.bin"
    file.write_bytes((RAMP * (size // 256 + 1))[7 : size + 7])

    def says(tool: str) -> str:
        return subprocess.run([tools.path(tool), file], capture_output=True, text=True, check=True).stdout.split()[0]

    figures = take(file.read_bytes(), "md5")
    assert figures.sha256 == says("sha256sum")
    assert figures.sha1 == says("sha1sum")
    assert figures.more["md5"] == says("md5sum")
    length = size.to_bytes((size.bit_length() + 7) // 8, "little")
    posix = take(file.read_bytes() + length, "CRC-32/CKSUM").more["CRC-32/CKSUM"]
    assert int(posix, 16) == int(says("cksum"))
