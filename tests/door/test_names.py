"""The names of the door: exactly these, loaded when they are used, and none of them taken by a room of the package."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import imagekeeper

ROOT = Path(__file__).parents[2]

#: What docs/explanation/what-stays.md promises. A name may be added with a version of the second number; taking one
#: away needs an announcement, as that page says: change this list only with that page and the list of changes.
NAMES = [
    "Archive", "ArchiveError", "ContradictionError", "Image", "ImagekeeperError", "InputError", "NotFoundError",
    "UsageError", "__version__", "check_rows", "compare", "convert", "encode", "find_chip", "find_format",
    "fingerprint", "hexdump", "html", "inspect", "list_chips", "list_formats", "match_drives", "narrow_chip",
    "open_disk", "open_image", "own_rows", "plan_chip", "plan_disk", "read", "selfcheck", "solve", "substitute",
    "svg", "text", "to_json", "vote", "vote_image",
]  # fmt: skip


def test_the_names_are_exactly_these() -> None:
    assert imagekeeper.__all__ == NAMES
    assert dir(imagekeeper) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_each_name_is_there_and_says_what_it_is(name: str) -> None:
    found = getattr(imagekeeper, name)
    assert found.__doc__ if name != "__version__" else found.count(".") == 2


def test_an_unknown_name_is_told_as_in_any_module() -> None:
    with pytest.raises(AttributeError, match="module 'imagekeeper' has no attribute 'compere'"):
        imagekeeper.compere   # noqa: B018


def test_type_checkers_see_what_is_loaded() -> None:
    """The imports for type checkers and the table for run time name the same things from the same modules."""
    tree = ast.parse((ROOT / "imagekeeper" / "__init__.py").read_text("utf-8"))
    (block,) = [node for node in tree.body if isinstance(node, ast.If)]
    seen = {
        (str(one.module).removeprefix("imagekeeper."), alias.name)
        for one in block.body if isinstance(one, ast.ImportFrom) for alias in one.names
    }  # fmt: skip
    assert seen == {(module, name) for module, names in imagekeeper._DOOR.items() for name in names}
    assert {name for _, name in seen} == set(NAMES) - {"__version__"}


def test_no_room_of_the_package_takes_the_name_of_a_function() -> None:
    """A submodule becomes an attribute of its package as soon as anybody imports it, and would hide the function."""
    package = ROOT / "imagekeeper"
    rooms = {path.stem for path in package.glob("*.py")} | {path.parent.name for path in package.glob("*/__init__.py")}
    assert "door" in rooms
    assert not rooms & set(NAMES)


PROBE = """
import sys
before = set(sys.modules)
import imagekeeper
new = set(sys.modules) - before
assert new == {"imagekeeper", "imagekeeper.version"}, new
imagekeeper.find_chip("2716")
print(*[name for name in ("numpy", "click", "tqdm", "sqlite3", "filelock", "platformdirs", "jinja2", "segno")
        if name in sys.modules])
from imagekeeper import *
print(compare is imagekeeper.compare, callable(fingerprint))
"""


def test_importing_loads_nothing_and_a_name_only_what_it_needs() -> None:
    done = subprocess.run([sys.executable, "-c", PROBE], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["", "True True"]


def test_every_name_has_a_page_with_an_example() -> None:
    folder = ROOT / "docs" / "reference" / "python"
    index = (folder / "index.md").read_text("utf-8")
    for name in NAMES:
        page = folder / f"{name.strip('_')}.md"
        assert ">>> " in page.read_text("utf-8"), name
        assert f"[`{name}`]({page.name})" in index


def test_the_version_is_that_of_the_package() -> None:
    import tomllib

    about = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert imagekeeper.__version__ == about["project"]["version"]
