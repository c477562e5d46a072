"""Names that differ by a slip of the pen: what may be one reader under two spellings, and would count as two."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

#: From so many letters on a name may hold two slips; a shorter one holds one. [letter]
LONG = 8

#: A name with fewer letters holds none: Jan is not Jon. [letter]
SHORT = 4

#: No name is looked at beyond so many characters. [character]
_MOST = 200

#: A word as short as this is a mark or initials ("reader B", "J. K."), in which another letter is another thing.
_MARK = 2

_WORD = re.compile(r"[^\W\d_]+")


def is_slip(a: str, b: str) -> bool:
    """Whether two names may be one, mistyped once.

    Capitals, blanks and the form in Unicode make no difference. Of what is left, a letter may be lost, added, changed,
    or exchanged with its neighbour; twice where the shorter name has 8 letters or more, and never where it has less
    than 4. Digits are never mistyped, nor are words of one or two letters: reader 1 is not reader 2, and reader A is
    not reader B.

    Args:
        a: A name.
        b: Another name.

    Returns:
        Whether they may be one; False for names that are equal but for capitals and the width of blanks.

    Source:
        Damerau, A technique for computer detection and correction of spelling errors, CACM 7(3), 1964, for the four
        kinds of mistake; how many are forgiven is common practice, no source.

    Example:
        >>> is_slip("benhc reader", "bench reader"), is_slip("benchreader", "bench reader"), is_slip("Bea", "bea")
        (True, True, False)
        >>> is_slip("reader 1", "reader 2"), is_slip("reader A", "reader B"), is_slip("bench reader", "pocket reader")
        (False, False, False)
    """
    if collapsed(a) == collapsed(b):
        return False
    one, other = plain(a), plain(b)
    if one == other:
        return True
    shorter = min(_letters(one), _letters(other))
    if shorter < SHORT or _marks(a) != _marks(b):
        return False
    return mistakes(one, other, 2 if shorter >= LONG else 1) is not None


def collapsed(name: str) -> str:
    """Give a name without capitals, and with one blank between words: what never makes two of one.

    Example:
        >>> collapsed(" Bench   Reader")
        'bench reader'
    """
    return " ".join(name.split()).casefold()


def is_spelling(a: str, b: str) -> bool:
    """Whether two texts are one name but for capitals, blanks and their form in Unicode.

    Example:
        >>> is_spelling("Quillmere TG-85", "quillmere  TG-85"), is_spelling("Quillmere TG-85", "Quilmere TG-85")
        (True, False)
    """
    return plain(a) == plain(b)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Give the known name that another may be a slip or spelling of: that with the fewest mistakes, of these the first.

    Example:
        >>> nearest("benhc reader", ["pocket reader", "bench reader"])
        'bench reader'
    """
    near = [one for one in known if one != name and (is_slip(name, one) or is_spelling(name, one))]
    return min(near, key=lambda one: mistakes(plain(name), plain(one), 2) or 0, default=None)


def plain(name: str) -> str:
    """Give a name without what makes no difference: capitals, blanks, the form in Unicode.

    Example:
        >>> plain("Bench  Reader"), plain("ｂｅｎｃｈ reader")
        ('benchreader', 'benchreader')
    """
    return "".join(_folded(name).split())[:_MOST]


def mistakes(typed: str, word: str, limit: int, *, whole: bool = True) -> int | None:
    """Count the typing mistakes between two words: a letter lost, added, changed, or two exchanged.

    The table of distances between beginnings is filled by Wagner and Fischer's method with exchanges of neighbours.

    Args:
        typed: What was typed.
        word: The word that may have been meant.
        limit: How many mistakes are forgiven.
        whole: Whether the whole word was meant, or the beginning of it that is nearest.

    Returns:
        The number, or None for more than the limit, or where digits differ.

    Source:
        Damerau, A technique for computer detection and correction of spelling errors, CACM 7(3), 1964, for the four
        kinds of mistake.

    Example:
        >>> mistakes("haruobr", "harbour", 2), mistakes("tg85", "tg86", 1), mistakes("quilme", "quillmere", 1, whole=False)
        (2, None, 1)
    """  # noqa: E501  # an example stands on one line
    before: list[int] = []
    row = list(range(len(word) + 1))
    for i, a in enumerate(typed, 1):
        last, before, row = before, row, [i]
        for j, b in enumerate(word, 1):
            cost = before[j - 1] + (a != b)
            cost = min(cost, before[j] + 1, row[j - 1] + 1)
            if i > 1 and j > 1 and a == word[j - 2] and typed[i - 2] == b:
                cost = min(cost, last[j - 2] + 1)
            row.append(cost)
        if min(row) > limit:
            return None
    ends = [len(word)] if whole else range(len(word), -1, -1)
    found = [(row[j], -j) for j in ends if row[j] <= limit and _digits(word[:j]) == _digits(typed)]
    return min(found)[0] if found else None


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _letters(name: str) -> int:
    return sum(not c.isdigit() for c in name)


def _marks(name: str) -> list[str]:
    return [word for word in _WORD.findall(_folded(name)) if len(word) <= _MARK]


def _digits(text: str) -> str:
    return "".join(c for c in text if c.isdigit())
