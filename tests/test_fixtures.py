"""Every fixture gives the reading that is written down for it."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

from imagekeeper import containers
from imagekeeper.errors import ImagekeeperError

FOLDER = Path(__file__).parent.parent / "fixtures"
EXPECTED = tomllib.loads((FOLDER / "expected.toml").read_text("utf-8"))


@pytest.mark.parametrize("where", ["good", "bad"])
def test_every_file_is_expected_and_every_expectation_has_its_file(where: str) -> None:
    assert {p.name for p in (FOLDER / where).iterdir()} == set(EXPECTED[where])


@pytest.mark.parametrize(("name", "expected"), EXPECTED["good"].items())
def test_good(name: str, expected: dict[str, Any]) -> None:
    image = containers.read((FOLDER / "good" / name).read_bytes())
    assert expected == {
        "container": image.container, "first_address": image.first_address, "size_bytes": image.size_bytes,
        "gaps": len(image.gaps), "sha256": hashlib.sha256(image.tobytes()).hexdigest(),
    }  # fmt: skip
    assert not image.doubts


@pytest.mark.parametrize(("name", "expected"), EXPECTED["bad"].items())
def test_bad(name: str, expected: dict[str, Any]) -> None:
    data = (FOLDER / "bad" / name).read_bytes()
    with pytest.raises(ImagekeeperError) as caught:
        containers.read(data)
    assert (caught.value.code, caught.value.where.line) == (expected["code"], expected.get("line"))
    assert Path(name).stem == expected["code"]
    assert caught.value.hint
