"""The form of a file of own rows: which members a row has, of which type, and that each has its ground."""

from __future__ import annotations

import dataclasses
import math
import re
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from imagekeeper.legible import UNSEEN
from imagekeeper.own import KEYS, OwnRow
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import Source
from imagekeeper.tables.chips import ChipRow, PinoutRow, Signature
from imagekeeper.tables.drives import DriveRow, MediumRow
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.tables.makers import MakerRow
from imagekeeper.tables.overlay import GROUNDS, claims, pins_of, plain
from imagekeeper.tables.volts import Volts, volts_of

#: Texts, lists and numbers of a row stay below these: no fact of a chip or disk needs more. [characters, entries]
TEXT, NAME, LIST, NUMBER = 2000, 80, 200, 1 << 40

#: The class that a row of each kind becomes.
CLASSES: dict[str, type] = {
    "pinout": PinoutRow, "chip": ChipRow, "maker": MakerRow, "signature": Signature, "medium": MediumRow,
    "drive": DriveRow, "format": FormatRow,
}  # fmt: skip

_MEASURED = ("gives", "by", "on", "how")


def fields(kind: str) -> dict[str, Any]:
    """Give the members that a row of a kind may have beside its grounds, with their types.

    Example:
        >>> sorted(fields("pinout")), fields("chip")["words"]
        (['id', 'note', 'pins', 'signals'], <class 'int'>)
    """
    hints = typing.get_type_hints(CLASSES[kind])
    if kind == "pinout":
        hints["signals"] = tuple[str, ...]
    if kind == "signature":
        hints["chip"] = str
    return {name: hint for name, hint in hints.items() if name not in (*GROUNDS, "sourced")}


def required(kind: str) -> tuple[str, ...]:
    """Name the members that a new row must have.

    Example:
        >>> required("maker"), required("signature")
        (('chip', 'maker'), ('chip', 'maker', 'code'))
    """
    if kind == "signature":
        return KEYS[kind]
    needed = [one.name for one in dataclasses.fields(CLASSES[kind]) if one.default is dataclasses.MISSING]
    return tuple(name for name in needed if name in fields(kind) and name != "note")


def wrong_in_document(row: Mapping[str, Any]) -> Phrase | None:
    """Tell what is wrong with the description of a document, or None.

    Example:
        >>> str(wrong_in_document({"id": "tg85", "kind": "manual", "author": "Quillmere"}))
        'title is missing'
    """
    hints = typing.get_type_hints(Source)
    return _members(row, hints, ("id", "kind", "author", "title"))


def wrong_in_form(row: OwnRow) -> Phrase | None:
    """Tell what is wrong with the form of an own row taken by itself, or None.

    Example:
        >>> str(wrong_in_form(OwnRow(kind="chip", members={"id": "QX27", "word": 1}, file="a.toml")))[:34]
        "'word' is no member of such a row;"
    """
    known = fields(row.kind) | dict.fromkeys(_grounds_of(row.kind), Any)
    plain = {name: value for name, value in row.members.items() if name not in GROUNDS}
    odd = [name for name in row.members if name not in known]
    if odd:
        return Phrase("own-rows/member", member=_shown(odd[0]), known=tuple(known))
    return _members(plain, fields(row.kind), KEYS[row.kind]) or _wrong_grounds(row)


def wrong_in_whole(own: OwnRow, *, new: bool) -> Phrase | None:
    """Tell what is wanting in an own row: members of a new one, and grounds of what it gives; or None.

    Args:
        own: The own row.
        new: Whether it stands for something that our tables have not.
    """
    kind, row = own.kind, plain(own)
    missing = [name for name in required(kind) if name not in row] if new else []
    if missing:
        return Phrase("own-rows/missing", members=missing)
    if kind == "signature":
        measured = own.measured or "sources" in own.members
        return None if measured else Phrase("own-rows/no-ground", members=("code",))
    wanted = claims(kind, row)
    named = {name: _names(kind, own.members.get(name, ())) for name in ("sources", "measured")}
    named |= {name: _pins(kind, own.members.get(name, ())) for name in ("derived", "unsourced")}
    odd = set().union(*named.values()) - wanted
    if odd:
        return Phrase("own-rows/ground-of-nothing", members=sorted(odd))
    without = wanted - set().union(*named.values())
    if without and (new or kind != "pinout"):
        return Phrase("own-rows/no-ground", members=sorted(without))
    documents = named["sources"] | named["measured"]
    twice = (documents & (named["derived"] | named["unsourced"])) | (named["derived"] & named["unsourced"])
    return Phrase("own-rows/ground-twice", members=sorted(twice)) if twice else None


def _grounds_of(kind: str) -> tuple[str, ...]:
    if kind in ("signature", "maker"):
        return ("sources", "measured")
    return ("sources", "unsourced", "disputed", "measured", *(() if kind == "pinout" else ("derived",)))


def _wrong_grounds(row: OwnRow) -> Phrase | None:
    members, listed = row.members, (tuple[str, ...] if row.kind == "signature" else None)
    cited = members.get("sources", [])
    if listed is not None:
        why = _of(listed, cited, "sources")
    else:
        why = _each(cited, "sources", {"id": str, "gives": tuple[str, ...]}, ("id", "gives"))
    needed = _MEASURED[1:] if row.kind == "signature" else _MEASURED
    dated = [
        {**one, "on": str(one["on"])} if isinstance(one, dict) and type(one.get("on")) is date else one
        for one in _listed(members.get("measured", []))
    ]
    hints = {"gives": tuple[str, ...], **dict.fromkeys(("by", "on", "how"), str)}
    why = why or _each(dated, "measured", hints, needed)
    why = why or _of(tuple[str, ...], members.get("unsourced", []), "unsourced")
    why = why or _of(dict[str, str], members.get("derived", {}), "derived")
    why = why or _each(
        members.get("disputed", []), "disputed", {"field": str, "says": str, "sources": tuple[str, ...]},
        ("field", "says", "sources"),
    )  # fmt: skip
    if why is not None:
        return why
    for one in dated:
        if not _is_day(one["on"]):
            return Phrase("own-rows/date", value=_shown(one["on"]))
        empty = [name for name in ("by", "how") if not one[name].strip()]
        if empty:
            return Phrase("own-rows/empty", member=f"measured.{empty[0]}")
    return None


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _names(kind: str, grounds: Iterable[Mapping[str, Any]]) -> set[str]:
    return _pins(kind, [name for one in grounds for name in one.get("gives", ())])


def _pins(kind: str, names: Iterable[str]) -> set[str]:
    """Give the claims that grounds name; of a pinout what is no pin stays as it is, and is found to be odd."""
    if kind != "pinout":
        return set(names)
    return {str(pin) for name in names for pin in (pins_of(name) or (name,))}


def _is_day(text: str) -> bool:
    """Whether a text is a day, a month or a year of the calendar, as in ISO 8601."""
    found = re.fullmatch(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?", text, re.ASCII)
    try:
        return found is not None and bool(date(*(int(part or 1) for part in found.groups())))
    except ValueError:
        return False


def _members(row: Mapping[str, Any], hints: Mapping[str, Any], keys: Sequence[str]) -> Phrase | None:
    for name in keys:
        if name not in row:
            return Phrase("own-rows/missing", members=(name,))
    for name, value in row.items():
        if name not in hints:
            return Phrase("own-rows/member", member=_shown(name), known=tuple(hints))
        why = _of(hints[name], value, name)
        if why is not None:
            return why
        if name in keys and (not str(value).strip() or len(str(value)) > NAME or str(value) != str(value).strip()):
            return Phrase("own-rows/name", member=name, limit=NAME)
    return None


def _each(value: Any, name: str, hints: Mapping[str, Any], needed: Sequence[str]) -> Phrase | None:
    if not isinstance(value, list) or len(value) > LIST or not all(isinstance(one, dict) for one in value):
        return Phrase("own-rows/tables", member=name, limit=LIST)
    for one in value:
        odd = [key for key in one if key not in hints]
        if odd:
            return Phrase("own-rows/member", member=_shown(f"{name}.{odd[0]}"), known=tuple(hints))
        missing = [f"{name}.{key}" for key in needed if key not in one]
        if missing:
            return Phrase("own-rows/missing", members=missing)
        why = next(filter(None, (_of(hints[key], one[key], f"{name}.{key}") for key in one)), None)
        if why is not None:
            return why
    return None


def _of(hint: Any, value: Any, name: str) -> Phrase | None:
    """Tell what is wrong with a value that a hint asks for; None where nothing is."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        return _of(next(one for one in arguments if one is not types.NoneType), value, name)
    if origin is tuple:
        if not isinstance(value, list) or len(value) > LIST:
            return Phrase("own-rows/list", member=name, limit=LIST)
        return next(filter(None, (_of(arguments[0], one, name) for one in value)), None)
    if origin is dict:
        if not isinstance(value, dict) or len(value) > LIST:
            return Phrase("own-rows/table", member=name)
        pairs = ((_of(str, key, name) or _of(arguments[1], one, f"{name}.{_shown(key)}")) for key, one in value.items())
        return next(filter(None, pairs), None)
    if hint is Volts:
        return _wrong_volts(value, name)
    if dataclasses.is_dataclass(hint):
        if not isinstance(value, dict):
            return Phrase("own-rows/table", member=name)
        hints = typing.get_type_hints(hint)
        needed = [one.name for one in dataclasses.fields(hint) if one.default is dataclasses.MISSING]
        return _each([value], name, hints, needed)
    return _SIMPLE[hint](value, name)


def _wrong_volts(value: Any, name: str) -> Phrase | None:
    inside = value.values() if isinstance(value, dict) else [value]
    figures = [one for part in inside for one in (part if isinstance(part, list) else [part])][: LIST + 1]
    why = next(filter(None, (_number(one, name) for one in figures)), None)
    if why is not None:
        return why
    try:
        known = volts_of(value)
    except (ValueError, TypeError):
        return Phrase("own-rows/volts", member=name)
    rising = known.kind != "range" or known.figures[0] < known.figures[1]
    return None if rising and len(known.figures) <= 8 else Phrase("own-rows/volts", member=name)


def _text(value: Any, name: str) -> Phrase | None:
    if not isinstance(value, str):
        return Phrase("own-rows/type", member=name, wanted="a text", value=_shown(value))
    if len(value) > TEXT:
        return Phrase("own-rows/long", member=name, limit=TEXT)
    # what moves a cursor or turns the writing round has no place in a fact
    if UNSEEN.search(value) or any(ord(one) < 32 or 0xD800 <= ord(one) <= 0xDFFF for one in value):
        return Phrase("own-rows/unseen", member=name, value=_shown(value))
    return None


def _whole(value: Any, name: str) -> Phrase | None:
    if type(value) is not int:
        return Phrase("own-rows/type", member=name, wanted="a whole number", value=_shown(value))
    return None if 0 <= value <= NUMBER else Phrase("own-rows/range", member=name, value=_shown(value))


def _number(value: Any, name: str) -> Phrase | None:
    if type(value) not in (int, float):
        return Phrase("own-rows/type", member=name, wanted="a number", value=_shown(value))
    fits = math.isfinite(value) and abs(value) <= NUMBER if type(value) is float else abs(value) <= NUMBER
    return None if fits else Phrase("own-rows/range", member=name, value=_shown(value))


def _flag(value: Any, name: str) -> Phrase | None:
    if type(value) is bool:
        return None
    return Phrase("own-rows/type", member=name, wanted="true or false", value=_shown(value))


_SIMPLE: dict[Any, Callable[[Any, str], Phrase | None]] = {str: _text, int: _whole, float: _number, bool: _flag}


def _shown(value: Any) -> str:
    """Show a value in short; numbers of thousands of digits are not turned into text."""
    if isinstance(value, int) and abs(value) > NUMBER:
        return "a huge number"
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    return repr(value)[:60]
