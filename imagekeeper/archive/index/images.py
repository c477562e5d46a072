"""Images that the index knows: the same one, the same in another form, parts of one another, and near ones.

The other forms and the sketches are worked out from the images' bytes when they are asked for the first time, each
image once: reading them all while the index is built would take several times as long as building it.
"""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from imagekeeper.archive.index import forms
from imagekeeper.archive.index.reading import read_content
from imagekeeper.archive.index.sqlite.base import Index, results_of
from imagekeeper.archive.index.sums import WHOLE, Tables
from imagekeeper.digests import sha256_hex
from imagekeeper.progress import Progress, silent

#: So many images are worked out, or looked at, at a time.
_BATCH = 1000
_SCAN = 4096

#: So many of the nearest sketches are held against each other more closely.
_CLOSE = 64

#: Fewer hashes in common come about by a single routine that many programs share.
_LEAST_COMMON = 3

_HELD = (
    "o.id, h.what, h.name, h.path, h.container, h.first_address, i.size_bytes, lower(hex(i.sha256)), c.part,"
    " c.machine, c.board, c.position, c.grade, c.open"
)
_HOLDING = (
    f"SELECT {_HELD}, {WHOLE}, h.*, i.*, o.*, c.*"   # noqa: S608  names of columns
    " FROM held h JOIN image i ON i.number = h.image JOIN object o ON o.number = h.object"
    " JOIN carrier c ON c.object = o.number WHERE h.image = ? ORDER BY o.id, h.what, h.name LIMIT ?"
)


@dataclass(frozen=True, kw_only=True)
class Holding:
    """Where an image lies.

    Attributes:
        carrier: The carrier's id.
        what: `image` for that of a read, `agreed` for the agreed image, `derived` for one made from others.
        name: Id of the read or derivation, or None.
        path: Where its bytes lie within the carrier's object, or None where only its digest is kept.
        container: What kind of file the read came as, or None.
        first_address: The lowest address that the read's file gave, or None. [byte]
        size_bytes: Its size, or None where nobody looked yet. [byte]
        sha256: Its digest.
        part: The carrier's type as marked, or None.
        machine: The carrier's machine, or None.
        board: The carrier's board, or None.
        position: The carrier's place there, or None.
        grade: Of the carrier's agreed image, or None.
        open: The codes of what speaks against it, with a blank between them, or None.
    """

    carrier: str
    what: str
    name: str | None
    path: str | None
    container: str | None
    first_address: int | None
    size_bytes: int | None
    sha256: str
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    grade: str | None
    open: str | None = None


def holdings(index: Index, image: int, limit: int) -> tuple[Holding, ...]:
    """Give who holds an image, by its number in the index."""
    rows = index.checked(_HOLDING, (image, limit))
    return results_of(Holding, rows)


def same(index: Index, sha256: str) -> int | None:
    """Find the image with a digest, by its number; None where no carrier holds it."""
    query = "SELECT i.number FROM image i JOIN held h ON h.image = i.number WHERE i.sha256 = ? LIMIT 1"
    rows = index.query(query, (bytes.fromhex(sha256),))
    return rows[0][0] if rows else None


def same_core(index: Index, data: bytes) -> tuple[int, ...]:
    """Find images that are this one without padding or repetition, by their numbers; `work_out` comes first."""
    digest = forms.core_digest(data)
    if digest is None:
        return ()
    return tuple(row[0] for row in index.query("SELECT number FROM image WHERE core = ? ORDER BY number", (digest,)))


def wholes(index: Index, data: bytes) -> tuple[tuple[int, str], ...]:
    """Find images that this one is a lane or a half of: their numbers, and which part it is; `work_out` comes first."""
    query = f"SELECT image, what, {WHOLE}, part.* FROM part WHERE digest = ? ORDER BY image, what LIMIT 100"   # noqa: S608
    return tuple(index.checked(query, (forms.short_digest(data),)))


def pieces(index: Index, data: bytes) -> tuple[tuple[int, str], ...]:
    """Find images that are a lane or a half of this one: their numbers, and which part of it they are."""
    found = []
    for what, part in forms.parts(data):
        number = same(index, sha256_hex(part))
        if number is not None:
            found.append((number, what))
    return tuple(found)


def near(index: Index, data: bytes, limit: int) -> tuple[int, ...]:
    """Find the images that share most with this one, by their numbers; `work_out` comes first."""
    from imagekeeper.archive.index import sketches  # numpy comes with it: only for images that are alike

    query = sketches.sketch(data)
    best: list[tuple[int, int, bytes]] = []
    for rows in _scanned(index):
        counts = sketches.counts(query, [sketch for _, sketch in rows])
        some = [
            (count, number, sketch)
            for count, (number, sketch) in zip(counts, rows, strict=True)
            if count >= _LEAST_COMMON
        ]
        best = heapq.nlargest(_CLOSE, [*best, *some])
    ranked = sorted(((sketches.estimated(query, sketch), count, -number) for count, number, sketch in best))
    return tuple(-number for _, _, number in ranked[::-1][:limit])


def _scanned(index: Index) -> Iterator[list[Any]]:
    last = 0
    query = (
        "SELECT number, sketch FROM image WHERE number > ? AND typeof(sketch) = 'blob' AND length(sketch) > 0"
        " AND length(sketch) % 8 = 0 ORDER BY number LIMIT ?"
    )
    while rows := index.query(query, (last, _SCAN)):
        last = rows[-1][0]
        yield rows


def unsketched(index: Index) -> int:
    """Count the images that nobody looked at yet, or that could not be read."""
    count: int = index.query("SELECT count(*) FROM image WHERE sketch IS NULL")[0][0]
    return count


def work_out(index: Index, progress: Progress = silent) -> int:
    """Read the images that were not looked at yet, for their cores, parts and sketches.

    Returns:
        How many could not be read; they are tried again the next time.
    """
    total = unsketched(index)
    if not total:
        return 0
    last = 0
    query = (
        "SELECT i.number, i.size_bytes, o.id, h.path FROM image i JOIN held h ON h.image = i.number"
        " JOIN object o ON o.number = h.object WHERE i.sketch IS NULL AND i.number > ? AND h.path IS NOT NULL"
        " GROUP BY i.number ORDER BY i.number LIMIT ?"
    )
    with progress("Looking at images", total) as advance:
        while rows := index.query(query, (last, _BATCH)):
            last = rows[-1][0]
            _write(index, (_Form.of(index, *row) for row in rows))
            advance(len(rows))
    query = "SELECT count(*) FROM image i WHERE sketch IS NULL AND EXISTS (SELECT 1 FROM held WHERE image = i.number)"
    failed: int = index.query(query)[0][0]
    return failed


@dataclass(frozen=True, kw_only=True)
class _Form:
    """What was worked out of one image."""

    number: int
    size_bytes: int | None
    core: bytes | None
    sketch: bytes
    parts: tuple[tuple[bytes, str], ...]

    @classmethod
    def of(cls, index: Index, number: int, size: int | None, object_id: str, path: str) -> _Form | None:
        from imagekeeper.archive.index import sketches  # numpy comes with it: only for images that are alike

        if size is not None and size > forms.LIMIT:
            return cls(number=number, size_bytes=size, core=None, sketch=b"", parts=())
        data = read_content(index.archive, object_id, path, forms.LIMIT)
        if data is None:
            return None
        if len(data) > forms.LIMIT:
            return cls(number=number, size_bytes=None, core=None, sketch=b"", parts=())
        parts = tuple((forms.short_digest(part), what) for what, part in forms.parts(data))
        return cls(
            number=number, size_bytes=len(data), core=forms.core_digest(data), sketch=sketches.sketch(data),
            parts=parts,
        )  # fmt: skip


def _write(index: Index, forms: Iterable[_Form | None]) -> None:
    done = [form for form in forms if form is not None]

    def work(base: sqlite3.Connection) -> None:
        tables = Tables(base)
        for form in done:
            known = {} if form.size_bytes is None else {"size_bytes": form.size_bytes}
            tables.change("image", form.number, {"core": form.core, "sketch": form.sketch, **known})
        base.executemany("DELETE FROM part WHERE image = ?", [(form.number,) for form in done])
        tables.put("part", [
            {"digest": digest, "image": form.number, "what": what} for form in done for digest, what in form.parts
        ])  # fmt: skip

    index.write(work)
