"""The part that a record names, held against its marking, its package and the size of what was read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from imagekeeper.errors import NotFoundError
from imagekeeper.own import remembered

if TYPE_CHECKING:   # the tables are slow to load, and most carriers are weighed without them
    from imagekeeper.chips import Chip

#: "28-pin", "DIP28", "DIL-24", "24 leads": of packages with two rows of pins.
_PINS = re.compile(r"\b(\d\d)[ -]?(?:pins?|leads?)\b|\b(?:C?DIP|DIL|CERDIP|PDIP)[ -]?(\d\d)\b", re.IGNORECASE)

#: Packages with another number of leads for the same chip.
_OTHERWISE = re.compile(r"\b(?:PLCC|LCC|SO|SOP|SOIC|TSOP|QFP)", re.IGNORECASE)


@remembered(1024)
def known_chip(part: str | None) -> Chip | None:
    """Look a part up; None where none is named or the tables do not know it.

    Example:
        >>> known_chip("27128").file_bytes, known_chip("XYZ-1"), known_chip(None)
        (16384, None, None)
    """
    if part is None:
        return None
    from imagekeeper import chips  # the tables, only where a part is held against something

    try:
        return chips.find(part)
    except NotFoundError:
        return None


def marked_chips(markings: str, date_code: str | None = None) -> Iterator[tuple[str, Chip]]:
    r"""Find the chips that a marking names: each line of it, and each word, with what was understood.

    Example:
        >>> [(text, chip.id) for text, chip in marked_chips("M5L27128K\n8512")]
        [('M5L27128K', '27128')]
    """
    seen = set[str]()
    for line in markings[:2048].splitlines():
        for text in (line.strip(), *line.split()):
            if len(text) < 4 or text == date_code or text in seen or not re.search(r"\d", text):
                continue
            seen.add(text)
            chip = known_chip(text)
            if chip is not None:
                yield text, chip
                break


def package_pins(package: str) -> int | None:
    """Tell how many pins a package has; None where it does not say, or the number means nothing for the chip.

    Example:
        >>> package_pins("28-pin ceramic DIP with a window"), package_pins("DIL24"), package_pins("PLCC-32")
        (28, 24, None)
    """
    if _OTHERWISE.search(package):
        return None
    found = _PINS.search(package)
    return int(found[1] or found[2]) if found else None


def alike(a: Chip, b: Chip) -> bool:
    """Whether a read of the one can be a read of the other: of the same size, on the same pins."""
    return a.file_bytes == b.file_bytes and a.pins == b.pins
