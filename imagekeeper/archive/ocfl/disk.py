"""The single steps on the file system that writing an archive is made of, so that tests can stop after each."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import time
from collections.abc import Iterable
from pathlib import Path

from imagekeeper.files import flush, sync_folder

#: Windows refuses to move what a virus scanner has open for a moment; these are its reasons.
_WINDOWS_BUSY = {5, 32, 33}

#: How long such a move is tried again. [second]
_WINDOWS_PATIENCE = 2.5


class FlushedDisk:
    """Steps on the file system, each flushed; paths are absolute."""

    def make_folders(self, folder: Path) -> None:
        """Make a folder and what is missing above it."""
        folder.mkdir(parents=True, exist_ok=True)

    def write(self, path: Path, blocks: Iterable[bytes]) -> str:
        """Write a new file and flush it.

        Returns:
            The SHA-512 of what was written.
        """
        digest = hashlib.sha512()
        with open(path, "xb") as file:
            for block in blocks:
                file.write(block)
                digest.update(block)
            flush(file)
        return digest.hexdigest()

    def append(self, path: Path, line: bytes) -> None:
        """Add a line at the end of a file, beginning a new one after a line that was cut short; all of it or nothing.

        No buffer is used: what the system refused to take would be offered to it again when the file is closed.
        """
        with open(path, "a+b", buffering=0) as file:
            end = file.seek(0, os.SEEK_END)
            if end:
                file.seek(-1, os.SEEK_END)
                if file.read(1) != b"\n":
                    line = b"\n" + line
            try:
                written = 0
                while written < len(line):
                    written += file.write(line[written:])
                flush(file)
                if not end:
                    sync_folder(path.parent)
            except BaseException:
                with contextlib.suppress(OSError):
                    file.truncate(end)
                    flush(file)
                raise

    def shorten(self, path: Path, size: int) -> None:
        """Cut a file off behind some bytes. [byte]"""
        with open(path, "r+b") as file:
            file.truncate(size)
            flush(file)

    def sync(self, folder: Path) -> None:
        """Flush a folder's entries."""
        sync_folder(folder)

    def move(self, source: Path, target: Path) -> None:
        """Move a file or folder to a place that is free, or a file onto a file."""
        end = time.monotonic() + _WINDOWS_PATIENCE
        while True:
            try:
                os.replace(source, target)
                return
            except PermissionError as problem:
                if getattr(problem, "winerror", None) not in _WINDOWS_BUSY or time.monotonic() > end:
                    raise
                time.sleep(0.05)

    def remove(self, path: Path) -> None:
        """Remove a file, or a folder with all that is in it."""
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)

    def remove_empty(self, folder: Path) -> None:
        """Remove an empty folder."""
        folder.rmdir()
