"""Whether every answer can be made with an own row; slow, so asked only where rows are checked or accepted."""

from __future__ import annotations

from imagekeeper.chips import find
from imagekeeper.drives import match
from imagekeeper.errors import ImagekeeperError
from imagekeeper.own import OwnRow
from imagekeeper.sentences.say import Phrase
from imagekeeper.substitution import substitutes
from imagekeeper.tables.chips import chip_rows
from imagekeeper.tables.floppy import format_rows


def answerless(own: OwnRow) -> Phrase | None:
    """Make the answers that rest on an own row in force, and tell where one cannot be made; None where all can."""
    try:
        if own.kind in ("chip", "maker", "signature"):
            chip = find(chip_rows()[own.key[0]].id)
            substitutes(chip.id)
        elif own.kind == "pinout":
            for row in chip_rows().values():
                if row.pinout == own.key[0]:
                    find(row.id)
        elif own.kind == "format":
            match(format_rows()[own.key[0]])
        else:
            for one in format_rows().values():
                match(one)
    except (ImagekeeperError, ArithmeticError, LookupError, TypeError, ValueError) as problem:
        return Phrase("own-rows/no-answer", trouble=f"{type(problem).__name__}: {problem}"[:200])
    return None
