"""What a person knows of a directory disk is taken; texts are cut at their end mark on request."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.jobs import specimen_disks
from tests.conftest import Ran

Cli = Callable[..., Ran]


@pytest.fixture
def mole(tmp_path: Path) -> Path:
    path = tmp_path / "mole.img"
    path.write_bytes(specimen_disks.mole())
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


def test_the_invented_files_are_written_alone_and_over_nothing(cli: Cli, tmp_path: Path) -> None:
    done = cli("demo", "--files", "bench", "--json").json
    assert (done["steps"], done["ok"], done["folder"]) == ([], True, "bench")
    assert sorted(done["files"]) == sorted(path.name for path in (tmp_path / "bench").iterdir())
    (tmp_path / "bench" / "u4-first.bin").write_bytes(b"mine")
    (tmp_path / "bench" / "office.img").unlink()
    again = cli("demo", "--files", "bench")
    assert again.code == 2
    assert "bench/u4-first.bin is there already" in again.err
    assert (tmp_path / "bench" / "u4-first.bin").read_bytes() == b"mine"
    assert not (tmp_path / "bench" / "office.img").exists(), "nothing is written where one name is taken"


def test_files_alone_or_the_whole_job(cli: Cli, tmp_path: Path) -> None:
    refused = cli("demo", "--files", "one", "--into", "two")
    assert refused.code == 2
    assert "choose one of them" in refused.err
    assert list(tmp_path.iterdir()) == []
