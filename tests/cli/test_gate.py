"""No character that drives a terminal, or changes how the rest reads, leaves any command: its text, JSON and files."""

from __future__ import annotations

import io
import json
import re
import shutil
import sys
import zipfile
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from itertools import cycle, islice
from pathlib import Path
from typing import Any

import click
import pytest

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.cli import _shell, root, run
from imagekeeper.cli._terminal import gated
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs import specimen_disks
from imagekeeper.provenance import places
from tests import forbidden
from tests.conftest import Ran
from tests.forbidden import HOSTILE, NAME
from tests.present.collection import photograph

pytestmark = pytest.mark.long

Cli = Callable[..., Ran]

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))
NOW = "2026-03-02T12:00:00Z"

#: Files that commands write for people and other programs; images are bytes, and the archive keeps records as they are.
WRITTEN = {".csv", ".html", ".svg", ".txt", ".json"}


def clean(ran: Ran, about: object = "") -> Ran:
    """Hold what a command wrote against the rule."""
    assert not forbidden.found(ran.out), (about, ran.out)
    assert not forbidden.found(ran.err), (about, ran.err)
    return ran


def clean_files(folder: Path, but: Path) -> int:
    """Hold the files of a folder against the rule, and tell how many there were."""
    count = 0
    for path in folder.rglob("*"):
        if path.suffix in WRITTEN and path.is_file() and not path.is_relative_to(but):
            text = path.read_bytes().decode()
            if path.suffix == ".csv":   # RFC 4180: CR LF parts the rows
                text = text.replace("\r\n", "\n")
            assert not forbidden.found(text), path
            count += 1
    return count


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an archive with every kind of record, nothing hostile in it, and the files that it was made of."""
    folder = tmp_path_factory.mktemp("made")
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(io.StringIO()):
        patch.chdir(folder)
        patch.setenv("IMAGEKEEPER_ARCHIVE", "harbour")
        patch.setenv("IMAGEKEEPER_CACHE", str(folder / "cache"))
        build(folder)
    return folder


@pytest.fixture
def harbour(cli: Cli, made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it, to work on."""
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    return tmp_path / "harbour"


def build(folder: Path) -> None:
    """Make that archive."""
    for name, data in (("one.bin", CHIP), ("two.bin", CHIP), ("off.bin", CHIP[:-1] + b"\0")):
        (folder / name).write_bytes(data)
    (folder / "u4.png").write_bytes(photograph(24, 16))
    reads = ("--reader", "bench", "--operator", "office", "--vcc", "5.0", "--temperature", "21", "--date", "2026-03-02",
             "--specimen", "A", "--note", "cleaned")   # fmt: skip
    for code, *command in (
        (0, "archive", "init", "harbour", "--title", "Harbour office"),
        (0, "machine", "add", "tg85", "--name", "Quillmere TG-85", "--maker", "Quillmere", "--serial", "7", "--note",
         "n"),
        (0, "machine", "photo", "tg85", "u4.png", "--caption", "front"), (0, "machine", "note", "tg85", "stands here"),
        (0, "carrier", "add", "u4", "--kind", "eprom", "--part", "2716", "--machine", "Quillmere TG-85", "--board",
         "main", "--position", "U4", "--label", "EVEN", "--markings", "8512", "--date-code", "8512", "--package", "DIP",
         "--condition", "good", "--note", "spare"),
        (0, "carrier", "add", "u5", "--kind", "eprom", "--machine", "Quillmere TG-85"),
        (0, "carrier", "read", "u4", "one.bin", *reads), (0, "carrier", "read", "u4", "two.bin", *reads[2:]),
        (0, "carrier", "read", "u5", "one.bin", *reads), (0, "carrier", "read", "u5", "off.bin", *reads),
        (0, "carrier", "agree", "u4"), (1, "carrier", "agree", "u5"),
        (0, "carrier", "note", "u4", "pin 1 bent"), (0, "carrier", "photo", "u4", "u4.png", "--caption", "above"),
        (0, "carrier", "derive", "u4", "--pad-to", "4K", "--fill", "FF", "--title", "padded"),
        (0, "carrier", "replace", "u4", "two.bin", "--written", "one.bin", "--part", "2716", "--reader", "b",
         "--note", "x"),
        (0, "carrier", "tried", "u4", "--outcome", "passed", "--note", "ran"),
        (0, "carrier", "correct", "u4", "r2", "--vcc", "4.75", "--reason", "wrong line of the log"),
        (0, "carrier", "read", "u4", "one.bin", "--reader", "other"),
        (0, "carrier", "withdraw", "u4", "r3", "--reason", "of U5"),
    ):  # fmt: skip
        assert run([str(word) for word in command]) == code, command


def records(archive: ArchiveStore, object_id: str) -> Iterator[tuple[str, Any]]:
    """Every file of records of a carrier or machine, with what stands in it; events are a list too."""
    for path in archive.inventory(object_id).state:
        data = archive.read_file(object_id, path)
        if path.endswith(".jsonl"):
            yield path, [json.loads(line) for line in data.splitlines()]
        elif path.endswith(".json"):
            yield path, json.loads(data)


def leaves(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every text in a document; of the members of a list only the last is taken."""
    if isinstance(value, str):
        yield way
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*way, key))
    elif isinstance(value, list) and value:
        yield from leaves(value[-1], (*way, len(value) - 1))


def at(value: Any, way: tuple[Any, ...]) -> Any:
    """What stands at a place."""
    for step in way:
        value = value[step]
    return value


def changed(value: Any, way: tuple[Any, ...], text: str) -> Any:
    """A copy of a document with another text at one place."""
    copy = json.loads(json.dumps(value))
    at(copy, way[:-1])[way[-1]] = text
    return copy


def commit(archive: ArchiveStore, object_id: str, path: str, document: Any) -> None:
    """Keep a record with digests that fit: only what it says is hostile."""
    lines = document if path.endswith(".jsonl") else [document]
    data = b"".join(json.dumps(one).encode() + b"\n" for one in lines)
    head = archive.inventory(object_id).head
    archive.commit(object_id, {path: data}, message="tampered", user=None, now=NOW, expected_head=head)


#: What is asked of an archive whose records say hostile things: the first five each time, of the others some each time.
ASKED = (
    ("carrier", "show", "u4"), ("machine", "show", "tg85"), ("archive", "audit", "--rebuild-derived"),
    ("archive", "repair"), ("archive", "table", "-o", "t.csv", "--force"),
    ("carrier", "list"), ("carrier", "list", "--todo"),
    ("machine", "list"), ("search", "quillmere"), ("report", "-o", "pages", "--force"),
    ("label", "u4", "-o", "labels.html", "--force"), ("carrier", "agree", "u4"),
    ("carrier", "extract", "u4", "-o", "out.bin", "--force"), ("carrier", "note", "u4", "seen"),
    ("machine", "note", "tg85", "seen"), ("archive", "export", "-o", "bag.zip", "--force"), ("archive", "reindex"),
)  # fmt: skip

KINDS = ("carrier.json", "reads/", "agreed.json", "events.jsonl", "notes.json", "photos.json", "derivations.json",
         "replacements.json", "trials.json", "withdrawals.json", "machine.json")   # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_text_of_every_record(cli: Cli, made: Path, harbour: Path, tmp_path: Path, kind: str) -> None:
    """One text after the other, digests and ids too, where most records can no longer be read."""
    object_id = "tg85" if kind == "machine.json" else "u4"
    found = list(records(ArchiveStore.open(harbour), object_id))
    asked = cycle(ASKED[5:])
    tried = 0
    for path, document in found:
        if not path.startswith(kind) or path.startswith("reads/r1"):
            continue
        for way in leaves(document):
            shutil.rmtree(harbour)
            shutil.copytree(made / "harbour", harbour)
            commit(ArchiveStore.open(harbour), object_id, path, changed(document, way, HOSTILE))
            for number, command in enumerate((*ASKED[:5], *islice(asked, 3))):
                about = (path, way, command)
                if (number + tried) % 2:
                    clean(cli(*command), about)
                else:
                    json.loads(clean(cli(*command, "--json"), about).out)
            tried += 1
    assert tried >= 2
    assert clean_files(tmp_path, harbour) >= 2


def test_all_texts_at_once_that_a_record_bears(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    shutil.copytree(harbour, tmp_path / "trial")
    archive = ArchiveStore.open(tmp_path / "trial")
    borne = 0
    for path, document in list(records(archive, "u4")):
        for way in leaves(document):
            tampered = changed(document, way, HOSTILE)
            commit(archive, "u4", path, tampered)
            try:
                load_record(archive, "u4", archive.inventory("u4"))
            except ImagekeeperError:
                commit(archive, "u4", path, document)
            else:
                document = tampered
                borne += 1
        commit(ArchiveStore.open(harbour), "u4", path, document)
    shutil.rmtree(tmp_path / "trial")
    assert borne > 40
    for command in ASKED:
        clean(cli(*command), command)
        json.loads(clean(cli(*command, "--json"), command).out)
    assert clean_files(tmp_path, harbour) >= 4
    assert cli("archive", "export", "u5", "-o", "bag", "--operator", HOSTILE.replace("\0", "")).code == 0
    assert clean_files(tmp_path / "bag", tmp_path / "bag" / "data") >= 4


def test_json_says_what_the_record_says(cli: Cli, harbour: Path) -> None:
    said = HOSTILE.replace("\ud800", "").replace("\udcff", "") + "x" * 60_000
    archive = ArchiveStore.open(harbour)
    inventory = archive.inventory("u4")
    carrier = json.loads(archive.read_file("u4", places.CARRIER, inventory))
    commit(archive, "u4", places.CARRIER, carrier | {"label": said})
    shown = clean(cli("carrier", "show", "u4", "--json")).json
    assert said in [at(shown, way) for way in leaves(shown) if way[-1] == "label"]


def test_a_table_goes_out_and_comes_back(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    said = HOSTILE.replace("\0", "").replace("\ud800", "").replace("\udcff", "")
    archive = ArchiveStore.open(harbour)
    carrier = json.loads(archive.read_file("u4", places.CARRIER))
    texts = {"label": said, "note": "\\u202e", "board": " =1", "markings": "\uff1d1"}
    commit(archive, "u4", places.CARRIER, carrier | texts)
    assert cli("archive", "table", "-o", "t.csv").code == 0
    assert clean_files(tmp_path, harbour) == 1
    text = (tmp_path / "t.csv").read_text("utf-8")
    assert "' =1" in text
    assert "'\uff1d1" in text
    filled = cli("archive", "fill-in", "t.csv", "--json").json
    assert (filled["changes"], filled["unchanged"]) == ([], 2)


Way = tuple[str, ...]


def commands(command: click.Command = root, way: Way = ()) -> Iterator[tuple[Way, click.Command]]:
    """Every command that does something, with its name."""
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None
            yield from commands(found, (*way, name))
    else:
        yield way, command


#: A plain value for arguments by name; files for all others.
PLAIN = {
    "carrier_id": "u4", "machine_id": "tg85", "of_id": "u4", "text": "seen", "part": "2716", "socket": "2716",
    "disk": "360K", "name": "360K", "kind": "drive", "ids": "u4", "terms": "u4", "folder": "new", "bag": "bag.zip",
    "other": "harbour",
}  # fmt: skip

COMMANDS = list(commands())


def filled(command: click.Command, hostile: str | None, word: str) -> Iterator[str]:
    """The arguments of a command, and the options that it must have; one of them is hostile."""
    for one in command.params:
        text = word if one.name == hostile else PLAIN.get(one.name or "", "one.bin")
        if isinstance(one, click.Argument):
            yield text
        elif one.required or one.name == hostile:
            assert isinstance(one, click.Option)
            yield from (one.opts[-1], text if one.name == hostile else "eprom" if one.name == "kind" else "2716")


@pytest.mark.parametrize(("way", "command"), COMMANDS, ids=["-".join(way) for way, _ in COMMANDS])
def test_every_argument_of_every_command(
    cli: Cli, harbour: Path, tmp_path: Path, way: tuple[str, ...], command: click.Command
) -> None:
    (tmp_path / NAME).write_bytes(CHIP)
    for one in command.params:
        if getattr(one, "is_flag", False) or (way == ("demo",) and one.name == "into"):   # that one shows no name
            continue
        words = [*way, *filled(command, one.name, NAME)]
        clean(cli(*words), words)
        words = [*way, *filled(command, one.name, HOSTILE.replace("\0", "") + "9" * 60_000)]
        assert json.loads(clean(cli(*words, "--json"), words).out)["schema"]
    clean_files(tmp_path, harbour)


def test_commands_that_do_not_exist(cli: Cli, tmp_path: Path) -> None:
    for words in (
        (HOSTILE,), ("--" + HOSTILE,), ("archive", HOSTILE), ("fingerprint", "--" + HOSTILE), ("chip", "list", HOSTILE),
    ):  # fmt: skip
        ran = clean(cli(*words))
        assert (ran.code, ran.out) == (2, "")
        assert "\\x9b" in ran.err
        json.loads(clean(cli(*words, "--json")).out)


def test_what_files_hold(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    """Texts inside of files: names in zip files, on disks and in lists, titles, lines that are no records."""
    said = HOSTILE.replace("\ud800", "").replace("\udcff", "")
    latin = bytes(range(32)) + bytes(range(127, 160))
    with zipfile.ZipFile(tmp_path / "many.zip", "w") as target:
        for number in range(2):
            target.writestr(f"{number}{said}".replace("/", "").replace("\0", ""), CHIP)
    with zipfile.ZipFile(tmp_path / "one.zip", "w") as target:
        target.writestr(said.replace("\0", ""), CHIP)
    office = specimen_disks.office()
    office = office.replace(b"TIDE    LOG", b"\x1b\x9b\x07\x85\x8d\x90 \x7f\x0dLG").replace(b"HARBOUR    ", latin[1:12])
    (tmp_path / "office.img").write_bytes(office)
    mole = specimen_disks.mole()
    (tmp_path / "mole.img").write_bytes(mole.replace(b"STATION TXT", b"\x1b[2J\x07\x0d\x7fTXT"))
    (tmp_path / "head.s19").write_bytes(_s0(b"\x1b[2J\x9b\x07") + b"S1050000414276\nS9030000FC\n")
    (tmp_path / "bad.hex").write_bytes(b":" + said.encode("utf-8", "replace") + b"\n")
    (tmp_path / "list.csv").write_text(f"name,crc32\n\"{said.replace(chr(0), '')}\",00000000\n", "utf-8")
    (tmp_path / "bad.csv").write_text(f"cylinder,head,sector,state\n{said}\n", "utf-8")
    (tmp_path / "fill.csv").write_text(f"id,label,{said}\nu4,\"{said.replace(chr(0), '')}\",x\n", "utf-8")
    (tmp_path / "log.txt").write_bytes(CHIP[:64] + said.encode())
    for command in (
        ("fingerprint", "many.zip"), ("fingerprint", "one.zip"), ("inspect", "one.zip"),
        ("files", "list", "office.img"),
        ("files", "check", "office.img"), ("files", "extract", "office.img", "-o", "taken"),
        ("files", "map", "office.img", "-o", "map.svg"), ("files", "list", "mole.img"), ("files", "check", "mole.img"),
        ("floppy", "solve", "office.img"), ("fingerprint", "head.s19"), ("convert", "head.s19", "-o", "new.bin"),
        ("fingerprint", "bad.hex", "--from", "intel-hex"), ("archive", "references", "list.csv"),
        ("files", "list", "office.img", "--bad-sectors", "bad.csv"), ("archive", "fill-in", "fill.csv"),
        ("inspect", "log.txt", "--picture", "log.svg"), ("hexdump", "log.txt"), ("selfcheck", "log.txt"),
        ("carrier", "read", "u5", "office.img"), ("carrier", "show", "u5"), ("carrier", "show", "u4"),
        ("archive", "import", "many.zip"), ("archive", "merge", "many.zip"), ("report", "-o", "pages"),
    ):  # fmt: skip
        clean(cli(*command), command)
        clean(cli(*command, "--json"), command)
    assert clean_files(tmp_path / "pages", harbour) > 2
    assert clean_files(tmp_path / "taken", harbour) < 9
    for path in (tmp_path / "taken").rglob("*"):
        assert not forbidden.found(str(path))


def _s0(text: bytes) -> bytes:
    body = bytes([len(text) + 3, 0, 0]) + text
    return b"S0" + (body + bytes([0xFF - sum(body) & 0xFF])).hex().upper().encode() + b"\n"


def test_colour_is_ours_alone(cli: Cli, harbour: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With colour the same words stand there as without, and words of the user's stay without."""
    archive = ArchiveStore.open(harbour)
    carrier = json.loads(archive.read_file("u4", places.CARRIER))
    commit(archive, "u4", places.CARRIER, carrier | {"label": HOSTILE})
    painted = 0
    for command in (("carrier", "show", "u4"), ("carrier", "list"), ("archive", "audit"), ("carrier", "show", HOSTILE)):
        plain = cli(*command)
        monkeypatch.delenv("NO_COLOR")
        monkeypatch.setenv("FORCE_COLOR", "1")
        coloured = cli(*command)
        monkeypatch.setenv("NO_COLOR", "1")
        for before, after in ((plain.out, coloured.out), (plain.err, coloured.err)):
            # ECMA-48, section 8.3.117: select graphic rendition
            assert "RED" not in before or "ue002RED" in before
            bare = re.sub("\x1b\\[[0-9;]*m", "", after)
            assert bare == before
            assert "\x1b[31m\x1b]" not in after
            painted += after != before
    assert painted >= 2   # the verdict of the audit, and the failure


def test_a_renderer_that_forgets(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The gate stands behind all of them."""
    (tmp_path / "one.bin").write_bytes(CHIP)
    monkeypatch.setattr("imagekeeper.cli.fingerprint.fingerprint_text", lambda result: HOSTILE)
    assert "\\x1b[31m" in clean(cli("fingerprint", "one.bin")).out


def test_the_label_of_a_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal(newline="")
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(_shell, "PATIENCE", -1.0)
    with gated(), _shell.bar(f"Reading {HOSTILE}" + "x" * 60_000, 10) as advance:
        advance(5)
    drawn = terminal.getvalue()
    assert "characters left out" in drawn
    assert len(drawn) < 2000
    assert not forbidden.found(drawn.replace("\r", ""))   # the bar itself goes back to the beginning of its line


def test_a_name_of_sixty_thousand_characters(cli: Cli, tmp_path: Path) -> None:
    """A message keeps its beginning and its end, and says how much is missing."""
    ran = cli("carrier", "show", "u4" + "x" * 60_000 + ".end", "--archive", "none")
    assert len(ran.err) < 3000
    ran = cli("chip", "list", "u4" + "x" * 60_000 + ".end")
    assert re.search(r"u4x+ … \d+ characters left out … x*\.end", ran.err), ran.err
    assert len(ran.err) < 3000
    whole = "u4" + "x" * 60_000 + ".end"
    assert whole in cli("chip", "list", whole, "--json").json["what"]
