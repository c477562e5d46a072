"""Several reads of a hard disk made into one, with who supplied what; and lists of stretches that were not read."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.cli import run
from imagekeeper.errors import ImagekeeperError, UsageError
from imagekeeper.filesystems import bad_sectors, disk_merge
from imagekeeper.filesystems.bad_sectors import BadSector, BadStretch, SectorState, by_sector, extents, mark
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.disk_merge import DiskMergeAccount
from imagekeeper.filesystems.model import Extent, ReadingOptions, SectorGrid
from imagekeeper.filesystems.sector_merge import merge
from imagekeeper.jobs.disks.merging_sectors import DiskMerge
from imagekeeper.jsonable import schema_of

from .hard_disks import HEADS, SECTORS, disk

DISK = disk()
GRID = SectorGrid(heads=HEADS, sectors=SECTORS, sector_bytes=512, cylinders=306)
SMALL = SectorGrid(heads=2, sectors=3, sector_bytes=4, cylinders=8)


def filled(data: bytes, stretches: list[tuple[int, int]], fill: bytes = b"\xf6") -> bytes:
    out = bytearray(data)
    for start, length in stretches:
        out[start : start + length] = (fill * length)[:length]
    return bytes(out)


# ---- lists of stretches


def test_a_list_of_stretches_is_read() -> None:
    listed = bad_sectors.parse("start,length,state\n0,512,missing\n 1024 , 2048\n", "bad.csv")
    assert listed == (BadStretch(0, 512, "missing"), BadStretch(1024, 2048, "bad"))


@pytest.mark.parametrize(("line", "says"), [
    ("x,5,bad", "start and a length"), ("5,0,bad", "start and a length"), ("-1,5,bad", "start and a length"),
    ("5", "start and a length"), ("1,2,odd", "no state"), ("9999999999999999,1,bad", "start and a length"),
])  # fmt: skip
def test_a_stretch_that_cannot_be_is_refused_with_its_line(line: str, says: str) -> None:
    with pytest.raises(ImagekeeperError) as caught:
        bad_sectors.parse(f"start,length,state\n0,5,bad\n{line}\n", "bad.csv")
    assert caught.value.where.line == 3
    assert says in caught.value.why


def test_stretches_that_lie_on_each_other_count_once() -> None:
    listed = [BadStretch(100, 100, "bad"), BadStretch(150, 100, "missing"), BadStretch(400, 10, "good")]
    assert extents(listed, None) == ((Extent(100, 100), "bad"), (Extent(200, 50), "missing"))


def test_a_stretch_needs_no_geometry_and_a_sector_does() -> None:
    with pytest.raises(UsageError):
        extents(bad_sectors.parse("cylinder,head,sector,state\n0,0,1,bad\n", "bad.csv"), None)


@given(st.lists(st.tuples(st.integers(0, 199), st.integers(1, 60)), max_size=6), st.integers(0, 7), st.integers(1, 8))
def test_the_sectors_of_stretches_in_a_part_of_the_disk(
    stretches: list[tuple[int, int]], first: int, count: int
) -> None:
    """Each sector that a stretch touches is named once; by hand, byte by byte."""
    listed = extents([BadStretch(at, length, "bad") for at, length in stretches], SMALL)
    start, end = first * 24, min((first + count) * 24, 192)
    touched = {at // 4 for begin, length in stretches for at in range(begin, begin + length) if start <= at < end}
    named = [SMALL.offset(one.place) // 4 for one in by_sector(listed, SMALL, start, end)]
    assert named == sorted(touched)


def test_files_that_a_stretch_touches_are_marked_with_what_they_have_of_it() -> None:
    read = read_disk(DISK, ReadingOptions())
    gauge = read.volumes[1].entries[0]
    start = gauge.extents[0].start or 0
    marked = mark(read.volumes[1], extents([BadStretch(start + 1024, 1 << 20, "missing")], None))
    assert marked.entries[0].bad == (Extent(start + 1024, 5000 - 1024),)
    assert marked.findings[-1].detail == {"sectors": 8, "path": "GAUGE.DAT"}


def test_a_list_of_stretches_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image, listed = tmp_path / "office.img", tmp_path / "bad.csv"
    image.write_bytes(DISK)
    start = read_disk(DISK, ReadingOptions()).volumes[1].entries[0].extents[0].start or 0
    listed.write_text(f"start,length,state\n{start},1024,missing\n")
    assert run(["files", "list", str(image), "--bad-sectors", str(listed), "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["bad_sectors"] == 2
    assert [one["detail"] for one in document["findings"]] == [{"sectors": 2, "path": "GAUGE.DAT"}]
    assert run(["files", "map", str(image), "--bad-sectors", str(listed), "-o", str(tmp_path / "map.svg")]) == 0


# ---- merging


STATES: list[SectorState] = ["good", "doubtful", "bad", "missing"]


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_merged_part_by_part_is_merged_at_once(data: st.DataObject) -> None:
    """Parts of one cylinder give what the merge of the whole gives, sector for sector."""
    sectors = 48
    count = data.draw(st.integers(2, 4))
    content = st.lists(st.sampled_from([b"TIDE", b"GATE", b"MOLE"]), min_size=sectors, max_size=sectors)
    reads = [b"".join(data.draw(content)) for _ in range(count)]
    listed: list[list[BadSector] | None] = [
        [BadSector(SMALL.place(4 * at), data.draw(st.sampled_from(STATES))) for at in
         data.draw(st.lists(st.integers(0, sectors - 1), unique=True, max_size=12))]
        for _ in range(count)
    ]  # fmt: skip
    whole = merge(reads, listed, SMALL)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(disk_merge, "_PART", 24)
        account = DiskMergeAccount(reads, listed, SMALL)
        got = b"".join(account.blocks())
    assert got == b"".join(whole.blocks(reads))
    assert tuple(account.map) == whole.map
    assert (account.sectors, account.mended, account.not_good) == (whole.sectors, whole.mended, whole.counts)
    assert sum(account.supplied) == sectors
    places = {at: one for one in account.stretches for at in range(one.start, one.start + one.length, 4)}
    assert {at for at, one in places.items() if one.state != "good"} == {one.start for one in whole.map}
    for at, one in places.items():
        assert got[at : at + 4] == reads[one.taken_from - 1][at : at + 4]


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    code = run(["files", "merge", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_each_read_supplies_what_it_alone_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three reads, each with another part of the files filled, and its list of stretches: none of it is lost."""
    import jsonschema

    chance = random.Random("each read supplies")
    data = bytearray(DISK)
    data[17 * 512 + 40_000 : 17 * 512 + 400_000] = chance.randbytes(360_000)
    lost = [[(100_000 // 512 * 512, 20_480)], [(200_192, 5120), (0, 512)], [(300_032, 512)]]
    arguments = []
    for number, stretches in enumerate(lost):
        path, listed = tmp_path / f"r{number}.img", tmp_path / f"b{number}.csv"
        path.write_bytes(filled(bytes(data), stretches))
        listed.write_text("start,length,state\n" + "".join(f"{at},{size},missing\n" for at, size in stretches))
        arguments += [str(path), "--bad-sectors", str(listed)]
    out = tmp_path / "merged.img"
    code, document = answer(capsys, *arguments, "-o", str(out), "--list-to", str(tmp_path / "left.csv"))
    assert code == 0
    jsonschema.validate(document, schema_of(DiskMerge))
    assert out.read_bytes() == bytes(data)
    assert document["supplied"] == [306 * HEADS * SECTORS - 40, 40, 0]
    [stretch] = document["stretches"]
    assert (stretch["start"], stretch["sectors"], stretch["state"], stretch["taken_from"]) == (99_840, 40, "good", 2)
    assert (tmp_path / "left.csv").read_text() == "cylinder,head,sector,state\n"


def test_the_text_says_who_supplied_what(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.img").write_bytes(filled(DISK, [(17 * 512, 1024)]))
    (tmp_path / "b.img").write_bytes(DISK)
    (tmp_path / "a.csv").write_text(f"start,length,state\n{17 * 512},1024,missing\n")
    code = run([
        "files", "merge", str(tmp_path / "a.img"), str(tmp_path / "b.img"), "--bad-sectors", str(tmp_path / "a.csv"),
        "--bad-sectors", "-", "-o", str(tmp_path / "m.img"),
    ])  # fmt: skip
    text = capsys.readouterr().out
    assert code == 0
    assert "sectors taken from it" in text
    assert "0/1/1" in text
    assert "0/1/2" in text


def test_the_geometry_may_come_from_any_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.img").write_bytes(b"\xf6" * len(DISK))
    (tmp_path / "b.img").write_bytes(DISK)
    code, document = answer(capsys, str(tmp_path / "a.img"), str(tmp_path / "b.img"), "-o", str(tmp_path / "m.img"))
    assert document["geometry"]["sectors"] == SECTORS
    assert code == 1   # fill that no list calls unread stays disputed
    assert (tmp_path / "m.img").read_bytes()[:512] == DISK[:512]


def test_a_long_stretch_is_one_and_sectors_are_named_up_to_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk_merge, "MOST_SECTORS", 10)
    stretch = [BadStretch(0, 512 * 1000, "missing")]
    account = DiskMergeAccount([DISK, DISK], [stretch, stretch], GRID)
    assert b"".join(account.blocks()) == DISK
    assert (len(account.map), account.left_out, account.not_good["missing"]) == (10, 990, 1000)
    [one] = account.stretches
    assert (one.sectors, str(one.first), str(one.last)) == (1000, "0/0/1", "14/2/14")


def test_reads_of_different_disks_are_refused_before_memory_is_spent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk_merge, "_MOST_STRETCHES", 50)
    other = bytearray(DISK)
    other[0::1024] = bytes(byte ^ 1 for byte in other[0::1024])
    account = DiskMergeAccount([DISK, bytes(other)], [None, None], GRID)
    with pytest.raises(UsageError, match="cannot be merged"):
        for _ in account.blocks():
            pass


@pytest.mark.parametrize("reads", [[DISK], [DISK, DISK[:-512]], [DISK[:-512], DISK]])
def test_too_few_reads_and_other_sizes_are_refused(reads: list[bytes]) -> None:
    with pytest.raises(UsageError):
        list(DiskMergeAccount(reads, [None] * len(reads), GRID).blocks())
