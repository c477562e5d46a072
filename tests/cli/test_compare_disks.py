"""compare on reads of disks: what is taken as of a disk, and what is shown then."""

from __future__ import annotations

import random
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.geometry.disks import directory_disk, fat_disk, shape_of

PC = shape_of("5.25-40x2x9x512")
Cli = Callable[..., Ran]


@pytest.fixture
def good() -> bytes:
    return fat_disk(PC, 1, full=0.6)


def swapped(data: bytes) -> bytes:
    size = PC.track_bytes
    return b"".join(
        data[at + size : at + 2 * size] + data[at : at + size] for at in range(0, len(data), 2 * size)
    )


def test_reads_of_a_disk_are_told_of_by_cylinder_and_side(cli: Cli, tmp_path: Path, good: bytes) -> None:
    (tmp_path / "a.img").write_bytes(good)
    (tmp_path / "b.img").write_bytes(swapped(good))
    ran = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--picture", tmp_path / "p.svg")
    assert ran.code == 1
    assert "sides-swapped" in ran.out
    assert "b.img is the one that is wrong" in " ".join(ran.out.split())
    assert "cylinder  side 0" in ran.out
    assert "40x2x9x512, as its content tells" in ran.out
    for word in ("chip", " pin", "volt", "data line", "address line"):
        assert word not in ran.out.lower()
    drawn = ET.parse(tmp_path / "p.svg").getroot()  # noqa: S314  our own document
    notes = [one.text or "" for one in drawn.iter() if one.tag.endswith("title")]
    assert any(note.startswith("cylinder 0, side 1, sector 1:") for note in notes)


def test_the_document_has_the_disk(cli: Cli, tmp_path: Path, good: bytes) -> None:
    (tmp_path / "a.img").write_bytes(good)
    (tmp_path / "b.img").write_bytes(good[:-512] + bytes(512))
    told = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--json").json
    assert told["schema"] == "comparison/1"
    assert told["disk"]["geometry_from"] == "content"
    assert [(one["cylinder"], one["side"], one["sector"]) for one in told["disk"]["differing"]] == [(39, 1, 9)]
    assert "volt" not in ran_text(told)


def ran_text(told: object) -> str:
    return str(told).lower()


def test_a_directory_of_an_8_bit_machine_is_enough(cli: Cli, tmp_path: Path) -> None:
    shape = shape_of("8-77x1x26x128-fm")
    data = directory_disk(shape, 3, full=0.6)
    hit = bytearray(data)
    hit[30 * shape.track_bytes : 31 * shape.track_bytes] = b"\xe5" * shape.track_bytes
    (tmp_path / "a.img").write_bytes(data)
    (tmp_path / "b.img").write_bytes(bytes(hit))
    told = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--json").json
    assert told["disk"]["geometry"] == "77x1x26x128"
    assert (told["findings"][0]["code"], told["findings"][0]["detail"]["cylinders"]) == ("track-lost", [30])


def test_a_size_of_memories_stays_one(cli: Cli, tmp_path: Path) -> None:
    data = random.Random(1).randbytes(131072)
    (tmp_path / "a.bin").write_bytes(data)
    (tmp_path / "b.bin").write_bytes(bytes(byte | 8 for byte in data))
    told = cli("compare", tmp_path / "a.bin", tmp_path / "b.bin", "--json").json
    assert told["disk"] is None
    assert told["findings"][0]["code"] == "data-line-stuck"


def test_a_geometry_may_be_given_by_name_and_not_for_a_chip(cli: Cli, tmp_path: Path) -> None:
    data = random.Random(2).randbytes(368640)
    (tmp_path / "a.img").write_bytes(data)
    (tmp_path / "b.img").write_bytes(data[: 512 * 99] + b"\xf6" * 512 + data[512 * 100 :])
    ran = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--geometry", "360K")
    assert "sectors-filled" in ran.out
    assert "as it was given" in ran.out
    for more in (("--chip", "27128"), ("--vcc", "4.5,5.5")):
        ran = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--geometry", "360K", *more)
        assert ran.code == 2
        assert "leave one of them out" in ran.err
    for wrong in ("12x3", "0x0x0x0", "39x2x9x512", "99999x1x1x1"):
        ran = cli("compare", tmp_path / "a.img", tmp_path / "b.img", "--geometry", wrong)
        assert ran.code in (2, 5)
        assert "next:" in ran.err
        assert "Traceback" not in ran.err


def test_equal_reads_of_a_disk_say_nothing_of_memories(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "a.img").write_bytes(b"\xf6" * 368640)
    (tmp_path / "b.img").write_bytes(b"\xf6" * 368640)
    ran = cli("compare", tmp_path / "a.img", tmp_path / "b.img")
    assert ran.code == 0
    assert "chip" not in ran.out
    assert "720 of 720 sectors agree" in ran.out


NO_WORDS = ("chip", " pin", "volt", "data line", "address line")


def test_a_vote_over_reads_of_a_disk_tells_by_sector(cli: Cli, tmp_path: Path, good: bytes) -> None:
    """A drive gives whole sectors: one put together of two reads' bytes is in none of them."""
    at = 20 * PC.track_bytes
    first, second = bytearray(good), bytearray(good)
    first[at] ^= 0x55
    second[at + 300] ^= 0x55
    for name, data in (("a.img", bytes(first)), ("b.img", bytes(second)), ("c.img", good)):
        (tmp_path / name).write_bytes(data)
    ran = cli("vote", tmp_path / "a.img", tmp_path / "b.img", tmp_path / "c.img", "-o", tmp_path / "v.img")
    assert ran.code == 1
    assert "Not every sector has a majority: 1 of 720 were disputed" in ran.out
    assert "of 1 sector no content has more than half of the votes, first of 10/0/1" in " ".join(ran.out.split())
    for word in NO_WORDS:
        assert word not in ran.out.lower()
    told = cli(
        "vote", tmp_path / "a.img", tmp_path / "a2.img", tmp_path / "c.img", "-o", tmp_path / "v2.img", "--json"
    ) if (tmp_path / "a2.img").write_bytes(bytes(first)) else None
    assert told is not None
    assert (told.code, told.json["disk"]["geometry"]) == (0, "40x2x9x512")
    assert (tmp_path / "v2.img").read_bytes() == bytes(first)


def test_a_vote_says_which_read_lies_otherwise(cli: Cli, tmp_path: Path, good: bytes) -> None:
    for name, data in (("a.img", good), ("b.img", swapped(good)), ("c.img", good[:-1] + b"!")):
        (tmp_path / name).write_bytes(data)
    told = cli("vote", tmp_path / "a.img", tmp_path / "b.img", tmp_path / "c.img", "-o", tmp_path / "v.img", "--json")
    assert told.code == 1
    [found] = [one for one in told.json["findings"] if one["code"] == "sides-swapped"]
    assert "b.img has side 0 and side 1" in found["why"]


def test_a_vote_of_a_disk_takes_a_geometry_and_no_voltages_with_it(cli: Cli, tmp_path: Path, good: bytes) -> None:
    for name in ("a.img", "b.img", "c.img"):
        (tmp_path / name).write_bytes(good)
    names = [tmp_path / name for name in ("a.img", "b.img", "c.img")]
    assert cli("vote", *names, "-o", tmp_path / "v.img", "--geometry", "360K").code == 0
    refused = cli("vote", *names, "-o", tmp_path / "w.img", "--geometry", "360K", "--vcc", "5,5,5")
    assert refused.code == 2
    assert not (tmp_path / "w.img").exists()


def test_reads_of_a_kept_disk_are_compared_as_a_disk(cli: Cli, tmp_path: Path, good: bytes) -> None:
    """What a person keeps as a disk is one, and what differs between its reads is told by cylinder and side."""
    archive = tmp_path / "archive"
    cli("archive", "init", archive)
    cli("carrier", "add", "tg85-boot", "--kind", "floppy", "--archive", archive)
    hit = bytearray(good)
    hit[30 * PC.track_bytes : 31 * PC.track_bytes] = b"\xf6" * PC.track_bytes
    for name, data in (("a.img", good), ("b.img", bytes(hit))):
        (tmp_path / name).write_bytes(data)
        assert cli("carrier", "read", "tg85-boot", tmp_path / name, "--archive", archive).code == 0
    ran = cli("carrier", "agree", "tg85-boot", "--archive", archive)
    assert ran.code == 1
    assert "track-lost" in ran.out
    assert "cylinder  side 0" in ran.out
    for word in NO_WORDS:
        assert word not in ran.out.lower()
