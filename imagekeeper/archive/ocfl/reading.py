"""Reading the archive's own files: regular files only, links are never followed."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Union, cast

from imagekeeper.files import display_name, opened, unreadable

if TYPE_CHECKING:
    from imagekeeper.containers.model import Data

#: Files are read in pieces of this size, so that memory stays bounded. [byte]
BLOCK_BYTES = 1 << 20

#: What can be stored: bytes, a file, data that lie elsewhere, or pieces such as those of `Image.pieces()`.
Source = Union[bytes, Path, "Data", Iterable[bytes]]


class NotRegularError(OSError):
    """What lies there is a link, a folder or a device."""


def opened_regular(path: Path) -> BinaryIO:
    """Open a regular file for reading; a pipe or device in its place is refused, and never waited for.

    Raises:
        OSError: It cannot be opened; `NotRegularError` where it is no regular file.
    """
    about = os.lstat(path)
    if not stat.S_ISREG(about.st_mode):
        raise NotRegularError(None, f"it is {_kind(about.st_mode)}, not a file")
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    return open(os.open(path, flags), "rb", buffering=0)


def file_blocks(path: Path) -> Iterator[bytes]:
    """Read a regular file in pieces.

    Raises:
        OSError: It cannot be read; `NotRegularError` where it is no regular file.
    """
    with opened_regular(path) as file:
        while block := file.read(BLOCK_BYTES):
            yield block


def _kind(mode: int) -> str:
    if stat.S_ISLNK(mode):
        return "a symbolic link"
    return "a folder" if stat.S_ISDIR(mode) else "a pipe or device"


def file_bytes(path: Path) -> bytes:
    """Read a regular file whole.

    Raises:
        OSError: It cannot be read.
    """
    return b"".join(file_blocks(path))


def bytes_if_any(path: Path) -> bytes | None:
    """Read a regular file whole, or give None where that is impossible, for whatever reason."""
    try:
        return file_bytes(path)
    except OSError:
        return None


def size_if_any(path: Path) -> int:
    """Give the size of what lies there, or 0 where that cannot be told. [byte]"""
    try:
        return os.lstat(path).st_size
    except OSError:
        return 0


def is_folder(path: Path) -> bool:
    """Whether a real folder lies there, not a link to one."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except OSError:
        return False


def is_file(path: Path) -> bool:
    """Whether a regular file lies there, not a link to one."""
    try:
        return stat.S_ISREG(os.lstat(path).st_mode)
    except OSError:
        return False


def entries(folder: Path) -> dict[str, str]:
    """List a folder: each name with `file`, `folder` or `other` (links, pipes, devices).

    Raises:
        OSError: It cannot be read.
    """
    found = {}
    with os.scandir(folder) as listing:
        for entry in listing:
            if entry.is_symlink():
                found[entry.name] = "other"
            elif entry.is_dir(follow_symlinks=False):
                found[entry.name] = "folder"
            else:
                found[entry.name] = "file" if entry.is_file(follow_symlinks=False) else "other"
    return dict(sorted(found.items()))


def source_blocks(source: Source) -> Iterable[bytes]:
    """Give what is to be stored in pieces, in bounded memory."""
    if isinstance(source, bytes):
        return (source,)
    if isinstance(source, Path):
        return _given_file_blocks(source)
    if isinstance(source, (list, tuple)) or not hasattr(source, "__getitem__"):
        return cast("Iterable[bytes]", source)
    return _data_blocks(cast("Data", source))


def _given_file_blocks(path: Path) -> Iterator[bytes]:
    """Read a file that the user gave, which may be a link."""
    with opened(path) as (file, _):
        try:
            while block := file.read(BLOCK_BYTES):
                yield block
        except OSError as problem:
            raise unreadable(display_name(path), problem) from problem


def _data_blocks(data: Data) -> Iterator[bytes]:
    for start in range(0, len(data), BLOCK_BYTES):
        yield data[start : start + BLOCK_BYTES]
