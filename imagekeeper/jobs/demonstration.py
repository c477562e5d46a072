"""What came of the demonstration, whose commands the command line runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal


@dataclass(frozen=True)
class DemoStep:
    """One command of the demonstration.

    Attributes:
        command: What was run.
        exit_code: What it gave.
        expected: What it should give.
    """

    command: str
    exit_code: int
    expected: int


@dataclass(frozen=True)
class Demonstration:
    """The demonstration, for programs.

    Attributes:
        steps: Its commands, in order.
        ok: Whether every one gave the exit code it should.
        folder: Where its files were left, or null.
        files: The invented files there, where nothing else was asked for.
    """

    SCHEMA: ClassVar[Literal["demo/1"]] = "demo/1"

    steps: tuple[DemoStep, ...]
    ok: bool
    folder: str | None
    files: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """0 when all went as it should, else 1."""
        return 0 if self.ok else 1
