"""Every text, with results that are hostile in each of their words: nothing reaches a terminal that drives it."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import types
import typing
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import Where
from imagekeeper.findings import CODES, Finding
from imagekeeper.legible import UNSEEN
from imagekeeper.present import text
from imagekeeper.present.text.formats import VERDICTS
from imagekeeper.present.text.paper import Paper, Tone, finished, page, painted, set_on
from imagekeeper.present.text.parts import table, wrapped
from imagekeeper.tables import sources
from imagekeeper.tables.chips import AVAILABILITY, TECHNOLOGIES
from imagekeeper.tables.drives import drive_rows, medium_rows

#: Clears a screen, names a window, rings, ends a line, turns the direction of writing, and ends on half a character.
HOSTILE = "U4\x1b[2J\x1b]0;mine\x07\r\n\u202egnp\x9b31m\udcff"

#: Words that are keys of our own tables, or numbers, and are checked where they come in: by the name of their field.
KEYS = {
    "code": next(iter(CODES)), "technology": next(iter(TECHNOLOGIES)), "availability": next(iter(AVAILABILITY)),
    "encoding": "mfm", "verdict": next(iter(VERDICTS)), "drive": next(iter(drive_rows())),
    "medium": next(iter(medium_rows())), "vcc": "5.0", "temperature": "21.5",
    "sources": next(iter(sources())),
}  # fmt: skip


def names_of(module: types.ModuleType) -> dict[str, Any]:
    """What a module knows by name, also what it imports for its types alone."""
    names = dict(vars(module))
    for node in ast.parse(inspect.getsource(module)).body:
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            exec(compile(ast.Module(node.body, []), module.__name__, "exec"), names)   # noqa: S102  our own imports
    return names


def renderings() -> Iterator[tuple[str, Callable[..., str], type]]:
    """Every public text with the class of the result that it takes."""
    for found in pkgutil.iter_modules(text.__path__, f"{text.__name__}."):
        module = importlib.import_module(found.name)
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module.__name__ and name.endswith("_text") and not name.startswith("_"):
                hint = next(iter(typing.get_type_hints(function, names_of(module)).values()))
                for cls in typing.get_args(hint) or (hint,):
                    yield name, function, cls


def made(hint: Any, name: str = "") -> Any:
    """Make a value of a type in which every word that can come from outside is hostile."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if name == "groups":   # numbers of the two reads that a comparison is made with here
        return ((1,), (2,))
    if origin is typing.Literal:
        return arguments[0]
    if origin in (typing.Union, types.UnionType):
        return made(next(one for one in arguments if one is not types.NoneType), name)
    if hint is str:
        return KEYS.get(name, HOSTILE)
    if origin is tuple or hint is tuple:
        each = arguments[:1] * 2 if arguments[-1] is Ellipsis else arguments
        return tuple(made(one, name) for one in each)
    if origin is dict or hint is dict:
        return {made(arguments[0]): made(arguments[1], name)} if arguments else {}
    cls = origin or hint
    if cls is Finding:   # its sentences come from its key; names in them come from outside
        told = {"read": HOSTILE, "times": 2, "size_bytes": 2048}
        return Finding.of("mirrored/reads", "warning", 0.5, made(Where), other=HOSTILE, detail=told)
    if dataclasses.is_dataclass(cls):
        hints = typing.get_type_hints(cls)
        if typing.get_args(hint):   # a generic one: its parameter is what it is about
            parameter = cls.__parameters__[0]
            hints = {key: typing.get_args(hint)[0] if one is parameter else one for key, one in hints.items()}
        return cls(**{f.name: made(hints[f.name], f.name) for f in dataclasses.fields(cls) if f.init})
    plain = {int: 1, float: 0.5, bool: True, bytes: b"\x1b", typing.Any: HOSTILE, object: HOSTILE}
    return plain[hint]


CASES = list(renderings())


def test_every_kind_of_result_has_a_text() -> None:
    names = {name for name, _, _ in CASES}
    assert {"audit_text", "repaired_text", "comparison_text", "carrier_text", "search_text", "sheet_text"} <= names
    assert len(CASES) >= 40


def test_every_result_has_its_text() -> None:
    """A result can be shown without knowing which it is, all but the rows of a hexdump."""
    shown_classes = {cls.__name__: cls for _, _, cls in CASES}
    assert set(shown_classes) == set(text.TEXTS)
    for name, cls in shown_classes.items():
        shown = [one for _, one, taken in CASES if taken is cls and text.TEXTS[name].endswith(f".{one.__name__}")]
        assert len(shown) == 1, name
        assert text.text_of(made(cls)) == shown[0](made(cls))
    with pytest.raises(TypeError, match="no text of str"):
        text.text_of("U4")


@pytest.mark.parametrize(
    ("function", "cls"), [case[1:] for case in CASES], ids=[f"{name}-{cls.__name__}" for name, _, cls in CASES]
)
def test_no_word_of_a_result_drives_the_terminal(function: Callable[..., str], cls: type) -> None:
    shown = function(made(cls))
    assert all(line.isprintable() for line in shown.split("\n")), shown
    assert "\\x1b" in shown   # what was hostile is there to be seen


@given(words=st.text())
def test_any_words_stay_on_their_line(words: str) -> None:
    for shown in (page([words]), page([painted(words, "bad")]), page(table([[words]])), page(["a" + words + "b"])):
        assert shown.isprintable()
    assert all(line.isprintable() for line in page(wrapped("  why: ", words)).split("\n"))


@given(words=st.text(alphabet=st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"))))
def test_words_that_are_printed_stay_as_they_are(words: str) -> None:
    words = UNSEEN.sub("", words)   # letters and marks that are shown as nothing
    assert finished(words) == words
    assert finished(painted(words, "strong")) == words


def test_paint_is_asked_for_by_what_words_mean_and_gets_them_harmless() -> None:
    seen: list[tuple[str, Tone]] = []

    def paint(words: str, tone: Tone) -> str:
        seen.append((words, tone))
        return f"\x1b[1m{words}\x1b[0m"

    with set_on(Paper(paint=paint)):
        shown = page([painted("bad\x1b[2J", "bad") + " and \x1b[2J" + painted("good", "good")])
    assert seen == [("bad\\x1b[2J", "bad"), ("good", "good")]
    assert shown == "\x1b[1mbad\\x1b[2J\x1b[0m and \\x1b[2J\x1b[1mgood\x1b[0m"
    assert page([painted("bad", "bad")]) == "bad"   # without a paper no colour, and none is left behind


def test_sentences_are_broken_where_the_paper_ends() -> None:
    words = "read it again " * 20
    for width in (40, 72, 110):
        with set_on(Paper(width=width)):
            lines = wrapped("  next: ", words)
        assert max(map(len, lines)) <= width
        assert len(lines) > 1
    assert max(map(len, wrapped("", words))) <= 100
