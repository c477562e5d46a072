"""From a record to what the index keeps of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator

from imagekeeper.archive.index.fields import FIELDS, NAMING
from imagekeeper.archive.index.words import letters, words
from imagekeeper.evidence.standing import standing
from imagekeeper.provenance.dates import time_span
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.names import names_in
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.remarks import Photo
from imagekeeper.provenance.standing import Contradiction

#: So much of each text can be found. [character]
TEXT_LIMIT = 1 << 16

#: More words are not remembered as seen while the index is filled.
_SEEN_LIMIT = 100_000

_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))



class Writer:
    """Writes entries of the index; the caller has begun the transaction.

    Args:
        base: The database.
        full_text: Whether each entry goes into the full-text index at once; not so while it is filled for the first
            time.
    """

    def __init__(self, base: sqlite3.Connection, *, full_text: bool) -> None:
        self._base = base
        self._full_text = full_text
        self._seen: set[str] = set()

    def remove(self, object_id: str) -> None:
        """Take an object out of the index."""
        old = self._base.execute("SELECT number, names, words FROM object WHERE id = ?", (object_id,)).fetchone()
        if old is None:
            return
        if self._full_text:
            self._base.execute("INSERT INTO found (found, rowid, names, words) VALUES ('delete', ?, ?, ?)", old)
        self._base.execute("DELETE FROM object WHERE number = ?", old[:1])

    def add(self, record: CarrierRecord | MachineRecord, sidecar: str, stamp: str) -> None:
        """Put a record in.

        Args:
            record: The record.
            sidecar: The digest of its inventory.
            stamp: Of the file with that digest.
        """
        texts = [(field, text[:TEXT_LIMIT]) for field, text in _texts(record) if text]
        number = self._object(record.id, sidecar, stamp, time_span(record.created)[0], texts)
        if isinstance(record, MachineRecord):
            values = (
                number, record.name, record.maker, record.model, record.serial, record.owner, None, _taken_out(record),
            )  # fmt: skip
            self._base.execute("INSERT INTO machine VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values)
        else:
            found = record.standing or standing(record)
            self._base.execute(
                "INSERT INTO carrier VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    number, record.kind, record.part, record.machine, record.board, record.position, len(record.reads),
                    record.agreed.sha256 if record.agreed else None, found.grade if found.settled else None, None,
                    _codes(found.open), _codes(found.explained), found.next.does, _taken_out(record),
                ),
            )  # fmt: skip
            self._images(number, record)
        self._photos(number, record.photos)
        self._named(number, record)

    def add_unreadable(self, object_id: str, stamp: str, why: str, *, machine: bool) -> None:
        """Put in an object whose record cannot be read: it is looked at again each time."""
        number = self._object(object_id, "", stamp, None, [("id", object_id)])
        if machine:
            self._base.execute("INSERT INTO machine (object, problem) VALUES (?, ?)", (number, why))
        else:
            self._base.execute("INSERT INTO carrier (object, reads, problem) VALUES (?, 0, ?)", (number, why))

    def _object(
        self, object_id: str, sidecar: str, stamp: str, added: str | None, texts: list[tuple[str, str]]
    ) -> int:
        naming: dict[str, None] = {}
        saying: dict[str, None] = {}
        for field, text in texts:
            (naming if FIELDS[field] >= NAMING else saying).update(dict.fromkeys(words(text)))
        values = (
            object_id, sidecar, stamp, added, " ".join(naming), " ".join(saying),
            _ENCODER.encode(texts),
        )  # fmt: skip
        number = self._base.execute(
            "INSERT INTO object (id, sidecar, stamp, added, names, words, texts) VALUES (?, ?, ?, ?, ?, ?, ?)", values
        ).lastrowid
        assert number is not None
        if self._full_text:
            self._base.execute("INSERT INTO found (rowid, names, words) VALUES (?, ?, ?)", (number, *values[4:6]))
        self._words([*naming, *saying])
        return number

    def _words(self, terms: Iterable[str]) -> None:
        """Note the words that somebody may mistype: those with three letters or more."""
        new = [term for term in terms if term not in self._seen]
        if len(self._seen) > _SEEN_LIMIT:
            self._seen.clear()
        self._seen.update(new)
        rows = [(len(term), term, letters(term)) for term in new if sum(not c.isdigit() for c in term) >= 3]
        if rows:
            self._base.executemany("INSERT OR IGNORE INTO word VALUES (?, ?, ?)", rows)

    def _images(self, number: int, record: CarrierRecord) -> None:
        known: dict[str, int] = {}
        rows: list[tuple[object, ...]] = []
        for read in record.reads:
            image = read.image
            known[image.sha256] = shown = known.get(image.sha256) or self._image(
                image.sha256, int(image.crc32, 16), image.size_bytes
            )
            rows.append((
                number, "image", read.id, shown, read.image_path, read.container, image.first_address,
                bytes.fromhex(read.sha256), read.size_bytes, *(time_span(read.date) if read.date else (None, None)),
            ))  # fmt: skip
        agreed = record.agreed
        if agreed is not None and agreed.sha256:
            held = known.get(agreed.sha256) or self._image(agreed.sha256)
            rows.append((number, "agreed", None, held, agreed.image, None, None, None, None, None, None))
        for derived in record.derivations:
            held = self._image(derived.sha256, None, derived.size_bytes)
            rows.append((number, "derived", derived.id, held, derived.path, *[None] * 6))
        self._base.executemany("INSERT INTO held VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)

    def _image(self, sha256: str, crc32: int | None = None, size_bytes: int | None = None) -> int:
        digest = bytes.fromhex(sha256)
        known = self._base.execute("SELECT number, size_bytes FROM image WHERE sha256 = ?", (digest,)).fetchone()
        if known is None:
            values = (digest, crc32, size_bytes)
            added = self._base.execute("INSERT INTO image (sha256, crc32, size_bytes) VALUES (?, ?, ?)", values)
            assert added.lastrowid is not None
            return added.lastrowid
        if known[1] is None and size_bytes is not None:
            self._base.execute(
                "UPDATE image SET size_bytes = ?, crc32 = coalesce(crc32, ?) WHERE number = ?",
                (size_bytes, crc32, known[0]),
            )
        return int(known[0])

    def _photos(self, number: int, photos: tuple[Photo, ...]) -> None:
        self._base.executemany(
            "INSERT INTO held (object, what, name, path, file_sha256) VALUES (?, 'photo', ?, ?, ?)",
            [(number, photo.file, photo.path, bytes.fromhex(photo.sha256)) for photo in photos],
        )

    def _named(self, number: int, record: CarrierRecord | MachineRecord) -> None:
        rows = [(number, *one) for one in sorted(set(names_in(record)))]
        self._base.executemany("INSERT INTO named VALUES (?, ?, ?)", rows)


def _taken_out(record: CarrierRecord | MachineRecord) -> str | None:
    return record.deaccessions[-1].reason[:TEXT_LIMIT] if record.deaccessions else None


def _codes(found: Iterable[Contradiction]) -> str | None:
    return " ".join(dict.fromkeys(one.code for one in found)) or None


def _texts(record: CarrierRecord | MachineRecord) -> Iterator[tuple[str, str | None]]:
    yield "id", record.id
    if isinstance(record, MachineRecord):
        yield "name", record.name
        yield "maker", record.maker
        yield "model", record.model
        yield "serial", record.serial
        yield "owner", record.owner
    else:
        yield "kind", record.kind
        yield "part", record.part
        yield "machine", record.machine
        yield "board", record.board
        yield "position", record.position
        yield "label", record.label
        yield "markings", record.markings
        yield "date code", record.date_code
        yield "package", record.package
        yield "condition", record.condition
        for read in record.reads:
            yield from _read_texts(read)
        for derived in record.derivations:
            yield "derived image", derived.title
    for gone in record.deaccessions:
        yield "taken out", gone.reason
    yield "note", record.note
    for note in record.notes:
        yield "remark", note.text
        yield "written by", note.author
    for photo in record.photos:
        yield "picture", photo.file
        yield "caption", photo.caption


def _read_texts(read: Read) -> Iterator[tuple[str, str | None]]:
    yield "file", read.file
    yield "reader", read.reader
    yield "operator", read.operator
    yield "specimen", read.specimen
    for sort in ("adapter", "cable", "drive", "controller"):
        yield sort, getattr(read, sort)
    for note in read.notes:
        yield "read note", note
