"""One pin of a chip in one pin of a socket: does it fit, does it fail, or is something harmed."""

from __future__ import annotations

from imagekeeper.substitution.lines import Level, PinRole
from imagekeeper.substitution.results import MaskLevel, Outcome

#: What a meeting comes to: the outcome, what it means, and what must be true for it.
Met = tuple[Outcome, str, MaskLevel | None]

_FITS: Met = ("same", "", None)
_IDLE: Met = ("idle", "", None)


def meet(need: PinRole, given: PinRole) -> Met:
    """Judge what a pin of the chip meets.

    Args:
        need: What the pin of the chip is.
        given: What the socket gives there.

    Example:
        >>> meet(PinRole(kind="address", name="A11", number=11), PinRole(kind="level", name="Vpp"))[0]
        'fixed-high'
        >>> meet(PinRole(kind="level", name="Vpp"), PinRole(kind="address", name="A15", number=15))[:2]
        ('danger', 'Vpp would follow the address line A15')
        >>> meet(PinRole(kind="level", name="/WE", writes=True), PinRole(kind="level", name="Vpp", pulse_v=21.0))[1]
        '+21 V would reach /WE whenever the board writes to the original'
    """
    if given.pulse_v > need.pulse_v:
        says = f"{given.pulse_v:+g} V would reach {_named(need)} whenever the board writes to the original"
        return "danger", says, None
    if given.odd and (need.kind, need.volts) != (given.kind, given.volts):
        return "danger", f"{given.volts:+g} V would reach {_named(need)}", None
    return {
        "address": _address, "data": _data, "select": _select, "supply": _supply, "ground": _ground, "level": _level,
        "ready": _ready, "nothing": _nothing, "unknown": _unknown,
    }[need.kind](need, given)  # fmt: skip


def chosen(need: PinRole, given: PinRole) -> MaskLevel:
    """Tell what the masks must have made of two selects that are joined, of which one at least was chosen with one."""
    if need.active == "mask":
        return MaskLevel(
            chip=need.name, original=given.name if given.active == "mask" else None,
            active=None if given.active == "mask" else given.active,
        )  # fmt: skip
    return MaskLevel(original=given.name, active=need.active)


def _named(need: PinRole) -> str:
    what = {"address": "an address input", "data": "an output", "select": "a select input", "nothing": "an unused pin"}
    return f"{need.name}, {what[need.kind]}" if need.kind in what else need.name


def _address(need: PinRole, given: PinRole) -> Met:
    if given.kind == "address":
        if given.number == need.number:
            return _FITS
        return "crossed", f"{need.name} is driven by the board's {given.name}", None
    if given.high or given.low:
        level: Level = "high" if given.high else "low"
        where = "Vcc" if given.high else "GND"
        return ("fixed-high" if level == "high" else "fixed-low"), f"{need.name} is held at {where}", None
    if given.kind in ("nothing", "ready"):
        return "open", f"{need.name} floats", None
    return "missing", f"{need.name} would be driven by {given.name}", None


def _data(need: PinRole, given: PinRole) -> Met:
    if given.kind == "data":
        if given.number == need.number:
            return _FITS
        return "crossed", f"{need.name} drives the board's {given.name}", None
    if given.kind in ("nothing", "ready"):
        return _IDLE
    return "danger", f"the output {need.name} would drive against {given}", None


def _select(need: PinRole, given: PinRole) -> Met:
    if given.kind == "select":
        if "mask" in (need.active, given.active):
            return "same", "", chosen(need, given)
        if need.active == given.active:
            return _FITS
        told = f"active {need.active}, {given.name} active {given.active}"
        return "danger", f"{told}: it drives the bus against others", None
    if given.high or given.low:
        level: Level = "high" if given.high else "low"
        if need.active == "mask":
            return "idle", "", MaskLevel(chip=need.name, active=level)
        if need.active == level:
            return _IDLE
        return "missing", f"{need.name} is held inactive: the chip never answers", None
    if given.kind in ("nothing", "ready"):
        return "open", f"{need.name} floats", None
    return "missing", f"{need.name} would follow {given.name}: only a part would read", None


def _supply(need: PinRole, given: PinRole) -> Met:
    if given.kind == "supply" and given.volts == need.volts:
        return _FITS
    if given.kind == "nothing":
        if need.odd:
            return "missing", f"{need.name} needs {need.volts:+g} V and gets nothing", None
        return "open", f"{need.name} gets nothing", None
    if need.odd:
        return "danger", f"{need.name} needs {need.volts:+g} V and meets {given}", None
    if given.kind == "level" and given.high and not given.writes:
        return _IDLE   # a pin that the board ties to Vcc
    return "danger", f"{need.name}, the supply, meets {given}", None


def _ground(need: PinRole, given: PinRole) -> Met:
    if given.low:
        return _FITS if given.kind == "ground" else _IDLE
    if given.kind == "nothing":
        return "open", f"{need.name} gets nothing", None
    return "danger", f"{need.name} meets {given}", None


def _level(need: PinRole, given: PinRole) -> Met:
    if need.writes and given.writes:
        return _FITS
    if given.kind == "nothing" or given.kind == "ready":
        return "open", f"{need.name} floats", None
    if need.name == "Vpp" and given.driven:
        what = "the address line" if given.kind == "address" else "the board's"
        return "danger", f"Vpp would follow {what} {given.name}", None
    if (given.high and need.level == "high") or (given.low and need.level == "low"):
        return _IDLE
    if need.writes:
        return "danger", f"/WE would be pulled low by {given.name}: reading would write", None
    if given.kind in ("data", "unknown"):
        return "danger", f"{need.name} meets {given.name}", None
    return "missing", f"{need.name} must be {need.level} for reading and meets {given}", None


def _ready(need: PinRole, given: PinRole) -> Met:
    if given.kind == "ready":
        return _FITS
    if given.kind == "nothing" or given.low or (given.high and not given.writes):
        return _IDLE
    return "danger", f"the output {need.name} meets {given.name}", None


def _nothing(need: PinRole, given: PinRole) -> Met:
    return _IDLE


def _unknown(need: PinRole, given: PinRole) -> Met:
    return _FITS if need == given else ("danger", f"{need.name} is no line of a plain memory", None)
