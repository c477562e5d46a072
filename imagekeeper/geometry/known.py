"""What is known of a disk before its image is looked at, and which facts exclude each other."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

from imagekeeper.errors import UsageError
from imagekeeper.floppy.layout import SECTOR_SIZES
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.geometry.shapes import Shape, Track, usual_cylinders
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.tables.other_disks import ENCODINGS, OtherDisk, other_disks
from imagekeeper.units import size_text

#: Beyond these no drive of the period goes. Common practice, no source.
_LIMITS = {"cylinders": (1, 100), "heads": (1, 2), "sectors": (1, 255)}

#: Sizes of disks, and numbers of sector holes, that the tables have. [inch, 1]
INCHES, HOLES = (8, 5.25, 3.5, 3), (0, 10, 16, 32)


@dataclass(frozen=True, kw_only=True)
class Known:
    """Facts about a disk; None where a fact is not known.

    Attributes:
        cylinders: Tracks on each side.
        heads: Sides: 1 or 2.
        sectors: On each track.
        sector_bytes: [byte]
        encoding: fm, mfm or perpendicular; m2fm, mmfm or gcr for disks of other recordings.
        data_rate: [bit/s]
        rotation: [rev/min]
        disk_inch: 8, 5.25, 3.5 or 3. [inch]
        size_bytes: Of the image. [byte]
        holes: Sector holes beside the index hole: 0, 10, 16 or 32.
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
    holes: int | None = None

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
            "holes": f"{value} sector hole{many}",
        }[name]  # fmt: skip

    def fits_row(self, row: FormatRow) -> bool:
        """Whether a format of the table has all that is known, its size and its cylinders left aside."""
        return (
            not self.holes
            and self.heads in (None, row.heads)
            and self.sectors in (None, row.sectors)
            and self.sector_bytes in (None, row.sector_bytes)
            and self.disk_inch in (None, row.disk_inch)
            and self.fits_track(Track(row.encoding, row.data_rate, row.rotation))
        )

    def fits_other(self, disk: OtherDisk) -> bool:
        """Whether a disk of another recording has all that is known, its size included.

        Example:
            >>> row = other_disks()["5.25-35x1x10x256-fm-10holes"]
            >>> Known(size_bytes=89_600, holes=10).fits_other(row), Known(size_bytes=89_600, holes=0).fits_other(row)
            (True, False)
        """
        bits = disk.cell_rate // (1 if disk.encoding == "gcr" else 2)
        speeds = disk.rotations or (float(disk.rotation),)
        return (
            self.heads in (None, disk.heads) and self.cylinders in (None, disk.cylinders)
            and (self.sectors is None or any(self.sectors == sectors for _, sectors in disk.zones))
            and self.sector_bytes in (None, disk.sector_bytes) and self.encoding in (None, disk.encoding)
            and self.holes in (None, disk.holes) and self.disk_inch in (None, disk.disk_inch)
            and self.data_rate in (None, bits) and self.size_bytes in (None, disk.bytes)
            and (self.rotation is None or any(math.isclose(self.rotation, one, rel_tol=0.02) for one in speeds))
        )  # fmt: skip

    def others(self) -> tuple[OtherDisk, ...]:
        """The disks of other recordings that agree; none where no size is known, for a size is what brings them up."""
        if self.size_bytes is None and not self.holes and self.encoding not in ("m2fm", "mmfm", "gcr"):
            return ()
        return tuple(disk for disk in other_disks().values() if self.fits_other(disk))

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
        if not found and self.encoding in RECORDINGS and self.data_rate and self.rotation and self.disk_inch is None:
            return ((Track(str(self.encoding), self.data_rate, self.rotation), 0.0, (35, 40, 77, 80)),)
        return found


def check(known: Known) -> None:
    """Refuse facts that no disk has, and sectors that fit on no track.

    Raises:
        UsageError: `usage`, naming the fact, or the two that exclude each other.
    """
    for name, (least, most) in _LIMITS.items():
        value = getattr(known, name)
        if value is not None and not least <= value <= most:
            raise _no_disk(known.say(name), Phrase("usage/limits-of-count", least=least, most=most))
    if known.sector_bytes is not None and known.sector_bytes not in SECTOR_SIZES:
        raise _no_disk(known.say("sector_bytes"), Phrase("usage/limits-of-size", sizes=SECTOR_SIZES))
    encodings = tuple(dict.fromkeys((*RECORDINGS, *ENCODINGS)))
    if known.encoding is not None and known.encoding not in encodings:
        raise _no_disk(
            Phrase("usage/that-encoding", name=known.encoding), Phrase("usage/limits-of-encoding", names=encodings)
        )
    if known.data_rate is not None and not 10_000 <= known.data_rate <= 10_000_000:
        raise _no_disk(known.say("data_rate"), Phrase("usage/limits-of-rate"))
    if known.rotation is not None and not 60 <= known.rotation <= 10_000:
        raise _no_disk(known.say("rotation"), Phrase("usage/limits-of-rotation"))
    if known.disk_inch not in (None, *INCHES):
        raise _no_disk(known.say("disk_inch"), Phrase("usage/limits-of-inch"))
    if known.holes not in (None, *HOLES):
        raise _no_disk(known.say("holes"), Phrase("usage/limits-of-holes", holes=HOLES))
    if known.size_bytes is not None and known.size_bytes < 1:
        raise _no_disk(
            Phrase("usage/that-image-size", size=known.size_bytes), Phrase("usage/limits-of-image-size")
        )
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
    over = best.too_many(known.sectors, size)
    said = tuple(known.say(name) for name in names)
    raise UsageError(
        "usage/sectors-beyond-track",
        sectors=known.sectors, size=size, overhead=form.overhead, wanted=best.bytes + over, over=over,
        track_bytes=best.bytes, best=str(best), most=best.most(size),
        track=Phrase("usage/track-of", facts=said) if said else Phrase("usage/any-track"),
    )  # fmt: skip


def _check_size(known: Known) -> None:
    """Refuse a size that is nowhere near a geometry that is known in full."""
    if not (known.cylinders and known.heads and known.sectors and known.sector_bytes and known.size_bytes):
        return
    whole = known.cylinders * known.heads * known.sectors * known.sector_bytes
    if abs(known.size_bytes - whole) * 4 > whole and known.size_bytes * 2 != whole:
        shape = f"{known.cylinders}x{known.heads}x{known.sectors}x{known.sector_bytes}"
        raise UsageError(
            "usage/shape-below-size" if whole < known.size_bytes else "usage/shape-above-size",
            shape=shape, size=known.say("size_bytes"), whole=whole, by=abs(whole - known.size_bytes),
        )  # fmt: skip


def clash(first: str, second: str) -> UsageError:
    """Name two facts that exclude each other."""
    return UsageError("usage/facts-clash", first=first, second=second)


def _no_disk(fact: Phrase | str, limits: Phrase) -> UsageError:
    return UsageError("usage/no-floppy-disk", fact=fact, limits=limits)


def agrees(known: Known, shape: Shape) -> bool:
    """Whether a shape has the cylinders, heads and sectors that are known."""
    names = ("cylinders", "heads", "sectors", "sector_bytes")
    return all(getattr(known, name) in (None, getattr(shape, name)) for name in names)
