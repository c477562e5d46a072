"""Images taken out of an archive, and images made from others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from imagekeeper.addresses import Doubt
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:   # slow to load, and all other commands of the group do without
    from imagekeeper.jobs.carriers.deriving import Derived
    from imagekeeper.jobs.carriers.extracting import Extraction


def extraction_text(result: Extraction) -> str:
    """Show what was written."""
    grade = f", grade {result.grade}" if result.grade else ""
    if result.open:
        grade += f", open: {', '.join(dict.fromkeys(result.open))}"
    rows = [
        ["image", f"{result.id} {result.what}{grade}"],
        ["file", f"{result.output}: {result.container}, {size_text(result.size_bytes)}"],
        ["SHA-256", result.sha256],
    ]
    return page(["Written, and read back equal.", *parts.table(rows), *_doubtful(result.doubts)])


def _doubtful(doubts: Sequence[Doubt]) -> list[str]:
    if not doubts:
        return []
    lines = [f"  {plural(len(doubts), 'doubt')}, of which a file of it says nothing: settle them before it is burnt"]
    lines += [line for one in doubts[: parts.SHOWN] for line in parts.wrapped("    ", parts.doubt(one))]
    more = len(doubts) - parts.SHOWN
    return lines + ([f"    and {more} more; --json lists all"] if more > 0 else [])


def derived_text(result: Derived) -> str:
    """Show what was made from what."""
    from imagekeeper.present.text.steps import describe  # the steps are slow to load

    made = result.derivation
    sources = " and ".join(f"{one.carrier} {one.what}" for one in made.sources)
    title = f" ({made.title})" if made.title else ""
    rows = [[f"{n}", describe(step.record), size_text(step.after_bytes)] for n, step in enumerate(result.steps, 1)]
    return page([
        f"{result.id} {made.id}{title}: made from {sources}", *parts.table(rows), f"  SHA-256  {made.sha256}",
        *_doubtful(made.doubts),
        f"  next: imagekeeper carrier extract {result.id} --image {made.id} -o FILE",
    ])  # fmt: skip
