"""Files on disk: read in bounded memory, written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import files
from imagekeeper.errors import ImagekeeperError, InputError, NotFoundError, UsageError
from tests.refusals import refuses


def code_of(problem: pytest.ExceptionInfo[ImagekeeperError]) -> str:
    return problem.value.code


@given(data=st.binary(min_size=1, max_size=200), start=st.integers(-250, 250), stop=st.integers(-250, 250))
def test_file_data_slices_as_bytes_do(
    data: bytes, start: int, stop: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "data.bin"
    path.write_bytes(data)
    with files.opened(path) as (file, about):
        window = files.FileData(file, about.st_size, "data.bin")
        assert len(window) == len(data)
        assert window[start:stop] == data[start:stop]
        assert window[start:stop:3] == data[start:stop:3]
        assert window[len(data) - 1] == data[-1]
        with pytest.raises(IndexError):
            window[len(data)]


def test_a_file_that_shrinks_while_it_is_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "u4.bin"
    path.write_bytes(bytes(100))
    with files.opened(path) as (file, about):
        window = files.FileData(file, about.st_size, "u4.bin")
        os.truncate(path, 60)
        assert window[0:60] == bytes(60)
        with refuses(InputError, "cannot-read", "the file became shorter while it was read") as caught:
            window[50:100]
    assert code_of(caught) == "cannot-read"


def test_what_cannot_be_opened_is_told(tmp_path: Path) -> None:
    for path, error, code in (
        (tmp_path / "nothing", NotFoundError, "not-found"),
        (tmp_path, InputError, "directory"),
        ("a\0b", NotFoundError, "not-found"),
        (tmp_path / ("x" * 300), InputError, "cannot-read"),
    ):
        with pytest.raises(error) as caught, files.opened(path):
            pass
        assert code_of(caught) == code


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_pipe_nobody_writes_to_does_not_block(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    said = "a pipe, socket or device was given"
    with refuses(InputError, "not-a-file", said) as caught, files.opened(tmp_path / "pipe"):
        pass
    assert code_of(caught) == "not-a-file"


def left(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_file_is_written_whole(tmp_path: Path) -> None:
    size = files.write_whole(tmp_path / "out.bin", [b"ab", b"cd"])
    assert size == 4
    assert (tmp_path / "out.bin").read_bytes() == b"abcd"
    assert left(tmp_path) == ["out.bin"]
    assert (tmp_path / "out.bin").stat().st_mode & 0o777 == 0o666 & ~files._umask()


def test_nothing_is_overwritten_without_being_asked(tmp_path: Path) -> None:
    (tmp_path / "out.bin").write_bytes(b"precious")
    with refuses(UsageError, "exists", "there is already something at the output's place") as caught:
        files.write_whole(tmp_path / "out.bin", [b"new"])
    assert code_of(caught) == "exists"
    assert (tmp_path / "out.bin").read_bytes() == b"precious"
    files.write_whole(tmp_path / "out.bin", [b"new"], force=True)
    assert (tmp_path / "out.bin").read_bytes() == b"new"


def test_a_dangling_link_is_not_written_through(tmp_path: Path) -> None:
    (tmp_path / "out.bin").symlink_to(tmp_path / "elsewhere.bin")
    with refuses(UsageError, "exists", "there is already something at the output's place"):
        files.write_whole(tmp_path / "out.bin", [b"new"])
    assert left(tmp_path) == ["out.bin"]


def test_somebody_taking_the_place_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "out.bin"

    def blocks() -> Iterator[bytes]:
        yield b"ours"
        target.write_bytes(b"theirs")

    with refuses(UsageError, "exists", "there is already something at the output's place") as caught:
        files.write_whole(target, blocks())
    assert code_of(caught) == "exists"
    assert target.read_bytes() == b"theirs"
    assert left(tmp_path) == ["out.bin"]


@pytest.mark.parametrize("force", [False, True])
def test_an_interruption_leaves_nothing_and_loses_nothing(tmp_path: Path, force: bool) -> None:
    target = tmp_path / "out.bin"
    if force:
        target.write_bytes(b"old")

    def blocks() -> Iterator[bytes]:
        yield b"half"
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        files.write_whole(target, blocks(), force=force)
    assert left(tmp_path) == (["out.bin"] if force else [])
    assert not force or target.read_bytes() == b"old"


@pytest.mark.parametrize("step", ["os.fsync", "os.link", "os.replace", "os.chmod"])
def test_a_failing_step_leaves_nothing_half_made(
    tmp_path: Path, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(step, refuse)
    force = step == "os.replace"
    with refuses(UsageError, "cannot-write", "the output cannot be written") as caught:
        files.write_whole(tmp_path / "out.bin", [b"ab"], force=force)
    assert code_of(caught) == "cannot-write"
    assert "No space left" in caught.value.why
    assert left(tmp_path) == []


def test_where_it_cannot_be_written_is_told(tmp_path: Path) -> None:
    with refuses(UsageError, "cannot-write", "the output cannot be written") as caught:
        files.write_whole(tmp_path / "missing" / "out.bin", [b"ab"])
    assert code_of(caught) == "cannot-write"
    with refuses(UsageError, "exists", "the output is a folder") as caught:
        files.write_whole(tmp_path, [b"ab"], force=True)
    assert code_of(caught) == "exists"
