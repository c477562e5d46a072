"""A whole disk: is it partitioned, which volumes does it hold, and which geometry does it have."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from imagekeeper.containers.model import Data, DataWindow
from imagekeeper.filesystems import lost_volumes, registry
from imagekeeper.filesystems.booting import judge
from imagekeeper.filesystems.disk_faults import note_faults, note_size, note_unread
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_tree import MOST_ENTRIES
from imagekeeper.filesystems.hard_disk import geometries
from imagekeeper.filesystems.lost_volumes import FoundVolume
from imagekeeper.filesystems.model import ReadingOptions, Recognised, RunnerUp, SectorGrid, Volume
from imagekeeper.filesystems.partitions import SECTOR, Partition, is_partitioned, partitions
from imagekeeper.filesystems.problems import Problems
from imagekeeper.findings import Finding
from imagekeeper.floppy.parameter_block import ParameterBlock
from imagekeeper.ranked import Candidate, Evidence

#: Below this a file system on the whole disk gives way to a partition table.
_CERTAIN = 0.6

#: Types of partitions that a table may state for what is looked for here. From memory.
FAT_TYPES = ("01", "04", "06", "0B", "0C", "0E")

#: A geometry of this score is taken as certain where the size of the image is held against it.
_SURE = 0.9

#: So many geometries of a hard disk are tried where its heads matter.
_GRIDS = 4

#: An answer whose evidence is ahead of another's by less is not decided, where the two give different files. Chosen on
#: the disks with even seeds of tests/benchmarks/directory_volumes.py.
_MARGIN = 2.0

#: An image larger than this is of no floppy disk: its geometry is looked for among hard disks. [byte]
_FLOPPY_LIMIT = 4 << 20


@dataclass(frozen=True)
class Held:
    """A volume, and the partition that holds it.

    Attributes:
        partition: Or None where the whole disk is one volume.
        candidates: What it may be, best first; empty where nothing is recognised.
        volume: What is in it, or None.
    """

    partition: Partition | None
    candidates: tuple[Candidate[Recognised], ...]
    volume: Volume | None


@dataclass(frozen=True, kw_only=True)
class DiskVolumes:
    """What a disk holds.

    Attributes:
        held: Its volumes; one without a partition table, and one a partition with it.
        partitions: All partitions, extended ones too, and those that were found and not told.
        geometries: What its geometry may be, best first; empty for floppy disks whose volume states it.
        grid: The geometry that was taken, or None.
        findings: About the disk as a whole.
    """

    held: tuple[Held, ...]
    partitions: tuple[Partition, ...]
    geometries: tuple[Candidate[SectorGrid], ...]
    grid: SectorGrid | None
    findings: tuple[Finding, ...]

    @property
    def volumes(self) -> tuple[Volume, ...]:
        """The volumes that were read."""
        return tuple(one.volume for one in self.held if one.volume is not None)


Recognise = Callable[
    [Data, SectorGrid | None, Callable[[], Sequence[SectorGrid]]], Sequence[Candidate[Recognised]]
]  # fmt: skip


def read_disk(
    data: Data, how: ReadingOptions, grids: Iterable[SectorGrid] = (), *, only: int | None = None,
    recognise: Recognise = registry.recognise,
) -> DiskVolumes:  # fmt: skip
    """Look for volumes and read them.

    Args:
        data: The whole image.
        how: How to read; a grid in it is taken as certain.
        grids: Geometries that the disk may have, best first, for file systems that state none; asked for only then.
        only: Read this partition alone.
        recognise: Tells what some bytes may be; without it every reader is asked.
    """
    whole = tuple(recognise(data, how.grid, lambda: tuple(grids)))
    if is_partitioned(data[:512], len(data)) and (not whole or whole[0].score < _CERTAIN):
        problems = Problems()
        return _partitioned(data, how, only, recognise, partitions(data, problems), problems)
    if not whole and len(data) > _FLOPPY_LIMIT:
        found = _partitioned(data, how, only, recognise, (), Problems())
        if found.partitions or found.findings:
            return found
    if not whole:
        return DiskVolumes(held=(Held(None, (), None),), partitions=(), geometries=(), grid=how.grid, findings=())
    volume = _read(data, whole, how)
    ranked: tuple[Candidate[SectorGrid], ...] = ()
    if len(data) > _FLOPPY_LIMIT and how.grid is None:
        ranked = geometries(len(data), (), list(_blocks(whole[:1])))
    grid = how.grid or (ranked[0].answer if ranked else volume.grid)
    held = (Held(None, whole, replace(volume, grid=grid)),)
    problems = Problems()
    if len(data) > _FLOPPY_LIMIT:
        _note_faults(data, how, held, ranked, grid, problems)
    return DiskVolumes(held=held, partitions=(), geometries=ranked, grid=grid, findings=problems.found())


def _note_faults(
    data: Data, how: ReadingOptions, held: Sequence[Held], ranked: Sequence[Candidate[SectorGrid]],
    grid: SectorGrid | None, problems: Problems,
) -> None:  # fmt: skip
    """Note what the reading of a hard disk did to its image."""
    if len(data) <= _FLOPPY_LIMIT:
        return
    volumes = [
        (one.volume, one.candidates[0].answer.detail) for one in held
        if one.volume is not None and isinstance(one.candidates[0].answer.detail, FatLayout)
    ]  # fmt: skip
    grids = [how.grid] if how.grid is not None else [one.answer for one in ranked[:_GRIDS]]
    sure = how.grid or (ranked[0].answer if ranked and ranked[0].score >= _SURE else None)
    spread = note_faults(data, volumes, grids, problems)
    if sure is not None:
        note_size(len(data), sure, problems)
    if how.check and not spread:
        note_unread(data, [volume for volume, _ in volumes], grid, problems)


def _read(data: Data, candidates: Sequence[Candidate[Recognised]], how: ReadingOptions) -> Volume:
    """Read the best answer, and say how far the next one is that would give other files."""
    best = candidates[0].answer
    volume = registry.read(data, best, how)
    rivals = (one.answer for one in candidates if one.answer.reader == best.reader and one.answer.gives != best.gives)
    rival = max(rivals, key=lambda one: one.weight, default=None)
    behind = None if rival is None else best.weight - rival.weight
    undecided: tuple[Finding, ...] = ()
    if best.unusual:
        undecided = (Finding.of(
            "division-undecided/unusual", "warning", 0.7, title=best.title, detail={"unusual": list(best.unusual)}
        ),)  # fmt: skip
    elif rival is not None and behind is not None and behind < _MARGIN:
        undecided = (Finding.of(
            "division-undecided", "warning", 0.7, title=best.title,
            detail={"runner_up": rival.title, "behind": round(behind, 2)},
        ),)  # fmt: skip
    return replace(
        volume, evidence=candidates[0].evidence, findings=(*volume.findings, *undecided),
        runner_up=None if rival is None or behind is None else RunnerUp(rival.title, round(behind, 2)),
    )  # fmt: skip


def _partitioned(
    data: Data, how: ReadingOptions, only: int | None, recognise: Recognise, told: tuple[Partition, ...],
    problems: Problems,
) -> DiskVolumes:  # fmt: skip
    """Read the volumes of the partitions that a table states, and of those that are found where none can be read."""
    known = [
        (one, tuple(recognise(part, None, tuple)) if len(part := _part(data, one)) else ())
        for one in told if not one.is_extended
    ]
    found = _found(data, told, known, problems) if only is None or all(one.number != only for one in told) else ()
    known += [(one.partition, () if one.recognised is None else (one.recognised,)) for one in found]
    table = (*told, *(one.partition for one in found))
    held: list[Held] = []
    room = MOST_ENTRIES
    for one, candidates in known:
        if only is not None and one.number != only:
            continue
        volume = None
        if candidates and room > 0:
            there = replace(
                _read(_part(data, one), candidates, replace(how, start=one.start)), partition=one.number
            )  # fmt: skip
            room -= len(there.entries)
            volume = _with_partition(there, one, table, data[:446])
        elif candidates:
            problems.add("directory-damaged/too-many-of-all", "fault", at=one.start, entries=MOST_ENTRIES)
        held.append(Held(one, candidates, volume))
    ranked: tuple[Candidate[SectorGrid], ...] = ()
    if how.grid is None:
        ranked = geometries(len(data), table, [block for one in held for block in _blocks(one.candidates[:1])])
    grid = how.grid or (ranked[0].answer if ranked else None)
    held = [replace(one, volume=one.volume and replace(one.volume, grid=grid)) for one in held]
    _note_faults(data, how, held, ranked, grid, problems)
    return DiskVolumes(held=tuple(held), partitions=table, geometries=ranked, grid=grid, findings=problems.found())


def _part(data: Data, one: Partition) -> DataWindow:
    return DataWindow(data, one.start, max(min(one.length, len(data) - one.start), 0))


def _found(
    data: Data, told: tuple[Partition, ...], known: Sequence[tuple[Partition, tuple[Candidate[Recognised], ...]]],
    problems: Problems,
) -> tuple[FoundVolume, ...]:  # fmt: skip
    """Look for volumes where nothing can be read, and say of each that it was found and not told."""
    if len(data) <= _FLOPPY_LIMIT:
        return ()
    readable = [(one.start, one.end) for one, candidates in known if candidates or one.type not in FAT_TYPES]
    search = lost_volumes.search(data, told, readable)
    if search.found and not told:
        problems.add("found-not-told/no-table", "fault", at=0, length=512, volumes=len(search.found))
    for one in search.found:
        place = one.partition
        problems.add(
            "found-not-told/volume" if one.recognised else "found-not-told/table", "warning", at=place.start,
            length=place.length, confidence=place.confidence or 0.0, title=place.title, byte=place.start,
            because=[reason.says for reason in place.evidence[:3]], detail={"partition": place.number},
        )  # fmt: skip
        nearest = [
            other for other, candidates in known
            if not candidates and 0 < abs(other.start - place.start) <= lost_volumes.MOST_SHIFT * SECTOR
        ]  # fmt: skip
        shift = (place.start - nearest[0].start) // SECTOR if nearest else one.shift
        if shift:
            problems.add(
                "sectors-shifted/later" if shift > 0 else "sectors-shifted/earlier", "fault", at=place.start,
                length=place.length, confidence=0.9 if nearest else 0.7, byte=place.start, count=abs(shift),
                detail={"partition": place.number, "sectors": shift},
            )  # fmt: skip
    if search.left_out or search.cut:
        problems.add("found-not-told/more-volumes", "note", offered=len(search.found))
    return search.found


def _blocks(candidates: Sequence[Candidate[Recognised]]) -> Iterator[ParameterBlock]:
    for one in candidates:
        if isinstance(one.answer.detail, FatLayout) and one.answer.detail.block is not None:
            yield one.answer.detail.block


def _with_partition(volume: Volume, one: Partition, table: Sequence[Partition], code: bytes) -> Volume:
    """Add to the evidence on starting what the partition table says."""
    if volume.boot is None:
        return volume
    more = []
    if one.active:
        more.append(Evidence("its partition is the one marked to start from", 1.0))
    elif not one.is_told:
        more.append(Evidence("no table states where it lies, so that nothing would start it", -2.0))
    elif any(other.active for other in table):
        more.append(Evidence("another partition is the one marked to start from", -2.0))
    else:
        more.append(Evidence("no partition is marked to start from", -1.5))
    if one.kind == "logical":
        more.append(Evidence("it is a logical partition, from which the code of the first sector does not start", -2.0))
    if len(set(code)) <= 2:
        more.append(Evidence("the first sector of the disk has no code that would start it", -2.0))
    return replace(volume, boot=judge((*volume.boot.evidence, *more)))
