"""What a pin does on a bus, read from its signals alone.

The levels at which chips are read (Vpp and /PGM at Vcc, the program pin of the early chips of three supplies at ground)
and written (/WE low) are what their data sheets ask for; see the sources of the pinouts.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from imagekeeper.chips import Chip

Role = Literal[
    "address", "data", "enable", "output-enable", "write", "supply", "ground", "held", "width", "ready", "none",
    "unknown",
]

#: No chip of these tables takes more on a pin for signals. [V]
LOGIC_V = 5.0

#: Pins that are at one level as long as the chip is read.
_HELD_HIGH = ("Vpp", "/PGM", "/RESET", "/RST", "PGM", "Vbb", "AR")


@dataclass(frozen=True, kw_only=True)
class Terminal:
    """One pin of a chip, as the bus sees it.

    Attributes:
        pin: Its number.
        name: Its signals, as the pinout gives them.
        role: address; data; enable (it is not selected at all while this is inactive); output-enable (only its outputs
            are off then); write; supply; ground; held (at one level); width (high for whole words, low for bytes);
            ready (an output that only a write, or a failing supply, pulls low); none; unknown.
        number: Of an address or data line, 0 the least significant; else -1.
        active: The level at which an enable is active, or at which a held pin is held: 1 or 0.
        volts: Of a supply. [V]
        written_v: The voltage on it that writes; 0 where there is none such. [V]
    """

    pin: int
    name: str
    role: Role
    number: int = -1
    active: int = 0
    volts: float = 0.0
    written_v: float = 0.0


def terminals(
    chip: Chip, active_high: Collection[str] = (), *, as_socket: bool = False, by_bytes: bool = False
) -> tuple[Terminal, ...]:
    """Read the pins of a chip.

    Args:
        chip: The chip.
        active_high: Which of its mask-chosen selects the mask made active high; all others are active low.
        as_socket: Whether what a board for it drives is asked for: not what only some makers' chips have there.
        by_bytes: Whether its width pin is low: then A-1 is its lowest address line, and its upper outputs are off.

    Example:
        >>> from imagekeeper.chips import find
        >>> [one.role for one in terminals(find("28C16"))[17:21]]
        ['enable', 'address', 'output-enable', 'write']
    """
    found = []
    supplies = tuple(chip.supplies_v.items())
    writes = max(chip.vpp_v, default=0.0)
    for pin in chip.pinout.pins:
        names = pin.signals
        if names[0] == "NC" and (as_socket or masked_name(names) is not None):
            names = ("NC",)
        real = [one for one in names if one != "NC"] or ["NC"]
        high = masked_name(real) in active_high
        one = _terminal(pin.number, tuple(real), supplies, chip.carrier, writes, high)
        found.append(_of_bytes(one, real) if by_bytes else one)
    return tuple(found)


def _of_bytes(one: Terminal, names: Collection[str]) -> Terminal:
    if "A-1" in names:
        return replace(one, role="address", number=0)
    if one.role == "address":
        return replace(one, number=one.number + 1)
    if one.role == "data" and one.number >= 8:
        return replace(one, role="none", number=-1)
    return replace(one, active=0) if one.role == "width" else one


def masked_name(names: Collection[str]) -> str | None:
    """Give the name of the select whose active level was chosen with the mask, or None.

    Example:
        >>> masked_name(("/OE", "CS2")), masked_name(("CE2",)), masked_name(("CS1",))
        ('CS2', None, 'CS1')
    """
    return next((one for one in names if re.fullmatch(r"CS\d+", one)), None)


@cache   # of every pin of every chip, against every other chip
def _terminal(
    pin: int, names: tuple[str, ...], supplies: tuple[tuple[str, float], ...], carrier: str, vpp_v: float,
    masked_high: bool,
) -> Terminal:  # fmt: skip
    first, name = names[0], " ".join(names)
    masked = masked_name(names)
    if match := re.fullmatch(r"([AD])(\d+)", first):
        others = [one for one in names[1:] if re.fullmatch(r"[AD]\d+", one)]
        role: Role = "unknown" if others else "address" if match[1] == "A" else "data"
        return Terminal(pin=pin, name=name, role=role, number=int(match[2]))
    if first in dict(supplies):
        return Terminal(pin=pin, name=name, role="supply", volts=dict(supplies)[first])
    if first == "GND":
        return Terminal(pin=pin, name=name, role="ground")
    if re.fullmatch(r"/?(CE|CS|OE)\d*", first):
        role = "output-enable" if "OE" in first else "enable"
        high = masked_high if masked is not None else not first.startswith("/")
        return Terminal(pin=pin, name=name, role=role, active=int(high))
    if first == "/WE":
        return Terminal(pin=pin, name=name, role="write")
    if first == "/BYTE":
        return Terminal(pin=pin, name=name, role="width", active=1)
    if first == "PGM" and {"Vdd", "Vbb"} <= set(dict(supplies)):
        return Terminal(pin=pin, name=name, role="held", active=0)
    if first == "/AR":   # the half of a half-good chip that is good
        return Terminal(pin=pin, name=name, role="held", active=0)
    if first in _HELD_HIGH:
        writes = vpp_v if first == "Vpp" and carrier == "eeprom" else 0.0
        return Terminal(pin=pin, name=name, role="held", active=1, written_v=writes)
    plain: dict[str, Role] = {"NC": "none", "READY": "ready", "/INT": "ready"}
    return Terminal(pin=pin, name=name, role=plain.get(first, "unknown"))
