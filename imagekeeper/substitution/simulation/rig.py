"""The rig: the board runs, the chip answers through its wires, and what comes back is held against the original."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from operator import or_
from typing import Literal

from imagekeeper.chips import Chip
from imagekeeper.substitution.proofs import Flaw, Simulation
from imagekeeper.substitution.results import BOARD_GROUND, ImagePlan, MaskLevel, Wire
from imagekeeper.substitution.simulation.behaviour import Behaviour, behaviour
from imagekeeper.substitution.simulation.boards import RAM, Board, board
from imagekeeper.substitution.simulation.pins import LOGIC_V, Terminal, terminals
from imagekeeper.substitution.simulation.traces import OPEN, Trace, both, either, held

_Setup = tuple[Board, Behaviour, tuple[Terminal, ...]]


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One chip in the socket: of two that share it, one.

    Attributes:
        wires: Pin by pin, what it is wired to; none where it is simply plugged in.
        image: Which of the board's lines its own carry.
        first_line: The lowest of the board's data lines that it serves: 8 for the second of two that share the socket.
    """

    wires: tuple[Wire, ...]
    image: ImagePlan
    first_line: int = 0


@dataclass(frozen=True)
class Rig:
    """A board and its socket, for any number of chips to be tried in.

    Attributes:
        socket: The chip that the socket was made for.
        tied: Pins that the board holds at a level.
        writes: Whether the board writes to the original; None where that is not known, and then it is tried.
    """

    socket: Chip
    tied: Mapping[int, Literal["high", "low"]] = field(default_factory=dict)
    writes: bool | None = None
    _setups: dict[frozenset[str], _Setup] = field(default_factory=dict, repr=False)

    @property
    def by_bytes(self) -> bool:
        """Whether the board reads a chip of 16 bits by bytes."""
        return any(self.tied.get(pin) == "low" for pin in self.socket.pins_of("/BYTE"))

    def run(self, chip: Chip, units: Sequence[Unit], masks: Collection[MaskLevel] = (), *, pulled_up: bool = False
            ) -> Simulation:  # fmt: skip
        """Try a chip, or two that share the socket.

        Args:
            chip: The type of the chip, or of both.
            units: How each is wired, and its image laid out.
            masks: What mask-chosen selects must be; those that are said only to be alike are tried both ways.
            pulled_up: Whether resistors hold the data lines high.
        """
        runs = [self._run(chip, units, *levels, pulled_up) for levels in _levels(masks)]
        return Simulation(
            cycles=sum(one.cycles for one in runs), kinds=runs[0].kinds,
            flaws=tuple(dict.fromkeys(flaw for one in runs for flaw in one.flaws)), writes=runs[0].writes,
        ) if len(runs) == 1 else Simulation(
            cycles=sum(one.cycles for one in runs),
            kinds={kind: sum(one.kinds[kind] for one in runs) for kind in runs[0].kinds},
            flaws=tuple(dict.fromkeys(flaw for one in runs for flaw in one.flaws)), writes=runs[-1].writes,
        )  # fmt: skip

    def plugged(self, chip: Chip, masks: Collection[MaskLevel] = ()) -> tuple[Flaw, ...]:
        """Say what becomes of a chip that is simply plugged in, whatever it reads there."""
        flaws = []
        for socket_high, chip_high in _levels(masks):
            made, _, _ = self._setup(socket_high)
            nets = [_net(pin, chip, self.socket, (), made) for pin in range(1, chip.pins + 1)]
            one = behaviour(chip, _terminals(chip, chip_high, nets, made), nets, made)
            flaws += [*one.flaws, *_answers(one, made)]
        return tuple(dict.fromkeys(flaws))

    def addresses(self, chip: Chip, unit: Unit, masks: Collection[MaskLevel] = ()) -> Iterator[tuple[int, int]]:
        """Give the addresses that the board reads, and what each is for the chip. [word]"""
        socket_high, chip_high = _levels(masks)[0]
        made, _, roles = self._setup(socket_high)
        nets = [_net(pin, chip, self.socket, unit.wires, made) for pin in range(1, chip.pins + 1)]
        own = behaviour(chip, _terminals(chip, chip_high, nets, made), nets, made).address
        lines = {line.number: made.pins[line.pin - 1] for line in roles if line.role == "address"}
        for n in range(made.count):
            if made.kinds["read"] >> n & 1:
                board, there = (
                    sum((net.high >> n & 1) << number for number, net in each.items()) for each in (lines, own)
                )
                yield board, there

    def _setup(self, high: frozenset[str]) -> _Setup:
        if high not in self._setups:
            roles = terminals(self.socket, high, as_socket=True, by_bytes=self.by_bytes)
            made = board(
                self.socket, roles, self.tied, words=self.socket.words << self.by_bytes,
                bits=8 if self.by_bytes else self.socket.bits, written=self.writes is not False,
            )  # fmt: skip
            own = behaviour(self.socket, roles, made.pins, made)
            self._setups[high] = (made, own, roles)
        return self._setups[high]

    def _run(
        self, chip: Chip, units: Sequence[Unit], socket_high: frozenset[str], chip_high: frozenset[str],
        pulled_up: bool,
    ) -> Simulation:  # fmt: skip
        made, own, roles = self._setup(socket_high)
        flaws: list[Flaw] = []
        served: list[int] = []
        found = []
        for unit in units:
            nets = [_net(pin, chip, self.socket, unit.wires, made) for pin in range(1, chip.pins + 1)]
            one = behaviour(chip, _terminals(chip, chip_high, nets, made), nets, made)
            found.append(one)
            flaws += one.flaws
            flaws += _answers(one, made)
            flaws += _carries(one, unit, made, roles)
            if not pulled_up and (chip.outputs, self.socket.outputs != "open-collector") == ("open-collector", True):
                flaws.append(Flaw(kind="read", pin=None, says="nothing pulls its open outputs high", harm=False))
            served += one.data.values()
            if chip.carrier in RAM and chip.cell == "outside" and made.kinds.get("power-down", 0) & ~one.rests:
                flaws.append(Flaw(
                    kind="power-down", pin=None, harm=False,
                    says="it is not surely off while the battery feeds it: it may lose what it holds, and empty it",
                ))  # fmt: skip
        for line in range(len(made.data)):
            if (drivers := served.count(line)) != 1:
                flaws.append(Flaw(
                    kind="read", pin=None, harm=drivers > 1,
                    says=f"{'nothing drives' if not drivers else 'two outputs drive'} the board's D{line}",
                ))  # fmt: skip
        writes, wrong = self._written(chip, found, own, made, roles, units)
        return Simulation(
            cycles=made.count, kinds={kind: cycles.bit_count() for kind, cycles in made.kinds.items()},
            flaws=(*flaws, *wrong), writes=writes,
        )  # fmt: skip

    def _written(
        self, chip: Chip, found: Sequence[Behaviour], own: Behaviour, made: Board, roles: Sequence[Terminal],
        units: Sequence[Unit],
    ) -> tuple[Literal["none", "kept", "lost", "spoils"], list[Flaw]]:  # fmt: skip
        """Tell what becomes of what the board writes."""
        pulsed = [one for one in roles if one.written_v > LOGIC_V and one.pin not in self.tied]
        written = made.kinds.get("write", 0)
        if self.writes is False or not (pulsed or own.takes & written):
            return "none", []
        if pulsed:
            nets = [_net(pin, chip, self.socket, units[0].wires, made) for pin in range(1, chip.pins + 1)]
            taken = [one for one, net in zip(terminals(chip), nets, strict=True) if net.peak_v and one.written_v]
            return ("kept" if taken else "lost"), []
        takes = reduce(or_, (one.takes & written for one in found))
        if not takes:
            return "lost", []
        if any(one.takes & written != own.takes & written for one in found):
            says = "it takes other writes than the original does, or loses some"
            return "spoils", [Flaw(kind="write", pin=None, says=says, harm=bool(takes & ~own.takes))]
        return ("kept" if (chip.carrier == "flash") == (self.socket.carrier == "flash") else "spoils"), []


def _levels(masks: Collection[MaskLevel]) -> list[tuple[frozenset[str], frozenset[str]]]:
    """Give which mask-chosen selects are active high, of the original and of the chip, in each run that is needed.

    Those that must only be alike follow one of them whose level is said; where none is, both levels are tried.
    """
    sure = {key: one.active for one in masks if one.active is not None for key in _names(one)}
    alike = [_names(one) for one in masks if one.active is None]
    for _ in alike:   # a level is handed on from one to the next
        for names in alike:
            for level in [sure[key] for key in names if key in sure]:
                sure |= dict.fromkeys(names, level)
    free = {key for names in alike for key in names} - set(sure)
    found = []
    for level in ("low", "high") if free else ("low",):
        high = {key for key, its in sure.items() if its == "high"} | (free if level == "high" else set())
        found.append(tuple(frozenset(name for whose, name in high if whose == one) for one in ("original", "chip")))
    return [(socket, chip) for socket, chip in found]


def _names(one: MaskLevel) -> list[tuple[str, str]]:
    """Give the selects that are meant: whose, and the mask's own name for it."""
    both = (("original", one.original), ("chip", one.chip))
    return [(whose, name.split()[-1]) for whose, name in both if name is not None]


def _terminals(chip: Chip, high: frozenset[str], nets: Sequence[Trace], made: Board) -> tuple[Terminal, ...]:
    """Read the pins of the chip, by bytes where its width pin is held low."""
    awake = ((1 << made.count) - 1) & ~made.kinds.get("power-down", 0)
    low = any(not awake & ~nets[pin - 1].low for pin in chip.pins_of("/BYTE"))
    return terminals(chip, high, by_bytes=low)


def _net(pin: int, chip: Chip, socket: Chip, wires: Sequence[Wire], made: Board) -> Trace:
    """Tell what reaches a pin of the chip."""
    if not wires:
        seat = pin + (socket.pins - chip.pins) // 2
        return made.pins[seat - 1] if 1 <= seat <= socket.pins else OPEN
    wire = wires[pin - 1]
    lines = [made.pins[one - 1].inverted() if one in wire.inverted else made.pins[one - 1] for one in wire.socket_pins]
    if len(lines) > 1:
        return either(lines) if wire.gate == "OR" else both(lines)
    if lines:
        return lines[0]
    return held(0.0, made.count) if wire.socket_signal == BOARD_GROUND else OPEN


def _answers(one: Behaviour, made: Board) -> Iterator[Flaw]:
    """Hold when it drives the bus against when it should."""
    if made.kinds["read"] & ~one.drives:
        yield Flaw(kind="read", pin=None, says="it does not answer when the board reads", harm=False)
    if made.kinds.get("stand-by", 0) & one.drives:
        says = "it drives the bus while a select of the board is inactive: against others"
        yield Flaw(kind="stand-by", pin=None, says=says, harm=True)
    if made.kinds.get("write", 0) & one.drives:
        yield Flaw(kind="write", pin=None, says="it drives the bus while the board writes", harm=True)


def _carries(one: Behaviour, unit: Unit, made: Board, roles: Sequence[Terminal]) -> Iterator[Flaw]:
    """Hold every line against the layout of the image: the word that is read must be the one that was asked for."""
    image = unit.image
    used = made.kinds["read"] | one.takes
    lines = {line.number: made.pins[line.pin - 1] for line in roles if line.role == "address"}
    for number, source in enumerate(image.address_from):
        net = one.address.get(number, OPEN)
        if source is None:
            wanted = used if image.seen_first >> number & 1 else 0
        else:
            wanted = lines.get(source, OPEN).high & used
        if net.high & used != wanted or used & ~net.known:
            yield Flaw(kind="read", pin=None, says=f"its A{number} is not where the layout of the image has it",
                       harm=False)  # fmt: skip
    for number in sorted(set(lines) - set(image.address_from)):
        if number < len(image.address_from):
            yield Flaw(kind="read", pin=None, says=f"the board's A{number} reaches nothing", harm=False)
    served = {line + unit.first_line: own for line, own in enumerate(image.data_to)}
    wrong = {line for own, line in one.data.items() if served.get(line) != own}
    for line in sorted(wrong):
        yield Flaw(kind="read", pin=None, says=f"the board's D{line} is not where the layout of the image has it",
                   harm=False)  # fmt: skip
