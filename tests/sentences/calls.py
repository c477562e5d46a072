"""Find in the code what is said: every call that takes the key of a sentence, and what it gives to it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import imagekeeper

ROOT = Path(imagekeeper.__file__).parent

#: What takes a key first, with the keywords that are no values of the sentence.
_TAKERS: dict[str, frozenset[str]] = {
    "ContradictionError": frozenset({"where"}), "UsageError": frozenset({"where"}), "InputError": frozenset({"where"}),
    "ArchiveError": frozenset({"where"}), "NotFoundError": frozenset({"where"}),
    "InternalError": frozenset({"where"}),
    "Phrase": frozenset(), "Fault": frozenset(), "_form": frozenset(),
    "Finding.of": frozenset({"where", "detail"}), "Account.of": frozenset({"lines", "detail"}),
    "problems.add": frozenset({"at", "length", "confidence", "detail"}),
    "bench.finding": frozenset({"where", "lines", "detail"}),
    "PinNames(chip).finding": frozenset({"where", "lines", "detail"}),
}  # fmt: skip


@dataclass(frozen=True)
class Call:
    """One call that says something.

    Attributes:
        place: File and line.
        taker: What is called.
        keys: The keys that it may say: several where a condition chooses.
        values: The values it gives by keyword.
        known: The values that stand in for others: of a literal detail, and the pins of lines.
        open: Whether it may give more than can be seen here.
    """

    place: str
    taker: str
    keys: tuple[str, ...]
    values: frozenset[str]
    known: frozenset[str]
    open: bool


def modules() -> Iterator[tuple[str, ast.Module]]:
    """The modules of the package, but for the sentences themselves."""
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if not name.startswith("sentences/") and name != "cli/next_steps.py":
            yield name, ast.parse(path.read_text("utf-8"))


def calls() -> Iterator[Call]:
    """Every call that takes the key of a sentence."""
    for name, tree in modules():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in _TAKERS and node.args:
                yield _call(f"{name}:{node.lineno}", ast.unparse(node.func), node)


def _call(place: str, taker: str, node: ast.Call) -> Call:
    other = _TAKERS[taker]
    named = {keyword.arg: keyword.value for keyword in node.keywords if keyword.arg is not None}
    known = {"pins"} if "lines" in named and "lines" in other else set()
    more = any(keyword.arg is None for keyword in node.keywords)
    detail = named.get("detail") if "detail" in other else None
    if isinstance(detail, ast.Dict):
        known |= {key.value for key in detail.keys if isinstance(key, ast.Constant)}
        more |= None in detail.keys
    elif detail is not None:
        more = True
    keys = tuple(_literals(node.args[0]))
    return Call(place, taker, keys, frozenset(named) - other, frozenset(known), more)


def _literals(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _literals(node.body)
        yield from _literals(node.orelse)


def literals() -> set[str]:
    """All strings that stand in the code, docstrings included."""
    return {
        node.value
        for _, tree in modules()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
