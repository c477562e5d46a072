"""What every test may use."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from imagekeeper.cli import run


def _checked_only(handle: Any) -> None:
    """Stand in for fsync: no test cuts the power, and waiting for the disk was two thirds of the time of these tests.

    What it is called with is still checked; that it is called at the right steps is tested where steps are stopped.
    """
    os.fstat(handle if isinstance(handle, int) else handle.fileno())


os.fsync = _checked_only

# a slow, shared machine must not make a property test flaky
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


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
    """Run a command in a scratch folder, with a cache and a home of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    monkeypatch.delenv("IMAGEKEEPER_ARCHIVE", raising=False)
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
