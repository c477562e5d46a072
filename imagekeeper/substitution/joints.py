"""What each pin of a chip is joined to, in one way of putting it into a socket, and what such a way lacks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from imagekeeper.chips import Chip
from imagekeeper.substitution.lines import NOTHING, Level, PinRole, lines_of
from imagekeeper.substitution.meeting import meet
from imagekeeper.substitution.results import MaskLevel, Outcome


@dataclass(frozen=True, kw_only=True)
class Joint:
    """One pin of the chip and what it is joined to.

    Attributes:
        pin: The pin of the chip.
        need: What the chip is there.
        socket_pins: The pins of the socket that it is joined to; none where it hangs free.
        given: What they give: one line, or several through a gate; none where it is left open.
        outcome: How that fits.
        says: What that means; empty where it fits.
        masks: What must have been chosen with a mask for it.
        straight: Whether it stands in the socket pin below it.
        gate: OR or AND where several lines are joined, else None.
        inverted: The pins of the socket whose line goes through an inverter first.
    """

    pin: int
    need: PinRole
    socket_pins: tuple[int, ...]
    given: tuple[PinRole, ...]
    outcome: Outcome
    says: str = ""
    masks: tuple[MaskLevel, ...] = ()
    straight: bool = True
    gate: Literal["OR", "AND"] | None = None
    inverted: tuple[int, ...] = ()

    @property
    def condition(self) -> str | None:
        """What must be true for it."""
        return "; and ".join(map(str, self.masks)) or None

    @property
    def bad(self) -> bool:
        """Whether the pin must not be left like this."""
        return self.outcome in ("open", "missing", "danger")


@dataclass(frozen=True)
class Lack:
    """What a whole way of joining lacks, though each pin may fit.

    Attributes:
        says: What is wrong.
        danger: Whether something is harmed by it.
    """

    says: str
    danger: bool


def given_by(socket: Chip, tied: Mapping[int, Level]) -> tuple[PinRole, ...]:
    """Tell what the socket gives, with the pins that the board is known to hold at a level."""
    return tuple(
        line if pin not in tied
        else PinRole(kind="level", name=line.name if line.kind != "nothing" else f"pin {pin}", level=tied[pin])
        for pin, line in enumerate(lines_of(socket, given=True), 1)
    )


def plugged(chip: Chip, given: Sequence[PinRole], seats: Sequence[int | None]) -> tuple[Joint, ...]:
    """Join the pins of a chip that is simply plugged in."""
    joints = []
    for pin, (need, seat) in enumerate(zip(lines_of(chip), seats, strict=True), 1):
        line = NOTHING if seat is None else given[seat - 1]
        outcome, says, mask = meet(need, line)
        joints.append(Joint(
            pin=pin, need=need, socket_pins=() if seat is None else (seat,), given=(line,), outcome=outcome, says=says,
            masks=() if mask is None else (mask,),
        ))  # fmt: skip
    return tuple(joints)


def lacks(joints: Sequence[Joint], given: Sequence[PinRole], *, written: bool = False) -> tuple[Lack, ...]:
    """Tell what the joints leave out: selects of the board that the chip does not obey, data lines, address lines.

    A chip that does not obey a select of the board drives the bus when another chip, or the processor, does.

    Args:
        joints: What the pins of the chip are joined to.
        given: What the socket gives.
        written: Whether the machine must be able to write to the chip: its /WE then is the board's, held nowhere.
    """
    obeyed = {line for one in joints if one.need.kind == "select" and not one.bad for line in one.given}
    served = {one.given[0].number for one in joints if one.need.kind == "data" and one.given and not one.bad
              and one.given[0].kind == "data"}  # fmt: skip
    lines = sum(one.need.kind == "address" for one in joints)   # a smaller chip cannot have the board's upper ones
    reached = {line for one in joints if one.need.kind == "address" and not one.bad for line in one.given}
    found = []
    if written and not any(one.need.writes and any(line.writes for line in one.given) for one in joints):
        found.append(Lack("the board's /WE does not reach the chip's: the machine could not write to it", False))
    for one in joints if written else ():
        if any(line.kind == "select" == one.need.kind and line.output != one.need.output for line in one.given):
            found.append(Lack(f"{one.need.name} would hang on the wrong select while the board writes", False))
    for pin, line in enumerate(given, 1):
        if line.kind == "select" and line not in obeyed:
            found.append(
                Lack(f"it ignores the board's {line.name} (pin {pin}): it would drive the bus against others", True)
            )
        if line.kind == "data" and line.number not in served:
            found.append(Lack(f"nothing drives the board's {line.name} (pin {pin})", False))
        if line.kind == "address" and line not in reached and line.number < lines:
            found.append(Lack(f"the board's {line.name} (pin {pin}) reaches no address line of the chip", False))
    return tuple(found)
