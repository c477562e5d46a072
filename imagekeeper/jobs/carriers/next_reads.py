"""The read that would tell most about a chip whose reads differ: for the list of what to do, and for its own page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.index.causes_seen import Causes, keep_causes, key_of, seen_causes
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.comparison.next_read import NextRead, next_read
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.carriers.urging import Todo, TodoLine
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.standing import NextStep, Standing
from imagekeeper.sentences.say import Phrase

#: More than this is not compared each time that a carrier is shown. [byte]
COMPARED_BYTES = 8 << 20

#: So many carriers of a list are compared anew; what was found before costs nothing.
COMPARED_CARRIERS = 20


def with_next_read(archive: ArchiveStore, record: CarrierRecord, inventory: Inventory) -> CarrierRecord:
    """Give a record whose next step says which read would tell the causes apart, where the reads of a chip differ."""
    if record.standing is None or not may_be_told(record, record.standing):
        return record
    step = next_read_of(archive, record, inventory, seen_causes(archive))
    return replace(record, standing=with_step(record.standing, step))


def with_step(standing: Standing, step: NextRead | None) -> Standing:
    """Give a standing whose next step is a read that tells most, with what each outcome would mean."""
    if step is None:
        return standing
    told = NextStep(
        does=step.does, because=str(Phrase("step/which-cause")), passes=1,
        outcomes=tuple(outcome.says for outcome in step.outcomes),
    )  # fmt: skip
    return replace(standing, next=told)


def may_be_told(record: CarrierRecord, standing: Standing) -> bool:
    """Whether the reads are a chip's and differ, nothing is damaged, and they are not too large to be compared."""
    return (
        standing.grade == "disputed" and not standing.damage and record.kind in CHIPS
        and sum(read.image.size_bytes for read in record.reads) <= COMPARED_BYTES
    )


def next_read_of(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, seen: Mapping[str, Causes]
) -> NextRead | None:
    """Find the read that would tell most about a chip whose reads differ; None for everything else."""
    if record.standing is None or not may_be_told(record, record.standing):
        return None
    causes = seen.get(key_of(record))
    if causes is None:
        causes = _found(archive, record, inventory)
        keep_causes(archive, record, causes)
    return next_read(causes)


def _found(archive: ArchiveStore, record: CarrierRecord, inventory: Inventory) -> Causes:
    from imagekeeper.jobs.carriers.agreeing import compare_reads  # numpy, only where reads differ

    try:
        result = compare_reads(archive, record, inventory)
    except ImagekeeperError:   # a file that is not there is told as damage
        return ()
    return tuple((one.code, one.confidence) for one in result.findings)


def with_next_reads(archive: ArchiveStore, found: Todo) -> Todo:
    """Say in a list of what to do which read would tell most, for each chip whose reads differ."""
    unsettled = (None, "disputed")
    disputed = [line for line in found.lines if line.reads > 1 and line.grade in unsettled][:COMPARED_CARRIERS]
    if not disputed:
        return found
    seen = seen_causes(archive)
    steps = {line.id: step for line in disputed if (step := _of_line(archive, line, seen)) is not None}
    lines = tuple(replace(line, next=steps[line.id].does) if line.id in steps else line for line in found.lines)
    return replace(found, lines=lines)


def _of_line(archive: ArchiveStore, line: TodoLine, seen: Mapping[str, Causes]) -> NextRead | None:
    try:
        inventory = archive.inventory(line.id)
        return next_read_of(archive, load_record(archive, line.id, inventory), inventory, seen)
    except ImagekeeperError:   # what cannot be read is told elsewhere
        return None
