"""What to try with a meter on straps or an adapter before the chip goes in: what rings, what does not, what is fed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:   # the results hold what this makes of them
    from imagekeeper.chips import Chip
    from imagekeeper.substitution.lines import PinRole
    from imagekeeper.substitution.results import Fit, Wire


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
class Measured:
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
    supplies: tuple[Measured, ...]

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
                found.append(("try last", f"{whose}{pins}: behind a gate or an inverter, and ring to nothing"))
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
    return re.sub(r" (\(.*\)|[+-][\d.]+ V)$", "", signal)


#: So many pins that go straight down are told in one line.
_MANY = 4

#: Pins whose tolerance is that of the supply.
_FED = ("Vcc", "Vdd", "Vbb", "Vgg")


def ranges(numbers: Sequence[int]) -> str:
    r"""Write numbers as ranges.

    Example:
        >>> ranges([1, 2, 3, 7])
        '1-3, 7'
    """
    parts: list[list[int]] = []
    for number in numbers:
        if parts and parts[-1][-1] == number - 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    return ", ".join(str(one[0]) if len(one) == 1 else f"{one[0]}-{one[-1]}" for one in parts)


def rung(
    fit: Fit, chip: Chip, socket: Chip, given: Sequence[PinRole]
) -> Ohmmeter | None:
    """Work out what must ring and what must not; None where nothing is wired.

    Args:
        fit: How the chip is wired.
        chip: The chip.
        socket: The chip that the socket was made for.
        given: What the socket gives.

    Example:
        >>> from imagekeeper.substitution import fit
        >>> [(one.chip_pin, one.socket_pin) for one in fit("2532", "2732A").ohmmeter.rings if one.chip_signal == "A11"]
        [(21, 18)]
    """
    if not fit.wires:
        return None
    both = [(1, fit.wires), *([(2, fit.second)] if fit.second else [])]
    return Ohmmeter(
        pins=chip.pins, rings=tuple(
            Ring(unit=unit, chip_pin=one.chip_pin, chip_signal=one.chip_signal, socket_pin=one.socket_pins[0],
                 socket_signal=one.socket_signal)
            for unit, its in both for one in its if _plain(one)
        ),
        silent=tuple(each for unit, its in both for each in _silent(unit, chip, socket, its)),
        gated=tuple(one.chip_pin for one in fit.wires if one.socket_pins and not _plain(one)),
        supplies=tuple(_measured(fit, chip, given)),
    )  # fmt: skip


def _plain(wire: Wire) -> bool:
    return len(wire.socket_pins) == 1 and not wire.inverted


def _silent(unit: int, chip: Chip, socket: Chip, wires: Sequence[Wire]) -> Iterator[Silence]:
    net = {one.chip_pin: one.socket_pins if _plain(one) else ("free", one.chip_pin) for one in wires}
    for one in wires:
        seat = one.chip_pin + (socket.pins - chip.pins) // 2
        if not one.straight and 1 <= seat <= socket.pins and net[one.chip_pin] != (seat,):
            why = "below" if one.socket_pins else "open"
            yield Silence(unit=unit, chip_pin=one.chip_pin, other=seat, of="socket", why=why)
    fed = [one for one in wires if one.chip_signal.split()[0] in (*chip.supplies_v, "GND")]
    for one, other in combinations(fed, 2):
        if one.chip_signal != other.chip_signal and net[one.chip_pin] != net[other.chip_pin]:
            yield Silence(unit=unit, chip_pin=one.chip_pin, other=other.chip_pin, of="chip", why="supplies")
    for pin in range(1, chip.pins):
        if pin != chip.pins // 2 and net[pin] != net[pin + 1]:
            yield Silence(unit=unit, chip_pin=pin, other=pin + 1, of="chip", why="neighbours")


def _measured(fit: Fit, chip: Chip, given: Sequence[PinRole]) -> Iterator[Measured]:
    """Every supply, and every pin at Vcc that something is wired to."""
    used = {pin for one in (*fit.wires, *fit.second) for pin in one.socket_pins}
    ground = next((pin for pin, line in enumerate(given, 1) if line.kind == "ground"), None)
    for pin, line in enumerate(given, 1):
        if line.kind == "supply" or (pin in used and line.kind == "level" and line.high and not line.writes):
            volts = line.volts if line.kind == "supply" else 5.0
            yield Measured(
                socket_pin=pin, against=ground, signal=line.name, volts=volts, percent=chip.supply_tolerance_percent
            )
