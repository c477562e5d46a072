"""The logs beside the storage root: every commit and every audit, one line each.

The holdings do not depend on them. The log of commits lets an audit notice what no folder can tell about itself: that
a whole carrier, or its newest version, is gone.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

from imagekeeper.archive.inventory import Inventory
from imagekeeper.archive.reading import file_blocks
from imagekeeper.jsonable import canonical

if TYPE_CHECKING:
    from pathlib import Path

    from imagekeeper.archive.store import Archive

COMMITS = "commits.jsonl"
AUDITS = "audit.jsonl"

#: A longer line is none of ours. [byte]
LINE_LIMIT = 1 << 20


def append_commit(archive: Archive, inventory: Inventory) -> None:
    """Note a commit.

    Raises:
        OSError: The log cannot be written.
    """
    line = {
        "carrier": inventory.id,
        "version": inventory.head,
        "time": inventory.versions[-1].created,
        "inventory_sha512": hashlib.sha512(inventory.to_bytes()).hexdigest(),
    }
    append(archive, COMMITS, line)


def append(archive: Archive, name: str, line: Any) -> None:
    """Add one line to a log.

    Raises:
        OSError: The log cannot be written.
    """
    archive.disk.make_folders(archive.log)
    archive.disk.append(archive.log / name, canonical(line) + b"\n")


def committed_versions(archive: Archive) -> dict[str, int]:
    """Read the newest version that was noted for each carrier; lines that make no sense are passed over."""
    found: dict[str, int] = {}
    for line in _lines(archive.log / COMMITS):
        carrier, version = line.get("carrier"), line.get("version")
        if isinstance(carrier, str) and type(version) is int and version > 0:
            found[carrier] = max(version, found.get(carrier, 0))
    return found


def _lines(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    rest = b""
    try:
        for block in file_blocks(path):
            *whole, rest = (rest + block).split(b"\n")
            found += filter(None, map(_decode, whole))
            rest = rest[:LINE_LIMIT]
    except OSError:
        return found   # no log, no knowledge
    return found


def _decode(line: bytes) -> dict[str, Any] | None:
    try:
        value = json.loads(line) if len(line) <= LINE_LIMIT else None
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None
