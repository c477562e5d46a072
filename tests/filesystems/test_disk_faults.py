"""What the reading of a hard disk did to its image: slips, silent heads, sectors out of order, stretches filled."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from imagekeeper.cli import run
from imagekeeper.filesystems.dead_heads import dead_heads
from imagekeeper.filesystems.disk import DiskVolumes, read_disk
from imagekeeper.filesystems.interleaving import ByNumber, slots
from imagekeeper.filesystems.model import ReadingOptions, SectorGrid

from .fat_volumes import Directory, File, Shape, Writer
from .hard_disks import HEADS, SECTORS, record, table

pytestmark = pytest.mark.long

CYLINDERS = 306
TRACK = SECTORS * 512
CYLINDER = HEADS * TRACK
TOTAL = CYLINDERS * HEADS * SECTORS
START = SECTORS * 512

#: Half of the disks on which rules were tuned, and half on which they are judged, told apart by the name.
TUNED, JUDGED = [f"tuned {i}" for i in range(6)], [f"judged {i}" for i in range(6)]


def office(name: str, share: float = 0.9) -> bytes:
    """A disk of 306x4x17 with one partition that is filled to a share with directories and files."""
    chance = random.Random(name)
    shape = Shape(
        cluster_sectors=8, fat_sectors=8, root_entries=512, total=TOTAL - SECTORS, media=0xF8, track=SECTORS,
        heads=HEADS,
    )  # fmt: skip
    writer = Writer(shape, chance.randrange(1000) if chance.random() < 0.3 else None)
    left = int(shape.clusters * 4096 * share)
    tree: list[File | Directory] = []
    number = 0
    while left > 0:
        inside: list[File | Directory] = []
        for _ in range(chance.randrange(3, 12)):
            size = chance.choice([100, 700, 5000, 30_000, 200_000, 400_000])
            left -= size + 4096
            inside.append(File(b"F%06d DAT" % number, content(chance, size)))
            number += 1
            if left <= 0:
                break
        tree.append(Directory(b"D%06d    " % number, inside))
    image = bytearray(writer.write(tree))
    image[28:32] = SECTORS.to_bytes(4, "little")
    return table(record(1, SECTORS, TOTAL - SECTORS, active=True)) + bytes(START - 512) + bytes(image)


def content(chance: random.Random, size: int) -> bytes:
    """What files hold: bytes of any kind, text, tables with long stretches of 00, FF or blanks."""
    kind = chance.randrange(5)
    if kind < 2:
        return chance.randbytes(size)
    if kind == 2:
        return (b"09:30  tide %4d mm\r\n" % chance.randrange(4000) * (size // 20 + 1))[:size]
    pieces = bytearray()
    while len(pieces) < size:
        pieces += chance.randbytes(chance.randrange(1, 4000))
        pieces += bytes([chance.choice([0x00, 0x00, 0xFF, 0x20])]) * chance.randrange(1, 12_000)
    return bytes(pieces[:size])


def read(data: bytes) -> DiskVolumes:
    return read_disk(data, ReadingOptions(check=True))


def codes(read: DiskVolumes) -> list[str]:
    return [one.code for one in read.findings]


@pytest.fixture(scope="module")
def sound() -> dict[str, bytes]:
    return {name: office(name) for name in JUDGED}


@pytest.mark.parametrize("name", JUDGED)
def test_a_sound_disk_has_no_fault(sound: dict[str, bytes], name: str) -> None:
    seen = read(sound[name])
    assert codes(seen) == []
    assert seen.volumes[0].findings == ()
    assert seen.grid is not None
    assert seen.grid.text == "306x4x17x512"


@pytest.mark.parametrize("share", [0.0, 0.01, 0.05, 0.2])
def test_a_disk_that_is_nearly_empty_has_no_silent_head(share: float) -> None:
    assert codes(read(office("nearly empty", share))) == []


# ---- heads


def silenced(data: bytes, head: int, fill: bytes) -> bytes:
    changed = bytearray(data)
    sector = (fill * 512)[:512]
    for at in range(head * TRACK, len(data), CYLINDER):
        changed[at : at + TRACK] = (sector * SECTORS)[: len(changed[at : at + TRACK])]
    return bytes(changed)


@pytest.mark.parametrize("head", range(HEADS))
@pytest.mark.parametrize("fill", [b"\0", b"\xf6", b"NOT READ. "])
def test_a_silent_head_is_named(sound: dict[str, bytes], head: int, fill: bytes) -> None:
    for data in [*sound.values()][:3]:
        seen = read(silenced(data, head, fill))
        [one] = [one for one in seen.findings if one.code == "head-silent"]
        assert one.detail["head"] == head
        assert one.confidence >= 0.9
        assert f"head {head} of 306x4x17x512" in one.why


def test_a_head_that_gives_anything_is_not_silent(sound: dict[str, bytes]) -> None:
    data = bytearray(silenced(sound[JUDGED[0]], 2, b"\xf6"))
    data[150 * CYLINDER + 2 * TRACK + 5] = 0x31
    assert "head-silent" not in codes(read(bytes(data)))


def test_translated_geometries_have_no_heads_to_blame() -> None:
    assert dead_heads(bytes(1 << 20), SectorGrid(heads=255, sectors=63, sector_bytes=512, cylinders=1)) == ()
    assert dead_heads(b"", SectorGrid(heads=4, sectors=17, sector_bytes=512, cylinders=1)) == ()


# ---- slips within a volume


@pytest.mark.parametrize("name", JUDGED)
@pytest.mark.parametrize("count", [-1, 1, 2, -3])
def test_sectors_too_many_or_too_few_within_a_volume(sound: dict[str, bytes], name: str, count: int) -> None:
    chance = random.Random(f"{name} {count}")
    data = sound[name]
    directories = sorted(
        one.extents[0].start or 0 for one in read(data).volumes[0].entries if one.kind == "directory"
    )
    at = chance.randrange(directories[2] // 512 + 8, directories[-3] // 512 - 8) * 512   # a fair number on either side
    sick = data[:at] + bytes(512 * count) + data[at:] if count > 0 else data[:at] + data[at - 512 * count :]
    found = [one for one in read(sick).findings if one.about == "sectors-shifted/within"]
    assert len(found) == 1
    assert found[0].detail["sectors"] == count
    first = found[0].where.address or 0
    assert first <= at <= first + (found[0].where.length or 0)


@pytest.mark.parametrize("count", [-2, 1])
def test_a_slip_that_only_the_size_shows(count: int) -> None:
    """No directory lies behind the place: then the size alone tells, and not where."""
    data = office("judged size", 0.1)
    at = 250 * CYLINDER
    sick = data[:at] + bytes(512 * count) + data[at:] if count > 0 else data[:at] + data[at - 512 * count :]
    found = [one for one in read(sick).findings if one.code == "sectors-shifted"]
    assert [(one.about, one.detail["sectors"]) for one in found] == [("sectors-shifted/size", count)]
    assert found[0].confidence < 0.7


# ---- interleave


def as_it_lies(data: bytes, sectors: int, step: int) -> bytes:
    """Put the sectors as they lie on the disk, worked out apart from the reader: number by number, place by place."""
    places: list[int] = []
    place = 0
    for _ in range(sectors):
        while place in places:
            place = (place + 1) % sectors
        places.append(place)
        place = (place + step) % sectors
    out = bytearray(data)
    for track in range(0, len(data) - sectors * 512 + 1, sectors * 512):
        for number, place in enumerate(places):
            here, there = track + place * 512, track + number * 512
            out[here : here + 512] = data[there : there + 512]
    return bytes(out)


@pytest.mark.parametrize("step", range(2, SECTORS))
def test_an_interleave_is_found_and_undone(
    sound: dict[str, bytes], step: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = sound[JUDGED[step % len(JUDGED)]]
    lying = as_it_lies(data, SECTORS, step)
    [one] = [one for one in read(lying).findings if one.code == "sectors-interleaved"]
    assert one.detail["interleave"] == step
    assert ByNumber(lying, SECTORS, 512, step)[:] == data
    path = tmp_path / "lying.img"
    path.write_bytes(lying)
    assert run(["files", "check", str(path), "--interleave", str(step), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"]


def test_an_interleave_that_no_disk_has_is_refused(
    sound: dict[str, bytes], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.img"
    path.write_bytes(sound[JUDGED[0]])
    assert run(["files", "list", str(path), "--interleave", "20"]) == 2
    assert "no such interleave" in capsys.readouterr().err
    path.write_bytes(bytes(1000))
    assert run(["files", "list", str(path), "--interleave", "3"]) == 2
    assert "geometry" in capsys.readouterr().err


def test_any_slice_of_data_by_number() -> None:
    raw = bytes(range(200)) + b"end"
    view = ByNumber(raw, 5, 8, 2)
    whole = b"".join(
        raw[track + place * 8 : track + place * 8 + 8] for track in range(0, 200, 40) for place in slots(5, 2)
    ) + b"end"
    assert view[:] == whole
    for start in range(0, 210, 7):
        for stop in range(start, 210, 11):
            assert view[start:stop] == whole[start:stop], (start, stop)
    assert view[3] == whole[3]
    assert view[-1] == whole[-1]
    assert view[::3] == whole[::3]


# ---- stretches that were not read


@pytest.mark.parametrize("name", JUDGED)
@pytest.mark.parametrize("fill", [b"\xf6", b"\xe5", b"\x6c", b"\x6d\xb6", b"UNREAD. "])
def test_a_stretch_that_a_reader_filled_is_named(sound: dict[str, bytes], name: str, fill: bytes) -> None:
    data = bytearray(sound[name])
    chance = random.Random(f"{name} {fill.hex()}")
    files = [one for one in read(bytes(data)).volumes[0].entries if one.kind == "file" and one.size_bytes > 10_000]
    entry = chance.choice(files)
    at = (entry.extents[0].start or 0) + 512 * chance.randrange(1, 5)
    data[at : at + 1024] = (fill * 1024)[:1024]
    found = [one for one in read(bytes(data)).findings if one.code == "unread-perhaps"]
    assert [(one.where.address, one.where.length, one.detail["paths"]) for one in found] == [(at, 1024, [entry.path])]
    assert found[0].confidence < 1   # perhaps
    assert entry.path in found[0].why


def test_whole_tracks_of_zeros_in_the_middle_of_a_file_are_named(sound: dict[str, bytes]) -> None:
    data, start = next(
        (bytearray(data), one.extents[0].start or 0) for data in sound.values()
        for one in read(data).volumes[0].entries if one.size_bytes >= 200_000 and len(one.extents) == 1
    )
    at = -(-(start + 4096) // TRACK) * TRACK
    data[at : at + 2 * TRACK] = bytes(2 * TRACK)
    data[at - 1] = data[at + 2 * TRACK] = 0x31
    found = [one for one in read(bytes(data)).findings if one.code == "unread-perhaps"]
    assert [(one.about, one.where.address, one.where.length) for one in found] == [
        ("unread-perhaps/tracks", at, 2 * TRACK)
    ]
