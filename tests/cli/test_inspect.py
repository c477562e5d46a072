"""The command inspect."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs import specimen
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]


@pytest.mark.parametrize("name", ["u4-first.bin", "u5-second.bin", "u17-second.bin", "u30-second.s19"])
def test_clean_reads_give_0_and_a_document_that_fits_its_schema(cli: Cli, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(specimen.files()[name])
    ran = cli("inspect", name)
    assert ran.code == 0
    assert "Nothing in these bytes speaks against the read" in ran.out
    document = cli("inspect", name, "--json").json
    jsonschema.validate(document, schema_of(Inspection))
    assert (document["schema"], document["name"]) == ("inspection/1", name)


def test_a_fault_gives_1_and_names_the_pin(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u5.bin").write_bytes(bytes(b | 8 for b in specimen.program()[1::2]))
    ran = cli("inspect", "u5.bin", "--chip", "27128")
    assert ran.code == 1
    assert "fault: data-line-stuck" in ran.out
    assert "D3 (pin 15 of a 27128)" in ran.out
    document = cli("inspect", "u5.bin", "--chip", "27128", "--json").json
    assert document["findings"][0]["detail"]["pins"] == {"D3": 15}
    assert document["findings"][0]["where"]["file"] == "u5.bin"


def test_a_blank_chip_gives_1(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u5.bin").write_bytes(b"\xff" * 16384)
    ran = cli("inspect", "u5.bin", "--chip", "27128")
    assert ran.code == 1
    assert "what a blank 27128 gives" in ran.out


def test_the_picture_is_written_once(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.bin").write_bytes(specimen.program()[0::2])
    assert cli("inspect", "u4.bin", "--picture", "u4.svg").code == 0
    assert (tmp_path / "u4.svg").read_text("utf-8").startswith("<svg")
    assert cli("inspect", "u4.bin", "--picture", "u4.svg").code == 2
    assert cli("inspect", "u4.bin", "--picture", "u4.svg", "--force").code == 0


def test_wrong_input(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.bin").write_bytes(b"AB")
    (tmp_path / "empty.bin").write_bytes(b"")
    assert cli("inspect", "absent.bin").code == 5
    assert cli("inspect", "u4.bin", "--chip", "no such part").code == 5
    assert cli("inspect", "u4.bin").code == 0
    assert cli("inspect", "empty.bin").code == 3


def test_standard_input(cli: Cli) -> None:
    assert cli("inspect", "-", stdin=bytes(range(256)) * 16).code == 1
