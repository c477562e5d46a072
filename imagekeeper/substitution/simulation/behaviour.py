"""What a chip does with what reaches its pins: when it answers, when it takes a write, and what it suffers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from imagekeeper.chips import Chip
from imagekeeper.substitution.proofs import CycleKind, Flaw
from imagekeeper.substitution.simulation.boards import RAM, Board
from imagekeeper.substitution.simulation.pins import LOGIC_V, Terminal
from imagekeeper.substitution.simulation.traces import Trace


@dataclass(frozen=True, kw_only=True)
class Behaviour:
    """A chip in all cycles; bit n of a number is set where that is so in cycle n.

    Attributes:
        drives: It drives its outputs.
        takes: It takes what is on its data lines.
        rests: One of its enables is surely inactive: it is off, and keeps what it holds.
        address: What reaches each of its address lines, by number.
        data: The board's data line on each of its own, by number, as far as one is there.
        flaws: What is wrong at its pins.
    """

    drives: int
    takes: int
    rests: int
    address: dict[int, Trace]
    data: dict[int, int]
    flaws: tuple[Flaw, ...]


def behaviour(chip: Chip, roles: Sequence[Terminal], nets: Sequence[Trace], board: Board) -> Behaviour:
    """Run a chip through the cycles.

    Args:
        chip: The chip.
        roles: Its pins.
        nets: What reaches each of them.
        board: The board that runs the cycles.
    """
    whole = (1 << board.count) - 1
    selected = enabled = whole
    rests = writing = 0
    off = whole   # its outputs are off; a chip without such an enable has nothing to hold a write off with
    gated = False
    address: dict[int, Trace] = {}
    data: dict[int, int] = {}
    flaws: list[Flaw] = []
    for one, net in zip(roles, nets, strict=True):
        flaws += _flaws(one, net, board)
        active, inactive = (net.high, net.low) if one.active else (net.low, net.high)
        match one.role:
            case "enable":
                selected &= active
                rests |= inactive
            case "output-enable":
                enabled &= active
                off = inactive if not gated else off | inactive
                gated = True
            case "write":
                writing |= net.low
            case "address":
                address[one.number] = net
            case "data" if net.data is not None:
                data[one.number] = net.data
    awake = whole & ~board.kinds.get("power-down", 0)
    held_off = whole if chip.carrier in RAM else off   # only the /WE of a RAM turns the outputs off by itself
    if writing & awake & ~board.kinds.get("write", 0):
        flaws += _read_as_write(roles, nets)
    return Behaviour(
        drives=selected & enabled & ~writing & awake, takes=selected & writing & held_off & awake, rests=rests,
        address=address, data=data, flaws=tuple(flaws),
    )  # fmt: skip


def _read_as_write(roles: Sequence[Terminal], nets: Sequence[Trace]) -> Iterator[Flaw]:
    for one, net in zip(roles, nets, strict=True):
        if one.role == "write" and net.low:
            yield Flaw(kind="read", pin=one.pin, says=f"{one.name} is low while the board only reads", harm=True)


def _flaws(one: Terminal, net: Trace, board: Board) -> Iterator[Flaw]:
    """Say what is wrong at one pin, the worst alone."""
    awake = ((1 << board.count) - 1) & ~board.kinds.get("power-down", 0)

    def flaw(says: str, *, harm: bool = False, where: int = 0) -> Flaw:
        return Flaw(kind=_kind(where, board), pin=one.pin, says=f"{one.name} {says}", harm=harm)

    if one.role == "unknown":
        yield flaw("is of a kind that the simulation does not know")
        return
    if net.peak_v > max(LOGIC_V, one.written_v):
        yield flaw(f"gets {net.peak_v:+g} V whenever the board writes", harm=True)
        return
    odd = net.volts is not None and net.volts not in (0.0, LOGIC_V)
    if odd and not (one.role == "supply" and one.volts == net.volts):
        yield flaw(f"gets {net.volts:+g} V", harm=True)
        return
    still_high, still_low = not awake & ~net.high, not awake & ~net.low
    read = awake & ~board.kinds.get("write", 0)   # what a chip cannot take is of no account
    floating = awake & ~net.known
    open_ended = net.data is None and not net.known & awake
    match one.role:
        case "address" | "enable" | "output-enable" | "write" if floating:
            yield flaw("meets a data line" if net.data is not None else "floats", where=floating)
        case "supply" if open_ended:
            yield flaw("gets no supply: the chip would feed itself through its other pins", harm=False)
        case "supply" if net.volts != one.volts and not (one.volts == LOGIC_V and still_high):
            yield flaw(f"needs {one.volts:+g} V and meets something else", harm=True)
        case "ground" if open_ended:
            yield flaw("has no ground")
        case "ground" if not still_low:
            yield flaw("is not at ground", harm=True)
        case "held" | "width" if open_ended:
            yield flaw("floats")
        case "held" if read & ~(net.high if one.active else net.low):
            moved = one.name.startswith("Vpp") and not still_low and not still_high
            yield flaw(
                f"is not held {'high' if one.active else 'low'} all the time", harm=moved or net.data is not None
            )
        case "width" if not (still_high or still_low):
            yield flaw("moves: the width of its words would change", harm=net.data is not None)
        case "data" if net.data is None and not open_ended:
            yield flaw("is an output, and would drive against the board", harm=True)
        case "ready" if not open_ended and not (still_high or still_low):
            yield flaw("is an output, and would drive against the board", harm=True)


def _kind(where: int, board: Board) -> CycleKind:
    """Name the kind of the first of some cycles."""
    first = where & -where
    return next((kind for kind, cycles in board.kinds.items() if cycles & first), "supply")
