"""What lies about is used by its digest; the loser of a sync conflict is kept as an archive that can be merged."""

from __future__ import annotations

import contextlib
import errno
import shutil
from collections.abc import Callable
from itertools import count
from pathlib import Path

import jsonschema
import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.repair_report import Repaired, SecondHistory
from imagekeeper.archive.ocfl import disk as disk_module
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.jobs.archive.exchanging import merge_archive
from imagekeeper.jobs.archive.repairing import repair_archive
from imagekeeper.jobs.carriers.describing import add_note
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session
from imagekeeper.jsonable import schema_of, to_json
from imagekeeper.present.text.audits import repaired_text
from imagekeeper.provenance import places
from imagekeeper.provenance.events import verify_chain

from .conftest import NOW, UUID, Judge
from .test_crash import Killed, MortalDisk
from .test_interruptions import RefusingDisk
from .test_replica import tree

pytestmark = pytest.mark.long

NUMBERS = count(1)
FIRST = bytes(range(256)) * 4
OURS, THEIRS = b"\x11" * 700, b"\x22" * 700


def session(day: int = 24) -> Session:
    return Session(
        lambda: f"2026-11-{day:02d}T22:00:00Z", lambda: f"00000000-0000-4000-8000-{next(NUMBERS):012d}", "Ann"
    )


@pytest.fixture(autouse=True)
def unflushed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting for the medium would only take time here."""
    monkeypatch.setattr(disk_module, "flush", lambda file: file.flush())
    monkeypatch.setattr(disk_module, "sync_folder", lambda folder: None)


def read(archive: ArchiveStore, data: bytes, day: int = 24) -> None:
    path = archive.path.parent / f"read-{data[0]}.bin"
    path.write_bytes(data)
    add_reads(archive, "tg85-u4", [str(path)], Options(), Conditions(reader="bench reader"), session(day))


@pytest.fixture(params=["0002", "0003"])
def kept(tmp_path: Path, request: pytest.FixtureRequest) -> ArchiveStore:
    archive = ArchiveStore.create(tmp_path / "archive", uuid=UUID, title="Harbour", now=NOW, layout=request.param)
    for name in ("tg85-u4", "tg85-u5"):
        add_carrier(archive, name, "eprom", session(), part="27128", machine="Quillmere TG-85", position=name[-2:])
    read(archive, FIRST)
    return archive


# --- a file that lies elsewhere ---


def renamed(archive: ArchiveStore, path: Path) -> Path:
    return path.rename(path.with_name(f"{path.name}.bak"))


def moved_within_the_object(archive: ArchiveStore, path: Path) -> Path:
    return path.rename(archive.object_path("tg85-u4") / "moved.bin")


def moved_to_another_object(archive: ArchiveStore, path: Path) -> Path:
    return path.rename(archive.object_path("tg85-u5") / "v1" / "what is this.dat")


def moved_into_a_new_folder(archive: ArchiveStore, path: Path) -> Path:
    deep = archive.root / "lost and found" / "deeper"
    deep.mkdir(parents=True)
    return path.rename(deep / "x")


def second_copy_whole(archive: ArchiveStore, path: Path) -> Path:
    stray = path.with_name(f"{path.stem} (conflicted copy){path.suffix}")
    shutil.copy(path, stray)
    path.write_bytes(b"damaged")
    return stray


def put_aside_before(archive: ArchiveStore, path: Path) -> Path:
    renamed(archive, path)
    repaired = repair_archive(archive, session(), quarantine_unexpected=True)
    path.unlink()   # what was put there from the stray
    return archive.path / repaired.set_aside[0].quarantine


WAYS: list[Callable[[ArchiveStore, Path], Path]] = [
    renamed, moved_within_the_object, moved_to_another_object, moved_into_a_new_folder, second_copy_whole,
    put_aside_before,
]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", [places.read_image("r1"), places.read_record("r1"), places.CARRIER])
def test_a_file_that_lies_elsewhere_is_used_by_its_digest(
    kept: ArchiveStore, way: Callable[[ArchiveStore, Path], Path], name: str, judge: Judge
) -> None:
    path = kept.content_path("tg85-u4", name)
    data = path.read_bytes()
    stray = way(kept, path)
    assert audit(kept, now=NOW).exit_code == 4
    result = repair_archive(kept, session())
    jsonschema.validate(to_json(result), schema_of(Repaired))
    assert path.read_bytes() == data == stray.read_bytes()   # the stray is left where it lies
    (restored,) = [one for one in result.restored if one.path == kept.name_of(path)]
    assert (restored.origin, restored.stray) == ("stray", kept.name_of(stray))
    assert f"{kept.name_of(path)}, from {kept.name_of(stray)}, which is the same" in (
        " ".join(repaired_text(result).split())
    )  # fmt: skip
    assert result.events == ("tg85-u4",)
    assert (result.damaged, result.missing) == ((), ())
    assert repair_archive(kept, session(), quarantine_unexpected=True).ok
    assert judge(kept.root) == []


def test_a_stray_with_another_digest_is_never_used(kept: ArchiveStore) -> None:
    path = kept.content_path("tg85-u4", places.read_image("r1"))
    path.rename(path.with_name("image.bin.bak"))
    path.with_name("image.bin.bak").write_bytes(FIRST[:-1] + b"?")
    result = repair_archive(kept, session())
    assert (result.exit_code, result.restored) == (4, ())
    assert not path.exists()


def test_two_files_that_changed_places_change_back(kept: ArchiveStore) -> None:
    one, other = (
        kept.content_path("tg85-u4", places.read_record("r1")), kept.content_path("tg85-u5", places.CARRIER),
    )  # fmt: skip
    right = one.read_bytes(), other.read_bytes()
    one.write_bytes(right[1])
    other.write_bytes(right[0])
    assert repair_archive(kept, session()).ok
    assert (one.read_bytes(), other.read_bytes()) == right


def test_an_inventory_that_lies_beside_is_used_where_the_log_notes_it(kept: ArchiveStore) -> None:
    folder = kept.object_path("tg85-u4")
    shutil.copy(folder / "inventory.json", folder / "inventory (conflicted copy).json")
    whole = (folder / "inventory.json").read_bytes()
    for path in folder.rglob("inventory.json*"):
        path.write_bytes(b"lost")
    result = repair_archive(kept, session())
    assert (result.damaged, result.missing) == ((), ())
    assert (folder / "v2" / "inventory.json").read_bytes() == whole
    assert repair_archive(kept, session(), quarantine_unexpected=True).ok


@pytest.mark.parametrize("what", ["carrier", "version"])
def test_a_folder_that_a_program_renamed_comes_back(kept: ArchiveStore, what: str, judge: Judge) -> None:
    folder = kept.object_path("tg85-u4")
    before = {name: data for name, data in tree(folder).items() if "v" in name}
    if what == "carrier":
        folder.rename(kept.root / "tg85-u4 (1)")
    else:
        (folder / "v2").rename(folder / "v2 (1)")
        for name in ("inventory.json", "inventory.json.sha512"):
            shutil.copy(folder / "v1" / name, folder / name)
    result = repair_archive(kept, session())
    assert (result.damaged, result.missing) == ((), ())
    assert {one.origin for one in result.restored} == {"stray"}
    after = tree(folder)
    assert {name: after[name] for name in before if name.startswith("v")} == {
        name: data for name, data in before.items() if name.startswith("v")
    }  # fmt: skip
    final = repair_archive(kept, session(), quarantine_unexpected=True)
    assert (final.ok, final.second) == (True, ())   # what was moved was no second history
    assert judge(kept.root) == []
    assert list(kept.staging.iterdir()) == []


# --- two histories of one carrier ---


def synchronised(ours: Path, theirs: Path, *, log_of: str = "ours") -> None:
    """Do as a program does that keeps folders in step: the second copy of what both changed gets another name."""
    for source in sorted(path for path in theirs.rglob("*") if path.is_file()):
        place = source.relative_to(theirs)
        target = ours / place
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(source, target)
        elif target.read_bytes() != source.read_bytes():
            beside = target.with_name(f"{target.stem} (conflicted copy){target.suffix}")
            if place.as_posix() == "log/commits.jsonl" and log_of == "theirs":
                shutil.copy(target, beside)
                shutil.copy(source, target)
            else:
                shutil.copy(source, beside)


@pytest.fixture
def conflict(kept: ArchiveStore, tmp_path: Path) -> tuple[ArchiveStore, ArchiveStore]:
    """Two computers that went on from the same archive; what the second did is not here yet."""
    shutil.copytree(kept.path, tmp_path / "theirs" / "archive")
    theirs = ArchiveStore.open(tmp_path / "theirs" / "archive")
    read(kept, OURS, 25)
    read(theirs, THEIRS, 26)
    add_note(theirs, "tg85-u4", "window covered", session(27))
    return kept, theirs


def images(archive: ArchiveStore) -> set[bytes]:
    state = archive.inventory("tg85-u4").state
    return {archive.read_file("tg85-u4", path) for path in state if path.endswith("image.bin")}


def second_of(result: Repaired) -> SecondHistory:
    (second,) = result.second
    assert second.carrier == "tg85-u4"
    return second


@pytest.mark.parametrize("log_of", ["ours", "theirs"])
def test_the_loser_of_a_sync_conflict_is_kept_and_merged(
    conflict: tuple[ArchiveStore, ArchiveStore], log_of: str, judge: Judge
) -> None:
    kept, theirs = conflict
    theirs_first = log_of == "theirs"
    synchronised(kept.path, theirs.path, log_of=log_of)
    result = repair_archive(kept, session(28), quarantine_unexpected=True)
    jsonschema.validate(to_json(result), schema_of(Repaired))
    assert result.ok, result
    assert images(kept) == {FIRST, THEIRS if theirs_first else OURS}   # the log notes which one it is
    second = second_of(result)
    assert second.version == 3
    assert second.archive is not None
    told = " ".join(repaired_text(result).split())
    assert f"imagekeeper archive merge {second.archive}, in the archive's folder," in told
    small = ArchiveStore.open(kept.path / second.archive)
    assert audit(small, now=NOW).ok
    assert judge(small.root) == []
    merged = merge_archive(kept, str(small.path), session(29))
    assert [(one.id, one.what, one.reads) for one in merged.taken] == [("tg85-u4", "merged", 1)]
    assert images(kept) == {FIRST, OURS, THEIRS}
    assert b"window covered" in kept.read_file("tg85-u4", places.NOTES)
    assert verify_chain(kept.read_file("tg85-u4", places.EVENTS)) is None
    assert audit(kept, now=NOW).ok
    assert judge(kept.root) == []
    again = merge_archive(kept, str(small.path), session(30))
    assert [one.what for one in again.taken] == ["unchanged"]


def test_a_second_history_is_told_of_where_nothing_is_to_be_moved(
    conflict: tuple[ArchiveStore, ArchiveStore]
) -> None:
    kept, theirs = conflict
    (theirs.path / "log" / "commits.jsonl").unlink()
    synchronised(kept.path, theirs.path)
    before = tree(kept.root)
    result = repair_archive(kept, session())
    assert (result.exit_code, result.set_aside) == (1, ())
    second = second_of(result)
    assert second.archive is None
    assert "second history: tg85-u4" in repaired_text(result)
    assert {name: data for name, data in tree(kept.root).items() if name in before} == before


def test_a_second_history_of_which_the_end_is_lost_is_kept_up_to_there(
    conflict: tuple[ArchiveStore, ArchiveStore]
) -> None:
    kept, theirs = conflict
    theirs.content_path("tg85-u4", places.NOTES).unlink()   # of its version 4
    (theirs.path / "log" / "commits.jsonl").unlink()
    synchronised(kept.path, theirs.path)
    result = repair_archive(kept, session(), quarantine_unexpected=True)
    second = second_of(result)
    assert (result.ok, second.version, second.head) == (True, 3, 3)
    assert second.archive is not None
    merge_archive(kept, str(kept.path / second.archive), session(29))
    assert images(kept) == {FIRST, OURS, THEIRS}


def test_a_second_history_without_its_files_is_only_put_aside(conflict: tuple[ArchiveStore, ArchiveStore]) -> None:
    kept, theirs = conflict
    for path in theirs.object_path("tg85-u4").rglob("content/**/*"):
        if path.is_file() and {"v3", "v4"} & {*path.parts}:
            path.unlink()
    (theirs.path / "log" / "commits.jsonl").unlink()
    synchronised(kept.path, theirs.path)
    result = repair_archive(kept, session(), quarantine_unexpected=True)
    second = second_of(result)
    assert (result.ok, second.archive, second.head) == (True, None, 4)
    assert "not all of its files are there" in " ".join(repaired_text(result).split())
    assert images(kept) == {FIRST, OURS}
    assert list(kept.staging.iterdir()) == []


def test_a_whole_folder_beside_is_a_second_history_too(conflict: tuple[ArchiveStore, ArchiveStore]) -> None:
    kept, theirs = conflict
    place = kept.root / "tg85-u4 (conflicted copy)"
    shutil.copytree(theirs.object_path("tg85-u4"), place)
    second = second_of(repair_archive(kept, session(), quarantine_unexpected=True))
    assert (second.version, second.head) == (3, 4)
    assert second.archive is not None
    merge_archive(kept, str(kept.path / second.archive), session(29))
    assert images(kept) == {FIRST, OURS, THEIRS}


@pytest.mark.parametrize("name", ["../../escape", "tg85-u4/../x", "."])
def test_an_inventory_that_names_no_carrier_is_only_put_aside(
    conflict: tuple[ArchiveStore, ArchiveStore], name: str
) -> None:
    kept, theirs = conflict
    data = (theirs.object_path("tg85-u4") / "inventory.json").read_bytes()
    (kept.object_path("tg85-u4") / "inventory (1).json").write_bytes(data.replace(b'"tg85-u4"', f'"{name}"'.encode()))
    outside = {path for path in kept.path.parent.rglob("*") if not path.is_relative_to(kept.path)}
    result = repair_archive(kept, session(), quarantine_unexpected=True)
    assert (result.ok, result.second) == (True, ())
    assert {path for path in kept.path.parent.rglob("*") if not path.is_relative_to(kept.path)} == outside
    assert ledger.read_commits(kept).newest("tg85-u4") == 3


# --- whatever step is the last ---


def everything(archive: ArchiveStore, folder: str = "") -> set[bytes]:
    return {path.read_bytes() for path in (archive.path / folder).rglob("*") if path.is_file()}


def finished(folder: Path, before: set[bytes], lines: set[bytes], expected: set[bytes]) -> None:
    """Repair once more, see that nothing is lost and no line of the log, and merge what lies in quarantine."""
    archive = ArchiveStore.open(folder)
    assert before <= everything(archive)
    result = repair_archive(archive, session(28), quarantine_unexpected=True)
    assert result.ok, result
    assert audit(archive, now=NOW, jobs=1).ok
    assert lines <= {*(archive.log / "commits.jsonl").read_bytes().splitlines()}
    assert images(archive) == expected
    assert list(archive.staging.iterdir()) == []
    kept = [path for path in archive.quarantine.iterdir() if "other-history" in path.name]
    assert kept
    for path in kept:
        merge_archive(archive, str(path), session(29))
    assert images(archive) == {FIRST, OURS, THEIRS}


@pytest.mark.parametrize("kept", ["0002"], indirect=True)
@pytest.mark.parametrize("log_of", ["ours", "theirs"])
@pytest.mark.parametrize("stop", ["killed", "full", "read-only"])
def test_a_repair_of_a_sync_conflict_may_stop_at_every_step(
    conflict: tuple[ArchiveStore, ArchiveStore], tmp_path: Path, log_of: str, stop: str
) -> None:
    kept, theirs = conflict
    synchronised(kept.path, theirs.path, log_of=log_of)
    before = everything(kept, "carriers")
    lines = {*(kept.log / "commits.jsonl").read_bytes().splitlines()}
    expected = {FIRST, THEIRS if log_of == "theirs" else OURS}

    def stopped(place: Path, life: int) -> int:
        shutil.copytree(kept.path, place)
        archive = ArchiveStore.open(place)
        archive.disk = disk = (
            MortalDisk(life, tearing=True) if stop == "killed"
            else RefusingDisk(life, errno.ENOSPC if stop == "full" else errno.EROFS)
        )  # fmt: skip
        with contextlib.suppress(Killed, UsageError):
            repair_archive(archive, session(28), quarantine_unexpected=True)
        return disk.life if isinstance(disk, MortalDisk) else disk.steps

    count_of_steps = 1_000_000 - stopped(tmp_path / "counting", 1_000_000)
    assert count_of_steps > 100
    for life in range(1, count_of_steps, 13 if stop == "killed" else 31):
        stopped(tmp_path / f"{life}", life)
        finished(tmp_path / f"{life}", before, lines, expected)
        shutil.rmtree(tmp_path / f"{life}")
