"""What damage means for the files of a disk, held against a count byte by byte."""

from __future__ import annotations

import json
import random
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.damage import MOST_NAMES, MOST_STRETCHES, MOST_TRACKS, damage
from imagekeeper.filesystems.damage_model import DiskDamage, HurtState, HurtStretch
from imagekeeper.filesystems.model import Area, Entry, Extent, ReadingOptions, SectorGrid, Volume
from imagekeeper.jobs.disks.damage_words import gives, spare_means, verdict
from tests.conftest import Ran

from .fat_volumes import File, Shape, Writer

GRID = SectorGrid(heads=2, sectors=4, sector_bytes=8, cylinders=6)
SIZE = 2 * 4 * 8 * 6
PC = SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40)
Cli = Callable[..., Ran]


def volume(*entries: Entry, areas: tuple[Area, ...] = (), free: tuple[Extent, ...] = ()) -> Volume:
    return Volume(
        kind="fat12", title="a volume", start=0, length=SIZE, unit_bytes=8, units=48, free_units=0, entries=entries,
        areas=areas, free=free,
    )  # fmt: skip


def file(path: str, size: int, *extents: Extent) -> Entry:
    return Entry(path=path, name=path, name_hex="", kind="file", size_bytes=size, extents=extents)


def bad(*sectors: int) -> list[tuple[Extent, HurtState]]:
    return [(Extent(8 * one, 8), "bad") for one in sorted(sectors)]


def of_pc(data: bytes, *states: tuple[Extent, HurtState]) -> DiskDamage:
    found = registry.recognise(data)
    return damage([registry.read(data, found[0].answer, ReadingOptions())], PC, len(data), states)


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_every_byte_of_a_file_is_counted_where_it_lies(data: st.DataObject) -> None:
    order = data.draw(st.permutations(range(48)))
    count = data.draw(st.integers(1, 4))
    files, used = [], 0
    for number in range(count):
        blocks = data.draw(st.integers(1, 8))
        size = 8 * blocks - data.draw(st.integers(0, 7))
        mine = order[used : used + blocks]
        used += blocks
        lengths = [min(8, size - 8 * at) for at in range(blocks)]
        extents = [Extent(8 * one, length) for one, length in zip(mine, lengths, strict=True)]
        files.append(file(f"F{number}", size, *extents))
    kinds: list[HurtState] = ["bad", "doubtful", "missing"]
    states = {one: data.draw(st.sampled_from(kinds)) for one in
              data.draw(st.lists(st.integers(0, 47), unique=True, max_size=20))}  # fmt: skip
    free = tuple(Extent(8 * one, 8) for one in sorted(order[used:]))
    listed = [(Extent(8 * one, 8), states[one]) for one in sorted(states)]
    found = damage([volume(*files, free=free)], GRID, SIZE, listed)
    told = {one.path: one for one in found.hurt_files}
    where: dict[tuple[int, int], set[str]] = {}
    for one in files:
        expected: dict[int, str] = {}
        at = 0
        for extent in one.extents:
            assert extent.start is not None
            if extent.start // 8 in states:
                expected |= {at + byte: states[extent.start // 8] for byte in range(extent.length)}
                where.setdefault(divmod(extent.start // 32, 2), set()).add(one.path)
            at += extent.length
        got: dict[int, str] = {}
        for stretch in told[one.path].stretches if one.path in told else ():
            got |= {stretch.at + byte: stretch.state for byte in range(stretch.length)}
        assert got == expected
        assert (told[one.path].hurt_bytes if one.path in told else 0) == len(expected)
    assert found.files == count
    tracks = {(one.cylinder, one.head): one for one in found.tracks}
    assert list(tracks) == sorted({divmod(one // 4, 2) for one in states})
    for place, track in tracks.items():
        assert set(track.sectors) == {one % 4 + 1 for one in states if divmod(one // 4, 2) == place}
        assert {*track.mends, *track.helps} == where.get(place, set())
        assert track.purpose == ("files" if place in where else "spare")
        for name in track.mends:
            assert [other for other, names in where.items() if name in names] == [place]
    spared = sum(one.sectors for one in found.spare if one.kind == "free")
    assert spared == len(set(states) & set(order[used:]))
    assert not [one for one in found.spare if one.kind == "unowned"]


def test_what_lies_in_no_file_is_told_apart() -> None:
    found = damage(
        [volume(file("TIDE.LOG", 8, Extent(64, 8)), areas=(Area("FAT 1", 8, 8),), free=(Extent(80, 16),))],
        GRID, SIZE, bad(8, 10, 40),
    )  # fmt: skip
    assert [(one.kind, one.sectors, one.tracks) for one in found.spare] == [("free", 1, 1), ("unowned", 1, 1)]
    assert [one.purpose for one in found.tracks] == ["files", "spare"]
    assert [spare_means(one) for one in found.spare] == [
        "free space: 1 sector on 1 track; harmless: no file has them",
        "in no file: 1 sector on 1 track; harmless: behind the end of a file, or outside every volume",
    ]


@pytest.mark.parametrize(("hit", "whole"), [((1,), True), ((1, 3), False), ((1, 4), True), ((3,), True)])
def test_a_fat_is_held_against_its_copy_sector_by_sector(hit: tuple[int, ...], whole: bool) -> None:
    areas = (Area("FAT 1", 8, 16), Area("FAT 2", 24, 16))
    found = damage([volume(areas=areas)], GRID, SIZE, bad(*hit))
    assert {one.twin_whole for one in found.areas} == {whole}


def test_the_pieces_of_a_directory_are_one_area() -> None:
    areas = (Area("directory", 8, 8), Area("directory", 24, 8))
    [found] = damage([volume(areas=areas)], GRID, SIZE, bad(1, 3)).areas
    assert (found.size_bytes, found.hurt_bytes, found.twin_whole) == (16, 16, None)


def test_bytes_without_a_place_and_behind_the_end_are_lost() -> None:
    entry = file("GAUGE.DAT", 40, Extent(SIZE - 8, 16), Extent(None, 8))
    [found] = damage([volume(entry)], GRID, SIZE, []).hurt_files
    assert [(one.at, one.length, one.state, one.place) for one in found.stretches] == [(8, 32, "lost", "nowhere")]


def test_a_first_track_of_its_own_is_counted_by_its_own_sectors() -> None:
    grid = SectorGrid(heads=1, sectors=4, sector_bytes=16, cylinders=3, first_track=(8, 4))
    entry = file("TIDE.LOG", 96, Extent(0, 96))
    [found] = damage([volume(entry)], grid, 160, [(Extent(28, 20), "bad")]).hurt_files
    assert [(one.place, one.at, one.length) for one in found.stretches] == [("0/0/8", 28, 4), ("1/0/1", 32, 16)]


def test_very_much_damage_is_counted_and_not_kept() -> None:
    grid = SectorGrid(heads=1, sectors=2, sector_bytes=8, cylinders=6000)
    names = [file(f"F{one}", 8, Extent(0, 8)) for one in range(MOST_NAMES + 5)]
    big = file("BIG", 96000, Extent(0, 96000))
    found = damage([volume(big, *names)], grid, 96000, [(Extent(0, 96000), "bad")])
    assert (len(found.tracks), found.tracks_left_out) == (MOST_TRACKS, 6000 - MOST_TRACKS)
    assert (len(found.hurt_files[0].stretches), found.hurt_files[0].left_out) == (MOST_STRETCHES, 6000 - MOST_STRETCHES)
    assert found.hurt_files[0].hurt_bytes == 96000
    assert (len(found.tracks[0].mends) + len(found.tracks[0].helps), found.tracks[0].left_out) == (MOST_NAMES, 6)


def said(found: DiskDamage, *, recognised: bool = True, listed: bool = True) -> str:
    return verdict(found, recognised=recognised, listed=listed, heads=2)


def test_the_verdict_names_what_is_hurt_and_what_to_read_again() -> None:
    sound = Writer(Shape()).write([File(b"TIDE    LOG", b"t" * 3000), File(b"STATION TXT", b"s" * 900)])
    assert said(of_pc(sound, (Extent(6144, 512), "missing"))) == "1 of 2 files is hurt; read again cylinder 0, side 1."
    assert said(of_pc(sound, (Extent(512, 512), "bad"))) == (
        "No file is hurt itself, but the file system is: FAT 1; read again cylinder 0, side 0."
    )
    assert said(of_pc(sound, (Extent(300 * 512, 1024), "bad"))) == (
        "None of 2 files is hurt: 2 sectors are not good, in no file."
    )
    assert said(of_pc(sound, (Extent(512, 6144), "bad"))) == (
        "1 of 2 files is hurt; so are FAT 1, FAT 2 and the root directory; read again cylinder 0, both sides."
    )
    assert said(of_pc(sound, (Extent(6144, 512), "filled"))).startswith("1 of 2 files is perhaps hurt; ")
    assert said(of_pc(sound)) == "None of 2 files is hurt: the list names no sector that is not good."
    assert said(of_pc(sound), listed=False) == (
        "None of 2 files shows damage by itself; only a list of bad sectors or a second read could tell more."
    )
    nothing = damage([], PC, 368640, [(Extent(9216, 512), "bad")])
    assert said(nothing, recognised=False) == (
        "No file system is recognised, so that no file can be named; read again cylinder 1, side 0."
    )
    assert gives(nothing.tracks[0]) == "what lies there is not known"


def test_on_the_command_line(cli: Cli, tmp_path: Path) -> None:
    image, listed, picture = tmp_path / "survey.img", tmp_path / "bad.csv", tmp_path / "survey.svg"
    image.write_bytes(Writer(Shape()).write([File(b"TIDE    LOG", b"tide " * 600)]))
    listed.write_text("cylinder,head,sector,state\n0,1,4,missing\n39,1,9,bad\n")
    ran = cli("files", "map", image, "--bad-sectors", listed, "-o", picture)
    assert ran.out.splitlines()[0] == "1 of 1 file is hurt; read again cylinder 0, side 1."
    assert "|##########-------" in ran.out.replace("###########", "##########")
    assert "0/1/4 missing" in ran.out
    assert "39/1/9" in ran.out
    assert "mends TIDE.LOG" in ran.out
    words = {one.text for one in ET.parse(picture).iter() if one.tag.endswith("text")}   # noqa: S314  our own
    assert {"TIDE.LOG", "0/1/4 missing", "mends TIDE.LOG", "cylinder 0, side 1"} <= words
    told = cli("files", "map", image, "--bad-sectors", listed, "--json").json
    assert (told["schema"], told["output"], told["verdict"]) == ("sector-map/1", None, ran.out.splitlines()[0])
    assert told["damage"]["hurt_files"][0]["stretches"] == [json.loads(
        '{"at": 0, "length": 512, "state": "missing", "cylinder": 0, "head": 1, "sectors": [4]}'
    )]  # fmt: skip
    assert [one["purpose"] for one in told["damage"]["tracks"]] == ["files", "spare"]
    assert cli("files", "map", image, "-o", picture).code == 2   # it is there


def test_without_a_list_what_files_hold_is_looked_at(cli: Cli, tmp_path: Path) -> None:
    data = bytearray(Writer(Shape()).write([File(b"TIDE    LOG", random.Random(5).randbytes(3000))]))
    data[6656:7168] = b"\xf6" * 512
    (tmp_path / "survey.img").write_bytes(data)
    ran = cli("files", "map", tmp_path / "survey.img")
    assert ran.out.splitlines()[0] == "1 of 1 file is perhaps hurt; read again cylinder 0, side 1."
    assert "0/1/5 perhaps not read" in ran.out
    assert "none was given" in ran.out


def test_a_stretch_says_where_it_lies() -> None:
    one = HurtStretch(at=0, length=1536, state="bad", cylinder=3, head=0, sectors=(1, 7, 4))
    assert one.place == "3/0/1, 7, 4"
