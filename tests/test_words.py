"""One word for one thing: the page of words names classes that there are, and no two public classes share a name."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from collections import defaultdict
from pathlib import Path

import imagekeeper

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "explanation" / "words.md").read_text("utf-8")
WORDS, ANSWERS = PAGE.split("## Answers")


def table(page: str) -> list[list[str]]:
    """The rows of the one table of a page, without its head."""
    rows = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in page.splitlines() if line[:1] == "|"]
    return [[cell.strip("| ") for cell in row] for row in rows[2:]]


def class_at(path: str) -> type:
    """The class that a code span of the page names."""
    match = re.fullmatch(r"`([a-z0-9_.]+)\.([A-Z]\w*)`", path)
    assert match, f"{path} names no class"
    found = getattr(importlib.import_module(f"imagekeeper.{match[1]}"), match[2])
    assert isinstance(found, type)
    assert found.__module__ == f"imagekeeper.{match[1]}", f"{path} is defined elsewhere"
    return found


def public_classes() -> dict[str, list[str]]:
    """Every public class of the package by its name, with the modules that define it."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted((ROOT / "imagekeeper").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name].append(f"{path.relative_to(ROOT)}:{node.lineno}")
    return found


def test_no_two_public_classes_share_a_name() -> None:
    classes = public_classes()
    assert {"Image", "CarrierRecord", "Geometry"} <= set(classes)
    assert {name: places for name, places in classes.items() if len(places) > 1} == {}


def test_every_word_names_a_class_that_there_is() -> None:
    rows = table(WORDS)
    words = [word for word, _, _ in rows]
    assert len(words) == len(set(words)) > 20, "a word stands twice, or the table was not found"
    for word, meaning, path in rows:
        assert meaning, word
        assert class_at(path).__doc__, word


def test_every_answer_of_a_command_stands_in_the_words() -> None:
    documents: dict[str, str] = {}
    for module in pkgutil.walk_packages(imagekeeper.__path__, "imagekeeper."):
        if module.name == "imagekeeper.__main__":
            continue
        for value in vars(importlib.import_module(module.name)).values():
            if isinstance(value, type) and value.__module__ == module.name and "SCHEMA" in vars(value):
                path = f"{module.name.removeprefix('imagekeeper.')}.{value.__name__}"
                documents[f"`{vars(value)['SCHEMA']}`"] = f"`{path}`"
    assert dict(table(ANSWERS)) == documents
