"""The commands files list, extract and check."""

from __future__ import annotations

import datetime
import gzip
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.cli import run
from imagekeeper.floppy.arrangement import Geometry, order_sides
from imagekeeper.jobs.disks.checking_files import FileCheck
from imagekeeper.jobs.disks.extracting_files import FileExtraction
from imagekeeper.jobs.disks.listing_files import FileList
from imagekeeper.jsonable import schema_of

from .fat_volumes import Directory, File, Shape, Writer
from .hard_disks import disk

TREE = [
    File(b"TIDE    LOG", b"tide " * 500), Directory(b"SURVEY     ", [File(b"MARCH   TXT", b"m" * 2000)]),
    File(b"NUL     TXT", b"device"),
]  # fmt: skip


@pytest.fixture
def image(tmp_path: Path) -> Path:
    path = tmp_path / "survey.img"
    path.write_bytes(Writer(Shape()).write(TREE))
    return path


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    code = run(["files", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def text(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = run(["files", *arguments])
    got = capsys.readouterr()
    return code, got.out + got.err


def valid(document: Any, cls: type) -> None:
    import jsonschema

    jsonschema.validate(document, schema_of(cls))


def test_list(image: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, document = answer(capsys, "list", str(image))
    assert code == 0
    valid(document, FileList)
    [volume] = document["volumes"]
    assert [one["path"] for one in volume["entries"]] == ["TIDE.LOG", "SURVEY", "SURVEY/MARCH.TXT", "NUL.TXT"]
    assert volume["entries"][0]["name_hex"] == b"TIDE    LOG".hex()
    assert volume["entries"][0]["modified"] == "1991-05-05T14:12:40"
    assert document["geometry"]["sectors"] == 9
    assert volume["boot"]["likely"] is False   # there is no code


def test_list_as_text_says_where(
    image: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(image.parent)
    code, shown = text(capsys, "list", image.name, "--where")
    assert code == 0
    assert shown.startswith("3 files: FAT12.")
    assert "TIDE.LOG" in shown
    assert "6144+2500 (0/1/4 to 0/1/8)" in shown
    assert max(map(len, shown.splitlines())) <= 110


def test_wrapped_images_are_listed(image: Path, capsys: pytest.CaptureFixture[str]) -> None:
    packed = image.with_suffix(".img.gz")
    packed.write_bytes(gzip.compress(image.read_bytes()))
    assert answer(capsys, "list", str(packed))[1]["volumes"][0]["entries"][0]["path"] == "TIDE.LOG"


def test_nothing_recognised_is_an_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "blank.img").write_bytes(b"\xff" * 4096)
    code, document = answer(capsys, "list", str(tmp_path / "blank.img"))
    assert (code, document["volumes"]) == (1, [])
    code, document = answer(capsys, "check", str(tmp_path / "blank.img"))
    assert (code, document["ok"]) == (1, False)
    code, document = answer(capsys, "extract", str(tmp_path / "blank.img"), "-o", str(tmp_path / "out"))
    assert (code, document["code"]) == (5, "not-found")


def test_sides_that_do_not_alternate(image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = tmp_path / "sides.img"
    other.write_bytes(order_sides(image.read_bytes(), Geometry(
        cylinders=40, heads=2, sectors=9, sector_bytes=512
    ), "alternating", "side-after-side"))
    code, document = answer(capsys, "list", str(other), "--sides-from", "side-after-side")
    assert code == 0
    assert [one["path"] for one in document["volumes"][0]["entries"]][:2] == ["TIDE.LOG", "SURVEY"]


def test_check_sound_and_damaged(image: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, document = answer(capsys, "check", str(image))
    assert (code, document["ok"], document["findings"]) == (0, True, [])
    valid(document, FileCheck)
    data = bytearray(image.read_bytes())
    data[512 + 4] ^= 0x11
    image.write_bytes(data)
    before = image.read_bytes()
    code, document = answer(capsys, "check", str(image))
    assert code == 1
    valid(document, FileCheck)
    assert document["counts"]["tables-differ"] == 1
    assert document["findings"][0]["where"]["file"] == str(image)
    assert "tables-differ" in text(capsys, "check", str(image))[1]
    assert image.read_bytes() == before


def test_extract_keeps_times_and_names_and_overwrites_nothing(
    image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "TIDE.LOG").write_text("mine")
    code, document = answer(capsys, "extract", str(image), "-o", str(out))
    assert code == 0
    valid(document, FileExtraction)
    assert {one["written"]: one["renamed"] for one in document["files"]} == {
        "TIDE-2.LOG": True, "SURVEY/MARCH.TXT": False, "NUL_.TXT": True,
    }  # fmt: skip
    assert (out / "TIDE.LOG").read_text() == "mine"
    assert (out / "TIDE-2.LOG").read_bytes() == b"tide " * 500
    for name in ("TIDE-2.LOG", "SURVEY"):
        when = datetime.datetime.fromtimestamp((out / name).stat().st_mtime)
        assert when.isoformat() == "1991-05-05T14:12:40"


def test_extract_by_name(image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    march = {"SURVEY/MARCH.TXT"}
    for pattern, wanted in (("*.log", {"TIDE.LOG"}), ("survey", march), ("march.txt", march)):
        out = tmp_path / pattern.strip("*")
        _, document = answer(capsys, "extract", str(image), "-o", str(out), pattern)
        assert {one["written"] for one in document["files"]} == wanted
    code, document = answer(capsys, "extract", str(image), "-o", str(tmp_path / "none"), "*.ZIP")
    assert (code, document["code"]) == (5, "not-found")


def test_hostile_names_stay_in_the_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = [
        b"..         ", b"../../A TXT", b"/ETC    TXT", b"C:\\A    TXT", b"\x1b[2J    TXT", b"-RF        ",
        b"\x01\x02      TXT",
    ]  # fmt: skip
    path = tmp_path / "hostile.img"
    path.write_bytes(Writer(Shape()).write([File(name, b"x") for name in names]))
    inside = tmp_path / "deep" / "out"
    code, document = answer(capsys, "extract", str(path), "-o", str(inside))
    assert code == 0
    assert len(document["files"]) == len(names)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["deep", "hostile.img"]
    assert len(list(inside.iterdir())) == len(names)
    assert all(not one.name.startswith("-") and one.name.isprintable() for one in inside.iterdir())


def test_a_link_in_the_folder_is_not_followed(image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / "SURVEY").symlink_to(elsewhere)
    code, document = answer(capsys, "extract", str(image), "-o", str(out))
    assert code == 0
    assert list(elsewhere.iterdir()) == []
    assert "SURVEY-2/MARCH.TXT" in {one["written"] for one in document["files"]}


def test_a_file_with_a_missing_end_is_told(image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = image.read_bytes()
    image.write_bytes(data[: 6144 + 1024])   # within TIDE.LOG
    code, document = answer(capsys, "extract", str(image), "-o", str(tmp_path / "out"), "TIDE.LOG")
    assert code == 1
    [one] = document["files"]
    assert (one["complete"], one["size_bytes"]) == (False, 2500)
    assert (tmp_path / "out" / "TIDE.LOG").read_bytes() == (b"tide " * 500)[:1024] + bytes(1476)


def test_partitions_and_bad_sectors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, listed = tmp_path / "disk.img", tmp_path / "bad.csv"
    path.write_bytes(disk())
    _, document = answer(capsys, "list", str(path), "--partition", "5")
    assert [one["partition"] for one in document["volumes"]] == [5]
    valid(document, FileList)
    start = document["volumes"][0]["entries"][0]["extents"][0]["start"] // 512
    listed.write_text(f"cylinder,head,sector,state\n{start // 68},{start // 17 % 4},{start % 17 + 1},bad\n")
    code, document = answer(capsys, "list", str(path), "--bad-sectors", str(listed))
    assert code == 1
    assert document["bad_sectors"] == 1
    assert [one["detail"].get("path") for one in document["findings"]] == ["GAUGE.DAT"]
    assert "1 bad sector" in text(capsys, "list", str(path), "--bad-sectors", str(listed))[1]
    code, document = answer(capsys, "list", str(path), "--partition", "3")
    assert (code, document["code"]) == (5, "not-found")
    code, document = answer(capsys, "extract", str(path), "-o", str(tmp_path / "out"))
    assert {one["written"] for one in document["files"]} == {
        "partition-1/TIDE.LOG", "partition-5/GAUGE.DAT", "partition-6/SURVEY.TXT",
    }  # fmt: skip


def test_usage(image: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, code in (
        (("--code-page", "utf-16"), 2), (("--code-page", "nonsense"), 2), (("--geometry", "0x0x0x0"), 2),
        (("--bad-sectors", "/nowhere.csv"), 5),
    ):  # fmt: skip
        got, document = answer(capsys, "list", str(image), *arguments)
        assert (got, document["schema"]) == (code, "error/1")


def test_listing_a_hard_disk_loads_no_numpy(image: Path) -> None:
    """A floppy disk is asked what its reading did to it, which takes numpy; what is larger than one is not."""
    image.write_bytes(image.read_bytes().ljust((4 << 20) + 512, b"\0"))
    probe = (
        "import sys; from imagekeeper.cli import run; run(['files', 'list', sys.argv[1]]); "
        "sys.exit('numpy' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", probe, str(image)], check=True, capture_output=True)


def crossed(image: Path) -> bytes:
    """Put the second file's beginning on the first one's: both use the same clusters."""
    data = bytearray(Writer(Shape()).write([File(b"TIDE    LOG", b"t" * 3000), File(b"GAUGE   LOG", b"g" * 2500),
                                            File(b"MOLE    LOG", b"m" * 700)]))  # fmt: skip
    root = Shape().root_start
    data[root + 32 + 26 : root + 32 + 28] = data[root + 26 : root + 28]
    image.write_bytes(data)
    return bytes(data)


def test_cross_linked_files_are_named_and_the_answer_is_no(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    crossed(tmp_path / "survey.img")
    code, document = answer(capsys, "extract", "survey.img", "-o", "out")
    assert code == 1
    valid(document, FileExtraction)
    assert [one["shares_with"] for one in document["files"]] == [["GAUGE.LOG"], ["TIDE.LOG"], []]
    code, shown = text(capsys, "extract", "survey.img", "-o", "again")
    words = " ".join(shown.split())
    assert code == 1
    assert "3 files written, 2 cross-linked" in words
    assert "TIDE.LOG cross-linked with GAUGE.LOG: one of them at least is wrong" in words
    # one of them alone is no better; the third is its own
    assert answer(capsys, "extract", "survey.img", "GAUGE.LOG", "-o", "one", "--text")[0] == 1
    assert answer(capsys, "extract", "survey.img", "MOLE.LOG", "-o", "other")[0] == 0
