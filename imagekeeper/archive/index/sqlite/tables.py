"""The tables of the index, and how its database is opened."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator

from imagekeeper.evidence.rules import EVIDENCE

#: Of the tables, and of the rules that derive what they hold; another version's file is rebuilt.
TABLES_VERSION = 6 * 1000 + EVIDENCE

#: How long another program's lock on the cache is waited for. [second]
TIMEOUT = 5.0

#: `object.sidecar` is the digest of the inventory, empty where the record could not be read. `names` and `words` are
#: what is searched, word by word and folded; `texts` is what is shown: a JSON list of [field, text].
#: `image` has one row for each different image; `core` and `sketch` are null until somebody looks for near images.
#: `held` tells who holds what: reads, agreed and derived images, and photos, with the file that was given.
#: `named` tells which readers, people and drives a record names, by the sort of each.
#: `row_sum` is over all the columns before it (`imagekeeper.archive.index.sums`); a carrier's and a machine's
#: own rows repeat the id and the time, so that what is listed stands in one row.
TABLES = """
CREATE TABLE archive (uuid TEXT NOT NULL, full_text INTEGER NOT NULL) STRICT;
CREATE TABLE watched (what TEXT PRIMARY KEY, stamp TEXT NOT NULL, row_sum INTEGER NOT NULL) STRICT;
CREATE TABLE object (
    number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, sidecar TEXT NOT NULL, stamp TEXT NOT NULL,
    added TEXT, names TEXT NOT NULL, words TEXT NOT NULL, texts TEXT NOT NULL, row_sum INTEGER NOT NULL
) STRICT;
CREATE TABLE carrier (
    object INTEGER PRIMARY KEY REFERENCES object (number) ON DELETE CASCADE,
    id TEXT NOT NULL, added TEXT, kind TEXT, part TEXT, machine TEXT, board TEXT, position TEXT,
    reads INTEGER NOT NULL, agreed_sha256 TEXT, grade TEXT, problem TEXT, open TEXT, explained TEXT, next TEXT,
    row_sum INTEGER NOT NULL
) STRICT;
CREATE TABLE machine (
    object INTEGER PRIMARY KEY REFERENCES object (number) ON DELETE CASCADE,
    id TEXT NOT NULL, name TEXT, maker TEXT, model TEXT, serial TEXT, owner TEXT, problem TEXT,
    row_sum INTEGER NOT NULL
) STRICT;
CREATE TABLE image (
    number INTEGER PRIMARY KEY, sha256 BLOB NOT NULL UNIQUE, crc32 INTEGER, size_bytes INTEGER,
    core BLOB, sketch BLOB, row_sum INTEGER NOT NULL
) STRICT;
CREATE TABLE part (digest BLOB NOT NULL, image INTEGER NOT NULL, what TEXT NOT NULL, row_sum INTEGER NOT NULL) STRICT;
CREATE TABLE held (
    object INTEGER NOT NULL REFERENCES object (number) ON DELETE CASCADE,
    what TEXT NOT NULL, name TEXT, image INTEGER, path TEXT, container TEXT, first_address INTEGER,
    file_sha256 BLOB, file_bytes INTEGER, earliest TEXT, latest TEXT,
    row_sum INTEGER NOT NULL
) STRICT;
CREATE TABLE named (
    object INTEGER NOT NULL REFERENCES object (number) ON DELETE CASCADE, sort TEXT NOT NULL, name TEXT NOT NULL
) STRICT;
CREATE TABLE word (length INTEGER NOT NULL, term TEXT NOT NULL, letters INTEGER NOT NULL, PRIMARY KEY (length, term))
    STRICT, WITHOUT ROWID;
"""

FULL_TEXT = """
CREATE VIRTUAL TABLE found USING fts5(
    names, words, content='object', content_rowid='number', columnsize=0, detail='column',
    tokenize="unicode61 remove_diacritics 0"
);
"""

#: Made when the first carriers are in, which is faster than before.
INDEXES = """
CREATE INDEX unread ON object (id) WHERE sidecar = '';
CREATE INDEX carrier_id ON carrier (id);
CREATE INDEX carrier_grade ON carrier (grade);
CREATE INDEX image_crc32 ON image (crc32);
CREATE INDEX image_size ON image (size_bytes);
CREATE INDEX image_core ON image (core) WHERE core IS NOT NULL;
CREATE INDEX image_unsketched ON image (number) WHERE sketch IS NULL;
CREATE INDEX part_digest ON part (digest);
CREATE INDEX part_image ON part (image);
CREATE INDEX held_object ON held (object);
CREATE INDEX held_image ON held (image);
CREATE INDEX held_file ON held (file_sha256);
CREATE INDEX held_size ON held (file_bytes);
CREATE INDEX named_object ON named (object);
CREATE INDEX named_name ON named (sort, name);
"""


def connected(name: str) -> sqlite3.Connection:
    """Open a database, in no transaction.

    Raises:
        sqlite3.Error: It cannot be opened.
    """
    base = sqlite3.connect(name, timeout=TIMEOUT, isolation_level=None)
    base.execute("PRAGMA foreign_keys = ON")
    base.create_function("folded", 1, str.casefold, deterministic=True)
    return base


def has_full_text(base: sqlite3.Connection) -> bool:
    """Whether this Python's SQLite can search full text; some builds are without."""
    try:
        base.execute("CREATE VIRTUAL TABLE temp.full_text_probe USING fts5(x)")
        base.execute("DROP TABLE temp.full_text_probe")
    except sqlite3.OperationalError:
        return False
    return True


def prepared(name: str, uuid: str) -> sqlite3.Connection:
    """Make an empty index, which is fast to fill and not safe yet: `finish` it before others see it.

    Args:
        name: Of the file, or `:memory:`.
        uuid: The archive's.

    Raises:
        sqlite3.Error: It cannot be made.
    """
    base = connected(name)
    try:
        base.executescript("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -16000;" + TABLES)
        full_text = has_full_text(base)
        base.execute("INSERT INTO archive VALUES (?, ?)", (uuid, full_text))
        base.execute(f"PRAGMA user_version = {TABLES_VERSION}")
    except BaseException:
        base.close()
        raise
    return base


def finish(base: sqlite3.Connection) -> None:
    """Make what was left out of an index while it was filled for the first time.

    Raises:
        sqlite3.Error: It cannot be written.
    """
    base.executescript(INDEXES)
    if is_full_text(base):
        base.executescript(FULL_TEXT)
        base.execute("INSERT INTO found (found) VALUES ('rebuild')")


def is_full_text(base: sqlite3.Connection) -> bool:
    """Whether the index was made with full text."""
    return bool(base.execute("SELECT full_text FROM archive").fetchone()[0])


def is_sound(base: sqlite3.Connection, uuid: str) -> bool:
    """Whether an index is of this version, of this archive, and can be used by this Python.

    Raises:
        sqlite3.Error: It cannot be read.
    """
    if base.execute("PRAGMA user_version").fetchone()[0] != TABLES_VERSION:
        return False
    if base.execute("SELECT uuid FROM archive").fetchone() != (uuid,):
        return False
    base.execute("SELECT number FROM object LIMIT 1").fetchone()
    return is_full_text(base) == has_full_text(base)


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
