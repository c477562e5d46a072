"""Names and remarks that would drive a terminal are shown, and drive nothing: whole commands, on real files."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran

Cli = Callable[..., Ran]

#: Clears the screen, sets the window's title, rings.
DRIVES = "\x1b[2J\x1b]0;mine\x07"

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))


@pytest.fixture
def harbour(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive in a folder with such a name, with a chip whose every text is such a text."""
    name = f"harbour{DRIVES}"
    shown(cli, "archive", "init", name, "--title", f"Harbour {DRIVES}", code=0)
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / name))
    (tmp_path / f"u4{DRIVES}.bin").write_bytes(CHIP)
    shown(cli, "machine", "add", "tg85", "--name", f"Quillmere {DRIVES}", "--note", DRIVES, code=0)
    shown(
        cli, "carrier", "add", "tg85-u4", "--kind", "eprom", "--part", f"2716{DRIVES}", "--machine", "tg85",
        "--board", DRIVES, "--position", DRIVES, "--label", DRIVES, "--note", DRIVES, code=0,
    )  # fmt: skip
    shown(cli, "carrier", "read", "tg85-u4", f"u4{DRIVES}.bin", "--reader", DRIVES, "--note", DRIVES, code=0)
    return tmp_path / name


def shown(cli: Cli, *arguments: str, code: int) -> Ran:
    """Run a command, as text, and hold what it writes against the rule."""
    ran = cli(*arguments)
    assert ran.code == code, ran
    for line in (ran.out + ran.err).split("\n"):
        assert line.isprintable(), line
    return ran


def test_the_record_of_a_carrier(cli: Cli, harbour: Path) -> None:
    shown(cli, "carrier", "agree", "tg85-u4", "--reference", f"00000000={DRIVES}", code=1)
    for command in (
        ("carrier", "show", "tg85-u4"), ("carrier", "list"), ("carrier", "list", "--todo"), ("machine", "show", "tg85"),
        ("machine", "list"), ("carrier", "note", "tg85-u4", DRIVES), ("machine", "note", "tg85", DRIVES),
        ("carrier", "edit", "tg85-u4", "--condition", DRIVES), ("search", "quillmere"), ("archive", "reindex"),
    ):  # fmt: skip
        assert "\\x1b[2J" in shown(cli, *command, code=0).out or command == ("archive", "reindex")


def test_an_audit_and_what_follows_it(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    copy = f"copy{DRIVES}"
    assert "copy\\x1b[2J" in shown(cli, "archive", "replicate", copy, code=0).out
    kept = next(harbour.rglob("tg85-u4"))
    (kept / f"letter{DRIVES}.txt").write_text("dear harbour office")
    assert "letter\\x1b[2J" in shown(cli, "archive", "audit", code=1).out
    image = next(file for file in kept.rglob("*") if file.is_file() and file.read_bytes() == CHIP)
    image.write_bytes(CHIP[:-1] + b"\x00")
    assert "damaged" in shown(cli, "archive", "audit", code=4).out
    assert "letter\\x1b[2J" in shown(cli, "archive", "repair", code=4).out
    told = shown(cli, "archive", "repair", "--from", copy, "--quarantine-unexpected", code=0).out
    assert "set aside: " in told
    assert "letter\\x1b[2J" in told
    assert "All is as it should be" in shown(cli, "archive", "audit", code=0).out


def test_bags_tables_pages_and_labels(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    for command in (
        ("archive", "export", "-o", f"bag{DRIVES}.zip"), ("archive", "table", "-o", f"table{DRIVES}.csv"),
        ("report", "-o", f"pages{DRIVES}"), ("label", "tg85-u4", "-o", f"labels{DRIVES}.html"),
    ):  # fmt: skip
        assert "\\x1b[2J" in shown(cli, *command, code=0).out
    text = (tmp_path / f"table{DRIVES}.csv").read_text("utf-8")
    (tmp_path / f"table{DRIVES}.csv").write_text(text.replace("2716", "2732"), "utf-8")
    assert "\\x1b[2J" in shown(cli, "archive", "fill-in", f"table{DRIVES}.csv", code=0).out
    (tmp_path / f"known{DRIVES}.csv").write_text(f"name,crc32\nother{DRIVES},00000000\n")
    assert "known\\x1b[2J" in shown(cli, "archive", "references", f"known{DRIVES}.csv", code=0).out
    shutil.copytree(harbour, tmp_path / f"other{DRIVES}")
    assert "other\\x1b[2J" in shown(cli, "archive", "merge", f"other{DRIVES}", "--dry-run", code=0).out


def test_files_of_images(cli: Cli, tmp_path: Path) -> None:
    one, other = f"one{DRIVES}.bin", f"other{DRIVES}.bin"
    (tmp_path / one).write_bytes(CHIP)
    third = f"third{DRIVES}.bin"
    (tmp_path / other).write_bytes(CHIP[:-1] + b"\x00")
    (tmp_path / third).write_bytes(CHIP)
    for code, *command in (
        (0, "fingerprint", one), (0, "inspect", one, "--picture", f"map{DRIVES}.svg"), (0, "selfcheck", one),
        (1, "compare", one, other, "--picture", f"differences{DRIVES}.svg"),
        (0, "vote", one, other, third, "-o", f"voted{DRIVES}.bin"), (0, "convert", one, "-o", f"out{DRIVES}.hex"),
        (1, "floppy", "solve", one), (5, "fingerprint", f"none{DRIVES}.bin"),
    ):  # fmt: skip
        ran = shown(cli, *(str(word) for word in command), code=int(code))
        assert "\\x1b[2J" in ran.out + ran.err or command[0] == "floppy"
