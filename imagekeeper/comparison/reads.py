"""Different images of one carrier, with what is known of how each was read: what all explanations start from."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.comparison.pair import Bytes


@dataclass(frozen=True, kw_only=True)
class Reads:
    """Different images of one carrier over the same addresses.

    Attributes:
        images: Their bytes, all of one length; the one that most reads give first.
        numbers: For each image the numbers of the reads that gave it, counted from 1.
        names: For each image what to call the reads that gave it.
        volts: For each image the supply voltages of its reads, where they are known. [volt]
        start: Address of the first byte. [byte]
        gapless: Whether they stand at consecutive addresses from a chip's first on.
        holds_charge: Whether the memory can lose its charge, as far as is known.
    """

    images: tuple[Bytes, ...]
    numbers: tuple[tuple[int, ...], ...]
    names: tuple[str, ...]
    volts: tuple[tuple[float | None, ...], ...]
    start: int = 0
    gapless: bool = True
    holds_charge: bool = True

    @property
    def size(self) -> int:
        """How many addresses there are. [byte]"""
        return len(self.images[0])

    @property
    def total(self) -> int:
        """How many reads there are."""
        return sum(map(len, self.numbers))
