"""The command selfcheck."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.jobs import specimen
from imagekeeper.jsonable import schema_of
from imagekeeper.selfchecks.results import SelfCheck
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_a_check_that_holds(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "pair.bin").write_bytes(specimen.program())
    ran = cli("selfcheck", "pair.bin")
    assert ran.code == 0
    assert "The image checks itself" in ran.out
    assert "16-bit sum of words, high byte first, is zero" in ran.out
    document = cli("selfcheck", "pair.bin", "--json").json
    jsonschema.validate(document, schema_of(SelfCheck))
    assert (document["schema"], document["conclusion"], document["name"]) == ("selfcheck/1", "strong", "pair.bin")


def test_a_broken_claim_gives_exit_code_1(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "ext.bin").write_bytes(bytes.fromhex("55AA01CB") + bytes(507) + b"\x34")
    ran = cli("selfcheck", "ext.bin")
    assert ran.code == 1
    assert "header-sum-wrong" in ran.out
    document = cli("selfcheck", "ext.bin", "--json").json
    assert document["findings"][0]["where"]["file"] == "ext.bin"


def test_a_chance_next_to_none_is_told_in_words(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "one.bin").write_bytes(b"A")
    assert "chance alone lets fewer than 0.001 hold" in cli("selfcheck", "one.bin").out


def test_range_and_address(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u5.bin").write_bytes(specimen.program()[1::2])
    document = cli("selfcheck", "u5.bin", "--range", "0x100-1FFF", "--stored-at", "3FFE", "--json").json
    assert (document["start"], document["length_bytes"]) == (0x100, 0x1F00)


@pytest.mark.parametrize("arguments", [
    ["--range", "100"], ["--range", "200-100"], ["--range", "0-XYZ"], ["--range", "0-FFFFFFFF"], ["--range", ""],
    ["--stored-at", "FFFFFFFF"], ["--stored-at", "-1"],
])  # fmt: skip
def test_impossible_requests(cli: Cli, tmp_path: Path, arguments: list[str]) -> None:
    (tmp_path / "u5.bin").write_bytes(specimen.program()[1::2])
    assert cli("selfcheck", "u5.bin", *arguments).code == 2


def test_a_missing_file(cli: Cli) -> None:
    assert cli("selfcheck", "absent.bin").code == 5
