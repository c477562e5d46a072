"""Every kind of damage is named by its path, and nothing else is."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import Choice, audit
from imagekeeper.archive.audits.audit_report import Audit, Discrepancy
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jsonable import schema_of, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json
from tests.refusals import refuses

from .conftest import NOW, USER, UUID, add, event, read_record


def paths(found: tuple[Discrepancy, ...]) -> list[str]:
    return [entry.path for entry in found]


def all_files(archive: ArchiveStore) -> list[Path]:
    return sorted(path for path in archive.root.rglob("*") if path.is_file())


def check(archive: ArchiveStore) -> Audit:
    return audit(archive, now=NOW)


def test_a_sound_archive_passes(filled: ArchiveStore) -> None:
    files = all_files(filled)
    found = check(filled)
    assert (found.damaged, found.missing, found.unexpected) == ((), (), ())
    assert found.ok
    assert found.exit_code == 0
    assert found.carriers == 2
    assert found.files == len(files)
    assert found.bytes == sum(path.stat().st_size for path in files)


def test_the_result_is_the_document_it_says(filled: ArchiveStore) -> None:
    import jsonschema

    document = to_json(check(filled))
    jsonschema.validate(document, schema_of(Audit))
    assert document["schema"] == "audit/1"


def test_a_changed_byte_anywhere_is_named_exactly(filled: ArchiveStore) -> None:
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


def test_a_missing_file_anywhere_is_named_exactly(filled: ArchiveStore) -> None:
    for path in all_files(filled):
        whole = path.read_bytes()
        path.unlink()
        found = check(filled)
        assert paths(found.missing) == [filled.name_of(path)], path
        assert (found.damaged, found.unexpected) == ((), ())
        assert found.exit_code == 4
        path.write_bytes(whole)
    assert check(filled).ok


def test_a_file_cut_short_or_emptied_is_damaged(filled: ArchiveStore) -> None:
    for path in all_files(filled):
        whole = path.read_bytes()
        for rest in (whole[:-1] if len(whole) > 1 else b"", b""):
            path.write_bytes(rest)
            assert paths(check(filled).damaged) == [filled.name_of(path)], path
        path.write_bytes(whole)


def test_strays_are_named_wherever_they_lie(filled: ArchiveStore) -> None:
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


def test_a_link_in_a_files_place_is_damage(filled: ArchiveStore, tmp_path: Path) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    (tmp_path / "elsewhere").write_bytes(path.read_bytes())
    path.unlink()
    path.symlink_to(tmp_path / "elsewhere")
    assert paths(check(filled).damaged) == [filled.name_of(path)]


def test_a_pipe_in_a_files_place_does_not_block(filled: ArchiveStore) -> None:
    path = filled.content_path("tg85-u4", "agreed.bin")
    path.unlink()
    os.mkfifo(path)
    assert paths(check(filled).damaged) == [filled.name_of(path)]


def test_a_carrier_that_is_gone_is_missed(filled: ArchiveStore, tmp_path: Path) -> None:
    filled.object_path("tg85-u4").rename(tmp_path / "away")
    found = check(filled)
    assert paths(found.missing) == [filled.name_of(filled.object_path("tg85-u4"))]


def test_a_carrier_put_back_to_an_earlier_state_is_missed(filled: ArchiveStore) -> None:
    import shutil

    folder = filled.object_path("tg85-u4")
    for name in ("inventory.json", "inventory.json.sha512"):
        (folder / name).write_bytes((folder / "v2" / name).read_bytes())
    shutil.rmtree(folder / "v3")
    found = check(filled)
    assert paths(found.missing) == [filled.name_of(folder / "v3")]
    assert found.damaged == ()


def commit(archive: ArchiveStore, changes: dict[str, bytes], head: int = 3) -> None:
    archive.commit("tg85-u4", changes, message="m", user=USER, now=NOW, expected_head=head)


def test_a_broken_chain_of_events_is_named(filled: ArchiveStore) -> None:
    events = filled.read_file("tg85-u4", places.EVENTS)
    commit(filled, {places.EVENTS: append_events(events, [event("00" * 32, 9)])})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.EVENTS))
    assert "line 3" in entry.why


def test_events_that_were_rewritten_are_named(filled: ArchiveStore) -> None:
    commit(filled, {places.EVENTS: append_events(b"", [event(None, 7)])})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.EVENTS))
    assert "version" in entry.why


def test_a_file_that_its_record_does_not_describe_is_named(filled: ArchiveStore) -> None:
    commit(filled, {places.read_image("r1"): b"other bytes"})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.read_image("r1")))
    assert entry.found == hashlib.sha256(b"other bytes").hexdigest()


def test_a_record_that_names_a_file_not_held_is_named(filled: ArchiveStore) -> None:
    record = read_record(bytes(range(256)) * 16, original="reads/r1/original/other.bin")
    commit(filled, {places.read_record("r1"): write_json(record)})
    (entry,) = check(filled).damaged
    assert entry.path == filled.name_of(filled.content_path("tg85-u4", places.read_record("r1")))


@pytest.mark.parametrize("text", [b"", b"[", b"[1]", b'{"id": 7}', b"[" * 50_000, b"\xff\xfe", b"null"])
def test_a_record_that_is_none_is_named(filled: ArchiveStore, text: bytes) -> None:
    for name in (places.CARRIER, places.read_record("r1"), places.AGREED):
        head = filled.inventory("tg85-u4").head
        before = filled.read_file("tg85-u4", name)
        commit(filled, {name: text}, head)
        assert paths(check(filled).damaged) == [filled.name_of(filled.content_path("tg85-u4", name))]
        commit(filled, {name: before}, head + 1)


@pytest.mark.parametrize("text", [b"", b"{}", b"[" * 100_000, b'{"id": ' + b"9" * 10_000 + b"}"])
def test_hostile_inventories_are_told_not_raised(filled: ArchiveStore, text: bytes) -> None:
    folder = filled.object_path("tg85-u4")
    side = hashlib.sha512(text).hexdigest().encode() + b"  inventory.json\n"
    for above in (folder, folder / "v3"):
        (above / "inventory.json").write_bytes(text)
        (above / "inventory.json.sha512").write_bytes(side)
    found = check(filled)
    assert paths(found.damaged) == [filled.name_of(folder / "inventory.json")]


def test_an_inventory_with_paths_outside_is_not_followed(filled: ArchiveStore, tmp_path: Path) -> None:
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


def test_each_audit_leaves_a_line(filled: ArchiveStore) -> None:
    check(filled)
    (filled.root / "stray").write_bytes(b"")
    check(filled)
    first, second = [json.loads(line) for line in (filled.log / "audit.jsonl").read_text().splitlines()]
    assert first["ok"] is True
    assert second["unexpected"] == ["carriers/stray"]


def test_an_audit_waits_for_a_writer_only_so_long(filled: ArchiveStore) -> None:
    other = ArchiveStore.open(filled.path)
    other.lock_timeout = 0.1
    with filled.lock(), pytest.raises(UsageError) as caught:
        check(other)
    assert caught.value.code == "archive-busy"


def test_progress_adds_up_to_the_bytes(filled: ArchiveStore) -> None:
    done: list[int] = []
    totals: list[int] = []

    @contextlib.contextmanager
    def watch(label: str, total: int):   # type: ignore[no-untyped-def]
        totals.append(total)
        yield done.append

    found = audit(filled, watch, now=NOW)
    assert totals == [sum(done)] == [found.bytes]


def test_a_storage_root_that_is_gone_is_told_not_raised(filled: ArchiveStore) -> None:
    import shutil

    shutil.rmtree(filled.root)
    found = check(filled)
    assert "carriers" in paths(found.missing)
    assert filled.name_of(filled.object_path("tg85-u4")) in paths(found.missing)
    assert found.exit_code == 4


def test_names_that_are_no_text_are_told_printably(filled: ArchiveStore) -> None:
    with open(os.fsencode(filled.root) + b"/\xff\n", "wb"):
        pass
    (entry,) = check(filled).unexpected
    assert entry.path.isprintable()


def test_a_copy_that_cannot_be_written_is_audited_all_the_same(
    filled: ArchiveStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("filelock.FileLock.acquire", refuse)
    monkeypatch.setattr(filled.disk, "append", refuse)
    assert check(filled).ok


def test_a_past_that_was_rewritten_is_named(filled: ArchiveStore) -> None:
    folder = filled.object_path("tg85-u4") / "v1"
    document = json.loads((folder / "inventory.json").read_bytes())
    document["versions"]["v1"]["message"] = "another reason"
    text = json.dumps(document).encode()
    (folder / "inventory.json").write_bytes(text)
    (folder / "inventory.json.sha512").write_bytes(hashlib.sha512(text).hexdigest().encode() + b"  inventory.json\n")
    assert paths(check(filled).damaged) == [filled.name_of(folder / "inventory.json")]


def test_what_lies_beside_the_carriers_is_looked_at(filled: ArchiveStore) -> None:
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
    whole = log.read_bytes()
    lines = whole.splitlines(keepends=True)
    for torn in (whole + lines[2][:40], whole[:-1], lines[0][:30] + b"\n" + whole):   # as after a crash
        log.write_bytes(torn)
        assert check(filled).ok, torn
    for wrong in (whole + b'{"cut sho\n', whole + b"\n", b"".join(lines[1:-1]), whole[:-2] + b"X\n"):
        log.write_bytes(wrong)
        assert paths(check(filled).damaged) == [filled.name_of(log)], wrong


def test_a_mark_and_a_readme_that_disagree_are_told_apart(filled: ArchiveStore) -> None:
    mark = filled.path / "archive.json"
    whole = mark.read_bytes()
    for wrong in (
        whole.replace(b"Harbour", b"Barbour"), whole.replace(b"\n  ", b"\n   ", 1), whole.replace(b"sha512", b"sha513"),
        whole.replace(UUID.encode(), UUID[:-1].encode() + b"2"),
    ):  # fmt: skip
        mark.write_bytes(wrong)
        found = audit(ArchiveStore.open(filled.path), now=NOW)
        assert found.exit_code == 4
        assert set(paths(found.damaged)) <= {"archive.json", "README.txt"}
    mark.write_bytes(whole)
    assert check(filled).ok


def test_a_mark_without_the_digest_of_the_readme_is_accepted(filled: ArchiveStore) -> None:
    mark = filled.path / "archive.json"
    document = json.loads(mark.read_bytes())
    del document["readme_sha512"]   # as archives had it before
    mark.write_bytes(write_json(document))
    assert audit(ArchiveStore.open(filled.path), now=NOW).ok


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("inventory (conflicted copy 2026-03-02).json", "keeps folders in step"),
        ("inventory (Ann's conflicted copy).json", "keeps folders in step"),
        ("inventory.sync-conflict-20260302-120000-ABCDEFG.json", "keeps folders in step"),
        ("~$carrier.json", "has a file open"), (".~lock.carrier.json#", "has a file open"),
        ("image.bin.tmp", "temporary"), ("~inventory.json", "temporary"),
        ("image.bin.partial", "transfer has not ended"), ("image.bin.part", "transfer has not ended"),
        (".image.bin.a1B2c3", "transfer has not ended"),
        ("desktop.ini", "desktop"), (".DS_Store", "desktop"), ("Thumbs.db", "desktop"), ("._image.bin", "desktop"),
        ("carrier.json~", "editor"), ("carrier (1).json", "second copy"), ("Copy of carrier.json", "second copy"),
        ("letter.txt", None),
    ],
)  # fmt: skip  # common practice, no source
def test_strays_are_said_to_be_what_they_probably_are(tmp_path: Path, name: str, words: str | None) -> None:
    archive = ArchiveStore.create(tmp_path / "a", uuid=UUID, title="t", now=NOW)
    add(archive, "tg85-u4", b"1234")
    for folder in (archive.root, archive.object_path("tg85-u4"), archive.object_path("tg85-u4") / "v2" / "content"):
        (folder / name).write_bytes(b"x")
        found = check(archive)
        (entry,) = found.unexpected
        assert entry.path == archive.name_of(folder / name)
        assert words in entry.why if words else entry.why == "nothing accounts for it"
        assert found.exit_code == 1
        assert archive.read_file("tg85-u4", "agreed.bin") == b"1234"
        (folder / name).unlink()
    (archive.path / name).write_bytes(b"x")   # beside the storage root it is the keeper's own affair
    assert check(archive).ok


def test_folders_that_a_sync_made_twice_are_named(filled: ArchiveStore) -> None:
    import shutil

    folder = filled.object_path("tg85-u4")
    for name in ("v2 (conflicted copy)", "v3.sync-conflict-20260302"):
        shutil.copytree(folder / "v2", folder / name)
    shutil.copytree(folder, folder.parent / "tg85-u4 (conflicted copy)")
    found = check(filled)
    assert len(found.unexpected) == 3
    assert all("keeps folders in step" in entry.why for entry in found.unexpected)
    assert filled.ids() == ("tg85-u4", "tg85-u5.1")
    assert filled.inventory("tg85-u4").head == 3


@pytest.fixture
def many(tmp_path: Path) -> ArchiveStore:
    archive = ArchiveStore.create(tmp_path / "many", uuid=UUID, title="t", now=NOW)
    for number in range(10):
        add(archive, f"u{number}", bytes([number]) * 100)
    return archive


def later(day: int) -> str:
    return f"2026-12-{day:02}T12:00:00Z"


def test_the_report_does_not_depend_on_the_threads(many: ArchiveStore) -> None:
    for number in range(0, 10, 2):
        many.content_path(f"u{number}", "agreed.bin").write_bytes(b"x" * (3 << 20))
        (many.object_path(f"u{number}") / "stray").write_bytes(b"")
    many.content_path("u3", "agreed.bin").unlink()
    first = audit(many, now=NOW, jobs=1)
    assert (len(first.damaged), len(first.missing), len(first.unexpected)) == (5, 1, 5)
    assert all(audit(many, now=NOW, jobs=jobs) == first for jobs in (2, 3, 8))


def test_large_files_are_digested_like_small_ones(tmp_path: Path) -> None:
    archive = ArchiveStore.create(tmp_path / "a", uuid=UUID, title="t", now=NOW)
    data = bytes(range(256)) * (33 << 12)   # 33 MiB
    add(archive, "u4", data)
    assert audit(archive, now=NOW, jobs=2).ok
    path = archive.content_path("u4", "agreed.bin")
    path.write_bytes(data[:-1] + b"?")
    (entry,) = audit(archive, now=NOW, jobs=2).damaged
    assert entry.found == hashlib.sha512(data[:-1] + b"?").hexdigest()


def test_some_carriers_alone_are_checked(many: ArchiveStore) -> None:
    for name in ("u2", "u7"):
        many.content_path(name, "agreed.bin").write_bytes(b"x")
    found = audit(many, now=later(1), choice=Choice(("u2", "u5")))
    assert {entry.carrier for entry in found.damaged} == {"u2"}
    assert (found.scope, found.carriers, found.carriers_held, found.every_since) == ("carriers", 2, 10, None)
    with pytest.raises(NotFoundError) as caught:
        audit(many, now=NOW, choice=Choice(("u99",)))
    assert caught.value.code == "carrier-missing"
    import shutil

    shutil.rmtree(many.object_path("u9"))   # what is gone is told whatever is checked
    found = audit(many, now=NOW, choice=Choice(("u1",)))
    assert paths(found.missing) == [many.name_of(many.object_path("u9"))]


def test_a_rolling_audit_comes_round(many: ArchiveStore) -> None:
    checked: list[set[str]] = []
    for day in range(1, 6):
        assert audit(many, now=later(day), choice=Choice(rolling=20)).carriers == 2
        checked.append(set(json.loads((many.log / "audit.jsonl").read_text().splitlines()[-1])["checked"]))
    assert set.union(*checked) == {f"u{number}" for number in range(10)}
    found = audit(many, now=later(6), choice=Choice(rolling=20))
    assert found.every_since == later(2)   # those of the first day were checked again
    assert json.loads((many.log / "audit.jsonl").read_text().splitlines()[-1])["checked"] == sorted(checked[0])


def test_a_full_audit_counts_for_all_that_was_there(many: ArchiveStore) -> None:
    audit(many, now=later(1), choice=Choice(("u5",)))
    assert audit(many, now=later(3)).every_since == later(3)
    audit(many, now=later(4), choice=Choice(("u0",)))
    add(many, "u91", b"new")   # made at a time before the audit, but noted so: it was there
    many.commit("u92", {"x": b"1"}, message="m", user=USER, now=later(5), expected_head=0)
    found = audit(many, now=later(6), choice=Choice(rolling=5))
    assert json.loads((many.log / "audit.jsonl").read_text().splitlines()[-1])["checked"] == ["u92"]
    assert found.every_since == later(3)


@pytest.mark.parametrize("percent", [0.0, -1.0, 100.5, float("nan")])
def test_a_share_that_is_none_is_refused(percent: float) -> None:
    with refuses(UsageError, "usage", "the share is not a percentage"):
        Choice(rolling=percent)


def test_choices_that_contradict_each_other_are_refused() -> None:
    for arguments in ((("u1",), 10.0, False), (("u1",), None, True), ((), 10.0, True)):
        with refuses(UsageError, "usage", "carriers, a share and a stopped audit do not go together"):
            Choice(*arguments)


class StoppedHere(BaseException):
    """What stands for the end of the process."""


def stop_after(many: ArchiveStore, carriers: int, choice: Choice, monkeypatch: pytest.MonkeyPatch) -> None:
    from imagekeeper.archive.audits import audit as module

    real, done = module.check_carrier, []

    def dying(*arguments: object) -> object:
        if len(done) == carriers:
            raise StoppedHere
        done.append(arguments)
        return real(*arguments)   # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(module, "check_carrier", dying)
        with pytest.raises(StoppedHere):
            audit(many, now=later(1), choice=choice, jobs=1)


def test_a_stopped_audit_goes_on(many: ArchiveStore, monkeypatch: pytest.MonkeyPatch) -> None:
    many.content_path("u1", "agreed.bin").write_bytes(b"x")
    many.content_path("u8", "agreed.bin").write_bytes(b"x")
    whole = audit(many, now=later(2))
    stop_after(many, 4, Choice(), monkeypatch)
    many.commit("u2", {"notes.json": b"[]"}, message="m", user=USER, now=NOW, expected_head=3)
    read: list[int] = []

    @contextlib.contextmanager
    def watch(label: str, total: int):   # type: ignore[no-untyped-def]
        yield read.append

    found = audit(many, watch, now=later(2), choice=Choice(resume=True))
    assert (found.resumed, found.changed) == (later(1), ("u2",))
    assert found.damaged == whole.damaged
    assert (found.carriers, found.scope) == (10, "all")
    assert sum(read) < found.bytes
    assert audit(many, now=later(3), choice=Choice(resume=True)).resumed is None   # it came to its end
    assert not (many.log / "audit-unfinished.jsonl").exists()


def test_a_stopped_audit_of_some_goes_on_with_those(many: ArchiveStore, monkeypatch: pytest.MonkeyPatch) -> None:
    stop_after(many, 2, Choice(("u3", "u4", "u5", "u6")), monkeypatch)
    found = audit(many, now=later(2), choice=Choice(resume=True))
    assert (found.scope, found.carriers, found.resumed) == ("carriers", 4, later(1))


@pytest.mark.parametrize("text", [b"", b"\xff\n", b'{"started": 1}\n', b"[]\n{}\n"])
def test_progress_that_is_none_stops_nothing(many: ArchiveStore, text: bytes) -> None:
    (many.log / "audit-unfinished.jsonl").write_bytes(text)
    assert audit(many, now=later(2), choice=Choice(resume=True)).carriers == 10
