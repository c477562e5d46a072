"""Where to park the heads: held against the published table of the AT machine's drive types."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from imagekeeper.cli import run
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.filesystems.parking import parking

from .hard_disks import disk

#: Cylinders, heads, landing zone, by number: help file for PC programmers, table of the hard disk types of the AT BIOS
#: (types 1, 2, 19); listing of an AT BIOS (3 to 5, 7 to 13).
PUBLISHED = {
    1: (306, 4, 305), 2: (615, 4, 615), 3: (615, 6, 615), 4: (940, 8, 940), 5: (940, 6, 940), 7: (462, 8, 511),
    8: (733, 5, 733), 9: (900, 15, 901), 10: (820, 3, 820), 11: (855, 5, 855), 12: (855, 7, 855), 13: (306, 8, 319),
    19: (1024, 7, 1023),
}  # fmt: skip


def grid(cylinders: int, heads: int, sectors: int = 17) -> SectorGrid:
    return SectorGrid(heads=heads, sectors=sectors, sector_bytes=512, cylinders=cylinders)


@pytest.mark.parametrize("number", PUBLISHED)
def test_the_landing_zone_of_a_type(number: int) -> None:
    cylinders, heads, zone = PUBLISHED[number]
    found = parking(grid(cylinders, heads))
    assert found is not None
    assert number in found.types
    assert zone in found.landing_zones
    assert str(zone) in found.says


def test_cylinders_that_are_kept_for_tests_change_nothing() -> None:
    assert parking(grid(614, 4)) == parking(grid(615, 4))


def test_a_drive_of_no_type_says_so_instead_of_guessing() -> None:
    found = parking(grid(820, 6))
    assert found is not None
    assert found.landing_zones == ()
    assert "look at its label" in found.says


@pytest.mark.parametrize("one", [grid(1044, 255, 63), grid(16_383, 16, 63), grid(80, 2, 9)])
def test_translated_geometries_and_floppy_disks_have_none(one: SectorGrid) -> None:
    assert parking(one) is None


def test_it_stands_in_the_listing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "office.img"
    path.write_bytes(disk())
    assert run(["files", "list", str(path)]) == 0
    assert "park its heads on cylinder 305" in " ".join(capsys.readouterr().out.split())
    run(["files", "list", str(path), "--json"])
    assert json.loads(capsys.readouterr().out)["parking"]["landing_zones"][0] == 305
