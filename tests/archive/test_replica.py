"""A replica is the same, at every moment whole, and never takes damage over."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.replica import Replica, replicate
from imagekeeper.archive.ocfl import disk as disk_module
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ContradictionError, UsageError
from imagekeeper.jsonable import schema_of, to_json

from .conftest import NOW, USER, UUID, Judge, add


@pytest.fixture(autouse=True)
def unflushed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting for the medium would only take time here."""
    monkeypatch.setattr(disk_module, "flush", lambda file: file.flush())
    monkeypatch.setattr(disk_module, "sync_folder", lambda folder: None)


def tree(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def update(archive: ArchiveStore, carrier: str, name: str = "notes.json") -> None:
    head = archive.inventory(carrier).head
    archive.commit(carrier, {name: b"[]"}, message="m", user=USER, now=NOW, expected_head=head)


def assert_same(archive: ArchiveStore, replica: Path) -> None:
    assert tree(archive.root) == tree(replica / "carriers")
    for name in ("archive.json", "README.txt"):
        assert (archive.path / name).read_bytes() == (replica / name).read_bytes()
    assert {*(archive.log / "commits.jsonl").read_bytes().splitlines()} == {
        *(replica / "log" / "commits.jsonl").read_bytes().splitlines()
    }  # fmt: skip


def test_a_replica_is_the_same_and_valid(filled: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    place = tmp_path / "replica"
    made = replicate(filled, place, now=NOW)
    jsonschema.validate(to_json(made), schema_of(Replica))
    assert (made.new, made.ok, made.added, made.versions) == (True, True, ("tg85-u4", "tg85-u5.1"), 6)
    assert_same(filled, place)
    assert audit(ArchiveStore.open(place), now=NOW).ok
    assert judge(filled.root) == judge(place / "carriers") == []
    again = replicate(filled, place, now=NOW)
    assert (again.new, again.ok, again.versions) == (False, True, 0)


def test_a_replica_is_brought_up_to_date(filled: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    place = tmp_path / "replica"
    replicate(filled, place, now=NOW)
    update(filled, "tg85-u4")
    update(filled, "tg85-u4", "more.json")
    add(filled, "tg85-u6", b"third")
    made = replicate(filled, place, now=NOW)
    assert (made.added, made.extended, made.versions) == (("tg85-u6",), ("tg85-u4",), 5)
    assert_same(filled, place)
    assert audit(ArchiveStore.open(place), now=NOW).ok
    assert judge(place / "carriers") == []
    logs = [(folder / "log" / "replications.jsonl").read_bytes() for folder in (filled.path, place)]
    assert logs[0] == logs[1]
    # Library of Congress, Preservation vocabularies, Event Type: replication
    assert json.loads(logs[0].splitlines()[-1])["type_uri"].endswith("/eventType/rep")


def test_damage_is_not_handed_on(filled: ArchiveStore, tmp_path: Path) -> None:
    place = tmp_path / "replica"
    hurt = filled.content_path("tg85-u4", "agreed.bin")
    whole = hurt.read_bytes()
    hurt.write_bytes(whole[:-1] + b"?")
    made = replicate(filled, place, now=NOW)
    assert [entry.path for entry in made.not_copied] == [filled.name_of(hurt)]
    assert (made.added, made.exit_code) == (("tg85-u5.1",), 4)
    assert audit(ArchiveStore.open(place), now=NOW).ok
    hurt.write_bytes(whole)
    assert replicate(filled, place, now=NOW).ok
    assert_same(filled, place)


@pytest.mark.parametrize("name", ["inventory.json", "inventory.json.sha512", "v4/inventory.json", "v2/inventory.json"])
@pytest.mark.parametrize("new", [True, False])
def test_damaged_inventories_are_not_handed_on(filled: ArchiveStore, tmp_path: Path, name: str, new: bool) -> None:
    place = tmp_path / "replica"
    if not new:
        replicate(filled, place, now=NOW)
    update(filled, "tg85-u4")
    path = filled.object_path("tg85-u4") / name
    path.write_bytes(path.read_bytes().replace(b"a", b"b", 1))
    made = replicate(filled, place, now=NOW)
    assert audit(ArchiveStore.open(place), now=NOW).ok
    if new or name != "v2/inventory.json":   # which the replica has whole, and nothing asks for it again
        assert filled.name_of(path) in [entry.path for entry in made.not_copied]
        assert made.exit_code == 4


def test_a_file_that_cannot_be_read_does_not_stop_the_others(
    filled: ArchiveStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from imagekeeper.archive.exchange import grafting
    from imagekeeper.archive.ocfl import hashing, reading

    bad = filled.content_path("tg85-u4", "agreed.bin")

    def failing(path: Path):   # type: ignore[no-untyped-def]
        if path == bad:
            raise OSError(5, "Input/output error")
        return reading.file_blocks(path)

    for module in (grafting, hashing):
        monkeypatch.setattr(module, "file_blocks", failing)
    made = replicate(filled, tmp_path / "replica", now=NOW)
    assert [(entry.path, "Input/output error" in entry.why) for entry in made.not_copied] == [
        (filled.name_of(bad), True)
    ]  # fmt: skip
    assert made.added == ("tg85-u5.1",)


def test_a_replica_that_moved_on_is_left_as_it_is(filled: ArchiveStore, tmp_path: Path) -> None:
    for change in (
        lambda archive: update(archive, "tg85-u4"), lambda archive: add(archive, "tg85-u7", b"new there"),
        lambda archive: update(archive, "tg85-u5.1", "other.json"),
    ):  # fmt: skip
        place = tmp_path / "replica"
        replicate(filled, place, now=NOW)
        change(ArchiveStore.open(place))
        if change.__code__.co_consts and "other.json" in change.__code__.co_consts:
            update(filled, "tg85-u5.1")   # so that both have a version that the other has not
        before = tree(place / "carriers")
        with pytest.raises(ContradictionError) as caught:
            replicate(filled, place, now=NOW)
        assert caught.value.code == "replica-moved-on"
        assert "into the archive" in caught.value.hint
        assert tree(place / "carriers") == before
        shutil.rmtree(place)


def test_what_the_archive_lost_is_no_new_history(filled: ArchiveStore, tmp_path: Path) -> None:
    place = tmp_path / "replica"
    replicate(filled, place, now=NOW)
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    folder = filled.object_path("tg85-u4")
    for name in ("inventory.json", "inventory.json.sha512"):
        (folder / name).write_bytes((folder / "v2" / name).read_bytes())
    shutil.rmtree(folder / "v3")
    before = tree(place / "carriers")
    made = replicate(filled, place, now=NOW)
    assert {entry.path for entry in made.not_copied} == {
        filled.name_of(folder / "v3"), filled.name_of(filled.object_path("tg85-u5.1"))
    }  # fmt: skip
    assert tree(place / "carriers") == before


def test_a_damaged_replica_is_named_and_not_made_worse(filled: ArchiveStore, tmp_path: Path) -> None:
    place = tmp_path / "replica"
    replicate(filled, place, now=NOW)
    update(filled, "tg85-u4")
    inventory = ArchiveStore.open(place).object_path("tg85-u4") / "inventory.json"
    for path in (inventory, inventory.parent / "v3" / "inventory.json"):
        path.write_bytes(b"{}")
    made = replicate(filled, place, now=NOW)
    (entry,) = made.not_copied
    assert entry.why.startswith("in the copy")
    assert inventory.read_bytes() == b"{}"


def test_what_the_keeper_put_beside_is_copied_and_never_lost(filled: ArchiveStore, tmp_path: Path) -> None:
    place = tmp_path / "replica"
    (filled.path / "bench.toml").write_text("first")
    assert replicate(filled, place, now=NOW).beside == ("bench.toml",)
    (filled.path / "bench.toml").write_text("second")
    assert replicate(filled, place, now=NOW).beside == ("bench.toml",)
    assert (place / "bench.toml").read_text() == "second"
    assert (place / "quarantine" / "bench.toml.1").read_text() == "first"
    assert replicate(filled, place, now=NOW).beside == ()
    assert audit(ArchiveStore.open(place), now=NOW).ok


def test_places_for_no_replica(filled: ArchiveStore, tmp_path: Path) -> None:
    other = ArchiveStore.create(tmp_path / "other", uuid=UUID[:-1] + "2", title="t", now=NOW)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    for place, code in (
        (filled.path, "usage"), (filled.path / "inside", "usage"), (filled.root / "deep", "usage"),
        (filled.path.parent, "usage"), (other.path, "archive-exists"), (tmp_path / "full", "archive-exists"),
    ):  # fmt: skip
        with pytest.raises(UsageError) as caught:
            replicate(filled, place, now=NOW)
        assert caught.value.code == code, place
    assert audit(filled, now=NOW).ok


def test_strays_are_not_copied(filled: ArchiveStore, tmp_path: Path) -> None:
    (filled.object_path("tg85-u4") / "Thumbs.db").write_bytes(b"x")
    assert replicate(filled, tmp_path / "replica", now=NOW).ok
    assert audit(ArchiveStore.open(tmp_path / "replica"), now=NOW).ok
