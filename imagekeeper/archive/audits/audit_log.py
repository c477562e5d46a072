"""When each carrier was last checked, and how far an audit has come: what lies in the folder of the logs.

An audit of everything leaves one line; one of some carriers names them in its line. So the log tells of every carrier
when it was last checked, and a rolling audit takes those first that were checked longest ago. While an audit runs, a
file beside that log holds what it has found so far, so that it can go on where it was stopped.
"""

from __future__ import annotations

import contextlib
import math
import os
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from imagekeeper.archive.audits.audit_report import Audit, PartAudit, Scope
from imagekeeper.archive.ocfl import ledger
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jsonable import canonical
from imagekeeper.provenance.dates import is_time
from imagekeeper.provenance.fields import from_json

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

UNFINISHED = "audit-unfinished.jsonl"

#: How often progress is brought to the disk. [second]
INTERVAL = 1.0


def last_checks(archive: ArchiveStore, carriers: Iterable[str], commits: ledger.Commits) -> dict[str, str | None]:
    """Give when each carrier was last checked, as the log of audits tells; None for never.

    An audit of everything checked the carriers that were there: those whose first version is older.
    """
    everything = ""
    named: dict[str, str] = {}
    for line in ledger.lines(archive, ledger.AUDITS):
        when, checked = line.get("time"), line.get("checked")
        if not isinstance(when, str) or not is_time(when):
            continue
        if checked is None:
            everything = max(everything, when)
        elif isinstance(checked, list):
            named.update((name, max(when, named.get(name, ""))) for name in checked if isinstance(name, str))
    found: dict[str, str | None] = {}
    for carrier in carriers:
        begun = commits.first_time(carrier) if everything else None
        whole = everything if begun is not None and begun < everything else ""
        found[carrier] = max(whole, named.get(carrier, "")) or None
    return found


def longest_ago(checks: dict[str, str | None], percent: float) -> list[str]:
    """Choose the carriers that were checked longest ago; those never checked first.

    Args:
        checks: When each was last checked.
        percent: How many of them, rounded up. [percent]

    Example:
        >>> longest_ago({"u4": "2026-03-02T12:00:00Z", "u5": None, "u6": "2026-01-01T12:00:00Z"}, 50)
        ['u5', 'u6']
    """
    count = math.ceil(len(checks) * percent / 100)
    return sorted(checks, key=lambda carrier: (checks[carrier] or "", carrier))[:count]


def note(archive: ArchiveStore, result: Audit, checked: list[str] | None) -> bool:
    """Note a finished audit, and take away what was kept of it while it ran.

    A read-only copy is audited all the same: then the log does not tell of it.

    Args:
        archive: The archive.
        result: What was found.
        checked: The carriers, where it was not all of them.

    Returns:
        Whether it could be noted.
    """
    line: dict[str, object] = {
        "time": result.time,
        "ok": result.ok,
        "scope": result.scope,
        "checked": checked,
        "carriers": result.carriers,
        "files": result.files,
        "bytes": result.bytes,
        "damaged": [entry.path for entry in result.damaged],
        "missing": [entry.path for entry in result.missing],
        "unexpected": [entry.path for entry in result.unexpected],
    }
    try:
        ledger.append(archive, ledger.AUDITS, line)
    except OSError:
        return False
    with contextlib.suppress(OSError):   # the next audit writes over it
        archive.disk.remove(archive.log / UNFINISHED)
    return True


@dataclass
class Unfinished:
    """An audit that was stopped.

    Attributes:
        started: When it began, RFC 3339.
        scope: What it was to check.
        chosen: The carriers, where not all.
        parts: What it found of each carrier, with the state in which the carrier was.
    """

    started: str
    scope: Scope
    chosen: list[str] | None
    parts: dict[str, tuple[str, PartAudit]] = field(default_factory=dict)


def unfinished(archive: ArchiveStore) -> Unfinished | None:
    """Read what an audit left that was stopped, or None."""
    found: Unfinished | None = None
    for line in ledger.lines(archive, UNFINISHED):
        with contextlib.suppress(ImagekeeperError, KeyError, TypeError, ValueError):
            if found is None:
                header = from_json(_Header, line, UNFINISHED)
                found = Unfinished(header.started, header.scope, list(header.chosen) if header.chosen else None)
            else:
                part = from_json(PartAudit, line["part"], UNFINISHED)
                if part.carrier is not None and isinstance(line["state"], str):
                    found.parts[part.carrier] = (line["state"], part)
    return found


@dataclass(frozen=True)
class _Header:
    started: str
    scope: Scope
    chosen: tuple[str, ...] | None


def _unwaiting(path: str, flags: int) -> int:
    """Open a file; a pipe in its place is refused by the system, where waiting for its reader would take for ever."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0), 0o666)


class Keeper:
    """The file that holds what a running audit has found so far; losing it loses only time.

    It is written without waiting for the medium: what is not there after a crash is checked again.
    """

    def __init__(self, archive: ArchiveStore, started: str, scope: Scope, chosen: list[str] | None) -> None:
        self._path: Path = archive.log / UNFINISHED
        self._file: IO[bytes] | None = None
        self._flushed = time.monotonic()
        with contextlib.suppress(OSError):
            os.makedirs(archive.log, exist_ok=True)
            self._file = open(self._path, "wb", opener=_unwaiting)   # noqa: SIM115  it is open as long as the audit runs
        self._write(_Header(started, scope, None if chosen is None else tuple(chosen)))

    def keep(self, state: str, part: PartAudit) -> None:
        """Keep what was found of a carrier, with the state in which it was."""
        self._write({"state": state, "part": part})
        if self._file is not None and time.monotonic() - self._flushed > INTERVAL:
            with contextlib.suppress(OSError):
                self._file.flush()
            self._flushed = time.monotonic()

    def close(self) -> None:
        """Close the file."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                self._file.close()

    def _write(self, line: Any) -> None:
        if self._file is not None:
            try:
                self._file.write(canonical(line) + b"\n")
            except OSError:   # a full disk does not stop an audit
                self.close()
                self._file = None

