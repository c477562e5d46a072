"""What a board does with a socket: every pin in every cycle, as the chip that the socket was made for expects it."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from imagekeeper.chips import Chip
from imagekeeper.substitution.proofs import CycleKind
from imagekeeper.substitution.simulation.pins import LOGIC_V, Terminal
from imagekeeper.substitution.simulation.traces import OPEN, Trace, held, raised, signal

#: So many addresses between the ends are tried, beside each line alone. Of our own choosing.
SOME = 8

RAM = ("ram", "clock-ram")


@dataclass(frozen=True, kw_only=True)
class Cycle:
    """One cycle of the bus.

    Attributes:
        kind: What the board does in it.
        address: On the address lines.
        inactive: The selects, by pin, that are not active.
        writing: Whether /WE is low.
        word: What the board puts on the data lines, or None where it listens.
        alone: In a power-down: the one select that is held; all other lines float.
    """

    kind: CycleKind
    address: int = 0
    inactive: frozenset[int] = frozenset()
    writing: bool = False
    word: int | None = None
    alone: int | None = None


@dataclass(frozen=True, kw_only=True)
class Board:
    """All pins of the socket in all cycles.

    Attributes:
        pins: What the board puts on each, pin 1 first.
        data: What it puts on each data line, D0 first; floating where it listens.
        kinds: Of each kind of cycle: the number whose bits tell which they are.
        count: How many cycles there are.
    """

    pins: tuple[Trace, ...]
    data: tuple[Trace, ...]
    kinds: dict[CycleKind, int]
    count: int


def board(
    socket: Chip, roles: Sequence[Terminal], tied: Mapping[int, Literal["high", "low"]], *, words: int, bits: int,
    written: bool,
) -> Board:  # fmt: skip
    """Run the board through its cycles.

    Args:
        socket: The chip that the socket was made for.
        roles: Its pins, as a socket.
        tied: Pins that the board holds at a level.
        words: How many words the board reads there. [word]
        bits: How wide a word is there. [bit]
        written: Whether the board writes.
    """
    free = [one for one in roles if one.pin not in tied]
    cycles = tuple(_cycles(socket, free, words, bits, written))
    pins = tuple(_pin(one, tied.get(one.pin), cycles) for one in roles)
    data = tuple(
        signal(None if one.word is None or one.kind == "power-down" else one.word >> n & 1 for one in cycles)
        for n in range(bits)
    )
    kinds: dict[CycleKind, int] = {}
    for n, one in enumerate(cycles):
        kinds[one.kind] = kinds.get(one.kind, 0) | 1 << n
    return Board(pins=pins, data=data, kinds=kinds, count=len(cycles))


def _cycles(socket: Chip, roles: Sequence[Terminal], words: int, bits: int, written: bool) -> Iterator[Cycle]:
    dice = random.Random(words)   # noqa: S311  # the same addresses each time
    lines = (words - 1).bit_length()
    whole = words - 1
    ends = [0, whole]
    walk = [1 << n for n in range(lines)]
    some = [dice.randrange(words) for _ in range(SOME)]
    addresses = list(dict.fromkeys([*ends, *walk, *(whole ^ one for one in walk), *some]))
    for address in addresses:
        yield Cycle(kind="read", address=address & whole)
    selects = [one for one in roles if one.role in ("enable", "output-enable")]
    for inactive in _some_of([one.pin for one in selects]):
        for address in (*ends, *some[:2]):
            yield Cycle(kind="stand-by", address=address, inactive=inactive)
    if written and any(one.role == "write" for one in roles):
        yield from _writes(socket, selects, addresses, bits, dice)
    if socket.carrier in RAM and socket.cell != "inside":
        for one in selects:
            if one.role == "enable":
                yield Cycle(kind="power-down", alone=one.pin, inactive=frozenset({one.pin}))


def _writes(
    socket: Chip, selects: Sequence[Terminal], addresses: Sequence[int], bits: int, dice: random.Random
) -> Iterator[Cycle]:
    """Write everywhere with the outputs off, and to a RAM also with them on, for its /WE turns them off.

    A board also holds /WE low, or lets it pulse, while it writes to other chips: then this one must take nothing.
    """
    outputs = frozenset(one.pin for one in selects if one.role == "output-enable")
    enables = [one.pin for one in selects if one.role == "enable"]
    ways = [outputs] if socket.carrier not in RAM or not outputs else [outputs, frozenset[int]()]
    for off in ways:
        for address in addresses:
            yield Cycle(kind="write", address=address, inactive=off, writing=True, word=dice.getrandbits(bits))
        for n in range(bits):
            yield Cycle(kind="write", inactive=off, writing=True, word=1 << n)
    for inactive in _some_of(enables):
        for address in addresses[:3]:
            yield Cycle(
                kind="write", address=address, inactive=inactive | outputs, writing=True, word=dice.getrandbits(bits)
            )


def _some_of(pins: Sequence[int]) -> Iterator[frozenset[int]]:
    """Give every choice of one or more of a few pins; of many, each alone and all together."""
    if len(pins) <= 3:
        for count in range(1, len(pins) + 1):
            yield from map(frozenset, itertools.combinations(pins, count))
        return
    yield from (frozenset({pin}) for pin in pins)
    yield frozenset(pins)


def _pin(one: Terminal, tied: Literal["high", "low"] | None, cycles: Sequence[Cycle]) -> Trace:
    count = len(cycles)
    if tied is not None:
        return held(LOGIC_V if tied == "high" else 0.0, count)
    match one.role:
        case "supply":
            return held(one.volts, count)
        case "ground":
            return held(0.0, count)
        case "data":
            return Trace(data=one.number)
        case "held" | "width":
            still = signal(None if each.alone is not None else one.active for each in cycles)
            return raised(still, one.written_v) if one.written_v > LOGIC_V else still
        case "address":
            return signal(None if each.alone is not None else each.address >> one.number & 1 for each in cycles)
        case "enable" | "output-enable":
            return signal(
                None if each.alone not in (None, one.pin) else one.active ^ (one.pin in each.inactive)
                for each in cycles
            )
        case "write":
            return signal(None if each.alone is not None else int(not each.writing) for each in cycles)
        case _:
            return OPEN
