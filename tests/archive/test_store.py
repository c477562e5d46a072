from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from imagekeeper.archive.ocfl.founding import find
from imagekeeper.archive.ocfl.layout import LAYOUTS
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, InputError, NotFoundError, UsageError
from imagekeeper.provenance import places
from tests.refusals import refuses

from .conftest import NOW, USER, UUID, Judge, add, first_files, read_files


def commit(archive: ArchiveStore, carrier: str, changes: dict[str, object], head: int) -> object:
    return archive.commit(carrier, changes, message="m", user=USER, now=NOW, expected_head=head)   # type: ignore[arg-type]


def test_an_independent_validator_accepts_what_is_written(filled: ArchiveStore, judge: Judge) -> None:
    assert judge(filled.root) == []


def test_an_empty_storage_root_is_valid(archive: ArchiveStore, judge: Judge) -> None:
    assert judge(archive.root) == []


def test_an_archive_reopens_with_its_layout(filled: ArchiveStore) -> None:
    again = ArchiveStore.open(filled.path)
    assert again.marker == filled.marker
    assert again.layout == filled.layout
    assert again.ids() == ("tg85-u4", "tg85-u5.1")


def test_equal_content_is_stored_once(filled: ArchiveStore) -> None:
    inventory = filled.inventory("tg85-u4")
    same = {inventory.content_path(p) for p in ("reads/r1/image.bin", "reads/r1/original/u4.bin", "agreed.bin")}
    assert len(same) == 1
    assert sum(1 for _ in filled.object_path("tg85-u4").rglob("*.bin")) == 1
    assert filled.read_file("tg85-u4", "agreed.bin") == bytes(range(256)) * 16


def test_a_change_that_changes_nothing_makes_no_version(filled: ArchiveStore) -> None:
    same = filled.read_file("tg85-u4", places.CARRIER)
    commit(filled, "tg85-u4", {places.CARRIER: same}, 3)
    assert filled.inventory("tg85-u4").head == 3
    assert list(filled.staging.iterdir()) == []


def test_a_path_left_out_stays_in_the_past(filled: ArchiveStore, judge: Judge) -> None:
    commit(filled, "tg85-u4", {"agreed.bin": None, "agreed.json": None}, 3)
    with pytest.raises(NotFoundError) as caught:
        filled.read_file("tg85-u4", "agreed.json")
    assert caught.value.code == "not-found"
    assert filled.inventory("tg85-u4").content_path("agreed.json", version=3) is not None
    assert judge(filled.root) == []


@pytest.mark.parametrize("form", ["path", "pieces", "data", "list"])
def test_content_comes_from_anything_that_gives_bytes(archive: ArchiveStore, tmp_path: Path, form: str) -> None:
    data = os.urandom(3 * 1024 * 1024 + 5)
    (tmp_path / "dump").write_bytes(data)
    sources = {
        "path": tmp_path / "dump", "pieces": iter([data[:9], data[9:]]), "data": memoryview(data), "list": [data],
    }  # fmt: skip
    commit(archive, "u4", {"x.bin": sources[form]}, 0)
    assert archive.read_file("u4", "x.bin") == data


def test_a_source_that_cannot_be_read_leaves_nothing(archive: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    with refuses(NotFoundError, "not-found", "there is no such file"):
        commit(archive, "u4", {"a.bin": b"1", "x.bin": tmp_path / "nothing"}, 0)
    assert archive.ids() == ()
    assert list(archive.staging.iterdir()) == []
    assert judge(archive.root) == []


def test_a_version_made_by_another_program_is_not_overwritten(filled: ArchiveStore) -> None:
    with pytest.raises(UsageError) as caught:
        commit(filled, "tg85-u4", {"x": b"1"}, 2)
    assert caught.value.code == "archive-busy"
    with pytest.raises(UsageError) as caught:
        commit(filled, "tg85-u4", {"x": b"1"}, 0)
    assert caught.value.code == "carrier-exists"


@pytest.mark.parametrize("carrier", ["nothing", "../archive", "", "TG85"])
def test_an_unknown_carrier_is_said_to_be_missing(archive: ArchiveStore, carrier: str) -> None:
    with pytest.raises(NotFoundError) as caught:
        archive.inventory(carrier)
    assert caught.value.code == "carrier-missing"


@pytest.mark.parametrize("carrier", ["extensions", "ocfl_layout.json", "con", "A", "a/b"])
def test_ids_that_cannot_be_folders_are_refused(archive: ArchiveStore, carrier: str) -> None:
    with pytest.raises(UsageError) as caught:
        commit(archive, carrier, {"x": b"1"}, 0)
    assert caught.value.code == "carrier-id"


def test_the_lock_keeps_a_second_writer_out(archive: ArchiveStore) -> None:
    other = ArchiveStore.open(archive.path)
    other.lock_timeout = 0.1
    with archive.lock(), archive.lock(), pytest.raises(UsageError) as caught:
        commit(other, "u4", {"x": b"1"}, 0)
    assert caught.value.code == "archive-busy"
    commit(other, "u4", {"x": b"1"}, 0)
    assert archive.has("u4")


def test_beginning_needs_a_place_that_is_free(archive: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    (tmp_path / "empty").mkdir()
    for place in (archive.path, tmp_path / "full", tmp_path / "full" / "letter.txt"):
        with pytest.raises(UsageError) as caught:
            ArchiveStore.create(place, uuid=UUID, title="t", now=NOW)
        assert caught.value.code == "archive-exists"
    assert ArchiveStore.create(tmp_path / "empty", uuid=UUID, title="t", now=NOW).ids() == ()


def test_an_interrupted_beginning_can_be_repeated(archive: ArchiveStore, judge: Judge) -> None:
    (archive.path / "archive.json").unlink()
    (archive.root / "0=ocfl_1.1").write_bytes(b"oc")
    again = ArchiveStore.create(archive.path, uuid=UUID, title="t", now=NOW, layout=archive.layout.number)
    assert judge(again.root) == []


def test_the_nearest_folder_above_is_found(filled: ArchiveStore, tmp_path: Path) -> None:
    assert find(filled.object_path("tg85-u4") / "v1") == filled.path
    with pytest.raises(NotFoundError) as caught:
        find(tmp_path)
    assert caught.value.code == "archive-missing"
    with pytest.raises(NotFoundError) as caught:
        ArchiveStore.open(tmp_path)
    assert caught.value.code == "archive-missing"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ('{"version": 2, "and": "more"}', "archive-newer"), ("", "archive-damaged"), ("[]", "archive-damaged"),
        ('{"version": 1}', "archive-damaged"), ("[" * 100_000, "archive-damaged"),
    ],
)  # fmt: skip
def test_a_mark_that_is_none_is_named(archive: ArchiveStore, text: str, code: str) -> None:
    (archive.path / "archive.json").write_text(text)
    with pytest.raises(ArchiveError) as caught:
        ArchiveStore.open(archive.path)
    assert caught.value.code == code


def test_what_was_tampered_with_is_not_read(filled: ArchiveStore) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    path.write_bytes(b"other")
    with pytest.raises(ArchiveError) as caught:
        filled.read_file("tg85-u4", "agreed.bin")
    assert caught.value.code == "archive-damaged"
    (filled.object_path("tg85-u4") / "inventory.json").write_bytes(b"{}")
    with refuses(ArchiveError, "archive-damaged", "its SHA-512 is not the one in the file beside it"):
        filled.inventory("tg85-u4")


def test_content_that_is_a_link_is_not_followed(filled: ArchiveStore, tmp_path: Path) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    (tmp_path / "elsewhere").write_bytes(path.read_bytes())
    path.unlink()
    path.symlink_to(tmp_path / "elsewhere")
    with refuses(ArchiveError, "archive-damaged", "it is a symbolic link, not a file"):
        filled.read_file("tg85-u4", "agreed.bin")


def test_a_person_can_read_what_the_folder_is(filled: ArchiveStore) -> None:
    text = (filled.path / "README.txt").read_text()
    assert "Harbour office" in text
    assert UUID in text
    assert "Oxford Common File Layout" in text


def test_the_layout_is_declared_as_registered(archive: ArchiveStore) -> None:
    # OCFL Community Extensions 0002 and 0003: names, parameters, and the example of 0003's path
    declared = json.loads((archive.root / "ocfl_layout.json").read_bytes())
    assert declared["extension"] in {
        "0002-flat-direct-storage-layout", "0003-hash-and-id-n-tuple-storage-layout"
    }  # fmt: skip
    assert LAYOUTS["0003"].object_folder("..hor/rib:le-$id").endswith("/%2e%2ehor%2frib%3ale-%24id")


def test_reads_follow_each_other(filled: ArchiveStore, judge: Judge) -> None:
    events = filled.read_file("tg85-u4", places.EVENTS)
    commit(filled, "tg85-u4", dict(read_files(b"\x00" * 64, events, "r2", 3)), 3)
    assert places.next_read_id(list(filled.inventory("tg85-u4").state)) == "r3"
    assert judge(filled.root) == []


def test_an_unwritable_archive_is_said_to_be_so(archive: ArchiveStore, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(archive.disk, "sync", refuse)
    with pytest.raises(ImagekeeperError) as caught:
        commit(archive, "u4", dict(first_files("u4")), 0)
    assert caught.value.code == "cannot-write"
    assert archive.ids() == ()
    assert not isinstance(caught.value, InputError)
    monkeypatch.undo()
    add(archive, "u4", b"1234")
    assert archive.inventory("u4").head == 3


def test_equal_content_that_comes_in_pieces_is_stored_once(archive: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    (tmp_path / "dump").write_bytes(b"1234")
    commit(archive, "u4", {"a.bin": tmp_path / "dump", "deep/er/b.bin": iter([b"12", b"34"])}, 0)
    commit(archive, "u4", {"again/c.bin": tmp_path / "dump"}, 1)
    assert archive.read_file("u4", "deep/er/b.bin") == archive.read_file("u4", "again/c.bin") == b"1234"
    assert [path.name for path in archive.object_path("u4").rglob("*.bin")] == ["a.bin"]
    assert judge(archive.root) == []


@pytest.mark.parametrize(("member", "value"), [("uuid", "\ud800"), ("title", "\udcff"), ("created", "yesterday")])
def test_a_mark_whose_values_are_none_of_their_kind_is_damaged(tmp_path: Path, member: str, value: str) -> None:
    """The UUID names the index of the archive; half of a character in it stopped every list."""
    archive = ArchiveStore.create(tmp_path / "harbour", uuid=UUID, title="Harbour", now=NOW)
    mark = archive.path / "archive.json"
    mark.write_text(json.dumps({**json.loads(mark.read_text()), member: value}))
    with pytest.raises(ArchiveError) as caught:
        ArchiveStore.open(archive.path)
    assert (caught.value.code, member in caught.value.why) == ("archive-damaged", True)
