"""Results and table rows of more than four values are built by name: neighbours of one type are easily exchanged."""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parent.parent
SOURCES = [path.read_text("utf-8") for path in sorted((ROOT / "imagekeeper").rglob("*.py"))]

#: A class that takes more values than this takes them by name.
BY_PLACE = 4

#: Classes that take more of them by place all the same, with the reason.
EXCEPTIONS = {
    "Where": "file, address, length: the order is that of speech, and what follows is given by name",
}


def dataclass_options(node: ast.ClassDef) -> set[str] | None:
    """The options of the dataclass that a class is, or None."""
    for made in node.decorator_list:
        call = made if isinstance(made, ast.Call) else None
        if ast.unparse(call.func if call else made) in ("dataclass", "dataclasses.dataclass"):
            return {word.arg or "" for word in call.keywords if ast.unparse(word.value) == "True"} if call else set()
    return None


def taken(node: ast.ClassDef) -> int:
    """How many values the constructor of a dataclass takes."""
    fields = [one for one in node.body if isinstance(one, ast.AnnAssign)]
    return sum("ClassVar" not in ast.unparse(one.annotation) and "init=False" not in ast.unparse(one) for one in fields)


def test_wide_results_and_rows_are_built_by_name() -> None:
    wide, by_place = 0, set()
    for source in SOURCES:
        for node in ast.walk(ast.parse(source)):
            options = dataclass_options(node) if isinstance(node, ast.ClassDef) else None
            if isinstance(node, ast.ClassDef) and options is not None and taken(node) > BY_PLACE:
                wide += 1
                if "kw_only" not in options:
                    by_place.add(node.name)
    assert wide > 100
    assert by_place == set(EXCEPTIONS)
