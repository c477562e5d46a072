"""One refusal of the operating system, at each call in turn: a command that fails leaves nothing done.

Whatever fails once, the archive is in its old state and the command failed, or in its new state and it succeeded.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import io
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.grafting import graft
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing.savepoint import MARK, whole
from imagekeeper.errors import InternalError, UsageError
from imagekeeper.jobs.archive.exchanging import merge_archive
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.describing import add_note
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.carriers.tabulating import fill_in
from imagekeeper.jobs.images.loading import Options

from .conftest import NOW, UUID, Judge
from .test_interruptions import session

pytestmark = pytest.mark.long

ERRORS = (errno.ENOSPC, errno.EACCES, errno.EIO)

#: The calls that change what lies on the disk, or bring it to the medium.
CALLS = ("replace", "fsync", "mkdir", "unlink", "rmdir")


class Faults:
    """Counts the calls, and lets one of them fail, or all from one on.

    Args:
        at: Which one, counted from 1; 0 for none.
        error: What the system says.
        lasting: Whether all calls after it fail too.
    """

    def __init__(self, at: int, error: int, *, lasting: bool = False) -> None:
        self.at = at
        self.error = error
        self.lasting = lasting
        self.count = 0

    def call(self) -> None:
        self.count += 1
        if self.at and (self.count == self.at or (self.lasting and self.count > self.at)):
            raise OSError(self.error, os.strerror(self.error))

    @contextlib.contextmanager
    def injected(self) -> Iterator[None]:
        with pytest.MonkeyPatch.context() as patch:
            for name in CALLS:
                patch.setattr(os, name, self.wrapped(getattr(os, name)))
            patch.setattr(builtins, "open", self.opening(builtins.open))
            yield

    def wrapped(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **more: Any) -> Any:
            self.call()
            return real(*arguments, **more)

        return call

    def opening(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def opened(file: Any, mode: str = "r", *arguments: Any, **more: Any) -> Any:
            if not set("xaw+") & set(mode):
                return real(file, mode, *arguments, **more)
            self.call()
            if "b" not in mode:   # a note in the cache
                return real(file, mode, *arguments, **more)
            if "a" in mode or "+" in mode:
                return _File(self, file, mode)
            return io.BufferedWriter(_File(self, file, mode))

        return opened


class _File(io.FileIO):
    """A file whose every write may fail, after some bytes were taken, and whose every cut may."""

    def __init__(self, faults: Faults, file: Any, mode: str) -> None:
        super().__init__(file, mode.replace("b", ""))
        self.faults = faults

    def write(self, data: Any) -> int:
        try:
            self.faults.call()
        except OSError:
            super().write(bytes(data)[: len(data) // 2])
            raise
        return super().write(data)

    def truncate(self, size: int | None = None) -> int:
        self.faults.call()
        return super().truncate(size)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """An archive with two carriers, another that both can be merged from, and a file with a read."""
    (tmp_path / "read.bin").write_bytes(bytes(range(256)))
    (tmp_path / "table.csv").write_text("id,part,kind\ntg85-u4,27256,eprom\ntg85-u6,27128,eprom\n")
    archive = ArchiveStore.create(tmp_path / "base", uuid=UUID, title="Harbour office", now=NOW, layout="0003")
    for name in ("tg85-u4", "tg85-u5"):
        add_carrier(archive, name, "eprom", session(), part="27128", machine="Quillmere TG-85")
        add_reads(archive, name, [str(tmp_path / "read.bin")], Options(), Conditions(reader="first"), session())
    agree(archive, "tg85-u4", session())
    shutil.copytree(tmp_path / "base", tmp_path / "other")
    other = ArchiveStore.open(tmp_path / "other")
    for name in ("tg85-u4", "tg85-u5"):
        add_reads(other, name, [str(tmp_path / "read.bin")], Options(), Conditions(reader="other"), session())
        add_note(other, name, "cleaned", session())
    add_carrier(other, "tg85-u7", "prom", session())
    add_note(other, "tg85-u7", "spare", session())
    add_note(archive, "tg85-u4", "window covered", session())   # so that u4 is merged, and u5 only goes on
    return tmp_path / "base"


Job = Callable[[ArchiveStore, Path], object]

JOBS: dict[str, Job] = {
    "add": lambda archive, files: add_carrier(archive, "tg85-u6", "eprom", session()),
    "read": lambda archive, files: add_reads(
        archive, "tg85-u4", [str(files / "read.bin")], Options(), Conditions(reader="second"), session()
    ),
    "agree": lambda archive, files: agree(archive, "tg85-u5", session()),
    "merge": lambda archive, files: merge_archive(archive, str(files / "other"), session()),
    "table": lambda archive, files: fill_in(archive, str(files / "table.csv"), session()),
}


def heads(archive: ArchiveStore) -> dict[str, int]:
    return {name: archive.inventory(name).head for name in archive.ids()}


def attempt(job: Job, folder: Path, files: Path, faults: Faults) -> UsageError | None:
    """Do the job with the fault; give the error, if any."""
    archive = ArchiveStore.open(folder)
    with faults.injected():
        try:
            job(archive, files)
        except UsageError as problem:
            assert problem.code == "cannot-write"
            return problem
    return None


def settled(folder: Path, judge: Judge | None = None) -> dict[str, int]:
    """Give the newest versions after the next one took the lock; the archive is sound."""
    archive = ArchiveStore.open(folder)
    found = audit(archive, now=NOW, jobs=1)
    assert found.ok, found
    assert list(archive.staging.iterdir()) == list(archive.quarantine.iterdir()) == []
    log = ledger.read_commits(archive)
    assert log.spoiled == []
    assert {name: log.newest(name) for name in log.notes} == heads(archive)
    assert judge is None or judge(archive.root) == []
    return heads(archive)


@pytest.mark.parametrize("lasting", [False, True])
@pytest.mark.parametrize("name", JOBS)
def test_each_call_may_fail(base: Path, tmp_path: Path, name: str, lasting: bool, judge: Judge) -> None:
    before = settled(base)
    shutil.copytree(base, tmp_path / "counting")
    counting = Faults(0, 0)
    assert attempt(JOBS[name], tmp_path / "counting", tmp_path, counting) is None
    after = settled(tmp_path / "counting")
    assert after != before
    failed = 0
    step = 1 if counting.count < 150 else 3   # of the longest jobs, every third call
    for at in range(1, counting.count + 1, step):
        place = tmp_path / f"{at}"
        shutil.copytree(base, place)
        problem = attempt(JOBS[name], place, tmp_path, Faults(at, ERRORS[at % 3], lasting=lasting))
        found = settled(place, judge if at % 20 == 1 else None)
        if problem is None:
            assert found == after, at
        else:
            failed += 1
            assert all(found.get(one) in (before.get(one), after.get(one)) for one in after), (at, found)
            assert found != after, at
            if name in ("merge", "table"):
                done = [one for one in after if before.get(one) != after[one] and found.get(one) == after[one]]
                assert str(problem).count("done whole before: " + ", ".join(done)) == bool(done), (at, str(problem))
            else:
                assert found == before, at
        shutil.rmtree(place)
    assert failed > 20 / step


@pytest.mark.parametrize("how", ["a folder", "read-only"])
def test_a_log_that_cannot_be_written_leaves_no_read(base: Path, tmp_path: Path, how: str) -> None:
    before = settled(base)
    archive = ArchiveStore.open(base)
    log = archive.log / ledger.COMMITS
    kept = log.read_bytes()
    faults = Faults(0, errno.EACCES)
    if how == "a folder":
        log.unlink()
        log.mkdir()
    else:
        faults.opening = lambda real: lambda file, mode="r", *more, **others: (   # type: ignore[method-assign]
            faults.wrapped(_refuse)() if Path(str(file)) == log and "a" in mode else real(file, mode, *more, **others)
        )
    assert attempt(JOBS["read"], base, tmp_path, faults) is not None
    assert heads(archive) == before
    if how == "a folder":
        log.rmdir()
        log.write_bytes(kept)
    assert log.read_bytes() == kept
    assert settled(base) == before


def _refuse() -> None:
    raise OSError(errno.EACCES, "Permission denied")


def test_several_commits_count_together_or_not_at_all(base: Path, tmp_path: Path) -> None:
    before = settled(base)
    archive = ArchiveStore.open(base)
    with contextlib.suppress(KeyboardInterrupt), archive.whole("tg85-u4"):
        add_note(archive, "tg85-u4", "one", session())
        add_note(archive, "tg85-u4", "two", session())
        assert heads(archive) != before
        raise KeyboardInterrupt
    assert settled(base) == before
    with contextlib.suppress(KeyboardInterrupt), archive.whole("tg85-u9"):
        add_carrier(archive, "tg85-u9", "eprom", session())
        add_note(archive, "tg85-u9", "one", session())
        assert heads(archive) != before
        raise KeyboardInterrupt
    assert settled(base) == before
    with archive.whole("tg85-u4"):
        add_note(archive, "tg85-u4", "one", session())
        add_note(archive, "tg85-u4", "two", session())
    assert settled(base) == {**before, "tg85-u4": before["tg85-u4"] + 2}
    with pytest.raises(InternalError), archive.whole("tg85-u4"):
        add_note(archive, "tg85-u5", "of another", session())


def test_a_carrier_that_is_replaced_is_there_whatever_fails(base: Path, tmp_path: Path) -> None:
    def replace(archive: ArchiveStore, files: Path) -> None:
        source = ArchiveStore.open(files / "other")
        with archive.lock():
            graft(archive, source, source.inventory("tg85-u5"), "tg85-u5", replacing=True)

    before = settled(base)
    counting = Faults(0, 0)
    shutil.copytree(base, tmp_path / "counting")
    assert attempt(replace, tmp_path / "counting", tmp_path, counting) is None
    outcomes = set()
    for lasting in (False, True):
        for at in range(1, counting.count + 1):
            place = tmp_path / f"{at}"
            shutil.copytree(base, place)
            problem = attempt(replace, place, tmp_path, Faults(at, ERRORS[at % 3], lasting=lasting))
            archive = ArchiveStore.open(place)
            archive.recover()
            assert audit(archive, now=NOW, jobs=1).ok, at
            assert list(archive.staging.iterdir()) == []
            assert (heads(archive) == before) == (problem is not None), at
            aside = list(archive.quarantine.iterdir())
            assert [(one / "inventory.json").exists() for one in aside] == ([] if problem else [True]), at
            outcomes.add(problem is None)
            shutil.rmtree(place)
    assert outcomes == {True, False}


def test_a_folder_that_lay_in_the_way_is_left_there(base: Path, tmp_path: Path) -> None:
    archive = ArchiveStore.open(base)
    stray = archive.object_path("tg85-u5") / "v3"
    stray.mkdir()
    (stray / "letter.txt").write_text("dear")
    with pytest.raises(UsageError, match="in the way"):
        add_note(archive, "tg85-u5", "one", session())
    assert (stray / "letter.txt").read_text() == "dear"
    assert archive.inventory("tg85-u5").head == 2
    assert list(archive.staging.iterdir()) == []


def test_a_savepoint_of_another_time_undoes_nothing(base: Path) -> None:
    """As when a folder of staging is brought back from a copy after the archive moved on."""
    archive = ArchiveStore.open(base)
    log = archive.log / ledger.COMMITS
    with archive.lock(), contextlib.suppress(KeyboardInterrupt), whole(archive, "tg85-u4", 4):
        shutil.copytree(archive.staging / "tg85-u4-undo", base.parent / "kept")
        raise KeyboardInterrupt
    add_note(archive, "tg85-u5", "later", session())
    before, lines = heads(archive), log.read_bytes()
    shutil.copytree(base.parent / "kept", archive.staging / "tg85-u4-undo")
    archive.recover()
    assert heads(archive) == before
    assert log.read_bytes() == lines
    assert (archive.quarantine / "tg85-u4-undo.1" / MARK).exists()


@pytest.mark.parametrize(
    "mark", [b"", b"{", b"[]", b'{"head":-1,"log_bytes":0,"strays":[],"replacing":false}', b'{"head":"1"}']
)
def test_a_savepoint_without_a_whole_mark_undoes_nothing(base: Path, mark: bytes) -> None:
    before = settled(base)
    folder = ArchiveStore.open(base).staging / "tg85-u4-undo"
    folder.mkdir()
    (folder / MARK).write_bytes(mark)
    assert settled(base) == before


def test_the_log_takes_a_line_whole_or_not_at_all(base: Path) -> None:
    archive = ArchiveStore.open(base)
    log = archive.log / ledger.COMMITS
    before = log.read_bytes()
    for at in (2, 3):   # the write, and bringing it to the medium
        with Faults(at, errno.ENOSPC).injected(), pytest.raises(OSError, match="space"):
            ledger.append_line(archive, ledger.COMMITS, b"x" * 1000)
        assert log.read_bytes() == before


def test_an_audit_that_cannot_be_noted_says_so(base: Path) -> None:
    archive = ArchiveStore.open(base)
    (archive.log / ledger.AUDITS).mkdir()
    assert not audit(archive, now=NOW).noted
    (archive.log / ledger.AUDITS).rmdir()
    assert audit(archive, now=NOW).noted
