"""Where text leaves for the terminal: the one place that all of it passes, whoever wrote it.

While a command runs, standard output and standard error are each a `Gate`. What could drive a terminal, or change how
the rest reads, leaves it as an escape: texts of ours, help and messages of click, tracebacks. Colour is put in here,
for words that `paint` marked, and nothing else can make the gate put it in.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TextIO, cast

import click

from imagekeeper.legible import escaped
from imagekeeper.present.text.paper import Tone, painted, resolved

#: How words stand out by what they mean.
STYLES: dict[Tone, dict[str, Any]] = {
    "good": {"fg": "green", "bold": True}, "bad": {"fg": "red", "bold": True},
    "care": {"fg": "yellow", "bold": True}, "strong": {"bold": True},
}  # fmt: skip


class Gate:
    """A stream for text that lets nothing pass which drives a terminal.

    It has no `buffer`: nobody can write bytes past it.

    Args:
        beneath: The stream that it writes to.
    """

    def __init__(self, beneath: TextIO) -> None:
        self.beneath = beneath
        self.encoding: str = getattr(beneath, "encoding", None) or "utf-8"
        self.errors: str | None = getattr(beneath, "errors", None)   # click asks for both

    def write(self, text: str) -> int:
        """Write text; what the stream cannot encode becomes an escape too."""
        shown = resolved(text, _styled, escaped)
        shown = shown.encode(self.encoding, "backslashreplace").decode(self.encoding)
        if shown:
            click.echo(shown, file=self.beneath, nl=False, color=True)   # it knows how old consoles want their colour
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write one text after the other."""
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        """Flush the stream beneath."""
        self.beneath.flush()

    def writable(self) -> bool:
        """Say that it can be written to."""
        return True

    def isatty(self) -> bool:
        """Whether the stream beneath is a terminal."""
        return self.beneath.isatty()

    def fileno(self) -> int:
        """The number of the file beneath."""
        return self.beneath.fileno()


def _styled(words: str, tone: Tone) -> str:
    return click.style(words, **STYLES[tone])


@contextmanager
def gated() -> Iterator[None]:
    """Put both streams behind a gate for a while; one that is behind it already stays so."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (one if isinstance(cast(object, one), Gate) else cast(TextIO, Gate(one)) for one in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def beneath(stream: TextIO) -> TextIO:
    """Give the stream behind the gate, for what draws on a terminal and is given harmless text alone."""
    gate = cast(object, stream)
    return gate.beneath if isinstance(gate, Gate) else stream


def paint(text: str, tone: Tone, *, err: bool = False) -> str:
    """Colour a text where the terminal and the user want it; the words must say everything without it.

    The colour itself is put in by the gate.
    """
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    stream = sys.stderr if err else sys.stdout
    if os.environ.get("FORCE_COLOR") or stream.isatty():
        return painted(text, tone)
    return text
