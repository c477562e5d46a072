"""The command floppy layout."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.floppy.layout import TrackLayout
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_text_and_document(cli: Cli) -> None:
    ran = cli("floppy", "layout", "--sectors", "9", "--gap3", "80")
    assert ran.code == 0
    assert "218 bytes are left at the exact speed" in ran.out
    document = cli("floppy", "layout", "--sectors", "9", "--gap3", "80", "--json").json
    jsonschema.validate(document, schema_of(TrackLayout))
    assert {"bytes_per_track", "fields", "total", "spare", "gap3_max", "fits"} <= set(document)
    assert set(document["fields"][0]) >= {"name", "start", "length", "fill"}


def test_what_does_not_fit_gives_1(cli: Cli) -> None:
    ran = cli("floppy", "layout", "--sectors", "9", "--gap3", "108")
    assert ran.code == 1
    assert "34 more than the track's 6250" in ran.out


@pytest.mark.parametrize("sectors", ["1", "9", "255"])
def test_the_picture_says_its_legend_in_words(cli: Cli, tmp_path: Path, sectors: str) -> None:
    arguments = ("floppy", "layout", "--sectors", sectors, "--gap3", "0", "--picture", "track.svg")
    assert cli(*arguments).code in (0, 1)
    picture = ET.parse(tmp_path / "track.svg")   # noqa: S314  we wrote it
    words = [element.text or "" for element in picture.iter("{http://www.w3.org/2000/svg}text")]
    for kind in ("gap", "sync", "mark", "ID", "data"):
        assert any(word.startswith((f"{kind}:", f"{kind},")) for word in words), kind
    assert cli(*arguments).code == 2
    assert cli(*arguments, "--force").code in (0, 1)


@pytest.mark.parametrize(
    "wrong",
    [("--rate", "nan"), ("--rate", "1e300"), ("--rpm", "inf"), ("--sector-bytes", "500"), ("--sectors", "0"),
     ("--tolerance", "-1"), ("--encoding", "gcr"), ("--host-delay", "nan"), ("--gap3", "300"), ("--interleave", "9")],
)  # fmt: skip
def test_wrong_numbers_give_2(cli: Cli, wrong: tuple[str, str]) -> None:
    ran = cli("floppy", "layout", *wrong)
    assert ran.code == 2
    assert "Traceback" not in ran.out + ran.err


@pytest.mark.parametrize(
    "arguments", [("--sectors", "10", "--gap3", "32"), ("--encoding", "perpendicular", "--sectors", "36")]
)
def test_no_line_is_too_long(cli: Cli, arguments: tuple[str, ...]) -> None:
    lines = cli("floppy", "layout", *arguments).out.splitlines()
    assert max(map(len, lines)) <= 100


def test_an_interleave_belongs_to_a_track(cli: Cli) -> None:
    """Nine sectors have 1 to 8: with 9 the next number would be the same sector again."""
    assert cli("floppy", "layout", "--sectors", "9", "--interleave", "8").code == 0
    assert "9 is not between 1 and 8" in cli("floppy", "layout", "--sectors", "9", "--interleave", "9").err
