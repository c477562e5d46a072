"""What a pin is in a chip, what an ohm-meter should find at its place on a board, and what that speaks against.

A board may hold an input that it does not use at ground or at +5 V, but never a supply, nor an output: common
practice, no source.
"""

from __future__ import annotations

import re

from imagekeeper.chips.model import Chip
from imagekeeper.chips.unmarked.results import Measured

#: Lines that write, or copy one memory over the other, when they are low.
WRITES = frozenset({"/WE", "/WR", "/STORE", "/RECALL", "/NE"})

_VCC = 5.0

#: What speaks against a chip, by what was found at a pin: the kinds that the pin cannot be then.
_AGAINST: dict[Measured, frozenset[str]] = {
    "ground": frozenset({"supply", "other-supply", "data"}),
    "5v": frozenset({"ground", "other-supply", "data"}),
    "other-supply": frozenset({"ground", "supply", "data", "address"}),
    "bus": frozenset({"ground", "supply", "other-supply"}),
    "open": frozenset({"ground", "supply", "other-supply", "data", "address"}),
}

#: What is found where a pin is of a kind that can be nothing else.
_EXPECTED: dict[str, Measured] = {
    "ground": "ground", "supply": "5v", "other-supply": "other-supply", "data": "bus", "address": "bus", "none": "open",
}


def kind_of(chip: Chip, pin: int) -> str:
    """Tell of what kind a pin is: ground, supply (+5 V), other-supply, address, data, none (not connected) or input.

    A pin that some makers leave unconnected is an input: nothing surely speaks against it.

    Example:
        >>> from imagekeeper.chips import find
        >>> [kind_of(find("2708"), pin) for pin in (8, 9, 12, 19, 20, 24)]
        ['address', 'data', 'ground', 'other-supply', 'input', 'supply']
    """
    signals = chip.signals_at(pin)
    name = signals[0]
    if signals == ("NC",):
        return "none"
    if "NC" in signals:
        return "input"
    if name == "GND":
        return "ground"
    if name in chip.supplies_v:
        return "supply" if chip.supplies_v[name] == _VCC else "other-supply"
    if re.fullmatch(r"D\d+", name):
        return "data"
    return "address" if re.fullmatch(r"A\d+", name) else "input"


def meaning_of(chip: Chip, pin: int) -> str:
    """Name a pin, with the voltage of a supply.

    Example:
        >>> from imagekeeper.chips import find
        >>> meaning_of(find("2708"), 21), meaning_of(find("2732"), 20), meaning_of(find("27128A"), 1)
        ('Vbb -5 V', '/OE and Vpp', 'Vpp')
    """
    signals = chip.signals_at(pin)
    if signals[0] in chip.supplies_v:
        return f"{signals[0]} {chip.supplies_v[signals[0]]:+g} V"
    if signals == ("NC",):
        return "not connected"
    return " and ".join(one for one in signals if one != "NC") + (" or not connected" if "NC" in signals else "")


def expected_at(chip: Chip, pin: int) -> Measured | None:
    """Tell what an ohm-meter should find at a pin of its socket, or None where the board decides.

    Example:
        >>> from imagekeeper.chips import find
        >>> [expected_at(find("2716"), pin) for pin in (12, 18, 21, 24)]
        ['ground', None, '5v', '5v']
    """
    if chip.signals_at(pin)[0] == "Vpp":   # held at Vcc when reading, in nearly every machine
        return "5v"
    return _EXPECTED.get(kind_of(chip, pin))


def speaks_against(chip: Chip, pin: int, found: Measured) -> bool:
    """Whether what was found at a pin rules a chip out.

    Example:
        >>> from imagekeeper.chips import find
        >>> speaks_against(find("2708"), 19, "5v"), speaks_against(find("2716"), 21, "bus")
        (True, False)
    """
    return kind_of(chip, pin) in _AGAINST[found]
