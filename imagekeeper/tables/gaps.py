"""The rows of gaps.toml: gap 3 as the handbooks of controllers give it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from imagekeeper.tables import load


@dataclass(frozen=True, kw_only=True)
class GapRow:
    """One line of a handbook.

    Attributes:
        data_rate: [bit/s]
        rotation: [rev/min]
        encoding: fm, mfm or perpendicular.
        sectors: On the track.
        sector_bytes: [byte]
        use: For which disks.
        gap3_format: What the controller is told when it formats. [byte]
        gap3_write: What it is told when it reads and writes, or null. [byte]
        note: What else must be known, or null; `misprint` begins what cannot be meant.
        source: The id of the handbook, or null when it is from memory.
        unsourced: Whether it is from memory.
    """

    data_rate: int
    rotation: int
    encoding: str
    sectors: int
    sector_bytes: int
    use: str
    gap3_format: int
    gap3_write: int | None = None
    note: str | None = None
    source: str | None = None
    unsourced: bool = False

    @property
    def misprint(self) -> bool:
        """Whether the line cannot be meant.

        Example:
            >>> sum(row.misprint for row in gap_rows())
            5
        """
        return self.note is not None and self.note.startswith("misprint")


@cache
def gap_rows() -> tuple[GapRow, ...]:
    """Every line.

    Example:
        >>> [f"{row.gap3_format:02X}" for row in gap_rows() if row.sectors == 26]
        ['1B', '36']
    """
    return tuple(GapRow(**row) for row in load("gaps")["gap"])
