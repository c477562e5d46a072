"""From a record to what the index keeps of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from imagekeeper.archive.index.fields import FIELDS, NAMING
from imagekeeper.archive.index.sums import Tables
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
        self._tables = Tables(base)
        self._seen: set[str] = set()

    def remove(self, object_id: str) -> None:
        """Take an object out of the index."""
        old = self._base.execute("SELECT number, names, words FROM object WHERE id = ?", (object_id,)).fetchone()
        if old is None:
            return
        if self._full_text:
            self._base.execute("INSERT INTO found (found, rowid, names, words) VALUES ('delete', ?, ?, ?)", old)
        self._base.execute("DELETE FROM object WHERE number = ?", old[:1])

    def stamp(self, stamps: Iterable[tuple[str, str]]) -> None:
        """Note stamps of files with digests that are as they were, each with the object's id."""
        for stamp, object_id in stamps:
            known = self._base.execute("SELECT number FROM object WHERE id = ?", (object_id,)).fetchone()
            if known is not None:
                self._tables.change("object", known[0], {"stamp": stamp})

    def watch(self, stamps: Mapping[str, str]) -> None:
        """Note the stamps of what is watched, in the place of all earlier ones."""
        self._base.execute("DELETE FROM watched")
        self._tables.put("watched", [{"what": what, "stamp": stamp} for what, stamp in stamps.items()])

    def add(self, record: CarrierRecord | MachineRecord, sidecar: str, stamp: str) -> None:
        """Put a record in.

        Args:
            record: The record.
            sidecar: The digest of its inventory.
            stamp: Of the file with that digest.
        """
        texts = [(field, text[:TEXT_LIMIT]) for field, text in _texts(record) if text]
        added = time_span(record.created)[0]
        number = self._object(record.id, sidecar, stamp, added, texts)
        if isinstance(record, MachineRecord):
            self._put(
                "machine", object=number, id=record.id, name=record.name, maker=record.maker, model=record.model,
                serial=record.serial, owner=record.owner,
            )  # fmt: skip
        else:
            found = record.standing or standing(record)
            self._put(
                "carrier", object=number, id=record.id, added=added, kind=record.kind, part=record.part,
                machine=record.machine, board=record.board, position=record.position, reads=len(record.reads),
                agreed_sha256=record.agreed.sha256 if record.agreed else None,
                grade=found.grade if found.settled else None, open=_codes(found.open),
                explained=_codes(found.explained), next=found.next.does,
            )  # fmt: skip
            self._images(number, record)
        self._photos(number, record.photos)
        self._named(number, record)

    def add_unreadable(self, object_id: str, stamp: str, why: str, *, machine: bool) -> None:
        """Put in an object whose record cannot be read: it is looked at again each time."""
        number = self._object(object_id, "", stamp, None, [("id", object_id)])
        if machine:
            self._put("machine", object=number, id=object_id, problem=why)
        else:
            self._put("carrier", object=number, id=object_id, reads=0, problem=why)

    def _put(self, table: str, **values: Any) -> None:
        self._tables.put(table, [values])

    def _object(
        self, object_id: str, sidecar: str, stamp: str, added: str | None, texts: list[tuple[str, str]]
    ) -> int:
        naming: dict[str, None] = {}
        saying: dict[str, None] = {}
        for field, text in texts:
            (naming if FIELDS[field] >= NAMING else saying).update(dict.fromkeys(words(text)))
        number = self._tables.next_number("object")
        searched = " ".join(naming), " ".join(saying)
        self._put(
            "object", number=number, id=object_id, sidecar=sidecar, stamp=stamp, added=added, names=searched[0],
            words=searched[1], texts=_ENCODER.encode(texts),
        )  # fmt: skip
        if self._full_text:
            self._base.execute("INSERT INTO found (rowid, names, words) VALUES (?, ?, ?)", (number, *searched))
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
        rows: list[dict[str, object]] = []
        for read in record.reads:
            image = read.image
            known[image.sha256] = shown = known.get(image.sha256) or self._image(
                image.sha256, int(image.crc32, 16), image.size_bytes
            )
            earliest, latest = time_span(read.date) if read.date else (None, None)
            rows.append({
                "object": number, "what": "image", "name": read.id, "image": shown, "path": read.image_path,
                "container": read.container, "first_address": image.first_address,
                "file_sha256": bytes.fromhex(read.sha256), "file_bytes": read.size_bytes, "earliest": earliest,
                "latest": latest,
            })  # fmt: skip
        agreed = record.agreed
        if agreed is not None and agreed.sha256:
            held = known.get(agreed.sha256) or self._image(agreed.sha256)
            rows.append({"object": number, "what": "agreed", "image": held, "path": agreed.image})
        for derived in record.derivations:
            held = self._image(derived.sha256, None, derived.size_bytes)
            rows.append({
                "object": number, "what": "derived", "name": derived.id, "image": held, "path": derived.path,
            })  # fmt: skip
        self._tables.put("held", rows)

    def _image(self, sha256: str, crc32: int | None = None, size_bytes: int | None = None) -> int:
        digest = bytes.fromhex(sha256)
        known = self._base.execute("SELECT number, size_bytes, crc32 FROM image WHERE sha256 = ?", (digest,)).fetchone()
        if known is None:
            number = self._tables.next_number("image")
            self._put("image", number=number, sha256=digest, crc32=crc32, size_bytes=size_bytes)
            return number
        number, size_known, crc32_known = known
        if size_known is None and size_bytes is not None:
            self._tables.change("image", number, {"size_bytes": size_bytes, "crc32": crc32_known or crc32})
        return int(number)

    def _photos(self, number: int, photos: tuple[Photo, ...]) -> None:
        rows = [
            {
                "object": number, "what": "photo", "name": photo.file, "path": photo.path,
                "file_sha256": bytes.fromhex(photo.sha256),
            }
            for photo in photos
        ]  # fmt: skip
        self._tables.put("held", rows)

    def _named(self, number: int, record: CarrierRecord | MachineRecord) -> None:
        rows = [(number, *one) for one in sorted(set(names_in(record)))]
        self._base.executemany("INSERT INTO named VALUES (?, ?, ?)", rows)


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
