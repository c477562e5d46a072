"""Searching what is written about carriers and machines, word by word.

Every word must be there, its beginning is enough, and a few typing mistakes are forgiven. What matches exactly comes
before what only begins so, and that before what was perhaps meant; what names a thing comes before what is said of it.
Where SQLite has no full-text search, the same words are looked for in every entry.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from imagekeeper.archive.index.fields import FIELDS
from imagekeeper.archive.index.hits import Filters, Hit, How, WordMatch
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.index.sums import WHOLE
from imagekeeper.archive.index.words import distance, letters, start_distance, tolerance, words

#: So many words are looked for; more say no more. [word]
WORDS_LIMIT = 16

#: So many words that may have been meant are tried for each word.
MEANT_LIMIT = 40

#: So many entries of each rank are looked at to put them in order.
LOOKED_AT = 200

#: From so many hexadecimal digits on a word may be a digest or its beginning.
DIGEST_DIGITS = 8

#: So many entries are listed by a digest, which short beginnings may share.
_DIGEST_HITS = 500

_WORTH: dict[How, float] = {"exact": 1.0, "digest": 1.0, "start": 0.8, "mistyped": 0.5}
_SNIPPET = 80


_HIT = (
    "o.number, o.id, c.object IS NULL, c.kind, c.part, CASE WHEN c.object IS NULL THEN m.name ELSE c.machine END,"
    " c.board, c.position, coalesce(c.reads, 0), c.grade, c.open, o.texts"
)
_OBJECTS = (
    "object o LEFT JOIN carrier c ON c.object = o.number LEFT JOIN machine m ON m.object = o.number"
)


def search(index: Index, terms: Sequence[str], filters: Filters, limit: int) -> tuple[tuple[Hit, ...], bool]:
    """Find carriers and machines.

    Args:
        index: The index, up to date.
        terms: What to look for; all of it must be there. Without any, the filters alone choose.
        filters: Which are wanted.
        limit: How many at most.

    Returns:
        Them, best first, and whether there are more.
    """
    search = _Search(index, filters, limit)
    if not terms:
        return search.all()
    wanted = [word for term in terms for word in words(term)][:WORDS_LIMIT]
    search.by_id(terms)
    search.by_digest(terms)
    if wanted:
        search.by_words(wanted)
    return search.result()


class _Search:
    def __init__(self, index: Index, filters: Filters, limit: int) -> None:
        self.index = index
        self.limit = limit
        self.conditions, self.values = filters.conditions()
        self.look_at = max(LOOKED_AT, limit + 1)
        self.hits: dict[int, tuple[int, Hit]] = {}   # by the object's number: its rank and the hit

    def all(self) -> tuple[tuple[Hit, ...], bool]:
        rows = self.rows("1", (), self.limit + 1, order="o.id")
        hits = tuple(_hit(row, 1.0, ()) for row in rows[: self.limit])
        return hits, len(rows) > self.limit

    def result(self) -> tuple[tuple[Hit, ...], bool]:
        ordered = sorted(self.hits.values(), key=lambda found: (found[0], -found[1].score, found[1].id))
        return tuple(hit for _, hit in ordered[: self.limit]), len(ordered) > self.limit

    def rows(self, condition: str, values: Sequence[Any], limit: int, order: str = "o.number") -> list[Any]:
        where = " AND ".join([condition, *self.conditions])
        columns = f"{_HIT}, {WHOLE}, o.*, c.*, m.*"
        query = f"SELECT {columns} FROM {_OBJECTS} WHERE {where} ORDER BY {order} LIMIT ?"   # noqa: S608
        return self.index.checked(query, (*values, *self.values, limit), absent=1)

    def by_id(self, terms: Sequence[str]) -> None:
        """Find what goes by just this id."""
        named = "-".join(terms).strip().casefold()
        for row in self.rows("o.id = ?", [named], 1):
            self.hits[row[0]] = (0, _hit(row, 1.0, (WordMatch(named, "id", row[1], "exact"),)))

    def by_digest(self, terms: Sequence[str]) -> None:
        """Find what holds a file or an image with such a digest; terms that cannot be one must be there as words."""
        digests = [term.strip().lower() for term in terms if is_digest(term)]
        if not digests:
            return
        others = [word for term in terms if not is_digest(term) for word in words(term)][:WORDS_LIMIT]
        found: dict[int, list[WordMatch]] = {}
        for number, digest in enumerate(digests):
            here = digest_matches(self.index, digest)
            found = {
                one: [*found.get(one, []), matches[0]] for one, matches in here.items() if not number or one in found
            }
        for start in range(0, len(found), 200):
            some = list(found)[start : start + 200]
            for row in self.rows(f"o.number IN ({', '.join('?' * len(some))})", some, len(some)):
                matches = _matches(row[-1], others, {})
                if matches is not None:
                    self.hits[row[0]] = (0, _hit(row, 1.0, (*found[row[0]], *matches)))

    def by_words(self, wanted: list[str]) -> None:
        """Find by words, rank by rank, until there are enough."""
        meant: dict[str, list[str]] = {}
        for rank in range(1, 6):
            if rank == 5:
                meant = {word: meant_words(self.index, word) for word in set(wanted)}
                if not any(meant.values()):
                    return
            condition, values = self.condition(wanted, rank, meant)
            for row in self.rows(condition, values, self.look_at):
                if row[0] in self.hits:
                    continue
                matches = _matches(row[-1], wanted, meant)
                if matches:
                    self.hits[row[0]] = (rank, _hit(row, _score(matches), tuple(matches)))
            if len(self.hits) > self.limit:
                return

    def condition(self, wanted: list[str], rank: int, meant: dict[str, list[str]]) -> tuple[str, list[Any]]:
        """Give the condition of a rank: 1 and 2 for whole words, 3 and 4 for beginnings, 5 for what was perhaps meant.

        At odd ranks all words must stand in what names the thing.
        """
        names = rank in (1, 3)
        if self.index.full_text:
            parts = []
            for word in wanted:
                any_of = [f'"{word}"' if rank <= 2 else f'"{word}"*', *(f'"{other}"' for other in meant.get(word, ()))]
                parts.append(f"({' OR '.join(any_of)})")
            asked = " AND ".join(parts)
            if names:
                asked = f"{{names}} : ({asked})"
            return "o.number IN (SELECT rowid FROM found WHERE found MATCH ?)", [asked]
        where = "' ' || o.names || ' '" if names else "' ' || o.names || ' ' || o.words || ' '"
        conditions, values = [], []
        for word in wanted:
            any_of = [f" {word} " if rank <= 2 else f" {word}", *(f" {other} " for other in meant.get(word, ()))]
            conditions.append("(" + " OR ".join(f"instr({where}, ?)" for _ in any_of) + ")")
            values += any_of
        return " AND ".join(conditions), values


def is_digest(term: str) -> bool:
    """Whether a term may be a digest or its beginning.

    Example:
        >>> is_digest("CBF43926"), is_digest("cbf4392"), is_digest("harbour8")
        (True, False, False)
    """
    text = term.strip()
    return DIGEST_DIGITS <= len(text) <= 64 and all(c in "0123456789abcdefABCDEF" for c in text)


def digest_matches(index: Index, digest: str) -> dict[int, list[WordMatch]]:
    """Find which objects hold files or images with a digest that begins so, by their numbers."""
    low, high = bytes.fromhex(digest.ljust(64, "0")), bytes.fromhex(digest.ljust(64, "f"))
    found: dict[int, list[WordMatch]] = {}
    columns = f"h.object, h.what, h.name, hex(i.sha256), {WHOLE}, h.*, i.*"
    held = f"SELECT {columns} FROM image i JOIN held h ON h.image = i.number WHERE"   # noqa: S608  values are bound
    order = "ORDER BY h.object, h.what, h.name LIMIT ?"
    rows = index.checked(f"{held} i.sha256 BETWEEN ? AND ? {order}", (low, high, _DIGEST_HITS))
    for number, what, name, sha256 in rows:
        match = WordMatch(digest, f"SHA-256 of {_named(what, name)}", sha256.lower(), "digest")
        found.setdefault(number, []).append(match)
    columns = f"object, what, name, hex(file_sha256), {WHOLE}, held.*"
    files = f"SELECT {columns} FROM held WHERE file_sha256 BETWEEN ? AND ? ORDER BY object LIMIT ?"   # noqa: S608
    rows = index.checked(files, (low, high, _DIGEST_HITS))
    for number, what, name, sha256 in rows:
        field = f"SHA-256 of the {'picture' if what == 'photo' else 'file of'} {name}"
        found.setdefault(number, []).append(WordMatch(digest, field, sha256.lower(), "digest"))
    if len(digest) == DIGEST_DIGITS:
        rows = index.checked(f"{held} i.crc32 = ? {order}", (int(digest, 16), _DIGEST_HITS))
        for number, what, name, _ in rows:
            match = WordMatch(digest, f"CRC-32 of {_named(what, name)}", digest.upper(), "digest")
            found.setdefault(number, []).append(match)
    return found


def _named(what: str, name: str | None) -> str:
    return {"agreed": "the agreed image", "derived": f"the derived image {name}"}.get(what, f"the image {name}")


def meant_words(index: Index, word: str) -> list[str]:
    """Find words that may have been meant by a mistyped one, or by its mistyped beginning; the nearest first."""
    forgiven = tolerance(word)
    if not forgiven:
        return []
    bits, length = letters(word), len(word)
    # `x & (x - 1)` clears the lowest bit that is set, so that a set of at most one, or two, becomes nothing
    missing = f"({bits} & ~letters)"
    rest = f"({missing} & ({missing} - 1))"
    near = f"{rest} = 0" if forgiven == 1 else f"({rest} & ({rest} - 1)) = 0"
    query = (
        f"SELECT term FROM word WHERE length >= ? AND {near}"   # noqa: S608  only numbers are put in
        " AND (length <= ? OR substr(term, 1, 1) = ?) LIMIT 20000"
    )
    found = []
    for (term,) in index.query(query, (length - forgiven, length + forgiven, word[0])):
        if type(term) is not str or term.startswith(word):   # no sum is kept of words: what is found is looked at
            continue
        mistakes = distance(word, term, forgiven)
        if mistakes is None and term[0] == word[0]:
            mistakes = start_distance(word, term, forgiven)
        if mistakes is not None:
            found.append((mistakes, abs(len(term) - length), term))
    return [term for _, _, term in sorted(found)[:MEANT_LIMIT]]


def _matches(texts: str, wanted: Sequence[str], meant: dict[str, list[str]]) -> list[WordMatch] | None:
    """Tell where each word stands, at its best place; None where one does not."""
    fields = [(field, text, words(text)) for field, text in json.loads(texts)]
    found = []
    for word in wanted:
        others = set(meant.get(word, ()))
        best: tuple[float, WordMatch] | None = None
        for field, text, inside in fields:
            how = _how(word, inside, others)
            if how is not None and (best is None or _WORTH[how] * FIELDS[field] > best[0]):
                shown = _snippet(text, word, others)
                best = (_WORTH[how] * FIELDS[field], WordMatch(word, field, shown, how))
        if best is None:
            return None
        found.append(best[1])
    return found


def _how(word: str, inside: list[str], others: set[str]) -> How | None:
    if word in inside:
        return "exact"
    if any(one.startswith(word) for one in inside):
        return "start"
    return "mistyped" if not others.isdisjoint(inside) else None


def _snippet(text: str, word: str, others: set[str]) -> str:
    """Give the part of a text around what matched, on one line."""
    flat = " ".join(text.split())
    if len(flat) <= _SNIPPET:
        return flat
    pieces = flat.split(" ")
    at = 0
    for piece in pieces:
        if any(one.startswith(word) or one in others for one in words(piece)):
            break
        at += len(piece) + 1
    start = max(min(at - _SNIPPET // 3, len(flat) - _SNIPPET), 0)
    end = min(start + _SNIPPET, len(flat))
    return ("…" if start else "") + flat[start:end] + ("…" if end < len(flat) else "")


def _score(matches: Sequence[WordMatch]) -> float:
    return round(sum(_WORTH[m.how] * FIELDS.get(m.field, 0.5) for m in matches) / len(matches), 3)


def _hit(row: Any, score: float, matches: tuple[WordMatch, ...]) -> Hit:
    _, id_, is_machine, kind, part, machine, board, position, reads, grade, held, _ = row
    return Hit(
        id=id_, what="machine" if is_machine else "carrier", kind=kind, part=part, machine=machine, board=board,
        position=position, reads=reads, grade=grade, score=score, matches=matches,
        open=held,
    )  # fmt: skip
