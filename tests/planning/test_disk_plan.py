"""The file and the sheet for writing a disk: right settings, nothing cut away, refused where it cannot work."""

from __future__ import annotations

import gzip
import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.drives import DiskForDrive, match
from imagekeeper.floppy.crc import field_crc
from imagekeeper.floppy.formats import find
from imagekeeper.floppy.layout import lay_out
from imagekeeper.floppy.track import Sector, decode_track, encode_track
from imagekeeper.jobs import specimen
from imagekeeper.jobs.disks.planning import DiskPlan
from imagekeeper.jsonable import schema_of
from imagekeeper.planning.disk import first_data_crc, format_parameters
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.other_disks import other_disks
from tests.conftest import Ran
from tests.geometry import disks

Cli = Callable[..., Ran]

STATION = specimen.station_disk()


@pytest.fixture
def station(tmp_path: Path) -> Path:
    path = tmp_path / "station.img"
    path.write_bytes(STATION)
    return path


def test_an_80_track_disk_in_a_1_2_mb_drive(cli: Cli, station: Path, tmp_path: Path) -> None:
    """Common practice, no source, but for the rate: 300 kbit/s at 360 rev/min fill a track of 250 at 300."""
    ran = cli("plan", "disk", station, "--format", "720K 5.25", "--drive", "5.25-96tpi-hd-360", "-o", "w.img", "--json")
    plan = ran.json
    assert (ran.code, list(plan)) == (0, schema_of(DiskPlan)["required"])
    assert (plan["verdict"]["settings"]["data_rate"], plan["verdict"]["settings"]["step"]) == (300_000, "single")
    assert plan["parameters"]["gap3_format"] == 80
    assert (tmp_path / "w.img").read_bytes() == STATION
    assert plan["image"]["first_data_crc"] == f"{field_crc(bytes([0xFB]) + STATION[:512], 'mfm'):04X}"


def test_a_360k_disk_in_a_1_2_mb_drive_says_what_the_published_article_says(cli: Cli, tmp_path: Path) -> None:
    """Source: Microsoft, knowledge-base article Q79538: format and write in one drive, on a blank disk."""
    short = STATION[: 90 * 512]
    (tmp_path / "a.img").write_bytes(short)
    out = cli("plan", "disk", "a.img", "--format", "360K", "--drive", "5.25-96tpi-hd-dual", "-o", "w.img").out
    words = " ".join(out.split())
    assert "On a blank disk, format and write all of it in ONE drive" in words
    assert "double, two pulses for each track" in words
    assert "in this one drive" in words
    assert "322560 bytes (315K) of E5 behind the image: it was shorter than the disk" in words
    assert (tmp_path / "w.img").read_bytes() == short.ljust(368640, b"\xe5")
    (tmp_path / "b.img").write_bytes(STATION[: 100 * 512])   # ends within a track: sectors may be missing anywhere
    broken = cli("plan", "disk", "b.img", "--format", "360K", "--drive", "5.25-96tpi-hd-dual", "-o", "v.img")
    assert (broken.code, (tmp_path / "v.img").exists()) == (2, False)


@pytest.mark.parametrize(("size", "byte"), [(737280, 0xE5), (737280, 0x00), (9 * 512, 0xF6), (737280, None)])
def test_an_image_of_fill_alone_is_told_to_be_blank(cli: Cli, tmp_path: Path, size: int, byte: int | None) -> None:
    (tmp_path / "a.img").write_bytes(STATION if byte is None else bytes([byte]) * size)
    ran = cli("plan", "disk", "a.img", "--format", "720K 5.25", "--drive", "5.25-96tpi-hd-360", "-o", "w.img")
    assert ran.code == 0, ran.err
    told = re.search(r"caution: The image is blank: every byte is ([0-9A-F]{2}),", ran.out)
    assert (None if told is None else int(told[1], 16)) == byte


def test_a_drive_of_the_bench_goes_by_its_name(cli: Cli, station: Path) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    cli("floppy", "bench", "add", "drive", "B", "--class", "5.25-96tpi-dd", *here)
    ran = cli("plan", "disk", station, "--format", "720K 5.25", "--drive", "B", "-o", "w.img", *here)
    assert (ran.code, ran.out.startswith("Write PC 720K on 5.25 inch in drive B")) == (0, True)


def test_what_cannot_work_is_refused_and_leaves_nothing(cli: Cli, station: Path, tmp_path: Path) -> None:
    refused = cli("plan", "disk", station, "--format", "1.44M", "--drive", "5.25-48tpi", "-o", "w.img")
    assert (refused.code, "3.5-hd" in refused.err) == (1, True)
    larger = cli("plan", "disk", station, "--format", "360K", "--drive", "5.25-48tpi", "-o", "w.img")
    assert (larger.code, "larger than the disk" in larger.err) == (1, True)
    assert cli("plan", "disk", station, "--drive", "5.25-48tpi", "-o", "w.img").code == 5   # 3.5 or 5.25 inch?
    assert cli("plan", "disk", station, "--format", "720K", "--drive", "Z", "-o", "w.img").code == 5
    assert cli("plan", "disk", station, "--format", "72K", "--drive", "3.5-dd", "-o", "w.img").code == 5
    for option, value in (("--first-sector", "256"), ("--interleave", "0"), ("--disk-fill", "100")):
        ran = cli("plan", "disk", station, "--format", "720K", "--drive", "3.5-dd", "-o", "w.img", option, value)
        assert ran.code == 2, option
    assert cli("plan", "disk", station, "--format", "720K", "--drive", "3.5-dd", "-o", station).code == 2
    assert sorted(p.name for p in tmp_path.iterdir() if p.is_file()) == ["station.img"]


def test_the_order_of_sides_is_changed_for_the_writer(cli: Cli, station: Path, tmp_path: Path) -> None:
    plan = ("plan", "disk", station, "--format", "720K", "--drive", "3.5-dd", "-o", "w.img")
    cli(*plan, "--sides-to", "side-after-side")
    track = 9 * 512
    tracks = [STATION[n * track : (n + 1) * track] for n in range(160)]
    assert (tmp_path / "w.img").read_bytes() == b"".join(tracks[0::2] + tracks[1::2])


def test_the_sheet_as_a_page_and_as_text(cli: Cli, station: Path, tmp_path: Path) -> None:
    arguments = ("plan", "disk", station, "--format", "720K", "--drive", "3.5-dd", "-o", "w.img", "--force")
    cli(*arguments, "--sheet", "sheet.html")
    page = (tmp_path / "sheet.html").read_text()
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="(?!#)', page)
    shown = cli(*arguments, "--sheet", "sheet.txt").out
    assert (tmp_path / "sheet.txt").read_text() == shown
    assert max(map(len, shown.splitlines())) <= 84
    for words in ("[ ] 1.", "from memory", "manual decides", "qualified"):
        assert words in shown, words


@pytest.mark.parametrize("name", list(format_rows()))
def test_every_format_has_parameters_that_fit_its_track(name: str) -> None:
    row = format_rows()[name]
    found = format_parameters(row, first_sector=1, interleave=1, fill=0xE5)
    layout = lay_out(
        row.encoding, sectors=row.sectors, sector_bytes=row.sector_bytes, data_rate=row.data_rate,
        rotation=row.rotation, gap3=found.gap3_format,
    )  # fmt: skip
    assert layout.fits_nominal
    assert found.size_code == layout.size_code
    assert any(one.can_write != "no" for one in match(DiskForDrive.of(row)).drives)


@pytest.mark.parametrize("name", ["360K", "8-77x1x26x128-fm", "8-77x2x26x256-fm0"])
def test_the_crc_on_the_sheet_is_the_one_on_the_track(name: str) -> None:
    """The track is built and decoded by the codec, whose CRCs are tested against published ones."""
    row = find(name)
    first = row.first_track
    encoding = first.encoding if first else row.encoding
    size = first.sector_bytes if first else row.sector_bytes
    data = STATION[:size]
    rate = first.data_rate if first else row.data_rate
    layout = lay_out(encoding, sectors=1, sector_bytes=size, data_rate=rate, rotation=row.rotation)
    made = Sector(cylinder=0, head=0, record=1, size_code=layout.size_code, data=data)
    [sector] = decode_track(encode_track([made], layout), encoding)
    assert (sector.data, sector.data_crc_ok) == (data, True)
    assert first_data_crc(STATION, row) == f"{field_crc(bytes([0xFB]) + data, encoding):04X}"


@pytest.mark.parametrize(("name", "drive", "warned"), [("1.44M", "3.5-hd", True), ("720K", "3.5-dd", False)])
def test_an_image_of_another_disk_is_warned_of_first(
    cli: Cli, station: Path, name: str, drive: str, warned: bool
) -> None:
    sheet = cli("plan", "disk", station, "--format", name, "--drive", drive, "-o", "w.img", "--json").json["sheet"]
    assert sheet["cautions"][0].startswith("The image has the size of another disk: ") is warned


def test_of_standard_input_the_format_is_named(cli: Cli, tmp_path: Path) -> None:
    plan = ("plan", "disk", "-", "--drive", "3.5-dd", "-o", "w.img")
    ran = cli(*plan, stdin=STATION)
    assert (ran.code, "--format" in ran.err, (tmp_path / "w.img").exists()) == (2, True, False)
    assert cli(*plan, "--format", "720K", stdin=STATION).code == 0


def test_a_format_that_only_the_size_speaks_for_is_asked_for(cli: Cli, tmp_path: Path) -> None:
    """Bytes without any system: that 1474560 of them are mostly one disk is no reason to write that disk."""
    (tmp_path / "bare.img").write_bytes(random.Random(5).randbytes(1_474_560))
    plan = ("plan", "disk", "bare.img", "--drive", "3.5-hd", "-o", "w.img")
    ran = cli(*plan)
    assert (ran.code, (tmp_path / "w.img").exists()) == (5, False)
    words = " ".join(ran.err.split())
    assert "only the size of the image speaks for 3.5-80x2x18x512" in words
    assert "name the format with --format; of this size are: 3.5-80x2x18x512" in words
    assert cli(*plan, "--format", "1.44M").code == 0
    (tmp_path / "bare.img").write_bytes(random.Random(5).randbytes(368_640))
    unsure = cli("plan", "disk", "bare.img", "--drive", "5.25-48tpi", "-o", "v.img")
    assert unsure.code == 5
    assert "5.25-40x2x9x512, 3.5-80x1x9x512, 5.25-80x1x9x512" in " ".join(unsure.err.split())


def test_a_disk_of_one_fill_speaks_for_no_format(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "blank.img").write_bytes(b"\xe5" * 256_256)
    ran = cli("plan", "disk", "blank.img", "--drive", "8in-one-side", "-o", "w.img")
    assert (ran.code, "only the size of the image speaks" in ran.err) == (5, True)


@pytest.mark.parametrize(("name", "made", "drive"), [
    ("3.5-80x2x18x512", disks.fat_disk, "3.5-hd"), ("8-77x1x26x128-fm", disks.directory_disk, "8in-one-side"),
])  # fmt: skip
def test_what_a_system_wrote_on_the_disk_speaks_for_it(
    cli: Cli, tmp_path: Path, name: str, made: Callable[..., bytes], drive: str
) -> None:
    (tmp_path / "d.img").write_bytes(made(disks.shape_of(name), 3))
    ran = cli("plan", "disk", "d.img", "--drive", drive, "-o", "w.img", "--json")
    assert (ran.code, ran.json["format"], ran.json["format_from"]) == (0, name, "content")


def test_a_doubtful_image_is_written_to_no_disk(cli: Cli, tmp_path: Path) -> None:
    """A gzip file whose CRC is wrong (RFC 1952, 2.3.1): every byte that came out of it may be."""
    packed = bytearray(gzip.compress(bytes(368640)))
    packed[-8] ^= 1
    (tmp_path / "a.img.gz").write_bytes(packed)
    plan = ("plan", "disk", "a.img.gz", "--format", "360K", "--drive", "5.25-96tpi-hd-dual", "-o", "w.img")
    ran = cli(*plan, "--keep-doubtful")
    assert (ran.code, (tmp_path / "w.img").exists()) == (3, False)
    assert "1 doubt over 368640 bytes" in ran.err
    assert "000000 to 059FFF" in ran.err


@pytest.mark.parametrize(
    ("size", "named", "words"),
    [
        (143_360, None, "5.25-35x1x16x256-gcr"), (89_600, None, "count the holes"),
        (89_600, "5.25-35x1x10x256-fm-10holes", "10 sector holes"),
        (143_360, "5.25-35x1x16x256-gcr", "there is no sheet"),
        (315_392, "5.25-77x1x16x256-100tpi", "16 sector holes"), (901_120, None, "3.5-80x2x11x512-whole"),
        (819_200, None, "of this size are"),
    ],
)  # fmt: skip
def test_nothing_is_planned_that_neither_content_nor_a_person_settled(
    cli: Cli, tmp_path: Path, size: int, named: str | None, words: str
) -> None:
    """What the same size may be is named with how to tell; no medium is named for it, least of all the wrong one."""
    (tmp_path / "d.img").write_bytes(random.Random(3).randbytes(size))
    chosen = () if named is None else ("--format", named)
    ran = cli("plan", "disk", "d.img", "--drive", "5.25-48tpi", "-o", "w.img", *chosen)
    assert (ran.code != 0, (tmp_path / "w.img").exists()) == (True, False)
    assert words in " ".join(ran.err.split())
    assert "soft-sectored, 48 or 96 tpi" not in ran.err


def test_a_directory_does_not_settle_the_sector_holes(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "d.img").write_bytes(disks.directory_disk(disks.shape_of("5.25-40x1x10x256-fm"), 3))
    plan = ("plan", "disk", "d.img", "--drive", "5.25-48tpi", "-o", "w.img")
    ran = cli(*plan)
    assert (ran.code, "5.25-40x1x10x256-fm-10holes" in ran.err) == (5, True)
    sheet = cli(*plan, "--format", "5.25-40x1x10x256-fm", "--json").json["sheet"]
    assert "soft-sectored" in str(sheet)   # a person said so


@pytest.mark.parametrize("name", [row.id for row in other_disks().values()])
def test_drives_for_a_disk_of_another_recording_name_disks_of_its_sectoring(cli: Cli, name: str) -> None:
    row = other_disks()[name]
    ran = cli("floppy", "drives", name, "--json")
    assert ran.code == (0 if any(one["can_write"] != "no" for one in ran.json["drives"]) else 1)
    for one in ran.json["drives"]:
        if one["settings"] is not None:
            assert one["settings"]["media"] == row.medium
            if row.holes or row.encoding == "gcr":
                assert {one["can_read"], one["can_write"]} <= {"with-care", "no"}
    shown = cli("floppy", "show", name)
    assert (shown.code, row.title in shown.out, str(row.bytes) in shown.out) == (0, True, True)
