"""A person's own rows laid over ours: they add rows, and replace the fields that they give."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from imagekeeper.digests import sha256_hex
from imagekeeper.own import KEYS, Measured, OwnRow, in_force
from imagekeeper.tables.chips import pin_numbers

#: What a row says of its own grounds.
GROUNDS = ("sources", "derived", "unsourced", "disputed", "measured")

#: By kind of row: what stands in the row and needs no ground.
FREE: dict[str, tuple[str, ...]] = {
    "pinout": ("id", "pins", "signals", "note"), "chip": ("id", "pinout"), "maker": ("chip", "maker"),
    "signature": ("chip", "maker", "code", "note"), "medium": ("id",), "drive": ("id",),
    "format": ("id", "title", "aliases"),
}  # fmt: skip

Row = Mapping[str, Any]


def key_of(kind: str, row: Row) -> tuple[str, ...]:
    """Give the values that name a row of ours among its kind; no two have the same."""
    return tuple(str(row.get(name)) for name in KEYS[kind])


def claims(kind: str, row: Row) -> set[str]:
    """Name what a row claims, each of which needs a ground: its members, of a drive those of its modes, else pins.

    Example:
        >>> sorted(claims("drive", {"id": "x", "heads": 2, "modes": [{"rotation": 300}]}))
        ['heads', 'modes.rotation']
    """
    if kind == "pinout":
        return set(map(str, range(1, len(row.get("signals", ())) + 1)))
    plain = set(row) - {*FREE[kind], *GROUNDS}
    if kind == "drive" and "modes" in plain:
        plain = plain - {"modes"} | {f"modes.{name}" for mode in row["modes"] for name in mode}
    return plain


def document_id(document: Row) -> str:
    """Name a document of a person's file so that the same document has one name everywhere, and ours keep theirs.

    Example:
        >>> document_id({"kind": "manual", "author": "Quillmere", "title": "TG-85"}).startswith("own-")
        True
    """
    named = {name: value for name, value in document.items() if name != "id"}
    return "own-" + sha256_hex(json.dumps(named, sort_keys=True, default=str).encode())[:12]


def _document(done: Measured) -> dict[str, Any]:
    """Give a measurement as a document: what was measured stands beside what was read."""
    return {"kind": "measurement", "author": f"measured by {done.by}", "title": done.how, "date": done.on}


def documents_of(row: OwnRow) -> dict[str, dict[str, Any]]:
    """Give what an own row rests on as rows of documents, by their ids: those that it cites, and its measurements."""
    found = (*row.documents.values(), *map(_document, row.measured))
    return {name: {**one, "id": name} for one in found for name in (document_id(one),)}


def plain(row: OwnRow) -> dict[str, Any]:
    """Give an own row as a row of ours: its documents by their ids, and its measurements among them."""
    named = {name: document_id(one) for name, one in row.documents.items()}
    measured = [(document_id(_document(one)), list(one.gives)) for one in row.measured]
    members = {name: value for name, value in row.members.items() if name not in GROUNDS}
    sources = row.members.get("sources", ())
    if row.kind == "signature":
        return members | {"sources": [*(named.get(one, one) for one in sources), *(name for name, _ in measured)]}
    members["sources"] = [
        *({"id": named.get(one["id"], one["id"]), "gives": list(one["gives"])} for one in sources),
        *({"id": name, "gives": gives} for name, gives in measured),
    ]
    if row.kind == "maker":
        return members
    members["unsourced"] = list(row.members.get("unsourced", ()))
    members["disputed"] = [
        {**one, "sources": [named.get(name, name) for name in one["sources"]]}
        for one in row.members.get("disputed", ())
    ]
    return members if row.kind == "pinout" else members | {"derived": dict(row.members.get("derived", {}))}


def values_of(row: OwnRow) -> bytes:
    """Write what an own row says, without its grounds, in one way only: for a digest.

    Example:
        >>> values_of(OwnRow(kind="chip", members={"id": "QX27", "unsourced": []}, file="a.toml"))
        b'["chip", {"id": "QX27"}]'
    """
    values = {name: value for name, value in row.members.items() if name not in GROUNDS}
    return json.dumps([row.kind, values], sort_keys=True, default=str).encode()


def laid_over(kind: str, ours: Iterable[Row]) -> list[Row]:
    """Lay the own rows in force over rows of ours of one kind; new ones come last.

    Example:
        >>> from imagekeeper.own import OwnRows, supplied
        >>> mine = OwnRow(kind="medium", members={"id": "5.25-dd", "coating": "ferrite", "unsourced": ["coating"]},
        ...               file="a.toml")
        >>> with supplied(lambda: OwnRows((mine,))):
        ...     row = laid_over("medium", [{"id": "5.25-dd", "coating": "iron oxide", "unsourced": ["coating"]}])[0]
        >>> row["coating"], row["disputed"][0]["says"]
        ('ferrite', 'the tables without your own row have: iron oxide')
    """
    found: dict[tuple[str, ...], Row] = {key_of(kind, row): row for row in ours}
    for own in in_force().of(kind):
        base = found.get(own.key)
        found[own.key] = plain(own) if base is None else merged(base, own)
    return list(found.values())


def merged(base: Row, own: OwnRow) -> dict[str, Any]:
    """Replace the fields that an own row gives, with their grounds; what stood there before is told as disputed."""
    new = plain(own)
    result = {**base, **{name: value for name, value in new.items() if name not in GROUNDS}}
    if own.kind == "signature":
        return result | {"sources": new["sources"] or base["sources"]}
    given = grounded(own.kind, new)
    changed = _changed(own.kind, base, new)
    result["sources"] = [*_without(base.get("sources", ()), changed, own.kind), *new["sources"]]
    if own.kind == "maker":
        return result
    told = grounded(own.kind, {"sources": result["sources"]})   # who only remembers it takes no document away
    result["unsourced"] = [
        *_less(base.get("unsourced", ()), given, own.kind), *(one for one in new["unsourced"] if one not in told),
    ]  # fmt: skip
    if own.kind != "pinout":
        result["derived"] = {k: v for k, v in base.get("derived", {}).items() if k not in given} | new["derived"]
    result["disputed"] = [*base.get("disputed", ()), *new["disputed"], *_disputed(base, own.kind, changed)]
    return result


def _disputed(
    base: Row, kind: str, changed: Mapping[str, tuple[str | None, str]]
) -> Iterator[dict[str, Any]]:
    """Tell what stood there before: that speaks against what an own row gives."""
    for name, (before, _) in changed.items():
        if before is not None:
            says = f"the tables without your own row have: {before}"
            yield {"field": name, "says": says, "sources": _giving(base, name, kind)}


def changes(base: Row, own: OwnRow) -> dict[str, tuple[str | None, str]]:
    """Tell which fields an own row changes: what stood there, or None, and what it gives, in words."""
    return _changed(own.kind, base, plain(own))


def _changed(kind: str, base: Row, new: Row) -> dict[str, tuple[str | None, str]]:
    if kind == "pinout":
        return {
            str(pin): (before, after)
            for pin, (before, after) in enumerate(zip(base["signals"], new.get("signals", ()), strict=False), 1)
            if before != after
        }
    names = [name for name in new if name not in GROUNDS and name not in KEYS[kind]]
    return {
        name: (None if base.get(name) is None else words(base[name]), words(new[name]))
        for name in names if base.get(name) != new[name]
    }  # fmt: skip


def words(value: Any) -> str:
    """Give a value of a row in words.

    Example:
        >>> words([450, 650]), words({"from": 25.0, "to": 27.0}), words(21.0)
        ('450, 650', 'from 25, to 27', '21')
    """
    if isinstance(value, dict):
        return ", ".join(f"{name} {words(one)}" for name, one in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(map(words, value)) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def pins_of(text: str) -> range:
    """Read one pin or a range of pins; nothing where it is none.

    Example:
        >>> list(pins_of("18-20")), list(pins_of("9-x"))
        ([18, 19, 20], [])
    """
    return pin_numbers(text) if re.fullmatch(r"[0-9]{1,3}(-[0-9]{1,3})?", text) else range(0)


def grounded(kind: str, row: Row) -> set[str]:
    """Name what the grounds of a row stand for: its claims, where they are right."""
    named = [name for one in row.get("sources", ()) if isinstance(one, Mapping) for name in one["gives"]]
    named += [*row.get("unsourced", ()), *row.get("derived", ())]
    return {str(pin) for name in named for pin in pins_of(name)} if kind == "pinout" else set(named)


def _affected(kind: str, name: str, changed: Iterable[str]) -> bool:
    """Whether a claim belongs to a field that changed: of the modes of a drive, all do."""
    return name in changed or (kind == "drive" and name.partition(".")[0] in changed)


def _without(sources: Sequence[Row], changed: Iterable[str], kind: str) -> list[dict[str, Any]]:
    """Take from what documents give that which is replaced."""
    left = [{**one, "gives": _less(one["gives"], changed, kind)} for one in sources]
    return [one for one in left if one["gives"]]


def _less(names: Iterable[str], gone: Iterable[str], kind: str) -> list[str]:
    if kind != "pinout":
        return [name for name in names if not _affected(kind, name, gone)]
    return [str(pin) for name in names for pin in pins_of(name) if str(pin) not in gone]


def _giving(base: Row, name: str, kind: str) -> list[str]:
    """Name the documents that gave a field."""
    if kind == "pinout":
        return [one["id"] for one in base["sources"] if any(int(name) in pins_of(given) for given in one["gives"])]
    return [
        one["id"] for one in base.get("sources", ())
        if any(_affected(kind, given, (name,)) for given in one["gives"])
    ]  # fmt: skip
