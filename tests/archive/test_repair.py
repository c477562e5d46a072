"""What is damaged is found, always; what a replica has whole is put right, and told in the carrier's history."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from itertools import count
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.repair import open_damaged
from imagekeeper.archive.exchange.repair_report import Repaired
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.ocfl import disk as disk_module
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, UsageError
from imagekeeper.jobs.archive.repairing import repair_archive
from imagekeeper.jobs.session import Session
from imagekeeper.jsonable import schema_of, to_json
from imagekeeper.present.text.audits import repaired_text
from imagekeeper.provenance import places
from imagekeeper.provenance.events import parse_events, verify_chain
from tests.refusals import refuses

from . import trials
from .conftest import NOW, USER, UUID, Judge, add

Content = Callable[[Path], dict[str, bytes]]


@pytest.fixture(autouse=True)
def unflushed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting for the medium would only take time here."""
    monkeypatch.setattr(disk_module, "flush", lambda file: file.flush())
    monkeypatch.setattr(disk_module, "sync_folder", lambda folder: None)


@pytest.fixture
def session() -> Session:
    numbers = count(1)
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(numbers):012d}", "Ann")


@pytest.fixture
def replica(filled: ArchiveStore, tmp_path: Path) -> ArchiveStore:
    replicate(filled, tmp_path / "replica", now=NOW)
    return ArchiveStore.open(tmp_path / "replica")


def test_one_changed_byte_is_always_found(filled: ArchiveStore) -> None:
    assert audit(filled, now=NOW).ok
    assert list(trials.damage_trials(filled, 160, seed=85)) == []   # for each of both layouts
    assert audit(filled, now=NOW).ok


@pytest.mark.parametrize("name", ["archive.json", "README.txt", "log/commits.jsonl"])
def test_each_byte_beside_the_holdings_counts(filled: ArchiveStore, name: str) -> None:
    path = filled.path / name
    whole = path.read_bytes()
    for place in range(0, len(whole), 41 if name == "README.txt" else 23 if "log" in name else 11):
        for other in (whole[place] ^ 0x20, whole[place] ^ 0x01, 0x0A if whole[place] != 0x0A else 0x20):
            path.write_bytes(whole[:place] + bytes([other]) + whole[place + 1 :])
            assert trials.found(filled.path), (place, other)
    path.write_bytes(whole)
    assert audit(filled, now=NOW).ok


def test_random_damage_is_repaired_from_a_replica(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, tmp_path: Path
) -> None:
    for seed in range(12):
        trials.repair_trial(filled.path, replica.path, tmp_path / f"trial-{seed}", session, seed)


def test_a_repair_tells_what_it_did(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, judge: Judge
) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    path.write_bytes(b"not what it was")
    before = filled.read_file("tg85-u4", places.EVENTS)
    result = repair_archive(filled, session, replica=replica)
    jsonschema.validate(to_json(result), schema_of(Repaired))
    (restored,) = result.restored
    assert (restored.carrier, restored.path, restored.origin) == ("tg85-u4", filled.name_of(path), "replica")
    assert restored.quarantine is not None
    assert (filled.path / restored.quarantine).read_bytes() == b"not what it was"
    assert result.events == ("tg85-u4",)
    assert (result.ok, result.exit_code) == (True, 0)
    after = filled.read_file("tg85-u4", places.EVENTS)
    assert after.startswith(before)
    assert verify_chain(after) is None
    event = parse_events(after)[-1]
    # Library of Congress, Preservation vocabularies, Event Type: recovery
    assert event.type_uri == "http://id.loc.gov/vocabulary/preservation/eventType/rec"
    named = {(one.identifier, one.role) for one in event.objects}
    assert (f"sha512:{restored.damaged_sha512}", "source") in named
    assert (f"sha512:{restored.sha512}", "outcome") in named
    assert judge(filled.root) == []
    assert json.loads((filled.log / "repairs.jsonl").read_text())["restored"][0]["path"] == restored.path
    assert repair_archive(filled, session, replica=replica).restored == ()


def test_what_the_archive_bears_out_needs_no_replica(filled: ArchiveStore, session: Session, judge: Judge) -> None:
    folder = filled.object_path("tg85-u4")
    for path in (
        folder / "0=ocfl_object_1.1", folder / "inventory.json", folder / "v1" / "inventory.json",
        folder / "v3" / "inventory.json.sha512", filled.root / "0=ocfl_1.1", filled.path / "README.txt",
        filled.path / "archive.json", filled.log / "commits.jsonl",
    ):  # fmt: skip
        whole = path.read_bytes()
        for damage in (whole[:-3] + b"xyz", b"", None):
            if damage is None:
                path.unlink()
            else:
                path.write_bytes(damage)
            archive = open_damaged(str(filled.path), None)
            assert repair_archive(archive, session).ok, (path, damage)
            if path.parent != filled.log and path != folder / "inventory.json":   # these tell of the repair now
                assert path.read_bytes() == whole
    assert audit(filled, now=NOW).ok
    assert judge(filled.root) == []


def test_a_replica_that_is_damaged_too_gives_nothing(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    for archive in (filled, replica):
        archive.content_path("tg85-u4", "agreed.bin").write_bytes(b"worse")
    filled.content_path("tg85-u5.1", "agreed.bin").unlink()
    result = repair_archive(filled, session, replica=replica)
    assert [entry.path for entry in result.damaged] == [filled.name_of(filled.content_path("tg85-u4", "agreed.bin"))]
    assert [one.carrier for one in result.restored] == ["tg85-u5.1"]
    assert (result.events, result.exit_code) == (("tg85-u5.1",), 4)
    assert filled.content_path("tg85-u4", "agreed.bin").read_bytes() == b"worse"


def test_lost_carriers_and_versions_come_back(filled: ArchiveStore, replica: ArchiveStore, session: Session) -> None:
    before = trials.holdings(filled)
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    folder = filled.object_path("tg85-u4")
    for name in ("inventory.json", "inventory.json.sha512"):
        (folder / name).write_bytes((folder / "v2" / name).read_bytes())
    shutil.rmtree(folder / "v3")
    assert repair_archive(filled, session).exit_code == 4
    result = repair_archive(filled, session, replica=replica)
    assert result.ok
    assert result.events == ("tg85-u4", "tg85-u5.1")
    after = trials.holdings(filled)
    assert {name for name in before if before[name] != after[name]} == {
        "tg85-u4/events.jsonl", "tg85-u5.1/events.jsonl"
    }  # fmt: skip


def other_history(filled: ArchiveStore, replica: ArchiveStore, carrier: str, data: bytes) -> None:
    """Put a carrier into the replica that is whole in itself, and never was the archive's."""
    shutil.rmtree(replica.object_path(carrier))
    add(replica, carrier, data)
    assert replica.inventory(carrier).head == filled.inventory(carrier).head
    # whoever changes a copy changes its log too
    noted = (replica.log / "commits.jsonl").read_bytes().splitlines(keepends=True)
    mine = [line for line in noted if json.loads(line)["carrier"] == carrier]
    (replica.log / "commits.jsonl").write_bytes(b"".join([n for n in noted if n not in mine] + mine[3:]))
    assert audit(replica, now=NOW).ok


@pytest.mark.parametrize("lost", ["carrier", "version", "inventory"])
def test_a_replica_with_another_history_than_the_noted_one_gives_nothing(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, lost: str
) -> None:
    other_history(filled, replica, "tg85-u4", b"never read from this chip")
    folder = filled.object_path("tg85-u4")
    if lost == "carrier":
        shutil.rmtree(folder)
    elif lost == "version":
        shutil.rmtree(folder / "v3")
        shutil.rmtree(folder / "v2")
        for name in ("inventory.json", "inventory.json.sha512"):
            (folder / name).write_bytes((folder / "v1" / name).read_bytes())
    else:
        for path in folder.rglob("inventory.json*"):
            path.write_bytes(b"lost")
    for _ in range(2):   # and a second time, for a log that was changed would let it in then
        result = repair_archive(filled, session, replica=replica)
        assert (result.ok, result.exit_code) == (False, 4)
        assert [one.carrier for one in result.refused] == ["tg85-u4"]
        assert result.refused[0].version == {"carrier": 2, "version": 2, "inventory": 2}[lost]
        assert not [one for one in result.restored if one.carrier == "tg85-u4"]
    assert b"never read from this chip" not in b"".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())
    told = " ".join(repaired_text(result).split())
    assert "refused: tg85-u4: version 2 of the replica has the inventory" in told
    assert "not the one that the log of commits notes" in told


def test_an_older_replica_gives_what_it_has(filled: ArchiveStore, replica: ArchiveStore, session: Session) -> None:
    filled.commit("tg85-u4", {"notes.json": b"[]"}, message="m", user=USER, now=NOW, expected_head=3)
    filled.content_path("tg85-u4", "agreed.bin").unlink()
    filled.content_path("tg85-u4", "notes.json").write_bytes(b"[ ]")
    result = repair_archive(filled, session, replica=replica)
    assert [one.path for one in result.restored] == [filled.name_of(filled.content_path("tg85-u4", "agreed.bin"))]
    assert [one.path for one in result.damaged] == [filled.name_of(filled.content_path("tg85-u4", "notes.json"))]
    assert filled.inventory("tg85-u4").head == 4


def test_strays_go_to_quarantine_when_asked(filled: ArchiveStore, session: Session) -> None:
    folder = filled.object_path("tg85-u4")
    strays = [folder / "inventory (conflicted copy).json", folder / "v2" / "content" / "~$u4.bin", filled.root / "a\nb"]
    for path in strays:
        path.write_bytes(path.name.encode())
    assert repair_archive(filled, session).exit_code == 1
    assert all(path.exists() for path in strays)
    result = repair_archive(filled, session, quarantine_unexpected=True)
    assert result.ok
    assert len(result.set_aside) == 3
    assert {path.read_bytes() for path in filled.quarantine.iterdir()} == {path.name.encode() for path in strays}
    assert not any(path.exists() for path in strays)


def test_a_folder_in_a_files_place_and_a_file_in_a_folders(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    shutil.rmtree(path.parent)
    path.parent.write_bytes(b"in the way")
    other = filled.content_path("tg85-u5.1", "carrier.json")
    other.unlink()
    other.mkdir()
    (other / "deep").write_bytes(b"kept")
    assert repair_archive(filled, session, replica=replica).ok
    assert {p.read_bytes() for p in filled.quarantine.rglob("*") if p.is_file()} >= {b"in the way", b"kept"}


def test_a_copy_of_another_archive_is_refused(filled: ArchiveStore, session: Session, tmp_path: Path) -> None:
    other = ArchiveStore.create(tmp_path / "other", uuid=UUID[:-1] + "2", title="t", now=NOW)
    with pytest.raises(UsageError) as caught:
        repair_archive(filled, session, replica=other)
    assert caught.value.code == "usage"


def test_an_archive_that_nothing_identifies_is_refused(filled: ArchiveStore) -> None:
    (filled.path / "archive.json").write_bytes(b"{")
    (filled.path / "README.txt").unlink()
    with refuses(ArchiveError, "archive-damaged", "it is not JSON"):
        open_damaged(str(filled.path), None)


def test_a_false_name_in_the_log_of_commits_is_no_lost_carrier(filled: ArchiveStore, session: Session) -> None:
    path = filled.log / "commits.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b'"tg85-u4"', b'"tg85-u7"', 1))
    assert audit(filled, now=NOW).exit_code == 4
    assert repair_archive(filled, session).ok
    assert sorted(path.read_bytes().splitlines()) == sorted(whole.splitlines())


def test_a_repair_in_an_archive_of_many(tmp_path: Path, session: Session) -> None:
    archive = ArchiveStore.create(tmp_path / "a", uuid=UUID, title="t", now=NOW)
    for number in range(6):
        add(archive, f"u{number}", bytes([number]) * 64)
    replicate(archive, tmp_path / "r", now=NOW)
    for number in (1, 4):
        archive.content_path(f"u{number}", "agreed.bin").unlink()
    result = repair_archive(archive, session, replica=ArchiveStore.open(tmp_path / "r"))
    assert result.events == ("u1", "u4")
    assert [archive.inventory(f"u{number}").head for number in range(6)] == [3, 4, 3, 3, 4, 3]
