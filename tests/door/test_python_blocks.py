"""Python blocks of pages are run: what fails or shows something else is told, and what they print is written anew."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.fixture
def generate(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The script that writes the pages; it and its neighbours are forgotten afterwards."""
    monkeypatch.syspath_prepend(str(DOCS))
    module: ModuleType = importlib.import_module("generate")
    yield module
    for name in ("generate", "python_blocks", "python_pages"):
        sys.modules.pop(name, None)


def page(*blocks: str) -> str:
    return "# A page\n\n" + "\n\n".join(f"```{block}\n```" for block in blocks) + "\n"


def test_blocks_share_their_names_and_the_folder_of_the_sessions(generate: Any, tmp_path: Path) -> None:
    text = page(
        "console\n$ imagekeeper demo --files .",
        "python\nimport imagekeeper\nsize = imagekeeper.read('u4-first.bin').size_bytes",
        "python\n>>> size\n16384",
        "python\nprint(size)",
        "text\nsomething else",
    )
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
    told = generate.with_sessions(text, tmp_path / "first")
    assert told.endswith("```python\nprint(size)\n```\n\n```text\n16384\n```\n")
    assert generate.with_sessions(told, tmp_path / "second") == told


def test_a_block_without_a_text_behind_it_stays_as_it_is(generate: Any, tmp_path: Path) -> None:
    text = page("python\nprint('TIDE')   # TIDE", "console\n$ imagekeeper --version")
    assert "```python\nprint('TIDE')   # TIDE\n```\n\n```console\n$ imagekeeper --version\nimagekeeper " in (
        generate.with_sessions(text, tmp_path)
    )


@pytest.mark.parametrize(
    ("block", "told"),
    [
        ("python\nimport imagekeeper\nimagekeeper.compere()", "has no attribute 'compere'"),
        ("python\n>>> 1 + 1\n3", "Expected:\n    3\nGot:\n    2"),
        ("python\n>>> undefined\n1", "NameError"),
        ("python\ndef broken(:", "SyntaxError"),
    ],
)
def test_a_block_that_fails_is_told(generate: Any, tmp_path: Path, block: str, told: str) -> None:
    with pytest.raises(generate.python_blocks.BlockError) as problem:
        generate.with_sessions(page(block), tmp_path, "page.md")
    assert told in str(problem.value)
    assert "page.md" in str(problem.value)


def test_every_page_of_the_documentation_is_looked_at(generate: Any) -> None:
    looked_at = {*generate.pages(), *generate.REFERENCE.rglob("python/*.md")}
    for file in (DOCS.parent / "README.md", DOCS.parent / "DEVELOPERS.md", *DOCS.rglob("*.md")):
        if "```python" in file.read_text("utf-8") and "_build" not in file.parts:
            assert file in looked_at
