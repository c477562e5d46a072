"""From two pin maps to a verdict: plug in, tie pins, or wire an adapter, whichever is the least work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from imagekeeper.chips import Chip
from imagekeeper.substitution import image
from imagekeeper.substitution.cautions import cautions_of, runs_a_clock
from imagekeeper.substitution.joints import Joint, given_by, lacks, plugged
from imagekeeper.substitution.lines import Level, PinRole, lines_of
from imagekeeper.substitution.results import Fit, ImagePlan, Meeting, Verdict, Wire, Writes
from imagekeeper.substitution.scoring import evidence
from imagekeeper.substitution.seating import seatable, socket_pin
from imagekeeper.substitution.widths import halved
from imagekeeper.substitution.wiring import adapted, strapped
from imagekeeper.substitution.writing import NO_WRITES, becomes, kept_by_battery
from imagekeeper.units import plural, ranges


@dataclass(frozen=True, kw_only=True)
class Way:
    """The least work that makes a chip serve.

    Attributes:
        verdict: How much that is.
        joints: What every pin is joined to; of what is never plugged in: what each would meet.
        second: Of two chips, the pins of the one on the upper data lines.
        refused: Why nothing helps, or None.
    """

    verdict: Verdict
    joints: Sequence[Joint]
    second: Sequence[Joint] = ()
    refused: str | None = None


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What was said of the board.

    Attributes:
        tied: Pins of the socket that it holds at a level, though the original does not need that.
        access_ns: How fast the chip must be, or None where that is not known. [ns]
        writes: Whether it writes to the original in its socket, or None where that is not known.
    """

    tied: Mapping[int, Level]
    access_ns: int | None = None
    writes: bool | None = None


def judge(chip: Chip, socket: Chip, asked: Asked) -> Fit:
    """Judge one chip in the socket of another: of its width, read by bytes, or two for one of double width.

    Args:
        chip: The chip to be plugged in.
        socket: The chip that the socket was wired for.
        asked: What was said of the board.
    """
    given = given_by(socket, asked.tied)
    seats = tuple(socket_pin(pin, chip.pins, socket.pins) for pin in range(1, chip.pins + 1))
    short = max(0, socket.words - chip.words)
    plugs = seatable(chip, socket)
    own = chip == socket
    as_it_is = plugged(chip, given, seats if plugs else (None,) * chip.pins)
    way = Way(verdict="drops-in", joints=as_it_is) if own else _least_work(
        chip, socket, given, seats, as_it_is, plugs, asked.writes
    )
    writes = becomes(chip, socket, given, way.joints, asked.writes)
    if writes in ("lost", "spoils") and asked.writes and way.verdict != "never":
        way = Way(verdict="never", joints=as_it_is, refused=NO_WRITES[writes])
    verdict, joints = way.verdict, way.joints
    dangers = tuple(_dangers(as_it_is, given)) if plugs and not own else ()
    pull_ups = chip.outputs == "open-collector" and socket.outputs != "open-collector" and verdict != "never"
    additions = tuple(_additions((*joints, *way.second), pull_ups, socket)) if verdict != "never" else ()
    if additions and verdict in ("drops-in", "image-placed", "image-rearranged"):
        verdict = "straps"
    conditions = tuple(dict.fromkeys(_conditions(chip, socket, joints, writes, asked))) if verdict != "never" else ()
    fast_enough = _fast_enough(chip, socket, asked.access_ns)
    plan = image.unchanged(chip) if own else None if verdict == "never" else image.plan(joints, chip, socket)
    if plan is not None and way.second:
        plan = image.halves(plan)
    reasons = tuple(sorted(evidence(
        chip, verdict, additions=len(additions) + bool(way.second), conditions=len(conditions), short=short,
        fast_enough=fast_enough, own=own, clock=runs_a_clock(chip, socket),
    ), key=lambda one: -abs(one.weight)))  # fmt: skip
    refused = (way.refused or "the socket lacks what the chip needs") if verdict == "never" else None
    wired = verdict in ("straps", "adapter")
    wires, second = (tuple(map(_wire, one)) if wired else () for one in (joints, way.second))
    return Fit(
        part=chip.id, verdict=verdict, says=_says(chip, verdict, joints, plan, dangers, refused, len(second)),
        dangers=dangers, conditions=conditions, additions=additions, refused=refused, units=2 if second else 1,
        image=plan,
        meetings=tuple(_meeting(one, given) for one in as_it_is if one.outcome != "same" or one.condition)
        if plugs and not own else (),
        wires=wires, second=second, ohmmeter=None,
        masks=tuple(dict.fromkeys(mask for one in joints for mask in one.masks)) if verdict != "never" else (),
        pull_ups=pull_ups, writes=writes, simulation=None, short=short, access_ns=chip.access_ns,
        fast_enough=fast_enough, technology=chip.technology, availability=chip.availability,
        score=round(min(1.0, max(0.0, sum(one.weight for one in reasons))), 4), evidence=reasons,
        cautions=tuple(cautions_of(chip, socket, verdict, joints, writes)) if verdict != "never" else (),
        from_memory=tuple(_from_memory(socket, chip)), sources=tuple(_sources(socket, chip)),
    )  # fmt: skip


def _least_work(
    chip: Chip, socket: Chip, given: Sequence[PinRole], seats: Sequence[int | None], as_it_is: Sequence[Joint],
    plugs: bool, writes: bool | None,
) -> Way:  # fmt: skip
    written = _written(chip, socket, given, writes)
    if chip.bits < socket.bits and socket.bits == 16:
        return _two(chip, given, written)
    if plugs and not any(one.bad for one in as_it_is) and not lacks(as_it_is, given, written=written):
        if any(one.outcome == "crossed" for one in as_it_is):
            return Way(verdict="image-rearranged", joints=as_it_is)
        return Way(verdict="drops-in" if chip.words == socket.words else "image-placed", joints=as_it_is)
    if plugs and chip.pins <= socket.pins:
        tied_up = strapped(as_it_is, given)
        if not any(one.bad for one in tied_up) and not lacks(tied_up, given, written=written):
            return Way(verdict="straps", joints=tied_up)
    wired = adapted(chip, given, seats if plugs else (None,) * chip.pins, written=written)
    trouble = _trouble(wired, given, written)
    if trouble is not None or isinstance(wired, str):
        return Way(verdict="never", joints=as_it_is, refused=trouble)
    return Way(verdict="adapter", joints=wired)


def _two(chip: Chip, given: Sequence[PinRole], written: bool) -> Way:
    """Wire two chips, one to the lower and one to the upper data lines, and all else of both together."""
    ways = []
    for upper in (False, True):
        half = halved(given, upper)
        wired = adapted(chip, half, (None,) * chip.pins, written=written)
        trouble = _trouble(wired, half, written)
        if trouble is not None or isinstance(wired, str):
            return Way(verdict="never", joints=(), refused=trouble)
        ways.append(wired)
    return Way(verdict="adapter", joints=ways[0], second=ways[1])


def _trouble(wired: Sequence[Joint] | str, given: Sequence[PinRole], written: bool) -> str | None:
    """Say why an adapter cannot be made, or None."""
    if isinstance(wired, str):
        return wired
    bad = next((f"pin {one.pin}: {one.says}" for one in wired if one.bad), None)
    return bad or next((one.says for one in lacks(wired, given, written=written)), None)


def _written(chip: Chip, socket: Chip, given: Sequence[PinRole], writes: bool | None) -> bool:
    """Whether the machine must be able to write to the chip as it wrote to the original.

    A chip without /WE cannot be written, which its conditions say. Flash memory and the others are written by different
    commands, so that between these /WE is better held: what the machine writes could only spoil what is there.
    """
    both = any(line.writes for line in given) and any(line.writes for line in lines_of(chip))
    return both and writes is not False and (chip.carrier == "flash") == (socket.carrier == "flash")


def _dangers(as_it_is: Sequence[Joint], given: Sequence[PinRole]) -> Iterator[str]:
    for one in as_it_is:
        if one.outcome == "danger":
            yield f"{_place(one.pin, one.socket_pins)}: {one.says}"
    for lack in lacks(as_it_is, given):
        if lack.danger:
            yield lack.says


def _place(pin: int, socket_pins: Sequence[int]) -> str:
    if not socket_pins or socket_pins[0] == pin:
        return f"pin {pin}"
    return f"pin {pin} in socket pin {socket_pins[0]}"


def _meeting(one: Joint, given: Sequence[PinRole]) -> Meeting:
    seat = one.socket_pins[0] if one.socket_pins else None
    return Meeting(
        chip_pin=one.pin, chip_signal=str(one.need), socket_pin=seat,
        socket_signal=None if seat is None else str(given[seat - 1]), outcome=one.outcome, says=one.says,
        condition=one.condition,
    )  # fmt: skip


def _wire(one: Joint) -> Wire:
    signal = " and ".join(str(line) for line in one.given) if one.given else "open"
    return Wire(
        chip_pin=one.pin, chip_signal=str(one.need), socket_pins=one.socket_pins, socket_signal=signal, gate=one.gate,
        inverted=one.inverted, straight=one.straight,
    )  # fmt: skip


def _additions(joints: Sequence[Joint], pull_ups: bool, socket: Chip) -> Iterator[str]:
    fed = ", fed from the socket's Vcc, so that the battery feeds it too" if kept_by_battery(socket) else ""
    for gate in dict.fromkeys((one.gate, one.socket_pins) for one in joints if one.gate is not None):
        yield f"an {gate[0]} gate for the lines of socket pins {' and '.join(map(str, gate[1]))}{fed}"
    for pin in sorted({pin for one in joints for pin in one.inverted}):
        yield f"an inverter for the line of socket pin {pin}{fed}"
    if pull_ups:
        yield "a resistor of 1 to 4.7 kohm from every output to +5 V (from memory), for its outputs only pull down"


def _conditions(
    chip: Chip, socket: Chip, joints: Sequence[Joint], writes: Writes, asked: Asked
) -> Iterator[str]:
    if chip.id == socket.id and chip.carrier != "mask-rom":
        return
    yield from (one.condition for one in joints if one.condition is not None)
    if asked.writes is None and writes in ("lost", "spoils"):
        yield f"the machine never writes to the original in its socket: {NO_WRITES[writes]}"
    if chip.cell == "outside" and socket.cell == "inside":
        yield "a battery of the board feeds this socket: the original has its own, and this chip has none"
    for one in joints:
        if one.need.pulse_v and any(line.kind == "level" and not line.pulse_v for line in one.given):
            pin = " and ".join(map(str, one.socket_pins))
            yield (f"the board never puts more than +5 V on pin {pin}: {one.need.pulse_v:g} V there writes or erases a "
                   f"{chip.id} (from memory)")  # fmt: skip
    if socket.outputs == "open-collector" and chip.outputs != "open-collector":
        yield "no other chip drives the same data lines at the same time: open-collector outputs may, others must not"


def _fast_enough(chip: Chip, socket: Chip, access_ns: int | None) -> bool | None:
    """Tell whether the fastest kind is fast enough; a faster chip may replace a slower one.

    Without a figure only a chip that is at least as fast as the fastest original is sure to be: what the board needs is
    not known.
    """
    if chip == socket and access_ns is None:
        return True
    if not chip.access_ns:
        return None
    if access_ns is not None:
        return chip.access_ns[0] <= access_ns
    return True if socket.access_ns and chip.access_ns[0] <= socket.access_ns[0] else None


def _from_memory(socket: Chip, chip: Chip) -> Iterator[str]:
    for one in (socket, chip) if socket.id != chip.id else (socket,):
        pins = [pin.number for pin in one.pinout.pins if not pin.sources]
        if len(pins) == one.pins:
            yield f"all pins of the {one.id}"
        elif pins:
            yield f"{'pins' if len(pins) > 1 else 'pin'} {ranges(pins)} of the {one.id}"


def _sources(*chips: Chip) -> Iterator[str]:
    """Name the documents that give what is used here."""
    used = {"words", "bits", "supplies_v", "supply_tolerance_percent", "outputs", "access_ns"}
    bases = [basis for chip in chips for basis in chip.sources]
    yield from dict.fromkeys(
        basis.source.id for basis in bases if any(given in used or given.startswith("pin") for given in basis.gives)
    )  # fmt: skip


def ties(joints: Sequence[Joint]) -> Iterator[tuple[int, str, Level]]:
    """Give the pins that are lifted and tied: pin, name, level."""
    for one in joints:
        if not one.straight and one.given:
            yield one.pin, one.need.name, "high" if one.given[0].high else "low"


def _says(
    chip: Chip, verdict: Verdict, joints: Sequence[Joint], plan: ImagePlan | None, dangers: Sequence[str],
    refused: str | None, second: int,
) -> str:  # fmt: skip
    if verdict == "never" or plan is None:
        return f"never: {dangers[0]}" if dangers else f"no: {refused}"
    if verdict in ("drops-in", "image-placed", "image-rearranged"):
        return "drops in; " + plan.says
    if verdict == "straps":
        told = [f"pin {pin} ({name}) to {'+5 V' if level == 'high' else 'GND'}" for pin, name, level in ties(joints)]
        return (f"lift and tie {', '.join(told)}; " if told else "") + plan.says
    moved = sum(not one.straight and bool(one.given) for one in joints)
    if second:
        return f"two of them on an adapter, {plural(moved, 'pin')} of each wired; {plan.says}"
    return f"adapter, {plural(moved, 'pin')} rewired; {plan.says}"
