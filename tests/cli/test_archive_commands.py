"""The life of a carrier, command by command: what is kept, what it proves, and what becomes of damage."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ocfl
import pytest

from imagekeeper.archive.store import ArchiveStore
from tests.archive.poisons import sign
from tests.cli.test_bad_input import ROOT, check_document
from tests.conftest import Ran, unprivileged

Cli = Callable[..., Ran]

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))
#: The same chip with a bad contact: D3 reads 1 in sixteen places where it is 0.
HURT = bytes(b | 8 if n % 128 == 64 else b for n, b in enumerate(CHIP))


@pytest.fixture
def archive(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive with the carrier tg85-u17, and reads of it beside."""
    assert cli("archive", "init", "harbour", "--title", "Harbour office instruments").code == 0
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    added = cli(
        "carrier", "add", "tg85-u17", "--kind", "eprom", "--part", "2716", "--machine", "Quillmere TG-85",
        "--board", "display", "--position", "U17", "--json",
    )  # fmt: skip
    assert added.code == 0
    for number, data in enumerate((CHIP, CHIP, HURT), 1):
        (tmp_path / f"read{number}.bin").write_bytes(data)
    assert differing(CHIP, HURT) > 0
    return tmp_path / "harbour"


def differing(a: bytes, b: bytes) -> int:
    return sum(x != y for x, y in zip(a, b, strict=True))


def run(cli: Cli, *arguments: str, code: int = 0) -> Any:
    """Run for a program, check the exit code and the document against its schema file."""
    ran = cli(*arguments, "--json")
    assert ran.code == code, ran
    assert ran.err == ""
    return check_document(ran.out)


def read(cli: Cli, *arguments: str, code: int = 0) -> Any:
    return run(cli, "carrier", "read", "tg85-u17", *arguments, code=code)


def agree(cli: Cli, *arguments: str, code: int = 0) -> Any:
    return run(cli, "carrier", "agree", "tg85-u17", *arguments, code=code)


def show(cli: Cli) -> Any:
    return run(cli, "carrier", "show", "tg85-u17")


def ocfl_faults(archive: Path) -> list[str]:
    """The verdict of an independent implementation of the Oxford Common File Layout 1.1."""
    storage = ocfl.StorageRoot(root=str(archive / "carriers"))
    sound = storage.validate() and storage.good_objects == storage.num_objects > 0
    return [] if sound else [*map(str, storage.errors), "not valid"]


# --- a carrier's life -----------------------------------------------------------------------------------------------


def test_a_new_carrier(cli: Cli, archive: Path) -> None:
    record = show(cli)
    assert {key: record[key] for key in ("id", "kind", "part", "machine", "board", "position")} == {
        "id": "tg85-u17", "kind": "eprom", "part": "2716", "machine": "Quillmere TG-85", "board": "display",
        "position": "U17",
    }  # fmt: skip
    assert (record["reads"], record["agreed"], record["replacements"], record["findings"]) == ([], None, [], [])
    assert [event["type"] for event in record["events"]] == ["accession"]
    assert agree(cli, code=5)["code"] == "no-reads"
    assert not ocfl_faults(archive)


@pytest.mark.parametrize(
    ("part", "kind", "told"),
    [("2765", "eprom", True), ("2764", "eprom", False), (None, "eprom", False), ("2765", "floppy", False)],
)
def test_a_part_of_no_table_is_told_when_it_is_typed(
    cli: Cli, archive: Path, part: str | None, kind: str, told: bool
) -> None:
    ran = cli("carrier", "add", "u9", "--kind", kind, *(() if part is None else ("--part", part)))
    assert ran.code == 0
    assert ("no table has a 2765" in ran.out, "imagekeeper chip show 2765" in ran.out) == (told, told)


def test_a_life_from_the_first_read_to_the_agreed_image(cli: Cli, archive: Path) -> None:
    digest = hashlib.sha256(CHIP).hexdigest()
    first = read(
        cli, "read1.bin", "--reader", "bench reader", "--operator", "harbour office", "--date", "2026-03-02",
        "--vcc", "5", "--note", "window covered", "--note", "socket cleaned",
    )  # fmt: skip
    entry = first["reads"][0]
    assert {key: entry[key] for key in ("id", "file", "size_bytes", "sha256", "container", "reader", "operator")} == {
        "id": "r1", "file": "read1.bin", "size_bytes": 2048, "sha256": digest, "container": "raw",
        "reader": "bench reader", "operator": "harbour office",
    }  # fmt: skip
    assert (entry["date"], float(entry["vcc"]), entry["notes"]) == (
        "2026-03-02", 5.0, ["window covered", "socket cleaned"],
    )  # fmt: skip
    assert entry["image"]["sha256"] == digest
    assert entry["image"]["crc32"] == f"{zlib.crc32(CHIP):08X}"
    assert first["agreed"] is None   # a read settles nothing by itself

    assert agree(cli)["agreed"]["grade"] == "single"
    read(cli, "read2.bin", "--reader", "BENCH  reader", "--operator", "Harbour Office", "--vcc", "5.00")
    assert [found["code"] for found in show(cli)["findings"]] == ["agreed-outdated"]
    assert show(cli)["agreed"]["grade"] == "single"   # what was recorded stays until it is settled again
    assert agree(cli)["agreed"]["grade"] == "repeated"   # spelling makes no second reader
    assert show(cli)["findings"] == []

    assert cli("convert", "read1.bin", "-o", "read4.hex").code == 0
    read(cli, "read4.hex", "--reader", "pocket reader", "--vcc", "4.75")
    settled = agree(cli)
    assert (settled["agreed"]["grade"], settled["agreed"]["sha256"]) == ("independent", digest)
    assert settled["comparison"] is None
    assert settled["agreed"]["raise_by"]

    for reference in (f"{zlib.crc32(CHIP):08x}", hashlib.sha1(CHIP).hexdigest(), digest.upper()):
        assert agree(cli, "--reference", f"{reference}=printed listing")["agreed"]["grade"] == "corroborated"
    record = show(cli)
    assert record["agreed"]["sha256"] == digest
    assert "printed listing" in record["agreed"]["because"]

    kept = [path for path in archive.rglob("read4.hex") if path.is_file()]
    assert [path.read_bytes() for path in kept] == [Path("read4.hex").read_bytes()]
    audit = run(cli, "archive", "audit")
    assert (audit["ok"], audit["carriers"], audit["damaged"], audit["missing"], audit["unexpected"]) == (
        True, 1, [], [], [],
    )  # fmt: skip
    assert not ocfl_faults(archive)


def test_what_is_unknown_makes_nothing_independent(cli: Cli, archive: Path) -> None:
    read(cli, "read1.bin")
    read(cli, "read2.bin", "--reader", "pocket reader", "--vcc", "4.75")
    record = show(cli)
    assert [record["reads"][0][key] for key in ("reader", "operator", "date", "vcc", "specimen")] == [None] * 5
    assert agree(cli)["agreed"]["grade"] == "repeated"


@pytest.mark.parametrize(
    ("option", "one", "other"),
    [
        ("--reader", "bench reader", "pocket reader"),
        ("--vcc", "5.0", "4.5"), ("--specimen", "first", "spare"),
    ],
)  # fmt: skip
def test_each_condition_makes_reads_independent(cli: Cli, archive: Path, option: str, one: str, other: str) -> None:
    read(cli, "read1.bin", option, one)
    read(cli, "read2.bin", option, other)
    assert agree(cli)["agreed"]["grade"] == "independent"


def test_a_second_specimen_read_by_another_reader_corroborates(cli: Cli, archive: Path) -> None:
    read(cli, "read1.bin", "--specimen", "first", "--reader", "bench reader")
    read(cli, "read2.bin", "--specimen", "spare", "--reader", "pocket reader")
    assert agree(cli)["agreed"]["grade"] == "corroborated"


def test_doubtful_reads_are_not_independent(cli: Cli, archive: Path) -> None:
    assert cli("convert", "read1.bin", "-o", "read4.hex").code == 0
    lines = Path("read4.hex").read_text().splitlines()
    lines[3] = lines[3][:-2] + f"{(int(lines[3][-2:], 16) + 1) & 0xFF:02X}"
    Path("read4.hex").write_text("\n".join(lines) + "\n")
    assert read(cli, "read4.hex", code=3)["code"] == "record-sum"
    read(cli, "read1.bin", "--reader", "bench reader")
    record = read(cli, "read4.hex", "--reader", "pocket reader", "--keep-doubtful")
    assert [doubt["code"] for doubt in record["reads"][1]["image"]["doubts"]] == ["record-sum"]
    assert agree(cli)["agreed"]["grade"] == "repeated"


def test_reads_that_differ_are_disputed_and_nothing_is_chosen(cli: Cli, archive: Path) -> None:
    read(cli, "read1.bin", "read2.bin")
    assert agree(cli)["agreed"]["sha256"] == hashlib.sha256(CHIP).hexdigest()
    read(cli, "read3.bin")
    finding = show(cli)["findings"][0]
    assert (finding["code"], finding["detail"]) == ("agreed-outdated", {"reads": ["r3"]})
    ran = cli("carrier", "agree", "tg85-u17", "--json")
    document = json.loads(ran.out)
    assert ran.code == 1
    assert document["agreed"]["grade"] == "disputed"
    assert document["agreed"]["sha256"] is None
    assert document["comparison"]["differences"]["bytes"] == differing(CHIP, HURT)
    record = show(cli)
    assert (record["agreed"]["grade"], record["agreed"]["sha256"], record["findings"]) == ("disputed", None, [])
    state = json.loads((archive / "carriers/tg85-u17/inventory.json").read_text())
    newest = state["versions"][state["head"]]["state"]
    assert not [name for names in newest.values() for name in names if name == "agreed.bin"]
    assert agree(cli, "--reference", hashlib.sha256(CHIP).hexdigest(), code=2)["code"] == "usage"
    text = cli("carrier", "agree", "tg85-u17")
    assert text.code == 1
    assert "imagekeeper carrier agree" not in text.out   # it has just been done: the comparison says what comes next
    assert "\n  next read  " in text.out
    assert "D3" in text.out
    assert run(cli, "archive", "audit")["ok"]


def test_the_document_of_a_dispute_fits_its_schema(cli: Cli, archive: Path) -> None:
    read(cli, "read1.bin", "read3.bin")
    assert agree(cli, code=1)["comparison"]["agree"] is False


def test_a_reference_that_does_not_match_settles_nothing(cli: Cli, archive: Path) -> None:
    read(cli, "read1.bin", "--reader", "bench reader")
    read(cli, "read2.bin", "--reader", "pocket reader")
    for wrong in ("00000000", "0" * 40, "0" * 64):
        refused = agree(cli, "--reference", f"{wrong}=label", code=1)
        assert (refused["code"], "label" in refused["why"]) == ("reference-mismatch", True)
    for nonsense in ("", "xyz", "0" * 7, "g" * 8):
        assert agree(cli, "--reference", nonsense, code=2)["code"] == "usage"
    assert show(cli)["agreed"] is None


def test_the_same_file_twice_counts_once(cli: Cli, archive: Path) -> None:
    assert read(cli, "read1.bin", "./read1.bin", code=2)["code"] == "usage"
    os.link("read1.bin", "link.bin")
    assert read(cli, "read1.bin", "link.bin", code=2)["code"] == "usage"
    read(cli, "read1.bin", "--reader", "bench reader")
    read(cli, "read1.bin", "--reader", "pocket reader")
    agreed = agree(cli)["agreed"]
    assert (agreed["grade"], agreed["reads"]) == ("single", ["r1"])
    assert "r2 is the same file as r1" in agreed["because"]
    assert run(cli, "archive", "audit")["ok"]


def test_all_files_of_one_command_are_kept_or_none(cli: Cli, archive: Path) -> None:
    before = {p: p.read_bytes() for p in archive.rglob("*") if p.is_file()}
    Path("empty.bin").touch()
    assert read(cli, "read1.bin", "empty.bin", code=3)["code"] == "empty"
    assert read(cli, "read1.bin", "nothing.bin", code=5)["code"] == "not-found"
    assert {p: p.read_bytes() for p in archive.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--date", "yesterday"), ("--date", "2026-02-30"), ("--date", "2026-13"), ("--date", "2026-03-02T25:00:00Z"),
        ("--vcc", "five"), ("--vcc", "-5"), ("--vcc", "nan"), ("--vcc", "1e400"), ("--vcc", "5,0"),
    ],
)  # fmt: skip
def test_a_condition_that_cannot_be_is_refused(cli: Cli, archive: Path, option: str, value: str) -> None:
    assert read(cli, "read1.bin", f"{option}={value}", code=2)["code"] == "usage"
    assert show(cli)["reads"] == []


# --- many carriers --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["", ".", "..", "a/b", "a\\b", "con", "con.x", "A", "a b", "ä", "a\nb", "x" * 65, "extensions", "a."]
)
def test_an_id_that_is_no_folder_name_everywhere(cli: Cli, archive: Path, name: str) -> None:
    assert run(cli, "carrier", "add", name, "--kind", "eprom", code=2)["code"] == "carrier-id"
    assert [row["id"] for row in run(cli, "carrier", "list")["carriers"]] == ["tg85-u17"]


def test_the_list_and_its_filters(cli: Cli, archive: Path) -> None:
    for name, kind, machine in (
        ("tg85-u30", "ram", "Quillmere TG-85"), ("gate-u1", "eprom", "Sluice gate"), ("loose", "eprom", None),
    ):  # fmt: skip
        run(cli, "carrier", "add", name, "--kind", kind, *(["--machine", machine] if machine else []))
    read(cli, "read1.bin", "read3.bin")
    agree_code = cli("carrier", "agree", "tg85-u17").code
    assert agree_code == 1

    def ids(*options: str) -> list[str]:
        return [row["id"] for row in run(cli, "carrier", "list", *options)["carriers"]]

    assert ids() == ["gate-u1", "loose", "tg85-u17", "tg85-u30"]
    assert ids("--machine", "tg-85") == ["tg85-u17", "tg85-u30"]
    assert ids("--kind", "eprom") == ["gate-u1", "loose", "tg85-u17"]
    assert ids("--kind", "eprom", "--machine", "quillmere") == ["tg85-u17"]
    assert ids("--machine", "nowhere") == []
    row = run(cli, "carrier", "list", "--machine", "tg-85")["carriers"][0]
    assert (row["reads"], row["grade"], row["machine"], row["position"]) == (2, "disputed", "Quillmere TG-85", "U17")
    assert "disputed" in cli("carrier", "list").out
    assert run(cli, "carrier", "add", "loose", "--kind", "ram", code=2)["code"] == "carrier-exists"
    for command in ("show", "agree"):
        assert run(cli, "carrier", command, "nobody", code=5)["code"] == "carrier-missing"
    assert run(cli, "carrier", "read", "nobody", "read1.bin", code=5)["code"] == "carrier-missing"


def test_what_people_typed_cannot_drive_the_terminal(cli: Cli, archive: Path) -> None:
    evil = "Quill\nmere\x1b[2J\r"
    added = cli(
        "carrier", "add", "u9", "--kind", "eprom", "--machine", evil, "--board", evil, "--label", evil, "--note", evil
    )
    shown = [added, cli("carrier", "list"), cli("carrier", "show", "u9")]
    for ran in shown:
        assert ran.code == 0
        assert all(line.isprintable() for line in ran.out.splitlines())
        assert not [line for line in ran.out.splitlines() if line.startswith("mere")]


# --- where the archive is -------------------------------------------------------------------------------------------


def test_how_the_archive_is_found(cli: Cli, archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for nonsense in ("/dev/null", "read1.bin", "nowhere", "caf\udce9"):
        monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", nonsense)
        assert run(cli, "carrier", "list", code=5)["code"] == "archive-missing"
        assert run(cli, "carrier", "list", "--archive", "harbour")["carriers"]   # the option is stronger
    monkeypatch.delenv("IMAGEKEEPER_ARCHIVE")
    assert run(cli, "archive", "audit", code=5)["code"] == "archive-missing"
    monkeypatch.chdir(archive / "carriers" / "tg85-u17" / "v1")
    assert run(cli, "carrier", "list")["carriers"][0]["id"] == "tg85-u17"


def test_an_archive_is_founded_only_in_an_empty_place(cli: Cli, archive: Path, tmp_path: Path) -> None:
    assert run(cli, "archive", "init", "harbour", code=2)["code"] == "archive-exists"
    assert run(cli, "archive", "init", "read1.bin", code=2)["code"] == "archive-exists"
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "letter.txt").write_text("tide")
    assert run(cli, "archive", "init", "taken", code=2)["code"] == "archive-exists"
    assert [path.name for path in (tmp_path / "taken").iterdir()] == ["letter.txt"]
    (tmp_path / "empty").mkdir()
    founded = run(cli, "archive", "init", "empty", "--large", "--title", "Gates")
    assert (founded["title"], founded["layout"]) == ("Gates", "0003")
    assert cli("carrier", "add", "g1", "--kind", "prom", "--archive", "empty").code == 0
    assert not ocfl_faults(tmp_path / "empty")
    assert run(cli, "archive", "audit", "--archive", "empty")["ok"]


@pytest.mark.skipif(os.name == "nt", reason="permissions of another kind")
def test_a_read_only_archive_can_be_looked_at_and_audited(
    cli: Cli, archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read(cli, "read1.bin")
    # pytest's own folders are closed to the other user that root becomes below
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        place.chmod(0o755)
        monkeypatch.chdir(place)
        monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", "harbour")
        shutil.copytree(archive, "harbour")
        (place / "harbour" / "lock").unlink(missing_ok=True)
        (place / "read2.bin").write_bytes(CHIP)
        everything = [place / "harbour", *(place / "harbour").rglob("*")]
        for path in everything:
            path.chmod(0o555 if path.is_dir() else 0o444)
        with unprivileged():
            assert show(cli)["reads"]
            assert run(cli, "carrier", "list")["carriers"]
            assert run(cli, "archive", "audit")["ok"]
            for command in (
                ("carrier", "add", "u5", "--kind", "ram"), ("carrier", "read", "tg85-u17", "read2.bin"),
                ("carrier", "agree", "tg85-u17"), ("archive", "reindex"),
            ):  # fmt: skip
                assert run(cli, *command, code=2)["code"] == "cannot-write"
        for path in everything:
            path.chmod(0o755)
        assert len(show(cli)["reads"]) == 1
        monkeypatch.undo()


# --- damage ---------------------------------------------------------------------------------------------------------


def newest(archive: Path, ending: str) -> Path:
    found = sorted(path for path in archive.glob(f"carriers/tg85-u17/v*/{ending}") if path.is_file())
    return found[-1]


@pytest.mark.parametrize(
    "ending",
    ["content/reads/r1/original/read1.bin", "content/reads/r1/read.json", "content/carrier.json",
     "content/events.jsonl", "content/agreed.json", "inventory.json", "inventory.json.sha512"],
)  # fmt: skip
def test_damage_and_loss_have_exit_code_4_and_a_name(cli: Cli, archive: Path, ending: str) -> None:
    read(cli, "read1.bin")
    agree(cli)
    path = newest(archive, ending)
    name = path.relative_to(archive).as_posix()
    whole = path.read_bytes()
    path.write_bytes(whole[:5] + bytes([whole[5] ^ 1]) + whole[6:])
    audit = run(cli, "archive", "audit", code=4)
    assert (audit["ok"], [one["path"] for one in audit["damaged"]]) == (False, [name])
    assert name in cli("archive", "audit").out
    path.unlink()
    audit = run(cli, "archive", "audit", code=4)
    assert (audit["damaged"], [one["path"] for one in audit["missing"]]) == ([], [name])
    path.write_bytes(whole)
    assert run(cli, "archive", "audit")["ok"]   # putting the file back is all the repair there is


@pytest.mark.parametrize("place", ["stray.txt", "tg85-u17/stray.txt", "tg85-u17/v1/content/stray.txt", "letters/a.txt"])
def test_what_is_unexpected_has_exit_code_1(cli: Cli, archive: Path, place: str) -> None:
    path = archive / "carriers" / place
    path.parent.mkdir(exist_ok=True)
    path.write_text("tide")
    audit = run(cli, "archive", "audit", code=1)
    assert (audit["ok"], audit["damaged"], audit["missing"]) == (False, [], [])
    assert [one["path"] for one in audit["unexpected"]] in ([f"carriers/{place}"], ["carriers/letters"])
    assert path.read_text() == "tide"


def test_a_carrier_that_is_gone_is_missed(cli: Cli, archive: Path, tmp_path: Path) -> None:
    (archive / "carriers" / "tg85-u17").rename(tmp_path / "aside")
    audit = run(cli, "archive", "audit", code=4)
    assert [one["path"] for one in audit["missing"]] == ["carriers/tg85-u17"]
    assert run(cli, "carrier", "show", "tg85-u17", code=5)["code"] == "carrier-missing"
    (tmp_path / "aside").rename(archive / "carriers" / "tg85-u17")
    assert run(cli, "archive", "audit")["ok"]


@pytest.mark.parametrize("how", ["changed", "lost"])
def test_nothing_is_agreed_on_a_damaged_read(cli: Cli, archive: Path, how: str) -> None:
    """Else the damaged bytes would become the agreed image, under a fresh and valid digest."""
    read(cli, "read1.bin")
    path = newest(archive, "content/reads/r1/original/read1.bin")
    whole = path.read_bytes()
    if how == "changed":
        path.write_bytes(b"\xff" + whole[1:])
    else:
        path.unlink()
    assert agree(cli, code=4)["code"] == "archive-damaged"
    path.write_bytes(whole)
    assert show(cli)["agreed"] is None
    assert run(cli, "archive", "audit")["ok"]


@pytest.mark.parametrize("record", ["carrier.json", "events.jsonl", "reads/r1/read.json"])
def test_a_damaged_record_is_not_shown_as_if_it_were_sound(cli: Cli, archive: Path, record: str) -> None:
    read(cli, "read1.bin")
    path = newest(archive, f"content/{record}")
    path.write_bytes(path.read_bytes().replace(b"e", b"3", 1))
    for command in (("show",), ("agree",)):
        assert run(cli, "carrier", *command, "tg85-u17", code=4)["code"] == "archive-damaged"
    assert read(cli, "read2.bin", code=4)["code"] == "archive-damaged"


def test_an_archive_whose_identity_is_damaged(cli: Cli, archive: Path) -> None:
    (archive / "archive.json").write_text('{"format": "imagekeeper arch')
    assert run(cli, "carrier", "list", code=4)["code"] == "archive-damaged"
    assert run(cli, "archive", "audit", code=4)["code"] == "archive-damaged"


# --- the index ------------------------------------------------------------------------------------------------------


def test_the_index_can_be_lost_or_spoilt(cli: Cli, archive: Path, tmp_path: Path) -> None:
    read(cli, "read1.bin")
    listed = run(cli, "carrier", "list")
    files = [path for path in (tmp_path / "cache").rglob("*") if path.is_file()]
    assert files
    for path in files:
        path.write_bytes(b"not a database at all" * 99)
    assert run(cli, "carrier", "list") == listed
    for path in (tmp_path / "cache").rglob("*"):
        if path.is_file():
            path.unlink()
    rebuilt = run(cli, "archive", "reindex")
    assert (rebuilt["carriers"], rebuilt["problems"], rebuilt["repairs"]) == (1, 0, [])
    assert Path(rebuilt["index"]).exists()
    assert run(cli, "carrier", "list") == listed


def test_reindex_finds_what_was_copied_in(cli: Cli, archive: Path, tmp_path: Path) -> None:
    run(cli, "archive", "init", "second")
    run(cli, "carrier", "add", "gate-u1", "--kind", "prom", "--archive", "second")
    (tmp_path / "second/carriers/gate-u1").rename(archive / "carriers/gate-u1")
    assert run(cli, "archive", "reindex")["carriers"] == 2
    assert [row["id"] for row in run(cli, "carrier", "list")["carriers"]] == ["gate-u1", "tg85-u17"]


# --- two at a time, and cut off -------------------------------------------------------------------------------------


def test_two_programs_at_a_time_lose_nothing(cli: Cli, archive: Path, tmp_path: Path) -> None:
    """Every read that was said to be kept is there; one that was not kept was said to be refused."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    running = []
    for number in range(4):
        (tmp_path / f"same{number}.bin").write_bytes(CHIP + bytes([number]))
        running.append(
            subprocess.Popen(
                [sys.executable, "-m", "imagekeeper", "carrier", "read", "tg85-u17", f"same{number}.bin", "--json"],
                cwd=tmp_path, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            )
        )
    kept = set()
    for number, one in enumerate(running):
        out, err = one.communicate(timeout=120)
        document = check_document(out.decode())
        assert err == b""
        if one.returncode == 0:
            kept.add(f"same{number}.bin")
        else:
            assert (one.returncode, document["code"]) == (2, "archive-busy")
    assert kept
    assert {entry["file"] for entry in show(cli)["reads"]} == kept
    assert run(cli, "archive", "audit")["ok"]
    assert not ocfl_faults(archive)


@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
def test_killed_while_it_keeps_a_large_read(cli: Cli, archive: Path, tmp_path: Path) -> None:
    with open(tmp_path / "large.bin", "wb") as file:
        file.truncate(256 << 20)
    running = subprocess.Popen(
        [sys.executable, "-m", "imagekeeper", "carrier", "read", "tg85-u17", "large.bin"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    while not any((archive / "staging").glob("*/*")) and running.poll() is None:
        pass
    running.kill()
    assert running.wait() == -9
    (tmp_path / "large.bin").unlink()
    assert run(cli, "archive", "audit")["ok"]
    assert show(cli)["reads"] == []
    assert [entry["id"] for entry in read(cli, "read1.bin")["reads"]] == ["r1"]
    assert not any((archive / "staging").iterdir())
    assert run(cli, "archive", "audit")["ok"]
    assert not ocfl_faults(archive)


def test_a_file_that_changes_while_it_is_kept_is_refused(
    cli: Cli, archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when the reader's program is still writing: else the archive would hold a read that belies its own record."""
    commit = ArchiveStore.commit

    def late(self: ArchiveStore, *arguments: Any, **options: Any) -> Any:
        Path("read1.bin").write_bytes(HURT)
        return commit(self, *arguments, **options)

    monkeypatch.setattr(ArchiveStore, "commit", late)
    assert cli("carrier", "read", "tg85-u17", "read1.bin").code in (2, 3)
    monkeypatch.setattr(ArchiveStore, "commit", commit)
    assert show(cli)["reads"] == []
    assert run(cli, "archive", "audit")["ok"]


def test_one_bad_record_stops_no_command_about_the_others(cli: Cli, tmp_path: Path) -> None:
    """Its digests are all right: only its values are none of their kind."""
    assert cli("archive", "init", "harbour").code == 0
    at = ("--archive", "harbour")
    (tmp_path / "u4.bin").write_bytes(CHIP)
    (tmp_path / "refs.csv").write_text("name,crc32\nu4,00000000\n")
    (tmp_path / "rows.csv").write_text("id,condition\ngood,clean\nbad,clean\n")
    for name in ("bad", "good"):
        assert cli("carrier", "add", name, "--kind", "eprom", *at).code == 0
        assert cli("carrier", "read", name, "u4.bin", *at).code == 0
        assert cli("carrier", "agree", name, *at).code == 0
    record = tmp_path / "harbour/carriers/bad/v2/content/reads/r1/read.json"
    document = json.loads(record.read_text())
    document["image"]["crc32"] = "x"
    record.write_text(json.dumps(document))
    sign(tmp_path / "harbour", "bad", record)
    for command, code in {
        "carrier list": 4, "carrier list --kind eprom": 4, "carrier list --todo": 4, "machine list": 4, "search u4": 0,
        "archive reindex": 4, "archive export -o bag": 4, "archive table -o table.csv": 4, "report -o pages": 4,
        "archive references refs.csv": 4, "archive fill-in rows.csv": 4, "label good bad -o labels.html": 4,
        "archive replicate copy": 4, "archive audit": 4, "carrier show good": 0,
    }.items():  # fmt: skip
        ran = cli(*command.split(), *at)
        assert (command, ran.code, ran.err) == (command, code, "")
        if "show" not in command:
            assert "bad" in ran.out, command
        document = cli(*command.replace(" -o ", " -o other-").replace("cate ", "cate other-").split(), "--json", *at)
        check_document(document.out)
        assert document.code == code
    assert cli("carrier", "show", "bad", *at).code == 4
    assert cli("archive", "export", "bad", "-o", "alone", *at).code == 4
    assert not (tmp_path / "alone").exists()
    assert cli("label", "bad", "-o", "alone.html", *at).code == 4
    assert cli("archive", "init", "museum").code == 0
    merged = cli("archive", "merge", "harbour", "--archive", "museum")
    assert (merged.code, "bad is set aside" in merged.out, "crc32 is 'x'" in merged.out) == (4, True, True)
    assert cli("carrier", "list", "--archive", "museum").code == 0
    assert cli("archive", "import", "bag", "--archive", "museum").code == 0
