"""A voltage as a row gives it: one figure, a range, figures to choose from, or figures in turn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

#: What several figures of one voltage can be.
Kind = Literal["single", "range", "any", "steps"]


@dataclass(frozen=True)
class Volts:
    """A voltage.

    Attributes:
        figures: The one figure; both ends of a range, lowest first; what makers or methods differ in; or what is set
            one after the other. None where no voltage is given. [V]
        kind: Which of these it is.
    """

    figures: tuple[float, ...] = ()
    kind: Kind = "single"

    def __bool__(self) -> bool:
        """Whether there is a voltage at all."""
        return bool(self.figures)

    @property
    def kind_or_none(self) -> Kind | None:
        """What it is, or None where no voltage is given."""
        return self.kind if self.figures else None

    @property
    def aims(self) -> tuple[float, ...]:
        """What a supply is set to: the middle of a range, and otherwise each figure. [V]

        Example:
            >>> Volts((25.0, 27.0), "range").aims, Volts((12.75, 13.0), "any").aims
            ((26.0,), (12.75, 13.0))
        """
        return (sum(self.figures) / 2,) if self.kind == "range" else self.figures

    def near(self, volts: float, within: float) -> bool:
        """Whether a voltage is one of these figures, or lies in this range.

        Args:
            volts: The voltage. [V]
            within: How far off it may be. [V]

        Example:
            >>> Volts((25.0, 27.0), "range").near(26.0, 0.5), Volts((25.0, 27.0), "any").near(26.0, 0.5)
            (True, False)
        """
        if self.kind == "range":
            return min(self.figures) - within <= volts <= max(self.figures) + within
        return any(abs(volts - one) <= within for one in self.figures)

    def text(self, by: str = "maker") -> str:
        """Give it in words.

        Args:
            by: What the choice between several figures hangs on.

        Example:
            >>> print(Volts((21.0,)).text(), Volts((25.0, 27.0), "range").text(), sep="; ")
            21 V; 26 V (25 to 27 V)
            >>> print(Volts((12.5, 21.0), "any").text(), Volts((6.0, 5.0), "steps").text(), sep="; ")
            12.5 V or 21 V, by maker; 6 V, then 5 V
        """
        if self.kind == "range":
            low, high = self.figures
            return f"{self.aims[0]:g} V ({low:g} to {high:g} V)"
        if self.kind == "any":
            return f"{' or '.join(map(volts_text, self.figures))}, by {by}"
        return ", then ".join(map(volts_text, self.figures))


#: Where a row gives no voltage.
NO_VOLTS = Volts()


def volts_text(value: float) -> str:
    """Give one figure in words.

    Example:
        >>> volts_text(12.75), volts_text(25.0)
        ('12.75 V', '25 V')
    """
    return f"{value:g} V"


def volts_of(given: Any) -> Volts:
    """Take a voltage as a row gives it: `21.0`, `{ from = 25.0, to = 27.0 }`, `{ any = [...] }`, `{ steps = [...] }`.

    Raises:
        ValueError: it is none of these.

    Example:
        >>> volts_of({"from": 25.0, "to": 27.0})
        Volts(figures=(25.0, 27.0), kind='range')
        >>> volts_of(21.0).kind, volts_of({"any": [12.5, 21.0]}).kind, volts_of(None) == NO_VOLTS
        ('single', 'any', True)
    """
    if given is None:
        return NO_VOLTS
    if isinstance(given, int | float):
        return Volts((float(given),))
    if isinstance(given, dict):
        if set(given) == {"from", "to"}:
            return Volts((float(given["from"]), float(given["to"])), "range")
        for kind in ("any", "steps"):
            if set(given) == {kind} and len(given[kind]) > 1:
                return Volts(tuple(map(float, given[kind])), kind)
    raise ValueError(f"no voltage: {given!r:.80}")
