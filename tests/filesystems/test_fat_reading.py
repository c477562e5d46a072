"""Early disks without a parameter block, code pages, starting, and the hint about sides."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from imagekeeper.cli import run
from imagekeeper.errors import ImagekeeperError
from imagekeeper.filesystems import fat_names, registry
from imagekeeper.filesystems.model import ReadingOptions, Volume
from imagekeeper.floppy.arrangement import Geometry, order_sides

from .fat_volumes import Directory, File, Shape, Writer

EARLY = Shape(
    cluster_sectors=1, fat_sectors=1, root_entries=64, total=320, media=0xFE, track=8, heads=1, block=False
)  # as Microsoft, Q75131, gives the 160K disk


def read(data: bytes, **how: object) -> Volume:
    found = registry.recognise(data)
    assert found
    return registry.read(data, found[0].answer, ReadingOptions(**how))   # type: ignore[arg-type]


def test_a_disk_without_a_parameter_block_is_told_by_size_and_fat() -> None:
    volume = read(Writer(EARLY).write([File(b"TIDE    LOG", b"t" * 3000)]), check=True)
    assert volume.parameters["from"] == "5.25-40x1x8x512"
    assert (volume.units, [one.path for one in volume.entries], volume.findings) == (313, ["TIDE.LOG"], ())


def test_the_same_size_without_a_fat_is_nothing() -> None:
    data = bytearray(Writer(EARLY).write([File(b"TIDE    LOG", b"t" * 3000)]))
    data[512:1536] = b"\xe5" * 1024
    assert registry.recognise(bytes(data)) == ()


def test_a_ruined_boot_sector_gives_way_to_the_format_of_that_size() -> None:
    data = bytearray(Writer(Shape()).write([File(b"TIDE    LOG", b"t" * 3000)]))
    data[:512] = b"\xf6" * 512
    volume = read(bytes(data))
    assert volume.parameters["from"] == "5.25-40x2x9x512"
    assert [one.path for one in volume.entries] == ["TIDE.LOG"]


@pytest.mark.parametrize(("page", "name"), [("cp437", "ÄNDERUNG"), ("cp850", "ÄNDERUNG"), ("latin-1", "\\x8eNDERUNG")])
def test_code_pages(page: str, name: str) -> None:
    """8E is Ä in code pages 437 and 850, and a control character in ISO 8859-1: the standards themselves."""
    data = Writer(Shape()).write([File(b"\x8eNDERUNGTXT", b"t")])
    [entry] = read(data, code_page=page).entries
    assert entry.path == f"{name}.TXT"
    assert entry.raw_name == b"\x8eNDERUNGTXT"


def test_a_name_that_begins_with_e5_is_not_deleted() -> None:
    """From memory: 05 stands for E5 in the first place."""
    [entry] = read(Writer(Shape()).write([File(b"\x05TIDE   LOG", b"t")])).entries
    assert (entry.path, entry.deleted) == ("σTIDE.LOG", False)


@pytest.mark.parametrize("name", ["cp99999", "idna", "unicode_escape", "utf-7"])   # codecs of Python, but no code pages
def test_unknown_code_pages_are_refused(name: str) -> None:
    with pytest.raises(ImagekeeperError) as caught:
        fat_names.check_code_page(name)
    assert caught.value.code == "unknown-name"


def started(code: bytes, names: list[bytes]) -> bool | None:
    image = bytearray(Writer(Shape()).write([File(name, b"x" * 600) for name in names]))
    image[0x3E : 0x3E + len(code)] = code
    boot = read(bytes(image)).boot
    assert boot is not None
    assert boot.evidence
    return boot.likely


def test_whether_a_machine_could_start_from_it() -> None:
    code = bytes(range(1, 120))
    system = [b"QMIO    SYS", b"QMDOS   SYS"]
    assert started(code + b"QMIO    SYSQMDOS   SYS", [*system, b"TIDE    LOG"]) is True
    assert started(code + b"QMIO    SYSQMDOS   SYS", [b"TIDE    LOG"]) is False
    assert started(code + b"This is not a system disk", [b"TIDE    LOG"]) is not True
    assert started(b"", system) is False


def test_sides_in_another_order_are_hinted_at(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tree: list[File | Directory] = [File(b"F%03d    LOG" % n, b"%d tide " % n * 700) for n in range(60)]
    data = Writer(Shape()).write(tree)
    path = tmp_path / "sides.img"
    path.write_bytes(order_sides(data, Geometry(
        cylinders=40, heads=2, sectors=9, sector_bytes=512
    ), "alternating", "side-after-side"))
    assert run(["files", "check", str(path)]) == 1
    assert "--sides-from side-after-side" in capsys.readouterr().out
    assert run(["files", "check", str(path), "--sides-from", "side-after-side"]) == 0


def test_a_volume_with_one_fat_and_a_short_image() -> None:
    shape = replace(Shape(), fats=1)
    data = Writer(shape).write([File(b"TIDE    LOG", b"t" * 3000), File(b"GAUGE   DAT", b"g" * 3000)])
    volume = read(data[: shape.data_start + 3500], check=True)
    assert [one.code for one in volume.findings] == ["volume-cut-short"]
    assert [one.complete for one in volume.entries] == [True, False]
