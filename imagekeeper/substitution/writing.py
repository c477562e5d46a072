"""What becomes of what a board writes into its socket."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.chips import Chip
from imagekeeper.substitution.joints import Joint
from imagekeeper.substitution.lines import PinRole
from imagekeeper.substitution.results import Writes

RAM = ("ram", "clock-ram")

#: Why that does not do.
NO_WRITES = {
    "lost": "what the machine writes cannot reach this chip",
    "spoils": "this chip takes other commands, and what the machine writes is lost or spoils what is there",
}


def written_in_place(given: Sequence[PinRole]) -> bool:
    """Whether a board can write to the original in its socket."""
    return any(line.writes or line.pulse_v for line in given)


def kept_by_battery(socket: Chip) -> bool:
    """Whether a battery of the board may feed the socket while the machine is off."""
    return socket.carrier in RAM and socket.cell == "outside"


def becomes(
    chip: Chip, socket: Chip, given: Sequence[PinRole], joints: Sequence[Joint], writes: bool | None
) -> Writes:
    """Tell what becomes of what the board writes.

    Args:
        chip: The chip in the socket.
        socket: The chip that the socket was made for.
        given: What the socket gives.
        joints: What the pins of the chip are joined to.
        writes: Whether the board writes, or None where that is not known.
    """
    if writes is False or not written_in_place(given):
        return "none"
    if any(line.pulse_v for line in given):
        reached = any(one.need.pulse_v and any(line.pulse_v for line in one.given) for one in joints)
        return "kept" if reached else "lost"
    if not any(one.need.writes and any(line.writes for line in one.given) for one in joints):
        return "lost"
    return "kept" if (chip.carrier == "flash") == (socket.carrier == "flash") else "spoils"
