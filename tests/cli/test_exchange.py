"""The commands that hand carriers on and take them in, as people and programs use them."""

from __future__ import annotations

import hashlib
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bagit
import pytest

from tests.archive.harbour import tree
from tests.cli.test_bad_input import check_document
from tests.conftest import Ran

Cli = Callable[..., Ran]

CHIP = random.Random(85).randbytes(2048)


@pytest.fixture
def bench(cli: Cli, tmp_path: Path) -> Path:
    """Two archives: one with a carrier and a read, one empty."""
    (tmp_path / "u4.bin").write_bytes(CHIP)
    (tmp_path / "u4-again.bin").write_bytes(CHIP[::-1])
    for arguments in (
        ("archive", "init", "harbour", "--title", "Harbour office"), ("archive", "init", "museum"),
        ("carrier", "add", "tg85-u4", "--kind", "eprom", "--machine", "Quillmere TG-85", "--archive", "harbour"),
        ("carrier", "read", "tg85-u4", "u4.bin", "--archive", "harbour"),
        ("carrier", "agree", "tg85-u4", "--archive", "harbour"),
    ):  # fmt: skip
        assert cli(*arguments).code == 0
    return tmp_path


def run(cli: Cli, *arguments: str, code: int = 0) -> Any:
    ran = cli(*arguments, "--json")
    assert (ran.code, ran.err) == (code, ""), ran
    return check_document(ran.out)


@pytest.mark.parametrize("target", ["bag", "bag.zip", "bag.tar"])
def test_from_one_archive_to_the_other(cli: Cli, bench: Path, target: str) -> None:
    out = run(cli, "archive", "export", "-o", target, "--archive", "harbour")
    assert (out["schema"], out["carriers"], out["noted"]) == ("export/1", ["tg85-u4"], True)
    if target == "bag":
        assert bagit.Bag(str(bench / "bag")).is_valid()
    before = tree(bench / "museum")
    trial = run(cli, "archive", "import", target, "--dry-run", "--archive", "museum")
    assert tree(bench / "museum") == before
    result = run(cli, "archive", "import", target, "--archive", "museum")
    assert trial["taken"] == result["taken"]
    assert (result["schema"], result["title"]) == ("import/1", "Harbour office")
    assert [(one["here"], one["what"], one["reads"]) for one in result["taken"]] == [("tg85-u4", "added", 1)]
    assert cli("carrier", "show", "tg85-u4", "--archive", "museum").out == cli(
        "carrier", "show", "tg85-u4", "--archive", "harbour"
    ).out
    assert cli("archive", "audit", "--archive", "museum").code == 0


def test_the_same_moment_gives_the_same_file(cli: Cli, bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reproducible Builds project, SOURCE_DATE_EPOCH specification."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772452800")
    made = []
    for folder in ("one", "two"):
        (bench / folder).mkdir()
        assert cli("archive", "export", "-o", f"{folder}/bag.zip", "--archive", "harbour").code == 0
        made.append((bench / folder / "bag.zip").read_bytes())
    assert made[0] == made[1]


def test_people_are_told_what_was_done(cli: Cli, bench: Path) -> None:
    out = cli("archive", "export", "-o", "bag.zip", "--archive", "harbour").out
    assert "bag.zip: a bag as a zip file, 1 carrier, " in out
    trial = cli("archive", "import", "bag.zip", "--dry-run", "--archive", "museum").out
    assert "tg85-u4: would be: new here, with its history of 3 versions, 1 read" in trial
    assert trial.endswith("Nothing was changed.\n")
    assert "new here, with its history" in cli("archive", "import", "bag.zip", "--archive", "museum").out
    assert "1 record with nothing new" in cli("archive", "import", "bag.zip", "--archive", "museum").out
    (bench / "u4-third.bin").write_bytes(CHIP[::-1])
    for name, reader, file in (("harbour", "bench", "u4-again.bin"), ("museum", "monitor", "u4-third.bin")):
        assert cli("carrier", "read", "tg85-u4", file, "--reader", reader, "--archive", name).code == 0
    merged = cli("archive", "merge", "harbour", "--archive", "museum").out
    assert "both archives had moved on; what is new there is merged" in merged
    assert "1 read: r3 (there r2)" in merged
    assert all(len(line) <= 110 for line in merged.splitlines())


@pytest.mark.parametrize(
    ("arguments", "code", "error"),
    [
        (("archive", "export", "-o", "u4.bin"), 2, "exists"),
        (("archive", "export", "-o", "new", "tg85-u9"), 5, "carrier-missing"),
        (("archive", "export", "-o", "new", "--machine", "none"), 5, "machine-missing"),
        (("archive", "export", "-o", "no/such/folder/bag"), 2, "cannot-write"),
        (("archive", "export", "-o", ""), 2, "usage"),
        (("archive", "export", "-o", "-"), 2, "usage"),
        (("archive", "import", "u4.bin"), 3, "bag-damaged"),
        (("archive", "import", "museum"), 3, "bag-damaged"),
        (("archive", "import", "nothing"), 5, "not-found"),
        (("archive", "merge", "nothing"), 5, "archive-missing"),
        (("archive", "merge", "harbour"), 2, "usage"),
        (("archive", "table", "-o", "u4.bin"), 2, "exists"),
        (("archive", "fill-in", "nothing.csv"), 5, "not-found"),
        (("archive", "fill-in", "u4.bin"), 3, "table-form"),
        (("archive", "references", "u4.bin"), 3, "table-form"),
        (("archive", "references", "museum"), 3, "directory"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)  # fmt: skip
def test_what_cannot_be_done_is_told_and_leaves_no_trace(
    cli: Cli, bench: Path, arguments: tuple[str, ...], code: int, error: str
) -> None:
    before = tree(bench / "harbour" / "carriers") | tree(bench / "museum")
    listing = {path.name for path in bench.iterdir()} | {"cache"}
    document = run(cli, *arguments, "--archive", "harbour", code=code)
    assert document["code"] == error
    assert document["why"]
    assert document["hint"]
    assert tree(bench / "harbour" / "carriers") | tree(bench / "museum") == before
    assert {path.name for path in bench.iterdir()} | {"cache"} == listing
    assert (bench / "u4.bin").read_bytes() == CHIP


def test_a_table_there_and_back(cli: Cli, bench: Path) -> None:
    out = run(cli, "archive", "table", "-o", "carriers.csv", "--bom", "--archive", "harbour")
    assert (out["schema"], out["carriers"]) == ("table/1", 1)
    text = (bench / "carriers.csv").read_text("utf-8-sig")
    (bench / "carriers.csv").write_text(text.replace("Quillmere TG-85", "Quillmere TG-85 no. 2"))
    result = run(cli, "archive", "fill-in", "carriers.csv", "--archive", "harbour")
    assert (result["schema"], result["changes"][0]["after"]) == ("fill-in/1", "Quillmere TG-85 no. 2")
    assert "0 corrected, 1 with nothing new" in cli("archive", "fill-in", "carriers.csv", "--archive", "harbour").out


def test_a_list_of_references(cli: Cli, bench: Path) -> None:
    (bench / "list.csv").write_text(
        f"name,size,sha256\nTG85 U4,2048,{hashlib.sha256(CHIP).hexdigest()}\ntg85-u4 old,2048,{'0' * 64}\n"
    )
    text = cli("archive", "references", "list.csv", "--dry-run", "--archive", "harbour")
    assert text.code == 0
    assert "agreed image fits line 2 (TG85 U4) by sha256; would be recorded" in text.out
    result = run(cli, "archive", "references", "list.csv", "--archive", "harbour")
    assert (result["schema"], result["matches"][0]["recorded"]) == ("corroboration/1", True)
    (bench / "other.csv").write_text(f"name,size,sha256\ntg85-u4 old,2048,{'0' * 64}\n")
    assert run(cli, "archive", "references", "other.csv", "--archive", "harbour", code=1)["unlike"]


@pytest.mark.parametrize("command", ["export", "import", "merge", "table", "fill-in", "references"])
def test_every_command_explains_itself(cli: Cli, command: str) -> None:
    ran = cli("archive", command, "--help")
    assert ran.code == 0
    assert f"Example: imagekeeper archive {command}" in " ".join(ran.out.split())
    assert "--json" in ran.out


def test_the_second_history_of_a_conflict_is_put_aside_and_merged_as_the_repair_says(
    cli: Cli, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(bench / "harbour", bench / "laptop")
    for place, note in (("harbour", "label came off"), ("laptop", "window covered")):
        assert cli("carrier", "note", "tg85-u4", note, "--archive", place).code == 0
    for path in sorted((bench / "laptop").rglob("*")):   # as a program does that keeps folders in step
        target = bench / "harbour" / path.relative_to(bench / "laptop")
        if path.is_file() and path.read_bytes() != target.read_bytes():
            shutil.copy(path, target.with_name(f"{target.stem} (conflicted copy){target.suffix}"))
    told = cli("archive", "repair", "--archive", "harbour")
    assert told.code == 1
    assert "second history: tg85-u4" in told.out
    assert "--quarantine-unexpected" in told.out
    told = cli("archive", "repair", "--archive", "harbour", "--quarantine-unexpected")
    assert told.code == 0, told
    (command,) = re.findall(r"next: imagekeeper (archive merge \S+), in the archive's folder", told.out)
    monkeypatch.chdir(bench / "harbour")
    merged = cli(*command.split())
    assert (merged.code, "1 remark" in merged.out) == (0, True)
    shown = cli("carrier", "show", "tg85-u4").out
    assert "label came off" in shown
    assert "window covered" in shown
    assert cli("archive", "audit").code == 0


def test_a_copy_is_repaired_as_the_copying_says_and_stays_one(cli: Cli, bench: Path) -> None:
    assert run(cli, "archive", "replicate", "copy", "--archive", "harbour")["ok"]
    (image,) = (bench / "copy").rglob("u4.bin")
    image.write_bytes(b"damaged")
    out = run(cli, "archive", "repair", "--from", "harbour", "--archive", "copy")
    assert (out["ok"], out["of_copy"], out["events"]) == (True, True, [])
    assert cli("carrier", "note", "tg85-u4", "window covered", "--archive", "harbour").code == 0
    out = run(cli, "archive", "replicate", "copy", "--archive", "harbour")
    assert (out["ok"], out["extended"]) == (True, ["tg85-u4"])
    for archive in ("harbour", "copy"):
        assert cli("archive", "audit", "--archive", archive).code == 0
