"""What the reading options choose, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import imagekeeper
from imagekeeper.containers import intel_hex
from imagekeeper.containers.model import Image
from tests.conftest import Ran

Cli = Callable[..., Ran]

WHOLE = intel_hex.write(Image.from_bytes(b"TIDE GAUGE TG-85 " * 20))
PATCHED = intel_hex.write(Image.from_bytes(b"TIME")).splitlines(keepends=True)[0] + WHOLE
PARITY = bytes(c | (c.bit_count() % 2) << 7 for c in WHOLE)


def test_an_address_that_comes_twice_is_refused_until_it_is_chosen(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.hex").write_bytes(PATCHED)
    refused = cli("convert", "u4.hex", "-o", "u4.bin")
    assert refused.code != 0
    assert "given twice with different values" in refused.err
    assert "--repeated first or last" in " ".join(refused.err.split())
    for choice, begins in (("first", b"TIME"), ("last", b"TIDE")):
        ran = cli("convert", "u4.hex", "-o", f"{choice}.bin", "--repeated", choice)
        assert ran.code == 0
        assert "addresses-repeated" in ran.out
        assert (tmp_path / f"{choice}.bin").read_bytes().startswith(begins)
        (found,) = cli("convert", "u4.hex", "-o", "j.bin", "--force", "--repeated", choice, "--json").json["findings"]
        assert (found["detail"]["choice"], found["detail"]["differing"]) == (choice, 1)


def test_parity_is_said_where_the_file_is_looked_at(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.hex").write_bytes(PARITY)
    assert "parity-stripped" in cli("convert", "u4.hex", "-o", "u4.bin").out
    assert (tmp_path / "u4.bin").read_bytes().startswith(b"TIDE GAUGE")
    for command in ("inspect", "selfcheck"):
        found = cli(command, "u4.hex", "--json").json["findings"]
        assert [one["detail"] for one in found if one["code"] == "parity-stripped"] == [
            {"kind": "even", "characters": len(WHOLE), "broken": 0}
        ]


def test_the_door_takes_the_choice() -> None:
    assert imagekeeper.read(PATCHED, repeated="last").tobytes().startswith(b"TIDE")
    assert imagekeeper.read(PATCHED, repeated="first").tobytes().startswith(b"TIME")
    with pytest.raises(imagekeeper.InputError):
        imagekeeper.read(PATCHED)
    with pytest.raises(TypeError, match="repeated is 'refuse' or 'first' or 'last'"):
        imagekeeper.read(PATCHED, repeated="second")  # type: ignore[arg-type]
    assert imagekeeper.read(PARITY).parity is not None
