"""No second output of a command (a picture, a sheet, a list) replaces a file that is read, whatever --force says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.jobs import specimen
from tests.conftest import Ran

Cli = Callable[..., Ran]

DISK = ("plan", "disk", "disk-first.img", "--drive", "3.5-dd", "--format", "720K", "-o", "write.img")
CHIP = ("plan", "chip", "u4-first.bin", "--chip", "27128", "-o", "write.bin")
MERGE = ("files", "merge", "disk-first.img", "disk-second.img", "--geometry", "720K", "--bad-sectors", "bad.csv",
         "--bad-sectors", "-")  # fmt: skip


@pytest.fixture
def reads(tmp_path: Path) -> Path:
    specimen.write(tmp_path)
    (tmp_path / "bad.csv").write_text("cylinder,head,sector,state\n0,1,6,bad\n")
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "read"),
    [
        (("inspect", "u4-first.bin", "--picture"), "u4-first.bin"),
        (("compare", "u5-first.bin", "u5-second.bin", "--picture"), "u5-second.bin"),
        ((*CHIP, "--sheet"), "u4-first.bin"),
        ((*CHIP, "--present", "u4-second.hex", "--sheet"), "u4-second.hex"),
        ((*DISK, "--sheet"), "disk-first.img"),
        (("files", "map", "disk-first.img", "--geometry", "720K", "--bad-sectors", "bad.csv", "-o"), "bad.csv"),
        ((*MERGE, "-o"), "bad.csv"),
        ((*MERGE, "-o", "write.img", "--list-to"), "disk-second.img"),
    ],
    ids=lambda value: " ".join(value[:2]) if isinstance(value, tuple) else value,
)
def test_a_read_is_never_replaced(cli: Cli, reads: Path, arguments: tuple[str, ...], read: str) -> None:
    before = {path.name: path.read_bytes() for path in reads.iterdir() if path.is_file()}
    ran = cli(*arguments, read, "--force", "--json")
    assert (ran.code, ran.json["code"], ran.json["what"]) == (2, "exists", "the output is one of the inputs")
    assert {path.name: path.read_bytes() for path in reads.iterdir() if path.is_file()} == before


@pytest.mark.parametrize("arguments", [(*CHIP, "--sheet", "write.bin"), (*DISK, "--sheet", "./write.img"),
                                       (*MERGE, "-o", "write.img", "--list-to", "write.img")])  # fmt: skip
def test_two_outputs_of_one_name_are_refused_before_either_is_written(
    cli: Cli, reads: Path, arguments: tuple[str, ...]
) -> None:
    ran = cli(*arguments, "--force", "--json")
    assert (ran.code, ran.json["what"]) == (2, "two outputs have one name")
    assert not list(reads.glob("write.*"))


@pytest.mark.parametrize(
    "arguments",
    [
        (*CHIP, "--sheet", "taken"), (*DISK, "--sheet", "taken"), (*CHIP, "--lamp", "0"), (*CHIP, "--lamp", "nan"),
        (*CHIP, "--lamp-distance", "-1"), (*DISK, "--first-sector", "248"), (*DISK, "--interleave", "9"),
    ],
    ids=lambda value: " ".join(value[-2:]),
)  # fmt: skip
def test_a_plan_that_is_refused_leaves_no_file(cli: Cli, reads: Path, arguments: tuple[str, ...]) -> None:
    """Nine sectors from 248 would end at 256, and the field on the disk holds a byte."""
    (reads / "taken").write_text("mine")
    assert cli(*arguments).code == 2
    assert (reads / "taken").read_text() == "mine"
    assert not list(reads.glob("write.*"))
