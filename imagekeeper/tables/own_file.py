"""A file of own rows: its text taken apart into rows, each checked for its form, with what is wrong and where."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.own import KEYS, Origin, OwnRow
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import sources
from imagekeeper.tables.own_form import wrong_in_document, wrong_in_form

#: A file is typed by a person; no larger one, and none with more rows, is read. [byte, rows]
LIMIT, ROWS = 1 << 20, 2000


@dataclass(frozen=True)
class OwnFile:
    """What a file of own rows holds.

    Attributes:
        rows: The rows whose form is right.
        faults: What is wrong with others, or with the file.
    """

    rows: tuple[OwnRow, ...]
    faults: tuple[Finding, ...]


def parse(data: bytes, name: str, origin: Origin = "archive", told: str = "") -> OwnFile:
    r"""Take a file of own rows apart.

    Args:
        data: Its bytes: TOML with tables `[[chip]]`, `[[pinout]]` and so on, and `[[source]]` for documents.
        name: The file, for messages.
        origin: Whose its rows are.
        told: Where they came from, and who accepted them.

    Example:
        >>> held = parse(b'\n[[medium]]\nid = "QX-3"\ncoating = 7\n', "mine.toml")
        >>> held.rows, str(held.faults[0].where), held.faults[0].why
        ((), 'mine.toml, line 2', 'medium QX-3: coating is 7, and must be a text')
    """
    if len(data) > LIMIT:
        return _useless(name, None, Phrase("own-rows/large", limit=LIMIT))
    try:
        text = data.decode("utf-8-sig")
        tables = tomllib.loads(text.replace("\r\n", "\n"))
    except UnicodeDecodeError as problem:
        return _useless(name, data[: problem.start].count(b"\n") + 1, Phrase("own-rows/not-utf8"))
    except (ValueError, RecursionError) as problem:   # a TOML error, or a number or a nesting beyond all measure
        found = re.search(r"\(at line (\d+)", str(problem))
        why = Phrase("own-rows/no-toml", trouble=str(problem)[:200] or "it is nested too deeply")
        return _useless(name, int(found[1]) if found else None, why)
    faults = [
        wrong_row(name, None, Phrase("own-rows/kind", kind=one, known=(*KEYS, "source"))) for one in tables
        if one not in KEYS and one != "source"
    ][:20]  # fmt: skip
    if sum(len(held) for held in tables.values() if isinstance(held, list)) > ROWS:
        return _useless(name, None, Phrase("own-rows/too-many-rows", limit=ROWS))
    lines = _lines(text)
    documents, wrong = _documents(tables, name, lines)
    faults += wrong
    rows = []
    for kind in KEYS:
        for members, line in _tables(tables, kind, lines):
            row = _row(kind, members, name, line)
            if isinstance(row, Finding):
                faults.append(row)
                continue
            mine = {one: documents[one] for one in cited(row) if one in documents}
            row = replace(row, origin=origin, documents=mine, told=told)
            unknown = [one for one in cited(row) if one not in documents and one not in sources()]
            if unknown:
                why = Phrase("own-rows/document", name=unknown[0])
                faults.append(unusable(row, why))
            else:
                rows.append(row)
    return OwnFile(*_once(rows, faults))


def wrong_row(file: str, line: int | None, why: Phrase, row: str | None = None) -> Finding:
    """Tell that a row, or a file, cannot be used."""
    where = Where(file=file, line=line)
    if row is None:
        return Finding.of("own-row-wrong/file", "fault", 1.0, where, trouble=why)
    return Finding.of("own-row-wrong", "fault", 1.0, where, row=row, trouble=why)


def unusable(row: OwnRow, why: Phrase) -> Finding:
    """Tell that a row cannot be used, though its form is right."""
    return wrong_row(row.file, row.line, why, row.name)


def cited(row: OwnRow) -> list[str]:
    """Name the documents that a row refers to."""
    named = [one if isinstance(one, str) else one["id"] for one in row.members.get("sources", ())]
    return [*named, *(name for one in row.members.get("disputed", ()) for name in one["sources"])]


def _useless(name: str, line: int | None, why: Phrase) -> OwnFile:
    return OwnFile((), (wrong_row(name, line, why),))


def _row(kind: str, members: Any, name: str, line: int | None) -> OwnRow | Finding:
    if not isinstance(members, dict):
        return wrong_row(name, line, Phrase("own-rows/table-each", kind=kind))
    row = OwnRow(kind=kind, members=members, file=name, line=line)
    why = wrong_in_form(row)
    if why is None:
        dated = [{**one, "on": str(one["on"])} for one in members.get("measured", ())]   # TOML has dates of its own
        return replace(row, members={**members, **({"measured": dated} if dated else {})})
    named = ", ".join(str(members[one])[:40] for one in KEYS[kind] if isinstance(members.get(one), str))
    return wrong_row(name, line, why, f"{kind} {named}".strip())


def _documents(
    tables: Mapping[str, Any], name: str, lines: Mapping[str, list[int]]
) -> tuple[dict[str, dict[str, Any]], list[Finding]]:
    found: dict[str, dict[str, Any]] = {}
    faults = []
    for members, line in _tables(tables, "source", lines):
        why = wrong_in_document(members) if isinstance(members, dict) else Phrase("own-rows/table-each", kind="source")
        if why is None and members["id"] in found:
            why = Phrase("own-rows/twice")
        if why is None:
            found[members["id"]] = members
        else:
            label = members.get("id") if isinstance(members, dict) else None
            faults.append(wrong_row(name, line, why, f"source {label if isinstance(label, str) else ''}"[:60].strip()))
    return found, faults


def _tables(
    tables: Mapping[str, Any], kind: str, lines: Mapping[str, list[int]]
) -> Iterator[tuple[Any, int | None]]:
    """Give the tables of a kind with the lines at which they begin, where each has a head of its own."""
    held = tables.get(kind, [])
    held = held if isinstance(held, list) else [None]
    at: list[int] | list[None] = lines.get(kind, [])
    yield from zip(held, at if len(at) == len(held) else [None] * len(held), strict=True)


def _lines(text: str) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"[ \t]*\[\[[ \t]*(\w+)[ \t]*\]\]", line)
        if head:
            found.setdefault(head[1], []).append(number)
    return found


def _once(rows: list[OwnRow], faults: list[Finding]) -> tuple[tuple[OwnRow, ...], tuple[Finding, ...]]:
    """Leave out rows that stand for the same thing: which of them is meant, nobody can tell."""
    counts = Counter((row.kind, row.key) for row in rows)
    for row in rows:
        if counts[row.kind, row.key] > 1:
            faults.append(unusable(row, Phrase("own-rows/twice")))
    return tuple(row for row in rows if counts[row.kind, row.key] == 1), tuple(faults)
