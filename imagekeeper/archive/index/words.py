"""Words as the index has them: folded, and how far one may be from another to count as mistyped."""

from __future__ import annotations

import re
import unicodedata

from imagekeeper.provenance.slips import mistakes

_WORD = re.compile(r"[^\W_]+")

#: A longer run of letters and digits is no word, but encoded data. [character]
WORD_LIMIT = 64


def words(text: str) -> list[str]:
    """Take a text apart into words: runs of letters and digits, without capitals and accents.

    Example:
        >>> words("TG85-U4: Prüf_Summe")
        ['tg85', 'u4', 'pruf', 'summe']
    """
    if not text.isascii():
        decomposed = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in decomposed if not unicodedata.combining(c))
    return [word[:WORD_LIMIT] for word in _WORD.findall(text.casefold())]


def tolerance(word: str) -> int:
    """Tell how many typing mistakes are forgiven: one from 4 letters on, two from 8 on; digits do not count.

    Example:
        >>> [tolerance(word) for word in ("u12", "gate", "quillmere", "27c256")]
        [0, 1, 2, 0]
    """
    letters = sum(not c.isdigit() for c in word)
    return 2 if letters >= 8 else 1 if letters >= 4 else 0


def letters(word: str) -> int:
    """Give the set of a word's characters as bits, of which several characters share one.

    A typing mistake changes at most one bit each way, so that words too far apart can be passed over quickly.

    Example:
        >>> letters("aab") == letters("ba")
        True
    """
    bits = 0
    for character in word:
        bits |= 1 << (ord(character) % 62)
    return bits


def distance(typed: str, word: str, limit: int) -> int | None:
    """Count the typing mistakes between two words: a letter lost, added, changed, or two exchanged.

    Digits are never mistyped: another digit is another part, another designator.

    Args:
        typed: What was typed.
        word: The word that may have been meant.
        limit: How many mistakes are forgiven.

    Returns:
        The number, or None for more than the limit.

    Example:
        >>> distance("quilmere", "quillmere", 2), distance("haruobr", "harbour", 2), distance("tg85", "tg86", 1)
        (1, 2, None)
    """
    return mistakes(typed, word, limit)


def start_distance(typed: str, word: str, limit: int) -> int | None:
    """Count the typing mistakes between what was typed and the nearest beginning of a word.

    Example:
        >>> start_distance("quilme", "quillmere", 1), start_distance("mere", "quillmere", 1)
        (1, None)
    """
    return mistakes(typed, word, limit, whole=False)
