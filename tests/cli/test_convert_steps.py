"""The transformations of convert, as whole commands on the files of the demonstration."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from imagekeeper.containers import encode
from imagekeeper.containers.model import Image, Segment
from imagekeeper.jobs import specimen
from imagekeeper.transforms.replaying import replay, steps_of
from tests.cli.test_bad_input import check_document
from tests.conftest import Ran

Cli = Callable[..., Ran]

DISK = ("--geometry", "80x2x9x512")


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    specimen.write(tmp_path)
    return tmp_path


@pytest.fixture
def converted(cli: Cli, bench: Path) -> Callable[..., tuple[Any, bytes]]:
    """Convert; check that the document is valid and that its steps give the output again; give both."""

    def call(source: str, *options: str, to: str = "out.bin") -> tuple[Any, bytes]:
        ran = cli("convert", source, "-o", to, *options, "--json")
        assert ran.code == 0, ran
        document = check_document(ran.out)
        original = bench / source
        data = b"".join(piece for _, piece in _image(original).pieces())
        assert document["source"]["sha256"] == hashlib.sha256(data).hexdigest()
        written = _image(bench / to).tobytes()
        others = {one["sha256"]: _image(bench / one["name"]).tobytes() for one in document["joined"]}
        steps = document["steps"]
        assert replay(data, steps_of([step["record"] for step in steps]), others) == written
        assert document["sha256"] == hashlib.sha256(written).hexdigest()
        assert document["size_bytes"] == len(written)
        sizes = [document["source"]["size_bytes"], *(step["after_bytes"] for step in steps)]
        assert [step["before_bytes"] for step in steps] == sizes[:-1]
        return document, written

    return call


def _image(path: Path) -> Image:
    from imagekeeper import containers

    return containers.read(path.read_bytes(), keep_doubtful=True)


def names(document: Any) -> list[str]:
    return [step["name"] for step in document["steps"]]


def test_two_chips_become_a_program_and_chips_again(converted: Callable[..., tuple[Any, bytes]], bench: Path) -> None:
    document, program = converted("u4-second.hex", "--join", "u5-first.bin", to="program.bin")
    assert program == specimen.program()
    assert names(document) == ["join-lanes"]
    assert [one["name"] for one in document["joined"]] == ["u5-first.bin"]
    for lane, chip in ((0, "u4-first.bin"), (1, "u5-first.bin")):
        _, data = converted("program.bin", "--lane", f"{lane}/2", to=f"lane{lane}.bin")
        assert data == (bench / chip).read_bytes()


def test_four_lanes_and_wide_lanes(converted: Callable[..., tuple[Any, bytes]], bench: Path) -> None:
    program = specimen.program()
    (bench / "program.bin").write_bytes(program)
    rows = np.frombuffer(program, np.uint8).reshape(-1, 4)
    for lane in range(4):
        _, data = converted("program.bin", "--lane", f"{lane}/4", to=f"l{lane}.bin")
        assert data == rows[:, lane].tobytes()
    more = [option for lane in (1, 2, 3) for option in ("--join", f"l{lane}.bin")]
    assert converted("l0.bin", *more, to="whole.bin")[1] == program
    document, wide = converted("program.bin", "--lane", "1/2", "--lane-width", "word", to="wide.bin")
    assert wide == rows[:, 2:].tobytes()
    assert document["steps"][0]["record"] == {"step": "split-lane", "lane": 1, "lanes": 2, "width_bytes": 2}


def test_a_station_disk_side_after_side_and_back(converted: Callable[..., tuple[Any, bytes]]) -> None:
    disk = np.frombuffer(specimen.station_disk(), np.uint8).reshape(80, 2, 9 * 512)
    _, sides = converted("disk-first.img", *DISK, "--sides-to", "side-after-side", to="sides.img")
    assert sides == disk.transpose(1, 0, 2).tobytes()
    document, back = converted(
        "sides.img", "--geometry", "5.25-80x2x9x512", "--sides-from", "side-after-side", to="back.img"
    )
    assert back == specimen.station_disk()
    assert document["steps"][0]["record"]["geometry"] == "80x2x9x512"


def test_sectors_change_their_order_while_sides_do(converted: Callable[..., tuple[Any, bytes]]) -> None:
    away = ("--sides-to", "side-1-reversed", "--interleave-to", "2", "--skew-to", "3")
    document, there = converted("disk-first.img", *DISK, *away, to="there.img")
    assert names(document) == ["order-sides", "order-sectors"]
    assert there != specimen.station_disk()
    home = ("--sides-from", "side-1-reversed", "--interleave-from", "2", "--skew-from", "3")
    document, back = converted("there.img", *DISK, *home, to="back.img")
    assert names(document) == ["order-sectors", "order-sides"]
    assert back == specimen.station_disk()
    document, _ = converted("there.img", *DISK, *home[2:], *away[2:4], to="other.img")
    assert names(document) == ["order-sectors"]


def test_a_disk_is_cut_and_padded(converted: Callable[..., tuple[Any, bytes]], cli: Cli) -> None:
    _, short = converted("disk-first.img", "--geometry", "40x2x9x512", "--fit-geometry", "--fill", "E5", to="short.img")
    assert short == specimen.station_disk()[: 40 * 2 * 9 * 512]
    _, whole = converted("short.img", *DISK, "--fit-geometry", "--fill", "E5", to="whole.img")
    assert whole == specimen.station_disk()
    small = ("--geometry", "10x2x9x512", "--fit-geometry", "--fill", "E5")
    refused = cli("convert", "disk-first.img", "-o", "small.img", *small, "--json")
    assert (refused.code, refused.json["code"]) == (2, "would-lose")
    document, _ = converted("disk-first.img", *small, "--cut-data", to="small.img")
    assert document["steps"][0]["undo"] is None


def test_everything_at_once_is_done_in_the_order_of_the_help(
    converted: Callable[..., tuple[Any, bytes]], cli: Cli
) -> None:
    """The options come here the other way round."""
    document, data = converted(
        "u17-second.bin", "--repeat-to", "4K", "--pad-at", "start", "--pad-to", "1K", "--lane", "1/2", "--invert",
        "--reverse-bits", "--swap", "bytes", "--trim", "0", "--fill", "AA", "--window", "100:1K",
    )  # fmt: skip
    assert names(document) == ["window", "trim", "swap", "reverse-bits", "invert", "split-lane", "pad", "repeat"]
    window = specimen.character_generator()[0x100:0x500]
    used = window.rstrip(b"\0")
    kept = window[: 1 << (len(used) - 1).bit_length()]
    even = kept[0::2]   # which lane 1 is once bytes are swapped
    lane = bytes(int(f"{byte:08b}"[::-1], 2) ^ 0xFF for byte in even)
    assert data == (b"\xaa" * (1024 - len(lane)) + lane) * 4
    help_text = cli("convert", "--help").out
    named = ("window", "join", "trim", "swap", "reverse-bits", "invert", "lane", "pad-to", "repeat-to", "base")
    places = [help_text.index(f"--{name}") for name in named]
    assert places == sorted(places)


@pytest.mark.parametrize(("options", "start"), [
    (("--window", "2100:256"), 0x2100), (("--trim", "0"), 0x2000), (("--pad-to", "4K", "--fill", "0"), 0x2000),
    (("--invert",), 0x2000), (("--swap", "words"), 0x2000), (("--lane", "0/2"), 0),
    (("--pad-to", "4K", "--fill", "0", "--pad-at", "start"), 0), (("--join", "u17-second.bin"), 0),
    (("--lane", "0/2", "--base", "E000"), 0xE000),
])  # fmt: skip
def test_addresses_stay_where_they_can(
    converted: Callable[..., tuple[Any, bytes]], options: tuple[str, ...], start: int
) -> None:
    document, _ = converted("u30-second.s19", *options, to="out.hex")
    assert document["base"] == start


def test_gaps_are_filled_as_a_step(converted: Callable[..., tuple[Any, bytes]], cli: Cli, bench: Path) -> None:
    gapped = Image(
        segments=(Segment(0x10, b"tide"), Segment(0x18, b"gauge"), Segment(0x9000_0000, b"far")), addressed=True
    )
    (bench / "gap.hex").write_bytes(encode(gapped, "intel-hex"))
    for options in (("--invert",), ("--window", "10:13"), ("--join", "u4-first.bin")):
        refused = cli("convert", "gap.hex", "-o", "x.bin", *options, "--json")
        assert (refused.code, refused.json["code"]) == (2, "gaps")
        assert "--fill" in refused.json["hint"]
    joined = cli("convert", "u4-first.bin", "-o", "x.bin", "--join", "gap.hex", "--fill", "FF", "--json")
    assert (joined.json["code"], joined.json["where"]["file"]) == ("gaps", "gap.hex")
    huge = cli("convert", "gap.hex", "-o", "x.bin", "--fill", "FF", "--json")
    assert (huge.code, huge.json["code"]) == (2, "too-large-to-fill")
    document, data = converted("gap.hex", "--window", "12:13", "--fill", "EE", to="window.hex")
    assert data == b"de" + b"\xee" * 4 + b"gauge" + b"\xee" * 2
    assert names(document) == ["window", "fill-gaps"]
    assert document["source"]["gaps"][0] == {"start": 0x14, "length": 4}
    assert document["base"] == 0x12
    assert converted("gap.hex", "--window", "90000000:3", to="far.bin")[1] == b"far"
    outside = cli("convert", "gap.hex", "-o", "x.bin", "--window", "E:4", "--json")
    assert (outside.json["code"], "2 bytes of it lie outside" in outside.json["why"]) == ("does-not-fit", True)
    nothing = cli("convert", "gap.hex", "-o", "x.bin", "--window", "14:4", "--fill", "FF", "--json")
    assert nothing.json["code"] == "gaps"
    assert not (bench / "x.bin").exists()


def test_doubts_come_along(converted: Callable[..., tuple[Any, bytes]], cli: Cli) -> None:
    """A line of sixteen doubtful bytes at 2270, split, is eight in the lane."""
    document, _ = converted("u30-first.s19", "--keep-doubtful", "--lane", "1/2", "--base", "100", to="lane.hex")
    assert [(d["start"], d["length"], d["line"]) for d in document["doubts"]] == [(0x100 + 0x138, 8, 41)]
    assert [(d["start"], d["length"]) for d in document["source"]["doubts"]] == [(0x2270, 16)]
    document, _ = converted("u30-first.s19", "--keep-doubtful", "--window", "2000:512", to="before.bin")
    assert document["doubts"] == []
    document, _ = converted("u30-first.s19", "--keep-doubtful", "--pad-to", "8K", "--fill", "FF", "--repeat-to", "16K")
    assert [d["start"] for d in document["doubts"]] == [0x2270, 0x4270]
    text = cli("convert", "u30-first.s19", "-o", "t.bin", "--keep-doubtful", "--invert").out
    assert "1 place in the image written, first 2270 to 227F" in text


CLASHES = [
    ("--join u5-first.bin --lane 0/2", "--join and --lane clash"),
    ("--lane 0/2 --geometry 80x2x9x512 --sides-to side-after-side", "--lane and --geometry clash"),
    ("--repeat-to 64K --geometry 80x2x9x512 --fit-geometry --fill 0", "--repeat-to and --geometry clash"),
    ("--lane-width word", "--lane-width needs --lane or --join"),
    ("--trim-to 8K", "--trim-to needs --trim"),
    ("--trim 0 --pad-at end", "--pad-at needs --pad-to"),
    ("--pad-to 32K", "--pad-to needs --fill"),
    ("--pad-at start", "--pad-at needs --pad-to"),
    ("--cut-data", "--cut-data needs --fit-geometry"),
    ("--fit-geometry --fill 0", "--fit-geometry needs --geometry"),
    ("--fit-geometry --geometry 80x2x9x512", "--fit-geometry needs --fill"),
    ("--geometry 80x2x9x512", "--geometry needs "),
    ("--sides-to side-after-side", "--sides-to needs --geometry"),
    ("--skew-from 2", "--skew-from needs --geometry"),
    ("--geometry 1x1x32x512 --sides-from alternating", "--sides-from and --sides-to clash"),
    (
        "--geometry 1x1x32x512 --interleave-from 2 --interleave-to 2",
        "the order of sectors wanted is the one that they have",
    ),
    ("--geometry 1x1x32x512 --interleave-from 1", "the order of sectors wanted is the one that they have"),
    ("--geometry 1x1x32x512 --interleave-from 32", "a track of 32 sectors has no interleave 32"),
    ("--geometry 1x1x32x512 --interleave-to 0", "a track of 32 sectors has no interleave 0"),
    ("--geometry 1x1x32x512 --sides-to side-after-side", "there are no two sides to put in order"),
    ("--geometry 0x2x9x512 --sides-to side-after-side", "that is no geometry of a disk"),
    ("--join u5-first.bin --join u5-second.bin", "3 images cannot be joined as lanes"),
    ("--join u4-first.bin", "one file was given for two lanes"),
    ("--pad-to 100G --fill 0", "the size cannot be "),
    ("--window 4000", "is not a size"),
    ("--window 10:x", "is not a size"),
    ("--lane 2/2", "is none of 0/2"),
    ("--lane 0/3", "is none of 0/2"),
]


@pytest.mark.parametrize(("options", "what"), CLASHES)
def test_what_does_not_go_together_is_refused_by_name(cli: Cli, bench: Path, options: str, what: str) -> None:
    ran = cli("convert", "u4-first.bin", "-o", "x.bin", *options.split(), "--json")
    assert (ran.code, ran.json["code"]) == (2, "usage")
    assert what in ran.json["what"]
    assert not (bench / "x.bin").exists()


@pytest.mark.parametrize(("options", "code", "why"), [
    ("--join u17-second.bin", "does-not-fit", "lane 1 has 14336 bytes (14K) fewer"),
    ("--pad-to 8K --fill FF", "does-not-fit", "8192 bytes (8K) more"),
    ("--repeat-to 40K", "does-not-fit", "leave 8192 bytes (8K)"),
    ("--trim FF --trim-to 4K", "would-lose", "not the fill byte FF"),
    ("--geometry 80x2x9x512 --sides-to side-after-side", "does-not-fit", "720896 bytes (704K) fewer"),
    ("--geometry 80x2x9x512 --fit-geometry --fill 0", "does-not-fit", "2048 bytes (2K) fewer than whole tracks"),
    ("--geometry tide --sides-to side-after-side", "format-unknown", "'tide'"),
])  # fmt: skip
def test_what_does_not_fit_says_by_how_much(
    cli: Cli, bench: Path, options: str, code: str, why: str
) -> None:
    ran = cli("convert", "u4-first.bin", "-o", "x.bin", *options.split(), "--json")
    assert ran.code == (5 if code == "format-unknown" else 2)
    assert ran.json["code"] == code
    assert why in ran.json["why"]
    assert not (bench / "x.bin").exists()


def test_zeros_are_trimmed_to_a_size(converted: Callable[..., tuple[Any, bytes]], bench: Path) -> None:
    (bench / "zeros.bin").write_bytes(b"tide" + bytes(60))
    assert converted("zeros.bin", "--trim", "00", "--trim-to", "6")[1] == b"tide\0\0"


def test_no_input_is_overwritten(cli: Cli, bench: Path) -> None:
    before = (bench / "u5-first.bin").read_bytes()
    ran = cli("convert", "u4-first.bin", "--join", "u5-first.bin", "-o", "u5-first.bin", "--force", "--json")
    assert (ran.code, ran.json["code"]) == (2, "exists")
    assert (bench / "u5-first.bin").read_bytes() == before


def test_a_lane_may_come_from_standard_input_or_a_wrapper(cli: Cli, bench: Path) -> None:
    (bench / "u4.gz").write_bytes(gzip.compress((bench / "u4-first.bin").read_bytes()))
    odd = (bench / "u5-first.bin").read_bytes()
    assert cli("convert", "u4.gz", "--join", "-", "-o", "p.bin", stdin=odd).code == 0
    assert (bench / "p.bin").read_bytes() == specimen.program()


def test_a_file_too_large_to_transform_is_refused_but_a_window_of_it_is_not(cli: Cli, bench: Path) -> None:
    with (bench / "large.bin").open("wb") as file:
        file.truncate(257 << 20)
        file.seek(256 << 20)
        file.write(b"tide")
    refused = cli("convert", "large.bin", "-o", "x.bin", "--invert", "--json")
    assert (refused.code, refused.json["code"]) == (3, "too-large")
    assert cli("convert", "large.bin", "-o", "x.bin", "--window", "10000000:4", "--invert").code == 0
    assert (bench / "x.bin").read_bytes() == bytes(byte ^ 0xFF for byte in b"tide")


def test_the_text_names_every_step_and_what_has_no_way_back(cli: Cli, bench: Path) -> None:
    out = cli("convert", "u4-first.bin", "-o", "x.bin", "--swap", "bytes", "--lane", "0/2").out.splitlines()
    assert out[0] == "Converted, and read back equal."
    at = out.index("Done to the image, in this order:")
    assert out[at + 1].split("  ")[1:3] == ["1", "bytes of 16-bit words swapped"]
    assert out[at + 2].endswith("no way back from OUT")
    assert max(map(len, out)) <= 110
    plain = cli("convert", "u4-first.bin", "-o", "y.bin").out
    assert "(of the image)" in plain
    assert "Done" not in plain
