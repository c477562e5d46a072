"""Runs the Python blocks of a page: in order, in one namespace.

A block that shows `>>>` is run as a doctest. What another block prints stands in a block of plain text behind it, where
the page has one, and is written there anew.
"""

from __future__ import annotations

import contextlib
import doctest
import io
from typing import Any


class BlockError(Exception):
    """A Python block of a page does not run, or does not show what it should."""


class Blocks:
    """The Python blocks of one page.

    Args:
        name: The page, for messages.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.names: dict[str, Any] = {"__name__": "__main__"}

    def run(self, text: str) -> str:
        """Run one block, and give what it printed.

        Raises:
            BlockError: It fails, or a doctest in it does.
        """
        return self._doctest(text) if ">>>" in text else self._plain(text)

    def _plain(self, text: str) -> str:
        out = io.StringIO()
        try:
            with contextlib.redirect_stdout(out):
                exec(compile(text, self.name, "exec"), self.names)   # noqa: S102  our own documentation
        except Exception as problem:
            raise BlockError(f"{self.name}: {type(problem).__name__}: {problem}, in:\n{text}") from problem
        return out.getvalue()

    def _doctest(self, text: str) -> str:
        examples = doctest.DocTestParser().get_doctest(text, self.names, self.name, self.name, 0)
        told = io.StringIO()
        runner = doctest.DocTestRunner(verbose=False)
        runner.run(examples, out=told.write, clear_globs=False)
        if runner.failures:
            raise BlockError(told.getvalue())
        self.names.update(examples.globs)
        return ""
