"""A whole disk: is it partitioned, which volumes does it hold, and which geometry does it have."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from imagekeeper.containers.model import Data, DataWindow
from imagekeeper.filesystems import registry
from imagekeeper.filesystems.booting import judge
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.hard_disk import geometries
from imagekeeper.filesystems.model import ReadingOptions, Recognised, RunnerUp, SectorGrid, Volume
from imagekeeper.filesystems.partitions import Partition, is_partitioned, partitions
from imagekeeper.filesystems.problems import Problems
from imagekeeper.findings import Finding
from imagekeeper.floppy.parameter_block import ParameterBlock
from imagekeeper.ranked import Candidate, Evidence

#: Below this a file system on the whole disk gives way to a partition table.
_CERTAIN = 0.6

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
        partitions: All partitions, extended ones too.
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
        return _partitioned(data, how, only, recognise)
    if not whole:
        return DiskVolumes(held=(Held(None, (), None),), partitions=(), geometries=(), grid=how.grid, findings=())
    volume = _read(data, whole, how)
    ranked: tuple[Candidate[SectorGrid], ...] = ()
    if len(data) > _FLOPPY_LIMIT and how.grid is None:
        ranked = geometries(len(data), (), list(_blocks(whole[:1])))
    grid = how.grid or (ranked[0].answer if ranked else volume.grid)
    return DiskVolumes(
        held=(Held(None, whole, replace(volume, grid=grid)),), partitions=(), geometries=ranked, grid=grid, findings=()
    )


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


def _partitioned(data: Data, how: ReadingOptions, only: int | None, recognise: Recognise) -> DiskVolumes:
    problems = Problems()
    table = partitions(data, problems)
    held = []
    for one in table:
        if one.is_extended or (only is not None and one.number != only):
            continue
        part = DataWindow(data, one.start, max(min(one.length, len(data) - one.start), 0))
        candidates = tuple(recognise(part, None, tuple)) if len(part) else ()
        volume = None
        if candidates:
            there = replace(_read(part, candidates, replace(how, start=one.start)), partition=one.number)
            volume = _with_partition(there, one, table, data[:446])
        held.append(Held(one, candidates, volume))
    ranked: tuple[Candidate[SectorGrid], ...] = ()
    if how.grid is None:
        ranked = geometries(len(data), table, [block for one in held for block in _blocks(one.candidates[:1])])
    grid = how.grid or (ranked[0].answer if ranked else None)
    held = [replace(one, volume=one.volume and replace(one.volume, grid=grid)) for one in held]
    return DiskVolumes(held=tuple(held), partitions=table, geometries=ranked, grid=grid, findings=problems.found())


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
    elif any(other.active for other in table):
        more.append(Evidence("another partition is the one marked to start from", -2.0))
    else:
        more.append(Evidence("no partition is marked to start from", -1.5))
    if one.kind == "logical":
        more.append(Evidence("it is a logical partition, from which the code of the first sector does not start", -2.0))
    if len(set(code)) <= 2:
        more.append(Evidence("the first sector of the disk has no code that would start it", -2.0))
    return replace(volume, boot=judge((*volume.boot.evidence, *more)))
