"""Who speaks: the words of whoever knows how the work was asked for.

The sentences here say what to do without naming a command, an option or a button. A front end that has such names
gives its own words by the same keys, and they are used while it runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from imagekeeper.sentences.says import Says

#: Gives the words by key; it is called when a sentence is first needed, so that starting costs nothing.
Words = Callable[[], "Mapping[str, Says]"]

_words: Words | None = None   # one for all threads: those that a run starts speak as it does


@contextmanager
def speaking(words: Words | None) -> Iterator[None]:
    """Use a front end's own words for what is said within.

    Example:
        >>> from imagekeeper.sentences.say import said
        >>> from imagekeeper.sentences.says import Says
        >>> with speaking(lambda: {"blank/erased": Says(next="press the green button")}):
        ...     said("blank/erased", "next", {})
        'press the green button'
    """
    global _words
    before, _words = _words, words
    try:
        yield
    finally:
        _words = before


def words(key: str) -> Says | None:
    """The words that the one who speaks has for a key, or None."""
    return _words().get(key) if _words is not None else None
