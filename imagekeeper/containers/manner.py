"""How a text is taken, beyond what its format says: what the user chose, and what the line that it came by did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from imagekeeper.containers.parity import ParityKind

#: Which value counts where a file gives an address several.
Repeated = Literal["refuse", "first", "last"]


@dataclass(frozen=True)
class Repeats:
    """Addresses that came several times, and the choice that settled them.

    Attributes:
        choice: Which value counts: `first` or `last`.
        again: How many bytes came for addresses that had one already.
        differing: How many of them were another value than the one before.
        first: The lowest of those addresses. [byte]
    """

    choice: Repeated
    again: int
    differing: int
    first: int


@dataclass(frozen=True)
class Manner:
    """How a text is taken.

    Attributes:
        repeated: Which value counts where an address comes several times; `refuse` where each should come once, as the
            formats have it.
        parity: The parity that the characters carried, or None.
        broken: How many characters of a line break it, by the line's number.
    """

    repeated: Repeated = "refuse"
    parity: ParityKind | None = None
    broken: Mapping[int, int] = field(default_factory=dict)


PLAIN = Manner()
