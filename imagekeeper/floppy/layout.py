"""The exact fields of a track, what fits on it, and between which limits gap 3 may lie."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import ClassVar

from imagekeeper.errors import UsageError
from imagekeeper.floppy.order import SectorOrder, Slots, ordered
from imagekeeper.floppy.recording import (
    CRC_BYTES,
    DATA_MARK,
    ID_BYTES,
    ID_MARK,
    INDEX_MARK,
    Encoding,
    Recording,
    at_rate,
)
from imagekeeper.floppy.recording import recording as recording_of

#: A controller's register for gap 3, and the sector number of an ID, hold no more than this.
BYTE_LIMIT = 255

SECTOR_SIZES = tuple(128 << code for code in range(8))


@dataclass(frozen=True, kw_only=True)
class Field:
    """One field of a track.

    Attributes:
        name: gap 4a, sync, index mark, gap 1, id mark, id, id crc, gap 2, data mark, data, data crc, gap 3 or gap 4b.
        start: Counted from the index. [byte]
        length: [byte]
        fill: The bytes that it repeats, in hexadecimal, or null where they differ from sector to sector. The A1 and C2
            of marks miss a clock, as does the byte of every mark of FM.
        sector: To which sector it belongs, counted from 1 in the order in which they pass the head, or null.
    """

    name: str
    start: int
    length: int
    fill: str | None
    sector: int | None


@dataclass(frozen=True)
class Capacity:
    """How many sectors of one size a track holds.

    Attributes:
        sector_bytes: The size. [byte]
        sectors: The most that fit at the tolerance, with gap 3 as given, or else as the data sheet needs it.
        gap3_max: The largest gap 3 for that many sectors, or null for none. [byte]
    """

    sector_bytes: int
    sectors: int
    gap3_max: int | None


@dataclass(frozen=True, kw_only=True)
class TrackLayout:
    """The fields of a track, whether they fit, and between which limits gap 3 may lie.

    Attributes:
        says: The conclusion in a sentence.
        encoding: fm, mfm or perpendicular.
        data_rate: [bit/s]
        rotation: [rev/min]
        tolerance_percent: By how much the drive that formats may turn too fast. [%]
        rewrite_tolerance_percent: By how much the drives that format and that write later may each be off. [%]
        sectors: How many.
        sector_bytes: Their size. [byte]
        size_code: The size as IDs state it: the size is 128 times 2 to the power of this.
        gap3: After each sector. [byte]
        gap3_given: Whether it was asked for, rather than placed midway between its limits.
        gap3_min: The least that outlives the writing of a sector on the fastest drive, after formatting on the
            slowest. [byte]
        gap3_min_published: The same on top of the data sheet's own least gap. [byte]
        gap3_max: The largest with which a drive at the fast end of its tolerance still formats the track, or null
            when even none fits. [byte]
        bytes_per_track: Of a drive at its exact speed. [byte]
        limit: Of a drive at the fast end of its tolerance. [byte]
        total: From the index to the end of the last gap 3. [byte]
        spare: What is left of `bytes_per_track`, as gap 4b; negative when it does not fit. [byte]
        fits: Whether `total` is within `limit`.
        fits_nominal: Whether `total` is within `bytes_per_track`.
        capacity: What fits, size by size.
        order: The order of sectors, or null when they do not fit.
        fields: Field by field, from the index on.
    """

    SCHEMA: ClassVar[str] = "track-layout/1"

    says: str
    encoding: Encoding
    data_rate: int
    rotation: float
    tolerance_percent: float
    rewrite_tolerance_percent: float
    sectors: int
    sector_bytes: int
    size_code: int
    gap3: int
    gap3_given: bool
    gap3_min: int
    gap3_min_published: int
    gap3_max: int | None
    bytes_per_track: int
    limit: int
    total: int
    spare: int
    fits: bool
    fits_nominal: bool
    capacity: tuple[Capacity, ...]
    order: SectorOrder | None
    fields: tuple[Field, ...]

    @property
    def exit_code(self) -> int:
        """0 when the track fits at the tolerance, else 1."""
        return 0 if self.fits else 1


def bytes_per_track(data_rate: int, rotation: float) -> int:
    """Count the whole bytes of one revolution.

    Args:
        data_rate: [bit/s]
        rotation: [rev/min]

    Example:
        >>> bytes_per_track(250_000, 300), bytes_per_track(500_000, 360), bytes_per_track(300_000, 360)
        (6250, 10416, 6250)
    """
    return math.floor(Fraction(data_rate) * 60 / (Fraction(str(rotation)) * 8))


def gap3_least(recording: Recording, sector_bytes: int, tolerance_percent: float) -> int:
    """Find the least gap 3 that outlives a rewritten sector.

    Formatted on the slowest drive, a sector is shortest on the disk; written again on the fastest, its data field grows
    by (1 + t) / (1 - t). What it grows by, the byte that is written behind the CRC, and what a leading erase head
    takes, must end before the sync of the next ID:

        gap 3 >= 1 + erased ahead + (sync + mark + data + CRC + 1) x ((1 + t) / (1 - t) - 1)

    On a slower drive the field shrinks, and leaves the end of the old one in front of gap 3, which does no harm.

    Args:
        recording: How it is recorded.
        sector_bytes: [byte]
        tolerance_percent: By how much each of the two drives may be off. [%]

    Source:
        Our derivation. What is written: Western Digital, FD 179X-02 data sheet, May 1980, "Write sector". The lead of
        the erase head, 38 bytes: Standard Microsystems, FDC37 series data sheets, perpendicular mode.

    Example:
        >>> from imagekeeper.floppy.recording import RECORDINGS
        >>> gap3_least(RECORDINGS["mfm"], 512, 1.5), gap3_least(RECORDINGS["mfm"], 512, 0)
        (18, 1)
    """
    t = Fraction(str(tolerance_percent)) / 100
    growth = (1 + t) / (1 - t) - 1
    return 1 + recording.erased_ahead + math.ceil(recording.rewritten(sector_bytes) * growth)


def gap3_most(limit: int, index_gap: int, recording: Recording, sectors: int, sector_bytes: int) -> int | None:
    """Find the largest gap 3 that fits, or None when the sectors do not fit without any.

    Source:
        Arithmetic: the index gap and the sectors, each with its gap 3, within the bytes of the fastest drive.

    Example:
        >>> from imagekeeper.floppy.recording import RECORDINGS
        >>> gap3_most(12315, 146, RECORDINGS["mfm"], 18, 512)
        102
    """
    left = limit - index_gap - sectors * (recording.overhead + sector_bytes)
    return left // sectors if left >= 0 else None


def lay_out(
    encoding: str,
    *,
    sectors: int | None = None,
    sector_bytes: int = 512,
    data_rate: int | None = None,
    rotation: float = 300.0,
    gap3: int | None = None,
    tolerance_percent: float = 1.5,
    rewrite_tolerance_percent: float | None = None,
    index_gap: int | None = None,
    interleave: int | None = None,
    host_delay_ms: float = 0.0,
    step_delay_ms: float = 0.0,
) -> TrackLayout:
    """Lay a track out.

    Args:
        encoding: fm, mfm or perpendicular.
        sectors: How many, or None for as many as fit.
        sector_bytes: Their size: 128 to 16384, doubling. [byte]
        data_rate: None for that of the common drives: 125, 250 and 1000 kbit/s. [bit/s]
        rotation: [rev/min]
        gap3: None for the middle between the largest and the least, that of the data sheet if it fits. [byte]
        tolerance_percent: By how much the drive that formats may turn too fast. [%]
        rewrite_tolerance_percent: By how much the drives that format and that write later may each be off; None for
            the same. [%]
        index_gap: This much before the first sector, and no index mark; None for the usual one with the mark. [byte]
        interleave: None for that which reads the track soonest.
        host_delay_ms: What the host needs after a sector. [ms]
        step_delay_ms: What it takes more to go to the next track. [ms]

    Raises:
        UsageError: `unknown-name` for the encoding; `usage` for a number outside what drives and IDs can hold.

    Example:
        >>> track = lay_out("mfm", sectors=26, sector_bytes=256, data_rate=500_000, rotation=360, gap3=54)
        >>> track.total, track.spare, track.fits
        (9818, 598, True)
    """
    rate = recording_of(encoding).usual_rate if data_rate is None else data_rate
    kind = at_rate(recording_of(encoding), rate)
    again = tolerance_percent if rewrite_tolerance_percent is None else rewrite_tolerance_percent
    if sector_bytes not in SECTOR_SIZES:
        raise _wrong("sector size", f"{sector_bytes} is not one of {', '.join(map(str, SECTOR_SIZES))}")
    _check("number of sectors", sectors, 1, BYTE_LIMIT)
    _check("data rate in bit/s", rate, 10_000, 10_000_000)
    _check("rotation in rev/min", rotation, 60, 10_000)
    _check("gap 3 in bytes", gap3, 0, BYTE_LIMIT)
    _check("tolerance in percent", tolerance_percent, 0, 20)
    _check("tolerance of rewriting in percent", again, 0, 20)
    _check("index gap in bytes", index_gap, 0, 10_000)
    _check("host delay in ms", host_delay_ms, 0, 10_000)
    _check("step delay in ms", step_delay_ms, 0, 10_000)

    whole = bytes_per_track(rate, rotation)
    limit = math.floor(whole / (1 + Fraction(str(tolerance_percent)) / 100))
    index = kind.index_gap if index_gap is None else index_gap
    capacity = tuple(_capacity(kind, limit, index, size, gap3, again) for size in SECTOR_SIZES)
    if sectors is None:
        sectors = max(next(one.sectors for one in capacity if one.sector_bytes == sector_bytes), 1)
    _check(f"interleave of {sectors} sectors", interleave, 1, max(sectors - 1, 1))
    least = gap3_least(kind, sector_bytes, again)
    most = gap3_most(limit, index, kind, sectors, sector_bytes)
    chosen = gap3
    if chosen is None:
        low = least + kind.gap3_least if most is not None and most >= least + kind.gap3_least else least
        chosen = min(low if most is None else (low + max(low, most)) // 2, BYTE_LIMIT)
    slot = kind.overhead + sector_bytes + chosen
    total = index + sectors * slot
    order = None
    if total <= whole:
        order = ordered(
            Slots(
                count=sectors, first=index, length=slot, used=slot - chosen, track=whole
            ), byte_ms=8000 / rate, interleave=interleave,
            host_delay_ms=host_delay_ms, step_delay_ms=step_delay_ms,
        )  # fmt: skip
    return TrackLayout(
        says=_says(sectors, sector_bytes, chosen, total, whole, limit, least), encoding=kind.encoding, data_rate=rate,
        rotation=float(rotation), tolerance_percent=float(tolerance_percent), rewrite_tolerance_percent=float(again),
        sectors=sectors, sector_bytes=sector_bytes, size_code=SECTOR_SIZES.index(sector_bytes), gap3=chosen,
        gap3_given=gap3 is not None, gap3_min=least, gap3_min_published=least + kind.gap3_least, gap3_max=most,
        bytes_per_track=whole, limit=limit, total=total, spare=whole - total, fits=total <= limit,
        fits_nominal=total <= whole, capacity=capacity, order=order,
        fields=_fields(kind, index_gap, sectors, sector_bytes, chosen, whole),
    )  # fmt: skip


def _capacity(kind: Recording, limit: int, index: int, size: int, gap3: int | None, tolerance: float) -> Capacity:
    gap = gap3_least(kind, size, tolerance) + kind.gap3_least if gap3 is None else gap3
    most = min(max((limit - index) // (kind.overhead + size + gap), 0), BYTE_LIMIT)
    return Capacity(size, most, gap3_most(limit, index, kind, most, size) if most else None)


def _says(sectors: int, size: int, gap3: int, total: int, whole: int, limit: int, least: int) -> str:
    what = f"{sectors} x {size} bytes with a gap 3 of {gap3}"
    if total > whole:
        return f"{what} do not fit: they need {total} bytes, {total - whole} more than the track's {whole}."
    if total > limit:
        return (
            f"{what} fit only on a drive at its exact speed: they need {total} bytes, {total - limit} more than the "
            f"{limit} of a fast one."
        )
    if gap3 < least:
        return f"{what} fit, but a sector that is written again can destroy the next: gap 3 must be {least} or more."
    return f"{what} fit: {whole - total} bytes are left at the exact speed, {limit - total} on a fast drive."


def _fields(
    kind: Recording, index_gap: int | None, sectors: int, size: int, gap3: int, whole: int
) -> tuple[Field, ...]:
    fields: list[Field] = []
    place = 0

    def add(name: str, length: int, fill: bytes | None, sector: int | None = None) -> None:
        nonlocal place
        if length > 0:
            fields.append(Field(
                name=name, start=place, length=length, fill=None if fill is None else fill.hex(" ").upper(),
                sector=sector,
            ))  # fmt: skip
        place += length

    fill, sync = bytes([kind.fill]), b"\0"
    mark = len(kind.lead) + 1
    if index_gap is None:
        add("gap 4a", kind.gap4a, fill)
        add("sync", kind.sync, sync)
        add("index mark", len(kind.index_lead) + 1, kind.index_lead + bytes([INDEX_MARK]))
        add("gap 1", kind.gap1, fill)
    else:
        add("gap 1", index_gap, fill)
    for sector in range(1, sectors + 1):
        add("sync", kind.sync, sync, sector)
        add("id mark", mark, kind.lead + bytes([ID_MARK]), sector)
        add("id", ID_BYTES, None, sector)
        add("id crc", CRC_BYTES, None, sector)
        add("gap 2", kind.gap2, fill, sector)
        add("sync", kind.sync, sync, sector)
        add("data mark", mark, kind.lead + bytes([DATA_MARK]), sector)
        add("data", size, None, sector)
        add("data crc", CRC_BYTES, None, sector)
        add("gap 3", gap3, fill, sector)
    add("gap 4b", whole - place, fill)
    return tuple(fields)


def _check(what: str, value: float | None, least: float, most: float) -> None:
    if value is not None and not least <= value <= most:   # so that a value that is no number is refused as well
        given = str(value) if isinstance(value, int) else f"{value:g}"
        raise _wrong(what, f"{given} is not between {least:g} and {most:g}")


def _wrong(what: str, why: str) -> UsageError:
    return UsageError("usage", f"the {what} cannot be laid out", why=why, hint="correct that number")
