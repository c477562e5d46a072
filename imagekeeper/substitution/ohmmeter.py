"""What to try with a meter on straps or an adapter before the chip goes in: what rings, what does not, what is fed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.units import ranges


@dataclass(frozen=True, kw_only=True)
class Ring:
    """Two pins that a wire joins: the meter must show next to nothing between them. [ohm]

    Attributes:
        unit: Which chip, 1 or 2, where two share the socket; else 1.
        chip_pin: The pin of the chip.
        chip_signal: What it is.
        socket_pin: The pin of the socket.
        socket_signal: What that is.
    """

    unit: int
    chip_pin: int
    chip_signal: str
    socket_pin: int
    socket_signal: str


@dataclass(frozen=True, kw_only=True)
class Silence:
    """Two pins that nothing joins.

    Attributes:
        unit: Which chip, 1 or 2, where two share the socket; else 1.
        chip_pin: A pin of the chip.
        other: The pin that it must not ring to.
        of: Whose that other pin is: `chip` or `socket`.
        why: neighbours; supplies; below (the pin of the socket that it would stand in); or open (it is wired to none).
    """

    unit: int
    chip_pin: int
    other: int
    of: str
    why: str


@dataclass(frozen=True, kw_only=True)
class SocketVoltage:
    """A voltage to be measured at the empty socket, with the machine on.

    Attributes:
        socket_pin: The pin.
        against: The pin that is at ground there, or null where the socket has none: then against the board's ground.
        signal: What the pin is.
        volts: What must be there. [V]
        percent: How far it may be off for the chip, or null where that is not known. [%]
    """

    socket_pin: int
    against: int | None
    signal: str
    volts: float
    percent: float | None


@dataclass(frozen=True, kw_only=True)
class Ohmmeter:
    """What to try before the chip goes in.

    Attributes:
        pins: How many pins the chip has.
        rings: Every pair of pins that a plain wire joins.
        silent: Pairs that nothing may join.
        gated: Pins of the chip that hang on a gate or an inverter: they ring to nothing.
        supplies: The voltages at the empty socket.
    """

    pins: int
    rings: tuple[Ring, ...]
    silent: tuple[Silence, ...]
    gated: tuple[int, ...]
    supplies: tuple[SocketVoltage, ...]

    @property
    def tried(self) -> tuple[tuple[str, str], ...]:
        """Say what to try, shortly: a label, and the pins. All that go straight down are one line."""
        found = []
        two = any(one.unit == 2 for one in self.rings)
        for unit in (1, 2) if two else (1,):
            whose = ("first chip ", "second chip ")[unit - 1] if two else "chip "
            found += [("rings", text) for text in self._ringing(unit, whose)]
            if unit == 1 and self.gated:
                pins = ", ".join(map(str, self.gated))
                found.append(("try last", f"{whose}{pins}: behind a gate or an inverter"))
            found += [("silent", text) for text in self._silent(unit, whose)]
        found += [("measure", text) for text in self._measured()]
        return tuple(found)

    def _ringing(self, unit: int, whose: str) -> Iterator[str]:
        its = [one for one in self.rings if one.unit == unit]
        usual, count = Counter(one.socket_pin - one.chip_pin for one in its).most_common(1)[0]
        straight = [one for one in its if one.socket_pin - one.chip_pin == usual] if count >= _MANY else []
        for one in its:
            if one not in straight:
                yield (f"{whose}{one.chip_pin} ({_name(one.chip_signal)}) to socket {one.socket_pin} "
                       f"({_name(one.socket_signal)})")  # fmt: skip
        if straight:
            where = f"socket n {'+-'[usual < 0]} {abs(usual)}" if usual else "socket n"
            pins = ranges([one.chip_pin for one in straight])
            yield f"{whose}n to {where}, for n = {pins}"

    def _silent(self, unit: int, whose: str) -> Iterator[str]:
        its = [one for one in self.silent if one.unit == unit]
        for why in ("supplies", "below", "open"):
            for one in its:
                if one.why == why:
                    told = {"supplies": " (supplies)", "below": "", "open": " (stays open)"}[why]
                    yield f"{whose}{one.chip_pin} to {one.of} {one.other}{told}"
        apart = {one.chip_pin for one in its if one.why == "neighbours"}
        joined = [f"{pin} and {pin + 1}" for pin in range(1, self.pins) if pin not in apart and pin != self.pins // 2]
        but = f", but for {', '.join(joined)}, which are joined" if joined else ""
        yield f"any pin of the {whose.strip()} to the pin beside it{but}"

    def _measured(self) -> Iterator[str]:
        for one in self.supplies:
            against = f"socket {one.against}" if one.against is not None else "the board's ground"
            off = "" if one.percent is None or one.signal not in _FED else f", {one.percent:g}% at most off"
            yield f"socket {one.socket_pin} ({one.signal}) against {against}: {one.volts:+g} V{off}"


def _name(signal: str) -> str:
    """Leave away the level or voltage that stands behind a name."""
    return re.sub(r" (\(at .*\)|[+-][\d.]+ V)$", "", signal)


#: So many pins that go straight down are told in one line.
_MANY = 4

#: Pins whose tolerance is that of the supply.
_FED = ("Vcc", "Vdd", "Vbb", "Vgg")
