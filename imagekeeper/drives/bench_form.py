"""The form of a bench file: a person types it, and what is wrong in it is told."""

from __future__ import annotations

import tomllib
from collections import Counter
from typing import Any, get_args

from imagekeeper.drives.bench import (
    KINDS,
    Bench,
    Interchange,
    OwnCable,
    OwnController,
    OwnDrive,
    OwnMedium,
    Retried,
    Tool,
    Wrote,
)
from imagekeeper.errors import InputError
from imagekeeper.provenance.dates import time_span
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.controllers import CONNECTORS, cable_rows, controller_rows
from imagekeeper.tables.drives import drive_rows, medium_rows

#: A bench file is typed by a person; no larger one is read. [byte]
LIMIT = 1 << 20

#: No floppy drive has more cylinders, and nobody tries a sector more often. Our judgement.
CYLINDERS, TIMES = 256, 9999


def parse(text: str) -> Bench:
    r"""Read a bench file.

    Args:
        text: TOML with tables `[[drive]]` (name, class, speeds, note), `[[controller]]` (name, class, rates, fm,
            connector, note), `[[cable]]` (name, class, plugs, note), `[[medium]]` (class, count, note), `[[reader]]`
            and `[[programmer]]` (name, note), and `[[interchange]]`, which `Interchange` describes.

    Raises:
        InputError: `bench-form`, with the table and what is wrong in it.

    Example:
        >>> parse('[[drive]]\nname = "B"\nclass = "5.25-96tpi-hd-360"').drives[0].drive
        '5.25-96tpi-hd-360'
        >>> parse('[[controller]]\nname = "old card"\nclass = "8272"\nrates = [250]').controllers[0].rates
        (250,)
    """
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        raise _wrong(Phrase("bench-form/no-toml", trouble=str(problem))) from problem
    odd = [name for name in tables if name not in KINDS]
    if odd:
        raise _wrong(Phrase("bench-form/kind", kind=odd[0], known=KINDS))
    rows = {kind: _rows(tables, kind) for kind in KINDS}
    bench = Bench(
        drives=tuple(
            OwnDrive(_text(row, where, "name"), _known(row, where, drive_rows()), _speeds(row, where), row.get("note"))
            for where, row in rows["drive"]
        ),
        media=tuple(
            OwnMedium(_known(row, where, medium_rows()), _count(row, where), row.get("note"))
            for where, row in rows["medium"]
        ),
        readers=tuple(_tool(row, where) for where, row in rows["reader"]),
        programmers=tuple(_tool(row, where) for where, row in rows["programmer"]),
        controllers=tuple(_controller(row, where) for where, row in rows["controller"]),
        cables=tuple(_cable(row, where) for where, row in rows["cable"]),
        interchanges=tuple(_interchange(row, where) for where, row in rows["interchange"]),
    )
    twice = next((name for name, count in Counter(bench.names).items() if count > 1), None)
    if twice is not None:
        raise _wrong(Phrase("bench-form/name-twice", name=twice))
    return bench


#: The members of each table.
_MEMBERS = {
    "drive": ("name", "class", "speeds", "note"), "medium": ("class", "count", "note"),
    "controller": ("name", "class", "rates", "fm", "connector", "note"), "cable": ("name", "class", "plugs", "note"),
    "reader": ("name", "note", "qualified", "qualified_on"), "programmer": ("name", "note"),
    "interchange": ("drive", "machine_drive", "wrote", "format", "cylinders", "on", "failed", "retried", "note"),
}  # fmt: skip


def _rows(tables: dict[str, Any], kind: str) -> list[tuple[str, dict[str, Any]]]:
    held = tables.get(kind, [])
    if not isinstance(held, list) or not all(isinstance(row, dict) for row in held):
        raise _wrong(Phrase("bench-form/table-each", kind=kind))
    rows = [(f"{kind} {number}", row) for number, row in enumerate(held, 1)]
    for where, row in rows:
        odd = [name for name in row if name not in _MEMBERS[kind]]
        if odd:
            raise _wrong(Phrase("bench-form/member", entry=where, member=odd[0], known=_MEMBERS[kind]))
        for member in ("note", "qualified", "qualified_on"):
            if not isinstance(row.get(member, ""), str):
                raise _wrong(Phrase("bench-form/note", entry=where, member=member))
    return rows


def _tool(row: dict[str, Any], where: str) -> Tool:
    return Tool(_text(row, where, "name"), row.get("note"), row.get("qualified"), row.get("qualified_on"))


def _controller(row: dict[str, Any], where: str) -> OwnController:
    name, known = _text(row, where, "name"), controller_rows()[_known(row, where, controller_rows())]
    may = sorted({rate // 1000 for rate in (*known.data_rates, *known.some_data_rates)})
    rates = _list(row, where, "rates", may, known.id)
    fm, connector = row.get("fm"), row.get("connector")
    if fm is not None and not isinstance(fm, bool):
        raise _wrong(Phrase("bench-form/fm", entry=where))
    if fm is not None and fm != ("fm" in known.encodings) and "fm" not in known.some_encodings:
        raise _wrong(Phrase("bench-form/fm-of-class", entry=where, name=known.id))
    fits = known.connectors or tuple(CONNECTORS)
    if connector is not None and connector not in fits:
        raise _wrong(Phrase("bench-form/not-of-class", entry=where, member="connector", name=known.id, known=fits))
    return OwnController(
        name=name, controller=known.id, rates=rates, fm=fm, connector=connector, note=row.get("note")
    )


def _cable(row: dict[str, Any], where: str) -> OwnCable:
    name, known = _text(row, where, "name"), cable_rows()[_known(row, where, cable_rows())]
    return OwnCable(name, known.id, _list(row, where, "plugs", known.plugs, known.id), row.get("note"))


def _interchange(row: dict[str, Any], where: str) -> Interchange:
    names = {member: _text(row, where, member) for member in ("drive", "machine_drive", "wrote", "format", "on")}
    if names["wrote"] not in get_args(Wrote):
        raise _wrong(Phrase("bench-form/wrote", entry=where, known=get_args(Wrote)))
    if time_span(names["on"])[0] is None:
        raise _wrong(Phrase("bench-form/day", entry=where, day=names["on"]))
    cylinders: Any = row.get("cylinders")
    failed, retried = row.get("failed", []), row.get("retried", [])
    if not _whole(cylinders, 1, CYLINDERS):
        raise _wrong(Phrase("bench-form/cylinders", entry=where, most=CYLINDERS))
    pairs = retried if isinstance(retried, list) else [0]
    if not isinstance(failed, list) or not all(_whole(one, 0, cylinders - 1) for one in failed):
        raise _wrong(Phrase("bench-form/failed", entry=where, last=cylinders - 1))
    if not all(
        isinstance(one, list) and len(one) == 2 and _whole(one[0], 0, cylinders - 1) and _whole(one[1], 1, TIMES)
        for one in pairs
    ):
        raise _wrong(Phrase("bench-form/retried", entry=where, last=cylinders - 1))
    wrote: Wrote = "here" if names["wrote"] == "here" else "there"
    return Interchange(
        drive=names["drive"], machine_drive=names["machine_drive"], wrote=wrote, format=names["format"],
        cylinders=cylinders, on=names["on"], failed=tuple(sorted(set(failed))),
        retried=tuple(Retried(cylinder, times) for cylinder, times in sorted(map(tuple, pairs))), note=row.get("note"),
    )  # fmt: skip


def _whole(value: Any, least: int, most: int) -> bool:
    return type(value) is int and least <= value <= most


def _text(row: dict[str, Any], where: str, member: str) -> str:
    value = row.get(member)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(Phrase("bench-form/missing", entry=where, member=member))
    return value


def _known(row: dict[str, Any], where: str, known: dict[str, Any]) -> str:
    value = _text(row, where, "class")
    if value not in known:
        raise _wrong(Phrase("bench-form/class", entry=where, name=value, known=known))
    return value


def _list(row: dict[str, Any], where: str, member: str, known: Any, name: str) -> tuple[Any, ...]:
    value = row.get(member, [])
    if not isinstance(value, list) or not all(type(one) in (int, str) and one in known for one in value):
        raise _wrong(Phrase("bench-form/not-of-class", entry=where, member=member, name=name, known=known))
    return tuple(value)


def _speeds(row: dict[str, Any], where: str) -> tuple[int, ...]:
    value = row.get("speeds", [])
    if not isinstance(value, list) or not all(_whole(one, 100, 3600) for one in value):
        raise _wrong(Phrase("bench-form/speeds", entry=where))
    return tuple(value)


def _count(row: dict[str, Any], where: str) -> int | None:
    value = row.get("count")
    if value is not None and not _whole(value, 0, 999_999):
        raise _wrong(Phrase("bench-form/count", entry=where))
    return value


def _wrong(why: Phrase) -> InputError:
    return InputError("bench-form", trouble=why)
