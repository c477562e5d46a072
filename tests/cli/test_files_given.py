"""What a person knows of a directory disk is taken; texts are cut at their end mark on request."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran

sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))
import mole_disk

Cli = Callable[..., Ran]


@pytest.fixture
def mole(tmp_path: Path) -> Path:
    path = tmp_path / "mole.img"
    path.write_bytes(mole_disk.mole())
    return path


@pytest.mark.parametrize("given", ["block=1024,directory=64,offset=2,skew=6", "block=1024", "offset=2,skew=6"])
def test_a_block_that_is_given_gives_the_same_files(cli: Cli, mole: Path, given: str) -> None:
    found = cli("files", "list", mole, "--json").json["volumes"][0]["entries"]
    told = cli("files", "list", mole, "--parameter-block", given, "--json").json["volumes"][0]["entries"]
    assert [(one["path"], one["extents"]) for one in told] == [(one["path"], one["extents"]) for one in found]
    assert len(found) == 3


@pytest.mark.parametrize("given", ["block=1000", "nonsense", "block=1024,block=2048", "", "00" * 15])
def test_a_block_that_cannot_be_is_refused(cli: Cli, mole: Path, given: str) -> None:
    ran = cli("files", "list", mole, "--parameter-block", given)
    assert ran.code in (2, 5)
    assert "next:" in ran.err


def test_texts_end_at_their_mark(cli: Cli, mole: Path, tmp_path: Path) -> None:
    assert cli("files", "extract", mole, "-o", "whole", "STATION.TXT").code == 0
    assert cli("files", "extract", mole, "-o", "cut", "--text", "STATION.TXT").code == 0
    [whole], [cut] = (list((tmp_path / name).rglob("*.TXT")) for name in ("whole", "cut"))
    assert b"\x1a" in whole.read_bytes()
    assert cut.read_bytes() == whole.read_bytes().partition(b"\x1a")[0]
