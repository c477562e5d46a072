"""The file and the sheet for a chip; a model of the chip is burnt, read back, and proved through the socket."""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips.cautions import is_danger
from imagekeeper.chips.cells import blank_content, stuck_bits, write
from imagekeeper.containers.model import Image, Segment
from imagekeeper.fingerprints import take
from imagekeeper.jobs import specimen
from imagekeeper.jobs.carriers.replacing import Replaced
from imagekeeper.jobs.chips.planning import ChipPlan
from imagekeeper.jsonable import schema_of
from imagekeeper.provenance.replacements import placement
from imagekeeper.substitution import fit as fit_in
from imagekeeper.tables.chips import ChipRow, chip_rows
from tests.conftest import Ran

Cli = Callable[..., Ran]

PROGRAM = specimen.program()
EVEN = PROGRAM[0::2]
WRITABLE = [row.id for row in chip_rows().values() if row.carrier != "mask-rom" and row.blank in ("FF", "00")]


def test_a_pair_of_chips_from_one_program(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "program.bin").write_bytes(PROGRAM)
    for lane, name in enumerate(("u4", "u5")):
        plan = ("plan", "chip", "program.bin", "--chip", "27128", "-o", f"{name}.bin", "--json")
        ran = cli(*plan, "--lane", f"{lane}/2")
        assert (ran.code, list(ran.json)) == (0, schema_of(ChipPlan)["required"])
        expected = PROGRAM[lane::2]
        assert (tmp_path / f"{name}.bin").read_bytes() == expected
        after = ran.json["after"]
        assert after["sum16"] == f"{sum(expected) & 0xFFFF:04X}"
        assert after["crc32"] == f"{zlib.crc32(expected):08X}"
        assert after["sha256"] == hashlib.sha256(expected).hexdigest()


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("--repeat-to", "32K"), EVEN * 2),
        (("--pad-to", "32K", "--fill", "FF"), EVEN.ljust(32768, b"\xff")),
        (("--offset", "4000", "--fill", "FF"), EVEN.rjust(32768, b"\xff")),
        (("--offset", "1000", "--fill", "00"), bytes(0x1000) + EVEN + bytes(0x3000)),
    ],
)  # fmt: skip
def test_a_smaller_image_is_placed_as_asked(
    cli: Cli, tmp_path: Path, arguments: tuple[str, ...], expected: bytes
) -> None:
    (tmp_path / "u4.bin").write_bytes(EVEN)
    ran = cli("plan", "chip", "u4.bin", "--chip", "27C256", "-o", "o.bin", *arguments, "--json")
    assert ran.code == 0, ran.out
    assert (tmp_path / "o.bin").read_bytes() == expected
    assert ran.json["before"]["size_bytes"] == 16384
    assert placement(EVEN, expected) is not None


@pytest.mark.parametrize(
    ("arguments", "code", "why"),
    [
        (("--chip", "27C256"), 1, "nobody said how to place it"),
        (("--chip", "2764"), 1, "larger than a 2764"),
        (("--chip", "2332"), 1, "cannot be written"),
        (("--chip", "27X128"), 5, "no such chip"),
        (("--chip", "27C256", "--offset", "4001", "--fill", "FF"), 2, "offset"),
        (("--chip", "27C256", "--offset", "0"), 2, "--fill"),
        (("--chip", "27C256", "--lane", "0/2", "--join", "u4.bin"), 2, "clash"),
    ],
)  # fmt: skip
def test_what_cannot_work_is_refused_and_leaves_nothing(
    cli: Cli, tmp_path: Path, arguments: tuple[str, ...], code: int, why: str
) -> None:
    (tmp_path / "u4.bin").write_bytes(EVEN)
    ran = cli("plan", "chip", "u4.bin", "-o", "o.bin", *arguments)
    assert (ran.code, why in ran.err) == (code, True), ran.err
    assert not (tmp_path / "o.bin").exists()


def test_the_voltage_that_destroys_the_chip_of_like_number_stands_above_the_work(cli: Cli, tmp_path: Path) -> None:
    """SGS-Thomson, M2732A, July 1994, table 2: Vpp 22 V at most."""
    (tmp_path / "4k.bin").write_bytes(EVEN[:4096])
    plan = ("plan", "chip", "4k.bin", "--chip", "2732", "-o", "o.bin", "--force")
    out = " ".join(cli(*plan).out.split())
    assert out.index("never more than 22 V: the 25 V of a 2732") < out.index("The chip part 2732")
    assert "the 25 V of a 2732" in cli(*plan, "--json").json["sheet"]["danger"]


@pytest.mark.parametrize(("part", "maker"), [("27512", "AMD"), ("27128A", "AMD"), ("27C010", "Atmel")])
def test_the_sheet_shows_what_each_maker_says(cli: Cli, tmp_path: Path, part: str, maker: str) -> None:
    """Vpp 13 V: Advanced Micro Devices, 08005 A, and Atmel, AT27C010, page 7; others' is 12.5 or 12.75 V."""
    (tmp_path / "u.bin").write_bytes(EVEN.ljust(chips.find(part).bytes, b"\xff"))
    plan = ("plan", "chip", "u.bin", "--chip", part, "-o", "o.bin", "--json", "--force")
    facts = {one["name"]: one["value"] for group in cli(*plan).json["sheet"]["parts"] for one in group["facts"]}
    assert {one.maker for one in chips.find(part).makers} <= set(facts)
    assert "13 V" in facts[maker]
    assert "12.5 V" in facts["Vpp"]
    named = [one["name"] for group in cli(*plan, "--maker", maker).json["sheet"]["parts"] for one in group["facts"]]
    assert {one.maker for one in chips.find(part).makers} & set(named) == {maker}


@pytest.mark.parametrize(
    ("part", "instead"), [("6116", "28C16 (EEPROM)"), ("6116", "48Z02 (RAM"), ("6264", "28C64 (EEPROM)"),
                          ("6264", "48Z08 (RAM"), ("62256", "28C256 (EEPROM)"), ("146818", None)],
)  # fmt: skip
def test_a_ram_that_forgets_is_not_planned(cli: Cli, tmp_path: Path, part: str, instead: str | None) -> None:
    """A plain RAM forgets: common practice, no source. STMicroelectronics, M48Z02, page 1: its battery is inside."""
    (tmp_path / "u.bin").write_bytes(EVEN.ljust(32768, b"\0")[: chips.find(part).bytes])
    ran = cli("plan", "chip", "u.bin", "--chip", part, "-o", "o.bin")
    assert (ran.code, ran.out) == (1, "")
    err = " ".join(ran.err.split())
    assert "without its supply it holds nothing" in err
    assert f"chip substitute {part}" in err
    assert "48T" not in err
    assert instead is None or instead in err
    assert not (tmp_path / "o.bin").exists()


def test_a_ram_with_its_battery_inside_is_planned(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u.bin").write_bytes(EVEN[:2048])
    ran = cli("plan", "chip", "u.bin", "--chip", "48Z02", "-o", "o.bin")
    assert (ran.code, "few programmers write this kind" in " ".join(ran.out.split())) == (0, True)


@pytest.mark.parametrize(
    ("part", "byte", "says"),
    [
        ("2716", 0xFF, "every byte is FF, as in a chip of this type that was never written: there is nothing"),
        ("2716", 0x00, "every byte is 00, so that it holds no program and no data"),
        ("48Z02", 0xFF, "every byte is FF, so that it holds no program and no data"),
        ("82S129", 0xF0, "every byte is F0, as in a chip of this type that was never written"),
        ("2716", None, None),
    ],
)  # fmt: skip
def test_a_blank_image_is_told_to_be_blank(
    cli: Cli, tmp_path: Path, part: str, byte: int | None, says: str | None
) -> None:
    """An erased 2716 reads FF (SGS-Thomson, M2716, page 3); an unwritten PROM of the 82S family 0."""
    size = chips.find(part).file_bytes
    (tmp_path / "u.bin").write_bytes(EVEN[:size] if byte is None else bytes([byte]) * size)
    ran = cli("plan", "chip", "u.bin", "--chip", part, "-o", "o.bin", "--json")
    assert ran.code == 0
    cautions = ran.json["sheet"]["cautions"]
    assert ("The image is blank" in cautions[0]) == (says is not None)
    assert says is None or says in cautions[0]


def test_doubtful_bytes_are_not_burnt(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.hex").write_text(":0400000001020304F3\n:00000001FF\n")   # the sum should be F2
    plan = ("plan", "chip", "u4.hex", "--chip", "2716", "--pad-to", "2K", "--fill", "FF", "-o", "o.bin")
    ran = cli(*plan, "--keep-doubtful")
    assert (ran.code, "doubtful" in ran.err) == (3, True)
    assert "the first about line 1, 0000 to 0003" in ran.err
    assert not (tmp_path / "o.bin").exists()


def test_all_that_hangs_on_a_damaged_base_is_not_burnt(cli: Cli, tmp_path: Path) -> None:
    """The record of type 04 on line 1 has a wrong sum: the four bytes may belong anywhere."""
    (tmp_path / "u4.hex").write_text(":020000040000FB\n:0400000001020304F2\n:00000001FF\n")
    plan = ("plan", "chip", "u4.hex", "--chip", "2716", "--pad-to", "2K", "--fill", "FF", "-o", "o.bin")
    ran = cli(*plan, "--keep-doubtful")
    assert ran.code == 3
    assert "the first about line 1, 0000 to 0003: where these bytes belong hangs on a faulty line" in ran.err


def test_doubts_about_what_the_chip_holds_are_told(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "new.bin").write_bytes(bytes(2048))
    (tmp_path / "now.hex").write_text(":0400000001020304F3\n:00000001FF\n")
    ran = cli("plan", "chip", "new.bin", "--chip", "2716", "--present", "now.hex", "-o", "o.bin", "--keep-doubtful")
    assert (ran.code, "now.hex" in ran.err, "doubtful" in ran.err) == (3, True, True)


def test_what_is_in_the_chip_decides_whether_it_must_be_erased(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "u4.bin").write_bytes(EVEN)
    (tmp_path / "blank.bin").write_bytes(b"\xff" * 16384)
    half = bytearray(EVEN)
    half[100:] = b"\xff" * (16384 - 100)
    (tmp_path / "half.bin").write_bytes(half)
    (tmp_path / "other.bin").write_bytes(bytes(16384))
    plan = ("plan", "chip", "u4.bin", "--chip", "27128", "-o", "o.bin", "--force", "--present")
    assert cli(*plan, "blank.bin", "--json").json["present"]["blank"] is True
    found = cli(*plan, "half.bin", "--json").json["present"]
    assert (found["blank"], found["programmable"], found["wrong_bits"]) == (False, True, 0)
    ran = cli(*plan, "other.bin")
    assert (ran.code, "erase it" in ran.err) == (1, True)
    (tmp_path / "short.bin").write_bytes(b"\xff" * 100)
    assert cli(*plan, "short.bin").code == 3


def test_a_fuse_that_is_blown_stays_blown(cli: Cli, tmp_path: Path) -> None:
    """Source: the fuse PROMs of the table are blank at 00; a link is blown to make a 1."""
    row = next(row for row in chip_rows().values() if row.carrier == "prom" and row.blank == "00" and row.bits == 8)
    (tmp_path / "wanted.bin").write_bytes(bytes(row.bytes))
    (tmp_path / "present.bin").write_bytes(b"\x01" + bytes(row.bytes - 1))
    ran = cli("plan", "chip", "wanted.bin", "--chip", row.id, "-o", "o.bin", "--present", "present.bin")
    assert (ran.code, "never be taken back" in ran.err) == (1, True)


def test_where_families_of_fuse_proms_differ_no_blank_level_is_taken_for_granted(cli: Cli, tmp_path: Path) -> None:
    """Signetics, 82S27, July 1975: new parts read 00. Texas Instruments, series 24 and 28, August 1984: FF."""
    row = next(row for row in chip_rows().values() if row.carrier == "prom" and row.blank is None and row.bits == 8)
    (tmp_path / "new.bin").write_bytes(bytes([0x55, 0xFE]) * (row.bytes // 2))
    plan = ("plan", "chip", "new.bin", "--chip", row.id, "-o", "o.bin", "--force")
    ran = cli(*plan)
    assert ran.code == 0
    assert "blank" in ran.out
    assert "00 or FF, by maker and family" in ran.out
    assert "all 00 or all FF" in " ".join(ran.out.split())
    for held in (b"\x00", b"\xff"):
        (tmp_path / "present.bin").write_bytes(held * row.bytes)
        ran = cli(*plan, "--present", "present.bin")
        assert (ran.code, "by maker and family" in ran.err) == (1, True)


def test_a_chip_of_four_bits_is_blank_whatever_stands_in_the_upper_half(cli: Cli, tmp_path: Path) -> None:
    row = next(row for row in chip_rows().values() if row.carrier == "prom" and row.bits == 4)
    size = chips.find(row.id).file_bytes
    (tmp_path / "wanted.bin").write_bytes(bytes(n & 0x0F for n in range(size)))
    for upper in (0x00, 0xF0):
        blank = int(row.blank or "00", 16) & 0x0F
        (tmp_path / "present.bin").write_bytes(bytes([upper | blank]) * size)
        plan = ("plan", "chip", "wanted.bin", "--chip", row.id, "-o", "o.bin", "--force", "--json")
        found = cli(*plan, "--present", "present.bin").json["present"]
        assert (found["blank"], found["programmable"]) == (True, True)


@given(st.binary(min_size=1, max_size=40), st.data())
def test_bits_that_cannot_go_back_are_counted(present: bytes, data: st.DataObject) -> None:
    wanted = data.draw(st.binary(min_size=len(present), max_size=len(present)))
    for blank in (0xFF, 0x00):
        stuck = [
            bin((w & ~p) if blank else (p & ~w & 0xFF)).count("1") for p, w in zip(present, wanted, strict=True)
        ]
        first = next((at for at, bits in enumerate(stuck) if bits), None)
        assert stuck_bits(present, wanted, blank) == (sum(stuck), first)


@pytest.mark.parametrize("part", WRITABLE)
def test_every_writable_chip_can_be_planned_burnt_and_proved(cli: Cli, tmp_path: Path, part: str) -> None:
    """The chip is a model that only moves bits away from its blank state."""
    chip = chips.find(part)
    size = chip.file_bytes
    body = (PROGRAM * (size // len(PROGRAM) + 1))[:size]
    if chip.bits == 4:
        body = bytes(byte & 0x0F for byte in body)
    (tmp_path / "image.bin").write_bytes(body)
    ran = cli("plan", "chip", "image.bin", "--chip", part, "-o", "o.bin")
    assert ran.code == 0, ran.err
    written = (tmp_path / "o.bin").read_bytes()
    blank = int(chip.blank or "FF", 16)
    erased = bytes([blank]) * size
    cells = bytes(e & w for e, w in zip(erased, written, strict=True)) if blank else written
    assert cells == body
    assert max(map(len, ran.out.splitlines())) <= 84
    assert "[ ] 1." in ran.out
    assert "decides" in ran.out


@given(
    st.binary(min_size=1, max_size=64).filter(lambda b: len(set(b)) > 1), st.integers(0, 5), st.integers(0, 7),
    st.sampled_from([0, 0xFF, 0xE5]), st.booleans(),
)  # fmt: skip
def test_an_image_is_found_in_what_is_written_and_nothing_else_is(
    image: bytes, copies: int, before: int, fill: int, spoil: bool
) -> None:
    written = image * (copies + 1) if copies else bytes([fill]) * before + image + bytes([fill]) * 3
    found = placement(image, written)
    assert found is not None
    assert written[found.start : found.start + len(image)] == image
    if spoil:
        spoilt = bytearray(written)
        spoilt[found.start] ^= 1
        again = placement(image, bytes(spoilt))
        assert again is None or bytes(spoilt)[again.start : again.start + len(image)] == image


def test_a_replacement_is_proved_by_independent_read_backs(cli: Cli, tmp_path: Path) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    (tmp_path / "u4.bin").write_bytes(EVEN)
    for command in (("add", "u4", "--kind", "eprom", "--part", "27128"), ("read", "u4", "u4.bin"), ("agree", "u4")):
        cli("carrier", *command, *here)
    cli("plan", "chip", "u4.bin", "--chip", "27C256", "--repeat-to", "32K", "-o", "new.hex")
    (tmp_path / "back1.bin").write_bytes(EVEN * 2)
    (tmp_path / "back2.bin").write_bytes(EVEN * 2)
    (tmp_path / "back3.bin").write_bytes(EVEN)   # read as the smaller type that the socket takes
    first = cli("carrier", "replace", "u4", "back1.bin", "--written", "new.hex", "--part", "27C256", "--vcc", "5.0",
                "--reader", "bench", "--operator", "harbour office", "--date", "2026-03-02", "--json",
                *here)  # fmt: skip
    assert (first.code, list(first.json)) == (0, schema_of(Replaced)["required"])
    made = first.json["replacement"]
    assert (made["grade"], made["placed"], made["written_sha256"]) == (
        "single", "2 copies", hashlib.sha256(EVEN * 2).hexdigest(),
    )  # fmt: skip
    stated = ("--operator", "harbour office", "--date", "2026-03-02", "--reader", "bench", *here)
    again = cli("carrier", "replace", "u4", "back2.bin", "--add-to", "w1", "--vcc", "5.0", *stated)
    assert again.out.startswith("u4 w1: repeated")
    part = cli("carrier", "replace", "u4", "back3.bin", "--add-to", "w1", "--vcc", "4.75", *stated)
    assert part.out.startswith("u4 w1: repeated")   # half of the chip
    (tmp_path / "back4.bin").write_bytes(EVEN * 2)
    proved = cli("carrier", "replace", "u4", "back4.bin", "--add-to", "w1", "--vcc", "4.75", *stated)
    assert proved.out.startswith("u4 w1: proved")
    (tmp_path / "bad.bin").write_bytes(b"\x55" + (EVEN * 2)[1:])
    failed = cli("carrier", "replace", "u4", "bad.bin", "--add-to", "w1", *here)
    assert (failed.code, "1 byte, the first at 0000" in failed.out) == (1, True)
    (tmp_path / "foreign.bin").write_bytes(PROGRAM)
    foreign = cli("carrier", "replace", "u4", "--written", "foreign.bin", *here)
    assert (foreign.code, "does not hold the image" in foreign.err) == (1, True)
    assert cli("carrier", "replace", "u4", "back1.bin", "--add-to", "w9", *here).code == 5
    assert cli("carrier", "replace", "u4", "back1.bin", *here).code == 2
    record = json.loads(cli("carrier", "show", "u4", "--json", *here).out)
    assert [len(one["read_backs"]) for one in record["replacements"]] == [5]
    assert [e["type"] for e in record["events"]][-5:] == ["validation"] * 5
    assert record["agreed"]["grade"] == "single"   # what is proved of a copy says nothing of the original
    assert cli("archive", "audit", *here).code == 0


@pytest.fixture
def agreed(cli: Cli, tmp_path: Path) -> tuple[str, str]:
    """An archive with an agreed image of a 27128, and the option that names it."""
    (tmp_path / "u4.bin").write_bytes(EVEN)
    here = ("--archive", "a")
    cli("archive", "init", "a")
    for command in (("add", "u4", "--kind", "eprom", "--part", "27128"), ("read", "u4", "u4.bin"), ("agree", "u4")):
        assert cli("carrier", *command, *here).code == 0
    return here


def replacements(cli: Cli, here: tuple[str, str]) -> list[int]:
    """How many read-backs each recorded replacement has."""
    return [len(one["read_backs"]) for one in cli("carrier", "show", "u4", "--json", *here).json["replacements"]]


def test_more_than_the_chip_holds_is_refused(cli: Cli, agreed: tuple[str, str], tmp_path: Path) -> None:
    (tmp_path / "twice.bin").write_bytes(EVEN * 2)
    (tmp_path / "new.bin").write_bytes(EVEN)
    replace = ("carrier", "replace", "u4")
    ran = cli(*replace, "--written", "twice.bin", "--part", "M27C128-15", *agreed)
    assert (ran.code, "twice.bin has 32768 bytes (32K), and the chip holds 16384" in " ".join(ran.err.split())) == (
        1, True,
    )  # fmt: skip
    assert cli(*replace, "twice.bin", "--written", "new.bin", "--part", "27C128", *agreed).code == 1   # a read-back
    assert replacements(cli, agreed) == []
    assert cli(*replace, "--written", "twice.bin", "--part", "27C256", *agreed).code == 0
    assert cli(*replace, "--written", "twice.bin", "--part", "a board of our own", *agreed).code == 0
    assert replacements(cli, agreed) == [0, 0]


@pytest.mark.parametrize("way", ["path", "hard link", "symbolic link"])
def test_the_file_that_was_written_proves_nothing(
    cli: Cli, agreed: tuple[str, str], tmp_path: Path, way: str
) -> None:
    written, back = tmp_path / "new.bin", tmp_path / "back.bin"
    written.write_bytes(EVEN)
    if way == "path":
        back = tmp_path / "a" / ".." / "new.bin"
    elif way == "hard link":
        back.hardlink_to(written)
    else:
        back.symlink_to(written)
    replace = ("carrier", "replace", "u4")
    ran = cli(*replace, back, "--written", "new.bin", "--part", "27C128", *agreed)
    assert (ran.code, "are one file" in ran.err) == (2, True)
    assert replacements(cli, agreed) == []
    # a file of its own with the same bytes is what a perfect read-back is
    (tmp_path / "true.bin").write_bytes(EVEN)
    assert cli(*replace, "true.bin", "--written", "new.bin", "--part", "27C128", *agreed).code == 0
    # what the archive keeps of it was never in the chip either
    [kept] = [path for path in (tmp_path / "a").rglob("*") if path.is_file() and path.read_bytes() == EVEN]
    later = cli(*replace, kept, "--add-to", "w1", *agreed)
    assert (later.code, "are one file" in later.err) == (2, True)
    assert replacements(cli, agreed) == [1]


def test_the_sums_of_a_blank_chip() -> None:
    """Arithmetic: n bytes of FF sum to n x 255 modulo 65536, so that 2 KiB to 64 KiB give F800, ... 0000."""
    for size in (2048, 4096, 8192, 16384, 32768, 65536):
        figures = take(Image(segments=(Segment(0, b"\xff" * size),), container="raw"), "")
        assert figures.sum16 == f"{size * 255 & 0xFFFF:04X}"


@pytest.mark.parametrize(
    ("socket", "part"),
    [("2716", "2732A"), ("2716", "28C16"), ("2732", "2764"), ("27128", "27C256"), ("2764", "27C512"), ("2316", "2716"),
     ("2332", "2532"), ("2364", "2764"), ("27256", "28C256"), ("2532", "2732A")],
)  # fmt: skip
def test_through_the_pins_of_the_socket_the_machine_sees_the_original(
    cli: Cli, tmp_path: Path, socket: str, part: str
) -> None:
    """The file is burnt into a model of the chip, and read through the lines that the socket gives."""
    original, chip = chips.find(socket), chips.find(part)
    fit = fit_in(socket, part)
    image = (PROGRAM * 4)[: original.file_bytes]
    (tmp_path / "image.bin").write_bytes(image)
    ran = cli("plan", "chip", "image.bin", "--chip", part, "--socket", socket, "-o", "o.bin", "--json")
    if fit.verdict == "never" or fit.short:
        assert ran.code == 1
        return
    assert ran.code == 0, ran.out
    done = write(chip, blank_content(chip), (tmp_path / "o.bin").read_bytes())
    assert done.right
    plan = fit.image
    assert plan is not None
    for address in range(original.words):
        at = plan.seen_first & ~sum(1 << n for n, board in enumerate(plan.address_from) if board is not None)
        at |= sum((address >> board & 1) << n for n, board in enumerate(plan.address_from) if board is not None)
        word = done.content[at]
        assert sum((word >> chips_line & 1) << n for n, chips_line in enumerate(plan.data_to)) == image[address]


def test_a_socket_that_would_kill_the_chip_is_refused(cli: Cli, tmp_path: Path) -> None:
    """Source: the pins of the 2708 (Vbb, Vdd) against those of the 2716, as their tables have them."""
    (tmp_path / "a.bin").write_bytes(EVEN[:2048])
    ran = cli("plan", "chip", "a.bin", "--chip", "2708", "--socket", "2716", "-o", "o.bin")
    assert (ran.code, "+12 V" in ran.err, (tmp_path / "o.bin").exists()) == (1, True, False)
    (tmp_path / "b.bin").write_bytes(EVEN)
    wrong = cli("plan", "chip", "b.bin", "--chip", "2732A", "--socket", "2716", "-o", "o.bin")
    assert (wrong.code, "not that of a 2716" in wrong.err) == (1, True)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [((), "21 min under a lamp of 12 mW/cm2"), (("--lamp", "6"), "42 min"),
     (("--lamp-distance", "5"), "42 to 84 min")],
)  # fmt: skip
def test_the_time_under_the_lamp(cli: Cli, tmp_path: Path, arguments: tuple[str, ...], text: str) -> None:
    """Source: STMicroelectronics, M27C1001, page 9: 15 W s/cm2; at 12 mW/cm2 that is 1250 s."""
    (tmp_path / "u4.bin").write_bytes(EVEN)
    out = cli("plan", "chip", "u4.bin", "--chip", "27128", "-o", "o.bin", *arguments).out
    assert text in " ".join(out.split())
    assert cli("plan", "chip", "u4.bin", "--chip", "27128", "-o", "p.bin", "--lamp", "0").code == 2


@pytest.mark.parametrize(
    ("part", "first"),
    [
        ("82S123", ["never be taken back"]), ("1702A", ["Vgg -9 V", "Vpp -48 V"]),
        ("2708", ["Vdd +12 V", "Vpp 26 V (25 to 27 V)"]), ("27128", ["Vpp 21 V and never more than 22 V"]),
    ],
)  # fmt: skip
def test_every_danger_stands_above_the_work(cli: Cli, tmp_path: Path, part: str, first: list[str]) -> None:
    row = chip_rows()[part]
    (tmp_path / "a.bin").write_bytes(bytes(row.bytes))
    maker = ("--maker", "Intel") if row.ask_maker else ()   # Intel, 27128, 210224-004, pages 2 and 6
    out = cli("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin", *maker).out
    above = " ".join(out.partition("The chip\n")[0].split())
    grave = [text for text in chips.find(part, maker[1] if maker else None).cautions if is_danger(text)]
    assert above.split("DANGER: ")[1:] == [f"{text} " for text in grave[:-1]] + grave[-1:]
    assert [text for text in first if text not in above] == []


@pytest.mark.parametrize(
    ("part", "text"),
    [
        # the common practice of restorers, no source: two chips of one number; the rest from memory
        ("2716", "what that needs, +12 V and -5 V, destroys this chip"), ("2816", "21 V destroys it"),
        # STMicroelectronics, M28C16, November 1997: /WE on pin 21; Atmel, AT28C16, 0540B: 12 V on /OE erases the chip
        ("28C16", "Never bring 12 V to pin 20"),
    ],
)  # fmt: skip
def test_a_note_on_what_destroys_the_chip_stands_above_the_work(
    cli: Cli, tmp_path: Path, part: str, text: str
) -> None:
    (tmp_path / "a.bin").write_bytes(EVEN[:2048])
    ran = cli("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin", "--json")
    assert text in ran.json["sheet"]["danger"]


@pytest.mark.parametrize(
    ("part", "name", "text"),
    [
        ("27C800", "Vpp", "Disputed: 12.5 V for another maker's part (from memory)"),
        ("27256", "Vpp", "take 21 V (from memory)"), ("82S123", "blank", "TBP24 and TBP28 series"),
        # STMicroelectronics, M48Z02, 2420, page 10
        ("48Z02", "note", "the first write after power comes is lost"),
        # Winbond, W27C512, revision A4, page 1, gives Vpp alone
        ("W27C512", "not in the table", "Vcc meanwhile, method: the chip's own data sheet decides"),
        ("6331-1", "not in the table", "method: the chip's own data sheet decides"),
    ],
)  # fmt: skip
def test_what_is_disputed_noted_or_missing_is_on_the_sheet(
    cli: Cli, tmp_path: Path, part: str, name: str, text: str
) -> None:
    """Disputed figures: STMicroelectronics, M27C160; SGS-Thomson, M27256; Texas Instruments, series 24 and 28."""
    (tmp_path / "a.bin").write_bytes(bytes([0x55, 0xFE]) * (chips.find(part).file_bytes // 2))
    ran = cli("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin", "--json")
    facts = [one for group in ran.json["sheet"]["parts"] for one in group["facts"] if one["name"] == name]
    assert len(facts) == 1
    assert text in facts[0]["value"]


def test_a_signature_that_is_unsure_is_told_to_be(cli: Cli, tmp_path: Path) -> None:
    """From memory, and unsure in the table."""
    (tmp_path / "a.bin").write_bytes(EVEN * 8)
    ran = cli("plan", "chip", "a.bin", "--chip", "27C010", "-o", "o.bin", "--json")
    facts = [one for group in ran.json["sheet"]["parts"] for one in group["facts"] if one["name"] == "signature"]
    assert {"name": "signature", "value": "89 35: Intel; unsure", "memory": True} in facts


@pytest.mark.parametrize("part", ["2708", "27256", "W27C512", "82S123", "6331-1"])
def test_nothing_is_done_to_the_chip_before_its_type_is_chosen_and_it_is_powered(
    cli: Cli, tmp_path: Path, part: str
) -> None:
    """A check as another type puts that type's supplies on the pins; common practice, no source."""
    size = chips.find(part).file_bytes
    (tmp_path / "a.bin").write_bytes(bytes([0x55, 0xFE]) * (size // 2))
    (tmp_path / "now.bin").write_bytes(b"\xff" * size)
    plan = ("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin", "--force", "--json")
    ways = [(), ("--present", "now.bin")] if chips.find(part).carrier != "prom" else [()]
    for more in ways:
        steps = cli(*plan, *more).json["sheet"]["steps"]
        at = [next((n for n, step in enumerate(steps) if step.startswith(words)), None)
              for words in ("Choose this very type", "Put the chip in", "Power on", "Read its signature")]  # fmt: skip
        check = next(n for n, step in enumerate(steps) if step.startswith(("Blank check", "Read it again")))
        program = next(n for n, step in enumerate(steps) if step.startswith("Program it"))
        order = [n for n in (*at, check, program) if n is not None]
        assert order == sorted(order)
        assert (at[3] is not None) == (part == "W27C512" and not more)


def test_without_the_maker_the_sheet_programs_with_that_makers_figures_only(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "a.bin").write_bytes(EVEN[:4096])
    for maker, told in (((), True), (("--maker", "TI"), False)):
        ran = cli("plan", "chip", "a.bin", "--chip", "2732A", "-o", "o.bin", "--force", "--json", *maker)
        step = next(one for one in ran.json["sheet"]["steps"] if one.startswith("Program it"))
        assert ("and no others" in step) == told


def test_no_line_ends_between_a_figure_and_its_unit(cli: Cli, tmp_path: Path) -> None:
    for part in ("2708", "2732A", "27256", "W27C512"):
        chip = chips.find(part)
        (tmp_path / "a.bin").write_bytes((EVEN * 4)[: chip.file_bytes])
        ran = cli("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin", "--force", "--sheet", "s.html")
        assert re.search(r"\d\n +(V|ms|us|W s/cm2|nm)\b", ran.out) is None
        assert "\u00a0" not in ran.out
        page = (tmp_path / "s.html").read_text("utf-8")
        assert re.search(r"\d (V|ms|us)\b", page.partition("<main")[2]) is None
        (tmp_path / "s.html").unlink()


def test_what_is_disputed_of_a_method_is_on_the_sheet(cli: Cli, tmp_path: Path) -> None:
    """The lengths of the pulse on /CE: two printings of one rule, as the post on the book of 1975 quotes them."""
    (tmp_path / "a.bin").write_bytes(bytes(32))
    out = " ".join(cli("plan", "chip", "a.bin", "--chip", "82S123", "-o", "o.bin").out.split())
    assert "Disputed: the pulse on /CE is 0.3 to 0.5 us long in one book and 1 to 2 ms in another" in out


@pytest.mark.parametrize(("part", "asked"), [("28C256", False), ("27256", True)])
def test_only_what_cannot_be_written_over_must_be_blank(cli: Cli, tmp_path: Path, part: str, asked: bool) -> None:
    (tmp_path / "a.bin").write_bytes(bytes(32768))
    assert ("Blank check" in cli("plan", "chip", "a.bin", "--chip", part, "-o", "o.bin").out) is asked


def plan_of(cli: Cli, tmp_path: Path, size: int, *arguments: str) -> Ran:
    (tmp_path / "image.bin").write_bytes((PROGRAM * 4)[:size])
    return cli("plan", "chip", "image.bin", "-o", "o.bin", "--force", *arguments)


def facts_of(ran: Ran) -> dict[str, str]:
    part = next(one for one in ran.json["sheet"]["parts"] if one["title"] == "Programming")
    return {fact["name"]: fact["value"] for fact in part["facts"]}


@pytest.mark.parametrize(("part", "size"), [("2732A", 4096), ("2764", 8192), ("27C64", 8192), ("27C128", 16384),
                                            ("27C256", 32768)])  # fmt: skip
def test_a_sheet_without_the_maker_gives_no_voltage(cli: Cli, tmp_path: Path, part: str, size: int) -> None:
    """The makers' own figures stand beside their names, with their sheets; the page and the document say the same."""
    ran = plan_of(cli, tmp_path, size, "--chip", part, "--json")
    assert (ran.code, ran.json["maker"]) == (0, None)
    facts = facts_of(ran)
    assert facts["Vpp and Vcc"].startswith("NONE without the maker")
    assert not {"Vpp", "Vpp never above", "Vcc meanwhile", "method"} & set(facts)
    assert all("data sheet" in facts[one.maker] for one in chips.find(part).makers)
    assert "No programming voltage is given without the maker" in ran.json["sheet"]["danger"]
    assert any("program nothing" in step for step in ran.json["sheet"]["steps"])
    text = " ".join(plan_of(cli, tmp_path, size, "--chip", part, "--sheet", "o.html").out.split())
    assert "NONE without the maker" in text
    assert "DANGER: No programming voltage" in text
    assert "NONE without the maker" in (tmp_path / "o.html").read_text("utf-8")


def test_a_sheet_for_one_maker_has_its_figures_and_says_what_is_not_known(cli: Cli, tmp_path: Path) -> None:
    """Texas Instruments, TMS2732A, February 1988, pages 6-14 to 6-17; STMicroelectronics, M27C64A, page 1."""
    facts = facts_of(plan_of(cli, tmp_path, 4096, "--chip", "2732A", "--maker", "ti", "--json"))
    assert (facts["Vpp never above"], facts["Vcc meanwhile"]) == ("22 V", "5 V")
    assert "11 ms at most" in facts["method"]
    facts = facts_of(plan_of(cli, tmp_path, 8192, "--chip", "27C64", "--maker", "ST", "--json"))
    assert facts["not in the table"].startswith("Vcc meanwhile, method: that maker's data sheet decides")
    assert "Vcc meanwhile" not in facts
    facts = facts_of(plan_of(cli, tmp_path, 4096, "--chip", "2532", "--json"))
    assert facts["program pulse"] == "low, on pin 20, which rests high"


def test_a_maker_without_a_sheet_writes_nothing(cli: Cli, tmp_path: Path) -> None:
    ran = plan_of(cli, tmp_path, 8192, "--chip", "27C64", "--maker", "Nobody", "--json")
    assert (ran.code, ran.json["code"]) == (5, "maker-unknown")
    assert not (tmp_path / "o.bin").exists()


@pytest.mark.parametrize("row", [row for row in chip_rows().values() if row.technology == "electric-eprom"],
                         ids=lambda row: row.id)  # fmt: skip
def test_what_is_erased_electrically_never_lies_under_a_lamp(cli: Cli, tmp_path: Path, row: ChipRow) -> None:
    """Winbond, SST and Macronix: see their rows. Their cells are cleared only as a whole (from memory)."""
    (tmp_path / "image.bin").write_bytes((PROGRAM * 8)[: row.bytes])
    plan = ("plan", "chip", "image.bin", "--chip", row.id, "-o", "o.bin", "--force")
    ran = cli(*plan, "--lamp", "12", "--json")
    assert ran.code == 0
    assert "electrically" in facts_of(ran)["erasing"]
    text = ran.out.replace("never with a lamp", "").replace("Never under a lamp", "")
    assert not any(word in text.lower() for word in ("lamp", "ultraviolet", "253.7", "closed box", "window"))
    assert any(step.startswith("Blank check") for step in ran.json["sheet"]["steps"])
    (tmp_path / "used.bin").write_bytes(bytes(row.bytes))
    assert cli(*plan, "--present", "used.bin").code == 1   # it must be erased first, like any EPROM
