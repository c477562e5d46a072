"""A folder with the invented files, and an index that goes with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from imagekeeper.jobs import specimen


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    specimen.write(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / ".cache"))
    monkeypatch.delenv("IMAGEKEEPER_ARCHIVE", raising=False)
    monkeypatch.delenv("IMAGEKEEPER_OPERATOR", raising=False)
    return tmp_path
