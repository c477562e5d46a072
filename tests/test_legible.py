"""Each output's gate, with every character that none of them may let through."""

from __future__ import annotations

import io
import json
import sys
import xml.etree.ElementTree as ET
from typing import cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.cli._terminal import Gate, beneath, gated, paint
from imagekeeper.errors import NotFoundError
from imagekeeper.jobs.carriers.csv_tables import guarded, unguarded, with_unseen, without_unseen, write_sheet
from imagekeeper.jobs.disks.safe_names import safe_name
from imagekeeper.jsonable import canonical, dumps, dumps_kept, one_line
from imagekeeper.legible import escaped, shortened, visible
from imagekeeper.planning.sheet import Sheet
from imagekeeper.present.html.sheet_page import render_sheet
from imagekeeper.present.svg.shapes import Drawing
from imagekeeper.present.text.paper import page, painted
from imagekeeper.provenance.fields import write_json
from tests import forbidden

NAMES = [f"U+{ord(one):04X}" for one in forbidden.ALL]

each = pytest.mark.parametrize("bad", forbidden.ALL, ids=NAMES)


def through(text: str, encoding: str = "utf-8") -> str:
    """What the gate of the terminal makes of a text."""
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding, newline="")
    Gate(stream).write(text)
    stream.flush()
    return raw.getvalue().decode(encoding)


@each
def test_the_terminal(bad: str) -> None:
    shown = through(f"U4{bad}.bin\n")
    assert not forbidden.found(shown)
    assert shown.startswith("U4\\")
    assert shown.endswith(".bin\n")
    assert not forbidden.found(page([f"U4{bad}.bin", painted(bad, "bad")]))
    assert not forbidden.found(one_line(bad))


@each
def test_json(bad: str) -> None:
    """RFC 8259, section 7: an escape is the same value. For a half alone the replacement character stands."""
    shown = dumps({f"a{bad}": [f"U4{bad}"]})
    assert not forbidden.found(shown.replace("\n", ""))
    meant = "\ufffd" if bad in forbidden.HALVES else bad
    assert json.loads(shown)[f"a{bad}"] == [f"U4{meant}"]
    assert dumps(f"{bad}é", ascii_only=True).isascii()


@each
def test_errors(bad: str) -> None:
    problem = NotFoundError("carrier-missing", id=f"U4{bad}")
    assert not forbidden.found(f"{problem}{problem.hint}")
    assert "U4" in str(problem)


@each
def test_csv(bad: str) -> None:
    shown = write_sheet(["id"], [[f"U4{bad}"], [bad + "=1"]]).decode().replace("\r\n", "\n")
    assert not forbidden.found(shown)


@each
def test_html(bad: str) -> None:
    shown = render_sheet(Sheet(title=f"U4{bad}", parts=(), steps=(bad,), cautions=(), sources=()))
    assert not forbidden.found(shown)
    assert "U4" in shown


@each
def test_svg(bad: str) -> None:
    drawing = Drawing(100, 50, f"U4{bad}", bad)
    drawing.text(1, 2, bad)
    drawing.rectangle(1, 2, 3, 4, "#000000", note=bad)
    shown = drawing.text_of()
    assert not forbidden.found(shown)
    ET.fromstring(shown)   # noqa: S314  our own: XML 1.0, section 2.2, would refuse a raw control character


@each
def test_names_of_files_that_are_taken_from_a_disk(bad: str) -> None:
    assert not forbidden.found(safe_name(f"U4{bad}.BIN"))


@each
def test_what_is_digested_or_kept_stays_as_it_was(bad: str) -> None:
    """RFC 8785, section 3.2.2.2: only what JSON demands is escaped, so the archive's digests stay what they are."""
    if bad in forbidden.HALVES:
        return
    assert canonical([bad]) == json.dumps([bad], ensure_ascii=False, separators=(",", ":")).encode()
    assert dumps_kept([bad]) == json.dumps([bad], ensure_ascii=False, indent=2)
    assert write_json({"id": bad}) == (json.dumps({"id": bad}, ensure_ascii=False, indent=2) + "\n").encode()


@given(st.text(st.characters(codec="utf-8")))
def test_json_is_the_same_value_whatever_it_is(text: str) -> None:
    assert json.loads(dumps([text])) == [text]
    assert json.loads(dumps([text], ascii_only=True)) == [text]


PARTS = [*"\\uU0123e2aA \n", "\u202e", "\x00", "\U000e0041", "\\u202e", "\\U000e0041", "\\ud800", "\\u0041"]


@given(st.lists(st.sampled_from(PARTS)))
def test_a_cell_comes_back(parts: list[str]) -> None:
    text = "".join(parts)
    shown = without_unseen(text)
    assert with_unseen(shown) == text
    assert not forbidden.found(shown)


def test_a_cell_of_backslashes_takes_no_time() -> None:
    slashes = "\\" * 200_000
    assert with_unseen(without_unseen(slashes)) == slashes


@pytest.mark.parametrize("blank", ["", " ", "   ", "\t", "\xa0", "\u3000", "\u2003", " \u3000\t", "\n", "'", "' "])
@pytest.mark.parametrize("sign", [*"=+-@＝＋－＠﹦﹢﹣﹫"])
def test_formulas_behind_blanks_and_in_wide_forms(blank: str, sign: str) -> None:
    """Common practice, no source."""
    cell = f"{blank}{sign}1+1"
    assert guarded(cell) == f"'{cell}"
    assert unguarded(guarded(cell)) == cell


@pytest.mark.parametrize("cell", ["TG85 2.1", "'85", "  two blanks", "a=b", "1-2", "\u3000wide", ""])
def test_what_is_no_formula_stays(cell: str) -> None:
    assert guarded(cell) == cell


def test_scripts_that_need_joiners_keep_them() -> None:
    # Unicode Standard Annex #31, section 2.3: in Persian between letters, in Devanagari behind a virama; and emoji
    persian = "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645"
    for words in (persian, "\u0915\u094d\u200d\u0937", "\U0001f469\u200d\U0001f527"):
        assert escaped(words) == visible(words) == words
        assert json.loads(dumps(words)) == words
    assert escaped("U\u200c4\u200d") == "U\\u200c4\\u200d"


def test_words_of_all_kinds_pass() -> None:
    words = "Hafenamt 7 °C, 2 µs — 潮位計 \u05de\u05d3 \u0645\u062f تست 👩 ❤\ufe0f ½ ‘quoted’ …\nnext line"
    assert through(words) == escaped(words) == visible(words) == words


def test_colour_cannot_be_forged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("FORCE_COLOR", "1")
    good = paint("fine", "good")
    assert through(good) == "\x1b[32m\x1b[1mfine\x1b[0m"   # ECMA-48, section 8.3.117: 32 green, 1 bold, 0 none
    assert "\x1b" not in through("\x1b[32mfine\x1b[0m" + "\ue001fine\ue000" + "\ue0000000000000000000good\ue000fine")
    inside = through(paint("a\x1b[2J" + good, "bad"))   # words that are painted again keep nothing of the first paint
    assert inside.count("\x1b[32m") == 0
    assert "\x1b[2J" not in inside


def test_what_a_stream_cannot_encode_is_an_escape() -> None:
    assert through("潮 é", "ascii") == "\\u6f6e \\xe9"
    assert through("潮 é", "latin-1") == "\\u6f6e é"


def test_both_streams_are_gated_and_given_back(monkeypatch: pytest.MonkeyPatch) -> None:
    out, err = io.StringIO(newline=""), io.StringIO(newline="")
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    with gated():
        first = sys.stdout
        with gated():
            assert sys.stdout is first
        sys.stdout.write("a\x1b[2J\u202eb\n")
        sys.stderr.write("c\x9b\n")
        assert beneath(sys.stderr) is cast(io.TextIOBase, err)
        assert not hasattr(sys.stdout, "buffer")
    assert (sys.stdout, sys.stderr) == (out, err)
    assert (out.getvalue(), err.getvalue()) == ("a\\x1b[2J\\u202eb\n", "c\\x9b\n")


@given(st.text(max_size=300), st.integers(1, 100))
def test_what_is_left_out_is_counted(text: str, most: int) -> None:
    shown = shortened(text, most)
    if shown != text:
        begin, said, end = shown.split(" … ") if shown.count(" … ") == 2 else ("", "", "")
        assert len(shown) < len(text) or said
        assert not said or (text.startswith(begin) and text.endswith(end))
        assert not said or int(said.split()[0]) + len(begin) + len(end) == len(text)
    else:
        assert len(text) <= most + 40
