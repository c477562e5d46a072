"""What an answer says when it rests on a person's own row: which, where it stands, its grounds, and what it changes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from imagekeeper.findings import Finding
from imagekeeper.own import OwnRow, in_force, remembered
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import Source, load, sources
from imagekeeper.tables.chips import CHIP_TABLES
from imagekeeper.tables.overlay import changes, key_of

#: Where our rows of each kind stand.
TABLES: dict[str, tuple[str, ...]] = {
    "pinout": ("pinouts",), "chip": CHIP_TABLES, "maker": ("makers",), "signature": ("signatures",),
    "medium": ("media",), "drive": ("drives",), "format": ("formats",),
}  # fmt: skip


@remembered()
def by_name() -> dict[tuple[str, str], tuple[OwnRow, ...]]:
    """Give the own rows in force by their kind and the first member of their key."""
    found: dict[tuple[str, str], tuple[OwnRow, ...]] = {}
    for row in in_force().rows:
        found[row.kind, row.key[0]] = (*found.get((row.kind, row.key[0]), ()), row)
    return found


def finding_of(row: OwnRow) -> Finding:
    """Say of an own row what whoever relies on it must know."""
    grounds, changed = list(grounds_of(row)), list(changes_of(row))
    about = "own-row" if row.origin != "accepted" else "own-row/accepted"
    if changed:
        about = "own-row/corrects" if row.origin != "accepted" else "own-row/accepted-corrects"
    values: dict[str, Any] = {"row": row.name, "place": str(row.where), "told": row.told}
    said = [str(one) for one in grounds if one.about != "own-rows/derived"]   # what follows from others rests on them
    values |= {"resting": "; ".join(said), "correcting": "; ".join(changed)}
    detail = {"row": row.name, "origin": row.origin, "grounds": list(map(str, grounds)), "changes": changed}
    return Finding.of(about, "note", 1.0, row.where, detail=detail, **values)


def ours(row: OwnRow) -> Mapping[str, Any] | None:
    """Give the row of our tables that an own row corrects, or None where it stands for something new."""
    for table in TABLES[row.kind]:
        for one in load(table)[row.kind]:
            if key_of(row.kind, one) == row.key:
                found: Mapping[str, Any] = one
                return found
    return None


def changes_of(row: OwnRow) -> Iterator[str]:
    """Say what an own row changes in our tables, with both values; nothing where it stands for something new."""
    base = ours(row)
    if base is None:
        return
    for name, (before, after) in changes(base, row).items():
        member = f"pin {name}" if row.kind == "pinout" else name
        yield str(
            Phrase("own-rows/added", member=member, value=after) if before is None
            else Phrase("own-rows/changed", member=member, value=after, before=before)
        )  # fmt: skip


def grounds_of(row: OwnRow) -> Iterator[Phrase]:
    """Say what each value of an own row rests on."""
    for one in row.measured:
        yield Phrase("own-rows/measured", by=one.by, on=one.on, how=one.how, gives=_named(row, one.gives))
    for cited in row.members.get("sources", ()):
        name, gives = (cited, ()) if isinstance(cited, str) else (cited["id"], cited["gives"])
        document = Source(**row.documents[name]) if name in row.documents else sources().get(name, name)
        yield Phrase("own-rows/documented", document=str(document), gives=_named(row, gives))
    for name, rule in row.members.get("derived", {}).items():
        yield Phrase("own-rows/derived", gives=name, rule=rule)
    if row.members.get("unsourced"):
        yield Phrase("own-rows/memory", gives=_named(row, row.members["unsourced"]))


def _named(row: OwnRow, gives: Iterable[str]) -> str:
    names = [f"pin {one}" if "-" not in one else f"pins {one}" for one in gives] if row.kind == "pinout" else [*gives]
    return ", ".join(names) or "the code"
