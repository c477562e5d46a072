"""No file comes out wrong without a word: what a check knows of a file is said of it when it is taken out.

Rules of the systems: ECMA-107, the clause on the FAT (a chain ends in an end mark; a cluster belongs to one file); and
Digital Research, CP/M 2.2 Interface Guide, from memory.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

import imagekeeper
from imagekeeper.cli import run
from imagekeeper.filesystems.model import Entry, Extent
from imagekeeper.filesystems.unread import unread
from imagekeeper.jobs.disks.extracting_files import FileExtraction
from imagekeeper.jsonable import schema_of

from .directory_volumes import Shape as EightBit
from .directory_volumes import filled
from .fat_volumes import Directory, File, Shape, Writer

TIDE, GAUGE = random.Random(1).randbytes(3000), random.Random(2).randbytes(2500)
MARCH = Directory(b"SURVEY     ", [File(b"MARCH   TXT", GAUGE)])
TREE = [File(b"TIDE    LOG", TIDE), File(b"GAUGE   LOG", GAUGE), MARCH]


def extracted(capsys: pytest.CaptureFixture[str], folder: Path, data: bytes, *more: str) -> tuple[int, dict[str, Any]]:
    import jsonschema

    image = folder / "survey.img"
    image.write_bytes(data)
    capsys.readouterr()
    code = run(["files", "extract", str(image), "-o", str(folder / "out"), "--json", *more])
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, schema_of(FileExtraction))
    return code, document


def of(document: dict[str, Any], path: str) -> dict[str, Any]:
    return next(one for one in document["files"] if one["path"] == path)


def volume() -> tuple[Writer, bytearray]:
    writer = Writer(Shape())
    return writer, bytearray(writer.write(TREE))


def with_table(writer: Writer, data: bytearray, copies: int = 2) -> bytes:
    table = writer.table()
    for number in range(copies):
        at = (1 + number * writer.shape.fat_sectors) * 512
        data[at : at + len(table)] = table
    return bytes(data)


def test_a_chain_that_leads_into_itself_is_said_of_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[4] = 2   # TIDE.LOG lies in 2, 3 and 4
    code, document = extracted(capsys, tmp_path, with_table(writer, data))
    assert (code, of(document, "TIDE.LOG")["findings"]) == (1, ["chain-broken"])
    assert (of(document, "GAUGE.LOG")["findings"], of(document, "GAUGE.LOG")["complete"]) == ([], True)
    assert (tmp_path / "out" / "TIDE.LOG").read_bytes() == TIDE   # what there is, is kept
    assert "leads back into itself" in next(one["why"] for one in document["findings"])


def test_a_short_loop_keeps_what_comes_before_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[3] = 2
    code, document = extracted(capsys, tmp_path, with_table(writer, data))
    tide = of(document, "TIDE.LOG")
    assert (code, tide["complete"], tide["findings"]) == (1, False, ["chain-broken", "size-disagrees"])
    assert (tmp_path / "out" / "TIDE.LOG").read_bytes()[:2048] == TIDE[:2048]


def test_another_file_alone_is_none_the_worse(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[4] = 2
    broken = with_table(writer, data)
    assert extracted(capsys, tmp_path, broken, "GAUGE.LOG")[0] == 0
    assert extracted(capsys, tmp_path, broken, "TIDE.LOG")[0] == 1


def test_the_text_says_it_beside_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[4] = 2
    (tmp_path / "survey.img").write_bytes(with_table(writer, data))
    assert run(["files", "extract", str(tmp_path / "survey.img"), "-o", str(tmp_path / "out")]) == 1
    words = " ".join(capsys.readouterr().out.split())
    assert "1 with findings that may make them wrong" in words
    assert "TIDE.LOG TIDE.LOG see chain-broken" in words


def test_crossed_chains_are_said_of_both_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[2] = 6   # from TIDE.LOG into GAUGE.LOG
    code, document = extracted(capsys, tmp_path, with_table(writer, data))
    for name, other in (("TIDE.LOG", "GAUGE.LOG"), ("GAUGE.LOG", "TIDE.LOG")):
        assert of(document, name)["shares_with"] == [other]
        assert "space-shared" in of(document, name)["findings"]
    assert (code, of(document, "SURVEY/MARCH.TXT")["findings"]) == (1, [])


def test_what_is_wrong_with_a_directory_is_said_of_the_files_in_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, data = volume()
    at = data.index(b".          ")
    data[at : at + 32] = bytes([1]) * 32   # its record of itself
    code, document = extracted(capsys, tmp_path, bytes(data))
    assert (code, of(document, "SURVEY/MARCH.TXT")["findings"]) == (1, ["directory-damaged"])
    assert of(document, "TIDE.LOG")["findings"] == []


def test_copies_of_the_table_that_differ_concern_every_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    writer, data = volume()
    writer.fat[2] = 6
    code, document = extracted(capsys, tmp_path, with_table(writer, data, copies=1))
    assert (code, document["doubtful"]) == (1, True)
    assert [one["code"] for one in document["findings"] if one["severity"] == "fault"] == ["tables-differ"]
    assert (tmp_path / "out" / "TIDE.LOG").read_bytes() == TIDE   # the better copy was taken


def test_space_that_no_file_has_spoils_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer, data = volume()
    writer.fat[100] = writer.end
    code, document = extracted(capsys, tmp_path, with_table(writer, data))
    assert (code, [one["code"] for one in document["findings"]]) == (0, ["space-lost"])


@pytest.mark.parametrize(("fill", "told"), [
    (b"\xf6" * 512, True), (b"\xe5" * 512, True), ((b"\x6d\xb6\xdb" * 171)[:512], True),
    ((b"SECTOR WAS NOT READ " * 26)[:512], True), (bytes(512), False), (b"\xff" * 512, False), (b" " * 512, False),
    (b"\x1a" * 512, False), (b"-" * 512, False), (TIDE[:511] + b"\xf6", False),
])  # fmt: skip
def test_a_sector_of_fill_in_a_file_is_no_silent_content(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], fill: bytes, told: bool
) -> None:
    """00 and FF, blanks and end marks stand in files of programs themselves: of them nothing can be said."""
    _, data = volume()
    at = data.index(GAUGE[512:1024])
    data[at : at + 512] = fill
    code, document = extracted(capsys, tmp_path, bytes(data))
    assert code == told
    assert of(document, "GAUGE.LOG")["findings"] == (["unread-perhaps"] if told else [])
    assert of(document, "TIDE.LOG")["findings"] == []
    found = [one for one in document["findings"] if one["code"] == "unread-perhaps"]
    assert [(one["where"]["address"], one["detail"]["bytes"]) for one in found] == [(at, 512)] * told


def test_a_text_that_goes_on_from_sector_to_sector_is_a_files_own() -> None:
    def entry(size: int) -> Entry:
        return Entry(path="A", name="A", name_hex="", kind="file", size_bytes=size, extents=(Extent(0, size),))

    assert unread(entry(2500), b"tide " * 500, 512) == ()
    readers = (b"NOT READ! " * 52)[:512] * 3   # begins anew with each sector
    assert unread(entry(1536), readers, 512) == (Extent(0, 1536),)
    assert unread(entry(512), readers, 512) == (Extent(0, 512),)


def eight_bit() -> tuple[bytes, int]:
    """A disk, and where its directory begins."""
    shape = EightBit(skew=1)
    return filled(shape, 5, 0.5)[0], shape.offset * shape.track


BLOCK = ("--parameter-block", "block=1024,directory=64,reserved=2,skew=1,track=26x128")


@pytest.mark.parametrize(("byte", "value", "codes"), [
    (17, 0, {"size-disagrees"}),          # the second block: nowhere
    (17, 1, {"space-shared"}),            # in the directory
    (17, 250, {"outside-volume"}),        # beyond the disk
    (12, 3, {"extent-missing"}),          # the fourth part of a file that has no other
    (15, 255, {"entry-damaged"}),         # more records than can be
])  # fmt: skip
def test_an_entry_of_an_8_bit_directory_that_cannot_be_is_said_of_its_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], byte: int, value: int, codes: set[str]
) -> None:
    sound, at = eight_bit()
    code, document = extracted(capsys, tmp_path, sound, *BLOCK)
    assert (code, document["findings"]) == (0, [])
    first = next(i for i in range(at, at + 2048, 32) if sound[i + 17] and not sound[i + 12] and sound[i + 15] < 128)
    data = bytearray(sound)
    data[first + byte] = value
    code, document = extracted(capsys, tmp_path, bytes(data), *BLOCK)
    name = sound[first + 1 : first + 9].decode().rstrip() + "." + sound[first + 9 : first + 12].decode().rstrip()
    assert code == 1
    assert codes <= set(of(document, name)["findings"])


def test_a_program_that_takes_files_out_is_told_the_same(tmp_path: Path) -> None:
    writer, data = volume()
    writer.fat[4] = 2
    with imagekeeper.open_disk(with_table(writer, data)) as disk:   # without a check of its own
        found = disk.extract(tmp_path / "out")
    assert (found.exit_code, [one.findings for one in found.files]) == (1, [("chain-broken",), (), ()])
