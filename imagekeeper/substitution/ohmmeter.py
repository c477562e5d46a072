"""What to try with a meter on straps or an adapter before the chip goes in: what rings, what does not, what is fed."""

from __future__ import annotations

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
        rings: Every pair of pins that a plain wire joins.
        silent: Pairs that nothing may join.
        gated: Pins of the chip that hang on a gate or an inverter: they ring to nothing, and are tried with a chip in it.
        supplies: The voltages at the empty socket.
    """

    rings: tuple[Ring, ...]
    silent: tuple[Silence, ...]
    gated: tuple[int, ...]
    supplies: tuple[Measured, ...]


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
        rings=tuple(
            Ring(unit=unit, chip_pin=one.chip_pin, chip_signal=one.chip_signal, socket_pin=one.socket_pins[0],
                 socket_signal=one.socket_signal)
            for unit, its in both for one in its if _plain(one)
        ),
        silent=tuple(each for unit, its in both for each in _silent(unit, chip, socket, its)),
        gated=tuple(one.chip_pin for one in fit.wires if one.socket_pins and not _plain(one)),
        supplies=tuple(_measured(chip, given)),
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


def _measured(chip: Chip, given: Sequence[PinRole]) -> Iterator[Measured]:
    ground = next((pin for pin, line in enumerate(given, 1) if line.kind == "ground"), None)
    for pin, line in enumerate(given, 1):
        if line.kind == "supply" or (line.kind == "level" and line.high and not line.writes):
            volts = line.volts if line.kind == "supply" else 5.0
            yield Measured(
                socket_pin=pin, against=ground, signal=line.name, volts=volts, percent=chip.supply_tolerance_percent
            )
