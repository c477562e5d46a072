"""A writer killed after each of its steps on the file system: the next one finds the old or the new version."""

from __future__ import annotations

import contextlib
import shutil
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.store import ArchiveStore

from .conftest import NOW, USER, UUID, Judge, add

pytestmark = pytest.mark.long

STEPS = ("make_folders", "write", "append", "shorten", "sync", "move", "remove", "remove_empty")


class Killed(BaseException):
    """What stands for the end of the process."""


class MortalDisk(FlushedDisk):
    """A disk whose process dies after some steps; after that, nothing more happens."""

    def __init__(self, life: int, *, tearing: bool = False) -> None:
        self.life = life
        self.tearing = tearing


def _mortal(name: str) -> object:
    def step(self: MortalDisk, *arguments: object) -> object:
        if self.life <= 0:
            raise Killed
        self.life -= 1
        result = None
        if self.life == 0 and self.tearing and name == "write":
            path, blocks = arguments
            assert isinstance(path, Path)
            data = b"".join(blocks)   # type: ignore[arg-type]
            path.write_bytes(data[: len(data) // 2])
        else:
            result = getattr(FlushedDisk, name)(self, *arguments)
        if self.life == 0:
            raise Killed
        return result

    return step


for _name in STEPS:
    setattr(MortalDisk, _name, _mortal(_name))

NEW = {"carrier.json": b"{}", "reads/r1/image.bin": b"\x01" * 100, "reads/r1/original/u4.bin": b"\x01" * 100}
UPDATE = {"carrier.json": b'{"a": 1}', "reads/r2/image.bin": b"\x02" * 300, "notes.json": b"[]"}


def run(archive: ArchiveStore, changes: dict[str, bytes], head: int) -> None:
    archive.commit("u4", changes, message="m", user=USER, now=NOW, expected_head=head)


def steps_of(archive: ArchiveStore, changes: dict[str, bytes], head: int, tmp_path: Path) -> int:
    """Count the steps of a commit, on a copy."""
    copy = tmp_path / "counting"
    shutil.copytree(archive.path, copy)
    again = ArchiveStore.open(copy)
    disk = MortalDisk(1_000_000)
    again.disk = disk
    run(again, changes, head)
    shutil.rmtree(copy)
    return 1_000_000 - disk.life


def state_of(archive: ArchiveStore) -> dict[str, bytes]:
    inventory = archive.inventory("u4")
    return {path: archive.read_file("u4", path, inventory) for path in inventory.state}


@pytest.mark.parametrize(("layout", "tearing"), [("0002", False), ("0003", True)])
@pytest.mark.parametrize("case", ["new", "update"])
def test_every_step_can_be_the_last(
    tmp_path: Path, judge: Judge, case: str, layout: str, tearing: bool
) -> None:
    base = ArchiveStore.create(tmp_path / "base", uuid=UUID, title="t", now=NOW, layout=layout)
    add(base, "tg85-u9", b"other carrier")
    if case == "update":
        run(base, NEW, 0)
    changes, head = (NEW, 0) if case == "new" else (UPDATE, 1)
    before = state_of(base) if head else None
    after = {**(before or {}), **changes}
    count = steps_of(base, changes, head, tmp_path)
    assert count > 15
    outcomes = set()
    for life in range(1, count + 1):
        place = tmp_path / f"{life}"
        shutil.copytree(base.path, place)
        dying = ArchiveStore.open(place)
        dying.disk = MortalDisk(life, tearing=tearing)
        with pytest.raises(Killed):
            run(dying, changes, head)
        survivor = ArchiveStore.open(place)
        survivor.recover()
        assert judge(survivor.root) == [], life
        assert audit(survivor, now=NOW).missing == (), life
        state = state_of(survivor) if survivor.has("u4") else None
        assert state in (before, after), life
        outcomes.add(state == after)
        assert list(survivor.staging.iterdir()) == []
        assert list(survivor.quarantine.iterdir()) == []
        if state == before:
            run(survivor, changes, head)
        assert state_of(survivor) == after
        shutil.rmtree(place)
    assert outcomes == {True, False}


def test_a_repair_that_is_killed_is_repaired(tmp_path: Path, judge: Judge) -> None:
    base = ArchiveStore.create(tmp_path / "base", uuid=UUID, title="t", now=NOW)
    run(base, NEW, 0)
    count = steps_of(base, UPDATE, 1, tmp_path)
    for life in range(count - 8, count):
        for repair_life in range(1, 12):
            place = tmp_path / f"{life}-{repair_life}"
            shutil.copytree(base.path, place)
            dying = ArchiveStore.open(place)
            dying.disk = MortalDisk(life)
            with pytest.raises(Killed):
                run(dying, UPDATE, 1)
            second = ArchiveStore.open(place)
            second.disk = MortalDisk(repair_life)
            with contextlib.suppress(Killed):
                second.recover()
            survivor = ArchiveStore.open(place)
            survivor.recover(everything=True)
            assert judge(survivor.root) == [], (life, repair_life)
            assert survivor.inventory("u4").head in (1, 2)
            shutil.rmtree(place)


def test_a_version_that_is_not_whole_goes_to_quarantine(filled: ArchiveStore, judge: Judge) -> None:
    stray = filled.object_path("tg85-u4") / "v4"
    (stray / "content").mkdir(parents=True)
    (stray / "content" / "half.bin").write_bytes(b"half")
    repairs = filled.recover(everything=True)
    assert [repair.path for repair in repairs] == [filled.name_of(stray)]
    assert (filled.quarantine / "tg85-u4-v4.1" / "content" / "half.bin").read_bytes() == b"half"
    assert judge(filled.root) == []


@pytest.mark.parametrize("name", ["inventory.json", "inventory.json.sha512"])
@pytest.mark.parametrize("how", ["gone", "changed"])
def test_a_root_file_is_renewed_from_the_newest_version(
    filled: ArchiveStore, judge: Judge, name: str, how: str
) -> None:
    path = filled.object_path("tg85-u4") / name
    whole = path.read_bytes()
    if how == "gone":
        path.unlink()
    else:
        path.write_bytes(b"x" + whole[1:])
    filled.recover(everything=True)
    assert path.read_bytes() == whole
    assert judge(filled.root) == []
    kept = list(filled.quarantine.iterdir())
    assert len(kept) == (how == "changed")


def test_what_is_foreign_in_staging_is_kept_aside(filled: ArchiveStore) -> None:
    (filled.staging / "letter.txt").write_text("dear")
    filled.recover()
    assert (filled.quarantine / "letter.txt.1").read_text() == "dear"


class WatchedDisk(FlushedDisk):
    """A disk that remembers its steps, and where."""

    def __init__(self) -> None:
        self.steps: list[tuple[str, str]] = []


def _watched(name: str) -> object:
    def step(self: WatchedDisk, path: Path, *rest: object) -> object:
        self.steps.append((name, path.name))
        return getattr(FlushedDisk, name)(self, path, *rest)

    return step


for _name in STEPS:
    setattr(WatchedDisk, _name, _watched(_name))


def test_everything_is_flushed_before_it_is_put_in_place(tmp_path: Path) -> None:
    archive = ArchiveStore.create(tmp_path / "a", uuid=UUID, title="t", now=NOW)
    run(archive, NEW, 0)
    disk = WatchedDisk()
    archive.disk = disk
    run(archive, UPDATE, 1)
    first = next(n for n, (step, _) in enumerate(disk.steps) if step == "move")
    flushed = {name for step, name in disk.steps[:first] if step == "sync"}
    assert {"r2", "reads", "content", "v2", "u4-v2", "u4-undo", "staging"} <= flushed
    # OCFL Implementation Notes 1.1, section 3.7: the version, then the root inventory, its digest file last
    assert disk.steps[first:-2] == [
        ("move", "v2"), ("sync", "u4"), ("move", "inventory.json"), ("sync", "u4"),
        ("move", "inventory.json.sha512"), ("sync", "u4"),
        # then the log, and what makes the change count
        ("make_folders", "log"), ("append", "commits.jsonl"), ("remove", "before.json"), ("sync", "u4-undo"),
    ]  # fmt: skip
    assert disk.steps[-2:] == [("remove", "u4-undo"), ("remove", "u4-v2")]


def test_readers_are_served_before_the_repair(tmp_path: Path) -> None:
    base = ArchiveStore.create(tmp_path / "base", uuid=UUID, title="t", now=NOW)
    run(base, NEW, 0)
    heads = []
    for life in range(1, steps_of(base, UPDATE, 1, tmp_path) + 1):
        place = tmp_path / f"{life}"
        shutil.copytree(base.path, place)
        dying = ArchiveStore.open(place)
        dying.disk = MortalDisk(life)
        with pytest.raises(Killed):
            run(dying, UPDATE, 1)
        heads.append(ArchiveStore.open(place).inventory("u4").head)
    assert heads == sorted(heads)
    assert set(heads) == {1, 2}
