"""The commands table ..., and own rows in every answer that rests on them; invented rows of the Quillmere TG-85."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.tables.deciding import RowDecided
from imagekeeper.jobs.tables.listing import OwnRowList
from imagekeeper.jobs.tables.templates import KINDS
from imagekeeper.jobs.tables.travelling import take_along
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]

FIX = """[[chip]]
id = "2732"
vpp_v = 24.0
measured = [{ gives = ["vpp_v"], by = "H. Okafor", on = 2026-03-02, how = "scope at pin 20" }]
"""


@pytest.fixture
def harbour(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive with own rows of every kind, and a carrier; we stand in it."""
    assert cli("archive", "init", "harbour", "--title", "Harbour office").code == 0
    folder = tmp_path / "harbour"
    (folder / "tables").mkdir()
    for kind in KINDS:
        (folder / "tables" / f"{kind}.toml").write_text(cli("table", "new", kind).out)
    monkeypatch.chdir(folder)
    assert cli("carrier", "add", "tg85-u4", "--kind", "mask-rom", "--part", "QX27").code == 0
    return folder


def test_an_own_chip_is_shown_listed_and_substituted_and_each_answer_says_so(cli: Cli, harbour: Path) -> None:
    shown = cli("chip", "show", "QX27")
    assert (shown.code, shown.err) == (0, "")
    assert "own row: this rests on your own chip QX27 (tables/chip.toml, line 30): measured by" in shown.out
    assert "QX27*" in cli("chip", "list").out
    assert "rests on a row of your own" in cli("chip", "list").out
    assert [one["id"] for one in cli("chip", "list", "--json").json["chips"] if one["own"]] == ["2732A", "QX27"]
    replaced = cli("chip", "substitute", "QX27")
    assert "your own chip QX27" in replaced.out
    assert cli("chip", "substitute", "QX27", "--json").json["own"][0]["detail"]["row"] == "chip QX27"
    other = cli("chip", "show", "27128")
    assert "own row" not in other.out


def test_plans_say_it_on_the_sheet(cli: Cli, harbour: Path) -> None:
    (harbour / "tables" / "fix.toml").write_text(FIX)
    (harbour / "u4.bin").write_bytes(bytes(range(256)) * 16)
    ran = cli("plan", "chip", "u4.bin", "-o", "out.bin", "--chip", "2732")
    assert "which corrects the table that comes with the program: vpp_v is 24 instead of" in " ".join(ran.out.split())


def test_own_formats_and_drives_are_known_everywhere(cli: Cli, harbour: Path) -> None:
    shown = cli("floppy", "show", "TG-85")
    assert "your own format 5.25-35x1x9x256-fm" in " ".join(shown.out.split())
    solved = cli("floppy", "solve", "--size-bytes", str(35 * 9 * 256))
    assert "your own format" in solved.out
    drives = cli("floppy", "drives", "TG-85")
    assert "5.25-qd7" in drives.out
    assert "your own drive 5.25-qd7" in drives.out


def test_a_correction_gives_both_values(cli: Cli, harbour: Path) -> None:
    plain = cli("chip", "show", "2732").out
    (harbour / "tables" / "fix.toml").write_text(FIX)
    shown = " ".join(cli("chip", "show", "2732").out.split())
    assert "Vpp 24 V" not in plain
    assert "corrects the table that comes with the program: vpp_v is 24 instead of" in shown
    assert "disputed: Vpp: the tables without your own row have:" in shown


def test_a_broken_file_is_told_once_and_stops_nothing(cli: Cli, harbour: Path) -> None:
    (harbour / "tables" / "broken.toml").write_text("[[chip]\n")
    shown = cli("chip", "show", "QX27")
    assert shown.code == 0
    assert shown.err.count("tables/broken.toml, line 1") == 1
    (harbour / "x.bin").write_bytes(bytes(16))
    assert cli("fingerprint", "x.bin").err == ""
    checked = cli("table", "check", "tables/broken.toml")
    assert (checked.code, "tables/broken.toml, line 1" in checked.out) == (1, True)
    audited = cli("archive", "audit")
    assert audited.code == 0
    assert "tables/broken.toml, line 1: it is not TOML" in audited.out


def test_the_persons_folder_counts_too_and_the_archives_rows_count_more(
    cli: Cli, harbour: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "a.toml").write_text(FIX.replace("24.0", "23.0"))
    monkeypatch.setenv("IMAGEKEEPER_TABLES", str(mine))
    assert "Vpp 23 V" in cli("chip", "show", "2732").out
    (harbour / "tables" / "fix.toml").write_text(FIX)
    assert "Vpp 24 V" in cli("chip", "show", "2732").out
    (mine / "b.toml").write_text(FIX)
    listed = cli("table", "list")
    assert listed.code == 1
    assert "b.toml has it too, and nobody can tell which is meant" in " ".join(listed.out.split())
    monkeypatch.setenv("IMAGEKEEPER_TABLES", str(tmp_path / "nowhere"))
    assert "the folder that the environment names for own rows is not there" in cli("chip", "show", "2732").err


def test_nothing_is_there_and_nothing_is_said(cli: Cli) -> None:
    ran = cli("table", "list")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("No own rows")


def _mark(cli: Cli, name: str) -> str:
    listed = cli("table", "list", "--json").json
    assert list(listed) == schema_of(OwnRowList)["required"]
    return next(str(one["mark"]) for one in listed["rows"] if one["name"] == name)


@pytest.mark.parametrize("way", ["bag", "zip", "merge"])
def test_a_strangers_rows_decide_nothing_until_each_was_accepted(
    cli: Cli, harbour: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    (harbour / "tables" / "fix.toml").write_text(FIX)
    bag = tmp_path / ("bag.zip" if way == "zip" else "bag")
    exported = cli("archive", "export", "-o", bag)
    assert "own rows go along: tables/chip.toml" in exported.out
    assert cli("archive", "init", tmp_path / "other", "--title", "Other").code == 0
    monkeypatch.chdir(tmp_path / "other")
    arrive = ("archive", "merge", harbour) if way == "merge" else ("archive", "import", bag)
    assert cli(*arrive, "--dry-run").code == 0
    assert not (tmp_path / "other" / "tables").exists()
    arrived = cli(*arrive)
    assert arrived.code == 0
    assert "8 rows of its own tables" in arrived.out
    assert "not taken in" not in arrived.out
    assert cli("chip", "show", "QX27").code == 5
    assert "Vpp 24 V" not in cli("chip", "show", "2732").out

    pinout, chip, fix = (_mark(cli, name) for name in ("pinout dip24-qx27", "chip QX27", "chip 2732"))
    early = cli("table", "accept", chip, "--confirm")
    assert early.code == 3
    assert "pinout 'dip24-qx27' is in no table" in early.err
    looked = cli("table", "accept", fix)
    assert (looked.code, "Nothing was changed." in looked.out) == (1, True)
    assert "corrects ours: vpp_v is 24 instead of" in looked.out
    assert "scope at pin 20" in looked.out
    assert "Vpp 24 V" not in cli("chip", "show", "2732").out
    let_in = cli("table", "accept", pinout, "--confirm", "--operator", "Ann")
    assert (let_in.code, let_in.out.startswith("Accepted: ")) == (0, True)
    assert f"to take it back: imagekeeper table refuse {pinout}" in let_in.out
    accepted = cli("table", "accept", chip, "--confirm", "--operator", "Ann", "--json")
    assert (accepted.code, list(accepted.json)) == (0, schema_of(RowDecided)["required"])
    shown = " ".join(cli("chip", "show", "QX27").out.split())
    assert "the chip QX27 of another archive" in shown
    assert "accepted by Ann on 20" in shown
    assert "Vpp 24 V" not in cli("chip", "show", "2732").out

    refused = cli("table", "refuse", chip, "--reason", "it is a QX28")
    assert (refused.code, refused.out.startswith("Refused: "), "to take it back" in refused.out) == (0, True, False)
    assert cli("chip", "show", "QX27").code == 5
    assert "refused by somebody on" in cli("table", "list").out
    assert "0 rows" not in cli(*arrive).out   # what came once comes no second time
    assert "came along" not in cli(*arrive).out
    assert cli("archive", "audit").code == 0


def test_a_received_file_that_was_changed_is_undecided_again_and_named_by_the_audit(
    cli: Cli, harbour: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (harbour / "tables" / "fix.toml").write_text(FIX)
    cli("archive", "export", "-o", tmp_path / "bag")
    cli("archive", "init", tmp_path / "other", "--title", "Other")
    monkeypatch.chdir(tmp_path / "other")
    cli("archive", "import", tmp_path / "bag")
    assert cli("table", "accept", _mark(cli, "chip 2732"), "--confirm").code == 0
    assert "Vpp 24 V" in cli("chip", "show", "2732").out
    (file,) = (tmp_path / "other" / "tables" / "received").rglob("fix-*.toml")
    file.write_text(FIX.replace("24.0", "21.5"))
    assert "21.5" not in cli("chip", "show", "2732").out
    audited = cli("archive", "audit")
    assert audited.code == 4
    assert file.name in audited.out


def test_marks_that_are_none(cli: Cli, harbour: Path) -> None:
    for mark in ("", "zz", "00000000", "\x1b[2J"):
        ran = cli("table", "accept", mark, "--confirm")
        assert (ran.code, "no row from elsewhere has the mark" in ran.err) == (5, True)


def test_a_replica_has_the_own_rows(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    assert cli("archive", "replicate", tmp_path / "copy").code == 0
    held = {one.name: one.read_bytes() for one in (harbour / "tables").iterdir()}
    assert {one.name: one.read_bytes() for one in (tmp_path / "copy" / "tables").iterdir()} == held


def test_links_pipes_and_odd_names_in_the_folder_do_no_harm(cli: Cli, harbour: Path) -> None:
    tables = harbour / "tables"
    (tables / "a\x1b[2J.toml").write_text("[[chip]\n")
    os.mkfifo(tables / "pipe.toml")
    (tables / "loop.toml").symlink_to(tables / "loop.toml")
    (tables / "folder.toml").mkdir()
    ran = cli("table", "list")
    assert ran.code == 1
    assert "\x1b" not in ran.out + ran.err
    for name in ("pipe.toml", "loop.toml", "folder.toml"):
        assert f"tables/{name}: it cannot be read" in " ".join(ran.out.split())
    assert cli("chip", "show", "QX27").code == 0


#: Commands whose answer can hang on a table, and whether the rows of `harbour` and FIX change it once they count.
EVERYWHERE: tuple[tuple[tuple[str, ...], bool], ...] = (
    (("chip", "list"), True), (("chip", "show", "2732"), True), (("chip", "show", "QX27"), True),
    (("chip", "show", "2732A", "--maker", "Quillmere"), True), (("chip", "substitute", "2732"), True),
    (("chip", "unknown", "--pins", "24", "--size", "4K", "--kind", "mask-rom"), True),
    (("compare", "a.bin", "b.bin", "--chip", "QX27"), True), (("compare", "a.bin", "b.bin", "--chip", "2732"), True),
    (("inspect", "a.bin", "--chip", "QX27"), True), (("inspect", "a.bin", "--chip", "2732"), True),
    (("plan", "chip", "a.bin", "-o", "out", "--chip", "2732"), True),
    (("plan", "chip", "a.bin", "-o", "out", "--chip", "2764", "--socket", "QX27"), True),
    (("floppy", "list"), True), (("floppy", "show", "TG-85"), True), (("floppy", "drives", "TG-85"), True),
    (("floppy", "solve", "--size-bytes", str(35 * 9 * 256)), True), (("floppy", "drives", "5.25-40x1x9x512"), True),
    (("carrier", "add", "other", "--kind", "mask-rom", "--part", "QX27", "--package", "28-pin"), True),
    (("carrier", "read", "other", "short.bin"), True), (("carrier", "agree", "other"), True),
    (("carrier", "show", "tg85-u9"), True), (("carrier", "list"), True), (("machine", "list"), False),
    (("label", "tg85-u9", "-o", "out"), True), (("report", "tg85-u9", "-o", "../pages"), True),
)  # fmt: skip


def _answers(cli: Cli, scratch: Path, archive: Path) -> list[object]:
    """What every command says of a fresh copy of an archive, without times."""
    shutil.copytree(archive, scratch)
    os.chdir(scratch)
    answers: list[object] = []
    for command, _ in EVERYWHERE:
        ran = cli(*command)
        pages = [one for one in (scratch / "out", *sorted((scratch.parent / "pages").rglob("*.html"))) if one.is_file()]
        wrote = [one.read_bytes().decode("latin-1") for one in pages]
        said = (str(ran.code), ran.out, ran.err, *wrote)
        answers.append([re.sub(r"20\d\d-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?Z?", "then", text) for text in said])
        for path in (scratch / "out", scratch / "out.txt"):
            path.unlink(missing_ok=True)
        shutil.rmtree(scratch.parent / "pages", ignore_errors=True)
    return answers


def test_a_strangers_rows_change_no_answer_of_any_command_before_they_are_accepted(
    cli: Cli, harbour: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (harbour / "tables" / "fix.toml").write_text(FIX)
    other = tmp_path / "other"
    cli("archive", "init", other, "--title", "Other")
    monkeypatch.chdir(other)
    whole = bytes(range(256)) * 16
    for name, data in (("a.bin", whole), ("b.bin", bytes(len(whole))), ("short.bin", whole[:2048])):
        (other / name).write_bytes(data)
    cli("carrier", "add", "tg85-u9", "--kind", "mask-rom", "--part", "QX27", "--machine", "TG-85")
    for name in ("a.bin", "b.bin", "short.bin"):
        assert cli("carrier", "read", "tg85-u9", name).code == 0
    before = _answers(cli, tmp_path / "1", other)
    monkeypatch.chdir(other)
    assert take_along(ArchiveStore.open(other), ArchiveStore.open(harbour), dry_run=False) == 8
    assert _answers(cli, tmp_path / "2", other) == before

    monkeypatch.chdir(other)
    names = [one["name"] for one in cli("table", "list", "--json").json["rows"]]
    for name in sorted(names, key=lambda name: not name.startswith("pinout")):   # a chip builds on its pinout
        assert cli("table", "accept", _mark(cli, name), "--confirm").code == 0
    after = _answers(cli, tmp_path / "3", other)
    changed = [a != b for a, b in zip(before, after, strict=True)]
    assert [one for one, is_new in zip(EVERYWHERE, changed, strict=True) if is_new != one[1]] == []


def test_comparisons_inspections_carriers_and_their_pages_say_that_they_rest_on_an_own_row(
    cli: Cli, harbour: Path, tmp_path: Path
) -> None:
    for name, byte in (("a.bin", 1), ("b.bin", 2)):
        (harbour / name).write_bytes(bytes([byte, 7]) * 2048)
        assert cli("carrier", "read", "tg85-u4", name).code == 0
    assert cli("report", "-o", tmp_path / "pages").code == 0
    page = (tmp_path / "pages" / "carriers" / "tg85-u4.html").read_text("utf-8")
    assert page.count("This rests on your own chip QX27") == 1
    compared = cli("compare", "a.bin", "b.bin", "--chip", "QX27", "--json").json
    inspected = cli("inspect", "a.bin", "--chip", "QX27", "--json").json
    carrier = cli("carrier", "show", "tg85-u4", "--json").json
    agreed = cli("carrier", "agree", "tg85-u4", "--json").json["comparison"]
    for answer in (compared, inspected, carrier, agreed):
        rows = [one["detail"]["row"] for one in answer["findings"] if one["code"] == "own-row"]
        assert rows == ["chip QX27", "pinout dip24-qx27"]
    narrowed = cli("chip", "unknown", "--pins", "24", "--size", "4K", "--kind", "mask-rom")
    assert "own row: this rests on your own chip QX27" in narrowed.out
    assert "own row" not in cli("chip", "unknown", "--pins", "28", "--size", "16K").out
    assert "own-row" not in cli("compare", "a.bin", "b.bin", "--chip", "2732").out


def test_a_row_in_two_files_fails_the_check_of_each(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    for name in ("a", "b"):
        (harbour / "tables" / f"{name}.toml").write_text(FIX)
        alone = cli("table", "check", f"tables/{name}.toml")
        assert alone.code == (0 if name == "a" else 1)
    assert "tables/a.toml has it too, and nobody can tell which is meant" in " ".join(alone.out.split())
    assert cli("table", "check", "tables/a.toml").code == 1
    (tmp_path / "elsewhere.toml").write_text(FIX)
    checked = cli("table", "check", tmp_path / "elsewhere.toml")
    assert (checked.code, "of this archive" in checked.out) == (0, False)


def test_a_wrong_name_of_an_archive_is_none_without_own_rows(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(FIX)
    for command in (("list",), ("check", "mine.toml")):
        ran = cli("table", *command, "--archive", "nowhere")
        assert (ran.code, "there is no archive" in ran.err) == (5, True)


def test_own_rows_are_never_written_over_and_no_option_is_named_that_would(cli: Cli, harbour: Path) -> None:
    held = (harbour / "tables" / "chip.toml").read_bytes()
    ran = cli("table", "new", "maker", "-o", "tables/chip.toml")
    assert (ran.code, "--force" in ran.err) == (2, False)
    assert "give the name of a new file" in ran.err
    assert (harbour / "tables" / "chip.toml").read_bytes() == held


def test_an_audit_leaves_the_persons_own_folder_out_however_it_is_named(
    cli: Cli, harbour: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "a.toml").write_text("[[chip]\n")
    for folder in ("../mine", str(tmp_path / "mine")):
        monkeypatch.setenv("IMAGEKEEPER_TABLES", folder)
        assert cli("table", "list").code == 1
        assert cli("archive", "audit", "--json").json["own_rows"] == []


def test_a_page_holds_against_a_mask_rom_what_the_agreement_does(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    """A mask ROM cannot lose charge: the page knows the technology, too."""
    first = bytes(i * 37 % 251 for i in range(4096))
    gone = {i * 131 % 4096: 1 << i * 5 % 8 for i in range(60)}   # scattered bits that went from 0 to 1
    faded = bytes(byte | gone.get(i, 0) for i, byte in enumerate(first))
    for name, data in (("a.bin", first), ("b.bin", faded)):
        (harbour / name).write_bytes(data)
        cli("carrier", "read", "tg85-u4", name)
    agreed = cli("carrier", "agree", "tg85-u4", "--json").json["comparison"]["findings"]
    assert cli("report", "-o", tmp_path / "pages").code == 0
    page = (tmp_path / "pages" / "carriers" / "tg85-u4.html").read_text("utf-8")
    assert "charge-loss" not in [one["code"] for one in agreed]
    assert "charge" not in page.split('id="differences"')[1].split("<h2")[0].lower()
    assert cli("carrier", "add", "eprom", "--kind", "eprom", "--part", "2732").code == 0
    for name in ("a.bin", "b.bin"):
        cli("carrier", "read", "eprom", name)
    assert "charge-loss" in str(cli("carrier", "agree", "eprom", "--json").json["comparison"]["findings"])


def test_an_empty_file_of_own_rows_is_told_what_to_do(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "none.toml").write_text("")
    ran = cli("table", "check", "none.toml")
    assert ran.out.startswith("none.toml: 0 rows can be used\n  next: imagekeeper table new chip ")
