"""A damaged index is made anew by itself, and what is shown is always what a fresh index would show."""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive.index import images
from imagekeeper.archive.index.hits import Filters
from imagekeeper.archive.index.search import search
from imagekeeper.archive.index.sqlite import base as index_base
from imagekeeper.archive.index.sqlite import tables
from imagekeeper.archive.index.sqlite.base import Index, cache_file
from imagekeeper.archive.index.sqlite.seal import is_sealed, resealed, seal
from imagekeeper.archive.index.sums import RowDamagedError, Tables, checked, row_sum
from imagekeeper.archive.store import ArchiveStore

from .conftest import NOW, UUID, add
from .test_index import machine, remark

pytestmark = pytest.mark.long

PAGE = 4096


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


@pytest.fixture
def archive(tmp_path: Path) -> ArchiveStore:
    """Some carriers, some of them with the same images, and a machine."""
    archive = ArchiveStore.create(tmp_path / "archive", uuid=UUID, title="Harbour office", now=NOW)
    machine(archive)
    for number in range(12):
        add(archive, f"tg85-u{number}", bytes([number // 2]) * 512 + bytes(range(256)) * 4)
        remark(archive, f"tg85-u{number}", f"cleaned, tray {number}, harbour basin", 3)
    return archive


def shown(index: Index) -> list[Any]:
    """What is listed, and found by words, beginnings, mistyped words, digests, filters and images."""
    image = bytes([2]) * 512 + bytes(range(256)) * 4
    digest = hashlib.sha256(image).hexdigest()
    number = images.same(index, digest)
    return [
        index.rows(), index.rows(sort="machine", limit=5), index.rows(grade="single"), index.machines(), index.count(),
        *(search(index, terms, Filters(), 50)[0] for terms in (
            ["tg85-u7"], ["tray"], ["quillm"], ["harbuor"], ["tray", "11"], [digest[:12]], [],
        )),
        search(index, ["basin"], Filters(grade="single", kind="eprom"), 50)[0],
        number is not None and images.holdings(index, number, 50),
    ]  # fmt: skip


def fresh(archive: ArchiveStore, cache: Path) -> list[Any]:
    with Index(archive, cache) as index:
        assert not index.in_memory
        return shown(index)


def change_bytes(path: Path, place: int, data: bytes) -> None:
    with open(path, "r+b") as file:
        file.seek(place)
        file.write(data)


def damaged_somewhere(size: int, dice: random.Random, single: int = 300) -> list[tuple[int, bytes]]:
    """Every page, and some hundred single bytes."""
    pages = [(page, dice.randbytes(PAGE)) for page in range(0, size, PAGE)]
    return pages + [(dice.randrange(size), dice.randbytes(1)) for _ in range(single)]


def test_whatever_was_changed_the_answers_are_those_of_a_fresh_index(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    kept = cache.parent / "kept"
    shutil.copytree(cache, kept)
    whole = (file.read_bytes(), file.with_name(file.name + ".seal").read_bytes())
    built = []
    make = Index._built
    monkeypatch.setattr(Index, "_built", lambda self: built.append(1) or make(self))
    for number, (place, data) in enumerate(damaged_somewhere(len(whole[0]), random.Random(1))):
        about = file.stat()
        change_bytes(file, place, data)
        if number % 2:   # a program that takes care to leave no trace
            os.utime(file, ns=(about.st_atime_ns, about.st_mtime_ns))
        if number % 40 == 0:   # each answer needs a rebuild; where that is sure to come, it is not waited for
            assert fresh(archive, cache) == expected, place
            assert is_sealed(file)
        else:
            assert not is_sealed(file), place
            file.write_bytes(whole[0])
            seal(file)
    assert len(built) >= 8


def test_what_changed_beneath_the_file_system_is_never_shown(archive: ArchiveStore, cache: Path) -> None:
    """Nothing tells of it then but the sums: what is shown is right, or the index is made anew."""
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    whole = file.read_bytes()
    right = [[*part] if isinstance(part, tuple) else [part] for part in expected]
    sure, lost = 0, 0
    for place, data in damaged_somewhere(len(whole), random.Random(2), 100):
        file.write_bytes(whole)
        change_bytes(file, place, data)
        seal(file)
        found = fresh(archive, cache)
        for part, known in zip(found[:4], right[:4], strict=True):   # whole rows
            assert all(row in known for row in part), place
        ids = {hit.id: hit for part in expected[5:13] for hit in part}
        for part in found[5:13]:
            assert all((hit.kind, hit.part, hit.grade) == (ids[hit.id].kind, ids[hit.id].part, ids[hit.id].grade)
                       for hit in part), place   # fmt: skip
        sure += found == expected
        lost += found != expected
    assert sure > 20 * lost


def test_a_row_with_another_value_leads_to_a_new_index(archive: ArchiveStore, cache: Path) -> None:
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    for change in (
        "UPDATE carrier SET grade = 'corroborated'", "UPDATE carrier SET part = NULL WHERE object = 3",
        "UPDATE carrier SET object = object + 100", "UPDATE object SET texts = replace(texts, 'basin', 'ocean')",
        "UPDATE machine SET owner = 'somebody'", "UPDATE held SET path = 'elsewhere'",
        "UPDATE image SET size_bytes = 5", "UPDATE object SET row_sum = row_sum + 1",
    ):  # fmt: skip
        for sealed in (False, True):
            other = sqlite3.connect(file)
            other.execute(change)
            other.commit()
            other.close()
            if sealed:
                seal(file)
            assert fresh(archive, cache) == expected, change


def _foreign(file: Path) -> None:
    other = sqlite3.connect(file)
    other.execute("CREATE TABLE letters (text TEXT)")
    other.close()


def _replaced(file: Path) -> None:
    file.unlink()
    _foreign(file)


DAMAGES: dict[str, Callable[[Path], object]] = {
    "empty": lambda file: file.write_bytes(b""),
    "cut": lambda file: file.write_bytes(file.read_bytes()[:-PAGE]),
    "longer": lambda file: file.write_bytes(file.read_bytes() + bytes(PAGE)),
    "foreign table": _foreign,
    "another database": _replaced,
    "text": lambda file: file.write_text("dear"),
    "no seal": lambda file: file.with_name(file.name + ".seal").unlink(),
    "another seal": lambda file: file.with_name(file.name + ".seal").write_text("1 2 3\n"),
    "seal of noise": lambda file: file.with_name(file.name + ".seal").write_bytes(b"\xff\xfe"),
    "copied": lambda file: file.write_bytes(file.read_bytes()),
}


@pytest.mark.parametrize("how", DAMAGES)
def test_a_file_that_is_not_as_it_was_left_is_made_anew(archive: ArchiveStore, cache: Path, how: str) -> None:
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    told: list[str] = []

    class Watching:
        def __init__(self, what: str, total: int) -> None:
            told.append(what)

        def __enter__(self) -> Callable[[int], None]:
            return lambda amount: None

        def __exit__(self, *problem: object) -> None:
            pass

    DAMAGES[how](file)
    with Index(archive, cache, Watching) as index:
        assert shown(index) == expected
        assert not index.in_memory
    assert told == ["Indexing"]
    assert is_sealed(file)


def test_the_index_of_another_archive_is_made_anew(archive: ArchiveStore, cache: Path, tmp_path: Path) -> None:
    expected = fresh(archive, cache)
    other = ArchiveStore.create(
        tmp_path / "other", uuid="0195c0de-0000-7000-8000-0000000000cc", title="other", now=NOW
    )
    add(other, "tg85-u99", b"other" * 20)
    fresh(other, cache)
    for ending in ("", ".seal"):
        os.replace(
            cache / (cache_file(other, cache).name + ending), cache / (cache_file(archive, cache).name + ending)
        )
    seal(cache_file(archive, cache))
    assert fresh(archive, cache) == expected


@pytest.mark.parametrize("code", [sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM])
def test_a_file_that_must_not_be_touched_is_replaced(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """As SQLite says it of a file without the permissions, which the superuser never sees."""
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    before = file.stat().st_ino
    real = index_base.is_sound

    def refused(base: sqlite3.Connection, uuid: str) -> bool:
        if file.stat().st_ino == before:
            problem = sqlite3.OperationalError("refused")
            problem.sqlite_errorcode = code   # type: ignore[misc]   # as SQLite sets it
            raise problem
        return real(base, uuid)

    monkeypatch.setattr(index_base, "is_sound", refused)
    assert fresh(archive, cache) == expected
    assert file.stat().st_ino != before


def test_what_is_written_is_sealed_again_and_not_made_anew(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh(archive, cache)
    monkeypatch.setattr(Index, "_built", None)
    for turn in range(3):
        remark(archive, "tg85-u3", f"turn{turn}", 4 + turn)
        with Index(archive, cache) as index:
            assert [hit.id for hit in search(index, [f"turn{turn}"], Filters(), 5)[0]] == ["tg85-u3"]
            images.work_out(index)
            assert images.unsketched(index) == 0
        assert is_sealed(cache_file(archive, cache))
    assert sorted(os.listdir(cache)) == [cache_file(archive, cache).name, cache_file(archive, cache).name + ".seal"]


def test_damage_before_writing_is_not_sealed(archive: ArchiveStore, cache: Path) -> None:
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    with Index(archive, cache) as index:
        change_bytes(file, 0, b"SQLite format 3")   # the same bytes, but from outside
        ran = []
        index.write(lambda base: ran.append(base))
        assert not ran
        assert not is_sealed(file)
    assert fresh(archive, cache) == expected


def test_who_opens_it_between_writing_and_sealing_waits(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    monkeypatch.setattr(Index, "_built", None)
    writing = threading.Event()
    real = index_base.seal

    def slow(path: Path) -> None:
        writing.set()
        time.sleep(0.3)
        real(path)

    def write() -> None:
        base = tables.connected(str(file))
        with monkeypatch.context() as patch:
            patch.setattr("imagekeeper.archive.index.sqlite.seal.seal", slow)
            with resealed(base, file):
                base.execute("UPDATE watched SET stamp = stamp || ''")
        base.close()

    writer = threading.Thread(target=write)
    writer.start()
    assert writing.wait(10)
    assert fresh(archive, cache) == expected
    writer.join()
    assert is_sealed(file)


def test_the_journal_of_an_old_index_does_not_spoil_the_new_one(archive: ArchiveStore, cache: Path) -> None:
    """A program that is cut off leaves it; SQLite would bring the old pages back into whatever has the name."""
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    dying = sqlite3.connect(file, isolation_level=None)
    dying.execute("PRAGMA cache_size = 1")
    dying.execute("BEGIN IMMEDIATE")
    dying.execute("UPDATE object SET words = words || ' spoiled'")
    dying.execute("CREATE TABLE filler AS SELECT hex(randomblob(3000)) AS x FROM object, object b")
    journal = file.with_name(f"{file.name}-journal")
    kept = journal.read_bytes(), file.read_bytes()
    dying.close()
    assert len(kept[0]) > PAGE
    file.write_bytes(kept[1])
    journal.write_bytes(kept[0])
    assert fresh(archive, cache) == expected
    assert fresh(archive, cache) == expected


def test_a_sum_is_over_whatever_columns_there_are() -> None:
    base = sqlite3.connect(":memory:", isolation_level=None)
    base.execute("CREATE TABLE chip (number INTEGER PRIMARY KEY, part TEXT, row_sum INTEGER NOT NULL) STRICT")
    base.execute(
        "CREATE TABLE disk (number INTEGER PRIMARY KEY, part TEXT, codes TEXT, bytes INTEGER, core BLOB,"
        " row_sum INTEGER NOT NULL) STRICT"
    )
    written = Tables(base)
    row = {"number": 1, "part": "27128", "codes": "a b", "bytes": 5, "core": b"\0"}
    written.put("disk", [row, {"number": 2}])
    written.put("chip", [{"number": 1, "part": "27128"}])
    assert list(written.columns("disk")) == ["number", "part", "codes", "bytes", "core"]
    both = (
        "SELECT d.codes, NULL AS whole_rows, d.*, c.* FROM disk d LEFT JOIN chip c ON c.number = d.number"
        " WHERE d.number = ?"
    )
    assert checked(base.execute(both, (1,))) == [("a b",)]
    assert checked(base.execute(both, (2,)), absent=1) == [(None,)]
    for number, absent in ((1, 1), (2, 0)):
        with pytest.raises(RowDamagedError):
            checked(base.execute(both, (number,)), absent)
    query = "SELECT codes, NULL AS whole_rows, disk.* FROM disk ORDER BY number"
    written.change("disk", 1, {"bytes": 6})
    assert checked(base.execute(query)) == [("a b",), (None,)]
    for column, value in (("part", "27256"), ("codes", None), ("bytes", 5), ("core", b"\1"), ("row_sum", 5)):
        base.execute("BEGIN")
        base.execute(f"UPDATE disk SET {column} = ? WHERE number = 1", (value,))   # noqa: S608
        with pytest.raises(RowDamagedError):
            checked(base.execute(query))
        with pytest.raises(RowDamagedError):
            written.change("disk", 1, {"codes": "c"})
        base.execute("ROLLBACK")
    with pytest.raises(TypeError):
        written.put("disk", [{"number": 3, "bytes": True}])   # it would come back as 1, with another sum


def test_a_single_changed_bit_of_a_row_is_found() -> None:
    """CRC-32 finds every change of a single bit: Koopman and Chakravarty, DSN 2004, of all such polynomials."""
    row = ("tg85-u4", 27, b"\x55" * 20, None)
    assert -(1 << 63) <= row_sum(row) < 1 << 63
    others = [("tg85-u5", *row[1:]), ("tg85-u4", 26, *row[2:]), (*row[:2], b"\x54" + b"\x55" * 19, None), (*row[:3], 0)]
    assert len({row_sum(one) for one in [row, *others]}) == 5


def test_a_file_that_another_program_replaced_meanwhile_is_opened_anew(
    archive: ArchiveStore, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was opened is then not what the seal tells of."""
    expected = fresh(archive, cache)
    file = cache_file(archive, cache)
    good = cache.parent / "good.sqlite"
    shutil.copy(file, good)
    other = sqlite3.connect(file)
    other.execute("DELETE FROM carrier")
    other.commit()
    other.close()
    real, turns = index_base.is_sound, []

    def replaced_meanwhile(base: sqlite3.Connection, uuid: str) -> bool:
        sound = real(base, uuid)
        if not turns:
            os.replace(good, file)
            seal(file)
        turns.append(sound)
        return sound

    monkeypatch.setattr(index_base, "is_sound", replaced_meanwhile)
    monkeypatch.setattr(Index, "_built", None)
    assert fresh(archive, cache) == expected
    assert turns == [True, True]
