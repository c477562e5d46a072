"""What every test may use."""

from __future__ import annotations

import io
import json
import os
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from imagekeeper.cli import run
from tests import tools


def _checked_only(handle: Any) -> None:
    """Stand in for fsync: no test cuts the power, and waiting for the disk was two thirds of the time of these tests.

    What it is called with is still checked; that it is called at the right steps is tested where steps are stopped.
    """
    os.fstat(handle if isinstance(handle, int) else handle.fileno())


os.fsync = _checked_only


#: Tests that fill their scratch folders with as much as a large disk need some room. [byte]
ROOM = 6 << 30


def _scratch_in_memory() -> None:
    """Put the scratch folders of tests into memory, where the system has such a folder with enough room.

    The archive's tests make and look at tens of thousands of small files; on a slow disk that was half of their time.
    """
    memory = Path("/dev/shm")   # noqa: S108  pytest makes a folder of its own in it, closed to others
    named = "PYTEST_DEBUG_TEMPROOT" in os.environ
    if not named and os.access(memory, os.W_OK | os.X_OK) and shutil.disk_usage(memory).free >= ROOM:
        os.environ["PYTEST_DEBUG_TEMPROOT"] = str(memory)


_scratch_in_memory()

# a slow, shared machine must not make a property test flaky
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Take no second process for what one named file or test asks: starting it would take longer than the tests."""
    named = config.args
    one = len(named) == 1 and Path(named[0].partition("::")[0]).is_file()
    return 0 if one and "PYTEST_XDIST_AUTO_NUM_WORKERS" not in os.environ else None


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip what compares with a tool that is not here, and say which tool that is."""
    names = tuple(name for mark in item.iter_markers("outside_tool") for name in mark.args)
    reason = tools.why_not(names)
    if reason:
        pytest.skip(reason)


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


def open_to_others(scratch: Path) -> None:
    """Let the other user of `unprivileged` into a scratch folder, which pytest closes to others, as those around it."""
    for folder in (scratch, *scratch.parents):
        if folder == scratch or folder.name.startswith(("pytest-", "popen-")):   # with several processes one more
            folder.chmod(stat.S_IMODE(folder.stat().st_mode) | 0o055)
        if folder.stat().st_mode & 0o005 != 0o005:
            pytest.skip(f"other users may not enter {folder}")


@contextmanager
def unprivileged() -> Iterator[None]:
    """Be somebody whom permissions stop: root becomes another user for a while.

    That user must be able to load the rest of this program, so the test is skipped where the checkout is closed to
    others.
    """
    if os.geteuid() != 0:
        yield
        return
    here = Path(__file__).resolve()
    if not all(folder.stat().st_mode & 0o005 == 0o005 for folder in here.parents):
        pytest.skip("this checkout lies in a folder that other users may not enter")
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def cli(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Callable[..., Ran]:
    """Run a command in a scratch folder, with a cache and a home of its own, in a terminal of 100 columns."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    monkeypatch.delenv("IMAGEKEEPER_ARCHIVE", raising=False)
    monkeypatch.delenv("IMAGEKEEPER_TABLES", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))   # own rows of whoever runs the tests
    monkeypatch.setenv("NO_COLOR", "1")

    def call(*arguments: str | Path, stdin: bytes = b"") -> Ran:
        capfd.readouterr()
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin)))
        code = run([str(a) for a in arguments])
        sys.stdout.flush()
        out, err = capfd.readouterr()
        assert "Traceback" not in out + err
        return Ran(code, out, err)

    return call
