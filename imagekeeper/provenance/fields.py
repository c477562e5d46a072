"""Records out of JSON, checked against the frozen dataclass that describes them."""

from __future__ import annotations

import dataclasses
import functools
import json
import types
import typing
from collections.abc import Callable
from typing import Any, TypeVar

from imagekeeper.errors import ArchiveError, InternalError, UsageError, Where
from imagekeeper.jsonable import dumps_kept
from imagekeeper.provenance.fitting import TEXT_LIMIT, decoded, fits, misfit, misfit_among, shown
from imagekeeper.sentences.say import Phrase

T = TypeVar("T")


def read_json(data: bytes, name: str) -> Any:
    """Decode a JSON document that a record file holds.

    Args:
        data: The file's bytes.
        name: Its name, for messages.

    Raises:
        ArchiveError: `archive-damaged`.

    Example:
        >>> read_json(b'{"id": "r1"}', "read.json")
        {'id': 'r1'}
    """
    try:
        return decoded(data)
    except ValueError as problem:
        raise _damaged(name, Phrase("archive-damaged/no-json", trouble=str(problem))) from problem


def write_json(record: Any) -> bytes:
    r"""Write a record file: indented for people, ended by a line feed.

    What could not be read again is never given out: a record that is kept for decades must not be found unreadable
    by whoever opens it next.

    Raises:
        UsageError: `usage` for a text that is longer than any may be.
        InternalError: A member of the record is of another type than its class says, or does not fit what it means.

    Example:
        >>> write_json({"id": "r1"})
        b'{\n  "id": "r1"\n}\n'
    """
    text = dumps_kept(record)
    for one in record if isinstance(record, list | tuple) else (record,):
        check_readable(one)
    return (text + "\n").encode()


def check_readable(record: Any) -> None:
    """See that a record can be read again; what is no record passes.

    Raises:
        UsageError: `usage` for a text that is longer than any may be.
        InternalError: A member of the record is of another type than its class says, or does not fit what it means.

    Example:
        >>> check_readable(Where(file="u4.bin"))
    """
    if dataclasses.is_dataclass(record) and not isinstance(record, type):
        _refuse_long(record)
        try:
            from_json(type(record), json.loads(dumps_kept(record)), "the record")
        except ArchiveError as problem:
            raise InternalError("internal/record", trouble=problem.why) from problem


def _refuse_long(record: Any) -> None:
    """Tell a person, whose fault it is, before the record is found not to fit."""
    for field in dataclasses.fields(record):
        held = getattr(record, field.name)
        for text in held if isinstance(held, tuple) else (held,):
            if isinstance(text, str) and len(text) > TEXT_LIMIT:
                raise UsageError("usage/long-text", name=field.name, size=len(text), limit=TEXT_LIMIT)


def from_json(cls: type[T], value: Any, name: str) -> T:
    """Build a record from decoded JSON; members that this version does not know are passed over.

    Args:
        cls: The dataclass.
        value: The decoded JSON.
        name: The file it came from, for messages.

    Raises:
        ArchiveError: `archive-damaged` when a member is missing, of another type, or does not fit what it means.

    Example:
        >>> from_json(Where, {"file": "u4.bin", "line": 3}, "an example").line
        3
    """
    result: T
    try:
        convert = _converter(cls)   # type: ignore[arg-type]  # a class is hashable
        result = convert(value)
    except _OddError:   # what is wrong, and where, is worked out only where something is
        result = _build(cls, value, name, cls.__name__)
    return result


def list_from_json(cls: type[T], value: Any, name: str) -> tuple[T, ...]:
    """Build the records of a file that holds a list of them, or a single one.

    Raises:
        ArchiveError: `archive-damaged` as `from_json`, and where two of them have the same id.

    Example:
        >>> len(list_from_json(Where, [{"file": "u4.bin"}, {"file": "u5.bin"}], "an example"))
        2
    """
    records = tuple(from_json(cls, item, name) for item in (value if isinstance(value, list) else [value]))
    if why := misfit_among(records):
        raise _damaged(name, why)
    return records


class _OddError(Exception):
    """The value is not what the hint asks for, or not plainly so."""


@functools.cache
def _converter(hint: Any) -> Callable[[Any], Any]:
    """Give a function that builds plain values of a type and raises `_OddError` for any other: `_build`, but fast.

    An index of 100,000 carriers reads half a million records; looking at the type hints once a class, not once a value,
    makes that four times as fast.
    """
    if (plain := _plain(hint)) is not None:
        return functools.partial(_as_it_is, plain)
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        (inner,) = (a for a in arguments if a is not types.NoneType)
        convert = _converter(inner)
        return lambda value: None if value is None else convert(value)
    if origin is typing.Literal:
        return functools.partial(_literal, frozenset(arguments))
    if origin is tuple:
        return functools.partial(_several, _converter(arguments[0]))
    if dataclasses.is_dataclass(hint):
        return functools.partial(_fast_record, hint, _members(hint))
    return _odd


@functools.cache
def _hints(cls: Any) -> dict[str, Any]:
    return typing.get_type_hints(cls)


def _plain(hint: Any) -> frozenset[type] | None:
    """Give the exact types of values that a hint takes as they are; None where it is not as simple as that."""
    if hint in (str, int, float, bool):
        return frozenset((hint,))
    if typing.get_origin(hint) is dict:
        return frozenset((dict,))
    if typing.get_origin(hint) in (typing.Union, types.UnionType) and types.NoneType in typing.get_args(hint):
        (inner,) = (a for a in typing.get_args(hint) if a is not types.NoneType)
        plain = _plain(inner)
        return None if plain is None else plain | {types.NoneType}
    return None


def _members(cls: Any) -> tuple[tuple[str, frozenset[type] | None, Callable[[Any], Any], bool], ...]:
    """Give each field's name, the types taken as they are, its converter, and whether it must be there."""
    return tuple(
        (
            field.name, _plain(_hints(cls)[field.name]), _converter(_hints(cls)[field.name]),
            field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING,
        )
        for field in dataclasses.fields(cls)
    )  # fmt: skip


def _fast_record(cls: Any, members: Any, value: Any) -> Any:
    if type(value) is not dict:
        raise _OddError
    found = {}
    for name, plain, convert, needed in members:
        if name in value:
            held = value[name]
            found[name] = held if plain is not None and type(held) in plain else convert(held)
        elif needed:
            raise _OddError
    try:
        record = cls(**found)
    except ValueError:
        raise _OddError from None
    if not fits(record):
        raise _OddError
    return record


def _as_it_is(plain: frozenset[type], value: Any) -> Any:
    if type(value) not in plain:
        raise _OddError
    return value


def _literal(allowed: frozenset[str], value: Any) -> Any:
    if type(value) is not str or value not in allowed:
        raise _OddError
    return value


def _several(convert: Callable[[Any], Any], value: Any) -> Any:
    if type(value) is not list:
        raise _OddError
    return tuple(map(convert, value))


def _odd(value: Any) -> Any:
    raise _OddError


def _build(hint: Any, value: Any, name: str, path: str) -> Any:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if hint is Any:
        return value
    if origin in (typing.Union, types.UnionType):
        if value is None and types.NoneType in arguments:
            return None
        (plain,) = (a for a in arguments if a is not types.NoneType)
        return _build(plain, value, name, path)
    if origin is typing.Literal:
        if value not in arguments or not isinstance(value, str):
            raise _damaged(name, Phrase("archive-damaged/none-of", path=path, value=shown(value), known=arguments))
        return value
    if origin is tuple:
        if not isinstance(value, list):
            raise _damaged(name, Phrase("archive-damaged/no-list", path=path))
        return tuple(_build(arguments[0], item, name, f"{path}[{i}]") for i, item in enumerate(value))
    if origin is dict:
        if not isinstance(value, dict):
            raise _damaged(name, Phrase("archive-damaged/no-object", path=path))
        return value
    if dataclasses.is_dataclass(hint):
        return _record(hint, value, name, path)
    if not isinstance(value, hint) or (isinstance(value, bool) and hint is not bool):
        raise _damaged(name, Phrase("archive-damaged/other-type", path=path, value=shown(value), type=hint.__name__))
    return value


def _record(cls: Any, value: Any, name: str, path: str) -> Any:
    if not isinstance(value, dict):
        raise _damaged(name, Phrase("archive-damaged/no-object", path=path))
    hints = _hints(cls)
    members = {}
    for field in dataclasses.fields(cls):
        if field.name in value:
            members[field.name] = _build(hints[field.name], value[field.name], name, f"{path}.{field.name}")
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise _damaged(name, Phrase("archive-damaged/field-missing", path=path, field=field.name))
    try:
        record = cls(**members)
    except ValueError as problem:
        raise _damaged(name, Phrase("archive-damaged/field-clash", path=path, trouble=str(problem))) from problem
    if why := misfit(record):
        raise _damaged(name, Phrase("archive-damaged/misfit", path=path, trouble=why))
    return record


def _damaged(name: str, why: Phrase) -> ArchiveError:
    return ArchiveError("archive-damaged/record", trouble=why, where=Where(file=name))
