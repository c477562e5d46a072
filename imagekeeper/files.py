"""Files on disk: read in bounded memory, written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
from collections.abc import Iterable, Iterator
from io import FileIO
from pathlib import Path
from typing import Any, BinaryIO, SupportsIndex, overload

from imagekeeper.errors import InputError, NotFoundError, UsageError, Where
from imagekeeper.jsonable import one_line


class FileData:
    """The bytes of an open file, read where they are asked for: the `Data` of an image of any size.

    Args:
        file: An open binary file that can seek; it is kept open as long as this lives.
        size: How many bytes it holds. [byte]
        name: Its name, for messages.
    """

    def __init__(self, file: BinaryIO, size: int, name: str) -> None:
        self._file = file
        self._size = size
        self._name = name

    def __len__(self) -> int:
        return self._size

    @overload
    def __getitem__(self, index: SupportsIndex, /) -> int: ...
    @overload
    def __getitem__(self, index: slice[Any, Any, Any], /) -> bytes: ...
    def __getitem__(self, index: SupportsIndex | slice[Any, Any, Any], /) -> int | bytes:
        if not isinstance(index, slice):
            at = range(self._size)[index]
            return self[at : at + 1][0]
        start, stop, step = index.indices(self._size)
        try:
            data = _read_at(self._file, start, max(stop - start, 0))
        except OSError as problem:
            raise unreadable(self._name, problem) from problem
        if len(data) < stop - start:
            raise InputError(
                "cannot-read/shorter", size=self._size, end=start + len(data), where=Where(file=self._name),
            )
        return data[::step] if step != 1 else data


def _read_at(file: BinaryIO, start: int, length: int) -> bytes:
    if not hasattr(os, "pread"):
        file.seek(start)
        return file.read(length)
    data = os.pread(file.fileno(), length, start)
    while len(data) < length:
        more = os.pread(file.fileno(), length - len(data), start + len(data))
        if not more:
            break
        data += more
    return data


def display_name(path: str | os.PathLike[str]) -> str:
    """Give a path as one printable line, as it was typed."""
    return one_line(os.fspath(path))


def unreadable(name: str, problem: OSError) -> InputError | NotFoundError:
    """Turn what the operating system said about reading into one of our errors."""
    where = Where(file=name)
    if isinstance(problem, FileNotFoundError):
        return NotFoundError("not-found/file", name=name, where=where)
    if isinstance(problem, IsADirectoryError):
        return InputError("directory", name=name, where=where)
    return InputError("cannot-read/file", trouble=reason(problem), where=where)


def reason(problem: OSError) -> str:
    """Say what the operating system said."""
    return f"the system says: {problem.strerror or problem}"


@contextlib.contextmanager
def opened(path: str | os.PathLike[str]) -> Iterator[tuple[BinaryIO, os.stat_result]]:
    """Open a file for reading, or say clearly why not.

    A pipe without a writer would block for ever when opened; it is opened without waiting and then refused.

    Raises:
        NotFoundError: `not-found`.
        InputError: `directory`, `cannot-read`, `not-a-file`.
    """
    name = display_name(path)
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError as problem:
        if _is_special(path):   # a socket, or a terminal that is not there
            raise InputError("not-a-file", name=name, where=Where(file=name)) from problem
        raise unreadable(name, problem) from problem
    except ValueError as problem:   # a name with a NUL in it
        raise NotFoundError("not-found/bad-name", trouble=str(problem), where=Where(file=name)) from problem
    about = os.fstat(handle)
    if stat.S_ISDIR(about.st_mode):
        os.close(handle)
        raise unreadable(name, IsADirectoryError())
    with open(handle, "rb", buffering=0) as file:
        if not stat.S_ISREG(about.st_mode) and not stat.S_ISBLK(about.st_mode):
            raise InputError("not-a-file", name=name, where=Where(file=name))
        yield file, about


def _is_special(path: str | os.PathLike[str]) -> bool:
    """Whether a path leads to a pipe, a socket or a device without a size."""
    try:
        mode = os.stat(path).st_mode
    except OSError:
        return False
    return stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) or stat.S_ISCHR(mode)


def read_limited(file: BinaryIO, limit: int, name: str) -> bytes:
    """Read a whole stream, but not past a limit.

    Raises:
        InputError: `too-large`, `cannot-read`.
    """
    pieces = []
    total = 0
    try:
        while piece := file.read(1 << 20):
            pieces.append(piece)
            total += len(piece)
            if total > limit:
                raise InputError("too-large/whole", limit=limit, where=Where(file=name))
    except OSError as problem:
        raise unreadable(name, problem) from problem
    return b"".join(pieces)


def write_whole(path: str | os.PathLike[str], blocks: Iterable[bytes], *, force: bool = False) -> int:
    """Write a file beside its place, flush it, and move it into place: whole, or not at all.

    Args:
        path: Where the file shall lie.
        blocks: Its bytes, in pieces.
        force: Replace what is there.

    Returns:
        The size written. [byte]

    Raises:
        UsageError: `exists` when the place is taken; `cannot-write` when the system refuses.
    """
    target = Path(path)
    name = display_name(path)
    if not os.fspath(path):
        raise UsageError("usage/output-without-name")
    if not force and os.path.lexists(target):
        raise taken(name)
    _refuse_what_is_no_file(target, name)
    import tempfile  # slow to load, and most commands write nothing

    size = 0
    try:
        handle, beside = tempfile.mkstemp(prefix=".imagekeeper-", dir=target.parent)
    except OSError as problem:
        raise unwritable(name, problem) from problem
    try:
        with open(handle, "wb") as file:
            for block in blocks:
                file.write(block)
                size += len(block)
            flush(file)
        os.chmod(beside, 0o666 & ~_umask())
        _into_place(beside, target, force)
        sync_folder(target.parent)
    except OSError as problem:
        raise unwritable(name, problem) from problem
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(beside)
    return size


def _refuse_what_is_no_file(target: Path, name: str) -> None:
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return
    except OSError as problem:
        raise unwritable(name, problem) from problem
    if not stat.S_ISREG(mode):
        raise UsageError(
            "exists/folder" if stat.S_ISDIR(mode) else "exists/device", name=name, where=Where(file=name)
        )


def _into_place(beside: str, target: Path, force: bool) -> None:
    if force:
        os.replace(beside, target)
        return
    try:
        os.link(beside, target)   # unlike a rename, this fails when somebody took the place meanwhile
    except FileExistsError as problem:
        raise taken(display_name(target)) from problem
    except OSError as problem:
        if problem.errno not in (errno.EPERM, errno.ENOTSUP, errno.EMLINK, errno.ENOSYS):
            raise
        os.replace(beside, target)   # a file system without hard links


def taken(name: str) -> UsageError:
    """Say that something is there already."""
    return UsageError("exists/output", name=name, where=Where(file=name))


def unwritable(name: str, problem: OSError) -> UsageError:
    """Turn what the operating system said about writing into our error."""
    return UsageError("cannot-write/output", trouble=reason(problem), where=Where(file=name))


def flush(file: BinaryIO | FileIO) -> None:
    """Bring a file's bytes to the medium, past the system's cache and, where it can be asked for, the drive's."""
    file.flush()
    if sys.platform == "darwin":   # fsync stops at the drive's cache there
        import fcntl  # other systems have none

        fcntl.fcntl(file.fileno(), fcntl.F_FULLFSYNC)
    else:
        os.fsync(file.fileno())


def sync_folder(folder: str | os.PathLike[str]) -> None:
    """Bring a folder's entries to the medium, so that a rename survives a power cut; not possible on Windows."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
