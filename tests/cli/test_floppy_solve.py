"""The command floppy solve."""

from __future__ import annotations

import gzip
import os
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.geometry import GeometrySolution
from imagekeeper.jobs import specimen
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_a_file_and_its_document(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "disk.img").write_bytes(specimen.station_disk())
    ran = cli("floppy", "solve", "disk.img")
    assert ran.code == 0
    assert ran.out.startswith("Most likely 80x2x9x512, PC 720K or PC 720K on 5.25 inch or 3-inch, 9 sectors of")
    assert "next: " in ran.out
    document = cli("floppy", "solve", "disk.img", "--json").json
    jsonschema.validate(document, schema_of(GeometrySolution))
    assert (document["schema"], document["name"]) == ("geometry/1", "disk.img")
    assert set(document["candidates"][0]) >= {
        "format", "cylinders", "heads", "sectors", "sector_bytes", "encoding", "data_rate", "rotation", "score",
        "evidence",
    }  # fmt: skip
    assert (document["candidates"][0]["data_rate"], document["candidates"][0]["rotation"]) == (250_000, 300)


def test_wrapped_files_and_standard_input(cli: Cli, tmp_path: Path) -> None:
    disk = specimen.station_disk()
    (tmp_path / "disk.img.gz").write_bytes(gzip.compress(disk))
    best = cli("floppy", "solve", "disk.img.gz", "--json").json["candidates"][0]
    assert best["format"] == "3.5-80x2x9x512"
    assert cli("floppy", "solve", "-", "--json", stdin=disk).json["candidates"][0] == best


def test_a_size_alone(cli: Cli) -> None:
    ran = cli("floppy", "solve", "--size-bytes", "1440K")
    assert ran.code == 0
    assert ran.out.startswith("Most likely 80x2x18x512, PC 1.44M. Only its size speaks.")
    ran = cli("floppy", "solve", "--size-bytes", "7")
    assert ran.code == 1
    assert "No floppy disk of the table" in ran.out
    ran = cli("floppy", "solve", "--size-bytes", "4G")
    assert ran.code == 1
    assert "hard disk" in ran.out


def test_no_line_is_wider_than_a_terminal(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    for size in ("1261568", "327680", "755712", "819200"):
        assert max(map(len, cli("floppy", "solve", "--size-bytes", size).out.splitlines())) <= 100


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "nothing to solve from"), (("--size-bytes", "0"), "0"), (("--rate", "nan", "--heads", "1"), "nan"),
        (("--sectors", "18", "--sector-bytes", "512", "--rate", "250"), "18 sectors of 512 bytes do not fit"),
        (("--disk-inch", "8", "--cylinders", "40"), "8"), (("--sector-bytes", "500"), "500"),
    ],
)  # fmt: skip
def test_facts_that_cannot_be_give_2(cli: Cli, arguments: tuple[str, ...], words: str) -> None:
    ran = cli("floppy", "solve", *arguments)
    assert ran.code == 2
    assert words in ran.err


def test_files_that_are_no_disk(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "empty.img").write_bytes(b"")
    assert cli("floppy", "solve", "empty.img").code == 3
    assert cli("floppy", "solve", "gone.img").code == 5
    with (tmp_path / "large.img").open("wb") as file:
        os.truncate(file.fileno(), 20 << 20)
    ran = cli("floppy", "solve", "large.img")
    assert ran.code == 1
    assert "more than any floppy disk holds" in ran.out
    (tmp_path / "gaps.hex").write_text(":0100000001FE\n:0100100001EE\n:00000001FF\n")
    assert cli("floppy", "solve", "gaps.hex").code == 3
    (tmp_path / "disk.img").write_bytes(bytes(368_640))
    assert cli("floppy", "solve", "disk.img", "--size-bytes", "720K").code == 2
