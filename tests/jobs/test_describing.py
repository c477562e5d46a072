"""Machines, remarks, pictures and corrections: kept, told of in events, and never lost."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import InputError, NotFoundError, UsageError
from imagekeeper.jobs.carriers import describing
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session
from imagekeeper.jsonable import schema_of
from imagekeeper.provenance.events import parse_events
from imagekeeper.provenance.facts import insist
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from tests.conftest import Ran
from tests.refusals import refuses

Cli = Callable[..., Ran]

NOW = "2026-03-02T12:00:00Z"
PNG = b"\x89PNG\r\n\x1a\n" + bytes(40)


NUMBERS = count(1)


def session() -> Session:
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(NUMBERS):012d}", "bench")


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ArchiveStore:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    made = ArchiveStore.create(tmp_path / "a", uuid="0195c0de-0000-7000-8000-000000000001", title="", now=NOW)
    describing.add_machine(made, "tg85", "Quillmere TG-85", session(), serial="0117")
    add_carrier(
        made, "u4", "eprom", session(), part="27128", machine="quillmere tg-85", markings="Q 27128\n8512",
        date_code="8512", package="DIP 28, ceramic, with window", condition="window covered", decide=insist,
    )  # fmt: skip
    return made


def test_a_carrier_belongs_to_the_machine_that_it_names(archive: ArchiveStore) -> None:
    add_carrier(archive, "u5", "eprom", session(), machine="TG85")
    add_carrier(archive, "u6", "eprom", session(), machine="another one")
    assert describing.show_machine(archive, "tg85").carriers == ("u4", "u5")
    listed = describing.list_machines(archive)
    assert [(one.id, one.carriers) for one in listed.machines] == [("tg85", 2)]
    assert listed.only_named == ("another one",)


def test_a_machine_is_no_carrier_and_a_carrier_no_machine(archive: ArchiveStore) -> None:
    with pytest.raises(NotFoundError) as caught:
        describing.edit_carrier(archive, "tg85", {"label": "x"}, session())
    assert caught.value.code == "carrier-missing"
    with pytest.raises(NotFoundError) as caught:
        describing.show_machine(archive, "u4")
    assert caught.value.code == "machine-missing"
    with pytest.raises(UsageError) as again:
        describing.add_machine(archive, "u4", "x", session())
    assert again.value.code == "carrier-exists"


def test_a_correction_keeps_what_was_said_before(archive: ArchiveStore) -> None:
    record = describing.edit_carrier(archive, "u4", {"position": "U4", "condition": ""}, session())
    assert (record.position, record.condition, record.markings) == ("U4", None, "Q 27128\n8512")
    event = record.events[-1]
    assert event.type == "metadata modification"
    assert event.detail == "position: nothing became 'U4'; condition: 'window covered' became nothing"
    assert describing.edit_carrier(archive, "u4", {"position": "U4"}, session()).version == record.version
    with refuses(UsageError, "unknown-name", "there is no such text to change"):
        describing.edit_carrier(archive, "u4", {"uuid": "x"}, session())
    with refuses(UsageError, "usage", "nothing was to be changed"):
        describing.edit_carrier(archive, "u4", {}, session())
    with refuses(UsageError, "unknown-name", "there is no such kind of carrier"):
        describing.edit_carrier(archive, "u4", {"kind": "floppy disk"}, session())
    assert describing.edit_machine(archive, "tg85", {"owner": "harbour office"}, session()).owner == "harbour office"
    with refuses(UsageError, "usage", "a machine needs a name"):
        describing.edit_machine(archive, "tg85", {"name": " "}, session())


def test_remarks_and_pictures_of_both(archive: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "top.png").write_bytes(PNG)
    for one in ("u4", "tg85"):
        describing.add_note(archive, one, "first", session())
        assert [n.text for n in describing.add_note(archive, one, "second", session()).notes] == ["first", "second"]
        record = describing.add_photo(archive, one, str(tmp_path / "top.png"), "from above", session())
        assert [(p.path, p.caption) for p in record.photos] == [("photos/1-top.png", "from above")]
        assert archive.read_file(one, "photos/1-top.png") == PNG
        with refuses(UsageError, "exists", "this very picture is kept already"):
            describing.add_photo(archive, one, str(tmp_path / "top.png"), None, session())
    (tmp_path / "no.txt").write_bytes(b"TG85")
    with pytest.raises(InputError) as caught:
        describing.add_photo(archive, "u4", str(tmp_path / "no.txt"), None, session())
    assert caught.value.code == "picture-unknown"
    with refuses(UsageError, "usage", "the remark is empty"):
        describing.add_note(archive, "u4", " \n", session())
    assert audit(archive, now=NOW).ok


def test_reader_operator_and_temperature_of_a_read(archive: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "r.bin").write_bytes(bytes(range(256)) * 64)
    conditions = Conditions(reader="bench reader", temperature="21.5 C")
    record = add_reads(archive, "u4", [str(tmp_path / "r.bin")], Options(), conditions, session())
    assert record.reads[0].temperature == "21.5"
    captured = next(e for e in parse_events(archive.read_file("u4", "events.jsonl")) if e.type == "capture")
    assert [(a.name, a.kind) for a in captured.agents[1:]] == [("bench", "person"), ("bench reader", "hardware")]
    with refuses(UsageError, "usage", "a temperature cannot be understood"):
        add_reads(archive, "u4", [str(tmp_path / "r.bin")], Options(), Conditions(temperature="warm"), session())


def test_the_commands(cli: Cli, tmp_path: Path) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    assert cli("machine", "add", "tg85", "--name", "Quillmere TG-85", *here).code == 0
    assert cli("carrier", "add", "u4", "--kind", "eprom", "--machine", "tg85", "--date-code", "8512", *here).code == 0
    ran = cli("machine", "show", "tg85", "--json", *here)
    assert (list(ran.json), ran.json["carriers"]) == (schema_of(MachineRecord)["required"], ["u4"])
    assert "u4" in cli("machine", "show", "tg85", *here).out
    assert "Quillmere" in cli("machine", "list", *here).out
    assert cli("carrier", "edit", "u4", "--position", "U4", *here).code == 0
    assert cli("carrier", "edit", "u4", *here).code == 2
    ran = cli("carrier", "note", "u4", "bent pin\x1b[2J", "--json", *here)
    assert list(ran.json) == schema_of(CarrierRecord)["required"]
    (tmp_path / "top.png").write_bytes(PNG)
    assert "top.png: lid off" in cli("carrier", "photo", "u4", "top.png", "--caption", "lid off", *here).out
    shown = cli("carrier", "show", "u4", *here).out
    assert "8512" in shown
    assert "\\x1b[2J" in shown
    assert cli("carrier", "photo", "u4", "absent.png", *here).code == 5
    assert cli("machine", "show", "u4", *here).code == 5
    assert cli("machine", "edit", "tg85", "--owner", "harbour office", *here).code == 0
    assert cli("machine", "note", "tg85", "a remark", *here).code == 0
