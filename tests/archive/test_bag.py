"""Bags: what is written is valid by an independent judge, the same each time, and never written over anything."""

from __future__ import annotations

import os
import shutil
import stat
import tarfile
import zipfile
from pathlib import Path

import bagit
import pytest

from imagekeeper.archive.exchange import bag
from imagekeeper.archive.exchange.bag import FORMS, Form, PayloadFile, write_bag
from imagekeeper.archive.exchange.bag_check import check_bag
from imagekeeper.archive.exchange.unpacking import unpacked
from imagekeeper.errors import ArchiveError, UsageError
from tests.refusals import refuses

PARTS = [
    PayloadFile("carriers/tg85-u4/v1/content/carrier.json", b"{}"),
    PayloadFile("README.txt", b"tide recorder\n" * 20),
    PayloadFile("empty.bin", b""),
]
INFO = [("External-Identifier", "urn:uuid:0195c0de-0000-7000-8000-000000000001"), ("Bagging-Date", "2026-11-24")]
NOW = 1772452800


def write(target: Path, form: Form, parts: list[PayloadFile] | None = None) -> bag.BagFigures:
    return write_bag(str(target), form, PARTS if parts is None else parts, INFO, now=NOW, advance=lambda done: None)


def as_folder(target: Path, form: Form, scratch: Path) -> Path:
    """Unpack with other programs than ours."""
    if form == "folder":
        return target
    if form == "zip":
        zipfile.ZipFile(target).extractall(scratch)   # noqa: S202  our own
    else:
        with tarfile.open(target) as file:
            file.extractall(scratch, filter="data")
    (only,) = scratch.iterdir()   # RFC 8493, section 4: one folder at the top
    assert only.name == "tg85"
    return only


@pytest.mark.parametrize("form", FORMS)
def test_an_independent_judge_accepts_every_form(tmp_path: Path, form: Form) -> None:
    target = tmp_path / ("tg85" if form == "folder" else f"tg85.{form}")
    figures = write(target, form)
    assert (figures.files, figures.bytes) == (3, 282)
    folder = as_folder(target, form, tmp_path / "scratch")
    judge = bagit.Bag(str(folder))
    judge.validate()
    assert judge.version_info == (1, 0)
    assert judge.info["Payload-Oxum"] == "282.3"
    assert judge.info["External-Identifier"] == INFO[0][1]
    assert sorted(judge.algorithms) == ["sha256", "sha512"]
    assert set(judge.payload_entries()) == {f"data/{part.path}" for part in PARTS}
    # RFC 8493, section 2.1.1
    assert (folder / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    assert {path.name for path in tmp_path.iterdir()} <= {target.name, "scratch"}   # nothing beside


@pytest.mark.parametrize("form", FORMS)
def test_our_own_check_agrees(tmp_path: Path, form: Form) -> None:
    target = tmp_path / f"tg85.{form}"
    write(target, form)
    with unpacked(str(target)) as folder:
        checked = check_bag(folder)
    assert (checked.files, checked.bytes, checked.algorithms) == (3, 282, ("sha256", "sha512"))
    assert checked.info[0] == INFO[0]
    assert form == "folder" or not folder.exists()


@pytest.mark.parametrize("form", ["zip", "tar"])
def test_the_same_input_gives_the_same_bytes(tmp_path: Path, form: Form) -> None:
    for place, parts in (("a", PARTS), ("b", PARTS[::-1])):
        (tmp_path / place).mkdir()
        write(tmp_path / place / f"tg85.{form}", form, parts)
    assert (tmp_path / "a" / f"tg85.{form}").read_bytes() == (tmp_path / "b" / f"tg85.{form}").read_bytes()
    assert stat.S_IMODE((tmp_path / "a" / f"tg85.{form}").stat().st_mode) & 0o111 == 0


@pytest.mark.parametrize("form", FORMS)
def test_nothing_is_overwritten(tmp_path: Path, form: Form) -> None:
    target = tmp_path / "tg85"
    target.write_bytes(b"a read")
    with pytest.raises(UsageError) as caught:
        write(target, form)
    assert caught.value.code == "exists"
    assert target.read_bytes() == b"a read"
    target.unlink()
    target.symlink_to(tmp_path / "nowhere")
    with refuses(UsageError, "exists", "there is already something at the output's place"):
        write(target, form)
    assert [path.name for path in tmp_path.iterdir()] == ["tg85"]


@pytest.mark.parametrize("form", FORMS)
def test_a_place_that_is_taken_meanwhile_is_left_alone(
    tmp_path: Path, form: Form, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "tg85"
    build = bag._fill

    def slow(*arguments: object) -> object:
        result = build(*arguments)   # type: ignore[arg-type]
        target.write_bytes(b"somebody else's")
        return result

    monkeypatch.setattr(bag, "_fill", slow)
    with pytest.raises(UsageError) as caught:
        write(target, form)
    assert caught.value.code == "exists"
    assert target.read_bytes() == b"somebody else's"


@pytest.mark.parametrize("form", FORMS)
def test_what_is_not_what_it_must_be_leaves_no_bag(tmp_path: Path, form: Form) -> None:
    source = tmp_path / "image.bin"
    source.write_bytes(b"changed")
    with pytest.raises(ArchiveError) as caught:
        write(tmp_path / "tg85", form, [PayloadFile("image.bin", source, "ab" * 64)])
    assert caught.value.code == "archive-damaged"
    assert os.listdir(tmp_path) == ["image.bin"]


@pytest.mark.parametrize("form", FORMS)
def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, form: Form, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        with pytest.raises(UsageError) as caught:
            write(tmp_path / "tg85", form)
    assert (caught.value.code, "No space" in caught.value.why) == ("cannot-write", True)
    assert os.listdir(tmp_path) == []


def test_paths_are_written_as_the_standard_asks(tmp_path: Path) -> None:
    # RFC 8493, section 2.1.3: CR, LF and % in a path are percent-encoded in manifests
    write(tmp_path / "tg85", "folder", [PayloadFile("50%.bin", b"x")])
    assert "  data/50%25.bin\n" in (tmp_path / "tg85" / "manifest-sha256.txt").read_text()
    assert check_bag(tmp_path / "tg85").files == 1


def test_values_stay_on_their_line(tmp_path: Path) -> None:
    info = [("External-Description", "two\nlines\r\nPayload-Oxum: 0.0")]
    write_bag(str(tmp_path / "tg85"), "folder", PARTS, info, now=NOW, advance=lambda done: None)
    lines = (tmp_path / "tg85" / "bag-info.txt").read_text().splitlines()
    assert lines == ["External-Description: two lines Payload-Oxum: 0.0", "Payload-Oxum: 282.3"]


def test_a_bag_made_by_the_judge_is_understood(tmp_path: Path) -> None:
    """It writes version 0.97, and MD5 and SHA-1 when it is asked to."""
    folder = tmp_path / "theirs"
    folder.mkdir()
    (folder / "u4.bin").write_bytes(b"tide")
    here = os.getcwd()
    bagit.make_bag(str(folder), {"Contact-Name": "harbour office"}, checksums=["md5", "sha256"])
    os.chdir(here)
    checked = check_bag(folder)
    assert checked.algorithms == ("md5", "sha256")
    assert ("Contact-Name", "harbour office") in checked.info


def test_a_bag_moves_with_its_folder(tmp_path: Path) -> None:
    write(tmp_path / "tg85", "folder")
    shutil.move(tmp_path / "tg85", tmp_path / "elsewhere")
    assert bagit.Bag(str(tmp_path / "elsewhere")).is_valid()
