"""A pipe without a writer, wherever a file is expected: no command waits for it, and none ends in a traceback."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Ran

Cli = Callable[..., Ran]

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes"),
]

#: Much longer than any of these commands takes, even on a busy machine. [s]
PATIENCE = 60

COMMANDS = (
    ("archive", "audit"), ("archive", "export", "-o", "out.zip"), ("archive", "replicate", "copy"),
    ("archive", "reindex"), ("archive", "table", "-o", "out.csv"), ("carrier", "list"), ("carrier", "show", "tg85-u4"),
    ("carrier", "extract", "tg85-u4", "-o", "out.bin"), ("search", "Quillmere"), ("report", "-o", "pages"),
    ("carrier", "note", "tg85-u4", "the window is covered"), ("carrier", "read", "tg85-u4", "u4.bin"),
    ("carrier", "add", "tg85-u5", "--kind", "eprom"), ("archive", "repair"),
)  # fmt: skip


@contextmanager
def in_time(what: str) -> Iterator[None]:
    """Fail where something waits: the alarm ends the waiting call."""

    def ring(number: int, frame: Any) -> None:
        pytest.fail(f"it waits: {what}")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(PATIENCE)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture
def archive(cli: Cli, tmp_path: Path) -> Path:
    (tmp_path / "u4.bin").write_bytes(bytes(range(256)) * 8)
    for command in (
        ("archive", "init", "harbour"), ("carrier", "add", "tg85-u4", "--kind", "eprom", "--archive", "harbour"),
        ("carrier", "read", "tg85-u4", "u4.bin", "--archive", "harbour"), ("archive", "audit", "--archive", "harbour"),
    ):  # fmt: skip
        assert cli(*command).code == 0, command
    (tmp_path / "harbour" / "lock").touch()
    return tmp_path / "harbour"


def places(archive: Path) -> list[str]:
    """Every file of the archive by its place, and some that a running or broken off program leaves."""
    there = [str(path.relative_to(archive)) for path in sorted(archive.rglob("*")) if path.is_file()]
    return [*there, "log/audit-unfinished.jsonl", "staging/left", "log/left"]


def replaced(path: Path) -> None:
    path.unlink(missing_ok=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(path)


def test_a_pipe_anywhere_in_an_archive_stops_no_command(cli: Cli, archive: Path, tmp_path: Path) -> None:
    for number, place in enumerate(places(archive)):
        broken = tmp_path / f"broken-{number}"
        shutil.copytree(archive, broken)
        replaced(broken / place)
        for command in COMMANDS:
            with in_time(f"{' '.join(command)} with a pipe as {place}"):
                ran = cli(*command, "--archive", broken)
            assert ran.code in (0, 1, 2, 3, 4, 5), (place, command, ran)
            assert "was not built for" not in ran.err, (place, command, ran)
            for made in ("out.zip", "out.csv", "out.bin"):
                (tmp_path / made).unlink(missing_ok=True)
            for made in ("copy", "pages"):
                shutil.rmtree(tmp_path / made, ignore_errors=True)
        shutil.rmtree(broken)


def test_a_pipe_anywhere_in_a_bag_stops_no_import(cli: Cli, archive: Path, tmp_path: Path) -> None:
    assert cli("archive", "export", "-o", "bag", "--archive", archive).code == 0
    bag = tmp_path / "bag"
    assert bag.is_dir()
    for number, place in enumerate([str(p.relative_to(bag)) for p in sorted(bag.rglob("*")) if p.is_file()]):
        broken = tmp_path / f"bag-{number}"
        shutil.copytree(bag, broken)
        replaced(broken / place)
        with in_time(f"importing a bag with a pipe as {place}"):
            ran = cli("archive", "import", broken, "--archive", archive)
        assert ran.code in (2, 3, 4), (place, ran)


@pytest.mark.parametrize("command", [("merge",), ("repair", "--from")])
def test_a_pipe_in_another_archive_stops_neither_merge_nor_repair(
    cli: Cli, archive: Path, tmp_path: Path, command: tuple[str, ...]
) -> None:
    for number, place in enumerate(places(archive)):
        broken = tmp_path / f"other-{number}"
        shutil.copytree(archive, broken)
        replaced(broken / place)
        with in_time(f"{command[0]} from an archive with a pipe as {place}"):
            ran = cli("archive", *command, broken, "--archive", archive)
        assert ran.code in (0, 1, 2, 3, 4, 5), (place, ran)
        assert "was not built for" not in ran.err, (place, ran)


# --- given as a file ---


def test_what_is_no_file_is_said_to_be_none(cli: Cli, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    with socket.socket(socket.AF_UNIX) as listening:
        os.chdir(tmp_path)   # the name of a socket must be short
        listening.bind("socket")
        for given, code, advice in (
            ("pipe", "not-a-file", "give - and pipe it"), ("socket", "not-a-file", "give - and pipe it"),
            ("/dev/null", "not-a-file", "give - and pipe it"), ("/dev/tty", "not-a-file", "give - and pipe it"),
            ("folder", "directory", "give the file inside it"),
        ):  # fmt: skip
            for command in (
                ("inspect", given), ("fingerprint", given), ("hexdump", given), ("selfcheck", given),
                ("compare", given, given), ("convert", given, "-o", "out.hex"), ("floppy", "solve", given),
                ("files", "list", given), ("files", "check", given), ("files", "map", given, "-o", "out.svg"),
            ):  # fmt: skip
                with in_time(f"{' '.join(command)}"):
                    ran = cli(*command, "--json")
                assert (ran.code, ran.json["code"]) == (3, code), (command, ran)
                assert advice in ran.json["hint"], (command, ran)


# --- nobody listens ---


@pytest.mark.parametrize(
    "arguments", [["--version"], ["--help"], ["chip", "--help"], ["floppy", "list"], ["--version", "-h"]]
)
@pytest.mark.parametrize("streams", ["closed", "both closed", "gone"])
def test_an_output_that_is_closed_brings_no_traceback(arguments: list[str], streams: str, tmp_path: Path) -> None:
    behind = {"closed": ">&-", "both closed": ">&- 2>&-", "gone": "| true"}[streams]
    command = " ".join([sys.executable, "-m", "imagekeeper", *arguments, behind])
    ran = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, check=False, timeout=PATIENCE)
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, b"", b"")
