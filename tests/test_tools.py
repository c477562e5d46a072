"""A machine without the tools that tests compare with runs the suite all the same, and says what it lacks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests import conftest, tools

HERE = Path(__file__).parent


@pytest.mark.parametrize("name", tools.PACKAGES)
def test_hidden_tools_are_not_found(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.setenv(tools.HIDDEN, "1")
    assert tools.find(name) is None
    assert tools.option_roms() == []
    assert tools.why_not((name,)) == f"hidden by {tools.HIDDEN}: {name} (Debian package {tools.PACKAGES[name]})"


def test_a_tool_is_looked_for_beside_the_path_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv(tools.HIDDEN, raising=False)
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(tools, "_MORE_FOLDERS", (str(tmp_path),))
    assert tools.why_not(("mkfs.fat", "cmp")) == (
        "not installed: mkfs.fat (Debian package dosfstools), cmp (Debian package diffutils)"
    )
    (tmp_path / "mkfs.fat").write_text("#!/bin/sh\n")
    (tmp_path / "mkfs.fat").chmod(0o755)
    assert tools.find("mkfs.fat") == tools.path("mkfs.fat") == str(tmp_path / "mkfs.fat")
    assert tools.why_not(("mkfs.fat",)) is None


def test_a_test_is_skipped_with_the_name_of_what_it_lacks(
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    conftest.pytest_runtest_setup(request.node)   # nothing is asked for yet
    monkeypatch.setenv(tools.HIDDEN, "1")
    request.node.add_marker(tools.needs("xxd"))
    with pytest.raises(pytest.skip.Exception, match="xxd"):
        conftest.pytest_runtest_setup(request.node)


def test_a_tool_that_is_not_listed_is_a_mistake() -> None:
    with pytest.raises(LookupError, match="knows no 'mkfs-fat'"):
        tools.needs("mkfs-fat")


def test_no_test_looks_for_tools_by_itself() -> None:
    """Otherwise hiding them would not hide it; benchmarks are run by hand, where the tools are."""
    program = "|".join(sorted(map(re.escape, tools.PACKAGES), key=len, reverse=True))
    places = rf"shutil\.which|usr/share/seabios|usr/s?bin/(?:{program})"
    own_search = re.compile(rf"{places}|(?:run|Popen)\(\s*\[\"(?:{program})\"")
    found = [
        str(path.relative_to(HERE)) for path in sorted(HERE.rglob("*.py"))
        if path not in (HERE / "tools.py", HERE / "test_tools.py") and "benchmarks" not in path.parts
        and own_search.search(path.read_text("utf-8"))
    ]  # fmt: skip
    assert found == []
    assert own_search.search('subprocess.run(["cmp", "-l"')   # it can fail
