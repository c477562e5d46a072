"""What may have changed since the index was last brought up to date, without looking at every carrier.

The log of commits has a line for every change that this program makes, so that usually the carriers named in its new
lines are all there is to look at. Everything is looked at where that cannot be relied on: where the log is missing,
became shorter or does not go on from where it ended; where a change was begun of which the log tells nothing; and where
the folders that hold the carriers' folders were changed, as when a carrier is added, copied in, or taken away.

What is not seen so: files inside a carrier's folder that were changed behind the program's back, without a line in the
log; and in an archive with more than `FOLDER_LIMIT` folders above its carriers, carriers copied into the second level
of them, or taken away from there. When everything is looked at, a carrier is read again if the file with its
inventory's digest is another one or was changed; content changed in place is not seen even then. `archive reindex`
reads every record anew, and `archive audit` every file.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl.ledger import COMMITS, LINE_LIMIT
from imagekeeper.archive.ocfl.reading import entries, opened_regular

if TYPE_CHECKING:
    from pathlib import Path

    from imagekeeper.archive.store import ArchiveStore

#: A folder that was changed within this time may be changed again under the same time stamp: the clocks of file
#: systems tick in milliseconds or, in the oldest kinds, in 2 seconds. [second]
SETTLED_AFTER = 2.0

#: So many folders are watched at most: each costs some microseconds in every command.
FOLDER_LIMIT = 1000

#: If the log grew by more, everything is looked at. [byte]
NEWS_LIMIT = 32 << 20

LOG = "log"
STAGING = "staging"


@dataclass(frozen=True)
class ArchiveState:
    """What is there now, to be compared with what was there before.

    Attributes:
        stamps: Of the log, of the folder of preparations, and of each folder that holds carriers' folders.
        named: The carriers to look at, or None for all.
    """

    stamps: dict[str, str]
    named: frozenset[str] | None


def look(archive: ArchiveStore, before: dict[str, str]) -> ArchiveState:
    """Find out what may have changed.

    Args:
        archive: The archive.
        before: The stamps of the last time; empty for none.
    """
    log, named = _log(archive.log / COMMITS, before.get(LOG, ""))
    stamps = {LOG: log, STAGING: _stamp(archive.staging)}
    if before.get(STAGING) != stamps[STAGING] and not named:
        named = None   # a change was begun, and the log does not tell what came of it
    folders = [folder for folder in before if folder.startswith("/")]
    if not folders:
        named = None
    for folder in folders:
        stamps[folder] = _stamp(archive.root / folder[1:])
        if not stamps[folder] or stamps[folder] != before[folder]:
            named = None
    return ArchiveState(stamps, named)


def folder_stamps(archive: ArchiveStore, since: float) -> dict[str, str]:
    """Stamp the folders that hold carriers' folders: all of them, or only the upper ones where there are too many.

    Args:
        archive: The archive.
        since: When listing them began, in seconds since 1970: what changed later, or just before, is not settled and
            gets an empty stamp, so that everything is looked at the next time. [second]
    """
    chosen = level = [""]
    for _ in range(archive.layout.depth):
        level = [f"{above}/{name}" for above in level for name in _folders(archive.root / above[1:])]
        if len(chosen) + len(level) > FOLDER_LIMIT:
            break
        chosen = chosen + level
    return {folder or "/": _stamp(archive.root / folder[1:], since - SETTLED_AFTER) for folder in chosen}


def _folders(folder: Path) -> list[str]:
    try:
        return [name for name, kind in entries(folder).items() if kind == "folder" and name != "extensions"]
    except OSError:
        return []


def sidecar_stamp(path: str) -> str:
    """Stamp the file with an inventory's digest: another one, or a changed one, has another stamp; empty for none."""
    try:
        about = os.lstat(path)
    except OSError:
        return ""
    return f"{about.st_ino} {about.st_size} {about.st_mtime_ns} {about.st_ctime_ns}"


def now() -> float:
    """Give the time by which folders' stamps are judged, in seconds since 1970. [second]"""
    return time.time()


def _stamp(folder: Path, settled: float | None = None) -> str:
    try:
        about = os.stat(folder)
    except OSError:
        return ""
    if settled is not None and about.st_mtime >= settled:
        return ""
    return f"{about.st_ino} {about.st_mtime_ns}"


def _log(path: Path, before: str) -> tuple[str, frozenset[str] | None]:
    """Read what is new in the log of commits.

    Returns:
        Where it ends now, with the digest of its last line; and the carriers named since, None for not known.
    """
    try:
        with opened_regular(path) as file:
            size = file.seek(0, os.SEEK_END)
            start, end, digest = _decoded(before)
            if before and end <= size <= end + NEWS_LIMIT:
                file.seek(start)
                last = file.read(end - start)
                if hashlib.sha256(last).hexdigest() == digest:
                    return _news(file.read(size - end), last, start, end)
            start = max(size - LINE_LIMIT, 0)
            file.seek(start)
            tail = file.read(size - start)
    except (OSError, ValueError):
        return "", None
    whole = tail[: tail.rfind(b"\n") + 1]
    begin = whole[:-1].rfind(b"\n") + 1
    return _ended(start + begin, start + len(whole), whole[begin:]), None


def _news(new: bytes, last: bytes, start: int, end: int) -> tuple[str, frozenset[str] | None]:
    *lines, rest = new.split(b"\n")
    named = set()
    for line in lines:
        try:
            carrier = json.loads(line)["carrier"]
        except (ValueError, RecursionError, TypeError, LookupError):
            return "", None   # a line cut short by a crash: what it told of is not known
        if not isinstance(carrier, str):
            return "", None
        named.add(carrier)
    if not lines:
        return _ended(start, end, last), frozenset()
    end += len(new) - len(rest)
    return _ended(end - len(lines[-1]) - 1, end, lines[-1] + b"\n"), frozenset(named)


def _ended(start: int, end: int, line: bytes) -> str:
    return f"{start} {end} {hashlib.sha256(line).hexdigest()}"


def _decoded(text: str) -> tuple[int, int, str]:
    start, _, rest = text.partition(" ")
    end, _, digest = rest.partition(" ")
    return (int(start), int(end), digest) if text else (0, 0, "")
