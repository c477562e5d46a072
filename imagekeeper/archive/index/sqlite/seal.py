"""Whether the index's file is just as this program left it.

Whenever the file was written, it gets a time of change that no writing could give it, in the past, and what the system
then tells of it is noted in a small file beside it. Whoever writes to the file later, and be it a single byte, changes
that. So does whoever copies it or sets its times: an index is never taken on trust, since making it anew costs only
time. What is not seen so is what changes beneath the file system, on the medium; for that every row has a sum of its
own (`imagekeeper.archive.index.sums`).

Files are looked at by their names and never opened here: closing one would take SQLite's locks on it away.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from imagekeeper.archive.index.sqlite.tables import transaction

#: The file beside the index is named as the index is, and this.
ENDING = ".seal"

#: How far back the time of change is set: by a random time between these, more than clocks are ever put back.
#: [nanosecond]
_EARLIEST, _LATEST = 400 * 86400 * 10**9, 30 * 86400 * 10**9


def seal(file: Path) -> None:
    """Note that the file is now as it should be; the caller holds a lock on it, or nobody else knows it.

    Raises:
        OSError: It cannot be noted.
    """
    now = time.time_ns()
    with contextlib.suppress(OSError):   # somebody else's file: then its times are taken as they are
        back = _LATEST + int.from_bytes(os.urandom(8), "big") % (_EARLIEST - _LATEST)
        os.utime(file, ns=(now, now - back))
    beside = file.with_name(f"{file.name}{ENDING}.{os.getpid()}")
    try:
        beside.write_text(_told(file), "ascii")
        os.replace(beside, file.with_name(file.name + ENDING))
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def is_sealed(file: Path) -> bool:
    """Whether the file is as it was when it was sealed."""
    try:
        return file.with_name(file.name + ENDING).read_text("ascii") == _told(file)
    except (OSError, ValueError):
        return False


def _told(file: Path) -> str:
    about = os.lstat(file)
    return f"{about.st_size} {about.st_mtime_ns} {about.st_ctime_ns}\n"


@contextlib.contextmanager
def resealed(base: sqlite3.Connection, file: Path) -> Iterator[None]:
    """Write all or nothing to a sealed index, and seal it again; nobody reads it between the two.

    Raises:
        sqlite3.DatabaseError: It is not as it was left.
        OSError: It cannot be sealed.
    """
    base.execute("PRAGMA locking_mode = EXCLUSIVE")   # the lock outlasts the transaction
    try:
        with transaction(base):
            if not is_sealed(file):
                raise sqlite3.DatabaseError("the index was changed by something else")
            yield
        seal(file)
    finally:
        base.execute("PRAGMA locking_mode = NORMAL")
        base.execute("SELECT uuid FROM archive").fetchone()   # only now the lock goes
