"""Every kind of damage is named by its path, and nothing else is."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest

from imagekeeper.archive.audit import audit
from imagekeeper.archive.audit_report import Audit, Discrepancy
from imagekeeper.archive.store import Archive
from imagekeeper.errors import UsageError
from imagekeeper.jsonable import schema_of, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json

from .conftest import NOW, USER, event, read_record


def paths(found: tuple[Discrepancy, ...]) -> list[str]:
    return [entry.path for entry in found]


def all_files(archive: Archive) -> list[Path]:
    return sorted(path for path in archive.root.rglob("*") if path.is_file())


def check(archive: Archive) -> Audit:
    return audit(archive, now=NOW)


def test_a_sound_archive_passes(filled: Archive) -> None:
    files = all_files(filled)
    found = check(filled)
    assert (found.damaged, found.missing, found.unexpected) == ((), (), ())
    assert found.ok
    assert found.exit_code == 0
    assert found.carriers == 2
    assert found.files == len(files)
    assert found.bytes == sum(path.stat().st_size for path in files)


def test_the_result_is_the_document_it_says(filled: Archive) -> None:
    import jsonschema

    document = to_json(check(filled))
    jsonschema.validate(document, schema_of(Audit))
    assert document["schema"] == "audit/1"


def test_a_changed_byte_anywhere_is_named_exactly(filled: Archive) -> None:
    for path in all_files(filled):
        whole = path.read_bytes()
        for place in {0, len(whole) // 2, len(whole) - 1}:
            path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x01]) + whole[place + 1 :])
            found = check(filled)
            assert paths(found.damaged) == [filled.name_of(path)], (path, place)
            assert (found.missing, found.unexpected) == ((), ())
            assert found.exit_code == 4
        path.write_bytes(whole)
    assert check(filled).ok


def test_a_missing_file_anywhere_is_named_exactly(filled: Archive) -> None:
    for path in all_files(filled):
        whole = path.read_bytes()
        path.unlink()
        found = check(filled)
        assert paths(found.missing) == [filled.name_of(path)], path
        assert (found.damaged, found.unexpected) == ((), ())
        assert found.exit_code == 4
        path.write_bytes(whole)
    assert check(filled).ok


def test_a_file_cut_short_or_emptied_is_damaged(filled: Archive) -> None:
    for path in all_files(filled):
        whole = path.read_bytes()
        for rest in (whole[:-1] if len(whole) > 1 else b"", b""):
            if path.name.endswith(".sha512") and rest == whole[:-1]:
                continue   # the line feed at its end means nothing
            path.write_bytes(rest)
            assert paths(check(filled).damaged) == [filled.name_of(path)], path
        path.write_bytes(whole)


def test_strays_are_named_wherever_they_lie(filled: Archive) -> None:
    folders = [filled.root, *sorted(path for path in filled.root.rglob("*") if path.is_dir())]
    for folder in folders:
        file, inner, link = folder / "Thumbs.db", folder / "stray", folder / "link"
        file.write_bytes(b"x")
        inner.mkdir()
        (inner / "deep.bin").write_bytes(b"y")
        link.symlink_to("/")
        found = check(filled)
        named = set(paths(found.unexpected))
        assert {filled.name_of(file), filled.name_of(link)} <= named, folder
        assert any(name.startswith(filled.name_of(inner)) for name in named), folder
        assert (found.damaged, found.missing) == ((), ()), folder
        assert found.exit_code == 1
        file.unlink()
        link.unlink()
        (inner / "deep.bin").unlink()
        inner.rmdir()
    assert check(filled).ok


def test_a_link_in_a_files_place_is_damage(filled: Archive, tmp_path: Path) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    (tmp_path / "elsewhere").write_bytes(path.read_bytes())
    path.unlink()
    path.symlink_to(tmp_path / "elsewhere")
    assert paths(check(filled).damaged) == [filled.name_of(path)]


def test_a_pipe_in_a_files_place_does_not_block(filled: Archive) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    path.unlink()
    os.mkfifo(path)
    assert paths(check(filled).damaged) == [filled.name_of(path)]


def test_a_carrier_that_is_gone_is_missed(filled: Archive, tmp_path: Path) -> None:
    filled.object_path("tg85-u4").rename(tmp_path / "away")
    found = check(filled)
    assert paths(found.missing) == [filled.name_of(filled.object_path("tg85-u4"))]


def test_a_carrier_put_back_to_an_earlier_state_is_missed(filled: Archive) -> None:
    import shutil

    folder = filled.object_path("tg85-u4")
    for name in ("inventory.json", "inventory.json.sha512"):
        (folder / name).write_bytes((folder / "v2" / name).read_bytes())
    shutil.rmtree(folder / "v3")
    found = check(filled)
    assert paths(found.missing) == [filled.name_of(folder / "v3")]
    assert found.damaged == ()


def commit(archive: Archive, changes: dict[str, bytes], head: int = 3) -> None:
    archive.commit("tg85-u4", changes, message="m", user=USER, now=NOW, expected_head=head)


def test_a_broken_chain_of_events_is_named(filled: Archive) -> None:
    events = filled.read_file("tg85-u4", places.EVENTS)
    commit(filled, {places.EVENTS: append_events(events, [event("00" * 32, 9)])})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.EVENTS))
    assert "line 3" in entry.why


def test_events_that_were_rewritten_are_named(filled: Archive) -> None:
    commit(filled, {places.EVENTS: append_events(b"", [event(None, 7)])})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.EVENTS))
    assert "version" in entry.why


def test_a_file_that_its_record_does_not_describe_is_named(filled: Archive) -> None:
    commit(filled, {places.read_image("r1"): b"other bytes"})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.read_image("r1")))
    assert entry.found == hashlib.sha256(b"other bytes").hexdigest()


def test_a_record_that_names_a_file_not_held_is_named(filled: Archive) -> None:
    record = read_record(bytes(range(256)) * 16, original="reads/r1/original/other.bin")
    commit(filled, {places.read_record("r1"): write_json(record)})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.read_record("r1")))


@pytest.mark.parametrize("text", [b"", b"[", b"[1]", b'{"id": 7}', b"[" * 50_000, b"\xff\xfe", b"null"])
def test_a_record_that_is_none_is_named(filled: Archive, text: bytes) -> None:
    for name in (places.CARRIER, places.read_record("r1"), places.AGREED):
        head = filled.inventory("tg85-u4").head
        before = filled.read_file("tg85-u4", name)
        commit(filled, {name: text}, head)
        assert paths(check(filled).damaged) == [filled.name_of(filled.content_path("tg85-u4", name))]
        commit(filled, {name: before}, head + 1)


@pytest.mark.parametrize("text", [b"", b"{}", b"[" * 100_000, b'{"id": ' + b"9" * 10_000 + b"}"])
def test_hostile_inventories_are_told_not_raised(filled: Archive, text: bytes) -> None:
    folder = filled.object_path("tg85-u4")
    side = hashlib.sha512(text).hexdigest().encode() + b"  inventory.json\n"
    for above in (folder, folder / "v3"):
        (above / "inventory.json").write_bytes(text)
        (above / "inventory.json.sha512").write_bytes(side)
    found = check(filled)
    assert paths(found.damaged) == [filled.name_of(folder / "inventory.json")]


def test_an_inventory_with_paths_outside_is_not_followed(filled: Archive, tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(b"secret")
    folder = filled.object_path("tg85-u4")
    document = json.loads((folder / "inventory.json").read_bytes())
    digest = hashlib.sha512(b"secret").hexdigest()
    document["manifest"][digest] = ["../../../secret"]
    document["versions"]["v3"]["state"][digest] = ["secret"]
    text = json.dumps(document).encode()
    for above in (folder, folder / "v3"):
        (above / "inventory.json").write_bytes(text)
        side = hashlib.sha512(text).hexdigest().encode() + b"  inventory.json\n"
        (above / "inventory.json.sha512").write_bytes(side)
    found = check(filled)
    assert paths(found.damaged) == [filled.name_of(folder / "inventory.json")]
    assert "E099" in found.damaged[0].why


def test_each_audit_leaves_a_line(filled: Archive) -> None:
    check(filled)
    (filled.root / "stray").write_bytes(b"")
    check(filled)
    first, second = [json.loads(line) for line in (filled.log / "audit.jsonl").read_text().splitlines()]
    assert first["ok"] is True
    assert second["unexpected"] == ["carriers/stray"]


def test_an_audit_waits_for_a_writer_only_so_long(filled: Archive) -> None:
    other = Archive.open(filled.path)
    other.lock_timeout = 0.1
    with filled.lock(), pytest.raises(UsageError) as caught:
        check(other)
    assert caught.value.code == "archive-busy"


def test_progress_adds_up_to_the_bytes(filled: Archive) -> None:
    import contextlib

    done: list[int] = []
    totals: list[int] = []

    @contextlib.contextmanager
    def watch(label: str, total: int):   # type: ignore[no-untyped-def]
        totals.append(total)
        yield done.append

    found = audit(filled, watch, now=NOW)
    assert totals == [sum(done)] == [found.bytes]


def test_a_storage_root_that_is_gone_is_told_not_raised(filled: Archive) -> None:
    import shutil

    shutil.rmtree(filled.root)
    found = check(filled)
    assert "carriers" in paths(found.missing)
    assert filled.name_of(filled.object_path("tg85-u4")) in paths(found.missing)
    assert found.exit_code == 4


def test_names_that_are_no_text_are_told_printably(filled: Archive) -> None:
    with open(os.fsencode(filled.root) + b"/\xff\n", "wb"):
        pass
    (entry,) = check(filled).unexpected
    assert entry.path.isprintable()


def test_a_copy_that_cannot_be_written_is_audited_all_the_same(
    filled: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("filelock.FileLock.acquire", refuse)
    monkeypatch.setattr(filled.disk, "append", refuse)
    assert check(filled).ok


def test_a_past_that_was_rewritten_is_named(filled: Archive) -> None:
    folder = filled.object_path("tg85-u4") / "v1"
    document = json.loads((folder / "inventory.json").read_bytes())
    document["versions"]["v1"]["message"] = "another reason"
    text = json.dumps(document).encode()
    (folder / "inventory.json").write_bytes(text)
    (folder / "inventory.json.sha512").write_bytes(hashlib.sha512(text).hexdigest().encode() + b"  inventory.json\n")
    assert paths(check(filled).damaged) == [filled.name_of(folder / "inventory.json")]


def test_what_lies_beside_the_carriers_is_looked_at(filled: Archive) -> None:
    readme, log = filled.path / "README.txt", filled.log / "commits.jsonl"
    for path, hurt, where in ((readme, b"", "damaged"), (readme, None, "missing"), (log, b"", "damaged"),
                              (log, b"{torn", "damaged"), (log, None, "missing")):
        whole = path.read_bytes()
        if hurt is None:
            path.unlink()
        else:
            path.write_bytes(hurt)
        found = check(filled)
        assert paths(getattr(found, where)) == [filled.name_of(path)]
        path.write_bytes(whole)
    log.write_bytes(log.read_bytes() + b'{"cut sho')   # as after a crash
    assert check(filled).ok
