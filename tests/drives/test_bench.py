"""The bench: read from a file that people edit, and asked before any drive of the table."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.drives import DiskForDrive
from imagekeeper.drives.answering import answer, request
from imagekeeper.drives.bench import Bench, OwnDrive, OwnMedium
from imagekeeper.drives.bench_file import entry
from imagekeeper.drives.bench_form import parse
from imagekeeper.errors import InputError
from imagekeeper.floppy.formats import find
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]


def asked(name: str, *drives: OwnDrive, media: tuple[OwnMedium, ...] = ()) -> tuple[str, str | None]:
    disk = DiskForDrive.of(find(name))
    found = answer(disk, Bench(drives=drives, media=media))
    return found.says, request(disk, found)


def test_what_is_at_hand_comes_first() -> None:
    """Rules: Microsoft, knowledge-base article Q79538, for 360K disks in 1.2 MB drives."""
    says, request = asked(
        "360K", OwnDrive("A", "3.5-hd"), OwnDrive("B", "5.25-96tpi-hd-360"), media=(OwnMedium("5.25-dd", 3),)
    )
    assert says.startswith("Your drive B can write it, with care: 300 kbit/s at 360 rev/min, double step, on a 5.25-dd")
    assert says.endswith("Safer: a drive of class 5.25-48tpi.")
    assert request is not None
    assert "5.25-48tpi" in request
    assert "a disk:" not in request   # there are three on the shelf


def test_nothing_is_asked_for_where_nothing_is_wanting() -> None:
    says, request = asked("1.44M", OwnDrive("A", "3.5-hd"), media=(OwnMedium("3.5-hd"),))
    assert says == "Your drive A can write it: 500 kbit/s at 300 rev/min, single step, on a 3.5-hd disk."
    assert request is None


def test_an_empty_bench_asks_for_drive_and_disk() -> None:
    says, request = asked("8-inch 250K")
    assert says.startswith("Nothing on your bench can write 8-inch interchange")
    assert request is not None
    assert "8in-one-side" in request
    assert "- a disk: 8-inch" in request


def test_a_drive_that_only_reads_is_named() -> None:
    says, _ = asked("5.25-40x1x8x512", OwnDrive("hd", "5.25-96tpi-hd-360"))
    assert "can write it, with care" in says
    says, request = asked("2.88M", OwnDrive("A", "3.5-hd"))
    assert says.startswith("Nothing on your bench can write PC 2.88M.")
    assert request is not None


@pytest.mark.parametrize(("speeds", "can_write"), [((), "with-care"), ((300,), "no"), ((300, 360), "yes")])
def test_known_speeds_decide_about_modes_that_only_some_drives_have(speeds: tuple[int, ...], can_write: str) -> None:
    result = answer(DiskForDrive.of(find("3.5-77x2x8x1024-360rpm")), Bench(drives=(OwnDrive("A", "3.5-hd", speeds),)))
    assert result.drives[0].verdict.can_write == can_write


def test_every_request_names_what_there_is_to_get() -> None:
    from imagekeeper.tables.floppy import format_rows

    for row in format_rows().values():
        result = answer(DiskForDrive.of(row), Bench())
        wanted = request(DiskForDrive.of(row), result)
        assert wanted is not None
        assert "class " in wanted, row.id
        assert "class ." not in result.says, row.id


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("[[drive]\n", "not TOML"), ("drive = 3", "table of its own"), ("[[floppy]]", "'floppy' is not one of"),
        ('[[drive]]\nname = "B"', "drive 1: its class"), ('[[drive]]\nname = "B"\nclass = "x"', "'x' is not one of"),
        ('[[drive]]\nclass = "3.5-hd"', "drive 1: its name"), ('[[medium]]\nclass = "3.5-hd"\ncount = true', "count"),
        ('[[medium]]\nclass = "3.5-hd"\ncount = -1', "count"), ('[[reader]]\nname = "r"\nnote = 3', "note"),
        ('[[drive]]\nname = "B"\nclass = "3.5-hd"\nspeeds = [3]', "speeds"),
        ('[[reader]]\nname = "r"\n[[programmer]]\nname = "r"', "there twice"),
        ('[[reader]]\nname = "r"\nport = 1', "'port' is not one of"), ("a = " + "[" * 5000, "not TOML"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_bench_file_is_told(text: str, why: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(text)
    assert (caught.value.code, why in caught.value.why) == ("bench-form", True), caught.value.why


@given(st.text(min_size=1).filter(lambda s: s.strip() and not any(0xD800 <= ord(c) < 0xE000 for c in s)))
def test_any_name_can_be_written_and_read_back(name: str) -> None:
    assert tomllib.loads(entry("reader", name=name))["reader"] == [{"name": name}]


@given(st.text(max_size=300))
def test_any_text_is_a_bench_or_an_error(text: str) -> None:
    try:
        assert isinstance(parse(text), Bench)
    except InputError as problem:
        assert problem.code == "bench-form"


def test_the_commands_keep_what_was_written_by_hand(cli: Cli, tmp_path: Path) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    assert "empty" in cli("floppy", "bench", "list", *here).out
    assert cli("floppy", "bench", "add", "drive", "B", "--class", "5.25-96tpi-hd-360", *here).code == 0
    file = tmp_path / "a" / "bench.toml"
    file.write_text(file.read_text() + "\n# the one with the green label\n")
    ran = cli("floppy", "bench", "add", "medium", "--class", "5.25-dd", "--count", "10", "--json", *here)
    assert list(ran.json) == schema_of(Bench)["required"]
    assert "green label" in file.read_text()
    assert cli("floppy", "bench", "add", "reader", "bench reader", "--note", "32-pin socket", *here).code == 0
    out = cli("floppy", "bench", "list", *here).out
    assert all(text in out for text in ("drive", "360", "5.25-dd", "10", "bench reader", "32-pin socket"))
    assert cli("archive", "audit", *here).code == 0   # the keeper's own file


@pytest.mark.parametrize(
    "arguments",
    [
        ("drive", "B"), ("drive", "B", "--class", "x"), ("drive", "--class", "3.5-hd"), ("medium", "--class", "x"),
        ("medium", "x", "--class", "3.5-hd"), ("reader",), ("reader", "r", "--class", "3.5-hd"),
        ("reader", "r", "--count", "3"), ("medium", "--class", "3.5-hd", "--speed", "300"),
    ],
)  # fmt: skip
def test_wrong_words_are_refused_and_nothing_is_written(cli: Cli, tmp_path: Path, arguments: tuple[str, ...]) -> None:
    cli("archive", "init", "a")
    assert cli("floppy", "bench", "add", *arguments, "--archive", "a").code == 2
    assert not (tmp_path / "a" / "bench.toml").exists()


def test_a_spoilt_file_is_told_and_kept(cli: Cli, tmp_path: Path) -> None:
    cli("archive", "init", "a")
    (tmp_path / "a" / "bench.toml").write_bytes(b"\xff[[")
    ran = cli("floppy", "bench", "add", "reader", "r", "--archive", "a")
    assert (ran.code, "bench.toml" in ran.err) == (3, True)
    assert (tmp_path / "a" / "bench.toml").read_bytes() == b"\xff[["
    assert cli("floppy", "bench", "add", "reader", "r", "--archive", "absent").code == 5


def test_drives_at_hand_come_first_in_floppy_drives(cli: Cli) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    assert cli("floppy", "drives", "360K", "--json", *here).json["bench"] is None
    cli("floppy", "bench", "add", "drive", "B", "--class", "5.25-96tpi-hd-360", *here)
    out = cli("floppy", "drives", "360K", *here).out
    assert out.startswith("Your drive B can write it, with care: 300 kbit/s at 360 rev/min, double step")
    assert len(out.splitlines()) <= 28
    asked_for = cli("floppy", "drives", "360K", "--request", *here).out
    assert "I need:" in asked_for
    assert "5.25-48tpi" in asked_for
    assert "5.25-dd" in asked_for
    assert cli("floppy", "drives", "360K", "--archive", "absent").code == 5
    assert cli("floppy", "drives", "360K").out.startswith("Write it in a drive")   # without any archive


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("drive", "B", "--class", "3.5-hd"), "'B' is there twice"),
        (("drive", "C", "--class", "3.5-hd", "--speed", "-300"), "100"),
        (("medium", "--class", "3.5-hd", "--count", "-5"), "999999"),
        (("reader", "N\udcff"), "no text"),   # what a shell passes on of bytes that are no text
    ],
)
def test_what_cannot_go_on_the_bench_is_the_request_s_fault(
    cli: Cli, tmp_path: Path, arguments: tuple[str, ...], why: str
) -> None:
    cli("archive", "init", "harbour", "--title", "Harbour office instruments")
    cli("floppy", "bench", "add", "drive", "B", "--class", "3.5-dd", "--archive", "harbour")
    before = (tmp_path / "harbour/bench.toml").read_bytes()
    ran = cli("floppy", "bench", "add", *arguments, "--archive", "harbour")
    assert (ran.code, why in ran.err) == (2, True), ran.err
    assert (tmp_path / "harbour/bench.toml").read_bytes() == before
