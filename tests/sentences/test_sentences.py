"""Every sentence exists that the code says, with the values that it needs, and no other does."""

from __future__ import annotations

import ast
import pickle
import string
from collections import Counter
from collections.abc import Iterator
from importlib import import_module

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import errors, findings
from imagekeeper.cli import COMMANDS, _own_words, root, run
from imagekeeper.cli.next_steps import NEXT
from imagekeeper.sentences import say, template, voice
from imagekeeper.sentences.say import Phrase, needed, said, sentences
from imagekeeper.sentences.says import Says
from tests.sentences.calls import calls, literals, modules

SAYS = sentences()
CALLS = list(calls())

#: The command line says this itself: nothing below it stops a program from the keyboard.
TOLD_BY_THE_SHELL = {"interrupted"}

#: Keys that are put together: a code, and how many more of it there are.
COUNTED = ("more", "many")

#: Keys that are put together: what a cause is called in a sentence about several, by its code.
CALLED = "cause/"


def words(key: str) -> Iterator[Says]:
    yield SAYS[key]
    if key in NEXT:
        yield NEXT[key]


# --- keys ---


def test_every_key_that_is_said_has_its_sentence() -> None:
    assert len(CALLS) > 500
    missing = [(call.place, key) for call in CALLS for key in call.keys if key not in SAYS]
    assert not missing


def test_every_sentence_is_said() -> None:
    said_somewhere = literals()
    unused = [
        key for key in SAYS
        if key not in said_somewhere and key.partition("/")[2] not in COUNTED and not key.startswith(CALLED)
    ]  # fmt: skip
    assert not unused


def test_a_cause_is_called_what_its_code_says() -> None:
    """Where causes are weighed against each other, each is named in a few words."""
    told = {key.removeprefix(CALLED) for key in SAYS if key.startswith(CALLED)}
    diagnosed = _codes("comparison/", "Account.of") - {"not-diagnosed"}
    assert len(diagnosed) > 25
    assert diagnosed - told == set()
    assert told <= set(findings.CODES)


def test_whoever_counts_more_of_a_code_finds_the_words_for_it() -> None:
    told = {
        (node.values[-1].value if isinstance(node.values[-1], ast.Constant) else "")
        for _, tree in modules() for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr) and node.values
    }  # fmt: skip
    assert {f"/{name}" for name in COUNTED} <= told
    in_directories = _codes("filesystems/directory_check", "Finding.of")
    assert len(in_directories) > 5
    assert [code for code in in_directories if f"{code}/many" not in SAYS] == []
    in_volumes = _codes("filesystems/", "problems.add")
    assert len(in_volumes) > 10
    assert [code for code in in_volumes if f"{code}/more" not in SAYS] == []
    assert all(set(needed(SAYS[key])) == {"more"} for key in SAYS if key.partition("/")[2] in COUNTED)


def _codes(place: str, taker: str) -> set[str]:
    return {
        key.partition("/")[0]
        for call in CALLS if call.place.startswith(place) and call.taker == taker for key in call.keys
    }  # fmt: skip


def test_every_code_has_a_sentence() -> None:
    told = {key.partition("/")[0] for key in SAYS}
    assert told - {"step", "experiment", "cause"} == {*errors.CODES, *findings.CODES} - TOLD_BY_THE_SHELL


def test_an_error_says_all_three_things() -> None:
    """A key that is raised has what, why and next; a part of a sentence, or a finding, may have fewer."""
    raised = {
        key
        for _, tree in modules() for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("Error") and node.args
        and isinstance(node.args[0], ast.Constant) and (key := node.args[0].value) in SAYS
    }  # fmt: skip
    assert len(raised) > 150
    assert [key for key in sorted(raised) if not (SAYS[key].what and SAYS[key].why and SAYS[key].next)] == []


def test_no_key_stands_twice() -> None:
    counts = Counter(key for name in say.MODULES for key in import_module(f"imagekeeper.sentences.{name}").SAYS)
    assert [key for key, count in counts.items() if count > 1] == []
    assert len(counts) == len(SAYS)


def test_the_command_line_speaks_only_of_what_there_is_and_only_where_it_differs() -> None:
    assert set(NEXT) <= set(SAYS)
    same = [
        (key, part)
        for key, own in NEXT.items() for part in ("what", "why", "next")
        if getattr(own, part) == getattr(SAYS[key], part) != ""
    ]  # fmt: skip
    assert same == []


# --- values ---


def test_every_call_gives_what_its_sentences_need_and_nothing_else() -> None:
    wrong = []
    for call in CALLS:
        if not call.keys:
            continue
        wanted = {name for key in call.keys if key in SAYS for one in words(key) for name in needed(one)}
        for key in call.keys:
            lacking = {name for one in words(key) for name in needed(one)} - call.values - call.known
            if lacking and not call.open:
                wrong.append((call.place, key, "lacks", sorted(lacking)))
        if call.values - wanted:
            wrong.append((call.place, call.keys, "gives in vain", sorted(call.values - wanted)))
    assert wrong == []


def test_placeholders_are_plain_names_and_none_means_something_else() -> None:
    reserved = {"about", "self", "severity", "confidence", "detail", "where"}
    names = {name for key in SAYS for one in words(key) for name in needed(one)}
    assert [name for name in names if not name.isidentifier() or name in reserved] == []
    forms = {
        form.partition(" ")[0]
        for key in SAYS for one in words(key) for text in (one.what, one.why, one.next)
        for _, name, form, _ in string.Formatter().parse(text) if name and form and form[0].isalpha() and len(form) > 1
    }  # fmt: skip
    assert forms <= {"size", "plural", "list", "line", "quoted"}


value = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.binary(), st.lists(st.text()))


@given(st.data())
def test_saying_never_raises(data: st.DataObject) -> None:
    key = data.draw(st.sampled_from(sorted(SAYS)))
    names = sorted({name for one in words(key) for name in needed(one)})
    given_values = data.draw(st.fixed_dictionaries({}, optional=dict.fromkeys(names, value)))
    for speaker in (None, lambda: NEXT):
        with voice.speaking(speaker):
            for part in ("what", "why", "next"):
                assert isinstance(said(key, part, given_values), str)


def test_a_value_that_is_missing_shows_its_name_and_a_key_without_sentence_shows_itself() -> None:
    assert template.fill("{stated:02X} of {size:size}, {reads!r}", {"size": 1}) == "stated of 1 byte, reads"
    assert said("usage/of-nothing", "why", {}) == "usage/of-nothing"


# --- who speaks ---


def test_below_the_command_line_no_sentence_names_a_command_or_an_option() -> None:
    """Neither here nor in the code: a program that calls the jobs has no options."""
    from tests.sentences.naming import naming

    assert all(map(naming, ("imagekeeper carrier show u4", "take `--fill FF`", "run archive audit")))
    assert not any(map(naming, ("a floppy disk", "the archive is damaged", "an image - or two")))
    found = [
        (name, node.lineno, node.value[:80])
        for name, tree in modules() if not name.startswith(("cli/", "present/", "__main__"))
        for node, is_doc in _strings(tree) if not is_doc and naming(node.value)
    ]  # fmt: skip
    assert found == []
    assert [key for key, one in SAYS.items() if naming(f"{one.what} {one.why} {one.next}")] == []


def test_all_that_the_command_line_says_by_itself_names_one() -> None:
    """Otherwise the words could stand with the others, for everybody."""
    from tests.sentences.naming import naming

    plain = {
        "carrier-exists/meanwhile": "command",
        "usage/nothing-to-search": "option", "archive-busy/changed": "command",
        "archive-damaged/record": "run the audit",
        "step/fewer-choices": "option", "usage/count-to-join": "IN", "too-much-work/time": "environment",
    }  # fmt: skip
    for key, own in NEXT.items():
        text = f"{own.what} {own.why} {own.next}"
        assert naming(text) or plain.get(key, "\0") in text, key


def _strings(tree: ast.Module) -> Iterator[tuple[ast.Constant, bool]]:
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node, id(node) in docs


def test_who_speaks_is_heard_and_forgotten_again(capsys: pytest.CaptureFixture[str]) -> None:
    problem = errors.UsageError("exists/output", name="u4.bin")
    assert problem.hint == "give another name, or say that it is to be replaced"
    with voice.speaking(_own_words):
        assert problem.hint == "give another name, or --force to replace it"
    assert problem.hint == "give another name, or say that it is to be replaced"
    assert run(["fingerprint", "nothing-of-this-name"]) == 5
    assert run(["carrier", "show", "u4", "--archive", "nothing-of-this-name"]) == 5
    assert "give the archive's folder with --archive, or make one with archive init" in capsys.readouterr().err
    assert voice.words("exists/output") is None


# --- errors and findings ---


def test_an_error_travels_whole() -> None:
    problem = errors.InputError("record-digits/odd", digits=3).at(file="u4.hex")
    problem.adding(next=Phrase("not-this-kind/or-another"))
    again = pickle.loads(pickle.dumps(problem))   # noqa: S301  our own
    assert (again.code, again.about, again.values) == ("record-digits", "record-digits/odd", {"digits": 3})
    assert (again.what, again.why, again.hint, again.where) == (
        problem.what, problem.why, problem.hint, problem.where
    )
    assert str(again) == "a record holds an odd number of digits: there are 3 of them: one is missing"
    assert again.hint.endswith("; or name another kind, or take the file's bytes as they are, as raw")


def test_a_finding_keeps_its_key_and_values_out_of_its_json() -> None:
    from imagekeeper.jsonable import schema_of, to_json

    found = findings.Finding.of("space-lost", "warning", 1.0, size=2048, runs=1, detail={"clusters": 2})
    assert (found.about, found.values) == ("space-lost", {"size": 2048, "runs": 1})
    members = ["code", "severity", "confidence", "where", "why", "hint", "detail"]
    assert list(to_json(found)) == members == list(schema_of(findings.Finding)["properties"])
    assert found.why == "2 clusters in 1 chain: marked used, and no file uses them"


def test_commands_are_known_to_these_tests() -> None:
    with click.Context(root) as context:
        assert set(root.list_commands(context)) == set(COMMANDS)
