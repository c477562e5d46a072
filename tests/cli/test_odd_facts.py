"""What a tired person types: facts that cannot be and names that are a slip away, with every command that takes it."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.cli import _asking, run
from tests.cli.test_bad_input import check_document
from tests.conftest import Ran

Cli = Callable[..., Ran]
CHIP = bytes((n * 11 + (n >> 6)) & 0xFF for n in range(2048))


@pytest.fixture
def harbour(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive with a machine, its chip with one read, a replacement made of it, a remark, and a bench."""
    assert cli("archive", "init", "harbour").code == 0
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    for name in ("first.bin", "again.bin", "written.bin", "back.bin"):
        (tmp_path / name).write_bytes(CHIP)
    for arguments in (
        ("machine", "add", "tg85", "--name", "Quillmere TG-85"),
        ("carrier", "add", "u4", "--kind", "eprom", "--part", "2716", "--machine", "tg85", "--date-code", "8512"),
        ("carrier", "add", "u5", "--kind", "eprom", "--part", "2716"),
        ("carrier", "read", "u4", "first.bin", "--reader", "bench reader", "--operator", "harbour office",
         "--adapter", "24 pin adapter", "--date", "2026-03-02"),
        ("carrier", "agree", "u4"),
        ("carrier", "replace", "u4", "--written", "written.bin", "--part", "2716", "--date", "2026-03-02"),
        ("floppy", "bench", "add", "drive", "left drive", "--class", "5.25-96tpi-hd-360"),
    ):  # fmt: skip
        assert cli(*arguments).code == 0
    return tmp_path / "harbour"


READ = ("carrier", "read", "u4", "again.bin")
ELSEWHERE = ("carrier", "read", "u5", "again.bin")
BACK = ("carrier", "replace", "u4", "back.bin", "--add-to", "w1")
NEW = ("carrier", "replace", "u4", "back.bin", "--written", "written.bin", "--part", "2716")

#: What is typed, the member that is odd, and words of why.
ODD = [
    *((command, "--vcc", volts, "vcc", "no supply of a 2716") for command in (READ, BACK, NEW)
      for volts in ("0", "0.0 V", "25", "12.5", "50", "2.4")),
    *((command, "--date", day, "date", why) for command in (READ, BACK, NEW)
      for day, why in (("1949-12-31", "before 1950"), ("0202", "before 1950"), ("2062-03-02", "yet to come"))),
    (READ, "--date", "1984-12-31", "date", "before the chip was made"),
    (BACK, "--date", "2026-03-01", "date", "before w1 was made"),
    *((READ, "--temperature", celsius, "temperature", "no temperature of a bench")
      for celsius in ("215", "-61", "999 C")),
    *((command, "--reader", "benhc reader", "reader", "'bench reader'") for command in (READ, BACK, NEW, ELSEWHERE)),
    *((command, "--operator", "harbor office", "operator", "'harbour office'")
      for command in (READ, BACK, NEW, ELSEWHERE)),
    (READ, "--adapter", "24 pin adaptor", "adapter", "'24 pin adapter'"),
    (READ, "--drive", "lfet drive", "drive", "'left drive'"),
    (ELSEWHERE, "--reader", "benchreader", "reader", "only in capitals, blanks"),
]  # fmt: skip


@pytest.mark.parametrize(("command", "option", "value", "member", "why"), ODD)
def test_what_cannot_be_is_refused_and_kept_where_it_is_insisted_upon(
    cli: Cli, harbour: Path, command: tuple[str, ...], option: str, value: str, member: str, why: str
) -> None:
    carrier = command[2]
    before = cli("carrier", "show", carrier, "--json").out
    ran = cli(*command, option, value, "--json")
    told = check_document(ran.out)
    assert (ran.code, told["code"]) == (2, "odd-facts")
    assert why in told["why"]
    assert "--really" in told["hint"]
    assert cli("carrier", "show", carrier, "--json").out == before, "nothing was recorded"

    assert cli(*command, option, value, "--really").code in (0, 1)
    record = check_document(cli("carrier", "show", carrier, "--json").out)
    made = record["replacements"][-1]["read_backs"][-1] if command[1] == "replace" else record["reads"][-1]
    assert made["insisted"] == [member]
    assert float(made[member].rstrip(" CV")) == float(value.rstrip(" CV")) if member in ("vcc", "temperature") else (
        made[member] == value
    )  # fmt: skip
    assert f"insisted upon: {member}" in cli("carrier", "show", carrier).out
    assert cli("archive", "audit").code == 0


@pytest.mark.parametrize("day", ["2026-13-01", "2026-00-10", "2026-03-00", "2026-02-29", "02.03.2026", "2026-3-2"])
@pytest.mark.parametrize("command", [READ, BACK, NEW])
def test_a_day_that_is_in_no_calendar_is_no_date_whoever_insists(
    cli: Cli, harbour: Path, command: tuple[str, ...], day: str
) -> None:
    for really in ((), ("--really",)):
        ran = cli(*command, "--date", day, "--json", *really)
        assert (ran.code, check_document(ran.out)["what"]) == (2, "a date cannot be understood")


@pytest.mark.parametrize("command", [READ, BACK])
def test_a_file_from_the_future(cli: Cli, harbour: Path, command: tuple[str, ...], tmp_path: Path) -> None:
    for name in ("again.bin", "back.bin"):
        os.utime(tmp_path / name, (1 << 32, 1 << 32))   # in the year 2106
    ran = cli(*command, "--json")
    assert (ran.code, check_document(ran.out)["code"]) == (2, "odd-facts")
    assert cli(*command, "--really").code == 0
    shown = cli("carrier", "show", "u4")
    assert "insisted upon: file's time of change" in shown.out


def test_everything_is_told_at_once(cli: Cli, harbour: Path) -> None:
    typed = ("--vcc", "50", "--date", "1948", "--temperature", "200", "--reader", "benhc reader")
    why = check_document(cli(*READ, *typed, "--json").out)["why"]
    assert all(word in why for word in ("50 V", "1948", "200", "benhc reader"))
    cli(*READ, *typed, "--really")
    read = check_document(cli("carrier", "show", "u4", "--json").out)["reads"][-1]
    assert sorted(read["insisted"]) == ["date", "reader", "temperature", "vcc"]


def test_what_is_known_or_quite_different_is_not_asked_about(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    for number, reader in enumerate(("bench reader", "BENCH  reader", "pocket reader", "reader 1", "reader 2")):
        (tmp_path / f"{number}.bin").write_bytes(CHIP)
        assert cli("carrier", "read", "u4", f"{number}.bin", "--reader", reader).code == 0
    reads = check_document(cli("carrier", "show", "u4", "--json").out)["reads"]
    assert [read["insisted"] for read in reads] == [[]] * 6


def test_what_lies_between_is_kept_with_reads_and_read_backs(cli: Cli, harbour: Path) -> None:
    between = ("--adapter", "28 pin adapter", "--cable", "short cable", "--drive", "big drive", "--controller", "card")
    assert cli(*READ, *between).code == 0
    assert cli(*BACK, *between).code == 0
    record = check_document(cli("carrier", "show", "u4", "--json").out)
    for one in (record["reads"][-1], record["replacements"][0]["read_backs"][-1]):
        assert [one[name] for name in ("adapter", "cable", "drive", "controller")] == list(between[1::2])
    assert "adapter 28 pin adapter, cable short cable" in cli("carrier", "show", "u4").out
    assert "u4" in cli("search", "short", "cable").out


def test_records_of_earlier_versions_have_none_of_it(cli: Cli, harbour: Path) -> None:
    """The members are left out of the file of a record, as an earlier version wrote it."""
    from imagekeeper.provenance.fields import from_json
    from imagekeeper.provenance.reads import Read

    held = json.loads(next(harbour.rglob("read.json")).read_text())
    old = {name: value for name, value in held.items()
           if name not in ("adapter", "cable", "drive", "controller", "insisted")}  # fmt: skip
    read = from_json(Read, old, "read.json")
    assert (read.adapter, read.cable, read.drive, read.controller, read.insisted) == (None, None, None, None, ())


# --- machines, the bench, remarks, tables ---


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (("machine", "add", "other", "--name", "Quillmere TG-85"), "has the name"),
        (("machine", "add", "other", "--name", "quillmere  tg-85"), "only a slip away"),
        (("machine", "add", "other", "--name", "Ｑuillmere TG-85"), "only a slip away"),
        (("machine", "add", "other", "--name", "Quilmere TG-85"), "only a slip away"),
        (("machine", "edit", "second", "--name", "QUILLMERE TG-85"), "only a slip away"),
        (("machine", "edit", "second", "--name", "Quillmere TG-85"), "has the name"),
        (("carrier", "add", "u6", "--kind", "eprom", "--machine", "Quillmere TG 85"), "'Quillmere TG-85'"),
        (("carrier", "add", "u6", "--kind", "eprom", "--machine", "quillmere tg-85"), "only in capitals"),
        (("carrier", "edit", "u5", "--machine", "Quillmere  TG-85"), "only in capitals"),
        (("carrier", "add", "u6", "--kind", "eprom", "--date-code", "4444"), "yet to come"),
        (("carrier", "edit", "u4", "--date-code", "2630"), "lies after r1"),
        (("floppy", "bench", "add", "reader", "benhc reader"), "'bench reader'"),
        (("floppy", "bench", "add", "drive", "left drvie", "--class", "3.5-hd"), "'left drive'"),
        (("carrier", "note", "u4", "window covered", "--operator", "harbour ofice"), "'harbour office'"),
        (("machine", "note", "tg85", "fuse replaced", "--operator", "harbour ofice"), "'harbour office'"),
    ],
)
def test_other_records_are_asked_about_too(cli: Cli, harbour: Path, command: tuple[str, ...], why: str) -> None:
    assert cli("machine", "add", "second", "--name", "tide gauge").code == 0
    ran = cli(*command, "--json")
    told = check_document(ran.out)
    assert (ran.code, told["code"]) == (2, "odd-facts")
    assert why in told["why"]
    assert cli(*command, "--really").code == 0
    if command[0] in ("carrier", "machine"):
        assert "insisted upon: " in " ".join(cli(command[0], "show", command[2]).out.split())
    assert cli("archive", "audit").code == 0


@pytest.mark.parametrize(
    "machine", ["tg85", "TG85", "Quillmere TG-85", "Quillmere TG-86", "tide gauge", "Quillmere TG-85 B"]
)
def test_machines_that_are_known_or_others_are_not_asked_about(cli: Cli, harbour: Path, machine: str) -> None:
    assert cli("carrier", "add", "u6", "--kind", "eprom", "--machine", machine).code == 0


def test_a_machine_may_be_edited_without_a_word_about_its_own_name(cli: Cli, harbour: Path) -> None:
    assert cli("machine", "edit", "tg85", "--name", "Quillmere TG-85A").code == 0
    assert cli("machine", "edit", "tg85", "--name", "Quillmere TG-85A", "--owner", "harbour office").code == 0


def test_a_table_is_held_against_what_is_known_and_against_itself(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "filled.csv"
    sheet.write_text("id,kind,machine\nu6,eprom,tide gauge\nu7,eprom,tide guage\nu8,eprom,tide guage\n")
    for more in ((), ("--dry-run",)):
        ran = cli("archive", "fill-in", "filled.csv", "--json", *more)
        told = check_document(ran.out)
        assert (ran.code, told["code"]) == (3, "table-form")
        assert "line 3, column machine" in told["why"]
        assert "'tide gauge'" in told["why"]
    assert "u6" not in cli("carrier", "list").out
    assert cli("archive", "fill-in", "filled.csv", "--really").code == 0
    assert "insisted upon: machine" in cli("carrier", "show", "u7").out
    assert "insisted upon" not in cli("carrier", "show", "u6").out


def test_a_bench_file_with_a_fault_keeps_nobody_from_recording_a_read(cli: Cli, harbour: Path) -> None:
    (harbour / "bench.toml").write_text("[[reader]\n")
    assert cli(*READ, "--reader", "pocket reader").code == 0


# --- at a terminal ---


@pytest.fixture
def answered(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run a command as at a terminal, with what a person answers."""

    def call(*arguments: str, answers: str) -> Ran:
        capfd.readouterr()
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(answers.encode())))
        monkeypatch.setattr(_asking, "at_terminal", lambda: True)
        code = run(arguments)
        sys.stdout.flush()
        return Ran(code, *capfd.readouterr())

    return call


def last_read(cli: Cli) -> Any:
    return check_document(cli("carrier", "show", "u4", "--json").out)["reads"][-1]


def test_the_same_reader_is_recorded_under_the_older_spelling(
    cli: Cli, harbour: Path, answered: Callable[..., Ran]
) -> None:
    ran = answered(*READ, "--reader", "benhc reader", answers="perhaps\nsame\n")
    assert ran.code == 0
    assert "is this the same reader as 'bench reader'?" in ran.err
    assert (last_read(cli)["reader"], last_read(cli)["insisted"]) == ("bench reader", [])


def test_another_reader_is_kept_and_recorded_as_insisted_upon(
    cli: Cli, harbour: Path, answered: Callable[..., Ran], tmp_path: Path
) -> None:
    assert answered(*READ, "--reader", "benhc reader", answers="another\n").code == 0
    assert (last_read(cli)["reader"], last_read(cli)["insisted"]) == ("benhc reader", ["reader"])
    (tmp_path / "third.bin").write_bytes(CHIP)
    again = answered("carrier", "read", "u4", "third.bin", "--reader", "benhc reader", answers="")
    assert (again.code, again.err) == (0, ""), "nobody is asked twice"


def test_what_cannot_be_is_no_question_at_a_terminal(cli: Cli, harbour: Path, answered: Callable[..., Ran]) -> None:
    ran = answered(*READ, "--reader", "benhc reader", "--vcc", "50", answers="")
    assert ran.code == 2
    assert "is this the same" not in ran.err


def test_who_goes_away_records_nothing(cli: Cli, harbour: Path, answered: Callable[..., Ran]) -> None:
    assert answered(*READ, "--reader", "benhc reader", answers="").code == 130
    assert last_read(cli)["id"] == "r1"


def test_the_same_machine_gets_no_second_record(cli: Cli, harbour: Path, answered: Callable[..., Ran]) -> None:
    command = ("machine", "add", "other", "--name", "quillmere tg-85")
    ran = answered(*command, answers="same\n")
    assert ran.code == 2
    assert "the machine has a record already" in ran.err
    assert answered(*command, answers="another\n").code == 0
