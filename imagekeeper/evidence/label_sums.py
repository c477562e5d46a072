"""The sum that stands on a label, held against the image's sums.

That labels bear the sum of the bytes, modulo 65536, and sometimes a CRC-32, is common practice, no source; some makers
sum words, or write the complement.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

#: A sum with a word before it that says what it is.
_TAGGED = re.compile(
    r"(?<![A-Za-z0-9])(?:check\s?sum|chk\s?sum|ck\s?sum|c\s?sum|c/?s|c\.s\.|sum|ck|crc(?:-?(?:16|32))?)"
    r"\s*[:=#.]?\s*(?:\$|0x|&h)?([0-9a-f]{8}|[0-9a-f]{4})h?(?![A-Za-z0-9])",
    re.IGNORECASE,
)

#: Four or eight hexadecimal digits by themselves: they speak for an image where they are one of its sums, else nothing.
_BARE = re.compile(r"(?<![A-Za-z0-9])(?:\$|0x|&h)?([0-9a-f]{8}|[0-9a-f]{4})h?(?![A-Za-z0-9])", re.IGNORECASE)

#: The figures that a label may bear, by number of digits, with what they are called.
FIGURES: dict[int, dict[str, str]] = {
    4: {
        "sum16": "16-bit sum", "sum16-complement": "complement of the 16-bit sum",
        "sum16-words-le": "sum of its words, low byte first", "sum16-words-be": "sum of its words, high byte first",
        "CRC-16/ARC": "CRC-16/ARC", "CRC-16/IBM-3740": "CRC-16/IBM-3740", "CRC-16/XMODEM": "CRC-16/XMODEM",
    },
    8: {"crc32": "CRC-32", "sum32": "32-bit sum"},
}  # fmt: skip


@dataclass(frozen=True)
class LabelSum:
    """A sum on a label.

    Attributes:
        digits: As it stands there, in capitals.
        is_a: What it is of the image, or null where it is none of its sums.
        tagged: Whether the label says that it is a sum.
    """

    digits: str
    is_a: str | None
    tagged: bool


def label_sums(label: str, figures: Mapping[str, str]) -> Iterator[LabelSum]:
    """Find the sums on a label, and say which of the image's figures they are.

    Args:
        label: What is written on the carrier.
        figures: The image's digests and sums by name; with none of them, nothing is told.

    Example:
        >>> list(label_sums("TG-85 V1.2 CS 3f2a", {"sum16": "3F2A"}))
        [LabelSum(digits='3F2A', is_a='16-bit sum', tagged=True)]
        >>> [one.is_a for one in label_sums("TG-85 CS 3F2B 1985", {"sum16": "3F2A"})]
        [None]
    """
    text = label[:4096]
    tagged = {match[1].upper() for match in _TAGGED.finditer(text)}
    bare = {match[1].upper() for match in _BARE.finditer(text)} - tagged
    for digits in (*sorted(tagged), *sorted(bare)):
        known = [(name, title) for name, title in FIGURES[len(digits)].items() if name in figures]
        if not known:
            continue
        is_a = next((title for name, title in known if figures[name].upper() == digits), None)
        if digits in tagged or is_a is not None:
            yield LabelSum(digits, is_a, digits in tagged)
