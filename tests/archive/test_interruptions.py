"""Whatever is being done, and at whichever step it is stopped or refused: no read is lost, and a repair puts all right.

A step is a write with its flush, the flush of a folder, or a rename (`imagekeeper.archive.ocfl.disk`).
"""

from __future__ import annotations

import contextlib
import errno
import shutil
import subprocess
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.ocfl import disk as disk_module
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.jobs.archive.repairing import repair_archive
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.describing import add_note
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session
from imagekeeper.provenance import places

from .conftest import NOW, UUID, Judge
from .test_crash import STEPS, Killed, MortalDisk

pytestmark = pytest.mark.long

NUMBERS = count(1)
READS = [bytes(range(256)) * 4, bytes(range(256)) * 4, b"\x55" * 300]


def session() -> Session:
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(NUMBERS):012d}", "Ann")


class RefusingDisk(FlushedDisk):
    """A disk that is full after some steps, or cannot be written to at all; what is there can be moved and removed."""

    def __init__(self, steps: int, error: int) -> None:
        self.steps = steps
        self.error = error
        self.refused = 0


def _refusing(name: str) -> object:
    def step(self: RefusingDisk, *arguments: object) -> object:
        full = self.error == errno.ENOSPC
        if self.steps <= 0 and (not full or name in ("make_folders", "write", "append")):
            self.refused += 1
            if full and name == "write":
                path, blocks = arguments
                assert isinstance(path, Path)
                path.write_bytes(b"".join(blocks)[:3])   # type: ignore[arg-type]
            raise OSError(self.error, "refused")
        self.steps -= 1
        return getattr(FlushedDisk, name)(self, *arguments)

    return step


for _name in STEPS:
    setattr(RefusingDisk, _name, _refusing(_name))


@pytest.fixture(autouse=True)
def unflushed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The process is stopped here, not the machine: waiting for the medium would only take time."""
    monkeypatch.setattr(disk_module, "flush", lambda file: file.flush())
    monkeypatch.setattr(disk_module, "sync_folder", lambda folder: None)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """An archive with a carrier that has two reads, its replica, and a file with a third read."""
    archive = ArchiveStore.create(tmp_path / "base" / "archive", uuid=UUID, title="Harbour office", now=NOW)
    for number, data in enumerate(READS, 1):
        (tmp_path / f"read{number}.bin").write_bytes(data)
    add_carrier(archive, "tg85-u4", "eprom", session(), part="27128", machine="Quillmere TG-85", position="U4")
    read(archive, tmp_path, 1, 2)
    replicate(archive, tmp_path / "base" / "replica", now=NOW)
    return tmp_path / "base"


def read(archive: ArchiveStore, folder: Path, *numbers: int) -> None:
    paths = [str(folder / f"read{number}.bin") for number in numbers]
    add_reads(archive, "tg85-u4", paths, Options(), Conditions(reader="bench reader"), session())


Job = Callable[[ArchiveStore, Path], object]


def _prepared(name: str, folder: Path, reads: Path) -> None:
    """Bring about what a job needs before it."""
    archive = ArchiveStore.open(folder / "archive")
    if name == "repair":
        archive.content_path("tg85-u4", places.read_image("r1")).write_bytes(b"damaged")
        archive.content_path("tg85-u4", places.read_record("r2")).unlink()
        (archive.object_path("tg85-u4") / "v1" / "inventory.json").write_bytes(b"{")
    if name == "replicate":
        read(archive, reads, 3)


JOBS: dict[str, Job] = {
    "add": lambda archive, reads: add_carrier(archive, "tg85-u5", "eprom", session()),
    "read": lambda archive, reads: read(archive, reads, 3),
    "agree": lambda archive, reads: agree(archive, "tg85-u4", session()),
    "note": lambda archive, reads: add_note(archive, "tg85-u4", "window covered", session()),
    "repair": lambda archive, reads: repair_archive(
        archive, session(), replica=ArchiveStore.open(archive.path.parent / "replica")
    ),
    "replicate": lambda archive, reads: replicate(archive, archive.path.parent / "replica", now=NOW),
    "first replica": lambda archive, reads: replicate(archive, archive.path.parent / "another", now=NOW),
}


def images(archive: ArchiveStore) -> set[bytes]:
    state = archive.inventory("tg85-u4").state
    return {archive.read_file("tg85-u4", path) for path in state if path.endswith("image.bin")}


def assert_whole(folder: Path, least: set[bytes]) -> None:
    """Audit every archive in the folder, after a repair where that is needed: no read is lost."""
    archive, replica = (ArchiveStore.open(folder / name) for name in ("archive", "replica"))
    assert audit(replica, now=NOW, jobs=1).ok
    if not audit(archive, now=NOW, jobs=1).ok:
        result = repair_archive(archive, session(), replica=replica)
        assert result.ok, result
        assert audit(archive, now=NOW, jobs=1).ok
    assert images(archive) >= least
    assert images(replica) >= set(READS[:2])
    assert list(archive.staging.iterdir()) == list(replica.staging.iterdir()) == []
    if (folder / "another" / "archive.json").exists():
        assert audit(ArchiveStore.open(folder / "another"), now=NOW, jobs=1).ok


def steps_of(job: Job, folder: Path, reads: Path) -> int:
    archive = ArchiveStore.open(folder / "archive")
    disk = MortalDisk(1_000_000)
    archive.disk = disk
    job(archive, reads)
    return 1_000_000 - disk.life


@pytest.mark.parametrize("name", JOBS)
def test_a_process_may_stop_at_every_step(base: Path, tmp_path: Path, name: str, judge: Judge) -> None:
    _prepared(name, base, tmp_path)
    shutil.copytree(base, tmp_path / "counting")
    count_of_steps = steps_of(JOBS[name], tmp_path / "counting", tmp_path)
    least = set(READS) if name == "replicate" else set(READS[:2])
    for life in range(1, count_of_steps + 1):
        place = tmp_path / f"{life}"
        shutil.copytree(base, place)
        dying = ArchiveStore.open(place / "archive")
        dying.disk = MortalDisk(life, tearing=True)
        with pytest.raises(Killed):
            JOBS[name](dying, tmp_path)
        assert_whole(place, least)
        if life % 8 == 0:
            assert judge(place / "archive" / "carriers") == judge(place / "replica" / "carriers") == []
        if name.endswith("replica") and life % 4 == 0:   # what was begun can be gone on with
            JOBS[name](ArchiveStore.open(place / "archive"), tmp_path)
            assert_whole(place, least)
        shutil.rmtree(place)


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EROFS])
@pytest.mark.parametrize("name", JOBS)
def test_a_disk_may_refuse_at_every_step(base: Path, tmp_path: Path, name: str, error: int) -> None:
    _prepared(name, base, tmp_path)
    shutil.copytree(base, tmp_path / "counting")
    count_of_steps = steps_of(JOBS[name], tmp_path / "counting", tmp_path)
    least = set(READS) if name == "replicate" else set(READS[:2])
    told = 0
    # a folder that cannot be written to is so from the first step on; that it becomes so later is tried at some steps
    for steps in range(0, count_of_steps, 1 if error == errno.ENOSPC else 5):
        place = tmp_path / f"{steps}"
        shutil.copytree(base, place)
        archive = ArchiveStore.open(place / "archive")
        archive.disk = disk = RefusingDisk(steps, error)
        with contextlib.suppress(UsageError):
            try:
                JOBS[name](archive, tmp_path)
            except UsageError as problem:
                assert problem.code == "cannot-write"
                told += 1
                raise
        assert disk.refused or steps
        assert_whole(place, least)
        shutil.rmtree(place)
    assert told


READER = """
import sys
from itertools import count
from pathlib import Path
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.session import Session
from imagekeeper.jobs.carriers.keeping import Conditions, add_reads
from imagekeeper.jobs.images.loading import Options
import uuid
archive = ArchiveStore.open(sys.argv[1])
archive.lock_timeout = 120
print("ready", flush=True)
sys.stdin.readline()
for path in sys.argv[2:]:
    session = Session(lambda: "2026-11-24T22:00:00Z", lambda: str(uuid.uuid4()), "Ann")
    add_reads(archive, "tg85-u4", [path], Options(), Conditions(), session)
"""


def test_eight_processes_add_reads_at_once(base: Path, tmp_path: Path, judge: Judge) -> None:
    children = []
    added = []
    for number in range(8):
        paths = [tmp_path / f"p{number}-{turn}.bin" for turn in range(3)]
        for turn, path in enumerate(paths):
            path.write_bytes(bytes([number, turn]) * 64)
            added.append(path.read_bytes())
        children.append(subprocess.Popen(
            [sys.executable, "-c", READER, str(base / "archive"), *map(str, paths)], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        ))  # fmt: skip
    for child in children:   # all begin at once
        assert child.stdout is not None
        assert child.stdout.readline() == b"ready\n", child.stderr and child.stderr.read()
    for child in children:
        assert child.stdin is not None
        child.stdin.write(b"\n")
        child.stdin.flush()
    for child in children:
        _, complaint = child.communicate(timeout=120)
        assert (child.returncode, complaint) == (0, b"")
    archive = ArchiveStore.open(base / "archive")
    assert audit(archive, now=NOW).ok
    assert images(archive) >= {*added, *READS[:2]}
    inventory = archive.inventory("tg85-u4")
    assert places.read_ids(list(inventory.state)) == tuple(f"r{number}" for number in range(1, 27))
    assert inventory.head == 2 + 24
    assert judge(archive.root) == []
