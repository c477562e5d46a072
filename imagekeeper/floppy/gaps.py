"""Gap 3 in handbooks, and which of their lines a track has room for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.floppy.layout import bytes_per_track
from imagekeeper.floppy.recording import recording
from imagekeeper.tables import Source, sources
from imagekeeper.tables.gaps import GapRow, gap_rows

#: By how much a drive may turn too fast when a line shall be safe. [%]
TOLERANCE_PERCENT = 1.5

#: The least from the index to the first sector, which needs no index mark. [byte]
#: Source: Western Digital, FD 179X-02 data sheet, May 1980, "Non-IBM formats".
SHORTEST_INDEX_GAP = {"fm": 16, "mfm": 32, "perpendicular": 32}

Verdict = Literal["safe", "exact-speed-only", "short-index-gap-only", "does-not-fit"]


@dataclass(frozen=True, kw_only=True)
class HandbookGap:
    """A handbook's gap 3 for a track, judged.

    Attributes:
        gap3_format: What the controller is told when it formats. [byte]
        gap3_write: What it is told when it reads and writes, or null. [byte]
        use: For which disks.
        verdict: `safe` on a drive 1.5 % too fast, `exact-speed-only`, `short-index-gap-only` (with the least index gap,
            and at the exact speed), or `does-not-fit`.
        spare: What is left of a revolution at the exact speed, with the usual index gap. [byte]
        note: What else must be known, or null.
        source: The handbook, or null when it is from memory.
    """

    gap3_format: int
    gap3_write: int | None
    use: str
    verdict: Verdict
    spare: int
    note: str | None
    source: Source | None


def judge(row: GapRow) -> HandbookGap:
    """Tell whether a track has room for a line of a handbook.

    Source:
        Arithmetic on the fields of the track; those are Western Digital's, FD 179X-02 data sheet, May 1980.

    Example:
        >>> [judge(row).verdict for row in gap_rows() if row.encoding == "mfm" and row.sectors == 18]
        ['safe', 'exact-speed-only', 'safe']
    """
    kind = recording(row.encoding)
    whole = bytes_per_track(row.data_rate, row.rotation)
    used = row.sectors * (kind.overhead + row.sector_bytes + row.gap3_format)
    spare = whole - kind.index_gap - used
    verdict: Verdict = "does-not-fit"
    if (kind.index_gap + used) * (1 + TOLERANCE_PERCENT / 100) <= whole:
        verdict = "safe"
    elif spare >= 0:
        verdict = "exact-speed-only"
    elif SHORTEST_INDEX_GAP[row.encoding] + used <= whole:
        verdict = "short-index-gap-only"
    source = None if row.source is None else sources()[row.source]
    return HandbookGap(
        gap3_format=row.gap3_format, gap3_write=row.gap3_write, use=row.use, verdict=verdict, spare=spare,
        note=row.note, source=source,
    )  # fmt: skip


def handbook_gaps(
    encoding: str, data_rate: int, rotation: float, sectors: int, sector_bytes: int
) -> tuple[HandbookGap, ...]:
    """Find what handbooks say for a track; drives of another speed count when the track is the same.

    Example:
        >>> [gap.gap3_format for gap in handbook_gaps("mfm", 300_000, 360, 16, 256)]
        [50, 50]
    """
    whole = bytes_per_track(data_rate, rotation)
    return tuple(
        judge(row)
        for row in gap_rows()
        if (row.encoding, row.sectors, row.sector_bytes) == (encoding, sectors, sector_bytes)
        and bytes_per_track(row.data_rate, row.rotation) == whole
        and not row.misprint
    )
