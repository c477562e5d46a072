"""What a text is set on: how wide it is, and how words are made to stand out.

Whoever shows a text says so once, around the call (`set_on`); nothing here asks a terminal or the environment. Every
text is finished by `page`, so that nothing that comes from people or files can drive a terminal: characters that are
not printed are shown as escapes, and colour is put in last. Painted words are marked until then with a number that is
drawn anew in every run: nothing that was written before can look like it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from random import SystemRandom
from typing import Literal, cast

from imagekeeper.jsonable import one_line

#: What words that stand out mean; they must say everything without it.
Tone = Literal["good", "bad", "care", "strong"]


def plain(words: str, tone: Tone) -> str:
    """Leave the words as they are."""
    return words


@dataclass(frozen=True)
class Paper:
    """What a text is set on.

    Attributes:
        width: Where sentences are broken; tables and drawings keep their own width. [column]
        paint: Makes words stand out by what they mean.
    """

    width: int = 100
    paint: Callable[[str, Tone], str] = plain


#: Lines of 100 columns without colour: for logs, mails and files.
PLAIN = Paper()

_PAPER: ContextVar[Paper] = ContextVar("paper", default=PLAIN)

#: What marks painted words: nobody can know it beforehand, and a private character, which no finished words hold, is
#: at both its ends.
_SEAL = f"\ue000{SystemRandom().getrandbits(64):016x}"
_END = f"{_SEAL}end\ue000"
_PAINTED = re.compile(f"{_SEAL}(good|bad|care|strong)\ue000([^\ue000]*){_END}")


@contextmanager
def set_on(paper: Paper) -> Iterator[None]:
    """Set the texts that are made inside a `with` statement on this paper.

    Example:
        >>> with set_on(Paper(width=40, paint=lambda words, tone: f"<{tone}>{words}</{tone}>")):
        ...     page([painted("All reads agree", "good") + "."])
        '<good>All reads agree</good>.'
    """
    before = _PAPER.set(paper)
    try:
        yield
    finally:
        _PAPER.reset(before)


def width() -> int:
    """Tell how wide the paper is. [column]"""
    return _PAPER.get().width


def painted(words: str, tone: Tone) -> str:
    """Make words stand out, once the line that they stand in is finished by `page`, `finished` or `resolved`."""
    return f"{_SEAL}{tone}\ue000{one_line(words)}{_END}"


def resolved(text: str, paint: Callable[[str, Tone], str], shown: Callable[[str], str]) -> str:
    r"""Give painted words their colour, and make everything harmless.

    Args:
        text: The text, with what `painted` gave in it.
        paint: Makes words stand out; they are harmless by then.
        shown: Makes words harmless.

    Example:
        >>> resolved(painted("damaged", "bad") + ": \ue000u4", lambda words, tone: f"<{words}>", one_line)
        '<damaged>: \\ue000u4'
    """
    first, *rest = _PAINTED.split(text)
    parts = [shown(first)]
    for tone, words, behind in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
        parts += [paint(shown(words), cast(Tone, tone)), shown(behind)]
    return "".join(parts)


def finished(line: str) -> str:
    r"""Finish one line: what is not printed becomes an escape, and painted words get their colour.

    Example:
        >>> finished(painted("damaged", "bad") + ": u4\x1b[2J\n.bin")
        'damaged: u4\\x1b[2J\\n.bin'
    """
    return resolved(line, _PAPER.get().paint, one_line)


def page(lines: Iterable[str]) -> str:
    r"""Finish a text, line by line.

    Example:
        >>> page(["u4\n.bin", "  16384 bytes"])
        'u4\\n.bin\n  16384 bytes'
    """
    return "\n".join(map(finished, lines))
