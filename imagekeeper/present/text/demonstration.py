"""How the demonstration ended."""

from __future__ import annotations

from imagekeeper.jobs.demonstration import Demonstration
from imagekeeper.present.text.paper import page


def demonstration_text(result: Demonstration) -> str:
    """Say whether every command gave what it should.

    Example:
        >>> print(demonstration_text(Demonstration((), True, None)))
        <BLANKLINE>
        That was the whole job, on invented data: 0 commands, all as they should be.
    """
    wrong = [s for s in result.steps if s.exit_code != s.expected]
    if wrong:
        return page(["", *(f"This should have given {s.expected}, not {s.exit_code}: {s.command}" for s in wrong)])
    left = f" The files are in {result.folder}." if result.folder else ""
    told = f"That was the whole job, on invented data: {len(result.steps)} commands, all as they should be.{left}"
    return page(["", told])


def demo_files_text(result: Demonstration) -> str:
    """Say where the invented files are.

    Example:
        >>> demo_files_text(Demonstration((), True, ".", ("u4-first.bin", "u4-second.hex")))
        '2 invented files of the harbour office are in this folder.'
    """
    where = "this folder" if result.folder == "." else result.folder
    return page([f"{len(result.files)} invented files of the harbour office are in {where}."])
