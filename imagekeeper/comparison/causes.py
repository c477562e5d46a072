"""The causes of the differences between aligned reads: which bytes are looked at, of reads of any number and size."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from imagekeeper.comparison import diagnosis
from imagekeeper.comparison.alignment import Alignment
from imagekeeper.comparison.pair import Bytes, listed
from imagekeeper.comparison.reads import Reads
from imagekeeper.containers.model import Image
from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.chips import HOLD_NO_CHARGE
from imagekeeper.units import address_digits, range_text

#: Larger reads are counted but not diagnosed: no chip or floppy disk of the period is so large. [byte]
SIZE_LIMIT = 64 << 20

#: Of larger reads only the stretch of this size that differs most is diagnosed. [byte]
WINDOW = 4 << 20

#: So many different images are explained together; more would say nothing new.
MOST_IMAGES = 9

#: How sure it is that a read which is shorter, and like the others but for another fault, ends early.
SHORTER = 0.9

#: Fewer reads do not tell a reader's fault from a read's.
FEWEST_OF_READERS = 3

#: How sure it is that a fault in all reads of one reader, and in no other read, is that reader's.
FOLLOWING = 0.85

#: What lies in the chip, whatever reads it.
CONTENT = ("content-differs", "charge-loss", "weak-cells", "random-noise", "cannot-tell")

#: So many names of equal reads are given.
MOST_NAMES = 3


@dataclass(frozen=True, kw_only=True)
class Taken:
    """How reads were taken, one entry a read, and of what.

    Attributes:
        names: What to call them.
        volts: Their supply voltages, where they are known. [volt]
        pins: For each line, such as D3, what to call its pin in hints.
        technology: How the memory is made, where that is known.
        readers: What read them, where that is known; none where it is known of no read.
        copies: Numbers of those that are no reads of their own, counted from 0: a file that was given again.
    """

    names: Sequence[str]
    volts: Sequence[float | None]
    pins: Mapping[str, str]
    technology: str | None = None
    readers: Sequence[str | None] = ()
    copies: Collection[int] = ()


def find_causes(alignment: Alignment, digests: Sequence[str], taken: Taken) -> tuple[Finding, ...]:
    """Explain why reads differ, all of them together.

    Args:
        alignment: The reads.
        digests: Their digests: equal ones are looked at once.
        taken: How they were taken.

    Returns:
        Findings, the most likely first; the same cause in several reads is one finding.
    """
    groups = _different(alignment, digests, taken.copies)
    images = alignment.images
    smallest = min(image.size_bytes for image in images)
    if smallest > SIZE_LIMIT:
        return (Finding.of("not-diagnosed/large", "note", 1.0, smallest=smallest, detail={"limit": SIZE_LIMIT}),)
    found: list[Finding] = []
    chosen = [groups[0]]
    for group in groups[1:MOST_IMAGES]:
        unlike = _unlike(images[groups[0][0]], images[group[0]], (groups[0], group), taken)
        found += unlike
        if not unlike:
            chosen.append(group)
    if len(chosen) > 1:
        common = list(_explained(alignment, chosen, taken))
        found += common
        found += _shorter(alignment, chosen, common, taken)
    if len(groups) > MOST_IMAGES:
        found.append(
            Finding.of(
                "not-diagnosed/more-images", "note", 1.0, left=len(groups) - MOST_IMAGES,
                detail={"images": len(groups), "looked_at": MOST_IMAGES},
            )
        )  # fmt: skip
    return (*found, *_following(found, taken))


def _following(found: Sequence[Finding], taken: Taken) -> Iterator[Finding]:
    """Say which faults are in all reads of one reader, and in none of the others: then the fault is not the chip's."""
    readers = taken.readers
    if not readers or None in readers or len(set(readers)) < 2 or len(readers) < FEWEST_OF_READERS:
        return
    told: set[tuple[str, str]] = set()
    for one in found:
        ill = one.detail.get("reads", ())
        theirs = {readers[number - 1] for number in ill}
        others = {reader for number, reader in enumerate(readers, 1) if number not in ill}
        if one.code in CONTENT or len(theirs) != 1 or theirs & others or not others:
            continue
        reader = str(theirs.pop())
        if (one.code, reader) not in told:
            told.add((one.code, reader))
            yield Finding.of(
                "follows-reader", "note", FOLLOWING, reader=reader, cause=str(Phrase(f"cause/{one.code}")),
                others=sorted(str(other) for other in others),
                detail={"reader": reader, "code": one.code, "reads": list(ill)},
            )  # fmt: skip


def _different(alignment: Alignment, digests: Sequence[str], copies: Collection[int]) -> list[list[int]]:
    """Group the reads by what they hold, the image that most reads give first; a copy of a file is no read."""
    groups: dict[object, list[int]] = {}
    for number, (image, digest) in enumerate(zip(alignment.images, digests, strict=True)):
        if number in copies:
            continue
        shape = tuple((s.start, len(s.data)) for s in image.segments)
        groups.setdefault((digest, shape), []).append(number)
    return sorted(groups.values(), key=lambda group: (-len(group), group[0]))


def _called(group: Sequence[int], names: Sequence[str]) -> str:
    shown = [names[i] for i in group[:MOST_NAMES]]
    return listed(shown) + (f" and {len(group) - MOST_NAMES} more" if len(group) > MOST_NAMES else "")


def _unlike(one: Image, other: Image, groups: tuple[Sequence[int], Sequence[int]], taken: Taken) -> tuple[Finding, ...]:
    """Explain why two reads that begin at one address are of unlike sizes, if that can be."""
    plain = len(one.segments) == len(other.segments) == 1 and one.first_address == other.first_address
    if not plain or one.size_bytes == other.size_bytes:
        return ()
    a, b = (one, other) if groups[0][0] < groups[1][0] else (other, one)   # from the earlier read to the later
    first, second = sorted(groups, key=lambda group: group[0])
    names = _called(first, taken.names), _called(second, taken.names)
    right = _called(groups[0], taken.names) if len(groups[0]) > len(groups[1]) else None
    return diagnosis.of_unequal_sizes(_array(a), _array(b), names, one.first_address, pins=taken.pins, right=right)


def _array(image: Image) -> Bytes:
    return np.frombuffer(image.tobytes(), np.uint8)


def _explained(alignment: Alignment, groups: Sequence[Sequence[int]], taken: Taken) -> Iterator[Finding]:
    """Explain what different images hold at the addresses that all reads have."""
    if not alignment.common:
        return
    if len(groups) == 2 and len(groups[0]) == len(groups[1]):
        groups = sorted(groups, key=lambda group: group[0])   # the direction is from the earlier read to the later
    size = sum(span.length for span in alignment.common)
    start, gapless, note = alignment.common[0].start, len(alignment.common) == 1, None
    names = tuple(_called(group, taken.names) for group in groups)
    if size <= WINDOW:
        pieces = [[read[group[0]] for group in groups] for _, read in alignment.blocks()]
        sides = [b"".join(side) for side in zip(*pieces, strict=True)]
    else:
        large = _Large(alignment, [group[0] for group in groups])
        if large.ended is not None:
            yield from diagnosis.cut_short(large.ended, size, names, start, pins=taken.pins)
            return
        sides, begin = large.densest()
        start, note = large.address_of(begin), large.note(begin, len(sides[0]), size)
    images = tuple(np.frombuffer(side, np.uint8) for side in sides)
    distinct = [i for i, image in enumerate(images) if not any(np.array_equal(image, images[j]) for j in range(i))]
    if len(distinct) < 2:
        return
    numbers: list[tuple[int, ...]] = []
    for i in distinct:
        same = [j for j in range(len(images)) if np.array_equal(images[i], images[j])]
        numbers.append(tuple(sorted(number for j in same for number in groups[j])))
    reads = Reads(
        images=tuple(images[i] for i in distinct), names=tuple(_called(one, taken.names) for one in numbers),
        numbers=tuple(tuple(number + 1 for number in one) for one in numbers),
        volts=tuple(tuple(taken.volts[number] for number in one) for one in numbers),
        start=start, gapless=gapless, holds_charge=taken.technology not in HOLD_NO_CHARGE,
    )  # fmt: skip
    yield from diagnosis.diagnosed(reads, taken.pins)
    if note is not None:
        yield note


def _shorter(
    alignment: Alignment, groups: Sequence[Sequence[int]], common: Sequence[Finding], taken: Taken
) -> Iterator[Finding]:
    """Say what the sizes tell, where what all reads have is told by a cause that does not change them.

    The longer reads may hold the shorter over and over, or nothing more than fill; otherwise the shorter end early.
    """
    images = [alignment.images[group[0]] for group in groups]
    if any(len(one.segments) > 1 or one.first_address != images[0].first_address for one in images):
        return
    sizes = [one.size_bytes for one in images]
    resorts = ("content-differs", "shifted", "line-endings-changed", "flow-control-lost", "mirrored")
    if len(set(sizes)) != 2 or any(one.code in resorts for one in common):
        return
    short = [group for group, size in zip(groups, sizes, strict=True) if size == min(sizes)]
    long = [group for group, size in zip(groups, sizes, strict=True) if size == max(sizes)]
    yield _of_sizes(
        [_array(alignment.images[group[0]]) for group in long], min(sizes), images[0].first_address,
        sorted(i for one in short for i in one), sorted(i for one in long for i in one), taken.names,
    )  # fmt: skip


def _of_sizes(
    longer: Sequence[Bytes], size: int, start: int, short: Sequence[int], long: Sequence[int], names: Sequence[str]
) -> Finding:
    """Say what the longer images hold beyond the size of the shorter ones; the reads are counted from 0."""
    missing = len(longer[0]) - size
    times, rest = divmod(len(longer[0]), size)
    too_long = {"size_bytes": size, "read": _called(long, names), "reads": [i + 1 for i in long]}
    other = _called(short, names)
    if not rest and all(np.array_equal(one[size:], one[:-size]) for one in longer):
        return Finding.of("mirrored/beside", "warning", SHORTER, other=other, detail={"times": times, **too_long})
    fill = int(longer[0][-1])
    if missing > 1 and all(np.all(one[size:] == fill) for one in longer):
        return Finding.of(
            "ends-in-fill/beside", "warning", SHORTER, other=other, more=missing,
            detail={"fill": f"{fill:02X}", **too_long},
        )  # fmt: skip
    at = start + size
    return Finding.of(
        "truncated/beside", "fault", SHORTER, other=_called(long, names),
        span=range_text(at, missing, address_digits(at + missing)),
        detail={"missing": missing, "at": at, "read": other, "reads": [i + 1 for i in short]},
    )  # fmt: skip


class _Large:
    """Reads too large to be looked at whole: where they differ most, and whether some end in fill.

    Args:
        alignment: All reads.
        chosen: One read of each different image.
    """

    def __init__(self, alignment: Alignment, chosen: Sequence[int]) -> None:
        self._alignment = alignment
        self._chosen = chosen
        self._counts: dict[int, int] = {}
        place = 0
        begin: int | None = None
        ends: list[int | None] = []   # for each read the value that it holds from the first difference on
        for _, block in alignment.blocks():
            sides = [np.frombuffer(block[i], np.uint8) for i in chosen]
            differing = np.flatnonzero(np.any([side != sides[0] for side in sides[1:]], axis=0))
            if len(differing):
                for window, count in zip(*np.unique((differing + place) // WINDOW, return_counts=True), strict=True):
                    self._counts[int(window)] = self._counts.get(int(window), 0) + int(count)
                if begin is None:
                    begin = place + int(differing[0])
                    ends = [int(side[differing[0]]) for side in sides]
            if begin is not None:
                rest = slice(max(begin - place, 0), None)
                ends = [
                    end if end is not None and np.all(side[rest] == end) else None
                    for end, side in zip(ends, sides, strict=True)
                ]
            place += len(sides[0])
        ended = [(i, end) for i, end in enumerate(ends) if end is not None]
        #: Which image ends in fill, from which place on, and what it ends in; None where none does, or all do.
        self.ended: tuple[int, int, int] | None = None
        if begin is not None and 0 < len(ended) < len(ends):
            self.ended = ended[0][0], begin, ended[0][1]

    def densest(self) -> tuple[list[bytes], int]:
        """Give the bytes of each image over the stretch in which most places differ, and where it begins."""
        begin = max(self._counts, key=self._counts.__getitem__) * WINDOW
        sides: list[list[bytes]] = [[] for _ in self._chosen]
        place = 0
        for _, block in self._alignment.blocks():
            length = len(block[0])
            low, high = max(begin - place, 0), min(begin + WINDOW - place, length)
            if low < high:
                for side, i in zip(sides, self._chosen, strict=True):
                    side.append(block[i][low:high])
            place += length
        return [b"".join(side) for side in sides], begin

    def address_of(self, place: int) -> int:
        """Give the address at a place among the common ones."""
        for span in self._alignment.common:
            if place < span.length:
                return span.start + place
            place -= span.length
        return place

    def note(self, begin: int, length: int, size: int) -> Finding:
        """Say that only a part was looked at."""
        start = self.address_of(begin)
        where = range_text(start, length, address_digits(self._alignment.common[0].start + size))
        return Finding.of(
            "not-diagnosed/window", "note", 1.0, Where(address=start, length=length), span=where,
            detail={
                "start": start, "length": length, "differing": self._counts[begin // WINDOW],
                "of": sum(self._counts.values()),
            },
        )  # fmt: skip

