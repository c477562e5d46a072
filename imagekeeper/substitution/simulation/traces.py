"""Lines of a bus over many cycles at once: bit n of a number is what the line is in cycle n."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, kw_only=True)
class Trace:
    """One line in all cycles.

    Attributes:
        high: Bit n is set where it is high in cycle n.
        known: Bit n is set where something drives it in cycle n, high or low.
        volts: What it is held at where it is a supply or ground, else None. [V]
        data: The number of the board's data line where it is one, else None.
        peak_v: The highest voltage that the board ever puts on it, where that is more than 5 V; else 0. [V]
    """

    high: int = 0
    known: int = 0
    volts: float | None = None
    data: int | None = None
    peak_v: float = 0.0

    @property
    def low(self) -> int:
        """Where it is low."""
        return self.known & ~self.high

    def inverted(self) -> Trace:
        """Give the line behind an inverter.

        Example:
            >>> Trace(high=0b01, known=0b11).inverted()
            Trace(high=2, known=3, volts=None, data=None, peak_v=0.0)
        """
        return Trace(high=self.low, known=self.known, peak_v=self.peak_v)


OPEN = Trace()


def held(volts: float, cycles: int) -> Trace:
    """Hold a line at a voltage, which is high at 5 V and low at 0."""
    whole = (1 << cycles) - 1
    return Trace(high=whole if volts > 0 else 0, known=whole, volts=volts)


def signal(levels: Iterable[int | None]) -> Trace:
    """Make a line from its level in each cycle; None where nothing drives it.

    Example:
        >>> signal([1, 0, None])
        Trace(high=1, known=3, volts=None, data=None, peak_v=0.0)
    """
    high = known = 0
    for n, level in enumerate(levels):
        if level is not None:
            known |= 1 << n
            high |= level << n
    return Trace(high=high, known=known)


def either(lines: Iterable[Trace]) -> Trace:
    """Join lines by an OR gate: high where one is, whatever the others are.

    Example:
        >>> either([Trace(high=0b01, known=0b11), Trace(high=0, known=0b10)])
        Trace(high=1, known=3, volts=None, data=None, peak_v=0.0)
    """
    found = list(lines)
    high, known = 0, -1
    for one in found:
        high |= one.high
        known &= one.known
    return Trace(high=high, known=known | high, peak_v=max(one.peak_v for one in found))


def both(lines: Iterable[Trace]) -> Trace:
    """Join lines by an AND gate: low where one is, whatever the others are."""
    return either(one.inverted() for one in lines).inverted()


def raised(line: Trace, volts: float) -> Trace:
    """Let the board put a higher voltage on a line now and then."""
    return replace(line, peak_v=volts)
