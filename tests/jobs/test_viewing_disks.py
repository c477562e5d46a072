"""An image of a disk is shown as a disk: what it is, what is on it, and what to do next."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

from imagekeeper.jobs import specimen
from imagekeeper.jobs.disks.contents import SMALLEST, disk_contents
from imagekeeper.tables.chips import chip_rows
from imagekeeper.tables.floppy import format_rows
from tests import tools
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_no_chip_has_the_size_of_a_disk() -> None:
    sizes = {row.bytes for row in format_rows().values()}
    assert not sizes & {row.bytes for row in chip_rows().values()}
    assert min(sizes) >= SMALLEST


def test_an_image_of_a_chip_is_no_disk() -> None:
    assert disk_contents(specimen.program(), "u4.bin") is None
    assert disk_contents(bytes(131072), "big.bin") is None


def test_a_disk_without_a_file_system_is_known_by_its_size() -> None:
    found = disk_contents(specimen.station_disk(), "station.img")
    assert found is not None
    assert found.formats[:2] == ("3.5-80x2x9x512", "5.25-80x2x9x512")
    assert (found.volumes, found.next) == ((), "solve the geometry of station.img")


@tools.needs("mkfs.fat")
def test_a_disk_with_files_is_shown_by_inspect_and_in_its_record(cli: Cli, tmp_path: Path) -> None:
    """Source of the volume: mkfs.fat of dosfstools."""
    made = [tools.path("mkfs.fat"), "-C", "-n", "HARBOUR", "fat.img", "720"]
    subprocess.run(made, cwd=tmp_path, check=True, capture_output=True)
    ran = cli("inspect", "fat.img")
    assert "FAT12, 713 clusters of 1024 bytes, label HARBOUR: 0 files" in ran.out
    assert "imagekeeper files list fat.img" in ran.out
    assert "a chip of" not in ran.out
    assert cli("inspect", "fat.img", "--json").json["disk"]["volumes"][0]["label"] == "HARBOUR"
    cli("archive", "init", "a")
    here = ("--archive", "a")
    cli("carrier", "add", "disk", "--kind", "floppy", *here)
    assert cli("carrier", "show", "disk", "--json", *here).json["contents"] is None
    cli("carrier", "read", "disk", "fat.img", *here)
    assert "label HARBOUR" in cli("carrier", "show", "disk", *here).out
    cli("report", "-o", "pages", *here)
    assert "On the disk" in (tmp_path / "pages" / "carriers" / "disk.html").read_text()
    cli("carrier", "add", "chip", "--kind", "eprom", *here)
    cli("carrier", "read", "chip", "fat.img", *here)   # an odd thing to do: it is shown as what it is said to be
    assert "on the disk" not in cli("carrier", "show", "chip", *here).out
