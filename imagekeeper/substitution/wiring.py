"""Straps and adapters: how each pin of a chip is wired to a socket that it does not fit as it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from imagekeeper.chips import Chip
from imagekeeper.substitution.joints import Joint
from imagekeeper.substitution.lines import Active, Level, PinRole, lines_of
from imagekeeper.substitution.meeting import meet
from imagekeeper.substitution.results import BOARD_GROUND, MaskLevel


def strapped(joints: Sequence[Joint], given: Sequence[PinRole]) -> tuple[Joint, ...]:
    """Lift the pins that do not fit, and tie them to a level; address lines that are over all to the same one.

    Pins that no level helps stay as they are, bad.
    """
    spare = _spare_level(joints)
    return tuple(_strapped(one, given, spare) if one.bad else one for one in joints)


def _strapped(one: Joint, given: Sequence[PinRole], spare: Level) -> Joint:
    need = one.need
    level: Level
    if need.kind == "nothing" or need.kind == "ready":
        return _left_open(one.pin, need)
    if need.kind == "address" and one.given[0].kind != "address":
        level = spare
    elif need.kind == "select" and need.active != "mask":
        level = need.active
    elif need.kind == "level":
        level = need.level
    elif need.high or need.low:
        level = "high" if need.high else "low"
    else:
        return one
    return _at(one.pin, need, level, given)


def adapted(
    chip: Chip, given: Sequence[PinRole], seats: Sequence[int | None], *, written: bool = False
) -> tuple[Joint, ...] | str:
    """Wire every pin of the chip, straight down wherever that fits; or say why no wires help.

    Args:
        chip: The chip.
        given: What the socket gives.
        seats: Pin by pin of the chip: the pin of the socket below it, or None where it overhangs.
        written: Whether the machine must be able to write to it: /WE then goes to the board's /WE, never to a level.
    """
    needs = lines_of(chip)
    wanted: dict[tuple[str, int], tuple[int, PinRole]] = {
        (line.kind, line.number): (pin, line) for pin, line in enumerate(given, 1) if line.kind in ("address", "data")
    }
    selects = _selects(needs, given, written)
    if selects is None:
        return "it has no select of the kind that the board needs while it writes"
    joints: list[Joint] = []
    for pin, need in enumerate(needs, 1):
        seat = seats[pin - 1]
        writes = next((n for n, line in enumerate(given, 1) if written and need.writes and line.writes), None)
        if writes is not None:
            joints.append(Joint(
                pin=pin, need=need, socket_pins=(writes,), given=(given[writes - 1],), outcome="same",
                straight=writes == seat,
            ))  # fmt: skip
        elif pin in selects:
            joints.append(replace(selects[pin], straight=selects[pin].socket_pins == (seat,)))
        elif (need.kind, need.number) in wanted:
            where, line = wanted[need.kind, need.number]
            joints.append(Joint(
                pin=pin, need=need, socket_pins=(where,), given=(line,), outcome="same", straight=where == seat
            ))
        elif need.kind == "nothing" and seat is not None and not (given[seat - 1].odd or given[seat - 1].pulse_v):
            joints.append(Joint(pin=pin, need=need, socket_pins=(seat,), given=(given[seat - 1],), outcome="idle"))
        elif need.kind in ("data", "nothing", "ready"):
            joints.append(_left_open(pin, need))
        elif need.odd:
            found = next((n for n, line in enumerate(given, 1) if line.odd and line.volts == need.volts), None)
            if found is None:
                return f"the socket has no {need}"
            joints.append(Joint(
                pin=pin, need=need, socket_pins=(found,), given=(given[found - 1],), outcome="same",
                straight=found == seat,
            ))  # fmt: skip
        else:
            joints.append(_levelled(pin, need, given, seat))
    spare = _spare_level(joints)
    return tuple(
        _at(one.pin, one.need, spare, given) if one.need.kind == "address" and one.bad else one for one in joints
    )


def _levelled(pin: int, need: PinRole, given: Sequence[PinRole], seat: int | None) -> Joint:
    """Join a supply, a level or a spare address line: where it sits if that serves, else at a supply pin."""
    if seat is not None and not given[seat - 1].writes:
        outcome, says, mask = meet(need, given[seat - 1])
        if outcome in ("same", "idle", "fixed-high", "fixed-low"):
            return Joint(
                pin=pin, need=need, socket_pins=(seat,), given=(given[seat - 1],), outcome=outcome, says=says,
                masks=() if mask is None else (mask,),
            )  # fmt: skip
    if need.kind == "address":
        return Joint(
            pin=pin, need=need, socket_pins=(), given=(), outcome="open", says=f"{need.name} floats",
            straight=False,
        )  # fmt: skip
    return _at(pin, need, "high" if need.high else "low", given)


def _spare_level(joints: Iterable[Joint]) -> Level:
    """Choose the level of address lines that are over: high where the socket holds another of them high."""
    return "high" if any(one.outcome == "fixed-high" for one in joints) else "low"


def _at(pin: int, need: PinRole, level: Level, given: Sequence[PinRole]) -> Joint:
    """Tie a pin to Vcc or to ground."""
    where = [n for n, line in enumerate(given, 1) if line.kind == ("supply" if level == "high" else "ground")
             and not line.odd]  # fmt: skip
    line = given[where[0] - 1] if where else PinRole(kind="ground", name=BOARD_GROUND)
    outcome, says, mask = meet(need, line)
    return Joint(
        pin=pin, need=need, socket_pins=tuple(where[:1]), given=(line,), outcome=outcome, says=says,
        masks=() if mask is None else (mask,), straight=False,
    )  # fmt: skip


def _left_open(pin: int, need: PinRole) -> Joint:
    return Joint(pin=pin, need=need, socket_pins=(), given=(), outcome="idle", straight=False)


def _selects(needs: Sequence[PinRole], given: Sequence[PinRole], written: bool) -> dict[int, Joint] | None:
    """Join every select of the board to a select of the chip, so that the chip answers only when all are active.

    Selects that the chip has over go to one that is joined already, or to their active level; where the board has more,
    a gate joins them. While the board writes, its output enable is inactive: where it writes, that goes to an output
    enable only, and the others to no output enable. None where the chip has no select of the kind that is needed.
    """
    own = [(pin, line) for pin, line in enumerate(needs, 1) if line.kind == "select"]
    board = [(pin, line) for pin, line in enumerate(given, 1) if line.kind == "select"]
    joined: dict[int, list[tuple[int, PinRole]]] = {}
    left = list(board)
    for test in (_same_name, _same_kind_and_active, *((_same_kind,) if written else (_same_active, _any))):
        for pin, line in own:
            found = next((one for one in left if pin not in joined and test(line, one[1])), None)
            if found is not None:
                joined[pin] = [found]
                left.remove(found)
    for one in left:   # more selects on the board than on the chip
        alike = [pin for pin, line in own if pin in joined and not (written and line.output != one[1].output)]
        if not alike:
            return None
        best = next((pin for pin in alike if _same_active(one[1], joined[pin][0][1])), alike[0])
        joined[best].append(one)
    joints = {}
    for pin, line in own:
        if pin in joined:
            joints[pin] = _select_joint(pin, line, joined[pin])
            continue
        twin = next((other for other, its in own if other in joined and _same_active(line, its)
                     and not (written and line.output != its.output)), None)  # fmt: skip
        joints[pin] = _at(pin, line, "high" if line.active == "high" else "low", given) if twin is None else (
            _select_joint(pin, line, joined[twin])
        )
    return joints


def _select_joint(pin: int, need: PinRole, lines: Sequence[tuple[int, PinRole]]) -> Joint:
    """Join a select: lines of the other active level are inverted, several go through a gate."""
    known = [line.active for line in (need, *(line for _, line in lines)) if line.active != "mask"]
    active: Active = known[0] if known else "low" if len(lines) > 1 else "mask"
    masks = []
    for _, line in lines:
        if active == "mask":
            masks.append(MaskLevel(original=line.name, chip=need.name, active=None))
        elif line.active == "mask":
            masks.append(MaskLevel(original=line.name, active=active))
    if need.active == "mask" and active != "mask":
        masks.append(MaskLevel(chip=need.name, active=active))
    return Joint(
        pin=pin, need=need, socket_pins=tuple(where for where, _ in lines), given=tuple(line for _, line in lines),
        outcome="same", masks=tuple(masks),
        gate=None if len(lines) == 1 else "AND" if active == "high" else "OR",
        inverted=tuple(where for where, line in lines if {line.active, active} == {"low", "high"}),
    )  # fmt: skip


def _same_name(need: PinRole, line: PinRole) -> bool:
    return need.name == line.name


def _same_kind(need: PinRole, line: PinRole) -> bool:
    return need.output == line.output


def _same_kind_and_active(need: PinRole, line: PinRole) -> bool:
    return _same_kind(need, line) and _same_active(need, line)


def _same_active(need: PinRole, line: PinRole) -> bool:
    return need.active == line.active or "mask" in (need.active, line.active)


def _any(need: PinRole, line: PinRole) -> bool:
    return True
