"""Reads as a bench gives them, with faults put in on purpose, through whole commands.

What each fault does to the bytes follows from its definition (a stuck line reads one value, a lost charge makes a 0 a
1, and so on); the chips are those of the invented scenario, and real option ROMs where they are installed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import jsonschema
import numpy as np
import pytest
from numpy.typing import NDArray

from imagekeeper import containers
from imagekeeper.containers.model import Image, Segment
from imagekeeper.jobs import specimen
from tests import tools
from tests.conftest import Ran

Cli = Callable[..., Ran]
Bytes = NDArray[np.uint8]
Fault = Callable[[Bytes], Bytes]
SCHEMAS = Path(__file__).resolve().parent.parent.parent / "docs" / "reference" / "schemas"


def array(data: bytes) -> Bytes:
    return np.frombuffer(data, np.uint8)


PROGRAM = array(specimen.program())
SPARSE = np.full(8192, 0xFF, np.uint8)
SPARSE[:300], SPARSE[-16:] = PROGRAM[0x400:0x52C], PROGRAM[0x52C:0x53C]
CHIPS = {
    "2 KiB": PROGRAM[0x800:0x1000],
    "32 KiB": PROGRAM,
    "24 KiB": PROGRAM[:0x6000],
    "odd size": PROGRAM[:12347],
    "sparse": SPARSE,
}


def flipped(data: Bytes, bits: int, seed: int) -> Bytes:
    dice = np.random.default_rng(seed)
    out = data.copy()
    out[dice.choice(len(data), bits, replace=False)] ^= np.left_shift(1, dice.integers(0, 8, bits)).astype(np.uint8)
    return out


def lossy(data: Bytes, share: float) -> Bytes:
    """Cells of this share, always the same ones first, read 1."""
    return data | np.packbits(np.random.default_rng(7).random(8 * len(data)) < share)


def without_line(data: Bytes, line: int, value: int) -> Bytes:
    return np.asarray(data[np.arange(len(data)) & ~(1 << line) | value << line])


def swapped(data: Bytes, one: int, other: int) -> Bytes:
    a, b = data >> one & 1, data >> other & 1
    return (data & np.uint8(0xFF ^ (1 << one | 1 << other)) | a << other | b << one).astype(np.uint8)


@pytest.fixture
def bench(tmp_path: Path) -> Callable[..., list[str]]:
    def put(*reads: Bytes, stem: str = "read") -> list[str]:
        names = [f"{stem}{number}.bin" for number in range(1, len(reads) + 1)]
        for name, data in zip(names, reads, strict=True):
            (tmp_path / name).write_bytes(data.tobytes())
        return names

    return put


Bench = Callable[..., list[str]]


def answer(ran: Ran) -> Any:
    """The document, held against the published schema that it names."""
    document = json.loads(ran.out)
    schema = json.loads((SCHEMAS / f"{document['schema'].replace('/', '-')}.json").read_text())
    jsonschema.validate(document, schema)
    return document


FAULTS: dict[str, tuple[str, tuple[str, ...], Fault]] = {
    "D3 stuck at 1": ("data-line-stuck", ("D3",), lambda data: data | np.uint8(8)),
    "D6 stuck at 0": ("data-line-stuck", ("D6",), lambda data: data & np.uint8(0xBF)),
    "A4 stuck at 0": ("address-line-stuck", ("A4",), lambda data: without_line(data, 4, 0)),
    "inverted": ("inverted", (), lambda data: ~data),
    "cut off after 256 bytes": (
        "truncated", (), lambda data: np.where(np.arange(len(data)) < 256, data, 0).astype(np.uint8)
    ),
    "noise": ("random-noise", (), lambda data: flipped(data, 24, 1)),
}  # fmt: skip


#: All but one: 12347 bytes do not end where A4 turns.
TRIED = [(chip, fault) for chip in CHIPS for fault in FAULTS if (chip, fault) != ("odd size", "A4 stuck at 0")]


@pytest.mark.parametrize(("chip", "fault"), TRIED)
def test_a_fault_is_named_first_whichever_read_comes_first(cli: Cli, bench: Bench, chip: str, fault: str) -> None:
    code, lines, make = FAULTS[fault]
    good = CHIPS[chip]
    bad = make(good)
    one, other = bench(good, bad)
    for reads in ([one, other], [other, one]):
        ran = cli("compare", *reads, "--json")
        document = answer(ran)
        first = document["findings"][0]
        assert (ran.code, document["agree"]) == (1, False)
        assert document["differences"]["bytes"] == np.count_nonzero(good != bad)
        assert first["code"] == code
        assert first["confidence"] > 0.9
        assert [first["detail"]["line"]] == list(lines) if lines else "line" not in first["detail"]
        if "read" in first["detail"]:
            assert first["detail"]["read"] == other


@pytest.mark.parametrize("chip", ["2 KiB", "32 KiB", "sparse"])
def test_exchanged_data_lines_are_told_as_a_table(cli: Cli, bench: Bench, chip: str) -> None:
    ran = cli("compare", *bench(CHIPS[chip], swapped(CHIPS[chip], 4, 5)))
    assert ran.code == 1
    assert "fault: data-lines-exchanged, confidence 0.99\n" in ran.out
    assert "    wire: D4 carries D5\n    wire: D5 carries D4\n" in ran.out


@pytest.mark.parametrize(
    ("expected", "make"),
    [
        ({"D3", "A5"}, lambda data: without_line(data | np.uint8(8), 5, 0)),
        ({"D2", "D6"}, lambda data: (data | np.uint8(4)) & np.uint8(0xBF)),
    ],
)
def test_two_faults_at_once_are_both_named(cli: Cli, bench: Bench, expected: set[str], make: Fault) -> None:
    dense = np.random.default_rng(2).integers(0, 256, 16384, np.uint8)
    found = answer(cli("compare", *bench(dense, make(dense)), "--json"))["findings"]
    assert {finding["detail"]["line"] for finding in found[:2]} == expected
    assert {finding["code"] for finding in found[:2]} <= {"data-line-stuck", "address-line-stuck"}


def test_bytes_lost_on_the_way_are_found_though_the_end_is_missing_too(cli: Cli, bench: Bench) -> None:
    lost = np.delete(PROGRAM, np.arange(0x700, 0x711))[:16000]
    found = answer(cli("compare", *bench(PROGRAM, lost), "--json"))["findings"]
    assert [finding["code"] for finding in found] == ["shifted", "sizes-differ"]
    assert "17 bytes lost at 0700" in found[0]["why"]


@pytest.mark.parametrize("value", [0, 1])
def test_one_wrong_bit_makes_nobody_sure(cli: Cli, bench: Bench, value: int) -> None:
    """One bit is no direction: it is noise as far as anybody knows, and not with confidence."""
    hurt = PROGRAM.copy()
    hurt[np.flatnonzero((PROGRAM & 0x10 > 0) == value)[99]] ^= 0x10
    found = answer(cli("compare", *bench(PROGRAM, hurt), "--json"))["findings"]
    assert [finding["code"] for finding in found] == ["random-noise"]
    assert all(finding["confidence"] < 0.7 for finding in found)


def test_charge_loss_over_five_voltages(cli: Cli, bench: Bench) -> None:
    reads = bench(*(lossy(PROGRAM, share) for share in (0, 0.0002, 0.0005, 0.001, 0.002)))
    rising = cli("compare", *reads, "--vcc", "4.5,4.75,5,5.25,5.5", "--json")
    document = answer(rising)
    assert rising.code == 1
    assert [finding["code"] for finding in document["findings"]] == ["charge-loss"]
    assert "read 0 at the lower supply voltages and 1 at the higher ones" in document["findings"][0]["why"]
    assert document["differences"]["one_to_zero"] == 0
    assert document["remaining"]["against"] == "charge-loss"
    falling = answer(cli("compare", reads[0], reads[4], "--vcc", "5.5,4.5", "--json"))
    assert "this speaks against it" in falling["findings"][0]["why"]


def test_pins_are_those_of_the_chip_that_was_named(cli: Cli, bench: Bench) -> None:
    """The 2716 has D3 at pin 13 and A7 at pin 1; the 27256 has D3 at pin 15 and A7 at pin 3 (JEDEC 24 and 28 pins)."""
    for chip, data, pins in (("2716", CHIPS["2 KiB"], (13, 1)), ("27256", PROGRAM, (15, 3))):
        for made, line, pin in ((data | np.uint8(8), "D3", pins[0]), (without_line(data, 7, 0), "A7", pins[1])):
            ran = cli("compare", *bench(data, made), "--chip", chip)
            assert f"{line} (pin {pin} of a {chip})" in re.sub(r"\s+", " ", ran.out)


def segments(*pieces: tuple[int, Bytes]) -> Image:
    return Image(segments=tuple(Segment(start, data.tobytes()) for start, data in pieces), addressed=True)


def test_gaps_in_different_containers(cli: Cli, tmp_path: Path) -> None:
    """Gaps that are the same say nothing; elsewhere only what both reads hold is counted."""
    image = segments((0x2000, PROGRAM[:1000]), (0x2800, PROGRAM[2048:3000]))
    (tmp_path / "a.hex").write_bytes(containers.encode(image, "intel-hex"))
    (tmp_path / "b.s19").write_bytes(containers.encode(image, "s-record"))
    same = cli("compare", "a.hex", "b.s19", "--json")
    assert (same.code, answer(same)["size_bytes"]) == (0, 1952)

    wider = segments((0x2000, PROGRAM[:1500]), (0x2900, PROGRAM[2304:3000] | np.uint8(8)))
    (tmp_path / "c.hex").write_bytes(containers.encode(wider, "intel-hex"))
    document = answer(cli("compare", "a.hex", "c.hex", "--json"))
    assert document["findings"][0]["code"] in ("data-line-stuck", "data-line-unstable")
    assert document["findings"][0]["detail"]["line"] == "D3"
    assert "sizes-differ" in [finding["code"] for finding in document["findings"]]
    spans = [(r["start"], r["start"] + r["length"]) for r in document["differences"]["ranges"]]
    assert spans
    assert all(start >= 0x2900 and end <= 0x2BB8 for start, end in spans)


def test_a_doubtful_byte_is_told_beside_the_difference(cli: Cli, tmp_path: Path) -> None:
    lines = containers.encode(segments((0, PROGRAM[:4096])), "intel-hex").splitlines()
    (tmp_path / "good.hex").write_bytes(b"\n".join(lines))
    lines[5] = lines[5][:12] + (b"1" if lines[5][12:13] != b"1" else b"2") + lines[5][13:]
    (tmp_path / "hurt.hex").write_bytes(b"\n".join(lines))
    assert cli("compare", "good.hex", "hurt.hex").code == 3
    document = answer(cli("compare", "good.hex", "hurt.hex", "--keep-doubtful", "--json"))
    doubt = next(f for f in document["findings"] if f["code"] == "doubtful-bytes")
    assert document["differences"]["bytes"] == 1
    assert "hurt.hex" in doubt["why"]
    assert "good.hex" not in doubt["why"]


def test_hundreds_of_reads(cli: Cli, bench: Bench, tmp_path: Path) -> None:
    reads = bench(*(flipped(CHIPS["2 KiB"], 2, seed) for seed in range(200)))
    document = answer(cli("compare", *reads, "--json"))
    assert len(document["reads"]) == 200
    left = next(f for f in document["findings"] if f["code"] == "not-diagnosed")
    assert left["detail"]["images"] - left["detail"]["looked_at"] == int(left["why"].split()[0])
    voted = cli("vote", *reads, "-o", "voted.bin", "--json")
    assert (voted.code, answer(voted)["disputed"]["ties"]) == (0, 0)
    assert (tmp_path / "voted.bin").read_bytes() == CHIPS["2 KiB"].tobytes()


def test_one_file_under_another_name_proves_nothing(cli: Cli, bench: Bench, tmp_path: Path) -> None:
    (name,) = bench(PROGRAM)
    (tmp_path / "linked.bin").symlink_to(name)
    (tmp_path / "copied.bin").write_bytes(PROGRAM.tobytes())
    for other, told in ((name, True), ("linked.bin", True), ("copied.bin", False)):
        document = answer(cli("compare", name, other, "--json"))
        assert document["agree"]
        assert ("same-file" in [f["code"] for f in document["findings"]]) == told
        assert (document["remaining"] is None) == told


def test_a_file_that_is_given_again_is_no_witness(cli: Cli, bench: Bench) -> None:
    """Twice the noisy file does not make the good one the odd one out."""
    noisy = flipped(PROGRAM, 60, 3)
    good, bad = bench(PROGRAM, noisy)
    once, again = (answer(cli("compare", *reads, "--json")) for reads in ((good, bad), (good, bad, bad)))
    causes = [[(one["code"], one["confidence"], one["detail"].get("reads")) for one in found["findings"]
               if one["code"] != "same-file"] for found in (once, again)]
    assert causes[0] == causes[1]
    assert causes[0][0] == ("random-noise", causes[0][0][1], [2])


@pytest.mark.parametrize("contents", [b"A", b"AB" * 15])
def test_reads_that_say_little_agree_all_the_same(cli: Cli, bench: Bench, contents: bytes) -> None:
    reads = bench(array(contents), array(contents))
    ran = cli("compare", *reads, "--json")
    assert (ran.code, answer(ran)["findings"]) == (0, [])


def test_two_reads_of_one_byte(cli: Cli, bench: Bench) -> None:
    """Whatever is said of a single byte, nothing is claimed with confidence."""
    ran = cli("compare", *bench(array(b"A"), array(b"B")), "--json")
    document = answer(ran)
    assert (ran.code, document["differences"]["bits"]) == (1, 2)
    assert all(finding["confidence"] < 0.7 for finding in document["findings"])


@pytest.mark.parametrize("chip", CHIPS)
def test_findings_fit_eighty_columns(cli: Cli, bench: Bench, monkeypatch: pytest.MonkeyPatch, chip: str) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    good = CHIPS[chip]
    told = [cli("compare", *bench(good, bad), "--chip", "27256", "--ranges", "4").out
            for bad in (without_line(good, 4, 0), flipped(good, 24, 1), good[:700], good | np.uint8(8))]
    told.append(cli("inspect", "read2.bin", "--chip", "2716").out)
    for text in told:
        findings = re.findall(r"^  (?:fault|warning|note): .*\n(?:    .*\n)+", text, re.M)
        assert findings
        assert max(len(line) for finding in findings for line in finding.splitlines()) <= 80


def written(picture: Path) -> list[str]:
    tree = ElementTree.parse(picture)   # noqa: S314 - our own picture
    return [element.text for element in tree.iter() if element.text]


@pytest.mark.parametrize("reads", [(b"A", b"B"), (bytes(3001), b"\x01" * 3001)], ids=["one byte", "odd size"])
def test_pictures_are_well_formed_and_name_every_line(
    cli: Cli, bench: Bench, tmp_path: Path, reads: tuple[bytes, bytes]
) -> None:
    names = bench(*(array(read) for read in reads), stem="a&b <")
    assert cli("compare", *names, "--picture", "differences.svg").code == 1
    assert cli("inspect", names[0], "--picture", "image.svg").code == 1
    words = written(tmp_path / "differences.svg")
    assert [word for word in words if re.fullmatch(r"D[0-7]", word)] == [f"D{line}" for line in range(7, -1, -1)]
    assert any(names[0] in word for word in words)
    assert any(names[0] in word for word in written(tmp_path / "image.svg"))


@tools.needs("option ROMs")
def test_real_option_roms_are_clean_and_one_wrong_bit_is_caught(cli: Cli, tmp_path: Path) -> None:
    """Real input: their 8-bit sum is zero by the Plug and Play BIOS Specification 1.0A, section 3.1."""
    for path in tools.option_roms():
        inspected = answer(cli("inspect", path, "--json"))
        assert {finding["severity"] for finding in inspected["findings"]} <= {"note"}
        good = cli("selfcheck", path, "--json")
        assert (good.code, answer(good)["conclusion"]) == (0, "strong")
        (tmp_path / "hurt.bin").write_bytes(flipped(array(path.read_bytes()), 1, 3).tobytes())
        hurt = cli("selfcheck", "hurt.bin", "--json")
        assert (hurt.code, [f["code"] for f in answer(hurt)["findings"]]) == (1, ["header-sum-wrong"])


def test_a_chip_from_the_first_read_to_the_accepted_vote(cli: Cli, bench: Bench) -> None:
    """Three reads with faults of their own: disputed, then voted, then graded for what the vote is worth."""
    reads = bench(*(flipped(PROGRAM, 20, seed) for seed in range(3)))
    good = bench(PROGRAM, stem="good")
    assert cli("archive", "init", "shelf").code == 0
    shelf = ("--archive", "shelf")
    assert cli("carrier", "add", "tg85-u4", "--kind", "eprom", "--part", "27256", *shelf).code == 0
    for name in reads:
        assert cli("carrier", "read", "tg85-u4", name, *shelf).code == 0
    disputed = cli("carrier", "agree", "tg85-u4", "--json", *shelf)
    assert (disputed.code, answer(disputed)["agreed"]["grade"]) == (1, "disputed")
    wanted = answer(cli("fingerprint", *good, "--json"))["files"][0]["sha256"]
    voted = cli("carrier", "agree", "tg85-u4", "--by-vote", "--json", *shelf)
    agreed = answer(voted)["agreed"]
    assert voted.code == 0
    assert (agreed["sha256"], agreed["grade"], agreed["reads"]) == (wanted, "voted", [])
    wrong = cli("carrier", "agree", "tg85-u4", "--by-vote", "--reference", "0" * 64, "--json", *shelf)
    assert wrong.code != 0
    assert answer(wrong)["schema"] == "error/1"
