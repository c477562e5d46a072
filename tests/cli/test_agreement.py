"""Agreement that proves less than it seems to: one file twice, and a fault that is in every read."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import pytest

import imagekeeper
from imagekeeper.comparison.comparison import Comparison
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError
from imagekeeper.inspection.glance import GLANCE_LIMIT, SMALLEST, worth_inspecting
from imagekeeper.inspection.inspection import inspect_image
from imagekeeper.jobs import specimen
from imagekeeper.provenance.reads import MOST_VOLTS
from tests.conftest import Ran

Cli = Callable[..., Ran]
PROGRAM = specimen.program()[:8192]
STUCK = bytes(byte & ~0x08 for byte in PROGRAM)


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., list[str]]:
    def write(*contents: bytes) -> list[str]:
        names = [f"r{number}.bin" for number in range(1, len(contents) + 1)]
        for name, data in zip(names, contents, strict=True):
            (tmp_path / name).write_bytes(data)
        return names

    return write


Put = Callable[..., list[str]]


# --- one file ---


@pytest.mark.parametrize("other", ["same path", "hard link", "symbolic link", "other path"])
def test_one_file_proves_nothing(cli: Cli, put: Put, tmp_path: Path, other: str) -> None:
    first, = put(PROGRAM)
    again = {"same path": first, "other path": f"./{first}"}.get(other, "again.bin")
    if other == "hard link":
        os.link(tmp_path / first, tmp_path / again)
    elif other == "symbolic link":
        (tmp_path / again).symlink_to(first)
    ran = cli("compare", first, again)
    assert ran.code == 1
    assert ran.out.startswith("One file, given twice, proves nothing")
    assert "agree:" not in ran.out
    assert "random faults" not in ran.out
    told = cli("compare", first, again, "--json").json
    assert (told["agree"], told["verdict"], told["remaining"]) == (True, "one-file", None)
    assert [read["same_file_as"] for read in told["reads"]] == [None, 1]
    assert [found["code"] for found in told["findings"]] == ["same-file"]


def test_three_times_one_file_is_still_one(cli: Cli, put: Put) -> None:
    first, = put(PROGRAM)
    ran = cli("compare", first, first, first)
    assert (ran.code, ran.out.splitlines()[0][:34]) == (1, "One file, given 3 times, proves no")


def test_equal_bytes_in_two_files_agree(cli: Cli, put: Put) -> None:
    ran = cli("compare", *put(PROGRAM, PROGRAM))
    assert (ran.code, ran.out.startswith("The 2 reads agree: the same 8192 bytes")) == (0, True)
    assert "random faults: leave a wrong byte" in ran.out
    assert imagekeeper.compare(PROGRAM, bytes(bytearray(PROGRAM))).verdict == "agree"


def test_a_copy_beside_another_read_counts_once(cli: Cli, put: Put) -> None:
    one, two = put(PROGRAM, PROGRAM)
    ran = cli("compare", one, two, one)
    assert ran.code == 0
    assert " ".join(ran.out.split()).startswith("The 2 reads agree: the same 8192 bytes (8K)")
    assert "A file that was given again counts once." in " ".join(ran.out.split())


@pytest.mark.parametrize("link", [os.link, os.symlink])
def test_a_copy_has_no_vote(cli: Cli, put: Put, tmp_path: Path, link: Callable[..., None]) -> None:
    one, two = put(PROGRAM, STUCK)
    link(tmp_path / one, tmp_path / "again.bin")
    ran = cli("vote", one, two, "again.bin", "-o", "v.bin")
    assert (ran.code, (tmp_path / "v.bin").exists()) == (2, False)
    assert "the same file was given twice" in ran.err


# --- a fault in every read ---

FAULTS = {
    "D3 stuck": (STUCK, "data-line-stuck", "the sign of a fault"),
    "D5 and D6 joined": (bytes(b & 0x9F | 0x60 * (b >> 5 & b >> 6 & 1) for b in PROGRAM), "data-lines-shorted",
                         "the sign of a fault"),
    "all FF": (b"\xff" * 8192, "blank", "what must be looked into"),
    "all 00": (bytes(8192), "not-selected", "the sign of a fault"),
    "the address": (bytes(range(256)) * 32, "floating-bus", "the sign of a fault"),
    "the high address": (b"".join(bytes([page]) * 256 for page in range(32)), "floating-bus", "the sign of a fault"),
}  # fmt: skip


@pytest.mark.parametrize("chip", [(), ("--chip", "2764")], ids=["no chip", "2764"])
@pytest.mark.parametrize("name", FAULTS)
def test_equal_reads_that_share_a_fault_are_not_praised(
    cli: Cli, put: Put, name: str, chip: tuple[str, ...]
) -> None:
    data, code, says = FAULTS[name]
    reads = put(data, data)
    ran = cli("compare", *reads, *chip)
    assert ran.code == 1
    assert " ".join(ran.out.split()).startswith(f"The 2 reads agree, and share {says}: ")
    assert f": {code}" in ran.out.split("each read shows by itself:")[1]
    assert f"no estimate: {code} is no random fault" in ran.out
    told = cli("compare", *reads, *chip, "--json").json
    assert (told["agree"], told["verdict"], told["remaining"]["against"]) == (True, "share-a-fault", code)
    inspected = {found.code for found in inspect_image(Image.from_bytes(data)).findings}
    assert {found["code"] for found in told["reads"][0]["signs"]} <= inspected
    assert told["reads"][0]["signs"] == told["reads"][1]["signs"]


@pytest.mark.parametrize(("data", "part", "codes"), [
    (PROGRAM[:4096] * 2, "2764", ["mirrored"]),
    (PROGRAM[:4096] * 2, "2732", ["mirrored", "chip-size-differs"]),
    (PROGRAM, "27128", ["chip-size-differs"]),
    (PROGRAM, "2764", []),
])  # fmt: skip
def test_with_the_chip_each_read_is_looked_at_as_inspect_does(
    cli: Cli, put: Put, data: bytes, part: str, codes: list[str]
) -> None:
    reads = put(data, data)
    ran = cli("compare", *reads, "--chip", part, "--json")
    assert [found["code"] for found in ran.json["reads"][1]["signs"]] == codes
    assert ran.code == (1 if codes else 0)
    alone = cli("inspect", reads[0], "--chip", part, "--json").json
    assert [found["code"] for found in alone["findings"] if found["severity"] != "note"] == codes


def test_reads_that_differ_show_the_fault_that_both_have(cli: Cli, put: Put) -> None:
    other = bytearray(STUCK)
    other[100] ^= 0x41
    reads = put(STUCK, bytes(other))
    out = cli("compare", *reads, "--chip", "2764").out
    assert out.count("data-line-stuck") == 1
    assert "each read shows by itself" in out
    assert "shows by itself" not in cli("compare", *reads).out


def test_no_chance_is_reckoned_beside_a_fault_in_all_of_three_reads(cli: Cli, put: Put) -> None:
    reads = [bytearray(STUCK) for _ in range(3)]
    for number, read in enumerate(reads):   # one wrong bit each, at places without a pattern
        read[(1234, 5677, 7003)[number]] ^= (1, 0x40, 0x04)[number]
    names = put(*map(bytes, reads))
    told = cli("compare", *names, "--chip", "2764", "--json").json
    assert told["verdict"] == "differ"
    assert told["remaining"]["against"] is not None
    voted = cli("vote", *names, "-o", "v.bin", "--json")
    assert voted.json["remaining"]["against"] is not None
    assert [found["code"] for found in voted.json["signs"]] == ["data-line-stuck"]
    assert voted.code == 1
    out = cli("vote", *names, "-o", "v.bin", "--force").out
    assert out.startswith("The voted image shows the sign of a fault, which no vote mends.")


def test_a_vote_over_a_sound_image_shows_nothing(cli: Cli, put: Put) -> None:
    wrong = bytearray(PROGRAM)
    wrong[77] ^= 4
    voted = cli("vote", *put(PROGRAM, PROGRAM, bytes(wrong)), "-o", "v.bin", "--json")
    assert (voted.code, voted.json["signs"]) == (0, [])


def test_a_vote_over_unequal_sizes_says_so_first(cli: Cli, put: Put) -> None:
    ran = cli("vote", *put(PROGRAM, PROGRAM, PROGRAM[:4096]), "-o", "v.bin")
    assert ran.code == 1
    assert ran.out.startswith("The reads do not hold the same addresses")


# --- the quick look ---


def test_sound_images_need_no_inspection() -> None:
    assert not worth_inspecting(Image.from_bytes(PROGRAM))
    assert not worth_inspecting(Image.from_bytes(b"\xff" * (SMALLEST - 1)))
    assert not worth_inspecting(Image.from_bytes(bytes(GLANCE_LIMIT + 1)))
    assert not worth_inspecting(Image(segments=()))


@pytest.mark.parametrize("line", range(8))
@pytest.mark.parametrize("value", [0, 1])
def test_the_quick_look_misses_no_stuck_line_that_the_inspection_finds(line: int, value: int) -> None:
    data = bytes(byte & ~(1 << line) | value << line for byte in PROGRAM)
    assert worth_inspecting(Image.from_bytes(data))


def shorted(low: int, high: int, wired: str) -> bytes:
    both = 1 << low | 1 << high
    return bytes(
        PROGRAM[at if at & both in (0, both) else at & ~both if wired == "and" else at | both]
        for at in range(len(PROGRAM))
    )


@pytest.mark.parametrize("wired", ["and", "or"])
@pytest.mark.parametrize("pair", list(combinations(range(13), 2)))
def test_nor_address_lines_that_are_tied_together(pair: tuple[int, int], wired: str) -> None:
    image = Image.from_bytes(shorted(*pair, wired))
    faults = [one.code for one in inspect_image(image).findings if one.severity == "fault"]
    assert worth_inspecting(image) or "address-lines-shorted" not in faults


def test_reads_that_agree_on_tied_address_lines_are_not_praised(cli: Cli, put: Put) -> None:
    data = shorted(3, 8, "and")
    ran = cli("compare", *put(data, data), "--json")
    assert [found["code"] for read in ran.json["reads"] for found in read["signs"]] == ["address-lines-shorted"] * 2
    assert ran.code == 1


def test_text_is_no_fault_though_d7_never_changes(cli: Cli, put: Put) -> None:
    text = b"The tide at the harbour office is read at every full hour, and written down. " * 40
    ran = cli("compare", *put(text, text))
    assert (ran.code, ran.out.startswith("The 2 reads agree: ")) == (0, True)


# --- voltages ---


@pytest.mark.parametrize("volts", ["0", "-5", "31", "99.9", "1e1", "nan", "inf", "five", ""])
@pytest.mark.parametrize("command", ["compare", "vote"])
def test_a_voltage_of_no_chip_is_refused(cli: Cli, put: Put, tmp_path: Path, command: str, volts: str) -> None:
    reads = put(PROGRAM, PROGRAM, PROGRAM)
    out = ("-o", "v.bin") if command == "vote" else ()
    ran = cli(command, *reads, *out, "--vcc", f"5,{volts},5")
    assert (ran.code, "supply voltage" in ran.err) == (2, True)
    assert not (tmp_path / "v.bin").exists()


@pytest.mark.parametrize("volts", ["4.5 V,-,30", "5,5,5"])
def test_voltages_of_chips_are_taken(cli: Cli, put: Put, volts: str) -> None:
    assert cli("compare", *put(PROGRAM, PROGRAM, PROGRAM), "--vcc", volts).code == 0


def test_programs_are_held_to_the_same_bound() -> None:
    different = bytearray(PROGRAM)
    different[5] ^= 1
    reads = (PROGRAM, bytes(different), PROGRAM)
    for value in (0.0, -1.0, MOST_VOLTS + 0.1, float("nan"), float("inf")):
        with pytest.raises(UsageError):
            imagekeeper.compare(*reads, volts=[5.0, value, None])
        with pytest.raises(UsageError):
            imagekeeper.vote_image(*reads, by="bit", volts=[5.0, value, None])
    assert isinstance(imagekeeper.compare(*reads, volts=[5.0, float(MOST_VOLTS), None]), Comparison)
