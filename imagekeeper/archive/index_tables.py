"""The tables of the index, and how its database is opened."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator

#: Of the tables; another version's file is rebuilt.
TABLES_VERSION = 1

#: How long another program's lock on the cache is waited for. [second]
TIMEOUT = 2.0

TABLES = """
CREATE TABLE archive (uuid TEXT NOT NULL) STRICT;
CREATE TABLE carrier (
    id TEXT PRIMARY KEY, sidecar TEXT NOT NULL,
    kind TEXT, part TEXT, machine TEXT, board TEXT, position TEXT,
    reads INTEGER NOT NULL, agreed_sha256 TEXT, grade TEXT, problem TEXT, words TEXT NOT NULL
) STRICT;
CREATE TABLE digest (
    carrier TEXT NOT NULL REFERENCES carrier (id) ON DELETE CASCADE,
    what TEXT NOT NULL, read TEXT, algorithm TEXT NOT NULL, digest TEXT NOT NULL, size_bytes INTEGER
) STRICT;
CREATE INDEX digest_digest ON digest (digest);
CREATE INDEX digest_carrier ON digest (carrier);
CREATE INDEX digest_size ON digest (size_bytes);
"""


def connected(name: str) -> sqlite3.Connection:
    """Open a database, in no transaction.

    Raises:
        sqlite3.Error: It cannot be opened.
    """
    base = sqlite3.connect(name, timeout=TIMEOUT, isolation_level=None)
    base.execute("PRAGMA foreign_keys = ON")
    return base


def prepared(name: str, uuid: str) -> sqlite3.Connection:
    """Make an empty index.

    Args:
        name: Of the file, or `:memory:`.
        uuid: The archive's.

    Raises:
        sqlite3.Error: It cannot be made.
    """
    base = connected(name)
    try:
        base.executescript(TABLES)
        base.execute("INSERT INTO archive VALUES (?)", (uuid,))
        base.execute(f"PRAGMA user_version = {TABLES_VERSION}")
    except BaseException:
        base.close()
        raise
    return base


@contextlib.contextmanager
def transaction(base: sqlite3.Connection) -> Iterator[None]:
    """Write all or nothing; asking for the lock at once is what makes the timeout count."""
    base.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        base.execute("ROLLBACK")
        raise
    base.execute("COMMIT")
