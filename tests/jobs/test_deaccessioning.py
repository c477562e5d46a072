"""Taking things out of the collection: nothing is lost, everything says so, and it can be taken back."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import imagekeeper
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jobs.archive.exchanging import merge_archive
from imagekeeper.jobs.archive.reproving import reprove
from imagekeeper.jobs.carriers import deaccessioning
from imagekeeper.jobs.session import this_session
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from tests.conftest import Ran

Cli = Callable[..., Ran]

WHY = "given to the harbour museum"


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> imagekeeper.Archive:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    made = imagekeeper.Archive.create(tmp_path / "a", title="Harbour office", operator="Ann")
    made.add_machine("tg85", "Quillmere TG-85")
    for name, byte in (("u4", b"A"), ("u5", b"B")):
        made.add_carrier(name, "eprom", part="2716", machine="tg85", position=name.upper())
        for number in (1, 2):
            (tmp_path / f"{name}-{number}.bin").write_bytes(bytes(range(256)) * 7 + byte * 256)
            made.add_reads(name, tmp_path / f"{name}-{number}.bin", reader=f"reader {number}", really=True)
        made.agree(name)
    return made


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_the_record_keeps_it_and_every_file_stays(archive: imagekeeper.Archive) -> None:
    folder = next(archive.path.rglob("u4/0=ocfl_object_1.1")).parent
    before = content(folder)
    record = archive.deaccession("u4", f"  {WHY} ")
    assert isinstance(record, CarrierRecord)
    (gone,) = record.deaccessions
    assert (gone.id, gone.reason, gone.by) == ("x1", WHY, "Ann")
    assert (record.events[-1].type, record.events[-1].type_uri[-3:]) == ("deaccession", "dea")
    assert WHY in record.events[-1].detail
    after = content(folder)
    assert {path: after[path] for path in before if path.startswith("v")} == {
        path: data for path, data in before.items() if path.startswith("v")
    }
    assert archive.image("u4").size_bytes == 2048
    assert record.standing is not None
    assert record.standing.grade == archive.carrier("u5").standing.grade
    assert archive.audit().ok
    assert [one.id for one in archive.carriers() if one.deaccessions] == ["u4"]


def test_it_can_be_taken_back_and_done_again_under_a_new_number(archive: imagekeeper.Archive) -> None:
    archive.deaccession("u4", WHY)
    record = archive.withdraw("u4", "x1", "the museum gave it back")
    assert record.deaccessions == ()
    assert [(one.what, one.reason) for one in record.withdrawals] == [("x1", "the museum gave it back")]
    assert record.events[-1].type == "accession"
    assert "again" in record.events[-1].detail
    again = archive.deaccession("u4", "sold")
    assert [one.id for one in again.deaccessions] == ["x2"]
    with pytest.raises(NotFoundError) as caught:
        archive.withdraw("u4", "x1", "twice")
    assert "x2" in caught.value.why
    assert archive.audit().ok


def test_a_machine_goes_and_comes_back_and_its_carriers_stay(archive: imagekeeper.Archive) -> None:
    gone = archive.deaccession("tg85", "sold")
    assert isinstance(gone, MachineRecord)
    assert gone.carriers == ("u4", "u5")
    assert gone.deaccessions[0].reason == "sold"
    assert gone.events[-1].type == "deaccession"
    assert not archive.carrier("u4").deaccessions
    with pytest.raises(NotFoundError):
        archive.withdraw_of_machine("tg85", "x2", "a slip")
    back = archive.withdraw_of_machine("tg85", "x1", "the sale fell through")
    assert back.deaccessions == ()
    assert back.events[-1].type == "accession"
    assert archive.audit().ok


@pytest.mark.parametrize("reason", ["", "   ", "...", "\n"])
def test_a_reason_needs_words_and_nothing_happens_without(archive: imagekeeper.Archive, reason: str) -> None:
    for name in ("u4", "tg85"):
        with pytest.raises(UsageError) as caught:
            archive.deaccession(name, reason)
        assert caught.value.code == "usage"
    assert archive.carrier("u4").deaccessions == ()
    assert archive.machine("tg85").deaccessions == ()


def test_what_is_out_or_was_never_in_is_said(archive: imagekeeper.Archive) -> None:
    archive.deaccession("u4", WHY)
    version = archive.carrier("u4").version
    with pytest.raises(UsageError) as twice:
        archive.deaccession("u4", "again")
    assert WHY in twice.value.why
    assert "x1" in twice.value.why
    assert archive.carrier("u4").version == version
    with pytest.raises(NotFoundError):
        archive.deaccession("u44", WHY)
    with pytest.raises(NotFoundError) as machine:
        archive.withdraw_of_machine("u4", "x1", WHY)
    assert machine.value.code == "machine-missing"


def test_commands_leave_it_out_and_count_it(cli: Cli, archive: imagekeeper.Archive) -> None:
    where = ("--archive", archive.path)
    archive.deaccession("u4", WHY)
    listed = cli("carrier", "list", *where)
    assert "u5" in listed.out
    assert "u4" not in listed.out
    assert "1 taken out of the collection; --all shows it" in listed.out
    everything = cli("carrier", "list", "--all", *where)
    assert f"u4: taken out of the collection: {WHY}" in everything.out
    assert "--all" not in everything.out
    rows = json.loads(cli("carrier", "list", "--all", "--json", *where).out)
    assert [(one["id"], one["taken_out"]) for one in rows["carriers"]] == [("u4", WHY), ("u5", None)]
    assert json.loads(cli("carrier", "list", "--json", *where).out)["taken_out"] == 1
    assert json.loads(cli("carrier", "list", "--kind", "pal", "--json", *where).out)["taken_out"] == 0
    todo = json.loads(cli("carrier", "list", "--todo", "--json", *where).out)
    assert "u4" not in [one["id"] for one in todo["lines"]]
    assert todo["taken_out"] == 1
    machine = cli("machine", "show", "tg85", *where)
    assert "carriers  u5\n" in machine.out
    assert "1 taken out of the collection; --all shows it" in machine.out
    assert "carriers  u4, u5\n" in cli("machine", "show", "tg85", "--all", *where).out
    found = cli("search", "U4", *where)
    assert found.code == 0
    assert "taken out of the collection" in found.out
    assert "taken out: " + WHY in cli("search", "museum", *where).out
    image = cli("search", "--file", archive.path.parent / "u4-1.bin", *where)
    assert f"taken out of the collection: {WHY}" in image.out


def test_machines_that_are_out_are_counted_too(cli: Cli, archive: imagekeeper.Archive) -> None:
    where = ("--archive", archive.path)
    gone = cli("machine", "deaccession", "tg85", "--reason", "sold", *where)
    assert gone.code == 0
    assert "TAKEN OUT of the collection" in gone.out
    assert "u4, u5" in gone.out
    assert cli("machine", "list", *where).out == "no machines\n1 taken out of the collection; --all shows it\n"
    assert "tg85: taken out of the collection: sold" in cli("machine", "list", "--all", *where).out
    assert cli("machine", "withdraw", "tg85", "x1", "--reason", "not sold after all", *where).code == 0
    assert "Quillmere" in cli("machine", "list", *where).out


def test_the_strip_says_it_before_the_grade_and_no_next_step(cli: Cli, archive: imagekeeper.Archive) -> None:
    archive.deaccession("u4", WHY)
    lines = cli("carrier", "show", "u4", "--archive", archive.path).out.split("\n")
    assert "TAKEN OUT" in lines[1]
    assert "x1" in lines[1]
    assert "Ann" in lines[1]
    assert lines[2].strip() == WHY
    grade = archive.carrier("u4").standing.grade   # type: ignore[union-attr]
    assert lines[3].strip().startswith(grade)
    assert "  next  " not in "\n".join(lines[:6])


def test_no_label_is_made(cli: Cli, archive: imagekeeper.Archive) -> None:
    archive.deaccession("u4", WHY)
    refused = cli("label", "u5", "u4", "-o", "labels.html", "--archive", archive.path)
    assert refused.code == 2
    assert WHY in refused.err
    assert "carrier withdraw u4 x1" in refused.err
    assert not Path("labels.html").exists()
    assert cli("label", "u5", "-o", "labels.html", "--archive", archive.path).code == 0


def test_pages_mark_it_and_list_it_apart(cli: Cli, archive: imagekeeper.Archive) -> None:
    archive.deaccession("u4", f"{WHY} <b>")
    archive.deaccession("tg85", "sold")
    assert cli("report", "-o", "pages", "--archive", archive.path).code == 0
    page = Path("pages/carriers/u4.html").read_text()
    assert "Taken out of the collection" in page
    assert "museum &lt;b&gt;" in page
    assert page.index("Taken out of the collection") < page.index('aria-label="Verdict"')
    assert "Taken out" not in Path("pages/carriers/u5.html").read_text()
    index = Path("pages/index.html").read_text()
    assert "1 carrier." in index
    assert "1 more was taken out of the collection." in index
    at = index.index('<h2 id="taken-out">')
    assert 'carriers/u4.html' in index[at:]
    assert 'carriers/u4.html' not in index[:at]
    machine = Path("pages/machines/tg85.html").read_text()
    at = machine.index("<h2>Taken out of the collection</h2>")
    assert "carriers/u4.html" in machine[at:]
    assert "carriers/u4.html" not in machine[:at]
    assert "sold" in machine[:at]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("carrier", "deaccession", "u4"), 2, "--reason"),
        (("carrier", "deaccession", "u4", "--reason", " "), 2, "no words"),
        (("carrier", "deaccession", "tg85", "--reason", "x"), 5, "machine"),
        (("machine", "deaccession", "u4", "--reason", "x"), 5, "no such machine"),
        (("carrier", "deaccession", "U-4", "--reason", "x"), 5, "next"),
        (("carrier", "withdraw", "u4", "x1", "--reason", "x"), 5, "u4 has nothing called 'x1'"),
        (("machine", "withdraw", "tg85", "x1", "--reason", "x"), 5, "it has: nothing"),
        (("machine", "withdraw", "tg85", "--reason", "x"), 2, "ITEM"),
    ],
)
def test_slips_of_a_tired_person_change_nothing(
    cli: Cli, archive: imagekeeper.Archive, arguments: tuple[str, ...], code: int, words: str
) -> None:
    before = content(archive.path)
    ran = cli(*arguments, "--archive", archive.path)
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err
    assert content(archive.path) == before


def test_two_archives_that_both_took_it_out_keep_both_reasons(archive: imagekeeper.Archive, tmp_path: Path) -> None:
    shutil.copytree(archive.path, tmp_path / "museum")
    other = imagekeeper.Archive(tmp_path / "museum", operator="Berta")
    other.deaccession("u4", "lent to the pilots")
    other.withdraw("u4", "x1", "they gave it back")
    archive.deaccession("u4", WHY)
    merge_archive(ArchiveStore.open(archive.path), str(other.path), this_session("Ann"))
    record = archive.carrier("u4")
    assert [(one.id, one.reason) for one in record.deaccessions] == [("x1", WHY)]   # theirs was taken back, ours not
    assert [one.what for one in record.withdrawals] == ["x2"]
    with Index(ArchiveStore.open(archive.path)) as index:
        assert [row.id for row in index.rows(taken_out=True)] == ["u4"]
    assert archive.audit().ok


def test_what_rests_on_another_carrier_says_when_its_image_changes(cli: Cli, archive: imagekeeper.Archive) -> None:
    where = ("--archive", archive.path)
    assert cli("carrier", "derive", "u4", "--join", "u5", *where).code == 0
    assert not [one for one in archive.carrier("u4").findings if one.code == "derived-outdated"]
    for read in ("r1", "r2"):
        archive.withdraw("u5", read, "these were of another chip")
    shown = cli("carrier", "show", "u4", *where)
    assert "derived-outdated" in shown.out
    assert "u5 agreed" in shown.out
    (found,) = [one for one in archive.carrier("u4").findings if one.code == "derived-outdated"]
    assert found.detail == {"made": ["d1"], "sources": ["u5 agreed"]}
    assert cli("report", "-o", "pages", *where).code == 0
    assert "What d1 came from is no evidence any more: u5 agreed" in Path("pages/carriers/u4.html").read_text()
    shutil.rmtree(next(archive.path.rglob("u5/0=ocfl_object_1.1")).parent)   # then nothing can be told of it
    assert not [one for one in archive.carrier("u4").findings if one.code == "derived-outdated"]


def test_reproving_follows_it_and_names_what_an_event_tells_otherwise(
    archive: imagekeeper.Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive.deaccession("u4", WHY)
    archive.withdraw("u4", "x1", "the museum gave it back")
    archive.deaccession("u4", "sold")
    archive.deaccession("tg85", "sold")
    archive.withdraw_of_machine("tg85", "x1", "not sold after all")
    store = ArchiveStore.open(archive.path)
    held = reprove(store)
    assert (held.contradicted, held.not_derivable) == ((), ())
    monkeypatch.setattr(deaccessioning, "taken_out", lambda name, gone: f"{name} was taken out of the collection")
    archive.deaccession("u5", WHY)
    assert [(one.carrier, one.path) for one in reprove(store).contradicted] == [("u5", "events.jsonl")]
