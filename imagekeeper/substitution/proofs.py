"""What came out of a simulation on the bus: how many cycles of each kind, and what was wrong in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: `supply` is no cycle of its own: what is wrong at any time, as long as the board has power.
CycleKind = Literal["supply", "read", "stand-by", "write", "power-down"]


@dataclass(frozen=True, kw_only=True)
class Flaw:
    """What is wrong in a simulated cycle.

    Attributes:
        kind: The kind of cycle that shows it: supply, read, stand-by, write or power-down.
        pin: The pin of the chip, or null where the chip as a whole is at fault.
        says: What is wrong, in a sentence.
        harm: Whether something is destroyed, or written that should be read, or driven against another output.
    """

    kind: CycleKind
    pin: int | None
    says: str
    harm: bool


@dataclass(frozen=True, kw_only=True)
class Simulation:
    """A chip over its wires in a socket, in cycles of every kind that the board runs.

    Attributes:
        cycles: How many cycles were run, all kinds together.
        kinds: How many of each: read (every address line alone and all others, both ends, and some between); stand-by
            (the selects inactive, one, several and all); write (the board drives the bus); power-down (a battery feeds
            the socket, and one select alone is held inactive).
        flaws: What was wrong; none where it works.
        writes: `none` where the board never writes there; `kept` where what it writes reaches the chip; `lost` where it
            does not; `spoils` where it reaches the chip, which understands it otherwise.
    """

    cycles: int
    kinds: dict[str, int]
    flaws: tuple[Flaw, ...]
    writes: Literal["none", "kept", "lost", "spoils"]

    @property
    def says(self) -> str:
        """Say how much was tried.

        Example:
            >>> Simulation(cycles=52, kinds={"read": 40, "stand-by": 12}, flaws=(), writes="none").says
            '52 bus cycles in this socket, none at fault: 40 read, 12 stand-by'
        """
        kinds = ", ".join(f"{count} {kind}" for kind, count in self.kinds.items())
        return f"{self.cycles} bus cycles in this socket, {'some' if self.flaws else 'none'} at fault: {kinds}"
