"""The text of a bench file: tables written at its end, taken out, or given other members; the rest stays as it is."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Sequence

from imagekeeper.drives.bench import KINDS
from imagekeeper.errors import UsageError
from imagekeeper.sentences.say import Phrase

#: A member of a table: lists may hold lists.
Value = str | int | bool | Sequence["Value"] | None


def head() -> str:
    """The lines that a new bench file begins with."""
    return f"# {Phrase('step/bench-head')}\n# {Phrase('step/bench-by-hand')}\n"


def entry(kind: str, **members: Value) -> str:
    r"""Write one table of a bench file.

    Raises:
        UsageError: `unknown-name` for a kind that is not.

    Example:
        >>> print(entry("medium", **{"class": "5.25-dd", "count": 10}))
        <BLANKLINE>
        [[medium]]
        class = "5.25-dd"
        count = 10
        <BLANKLINE>
    """
    if kind not in KINDS:
        raise UsageError("unknown-name/bench", kind=kind, known=KINDS)
    lines = [f"{name} = {_value(value)}" for name, value in members.items() if value is not None and value != ()]
    return "\n".join(["", f"[[{kind}]]", *lines, ""])


def without_entry(text: str, kind: str, name: str, because: str) -> str:
    r"""Take one table out of a bench file: its lines stay as comments, with the reason.

    Args:
        text: The file.
        kind: The kind of the table.
        name: The name of the thing, or the class of the disks.
        because: Why, for the comment.

    Raises:
        UsageError: `unknown-name` where there is no such thing.

    Example:
        >>> print(without_entry('[[reader]]\nname = "A"\n\n[[reader]]\nname = "B"\n', "reader", "A", "sold"))
        # taken away: sold
        # [[reader]]
        # name = "A"
        <BLANKLINE>
        [[reader]]
        name = "B"
        <BLANKLINE>
    """
    lines, begins = _tables(text)
    member = "class" if kind == "medium" else "name"
    held = tomllib.loads(text).get(kind, [])
    number = next((n for n, row in enumerate(held) if row.get(member) == name), None)
    of_kind = [at for at, named in begins.items() if named == kind]
    if number is None or number >= len(of_kind):
        known = [str(row.get(member)) for row in held] or ["none"]
        raise UsageError("unknown-name/on-bench", kind=kind, name=name, known=known)
    begin = of_kind[number]
    end = min([at for at in begins if at > begin], default=len(lines))
    while end > begin and not lines[end - 1].strip():
        end -= 1   # the blank lines before the next table stay
    gone = [f"# taken away: {' '.join(because.split())}", *(f"# {line}" for line in lines[begin:end])]
    return "\n".join([*lines[:begin], *gone, *lines[end:]])


def _tables(text: str) -> tuple[list[str], dict[int, str]]:
    """Give the lines of a bench file, and where each of its tables begins, with the table's name."""
    lines = text.split("\n")
    heads = ((at, re.match(r"\s*\[\[?\s*([\w-]+)\s*\]", line)) for at, line in enumerate(lines))
    return lines, {at: head[1] for at, head in heads if head}


def with_members(text: str, name: str, members: dict[str, str]) -> str:
    r"""Write members into the table of a reader, in the place of those of the same names.

    Raises:
        UsageError: `unknown-name` where there is no such reader.

    Example:
        >>> print(with_members('[[reader]]\nname = "A"\n', "A", {"note": "new"}))
        [[reader]]
        name = "A"
        note = "new"
        <BLANKLINE>
    """
    lines, begins = _tables(text)
    held = tomllib.loads(text).get("reader", [])
    number = next((n for n, row in enumerate(held) if row.get("name") == name), None)
    of_kind = [at for at, named in begins.items() if named == "reader"]
    if number is None or number >= len(of_kind):
        known = [str(row.get("name")) for row in held] or ["none"]
        raise UsageError("unknown-name/on-bench", kind="reader", name=name, known=known)
    begin = of_kind[number]
    end = min([at for at in begins if at > begin], default=len(lines))
    kept = [line for line in lines[begin:end] if line.partition("=")[0].strip() not in members]
    while kept and not kept[-1].strip():
        kept.pop()
    new = [f"{member} = {_value(value)}" for member, value in members.items()]
    return "\n".join([*lines[:begin], *kept, *new, "", *lines[end:]])


def _value(value: Value) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")   # a basic string of TOML
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"[{', '.join(map(_value, value))}]" if isinstance(value, Sequence) else str(value)
