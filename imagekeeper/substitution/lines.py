"""What the pins of a chip are while it is read: what it needs there, and what a socket wired for it gives.

That Vpp is held at Vcc for reading, and /PGM and /WE high, is what data sheets ask for; see the sources of the pinouts.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from imagekeeper.chips import Chip

Kind = Literal["address", "data", "select", "supply", "ground", "level", "ready", "nothing", "unknown"]
Active = Literal["low", "high", "mask"]
Level = Literal["high", "low"]

#: What a supply pin of a TTL-level chip carries. [V]
VCC = 5.0


@dataclass(frozen=True, kw_only=True)
class PinRole:
    """One pin, when the chip is read.

    Attributes:
        kind: address; data; select (it must be active for the chip to answer); supply; ground; level (held at one
            level); ready (an output that only a write, or a failing supply, pulls low); nothing; unknown.
        name: What it is called.
        number: Of an address or data line, 0 the least significant; else -1.
        active: Of a select: at which level, or mask where that was chosen when the chip was made.
        volts: Of a supply. [V]
        level: Of a pin held at a level: which.
        writes: Whether the machine drives it to write: high only while it does not.
        pulse_v: What a board may put on it to write the chip there; 0 where it never does. [V]
    """

    kind: Kind
    name: str
    number: int = -1
    active: Active = "low"
    volts: float = 0.0
    level: Level = "high"
    writes: bool = False
    pulse_v: float = 0.0

    @property
    def high(self) -> bool:
        """Whether it is at Vcc while the chip is read."""
        return (self.kind == "level" and self.level == "high") or (self.kind == "supply" and self.volts == VCC)

    @property
    def low(self) -> bool:
        """Whether it is at ground while the chip is read."""
        return self.kind == "ground" or (self.kind == "level" and self.level == "low")

    @property
    def odd(self) -> bool:
        """Whether it carries a supply other than Vcc."""
        return self.kind == "supply" and self.volts != VCC

    @property
    def driven(self) -> bool:
        """Whether the board drives it with a signal."""
        return self.kind in ("address", "select") or self.writes

    def __str__(self) -> str:
        """Name it, with its voltage where that is not plain."""
        if self.kind == "supply":
            return f"{self.name} {self.volts:+g} V"
        if self.kind == "nothing":
            return "no connection"
        if self.pulse_v:
            return f"{self.name} (at Vcc; {self.pulse_v:+g} V to write)"
        if self.kind == "level" and not self.writes:
            return f"{self.name} (at {'Vcc' if self.level == 'high' else 'GND'})"
        return self.name


NOTHING = PinRole(kind="nothing", name="NC")


def lines_of(chip: Chip, *, given: bool = False) -> tuple[PinRole, ...]:
    """Tell what every pin of a chip is while it is read, pin 1 first.

    Args:
        chip: The chip.
        given: Whether what a socket wired for it gives is asked for: where some makers' chips have no connection, that
            is nothing to rely on.

    Example:
        >>> from imagekeeper.chips import find
        >>> [str(line) for line in lines_of(find("2716"))[17:21]]
        ['/CE', 'A10', '/OE', 'Vpp (at Vcc)']
        >>> [str(line) for line in lines_of(find("2708"))[17:21]]
        ['PGM (at GND)', 'Vdd +12 V', '/CS', 'Vbb -5 V']
    """
    return tuple(
        NOTHING if given and pin.signals[0] == "NC" else _line(pin.signals, chip) for pin in chip.pinout.pins
    )


def not_judged(chip: Chip) -> str | None:
    """Say why a chip cannot be judged pin by pin, or None: its pins tell by levels alone how it is read.

    Example:
        >>> from imagekeeper.chips import find
        >>> for part in ("2716", "146818", "93C46", "2508", "X2212"):
        ...     print(not_judged(find(part)))
        None
        addresses and data share its pins, or those of the original
        the 93C46 is read in series
        what pin 19 of the 2508 wants is not known
        the X2212 is read with more than addresses and selects: /STORE, /RECALL
    """
    odd = [(pin, line.name) for pin, line in enumerate(lines_of(chip), 1) if line.kind == "unknown"]
    if not odd:
        return None
    if chip.technology == "serial-eeprom":
        return f"the {chip.id} is read in series"
    if any(re.fullmatch(r"D\d+ .*", name) for _, name in odd):
        return "addresses and data share its pins, or those of the original"
    if unknown := [pin for pin, name in odd if name == "?"]:
        return f"what pin {unknown[0]} of the {chip.id} wants is not known"
    names = [name for _, name in odd]
    more = ", ..." if len(names) > 4 else ""
    return f"the {chip.id} is read with more than addresses and selects: {', '.join(names[:4])}{more}"


def _line(signals: tuple[str, ...], chip: Chip) -> PinRole:
    if "NC" in signals and len(signals) > 1:
        # one maker's chip has it, another's has not: the one that has it decides what is needed
        needed = _line(tuple(one for one in signals if one != "NC"), chip)
        return needed if needed.kind != "select" or needed.active != "mask" else NOTHING
    name = signals[0]
    if len(signals) > 1 and re.fullmatch(r"CS\d", signals[1]):
        return PinRole(kind="select", name=f"{name} or {signals[1]}", active="mask")
    if match := re.fullmatch(r"([AD])(\d+)", name):
        if match[1] == "D" and len(signals) > 1 and signals[1] != "A-1":
            return PinRole(kind="unknown", name=" ".join(signals))   # a bus that carries addresses and data in turn
        return PinRole(kind="address" if match[1] == "A" else "data", name=name, number=int(match[2]))
    if name in chip.supplies_v:
        return PinRole(kind="supply", name=name, volts=chip.supplies_v[name])
    if re.fullmatch(r"/(CE|CS|OE)\d?", name):
        return PinRole(kind="select", name=name)
    if re.fullmatch(r"CE\d", name):
        return PinRole(kind="select", name=name, active="high")
    if re.fullmatch(r"CS\d", name):
        return PinRole(kind="select", name=name, active="mask")
    if name == "PGM" and chip.technology != "pmos-eprom":
        return PinRole(kind="level", name=name, level="low")   # the early three-supply chips
    if name == "Vpp" and chip.carrier == "eeprom":   # the first generation, which boards wrote in their sockets
        return PinRole(kind="level", name=name, pulse_v=max(chip.vpp_v))
    if name == "/AR":   # the half of a half-good chip that is good
        return PinRole(kind="level", name=name, level="low")
    if name in ("AR", "Vpp", "/PGM", "/RESET", "/BYTE", "PGM", "Vbb"):
        return PinRole(kind="level", name=name)
    if name == "/WE":
        return PinRole(kind="level", name=name, writes=True)
    kinds: dict[str, Kind] = {"GND": "ground", "NC": "nothing", "READY": "ready", "/INT": "ready"}
    return PinRole(kind=kinds.get(name, "unknown"), name=name)
