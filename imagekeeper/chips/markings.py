"""What is printed on a chip, or said of it: the generic number within a maker's prefix and endings.

How makers build their markings around the generic number is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

#: No marking is longer; longer texts are cut before they are looked at.
LIMIT = 60

_VOLTS = re.compile(r"(?<![0-9.])([+-]?\d{1,2}(?:[.,]\d{1,2})?)\s?V(?:OLTS?|PP)?(?![A-Z0-9])")
_W = re.compile(r"(?<![A-Z])W-27")
_PARENTHESES = re.compile(r"\([^()]*\)?")

#: What stands before the generic number: letters, or one of two makers' prefixes that hold figures.
_PREFIX = re.compile(r"(?:M5[A-Z]|HN4[68]|[A-Z]{1,10}-?)(?=\d)")

#: What may follow it: package and temperature letters with figures, a dash and speed.
_ENDING = re.compile(r"(?:[A-Z][A-Z0-9]{0,7})?(?:-[A-Z0-9-]*)?")

#: After a number without letters these change the chip: 2732, 2732A and 2732B take different programming voltages.
_TELLING = "ABCH"


@dataclass(frozen=True)
class Marking:
    """A marking, taken apart.

    Attributes:
        readings: What may be the part number with its prefix and endings, in capitals: likeliest first, the whole
            text before its words.
        volts: Voltages that stand beside it. [V]
    """

    readings: tuple[tuple[str, ...], ...]
    volts: tuple[float, ...]


def parse(text: str) -> Marking:
    """Take a marking apart.

    Example:
        >>> parse("m27c128-15 (12.5 V)")
        Marking(readings=(('M27C128-15',),), volts=(12.5,))
        >>> parse("27 C128")
        Marking(readings=(('27C128',), ('27', 'C128')), volts=())
    """
    # the micro sign in front of one maker's numbers, in either of its two encodings
    plain = text[:LIMIT].replace("\u00b5", "U").replace("\u03bc", "U").upper()
    plain = _W.sub("W27", plain)
    volts = tuple(float(found.replace(",", ".")) for found in _VOLTS.findall(plain))
    words = _PARENTHESES.sub(" ", _VOLTS.sub(" ", plain)).replace("/", " ").split()
    whole = ("".join(words),)
    readings = (whole, tuple(words)) if len(words) > 1 else (whole,)
    return Marking(readings, volts)


def candidates(marking: Marking, names: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Find the chips that a marking can stand for.

    Args:
        marking: The marking, taken apart.
        names: Every part number in capitals, with the chips that it stands for.

    Example:
        >>> candidates(parse("TMS27C64-15"), {"27C64": ("27C64",), "2764": ("2764",)})
        ('27C64',)
    """
    for texts in marking.readings:
        found = [chip for text in texts for chip in names.get(_name_in(text, names) or "", ())]
        if found:
            return tuple(dict.fromkeys(found))
    return ()


def nearest(text: str, names: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Name the chips whose numbers are most like a text: those that begin as it does first.

    Example:
        >>> nearest("27C265", {"27C256": ("27C256",), "6116": ("6116",)})
        ('27C256',)
    """
    import difflib  # slow to load: only for a name that is not known

    found: list[str] = []
    for texts in parse(text).readings:
        for one in texts:
            bare = _PREFIX.sub("", one, count=1) if _PREFIX.match(one) else one
            number = bare.partition("-")[0]
            near = difflib.get_close_matches(number, names, n=8, cutoff=0.7)
            for name in sorted(near, key=lambda one: -_shared_beginning(one, number)):
                found += names[name]
    return tuple(dict.fromkeys(found))[:5]


def _shared_beginning(one: str, other: str) -> int:
    return next((n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))


def electric(prefix: str, rest: str) -> bool:
    """Whether the W in front of a number makes it a chip that is erased electrically, and none of those of that number.

    From memory: one maker's W27C and W27E chips; W27C512, W27C010 and W27C020 are in the table.

    Example:
        >>> electric("W", "27C040"), electric("W-", "27C040"), electric("", "27C040")
        (True, True, False)
    """
    return prefix.rstrip("-").endswith("W") and rest.startswith("27")


def _name_in(text: str, names: Mapping[str, tuple[str, ...]]) -> str | None:
    """Find the longest known number at the beginning of a text, or behind its prefix, or a part of that.

    `WINBONDW27C512` is a W27C512: the number that takes most letters with it is meant.
    """
    prefix = _PREFIX.match(text)
    cuts = [cut for cut in range(1, prefix.end()) if text[:cut].isalpha()] + [prefix.end()] if prefix else []
    for cut in (0, *cuts):
        rest = text[cut:]
        if electric(text[:cut], rest):
            continue
        for end in range(len(rest), 1, -1):
            if rest[:end] in names and _is_ending(rest[:end], rest[end:]):
                return rest[:end]
    return None


def _is_ending(name: str, ending: str) -> bool:
    if name.isdigit() and ending[:1] in set(_TELLING):
        return False
    return _ENDING.fullmatch(ending) is not None
