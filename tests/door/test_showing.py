"""A result of the door is shown as the command that gives it shows it: as text, and as its JSON document."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import imagekeeper
from imagekeeper.cli import _own_words
from imagekeeper.sentences.voice import speaking
from tests.conftest import Ran
from tests.door.test_mistakes import OF_THE_COMMAND_LINE

#: The command, and the door's way to the same result.
BOTH: dict[str, tuple[list[str], Callable[[], Any]]] = {
    "compare": (
        ["compare", "u5-first.bin", "u5-second.bin", "--chip", "27128"],
        lambda: imagekeeper.compare("u5-first.bin", "u5-second.bin", chip="27128"),
    ),
    "inspect": (["inspect", "u5-second.bin"], lambda: imagekeeper.inspect("u5-second.bin")),
    "selfcheck": (["selfcheck", "u17-second.bin"], lambda: imagekeeper.selfcheck("u17-second.bin")),
    "chip": (["chip", "show", "27128"], lambda: imagekeeper.find_chip("27128")),
    "chips": (["chip", "list", "--size", "16K"], lambda: imagekeeper.list_chips(size_bytes=16384)),
    "unknown chip": (
        ["chip", "unknown", "--pins", "24", "--size", "2K", "--measured", "21=5v"],
        lambda: imagekeeper.narrow_chip(24, size_bytes=2048, measured={21: "5v"}),
    ),
    "substitute": (["chip", "substitute", "27128"], lambda: imagekeeper.substitute("27128")),
    "format": (["floppy", "show", "360K"], lambda: imagekeeper.find_format("360K")),
    "solve": (["floppy", "solve", "office.img"], lambda: imagekeeper.solve("office.img")),
    "drives": (["floppy", "drives", "360K"], lambda: imagekeeper.match_drives("360K")),
    "vote": (
        ["vote", "u5-first.bin", "u5-second.bin", "u5-third.bin", "-o", "voted.bin", "--force"],
        lambda: imagekeeper.vote("u5-first.bin", "u5-second.bin", "u5-third.bin", output="voted.bin", force=True),
    ),
    "convert": (
        ["convert", "u4-first.bin", "-o", "u4.hex", "--invert", "--force"],
        lambda: imagekeeper.convert("u4-first.bin", "u4.hex", invert=True, force=True),
    ),
    "plan chip": (
        ["plan", "chip", "u4-first.bin", "--chip", "27C256", "--socket", "27128", "-o", "b.hex", "--force"],
        lambda: imagekeeper.plan_chip("u4-first.bin", "b.hex", "27C256", socket="27128", force=True),
    ),
    "plan disk": (
        ["plan", "disk", "office.img", "--drive", "5.25-48tpi", "-o", "w.img", "--force"],
        lambda: imagekeeper.plan_disk("office.img", "w.img", "5.25-48tpi", force=True),
    ),
}


@pytest.mark.parametrize("name", BOTH)
def test_text_and_json_are_those_of_the_command(cli: Callable[..., Ran], folder: Path, name: str) -> None:
    command, ask = BOTH[name]
    text, document = cli(*command), cli(*command, "--json")
    with speaking(_own_words):   # but for the words of who speaks they are the same
        result = ask()
        shown = imagekeeper.text(result)
    assert imagekeeper.to_json(result) == document.out.rstrip("\n")
    assert json.loads(document.out)["schema"] == result.SCHEMA
    assert shown == text.out.rstrip("\n")
    assert result.exit_code == text.code if hasattr(result, "exit_code") else text.code == 0


@pytest.mark.parametrize("name", BOTH)
def test_no_result_of_the_door_names_a_command(folder: Path, name: str) -> None:
    assert not OF_THE_COMMAND_LINE.search(imagekeeper.to_json(BOTH[name][1]()))


def test_a_fingerprint_is_shown_alone(cli: Callable[..., Ran], folder: Path) -> None:
    told = cli("fingerprint", "u4-first.bin").out.rstrip("\n")
    assert imagekeeper.text(imagekeeper.fingerprint("u4-first.bin")) == told


def test_a_listing_and_a_record_are_shown(cli: Callable[..., Ran], folder: Path) -> None:
    with speaking(_own_words), imagekeeper.open_disk("office.img") as disk:
        assert imagekeeper.text(disk.listing) == cli("files", "list", "office.img").out.rstrip("\n")
        assert imagekeeper.to_json(disk.listing) == cli("files", "list", "office.img", "--json").out.rstrip("\n")
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    archive.add_carrier("tg85-disk", "floppy")
    archive.add_reads("tg85-disk", "office.img")
    shown = cli("carrier", "show", "tg85-disk", "--archive", "harbour").out.rstrip("\n")
    with speaking(_own_words):
        assert imagekeeper.text(archive.carrier("tg85-disk")) == shown
    assert not OF_THE_COMMAND_LINE.search(imagekeeper.to_json(archive.carrier("tg85-disk")))
    assert imagekeeper.text(archive.audit()).splitlines()[0] in cli("archive", "audit", "--archive", "harbour").out


@pytest.mark.parametrize("thing", [None, b"TIDE", imagekeeper.read(b"TIDE"), imagekeeper.hexdump(b"TIDE")])
def test_what_has_no_text_is_a_type_error(thing: Any) -> None:
    with pytest.raises(TypeError, match="there is no text of "):
        imagekeeper.text(thing)
