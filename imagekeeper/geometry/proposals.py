"""A proposal: a shape, how the file stands to it, and the evidence so far; and what a size or a few facts propose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from imagekeeper.floppy.layout import SECTOR_SIZES
from imagekeeper.geometry.known import Known, agrees
from imagekeeper.geometry.shapes import EXTRA_CYLINDERS, PART_OF_A_DISK, Shape, group, usual
from imagekeeper.ranked import Evidence
from imagekeeper.tables.floppy import format_rows
from imagekeeper.units import plural, size_text

#: Files that miss more of a shape than one part in this many, or have more beyond it, are not explained by it.
_TOLERATED = 10

#: Numbers of cylinders that drives were made for: a format of fewer does not stretch to them.
_STANDARD_CYLINDERS = (35, 40, 77, 80)

#: A header or trailer of more bytes than this is not assumed without evidence. Common practice, no source. [byte]
HEADER_LIMIT = 4096


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """A shape that may be the disk's.

    Attributes:
        shape: The shape.
        short: What the file lacks of it. [byte]
        extra: What the file has beyond it. [byte]
        start: Where the first sector begins in the file. [byte]
        evidence: For and against.
        content: The weight of the evidence that a system wrote on the disk: parameter block, FATs, directory.
    """

    shape: Shape
    short: int = 0
    extra: int = 0
    start: int = 0
    evidence: tuple[Evidence, ...] = ()
    content: float = 0.0

    @property
    def exact(self) -> bool:
        """Whether the file has all of the shape and nothing else."""
        return self.short == self.extra == 0

    @property
    def weight(self) -> float:
        """All evidence together."""
        return sum(one.weight for one in self.evidence)

    def because(self, *evidence: Evidence) -> Proposal:
        """Add evidence."""
        return replace(self, evidence=self.evidence + evidence)

    def because_written(self, *evidence: Evidence) -> Proposal:
        """Add evidence that a system wrote on the disk."""
        told = self.because(*evidence)
        return replace(told, content=self.content + sum(one.weight for one in evidence))


def proposals(known: Known) -> tuple[Proposal, ...]:
    """Propose what fits the facts: formats of the table first, other shapes where the table has none of that size.

    Example:
        >>> [p.shape.text for p in proposals(Known(size_bytes=368_640)) if p.exact]
        ['40x2x9x512', '80x1x9x512']
    """
    if known.holes:
        return ()   # a controller for formats of the table does not see the holes
    table = list(_of_table(known))
    size = known.size_bytes
    if size is None:
        found = [Proposal(shape=shape, evidence=(_usual(shape),)) for shape in table] or list(_free(known))
        return once(found)
    found = [told for shape in table if (told := against_size(Proposal(shape=shape, evidence=(_usual(shape),)), size))]
    named = any(one.exact and one.shape.formats for one in found) or bool(known.others())
    if not named and not any(one.exact for one in found):
        found += _free(known)
    elif named:
        chance = Evidence("a format of the table has exactly this size, which is seldom chance", -2.0)
        found = [one if one.exact else one.because(chance) for one in found]
    return once(found)


def once(found: Iterable[Proposal]) -> tuple[Proposal, ...]:
    """Keep of each shape the proposal that has most for it."""
    kept: dict[tuple[object, ...], Proposal] = {}
    for one in found:
        key = (*one.shape.key, one.start)
        if key not in kept or one.weight > kept[key].weight:
            kept[key] = one
    return tuple(kept.values())


def _of_table(known: Known) -> Iterator[Shape]:
    """The table's shapes that have all facts; with some cylinders more where so many are known or the size asks it."""
    for shape in group(row for row in format_rows().values() if known.fits_row(row)):
        if known.cylinders in (None, shape.cylinders):
            yield shape
        for more in range(1, EXTRA_CYLINDERS + 1):
            if shape.cylinders in PART_OF_A_DISK or shape.cylinders + more in _STANDARD_CYLINDERS:
                break
            wide = replace(shape, cylinders=shape.cylinders + more, formats=())
            if known.cylinders == wide.cylinders or (known.cylinders is None and known.size_bytes == wide.bytes):
                yield wide


def _usual(shape: Shape) -> Evidence:
    rows = format_rows()
    if shape.formats:
        row = rows[shape.formats[0]]
        names = " and ".join(rows[one].title for one in shape.formats[:3])
        return Evidence(f"how usual it is: {names}", usual(row))
    same = [
        row for row in rows.values()
        if (row.heads, row.sectors, row.sector_bytes, row.encoding, row.data_rate, row.rotation)
        == (shape.heads, shape.sectors, shape.sector_bytes, *_recording(shape))
        and 0 < shape.cylinders - row.cylinders <= EXTRA_CYLINDERS and row.cylinders not in PART_OF_A_DISK
    ]  # fmt: skip
    base = max(same, key=usual)
    more = shape.cylinders - base.cylinders
    return Evidence(f"{plural(more, 'cylinder')} more than {base.title} has; drives can step so far", usual(base) - 4)


def _recording(shape: Shape) -> tuple[str, int, float]:
    return shape.track.encoding, shape.track.data_rate, shape.track.rotation


def against_size(one: Proposal, size: int) -> Proposal | None:
    """Say how a size stands to a shape, or None when it is too far off to be explained.

    Example:
        >>> from imagekeeper.geometry.shapes import shapes
        >>> pc = next(shape for shape in shapes() if shape.text == "80x2x9x512")
        >>> print(against_size(Proposal(shape=pc), 737_280 - 4608).evidence[0].says)
        one track short of 80x2x9x512
    """
    shape, whole = one.shape, one.shape.bytes
    off = size - whole
    if off == 0:
        return one.because(Evidence(f"{size_text(size)} is exactly {shape.text}", 3.0))
    half = shape.heads == 2 and size * 2 == whole
    if abs(off) * _TOLERATED > whole and not half:
        return None
    short, extra, much = max(-off, 0), max(off, 0), abs(off)
    told = replace(one, short=short, extra=extra)
    words = "short of" if short else "more than"
    if half:
        return told.because(Evidence(f"half of {shape.text}: one side of two", -3.0))
    if much % shape.cylinder_bytes == 0:
        count = much // shape.cylinder_bytes
        if extra and count <= EXTRA_CYLINDERS:
            return told.because(
                Evidence(f"{shape.cylinders + count} cylinders were read, {shape.cylinders} is the format", -0.5)
            )
        parts = "track" if shape.heads == 1 else "cylinder"
        return told.because(Evidence(f"{_count(count, parts)} {words} {shape.text}", -0.5 - 0.5 * count))
    if much % shape.track_bytes == 0:
        count = much // shape.track_bytes
        return told.because(Evidence(f"{_count(count, 'track')} {words} {shape.text}", -1.5 - 0.5 * count))
    if much % shape.sector_bytes == 0:
        count = much // shape.sector_bytes
        large = -2.0 if much // shape.cylinder_bytes else 0.0   # more than a cylinder
        return told.because(Evidence(f"{_count(count, 'sector')} {words} {shape.text}", -2.5 + large))
    if extra and extra <= HEADER_LIMIT:
        says = f"{plural(extra, 'byte')} more than {shape.text}: a header in front, or something behind"
        return told.because(Evidence(says, -3.0 - extra / 1024))
    if short and not short // shape.track_bytes:   # less than a track
        return told.because(Evidence(f"{plural(short, 'byte')} short of {shape.text}: cut short", -4.0))
    return None


def _count(count: int, noun: str) -> str:
    return f"one {noun}" if count == 1 else plural(count, noun)


def _free(known: Known) -> Iterator[Proposal]:
    """Every shape that drives could hold, exactly of the size; without a size, of the sectors that are known.

    Source:
        Arithmetic on the fields of a track; the numbers of cylinders are those of the table for each recording.
    """
    if known.size_bytes is None and not (known.sectors and known.sector_bytes):
        return
    for track, _, usual_counts in known.tracks():
        for size in (known.sector_bytes,) if known.sector_bytes else SECTOR_SIZES[:7]:
            most = track.most(size)
            for heads in (known.heads,) if known.heads else (1, 2):
                for cylinders, more in _cylinders(known, usual_counts):
                    sectors = known.sectors
                    if known.size_bytes is not None:
                        sectors, rest = divmod(known.size_bytes, cylinders * heads * size)
                        if rest or known.sectors not in (None, sectors):
                            continue
                    assert sectors is not None
                    if not most * 2 // 3 < sectors <= most:
                        continue
                    shape = Shape(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size, track=track)
                    if agrees(known, shape):
                        yield _told(shape, more, most, known.size_bytes)


def _cylinders(known: Known, counts: tuple[int, ...]) -> Iterator[tuple[int, int]]:
    """Numbers of cylinders, each with how many more than usual it is; one may come twice, the usual first."""
    if known.cylinders is not None:
        below = [count for count in counts if count <= known.cylinders]
        yield known.cylinders, known.cylinders - max(below) if below else min(counts) - known.cylinders
        return
    for more in range(EXTRA_CYLINDERS + 1 if known.size_bytes else 1):
        for count in counts:
            yield count + more, more


def _told(shape: Shape, more: int, most: int, size: int | None) -> Proposal:
    fills = f"{shape.sectors} of at most {most} sectors of {shape.sector_bytes} bytes on a track of {shape.track}"
    small = 0.0 if shape.sector_bytes in (128, 256, 512, 1024) else -1.0
    evidence = [Evidence(f"no format of the table; {fills}", -1.0 + small - 4 * (1 - shape.sectors / most))]
    if more:
        evidence.append(Evidence(f"{plural(more, 'cylinder')} more than usual for this recording", -0.5 * more))
    one = Proposal(shape=shape, evidence=tuple(evidence))
    if size is None:
        return one
    told = against_size(one, size)
    assert told is not None
    return told
