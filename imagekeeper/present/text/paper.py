"""What a text is set on: how wide it is, and how words are made to stand out.

Whoever shows a text says so once, around the call (`set_on`); nothing here asks a terminal or the environment. Every
text is finished by `page`, so that nothing that comes from people or files can drive a terminal: characters that are
not printed are shown as escapes, and colour is put in last.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal

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

#: Private characters, which no font and no terminal knows, mark painted words until the line is finished.
_MARKS: dict[Tone, str] = {"good": "\ue001", "bad": "\ue002", "care": "\ue003", "strong": "\ue004"}
_TONES = {mark: tone for tone, mark in _MARKS.items()}
_END = "\ue000"
_PAINTED = re.compile("([\ue001-\ue004])([^\ue000-\ue004]*)\ue000")


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
    """Make words stand out, once the line that they stand in is finished by `page` or `finished`."""
    return f"{_MARKS[tone]}{one_line(words)}{_END}"


def finished(line: str) -> str:
    r"""Finish one line: what is not printed becomes an escape, and painted words get their colour.

    Example:
        >>> finished(painted("damaged", "bad") + ": u4\x1b[2J\n.bin")
        'damaged: u4\\x1b[2J\\n.bin'
    """
    if line.isprintable():
        return line
    paint = _PAPER.get().paint
    first, *rest = _PAINTED.split(line)
    parts = [one_line(first)]
    for mark, words, behind in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
        parts += [paint(one_line(words), _TONES[mark]), one_line(behind)]
    return "".join(parts)


def page(lines: Iterable[str]) -> str:
    r"""Finish a text, line by line.

    Example:
        >>> page(["u4\n.bin", "  16384 bytes"])
        'u4\\n.bin\n  16384 bytes'
    """
    return "\n".join(map(finished, lines))
