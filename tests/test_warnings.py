"""What our own code is warned of fails a test, what a library is warned of does not: `filterwarnings` in pyproject."""

from __future__ import annotations

import types
import warnings

import pytest

OURS = ["imagekeeper", "imagekeeper.archive.bag", "tests.cli.test_chip", "tests.conftest"]
OTHERS = ["bagit", "ocfl.inventory", "imagekeeperish", "my_tests", "click.core"]

LIBRARY = """
import warnings

def itself():
    warnings.warn("going away", DeprecationWarning)

def of_the_caller():
    warnings.warn("you call what is going away", DeprecationWarning, stacklevel=2)

def drop():
    open(__file__)
"""


@pytest.fixture
def library() -> types.ModuleType:
    module = types.ModuleType("bagit")
    module.__file__ = __file__
    exec(LIBRARY, module.__dict__)   # noqa: S102 - a module whose name is not ours
    return module


@pytest.mark.parametrize("kind", [DeprecationWarning, UserWarning, RuntimeWarning, SyntaxWarning])
@pytest.mark.parametrize("module", OURS)
def test_a_warning_of_ours_is_an_error(module: str, kind: type[Warning]) -> None:
    with pytest.raises(kind, match="worn"):
        warnings.warn_explicit("worn", kind, "some.py", 1, module=module)


@pytest.mark.parametrize("module", OTHERS)
def test_a_warning_of_a_library_is_shown_and_passes(module: str) -> None:
    with warnings.catch_warnings(record=True) as shown:
        warnings.warn_explicit("worn", DeprecationWarning, "some.py", 1, module=module)
    assert [str(one.message) for one in shown] == ["worn"]


def test_it_counts_whom_a_warning_is_for(library: types.ModuleType) -> None:
    with warnings.catch_warnings(record=True) as shown:
        library.itself()
    assert [one.category for one in shown] == [DeprecationWarning]
    with pytest.raises(DeprecationWarning, match="you call"):
        library.of_the_caller()


@pytest.mark.parametrize(
    ("path", "fails"),
    [
        ("/home/ann/imagekeeper/imagekeeper/files.py", True), ("/home/ann/imagekeeper/tests/test_files.py", True),
        ("/home/ann/imagekeeper/.venv/lib/python3.13/site-packages/bagit.py", False), ("/opt/bagit.py", False),
    ],
)  # fmt: skip
def test_a_compiler_warns_by_the_path(path: str, fails: bool) -> None:
    """Of an escape that is none; some versions of Python 3.13 give other warnings to whoever called the compiler."""
    doubtful = "x = '\\d'\n"
    if fails:
        with pytest.raises(SyntaxError, match="escape sequence"):
            compile(doubtful, path, "exec")
    else:
        with warnings.catch_warnings(record=True) as shown:
            compile(doubtful, path, "exec")
        assert len(shown) == 1


def test_a_file_that_nobody_closed_is_an_error_anywhere(library: types.ModuleType) -> None:
    """It is raised where nobody can catch it, and pytest fails the test in which that happens; here it is caught."""
    with pytest.raises(ResourceWarning):
        warnings.warn_explicit("unclosed", ResourceWarning, "some.py", 1, module="bagit")
    seen: list[object] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.unraisablehook", lambda told: seen.append(told.exc_value))
        library.drop()
    assert [type(one) for one in seen] == [ResourceWarning]
    told = pytest.PytestUnraisableExceptionWarning
    with pytest.raises(told):
        warnings.warn_explicit("x", told, "some.py", 1, module="_pytest.unraisableexception")
