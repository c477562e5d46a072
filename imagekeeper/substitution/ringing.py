"""Which pins of straps or an adapter must ring, and which must not, worked out from its wires."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from imagekeeper.chips import Chip
from imagekeeper.substitution.lines import PinRole
from imagekeeper.substitution.ohmmeter import Ohmmeter, Ring, Silence, SocketVoltage
from imagekeeper.substitution.results import Fit, Wire


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


def _measured(fit: Fit, chip: Chip, given: Sequence[PinRole]) -> Iterator[SocketVoltage]:
    """Every supply, and every pin at Vcc that something is wired to."""
    used = {pin for one in (*fit.wires, *fit.second) for pin in one.socket_pins}
    ground = next((pin for pin, line in enumerate(given, 1) if line.kind == "ground"), None)
    for pin, line in enumerate(given, 1):
        if line.kind == "supply" or (pin in used and line.kind == "level" and line.high and not line.writes):
            volts = line.volts if line.kind == "supply" else 5.0
            yield SocketVoltage(
                socket_pin=pin, against=ground, signal=line.name, volts=volts, percent=chip.supply_tolerance_percent
            )
