"""An import inside a function says why it is not at the top."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in (ROOT / "imagekeeper").rglob("*.py")}


def late_imports(source: str) -> Iterator[ast.Import | ast.ImportFrom]:
    """The imports inside functions."""
    for function in ast.walk(ast.parse(source)):
        if isinstance(function, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield from (node for node in ast.walk(function) if isinstance(node, (ast.Import, ast.ImportFrom)))


def without_reason(source: str) -> list[int]:
    """The lines of late imports with no comment on the line or above; imports that follow each other share one."""
    lines = source.splitlines()
    late: dict[int, int] = {}   # every line of such an import, with its first
    for node in late_imports(source):
        late |= dict.fromkeys(range(node.lineno, (node.end_lineno or node.lineno) + 1), node.lineno)

    def has_reason(line: int) -> bool:
        if "  # " in lines[line - 1] or lines[line - 2].strip().startswith("# "):
            return True
        return line - 1 in late and has_reason(late[line - 1])

    return sorted({start for start in late.values() if not has_reason(start)})


@pytest.mark.parametrize(
    ("body", "missing"),
    [
        ("import json  # slow", []),
        ("# slow\n    import json\n    from a import (\n        b,\n    )\n    import c", []),
        ("import json", [2]),
        ("x = 1  # so\n    import json", [3]),
    ],
)
def test_what_a_late_import_needs(body: str, missing: list[int]) -> None:
    assert without_reason(f"def f():\n    {body}\n") == missing


def test_every_late_import_says_why() -> None:
    found = {name: lines for name, source in SOURCES.items() if (lines := without_reason(source))}
    assert sum(1 for source in SOURCES.values() for _ in late_imports(source)) > 50
    assert found == {}
