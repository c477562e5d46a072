"""What damage to a disk means: the files that it is in, the tracks to read again for them, and what it leaves alone."""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from imagekeeper import budget
from imagekeeper.filesystems.damage_model import (
    DiskDamage,
    HurtArea,
    HurtFile,
    HurtSpare,
    HurtState,
    HurtStretch,
    HurtTrack,
    TrackPurpose,
)
from imagekeeper.filesystems.model import Extent, SectorGrid, SectorPlace, Volume

#: No more stretches of a file, tracks of a disk, and names at a track are kept; the rest is counted.
MOST_STRETCHES, MOST_TRACKS, MOST_NAMES = 1000, 4096, 20


Track = tuple[int, int]


@dataclass
class _Stretches:
    """Hurt stretches of one thing, gathered in its own order."""

    kept: list[HurtStretch] = field(default_factory=list)
    hurt_bytes: int = 0
    left_out: int = 0
    tracks: dict[Track, None] = field(default_factory=dict)

    def add(self, one: HurtStretch) -> None:
        self.hurt_bytes += one.length
        if one.cylinder is not None and one.head is not None:
            self.tracks[one.cylinder, one.head] = None
        last = self.kept[-1] if self.kept else None
        if (
            last is not None and not self.left_out and last.at + last.length == one.at
            and (last.state, last.cylinder, last.head) == (one.state, one.cylinder, one.head)
        ):  # fmt: skip
            sectors = last.sectors + tuple(number for number in one.sectors if number not in last.sectors[-1:])
            self.kept[-1] = HurtStretch(
                at=last.at, length=last.length + one.length, state=one.state, cylinder=one.cylinder, head=one.head,
                sectors=sectors,
            )  # fmt: skip
        elif len(self.kept) < MOST_STRETCHES:
            self.kept.append(one)
        else:
            self.left_out += 1


class _States:
    """Finds what is not good in a part of the image."""

    def __init__(self, states: Iterable[tuple[Extent, HurtState]], grid: SectorGrid, size_bytes: int) -> None:
        self.grid, self.size_bytes = grid, size_bytes
        self.all = [
            (one.start, min(one.start + one.length, size_bytes), state)
            for one, state in states
            if one.start is not None and one.start < size_bytes
        ]
        self._ends = [end for _, end, _ in self.all]

    def within(self, start: int, length: int) -> Iterator[tuple[int, int, HurtState]]:
        """Give start, end and state of what is not good in a stretch."""
        for at in range(bisect.bisect_right(self._ends, start), len(self.all)):
            first, end, state = self.all[at]
            if first >= start + length:
                return
            yield max(first, start), min(end, start + length), state

    def hurt(self, extents: Iterable[Extent], stated: int = 0) -> _Stretches:
        """Gather what of some extents is hurt; `stated` is the size of the whole where it may be more. [byte]"""
        found, at = _Stretches(), 0
        for one in extents:
            if one.start is None:
                found.add(HurtStretch(at=at, length=one.length, state="lost"))
            else:
                there = max(min(one.length, self.size_bytes - one.start), 0)
                for first, end, state in self.within(one.start, there):
                    for track, sectors, begin, behind in self.by_track(first, end):
                        found.add(HurtStretch(
                            at=at + begin - one.start, length=behind - begin, state=state, cylinder=track[0],
                            head=track[1], sectors=tuple(sectors),
                        ))  # fmt: skip
                if there < one.length:
                    found.add(HurtStretch(at=at + there, length=one.length - there, state="lost"))
            at += one.length
        if at < stated:
            found.add(HurtStretch(at=at, length=stated - at, state="lost"))
        return found

    def by_track(self, start: int, end: int) -> Iterator[tuple[Track, range, int, int]]:
        """Part a stretch of the image by tracks: the track, numbers of its sectors, and where the part begins and ends.

        Part of a sector stands for all of it.
        """
        grid, at, allowed = self.grid, start, budget.current()
        while at < end:
            allowed.tick()
            place = grid.place(at)
            on_first = grid.first_track is not None and not place.cylinder and not place.head
            count, size = grid.first_track if grid.first_track and on_first else (grid.sectors, grid.sector_bytes)
            first = grid.offset(SectorPlace(place.cylinder, place.head, grid.first_sector))
            behind = min(first + count * size, end)
            last = (behind - 1 - first) // size + grid.first_sector
            yield (place.cylinder, place.head), range(place.sector, last + 1), at, behind
            at = behind


def damage(
    volumes: Sequence[Volume], grid: SectorGrid, size_bytes: int, states: Iterable[tuple[Extent, HurtState]]
) -> DiskDamage:
    """Say what the sectors that are not good mean for what is on a disk.

    Args:
        volumes: What is on it.
        grid: Its geometry.
        size_bytes: The size of the image. [byte]
        states: What is not good, ascending and apart.

    Example:
        >>> from imagekeeper.filesystems.model import Entry
        >>> grid = SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40)
        >>> lies = (Extent(9216, 1500),)
        >>> entry = Entry(path="TIDE.LOG", name="TIDE.LOG", name_hex="", kind="file", size_bytes=1500, extents=lies)
        >>> volume = Volume(
        ...     kind="fat12", title="a volume", start=0, length=368640, unit_bytes=1024, units=354, free_units=0,
        ...     entries=(entry,),
        ... )
        >>> found = damage([volume], grid, 368640, [(Extent(9728, 512), "bad")])
        >>> found.hurt_files[0].stretches[0].place, found.tracks[0].mends
        ('1/0/2', ('TIDE.LOG',))
    """
    known = _States(states, grid, size_bytes)
    things: list[tuple[str, TrackPurpose, _Stretches]] = []
    hurt_files: list[HurtFile] = []
    areas: list[HurtArea] = []
    for volume in volumes:
        for entry in volume.entries:
            if entry.deleted:
                continue
            size = entry.size_bytes if entry.kind == "file" else sum(one.length for one in entry.extents)
            found = known.hurt(entry.extents, size)
            if found.hurt_bytes:
                things.append((_named(entry.path, volume), "files", found))
                hurt_files.append(HurtFile(
                    path=entry.path, kind=entry.kind, partition=volume.partition, size_bytes=size,
                    hurt_bytes=found.hurt_bytes, stretches=tuple(found.kept), left_out=found.left_out,
                ))  # fmt: skip
        for area, found in _areas(volume, known):
            things.append((_named(area.name, volume), "system", found))
            areas.append(area)
    tracks = _tracks(known, things, bool(volumes))
    needed = [one for one in tracks if one.purpose != "spare"]
    kept = (needed + [one for one in tracks if one.purpose == "spare"])[:MOST_TRACKS]
    files = sum(entry.kind == "file" and not entry.deleted for volume in volumes for entry in volume.entries)
    return DiskDamage(
        files=files, hurt_files=tuple(hurt_files), areas=tuple(areas), spare=tuple(_spare(known, volumes)),
        tracks=tuple(sorted(kept, key=lambda one: (one.cylinder, one.head))), tracks_left_out=len(tracks) - len(kept),
    )  # fmt: skip


def _named(name: str, volume: Volume) -> str:
    return name if volume.partition is None else f"{name} (partition {volume.partition})"


def _areas(volume: Volume, known: _States) -> Iterator[tuple[HurtArea, _Stretches]]:
    """Give the hurt areas of a volume; pieces of one name are one area."""
    pieces: dict[str, list[Extent]] = {}
    for area in volume.areas:
        pieces.setdefault(area.name, []).append(Extent(area.start, area.length))
    tables = {name: extents[0] for name, extents in pieces.items() if name.startswith("FAT ")}
    for name, extents in pieces.items():
        found = known.hurt(extents)
        if not found.hurt_bytes:
            continue
        twin: bool | None = None
        if name in tables:
            others = [one for other, one in tables.items() if other != name]
            mine = tables[name].start or 0
            twin = all(
                any(not list(known.within((other.start or 0) + first - mine, end - first)) for other in others)
                for first, end, _ in known.within(mine, tables[name].length)
            )
        yield HurtArea(
            name=name, partition=volume.partition, size_bytes=sum(one.length for one in extents),
            hurt_bytes=found.hurt_bytes, twin_whole=twin, stretches=tuple(found.kept), left_out=found.left_out,
        ), found  # fmt: skip


def _tracks(
    known: _States, things: Sequence[tuple[str, TrackPurpose, _Stretches]], recognised: bool
) -> list[HurtTrack]:
    sectors: dict[Track, list[range]] = {}
    for start, end, _ in known.all:
        for track, numbers, _, _ in known.by_track(start, end):
            sectors.setdefault(track, []).append(numbers)
    mends: dict[Track, dict[str, bool]] = {track: {} for track in sectors}
    purposes: dict[Track, TrackPurpose] = {}
    for name, purpose, found in things:
        for track in found.tracks:
            alone = len(found.tracks) == 1 and all(one.cylinder is not None for one in found.kept)
            mends[track][name] = alone and mends[track].get(name, True)
            if purposes.get(track) != "files":
                purposes[track] = purpose
    rest: TrackPurpose = "spare" if recognised else "unknown"
    made = []
    for (cylinder, head), runs in sorted(sectors.items()):
        names = mends[cylinder, head]
        whole = [name for name, alone in names.items() if alone][:MOST_NAMES]
        part = [name for name, alone in names.items() if not alone][: MOST_NAMES - len(whole)]
        made.append(HurtTrack(
            cylinder=cylinder, head=head, sectors=tuple(sorted({number for one in runs for number in one})),
            purpose=purposes.get((cylinder, head), rest), mends=tuple(whole), helps=tuple(part),
            left_out=len(names) - len(whole) - len(part),
        ))  # fmt: skip
    return made


def _spare(known: _States, volumes: Sequence[Volume]) -> Iterator[HurtSpare]:
    """Tell what is free and what no file has apart; without a volume nothing is known to be spare."""
    if not volumes:
        return
    free = [one for volume in volumes for one in volume.free]
    marked = [one for volume in volumes for one in volume.marked_bad]
    owned = [one for volume in volumes for entry in volume.entries if not entry.deleted for one in entry.extents]
    owned += [Extent(area.start, area.length) for volume in volumes for area in volume.areas]
    yield from _counted("free", _hits(known, free), known)
    yield from _counted("marked-bad", _hits(known, marked), known)
    yield from _counted("unowned", _without(known, _hits(known, [*free, *marked, *owned])), known)


def _hits(known: _States, extents: Iterable[Extent]) -> list[tuple[int, int]]:
    """Give the stretches of some extents that are not good, each byte once, ascending."""
    there = ((one.start, one.length) for one in extents if one.start is not None)
    return list(_apart(sorted((first, end) for at, length in there for first, end, _ in known.within(at, length))))


def _apart(found: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    done = 0
    for first, end in found:
        if end > done:
            yield max(first, done), end
            done = end


def _without(known: _States, owned: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Give what is not good and lies in none of some stretches, which are ascending and apart.

    The rest of a sector of which a file has a part is the file's: a sector is read as a whole.
    """
    size = known.grid.sector_bytes
    left, at = [], 0
    for start, end, _ in known.all:
        first = start
        while at < len(owned) and owned[at][1] <= start:
            at += 1
        number = at
        while number < len(owned) and owned[number][0] < end:
            if owned[number][0] - first >= size:
                left.append((first, owned[number][0]))
            first = max(first, owned[number][1])
            number += 1
        if first == start or end - first >= size:
            left.append((first, end))
    return left


def _counted(
    kind: Literal["free", "marked-bad", "unowned"], stretches: Iterable[tuple[int, int]], known: _States
) -> Iterator[HurtSpare]:
    sectors, tracks = 0, set[Track]()
    for start, end in stretches:
        for track, numbers, _, _ in known.by_track(start, end):
            sectors += len(numbers)
            tracks.add(track)
    if sectors:
        yield HurtSpare(kind=kind, sectors=sectors, tracks=len(tracks))
