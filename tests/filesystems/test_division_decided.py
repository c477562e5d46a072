"""Whether the division of an 8-bit disk is decided, and what is said where it is not."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.cli import run
from imagekeeper.filesystems.directory_options import parse
from imagekeeper.filesystems.directory_system import DirectoryReader
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import ReadingOptions, Volume
from imagekeeper.jobs.disks.listing_files import FileList
from imagekeeper.jobs.disks.looking_into import Solving
from imagekeeper.jsonable import schema_of

from .directory_volumes import Content, Shape, filled, noise, sparse, whole, write

pytestmark = pytest.mark.long

TWO_SIDED = Shape(40, 2, 16, 256, 2048, 64, 2, 1, sides="side-after-side")


def looked_into(disk: bytes) -> Volume:
    return read_disk(disk, ReadingOptions(check=True), Solving(disk).grids()).volumes[0]


def right(disk: bytes, volume: Volume, files: list[Content]) -> bool:
    got = sorted((one.group or "", one.raw_name, b"".join(one.blocks(disk))) for one in volume.entries)
    return got == sorted((str(one.user), one.name, one.expected) for one in files)


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    capsys.readouterr()
    code = run(["files", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


PACKED = noise(random.Random(8), 8192)


def undecidable() -> bytes:
    """One file of packed data on two whole tracks: nothing tells in which order its sectors follow each other."""
    return write(Shape(40, 1, 16, 256, 1024, 128, 2, 3), [whole(0, "GAUGE   DAT", PACKED)])


def test_what_no_evidence_decides_is_said_and_the_answer_is_no(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    image = tmp_path / "gauge.img"
    image.write_bytes(undecidable())
    code, document = answer(capsys, "list", str(image))
    jsonschema.validate(document, schema_of(FileList))
    [volume] = document["volumes"]
    [found] = [one for one in document["findings"] if one["code"] == "division-undecided"]
    assert (code, found["detail"]["behind"]) == (1, volume["runner_up"]["behind"])
    assert volume["runner_up"]["title"] == found["detail"]["runner_up"] != volume["title"]
    code, document = answer(capsys, "extract", str(image), "-o", str(tmp_path / "out"))
    assert (code, document["doubtful"]) == (1, True)
    assert (tmp_path / "out" / document["files"][0]["written"]).exists()   # what can be had is written


def test_who_says_how_the_disk_is_divided_is_asked_no_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image = tmp_path / "gauge.img"
    image.write_bytes(undecidable())
    block = "block=1024,directory=128,reserved=2,skew=3,track=16x256"
    code, document = answer(capsys, "extract", str(image), "-o", str(tmp_path / "out"), "--parameter-block", block)
    assert (code, document["findings"]) == (0, [])
    assert (tmp_path / "out" / "GAUGE.DAT").read_bytes() == PACKED


def test_the_margin_and_the_runner_up_are_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image = tmp_path / "mole.img"
    image.write_bytes(filled(Shape(), 5, 0.6)[0])
    assert run(["files", "list", str(image)]) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert "margin its evidence is ahead by " in words
    assert "of the next that would give other files: directory of an 8-bit machine (block=" in words


@pytest.mark.parametrize("number", range(24))
def test_a_wrong_division_is_never_settled(number: int) -> None:
    """Disks that tell little: the first answer gives the files, or it is said that it is not decided."""
    shape = [
        Shape(), TWO_SIDED, Shape(40, 1, 10, 256, 2048, 64, 3, 2), Shape(80, 2, 10, 512, 2048, 128, 2, 3),
        Shape(77, 2, 8, 1024, 4096, 256, 2, 1), Shape(40, 1, 9, 512, 1024, 64, 0, 1),
    ][number % 6]  # fmt: skip
    disk, files = sparse(shape, 9000 + number)
    volume = looked_into(disk)
    undecided = any(one.code == "division-undecided" for one in volume.findings)
    assert right(disk, volume, files) or undecided


def test_the_runner_up_gives_other_files() -> None:
    disk, files = filled(TWO_SIDED, 3, 0.5)
    held = read_disk(disk, ReadingOptions(), Solving(disk).grids()).held[0]
    best = held.candidates[0].answer
    assert held.volume is not None
    assert held.volume.runner_up is not None
    rival = next(one.answer for one in held.candidates if one.answer.title == held.volume.runner_up.title)
    assert held.volume.runner_up.behind == round(best.weight - rival.weight, 2) > 2
    reader = DirectoryReader()
    assert right(disk, reader.read(disk, best, ReadingOptions()), files)
    assert not right(disk, reader.read(disk, rival, ReadingOptions()), files)


@pytest.mark.parametrize("given", ["track=16x256", "block=2048", "reserved=2", "records=32", "directory=64,reserved=2"])
@pytest.mark.parametrize("sides", ["alternating", "side-after-side", "side-1-reversed"])
def test_what_is_given_leaves_the_order_of_sides_to_be_found(given: str, sides: str) -> None:
    shape = replace(TWO_SIDED, sides=sides)
    disk, files = filled(shape, 3, 0.8)
    reader = DirectoryReader(parse(given))
    best = reader.recognise(disk, None)[0].answer
    assert best.detail.parameters.sides == sides
    assert right(disk, reader.read(disk, best, ReadingOptions()), files)


def damaged_directory(spoil: bytes, at: int) -> tuple[bytes, list[Content]]:
    """A disk of which a piece of the directory is spoiled, and the files whose entries are not."""
    shape = Shape(40, 1, 16, 256, 1024, 64, 2, 1)
    disk, files = filled(shape, 5, 0.9)
    assert len(files) > 12
    begin = shape.offset * shape.track
    data = bytearray(disk)
    data[begin + at : begin + at + len(spoil)] = spoil
    hurt = {bytes(disk[begin + i + 1 : begin + i + 12]) for i in range(at - at % 32, at + len(spoil), 32)}
    return bytes(data), [one for one in files if one.name not in hurt]


@pytest.mark.parametrize(("spoil", "at"), [(b"\x91", 128), (b"\x01", 257 + 32), (b"\xf6" * 256, 256)])
def test_a_damaged_record_does_not_end_the_directory(spoil: bytes, at: int) -> None:
    """Entries behind it would be lost without a word, and the directory would have an unusual number of entries."""
    disk, files = damaged_directory(spoil, at)
    volume = looked_into(disk)
    assert volume.parameters["directory_entries"] == 64
    got = {one.raw_name: b"".join(one.blocks(disk)) for one in volume.entries}
    assert all(got[one.name] == one.expected for one in files)
    assert volume.findings


def odd_number() -> bytes:
    """A full directory of 96 entries."""
    shape = Shape(40, 1, 16, 256, 1024, 96, 2, 1)
    dice = random.Random(2)
    files = [whole(0, f"TIDE{n:04d}DAT", noise(dice, 900)) for n in range(90)]
    return write(shape, files)


def test_what_is_unusual_is_not_settled_even_without_a_rival(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """90 entries in 3 blocks, and files from block 3 on: 96 entries it must be, which no usual disk has."""
    image = tmp_path / "odd.img"
    image.write_bytes(odd_number())
    code, document = answer(capsys, "list", str(image))
    [found] = [one for one in document["findings"] if one["code"] == "division-undecided"]
    assert (code, found["detail"]["unusual"]) == (1, ["96 entries are no usual number"])
    code, document = answer(capsys, "list", str(image), "--parameter-block", "directory=96")
    assert (code, document["findings"]) == (0, [])   # a person said so


def test_a_usual_division_goes_before_an_unusual_one_that_fits_a_little_better() -> None:
    """Files begin with block 7, as behind 224 entries; but blocks may be free behind 128."""
    dice = random.Random(4)
    files = [whole(0, f"TIDE{n:04d}DAT", noise(dice, 3000)) for n in range(9)]
    blank = whole(0, "BLANK   DAT", b"\xe5" * 5 * 1024)   # blocks 2 to 6
    disk = bytearray(write(Shape(40, 1, 16, 256, 1024, 64, 2, 1), [blank, *files], gone={0}))
    at = disk.index(b"\xe5BLANK   DAT")
    disk[at : at + 32] = b"\xe5" * 32
    answers = [one.answer for one in DirectoryReader().recognise(bytes(disk), None)]
    entries = [one.detail.parameters.directory_entries for one in answers if one.detail.parameters.skew == 1]
    assert entries.index(128) < entries.index(224)
    assert answers[0].unusual == ()


def test_reserved_tracks_are_called_so_and_the_old_name_is_understood(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    image = tmp_path / "mole.img"
    image.write_bytes(filled(Shape(), 5, 0.6)[0])
    shown = []
    for name in ("offset", "reserved"):
        block = f"block=1024,directory=64,{name}=2,skew=6"
        assert run(["files", "list", str(image), "--parameter-block", block]) == 0
        got = capsys.readouterr()
        shown.append(got.out)
        assert ("offset= is called reserved= since" in got.err) == (name == "offset")
    assert shown[0] == shown[1]
    assert "(block=1024,directory=64,reserved=2,skew=6)" in shown[0]
    assert run(["files", "list", str(image), "--parameter-block", "offset=2,reserved=2"]) == 2   # it is one thing
