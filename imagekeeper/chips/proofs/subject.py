"""What the proofs look at: a row, its pinout, and what its makers' sheets give."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from imagekeeper.tables.chips import ChipRow, PinoutRow, Signature
from imagekeeper.tables.makers import MakerRow


@dataclass(frozen=True)
class RowSubject:
    """A row that is to prove itself.

    Attributes:
        row: The chip.
        pinout: Its pins.
        makers: What is known of each maker's chip.
        signatures: What makers' chips answer when asked for their signature.
    """

    row: ChipRow
    pinout: PinoutRow
    makers: tuple[MakerRow, ...]
    signatures: tuple[Signature, ...]

    @cached_property
    def names(self) -> frozenset[str]:
        """Every function that a pin has."""
        return frozenset(name for pin in self.pinout.signals for name in pin)

    @cached_property
    def remarks(self) -> str:
        """What is said of the chip and its pins in sentences."""
        return " ".join(filter(None, (self.row.note, self.pinout.note, self.row.reading, self.row.programming)))

    @property
    def rows(self) -> tuple[ChipRow | MakerRow, ...]:
        """The row of the chip, then those of its makers."""
        return (self.row, *self.makers)

    def pins_of(self, name: str) -> tuple[int, ...]:
        """The pins that have a function, from 1."""
        return tuple(number for number, names in enumerate(self.pinout.signals, 1) if name in names)
