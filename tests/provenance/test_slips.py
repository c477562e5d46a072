"""Names that are one under two spellings, and names that are two."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.provenance.slips import is_slip, is_spelling, mistakes, nearest

NAMES = st.text(st.characters(codec="utf-8"), max_size=24)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("bench reader", "benhc reader"), ("bench reader", "bench raeder"), ("bench reader", "bench readr"),
        ("bench reader", "benchreader"), ("bench reader", "bemch raeder"),
        ("Berta", "Bert"), ("reader 12", "raeder 12"), ("Cafe\u0301 reader", "Caf\u00e9 reader"),
        ("\uff46ield reader", "field reader"),
    ],
)  # fmt: skip
def test_one_name_under_two_spellings(one: str, other: str) -> None:
    assert is_slip(one, other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("bench reader", "bench reader"), ("bench reader", "pocket reader"), ("reader 1", "reader 2"),
        ("reader 12", "reader 21"), ("reader A", "reader B"), ("JB", "JC"), ("J. Lee", "K. Lee"), ("a", "b"), ("", "a"),
        ("Anna", "Anke"), ("Jan", "Jon"), ("Ann", "Anna"), ("bench reader", " Bench  READER"),
        ("old reader", "new reader"), ("reader", "reader 2"),
    ],
)  # fmt: skip
def test_two_names(one: str, other: str) -> None:
    assert not is_slip(one, other)


@given(NAMES, NAMES)
def test_it_does_not_matter_which_came_first(one: str, other: str) -> None:
    assert is_slip(one, other) == is_slip(other, one)
    assert not is_slip(one, one)


def test_spellings_of_one_name() -> None:
    """Unicode Standard, section 3.13: the sharp s folds to two letters."""
    assert is_spelling("STRASSE", "Straße")
    assert is_spelling("bench reader", "Bench\u00a0 Reader")


@given(NAMES)
def test_the_form_in_unicode_makes_no_second_name(name: str) -> None:
    """Unicode Standard Annex 15: NFC and NFD of one text are canonically equivalent."""
    assert is_spelling(unicodedata.normalize("NFC", name), unicodedata.normalize("NFD", name))


@given(st.text("abcdefgh ", min_size=10, max_size=20), st.integers(0, 8))
def test_two_neighbours_exchanged_are_one_mistake(name: str, at: int) -> None:
    """Damerau, CACM 7(3), 1964: an exchange of neighbours is one mistake, not two."""
    exchanged = name[:at] + name[at + 1] + name[at] + name[at + 2 :]
    assert mistakes(name, exchanged, 1) == (0 if name == exchanged else 1)


@pytest.mark.parametrize(
    ("one", "other", "edits"),
    [("ca", "abc", 3), ("kitten", "sitting", 3), ("abcdef", "abdcef", 1), ("", "ab", 2)],
)
def test_worked_distances(one: str, other: str, edits: int) -> None:
    """The restricted distance, where no part is changed twice: "ca" to "abc" is 3 (the usual example, from memory)."""
    assert mistakes(one, other, 5) == edits
    assert mistakes(one, other, edits - 1) is None


def test_the_nearest_is_meant() -> None:
    assert nearest("bench readre", ["bench raeders", "bench reader"]) == "bench reader"
    assert nearest("pocket reader", ["bench reader"]) is None
