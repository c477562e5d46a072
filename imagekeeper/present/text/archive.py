"""What was done to an archive as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.jobs.archive.checking import Founded, Reindexed


def founded_text(result: Founded) -> str:
    """Show a new archive."""
    return page([
        f"New archive in {result.path}.",
        f"  next: imagekeeper carrier add ID --kind KIND, from inside that folder or with --archive {result.path}",
    ])  # fmt: skip


def reindexed_text(result: Reindexed) -> str:
    """Show what rebuilding the index did."""
    lines = [f"{plural(result.carriers, 'carrier')} indexed."]
    lines += [f"  repaired: {repair.path}: {repair.what}" for repair in result.repairs]
    if result.problems:
        lines.append(f"  {plural(result.problems, 'record')} cannot be read")
    return page([*lines, *parts.set_aside(result.set_aside)])
