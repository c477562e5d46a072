"""Results to JSON documents, and their JSON Schemas, from one description: the frozen dataclass.

A result whose class has a `SCHEMA` ("fingerprint/1") is a document. Its fields become members one to one; the
`Attributes:` section of its docstring becomes the descriptions in the schema.
"""

from __future__ import annotations

import base64
import dataclasses
import inspect
import json
import re
import types
import typing
from typing import Any

from imagekeeper.legible import UNSEEN, escape, escaped

Json = Any

SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def to_json(value: Any) -> Json:
    """Turn dataclasses, tuples and plain values into what `json` can write.

    Raises:
        TypeError: For a value that has no agreed JSON form.

    Example:
        >>> from imagekeeper.errors import Where
        >>> to_json(Where(file="u4.bin"))["file"]
        'u4.bin'
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        members = {f.name: to_json(getattr(value, f.name)) for f in _members(type(value))}
        schema = getattr(value, "SCHEMA", None)
        return {"schema": schema, **members} if schema else members
    if isinstance(value, (tuple, list)):
        return [to_json(item) for item in value]
    if isinstance(value, dict):
        return {str(key): to_json(item) for key, item in value.items()}
    if isinstance(value, str):
        return printable(value)
    if value is None or isinstance(value, (bool, int, float)):
        return value
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _members(cls: type) -> list[dataclasses.Field[Any]]:
    """The fields that go into JSON: all but those that are marked otherwise."""
    return [field for field in dataclasses.fields(cls) if field.metadata.get("json", True)]


def dumps(value: Any, *, ascii_only: bool = False) -> str:
    r"""Write one JSON document for people and programs: indented, members in the order of the class.

    Characters that are not seen, or change how others are seen, are written as escapes of JSON: the values stay the
    same.

    Args:
        value: What `to_json` takes.
        ascii_only: Write all characters beyond ASCII so, for an output that cannot hold them.

    Source:
        RFC 8259, section 7: any character may be escaped; beyond the Basic Multilingual Plane as two halves.

    Example:
        >>> print(dumps(["U4 \u202e \x9b", "caf\xe9"]))
        [
          "U4 \u202e \u009b",
          "café"
        ]
    """
    return UNSEEN.sub(lambda found: json.dumps(found[0])[1:-1], _indented(value, ascii_only))


def dumps_kept(value: Any) -> str:
    """Write one JSON document to be kept, as `dumps` but without its escapes: its bytes are digested and compared."""
    return _indented(value, False)


def _indented(value: Any, ascii_only: bool) -> str:
    return json.dumps(to_json(value), indent=2, ensure_ascii=ascii_only, allow_nan=False)


def canonical(value: Any) -> bytes:
    r"""Write the canonical form of RFC 8785, for digesting.

    Only what our records hold is accepted: no floating-point numbers, integers within 53 bits. Keys are
    plain ASCII, for which sorting by code point equals the sorting by UTF-16 unit that the RFC asks for.

    Raises:
        TypeError: For a floating-point number or an integer that JSON cannot carry exactly.

    Source:
        RFC 8785, sections 3.2.2 and 3.2.3.

    Example:
        >>> canonical({"b": 1, "a": "\u20ac"})
        b'{"a":"\xe2\x82\xac","b":1}'
    """
    plain = to_json(value)
    _check_exact(plain)
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _check_exact(value: Json) -> None:
    if isinstance(value, float) or (isinstance(value, int) and abs(value) >= 1 << 53):
        raise TypeError(f"{value!r} has no exact canonical JSON form; keep it as a string")
    if isinstance(value, list):
        for item in value:
            _check_exact(item)
    if isinstance(value, dict):
        for key, item in value.items():
            if not key.isascii():
                raise TypeError(f"the key {key!r} is not plain ASCII")
            _check_exact(item)


def printable(name: str) -> str:
    r"""Replace what text cannot carry: bytes of a file name that are not UTF-8.

    Example:
        >>> printable("rom\udcff.bin")
        'rom\ufffd.bin'
    """
    return "".join("\ufffd" if 0xD800 <= ord(c) <= 0xDFFF else c for c in name)


def one_line(name: str) -> str:
    r"""Make a name safe to print on one line of a terminal: control characters are shown as escapes.

    Example:
        >>> one_line("a\nb\x1b[2J\udcff")
        'a\\nb\\x1b[2J\ufffd'
    """
    if name.isascii() and name.isprintable():
        return name
    return escaped("".join(c if c.isprintable() else escape(c) for c in printable(name)))


def exact_name(name: str) -> str | None:
    r"""Give a file name's bytes in Base64 where the printable form lost some, else None.

    Example:
        >>> exact_name("rom.bin"), exact_name("rom\udcff.bin")
        (None, 'cm9t/y5iaW4=')
    """
    if printable(name) == name:
        return None
    return base64.b64encode(name.encode("utf-8", "surrogateescape")).decode("ascii")


def schema_of(document: type) -> Json:
    """Derive the JSON Schema of a result class from its fields and its docstring.

    Example:
        >>> from imagekeeper.errors import Where
        >>> schema_of(Where)["properties"]["line"]["type"]
        ['integer', 'null']
    """
    definitions: dict[str, Json] = {}
    name = getattr(document, "SCHEMA", None)
    result: dict[str, Json] = {"$schema": SCHEMA_DIALECT, **({"title": name} if name else {})}
    result |= _object_schema(document, definitions)
    if definitions:
        result["$defs"] = definitions
    return result


def _object_schema(cls: type, definitions: dict[str, Json], about_what: Any = None) -> dict[str, Json]:
    hints = typing.get_type_hints(cls)
    if about_what is not None:   # a generic class, which has one parameter here
        hints = {name: about_what if isinstance(hint, typing.TypeVar) else hint for name, hint in hints.items()}
    about = _attribute_docs(cls)
    name = getattr(cls, "SCHEMA", None)   # a document inside another keeps its name
    properties: dict[str, Json] = {"schema": {"const": name}} if name else {}
    for field in _members(cls):
        entry = _type_schema(hints[field.name], definitions)
        if field.name in about:
            entry = {**entry, "description": about[field.name]}
        properties[field.name] = entry
    return {
        "type": "object",
        "description": (inspect.getdoc(cls) or "").partition("\n")[0],
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _type_schema(hint: Any, definitions: dict[str, Json]) -> dict[str, Json]:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        options = [_type_schema(a, definitions) for a in arguments]
        if all(set(option) == {"type"} for option in options):
            return {"type": [option["type"] for option in options]}
        return {"anyOf": options}
    if origin is typing.Literal:
        return {"enum": list(arguments)}
    if origin in (tuple, list):
        return {"type": "array", "items": _type_schema(arguments[0], definitions)}
    if origin is dict:
        if arguments[1] is Any:
            return {"type": "object"}
        return {"type": "object", "additionalProperties": _type_schema(arguments[1], definitions)}
    cls = origin or hint
    if dataclasses.is_dataclass(cls):
        assert isinstance(cls, type)
        about_what = arguments[0] if arguments else None
        name = cls.__name__ if about_what is None else f"{cls.__name__}{about_what.__name__}"
        if name not in definitions:
            definitions[name] = {}
            definitions[name] = _object_schema(cls, definitions, about_what)
        return {"$ref": f"#/$defs/{name}"}
    plain = {int: "integer", float: "number", str: "string", bool: "boolean", types.NoneType: "null"}
    if cls in plain:
        return {"type": plain[cls]}
    raise TypeError(f"no JSON Schema for {hint!r}")


def _attribute_docs(cls: type) -> dict[str, str]:
    """Read the `Attributes:` section of a docstring: one entry a field, continued on deeper lines."""
    text = inspect.getdoc(cls) or ""
    _, _, section = text.partition("Attributes:\n")
    docs: dict[str, str] = {}
    name = ""
    for line in section.splitlines():
        if line and not line.startswith("    "):
            break
        if match := re.match(r" {4}(\w+): (.*)", line):
            name = match[1]
            docs[name] = match[2].strip()
        elif name and line.strip():
            docs[name] += " " + line.strip()
    return docs
