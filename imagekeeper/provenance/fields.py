"""Records out of JSON, checked against the frozen dataclass that describes them."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from typing import Any, TypeVar

from imagekeeper.errors import ArchiveError, Where
from imagekeeper.jsonable import dumps

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
        return json.loads(data)
    except (ValueError, RecursionError) as problem:
        raise _damaged(name, f"it is not JSON: {problem}") from problem


def write_json(record: Any) -> bytes:
    r"""Write a record file: indented for people, ended by a line feed.

    Example:
        >>> write_json({"id": "r1"})
        b'{\n  "id": "r1"\n}\n'
    """
    return (dumps(record) + "\n").encode()


def from_json(cls: type[T], value: Any, name: str) -> T:
    """Build a record from decoded JSON; members that this version does not know are passed over.

    Args:
        cls: The dataclass.
        value: The decoded JSON.
        name: The file it came from, for messages.

    Raises:
        ArchiveError: `archive-damaged` when a member is missing or of another type.

    Example:
        >>> from_json(Where, {"file": "u4.bin", "line": 3}, "an example").line
        3
    """
    result: T = _build(cls, value, name, cls.__name__)
    return result


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
            raise _damaged(name, f"{path} is {_short(value)}, which is not one of {', '.join(arguments)}")
        return value
    if origin is tuple:
        if not isinstance(value, list):
            raise _damaged(name, f"{path} is not a list")
        return tuple(_build(arguments[0], item, name, f"{path}[{i}]") for i, item in enumerate(value))
    if origin is dict:
        if not isinstance(value, dict):
            raise _damaged(name, f"{path} is not an object")
        return value
    if dataclasses.is_dataclass(hint):
        return _record(hint, value, name, path)
    if not isinstance(value, hint) or (isinstance(value, bool) and hint is not bool):
        raise _damaged(name, f"{path} is {_short(value)}, where a value of type {hint.__name__} belongs")
    return value


def _record(cls: Any, value: Any, name: str, path: str) -> Any:
    if not isinstance(value, dict):
        raise _damaged(name, f"{path} is not an object")
    hints = typing.get_type_hints(cls)
    members = {}
    for field in dataclasses.fields(cls):
        if field.name in value:
            members[field.name] = _build(hints[field.name], value[field.name], name, f"{path}.{field.name}")
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise _damaged(name, f"{path}.{field.name} is missing")
    try:
        return cls(**members)
    except ValueError as problem:
        raise _damaged(name, f"{path} contradicts itself: {problem}") from problem


def _short(value: Any) -> str:
    text = ascii(value)
    return text if len(text) < 60 else text[:57] + "..."


def _damaged(name: str, why: str) -> ArchiveError:
    return ArchiveError(
        "archive-damaged", "a record cannot be read", why=why,
        hint="run the audit to see what else is affected, and restore the file from a copy of the archive",
        where=Where(file=name),
    )  # fmt: skip
