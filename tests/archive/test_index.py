from __future__ import annotations

import hashlib
import os
import sqlite3
import zlib
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive import index_reading, index_tables
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index import CACHE_VARIABLE, Index, cache_file
from imagekeeper.archive.index_hits import Filters
from imagekeeper.archive.index_search import digest_matches, search
from imagekeeper.archive.store import Archive
from imagekeeper.provenance import places
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import Note

from .conftest import NOW, USER, add

DATA = bytes(range(256)) * 16


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


def test_rows_hold_what_a_list_needs(filled: Archive, cache: Path) -> None:
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


def test_only_what_changed_is_read_again(filled: Archive, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Index(filled, cache):
        pass
    loaded: list[str] = []

    read_record = index_reading.read_record

    def watched(archive: Archive, carrier: str) -> object:
        loaded.append(carrier)
        return read_record(archive, carrier)

    monkeypatch.setattr(index_reading, "read_record", watched)
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


def test_digests_and_sizes_are_found(filled: Archive, cache: Path) -> None:
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


def test_words_are_all_wanted_and_taken_as_they_are(filled: Archive, cache: Path) -> None:
    with Index(filled, cache) as index:
        assert found(index, "quillmere BOARD") == ["tg85-u4", "tg85-u5.1"]
        assert found(index, "quillmere nowhere") == []
        for hostile in ("%", "'", '"', '"*', "NEAR(a, b)", "names:quillmere", "-quillmere nowhere", "\0", " ", "a" * 5000):
            assert found(index, hostile) in ([], ["tg85-u4", "tg85-u5.1"]), hostile
        assert found(index, "'; DROP TABLE object; --") == []
        assert len(index.rows()) == 2


def test_a_carrier_that_is_gone_leaves_the_index(filled: Archive, cache: Path, tmp_path: Path) -> None:
    with Index(filled, cache) as index:
        filled.object_path("tg85-u4").rename(tmp_path / "away")
        index.refresh()
        assert [row.id for row in index.rows()] == ["tg85-u5.1"]
        assert found(index, size_bytes=len(DATA)) == []


def test_a_damaged_carrier_does_not_hide_the_others(filled: Archive, cache: Path) -> None:
    filled.content_path("tg85-u4", places.CARRIER).write_bytes(b"{}")
    with Index(filled, cache) as index:
        broken, whole = index.rows()
    assert broken.problem is not None
    assert "carrier.json" in broken.problem
    assert (broken.kind, whole.problem) == (None, None)


@pytest.mark.parametrize("damage", ["text", "cut", "version", "uuid", "empty"])
def test_a_cache_that_cannot_be_used_is_made_anew(filled: Archive, cache: Path, damage: str) -> None:
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


def test_a_cache_damaged_in_the_middle_stops_nothing(filled: Archive, cache: Path) -> None:
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


def test_a_locked_cache_stops_nothing(filled: Archive, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_tables, "TIMEOUT", 0.05)
    with Index(filled, cache):
        pass
    other = sqlite3.connect(cache_file(filled, cache), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with Index(filled, cache) as index:
        assert index.in_memory
        assert len(index.rows()) == 2
    other.close()


def test_a_place_that_cannot_be_written_stops_nothing(filled: Archive, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with Index(filled, tmp_path / "file" / "below") as index:
        assert index.in_memory
        assert len(index.rows()) == 2


def test_rebuilding_leaves_one_file(filled: Archive, cache: Path) -> None:
    index = Index(filled, cache)
    index.rebuild()
    assert len(index.rows()) == 2
    index.close()
    assert os.listdir(cache) == [cache_file(filled, cache).name]


def test_the_place_can_be_named_in_the_environment(
    archive: Archive, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(CACHE_VARIABLE, str(cache))
    assert cache_file(archive).parent == cache
    monkeypatch.delenv(CACHE_VARIABLE)
    assert "imagekeeper" in cache_file(archive).parts
    assert cache_file(archive).name == f"{archive.marker.uuid}.sqlite"
