"""How findings name lines: with the pin, where the chip is known."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from imagekeeper.chips import Chip
from imagekeeper.errors import Where
from imagekeeper.findings import Finding


class PinNames:
    """What is known of the chip on the bench: it calls the line D3 "D3 (pin 15 of a 27128)".

    Example:
        >>> from imagekeeper.chips import find
        >>> PinNames(find("27128"))["D3"], PinNames(None)["D3"]
        ('D3 (pin 15 of a 27128)', 'D3')
    """

    def __init__(self, chip: Chip | None) -> None:
        self.chip = chip

    def pin(self, line: str) -> int | None:
        """The pin of a line, or None."""
        return self.chip.pin_of(line) if self.chip else None

    def __getitem__(self, line: str) -> str:
        pin = self.pin(line)
        return line if pin is None or self.chip is None else f"{line} (pin {pin} of a {self.chip.id})"

    def finding(
        self,
        about: str,
        severity: Literal["note", "warning", "fault"],
        confidence: float,
        *,
        lines: Iterable[str] = (),
        where: Where | None = None,
        detail: dict[str, Any] | None = None,
        **values: Any,
    ) -> Finding:
        """Make a finding; the lines' pins go into the hint, as `pins`, and into the detail."""
        lines, detail = tuple(lines), dict(detail or {})
        numbers = {line: pin for line in lines if (pin := self.pin(line)) is not None}
        if numbers:
            detail["pins"] = numbers
        confidence = round(min(max(confidence, 0.0), 0.99), 2)
        called = [self[line] for line in lines]
        return Finding.of(about, severity, confidence, where, detail=detail, **{**values, "pins": called})
