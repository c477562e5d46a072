"""A board with a socket, and a chip in it: levels on pins, worked out from the pinouts alone, not by what is tested."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from imagekeeper.chips import Chip
from imagekeeper.substitution import Fit

#: What a pin of the socket carries: a level, a supply as `("volts", v)`, a data line as `("data", n)`, or nothing.
Carried = Any

SELECT = re.compile(r"/(CE|CS|OE)\d?|CE\d|CS\d")


class HarmError(AssertionError):
    """Something is destroyed, or written that should only be read."""


@dataclass(frozen=True)
class Masks:
    """Which selects of mask ROMs are active high; all others are active low."""

    original: frozenset[str] = frozenset()
    chip: frozenset[str] = frozenset()


def masks_of(one: Fit) -> Masks:
    """Make the masks as the conditions ask for."""
    found: dict[str, set[str]] = {"original": set(), "chip": set()}
    for condition in one.conditions:
        for whose, name in re.findall(r"made the (original|chip)'s (\S+(?: or CS\d)?) active high", condition):
            found[whose].add(name.split()[-1])
    return Masks(frozenset(found["original"]), frozenset(found["chip"]))


def select_name(signals: tuple[str, ...]) -> str | None:
    """Name the select that a pin is, the mask's own name where there is one."""
    if signals[0] == "NC" and re.fullmatch(r"CS\d", signals[-1]):
        return None
    masked = [one for one in signals if re.fullmatch(r"CS\d", one)]
    named = [one for one in signals if SELECT.fullmatch(one)]
    return (masked or named or [None])[0]


def active_level(name: str, high: frozenset[str]) -> int:
    if re.fullmatch(r"CS\d", name):
        return 1 if name in high else 0
    return 0 if name.startswith("/") else 1


def carried(
    socket: Chip, pin: int, address: int, high: frozenset[str], idle: str | None, tied: Mapping[int, str]
) -> Carried:
    """Tell what the board puts on a pin while it reads an address; `idle` is the one select that is not active."""
    if pin in tied:
        return 1 if tied[pin] == "high" else 0
    signals = socket.signals_at(pin)
    name = signals[0]
    if select := select_name(signals):
        level = active_level(select, high)
        return 1 - level if select == idle else level
    if match := re.fullmatch(r"A(\d+)", name):
        return address >> int(match[1]) & 1
    if match := re.fullmatch(r"D(\d+)", name):
        return ("data", int(match[1]))
    if name in socket.supplies_v:
        return ("volts", socket.supplies_v[name])
    if name == "GND":
        return ("volts", 0.0)
    if name == "PGM":
        return 1 if socket.id == "1702A" else 0
    if name in ("Vpp", "/PGM", "/WE", "/RESET", "/BYTE", "Vbb", "AR"):
        return 1
    if name == "/AR":   # of a half-good chip: low where its good half is
        return 0
    return None


def level_of(what: Carried) -> int | None:
    """The logic level of what a pin meets, or None where it floats."""
    if isinstance(what, tuple):
        if what[0] == "volts":
            if what[1] not in (0.0, 5.0):
                raise HarmError(f"{what[1]} V on a logic pin")
            return int(what[1] == 5.0)
        raise HarmError("an input on a data line")
    assert what in (0, 1, None)
    return what  # type: ignore[no-any-return]


def joined(one: Fit, chip: Chip, socket: Chip, pin: int) -> tuple[tuple[int, ...], str | None, tuple[int, ...], str]:
    """Tell the socket pins that a chip pin is joined to, the gate, the inverters, and what is said to be there."""
    if one.wires:
        wire = one.wires[pin - 1]
        assert wire.chip_pin == pin
        return wire.socket_pins, wire.gate, wire.inverted, wire.socket_signal
    seat = pin + (socket.pins - chip.pins) // 2
    return ((seat,) if 1 <= seat <= socket.pins else ()), None, (), ""


def read(
    one: Fit, chip: Chip, socket: Chip, content: bytes, address: int, *,
    idle: str | None = None, tied: Mapping[int, str] | None = None,
) -> int | None:  # fmt: skip
    """Read one word through the socket; None when the chip does not answer.

    Raises:
        HarmError: When a supply, an output or a write line harms something.
    """
    masks = masks_of(one)
    chip_address, outputs, selected = 0, {}, True
    for pin in range(1, chip.pins + 1):
        pins, gate, inverted, says = joined(one, chip, socket, pin)
        met = [carried(socket, where, address, masks.original, idle, tied or {}) for where in pins]
        if not pins and says == "ground of the board":
            met = [("volts", 0.0)]
        signals = chip.signals_at(pin)
        name = signals[0] if signals[0] != "NC" else signals[-1]
        met = [1 - what if where in inverted else what for where, what in zip(pins, met, strict=False)] if pins else met
        if len(met) > 1:
            levels = [level_of(what) for what in met]
            assert None not in levels
            assert gate in ("OR", "AND")
            what: Carried = int(any(levels)) if gate == "OR" else int(all(levels))
        else:
            what = met[0] if met else None
        if select := select_name(signals):
            level = level_of(what)
            if level is None:
                raise HarmError(f"{select} floats")
            selected &= level == active_level(select, masks.chip)
        elif match := re.fullmatch(r"A(\d+)", name):
            level = level_of(what)
            if level is None:
                raise HarmError(f"{name} floats")
            chip_address |= level << int(match[1])
        elif match := re.fullmatch(r"D(\d+)", name):
            if what is not None:
                if what[0] != "data":
                    raise HarmError(f"{name} against {what}")
                outputs[what[1]] = int(match[1])
        elif name in chip.supplies_v or name == "GND":
            volts = chip.supplies_v.get(name, 0.0)
            if what not in (("volts", volts), 1 if volts == 5.0 else 0 if volts == 0.0 else None):
                raise HarmError(f"{name} at {what}")
        elif name in ("Vpp", "/PGM", "/WE", "/RESET", "/BYTE", "Vbb", "PGM", "AR", "/AR"):
            wanted = 0 if (name == "PGM" and chip.id != "1702A") or name == "/AR" else 1
            if level_of(what) != wanted:
                raise HarmError(f"{name} at {what}")
        elif isinstance(what, tuple) and what[0] == "volts" and what[1] not in (0.0, 5.0):
            raise HarmError(f"{what[1]} V on {name}")
    if not selected:
        return None
    size = (chip.bits + 7) // 8
    word = int.from_bytes(content[chip_address * size : (chip_address + 1) * size], "little")
    assert sorted(outputs) == list(range(socket.bits)), "a data line that nothing drives"
    return sum((word >> own & 1) << board for board, own in outputs.items())
