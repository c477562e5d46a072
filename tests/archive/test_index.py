from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index import reading, words
from imagekeeper.archive.index.hits import Filters
from imagekeeper.archive.index.search import digest_matches, search
from imagekeeper.archive.index.sqlite import tables, watch
from imagekeeper.archive.index.sqlite.base import CACHE_VARIABLE, Index, cache_file
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.machines import Machine
from imagekeeper.provenance.remarks import Note

from .conftest import NOW, USER, add, carrier_record, event, first_files, read_record

DATA = bytes(range(256)) * 16


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


def test_rows_hold_what_a_list_needs(filled: ArchiveStore, cache: Path) -> None:
    with Index(filled, cache) as index:
        first, second = index.rows()
        assert not index.in_memory
    record = load_record(filled, "tg85-u4")
    assert (first.id, first.kind, first.part, first.machine, first.board, first.position) == (
        record.id, record.kind, record.part, record.machine, record.board, record.position,
    )  # fmt: skip
    assert first.reads == 1
    assert first.grade == "single"
    assert record.agreed is not None
    assert first.agreed_sha256 == record.agreed.sha256
    assert second.id == "tg85-u5.1"
    assert cache_file(filled, cache).exists()


def test_only_what_changed_is_read_again(filled: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Index(filled, cache):
        pass
    loaded: list[str] = []

    read_record = reading.read_record

    def watched(archive: ArchiveStore, carrier: str) -> object:
        loaded.append(carrier)
        return read_record(archive, carrier)

    monkeypatch.setattr(reading, "read_record", watched)
    with Index(filled, cache) as index:
        assert loaded == []
        note = write_json([Note("the label says rev B", None, NOW)])
        filled.commit("tg85-u4", {places.NOTES: note}, message="m", user=USER, now=NOW, expected_head=3)
        index.refresh()
        assert loaded == ["tg85-u4"]
        assert found(index, "REV b") == ["tg85-u4"]


def found(index: Index, *terms: str, **wanted: Any) -> list[str]:
    hits, _ = search(index, terms, Filters(**wanted), 100)
    return [hit.id for hit in hits]


def test_digests_and_sizes_are_found(filled: ArchiveStore, cache: Path) -> None:
    crc = f"{zlib.crc32(DATA):08X}"
    digest = hashlib.sha256(DATA).hexdigest()
    with Index(filled, cache) as index:
        assert found(index, crc) == found(index, digest.upper()) == found(index, digest[:11]) == ["tg85-u4"]
        ((hit,), _) = search(index, [digest[:8]], Filters(), 9)
        assert [(match.field, match.text, match.how) for match in hit.matches] == [
            ("SHA-256 of the agreed image", digest, "digest")
        ]
        assert {m.field for m in digest_matches(index, digest)[1]} == {
            "SHA-256 of the agreed image", "SHA-256 of the image r1", "SHA-256 of the file of r1"
        }
        assert found(index, digest, "quillmere") == ["tg85-u4"]
        assert found(index, digest, "nowhere") == found(index, digest, "0" * 64) == []
        assert found(index, size_bytes=2048) == ["tg85-u5.1"]
        assert found(index, size_bytes=1 << 80) == []


def test_words_are_all_wanted_and_taken_as_they_are(filled: ArchiveStore, cache: Path) -> None:
    with Index(filled, cache) as index:
        assert found(index, "quillmere BOARD") == ["tg85-u4", "tg85-u5.1"]
        assert found(index, "quillmere nowhere") == []
        for hostile in ("%", "'", '"', '"*', "NEAR(a, b)", "names:quillmere", "-quillmere or", "\0", " ", "a" * 5000):
            assert found(index, hostile) in ([], ["tg85-u4", "tg85-u5.1"]), hostile
        assert found(index, "'; DROP TABLE object; --") == []
        assert len(index.rows()) == 2


def test_a_carrier_that_is_gone_leaves_the_index(filled: ArchiveStore, cache: Path, tmp_path: Path) -> None:
    with Index(filled, cache) as index:
        filled.object_path("tg85-u4").rename(tmp_path / "away")
        index.refresh()
        assert [row.id for row in index.rows()] == ["tg85-u5.1"]
        assert found(index, size_bytes=len(DATA)) == []


def test_a_damaged_carrier_does_not_hide_the_others(filled: ArchiveStore, cache: Path) -> None:
    filled.content_path("tg85-u4", places.CARRIER).write_bytes(b"{}")
    with Index(filled, cache) as index:
        broken, whole = index.rows()
    assert broken.problem is not None
    assert "carrier.json" in broken.problem
    assert (broken.kind, whole.problem) == (None, None)


@pytest.mark.parametrize("damage", ["text", "cut", "version", "uuid", "empty"])
def test_a_cache_that_cannot_be_used_is_made_anew(filled: ArchiveStore, cache: Path, damage: str) -> None:
    with Index(filled, cache) as index:
        rows = index.rows()
    file = cache_file(filled, cache)
    if damage == "text":
        file.write_bytes(b"no database " * 1000)
    elif damage == "cut":
        file.write_bytes(file.read_bytes()[:5000])
    elif damage == "empty":
        file.write_bytes(b"")
    else:
        base = sqlite3.connect(file)
        base.execute("PRAGMA user_version = 99" if damage == "version" else "UPDATE archive SET uuid = 'x'")
        base.commit()
        base.close()
    with Index(filled, cache) as index:
        assert index.rows() == rows
    with Index(filled, cache) as index:
        assert not index.in_memory
        assert index.rows() == rows


def test_a_cache_damaged_in_the_middle_stops_nothing(filled: ArchiveStore, cache: Path) -> None:
    for number in range(40):
        add(filled, f"more-{number}", bytes([number]) * 64)
    with Index(filled, cache) as index:
        rows = index.rows()
    file = cache_file(filled, cache)
    whole = file.read_bytes()
    for page in range(1, len(whole) // 4096):
        file.write_bytes(whole[: page * 4096] + b"\xa5" * 4096 + whole[(page + 1) * 4096 :])
        with Index(filled, cache) as index:
            assert index.rows() == rows, page
            assert len(found(index, size_bytes=64)) == 40, page
            assert found(index, "more-7", "quillmere") == ["more-7"], page


def test_a_locked_cache_stops_nothing(filled: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "TIMEOUT", 0.05)
    with Index(filled, cache):
        pass
    other = sqlite3.connect(cache_file(filled, cache), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with Index(filled, cache) as index:
        assert index.in_memory
        assert len(index.rows()) == 2
    other.close()


def test_a_place_that_cannot_be_written_stops_nothing(filled: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with Index(filled, tmp_path / "file" / "below") as index:
        assert index.in_memory
        assert len(index.rows()) == 2


def test_rebuilding_leaves_one_file_and_its_seal(filled: ArchiveStore, cache: Path) -> None:
    index = Index(filled, cache)
    index.rebuild()
    assert len(index.rows()) == 2
    index.close()
    name = cache_file(filled, cache).name
    assert sorted(os.listdir(cache)) == [name, f"{name}.seal"]


def test_the_place_can_be_named_in_the_environment(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(CACHE_VARIABLE, str(cache))
    assert cache_file(archive).parent == cache
    monkeypatch.delenv(CACHE_VARIABLE)
    assert "imagekeeper" in cache_file(archive).parts
    assert cache_file(archive).name == f"{archive.marker.uuid}.sqlite"


@pytest.fixture
def settled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take folders' time stamps as they are, however fresh: no test waits until they are settled."""
    monkeypatch.setattr(watch, "SETTLED_AFTER", -3600.0)


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was asked of the file system: `all` for a list of all carriers, else the path of a sidecar."""
    asked: list[str] = []
    folders, stamp = ArchiveStore.folders, watch.sidecar_stamp

    def listed(self: ArchiveStore) -> Iterator[str]:
        asked.append("all")
        return folders(self)

    def stamped(path: str) -> str:
        asked.append(Path(path).parent.name)
        return stamp(path)

    monkeypatch.setattr(ArchiveStore, "folders", listed)
    monkeypatch.setattr(watch, "sidecar_stamp", stamped)
    return asked


def remark(archive: ArchiveStore, carrier: str, text: str, head: int) -> None:
    note = write_json([Note(text, None, NOW)])
    archive.commit(carrier, {places.NOTES: note}, message="m", user=USER, now=NOW, expected_head=head)


@pytest.mark.usefixtures("settled")
def test_only_carriers_of_which_the_log_tells_are_looked_at(
    filled: ArchiveStore, cache: Path, looks: list[str]
) -> None:
    with Index(filled, cache) as index:
        looks.clear()
        index.refresh()
        assert looks == []
        remark(filled, "tg85-u4", "rev B", 3)
        index.refresh()
        assert looks == ["tg85-u4"]
        assert found(index, "rev") == ["tg85-u4"]


@pytest.mark.usefixtures("settled")
@pytest.mark.parametrize("change", ["gone", "shorter", "other", "cut", "crash"])
def test_a_log_that_cannot_be_relied_on(filled: ArchiveStore, cache: Path, looks: list[str], change: str) -> None:
    log = filled.log / "commits.jsonl"
    with Index(filled, cache) as index:
        remark(filled, "tg85-u4", "rev B", 3)
        lines = log.read_bytes().splitlines(keepends=True)
        if change == "gone":
            log.unlink()
        elif change == "shorter":
            log.write_bytes(b"".join(lines[:2]))
        elif change == "other":
            log.write_bytes(b"".join(lines[:-2] + [lines[-1]] * 2))
        elif change == "cut":
            log.write_bytes(b"".join(lines[:-1]) + lines[-1][:20] + b"\n" + lines[0])
        else:   # the version is in place, and its line was never written
            log.write_bytes(b"".join(lines[:-1]))
        looks.clear()
        index.refresh()
        assert "all" in looks
        assert found(index, "rev") == ["tg85-u4"]


@pytest.mark.usefixtures("settled")
def test_a_folder_copied_in_or_taken_away_is_seen(filled: ArchiveStore, cache: Path, tmp_path: Path) -> None:
    with Index(filled, cache) as index:
        assert len(index.rows()) == 2
        filled.object_path("tg85-u4").rename(tmp_path / "away")
        index.refresh()
        assert [row.id for row in index.rows()] == ["tg85-u5.1"]
        (tmp_path / "away").rename(filled.object_path("tg85-u4"))
        index.refresh()
        assert len(index.rows()) == 2


def test_what_changed_a_moment_ago_is_not_settled(filled: ArchiveStore, cache: Path, looks: list[str]) -> None:
    with Index(filled, cache) as index:
        looks.clear()
        index.refresh()
        assert looks[0] == "all"


def test_a_copy_of_the_archive_needs_no_reading(filled: ArchiveStore, cache: Path, tmp_path: Path) -> None:
    """Other time stamps, the same inventories."""
    with Index(filled, cache):
        pass
    shutil.copytree(filled.path, tmp_path / "copy")
    copy = ArchiveStore.open(tmp_path / "copy")
    with pytest.MonkeyPatch.context() as patch, Index(copy, cache) as index:
        patch.setattr(reading, "read_record", None)
        index.refresh()
        assert len(index.rows()) == 2


def machine(archive: ArchiveStore, machine_id: str = "tg85") -> None:
    about = Machine(
        id=machine_id, uuid="0195c0de-0000-7000-8000-0000000000bb", name="Quillmere TG-85", maker="Quillmere",
        model="TG-85", serial="0117", owner="harbour office", note="from the quay", created=NOW,
    )  # fmt: skip
    files = {places.MACHINE: write_json(about), places.EVENTS: append_events(b"", [event(None, 9, "accession")])}
    archive.commit(machine_id, files, message="machine", user=USER, now=NOW, expected_head=0)


def test_machines_have_a_table_of_their_own(filled: ArchiveStore, cache: Path) -> None:
    machine(filled)
    with Index(filled, cache) as index:
        assert [row.id for row in index.rows()] == ["tg85-u4", "tg85-u5.1"]
        (row,) = index.machines()
        assert (row.id, row.name, row.serial, row.problem) == ("tg85", "Quillmere TG-85", "0117", None)
        assert found(index, "0117") == found(index, "quay") == ["tg85"]
        assert found(index, "quillmere", kind="machine") == ["tg85"]
        assert found(index, "quillmere", kind="eprom") == ["tg85-u4", "tg85-u5.1"]
        by_id = replace(carrier_record("by-id"), machine="TG85")   # it names its machine by the id
        files = {places.CARRIER: write_json(by_id)}
        filled.commit("by-id", files, message="m", user=USER, now=NOW, expected_head=0)
        index.refresh()
        assert [row.id for row in index.rows(machine="quill")] == ["by-id", "tg85-u4", "tg85-u5.1"]
        filled.content_path("tg85", places.MACHINE).write_bytes(b"{}")
        index.rebuild()
        (row,) = index.machines()
        assert row.problem is not None
        assert len(index.rows()) == 3
        assert index.count() == (3, 1)


def test_a_damaged_event_file_is_noticed(filled: ArchiveStore, cache: Path) -> None:
    place = filled.content_path("tg85-u4", places.EVENTS)
    place.write_bytes(place.read_bytes().replace(b"event", b"evemt", 1))
    with Index(filled, cache) as index:
        assert [row.problem is not None for row in index.rows()] == [True, False]


def test_lists_are_filtered_sorted_and_limited(filled: ArchiveStore, cache: Path) -> None:
    add(filled, "a-1", b"\x01" * 64)
    filled.commit("a-2", first_files("a-2"), message="m", user=USER, now=NOW, expected_head=0)
    with Index(filled, cache) as index:
        everything = [row.id for row in index.rows()]
        assert everything == ["a-1", "a-2", "tg85-u4", "tg85-u5.1"]
        assert [row.id for row in index.rows(limit=2)] == everything[:2]
        assert [row.id for row in index.rows(grade="single")] == ["a-1", "tg85-u4", "tg85-u5.1"]
        assert [row.id for row in index.rows(grade="none")] == ["a-2"]
        assert index.rows(grade="disputed") == index.rows(kind="floppy") == index.rows(machine="other") == ()
        assert len(index.rows(machine="QUILLMERE", kind="eprom")) == 4
        assert {row.id for row in index.rows(sort="machine")} == {row.id for row in index.rows(sort="added")}


def test_dates_are_filtered_by_what_they_may_mean(archive: ArchiveStore, cache: Path) -> None:
    for number, date in enumerate([None, "1985", "2026-11-24", "2026-11-24T23:30:00-02:00"]):
        name, files = f"t{number}", first_files(f"t{number}")
        read = read_record(b"x" * 64, date=date)
        files |= {places.read_record("r1"): write_json(read), read.image_path: b"x" * 64, read.original: b"x" * 64}
        archive.commit(name, files, message="m", user=USER, now=NOW, expected_head=0)
    with Index(archive, cache) as index:
        assert found(index, read_after="2026-11-25T00:00:00") == ["t3"]   # 01:30 in UTC
        assert found(index, read_before="2026-11-24T23:59:59") == ["t1", "t2"]
        assert found(index, read_after="1985-06-01T00:00:00", read_before="1985-06-30T23:59:59") == ["t1"]
        assert found(index, added_after="2026-11-24T22:00:01") == []
        assert found(index, added_before="2026-11-24T22:00:00") == ["t0", "t1", "t2", "t3"]


def sloppy(base: sqlite3.Connection) -> bool:
    return False


@pytest.mark.parametrize("full_text", [True, False])
def test_search_is_the_same_without_full_text(
    filled: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch, full_text: bool
) -> None:
    if not full_text:
        monkeypatch.setattr(tables, "has_full_text", sloppy)
    machine(filled)
    remark(filled, "tg85-u4", "smells of the harbour basin", 3)
    with Index(filled, cache) as index:
        assert index.full_text is full_text
        assert found(index, "TG85-U4") == ["tg85-u4", "tg85-u5.1"]      # the second by its label and position
        assert found(index, "tg85-u5.1") == ["tg85-u5.1"]
        assert found(index, "basin", "u4") == ["tg85-u4"]
        assert found(index, "bas") == ["tg85-u4"]
        assert found(index, "harbuor") == ["tg85", "tg85-u4"]           # two letters exchanged
        assert set(found(index, "quilmere")) == {"tg85", "tg85-u4", "tg85-u5.1"}   # one lost
        assert set(found(index, "quilm")) == set(found(index, "quilmere"))   # and in a beginning
        assert found(index, "smelsl") == found(index, "smels") == ["tg85-u4"]
        assert found(index, "tg86") == found(index, "u6") == []         # digits are never forgiven
        remark(filled, "tg85-u4", "dry now", 4)
        index.refresh()
        assert found(index, "basin") == []
        assert found(index, "dry") == ["tg85-u4"]


def test_a_cache_of_a_python_with_full_text_is_made_anew(
    filled: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Index(filled, cache) as index:
        assert index.full_text
    monkeypatch.setattr(tables, "has_full_text", sloppy)
    with Index(filled, cache) as index:
        assert not index.full_text
        assert not index.in_memory
        assert found(index, "quillmere") == ["tg85-u4", "tg85-u5.1"]


def test_what_names_a_thing_comes_first_and_each_hit_says_where(filled: ArchiveStore, cache: Path) -> None:
    filled.commit("u4", first_files("u4"), message="m", user=USER, now=NOW, expected_head=0)
    remark(filled, "tg85-u5.1", "taken from beside U44, before the U4 socket was cleaned " * 3, 3)
    with Index(filled, cache) as index:
        hits, more = search(index, ["u4"], Filters(), 10)
        assert [hit.id for hit in hits] == ["u4", "tg85-u4", "tg85-u5.1"]
        assert [match.field for hit in hits for match in hit.matches] == ["id", "id", "position"]
        assert not more
        assert search(index, ["u4"], Filters(), 2)[1]
        hits, _ = search(index, ["cleaned"], Filters(), 10)
        ((match,),) = [hit.matches for hit in hits]
        assert (match.field, match.how) == ("remark", "exact")
        assert "cleaned" in match.text
        assert len(match.text) <= 82


@given(st.text(alphabet="abé1", max_size=7), st.text(alphabet="abé1", max_size=7))
def test_distances_are_those_of_a_plain_search(typed: str, word: str) -> None:
    """Against breadth-first search over all single mistakes, which knows nothing of the method used."""
    distances, edge = {typed: 0}, {typed}
    for step in (1, 2):
        edge = {other for one in edge for other in mistakes(one)} - distances.keys()
        distances |= dict.fromkeys(edge, step)
    digits = [c for c in typed if c == "1"] == [c for c in word if c == "1"]
    expected = distances.get(word) if digits else None
    got = words.distance(typed, word, 2)
    if got is None and expected == 2 and abs(len(typed) - len(word)) == 1:
        return   # a letter put between two that were exchanged, or lost there: no letter is taken twice, so it is three
    assert got == expected


def mistakes(text: str) -> set[str]:
    cuts = [(text[:i], text[i:]) for i in range(len(text) + 1)]
    return (
        {a + b[1:] for a, b in cuts if b} | {a + c + b for a, b in cuts for c in "abé1"}
        | {a + c + b[1:] for a, b in cuts if b for c in "abé1"}
        | {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
    )  # fmt: skip
