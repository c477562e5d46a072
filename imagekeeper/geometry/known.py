"""What is known of a disk before its image is looked at, and which facts exclude each other."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

from imagekeeper.errors import UsageError
from imagekeeper.floppy.layout import SECTOR_SIZES
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.geometry.shapes import Shape, Track, usual_cylinders
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.units import size_text

#: Beyond these no drive of the period goes. Common practice, no source.
_LIMITS = {"cylinders": (1, 100), "heads": (1, 2), "sectors": (1, 255)}


@dataclass(frozen=True, kw_only=True)
class Known:
    """Facts about a disk; None where a fact is not known.

    Attributes:
        cylinders: Tracks on each side.
        heads: Sides: 1 or 2.
        sectors: On each track.
        sector_bytes: [byte]
        encoding: fm, mfm or perpendicular.
        data_rate: [bit/s]
        rotation: [rev/min]
        disk_inch: 8, 5.25 or 3.5. [inch]
        size_bytes: Of the image. [byte]
    """

    cylinders: int | None = None
    heads: int | None = None
    sectors: int | None = None
    sector_bytes: int | None = None
    encoding: str | None = None
    data_rate: int | None = None
    rotation: float | None = None
    disk_inch: float | None = None
    size_bytes: int | None = None

    def given(self) -> tuple[str, ...]:
        """Name the facts that are known."""
        return tuple(field.name for field in fields(self) if getattr(self, field.name) is not None)

    def only(self, *names: str) -> Known:
        """Forget all other facts."""
        return Known(**{name: getattr(self, name) for name in names})

    def without(self, name: str) -> Known:
        """Forget one fact."""
        return replace(self, **{name: None})

    def say(self, name: str) -> str:
        """Put one fact into words.

        Example:
            >>> Known(heads=1).say("heads"), Known(data_rate=250_000).say("data_rate")
            ('1 head', '250 kbit/s')
        """
        value = getattr(self, name)
        many = "" if value == 1 else "s"
        return {
            "cylinders": f"{value} cylinder{many}", "heads": f"{value} head{many}", "sectors": f"{value} sector{many}",
            "sector_bytes": f"sectors of {value} bytes", "encoding": f"recorded in {str(value).upper()}",
            "data_rate": f"{(value or 0) / 1000:g} kbit/s" if name == "data_rate" else "",
            "rotation": f"{value} rev/min", "disk_inch": f"a disk of {value} inch",
            "size_bytes": f"an image of {size_text(value)}" if name == "size_bytes" else "",
        }[name]  # fmt: skip

    def fits_row(self, row: FormatRow) -> bool:
        """Whether a format of the table has all that is known, its size and its cylinders left aside."""
        return (
            self.heads in (None, row.heads)
            and self.sectors in (None, row.sectors)
            and self.sector_bytes in (None, row.sector_bytes)
            and self.disk_inch in (None, row.disk_inch)
            and self.fits_track(Track(row.encoding, row.data_rate, row.rotation))
        )

    def fits_track(self, track: Track) -> bool:
        """Whether a track is recorded as is known.

        With rate and speed known, what counts is the length of the track: 300 kbit/s at 360 rev/min writes the same
        as 250 at 300.

        Example:
            >>> Known(data_rate=300_000, rotation=360).fits_track(Track("mfm", 250_000, 300))
            True
        """
        if self.encoding not in (None, track.encoding):
            return False
        if self.data_rate is not None and self.rotation is not None:
            mine = self.data_rate / self.rotation
            return math.isclose(mine, track.data_rate / track.rotation, rel_tol=0.01)
        if self.rotation is not None:
            return math.isclose(self.rotation, track.rotation, rel_tol=0.02)
        if self.data_rate is None or self.data_rate == track.data_rate:
            return True
        return track.rotation == 300 and math.isclose(self.data_rate / 360, track.data_rate / 300, rel_tol=0.001)

    def tracks(self) -> tuple[tuple[Track, float, tuple[int, ...]], ...]:
        """The recordings of the table that agree, each with a size of disk and its usual numbers of cylinders.

        Where encoding, rate and speed are all known and no format has them, they are taken as they are.
        """
        found = tuple(
            (track, inch, counts)
            for (track, inch), counts in usual_cylinders().items()
            if self.disk_inch in (None, inch) and self.fits_track(track)
        )
        if not found and self.encoding and self.data_rate and self.rotation and self.disk_inch is None:
            return ((Track(self.encoding, self.data_rate, self.rotation), 0.0, (35, 40, 77, 80)),)
        return found


def check(known: Known) -> None:
    """Refuse facts that no disk has, and sectors that fit on no track.

    Raises:
        UsageError: `usage`, naming the fact, or the two that exclude each other.
    """
    for name, (least, most) in _LIMITS.items():
        value = getattr(known, name)
        if value is not None and not least <= value <= most:
            raise _no_disk(known.say(name), f"floppy disks have {least} to {most}")
    if known.sector_bytes is not None and known.sector_bytes not in SECTOR_SIZES:
        raise _no_disk(known.say("sector_bytes"), f"sizes are {', '.join(map(str, SECTOR_SIZES))}")
    if known.encoding is not None and known.encoding not in RECORDINGS:
        raise _no_disk(f"encoding {known.encoding!r}", f"encodings are {', '.join(RECORDINGS)}")
    if known.data_rate is not None and not 10_000 <= known.data_rate <= 10_000_000:
        raise _no_disk(known.say("data_rate"), "rates are 125 to 1000 kbit/s")
    if known.rotation is not None and not 60 <= known.rotation <= 10_000:
        raise _no_disk(known.say("rotation"), "drives turn at 300 or 360 rev/min")
    if known.disk_inch not in (None, 8, 5.25, 3.5):
        raise _no_disk(known.say("disk_inch"), "disks are 8, 5.25 or 3.5 inch")
    if known.size_bytes is not None and known.size_bytes < 1:
        raise _no_disk(f"a size of {known.size_bytes} bytes", "an image has at least one byte")
    _check_track(known)
    _check_size(known)


def _check_track(known: Known) -> None:
    """Refuse sectors that exceed every track that agrees with the rest."""
    if known.sectors is None:
        return
    size = known.sector_bytes or SECTOR_SIZES[0]
    tracks = [track for track, _, _ in known.tracks()]
    if not tracks or any(track.holds(known.sectors, size) for track in tracks):
        return
    best = min(tracks, key=lambda track: track.too_many(known.sectors or 0, size))
    names = [name for name in ("data_rate", "rotation", "encoding", "disk_inch") if getattr(known, name) is not None]
    form = RECORDINGS[best.encoding]   # type: ignore[index]
    raise UsageError(
        "usage", f"{known.sectors} sectors of {size} bytes do not fit "
        + (f"a track of {' and '.join(known.say(name) for name in names)}" if names else "any floppy's track"),
        why=f"with marks and IDs ({form.overhead} bytes each) they need "
        f"{best.bytes + best.too_many(known.sectors, size)} bytes even without gaps: "
        f"{best.too_many(known.sectors, size)} bytes too many for the {best.bytes} of {best}",
        hint=f"correct the sectors (at most {best.most(size)} fit), their size, or how the track is recorded",
    )  # fmt: skip


def _check_size(known: Known) -> None:
    """Refuse a size that is nowhere near a geometry that is known in full."""
    if not (known.cylinders and known.heads and known.sectors and known.sector_bytes and known.size_bytes):
        return
    whole = known.cylinders * known.heads * known.sectors * known.sector_bytes
    if abs(known.size_bytes - whole) * 4 > whole and known.size_bytes * 2 != whole:
        shape = f"{known.cylinders}x{known.heads}x{known.sectors}x{known.sector_bytes}"
        raise UsageError(
            "usage", f"{shape} and {known.say('size_bytes')} exclude each other",
            why=f"{shape} is {size_text(whole)}, {abs(whole - known.size_bytes)} bytes "
            + ("less" if whole < known.size_bytes else "more"),
            hint="leave one of them out and see what the other allows",
        )  # fmt: skip


def clash(first: str, second: str) -> UsageError:
    """Name two facts that exclude each other."""
    return UsageError(
        "usage", f"{first} and {second} exclude each other", why="no format of the table, and no track that a drive "
        "could hold, has both", hint="leave one of them out and see what the other allows",
    )  # fmt: skip


def _no_disk(what: str, why: str) -> UsageError:
    return UsageError("usage", f"no floppy disk has {what}", why=why, hint="correct that number, or leave it out")


def agrees(known: Known, shape: Shape) -> bool:
    """Whether a shape has the cylinders, heads and sectors that are known."""
    names = ("cylinders", "heads", "sectors", "sector_bytes")
    return all(getattr(known, name) in (None, getattr(shape, name)) for name in names)
