"""What the files of a proposed division show: text that goes on across seams of sectors, and fill in wrong places.

The weights are ours; tests/benchmarks/directory_volumes.py measures how often they are right.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_entries import kind_of
from imagekeeper.filesystems.directory_files import File, files, labelled, slots
from imagekeeper.filesystems.directory_frames import LOOKED_AT, Frame
from imagekeeper.filesystems.directory_parameters import RECORD, DiskParameters
from imagekeeper.filesystems.directory_seams import Seams
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural

#: What is compared with the best: divisions whose directory fits less well by no more than this.
NEAR = 4.0

#: Above this the seams speak for a division on their own. [logarithm of odds]
_TELLING = 5.0

#: The best of very many orders is better than another by so many standard deviations by chance alone.
_BY_CHANCE = 4.0

#: What seams tell that no file has, as a share of what those of files tell.
_FREE_TELLS = 0.25


@dataclass(frozen=True)
class ProposedDivision:
    """A division that an image may have.

    Attributes:
        frame: How tracks and sectors lie.
        parameters: How the disk is divided.
        evidence: For and against.
        gives: What files would come of it: two with the same give the same.
    """

    frame: Frame
    parameters: DiskParameters
    evidence: tuple[Evidence, ...]
    gives: int = 0

    @property
    def weight(self) -> float:
        """All evidence together."""
        return sum(one.weight for one in self.evidence)


def looked_into(data: Data, found: list[ProposedDivision]) -> list[ProposedDivision]:
    """Add what the blocks show: text across seams, fill where no file is."""
    if not found:
        return found
    looked = data[:LOOKED_AT]
    blank = [
        looked.count(looked[at], at, at + RECORD) == RECORD for at in range(0, len(looked) - RECORD + 1, RECORD)
    ]
    seams = Seams(looked)
    within: dict[int, float] = {}
    gives: dict[int, int] = {}
    measured: list[tuple[ProposedDivision, float, int, list[Evidence]]] = []
    allowed = budget.current()
    for one in found:
        allowed.tick()
        records = one.frame.records
        entries = slots(data, one.frame.placement, one.parameters)
        allowed.step(len(entries))
        has_label = labelled(entries)
        live = files((slot for slot in entries if kind_of(slot.raw, labelled=has_label) == "file"), one.parameters)
        used: set[int] = set()
        lists = [list(_records(file, one.parameters, records, used)) for file in live]
        gives[id(one)] = hash(tuple(
            (file.first.user, file.first.letters, file.size(one.parameters), *at)
            for file, at in zip(live, lists, strict=True)
        ))  # fmt: skip
        if id(records) not in within:
            within[id(records)] = seams.within(records)
        # what no file has may be another machine's: it counts less
        told = _FREE_TELLS * within[id(records)] + (1 - _FREE_TELLS) * seams.inside(lists) + seams.across(lists)
        empty = sum(blank[at // RECORD] for found_at in lists for at in found_at if at // RECORD < len(blank))
        measured.append((one, told, empty, list(_fill(one, records, lists, used, blank))))
    chance = seams.chance(sum(not one for one in blank))
    good = [one for one in measured if one[0].weight > found[0].weight - NEAR]
    best, least = max(told for _, told, _, _ in good), min(empty for _, _, empty, _ in good)
    result = []
    for one, told, empty, evidence in measured:
        if empty > least:
            evidence.append(Evidence(f"{plural(empty, 'record')} of files are fill, with another division {least}",
                                     max(-0.15 * (empty - least), -4.0)))  # fmt: skip
        if told > max(_TELLING, 3 * chance):
            evidence.append(Evidence("text goes on where one sector ends and the next begins", 1.5))
        if told < best - 1 - _BY_CHANCE * chance:
            evidence.append(Evidence("text goes on less well from sector to sector than with another division",
                                     max(0.35 * (told - best + _BY_CHANCE * chance), -6.0)))  # fmt: skip
        result.append(replace(one, evidence=(*one.evidence, *evidence), gives=gives[id(one)]))
    return result


def _records(file: File, parameters: DiskParameters, records: list[int], used: set[int]) -> Iterator[int]:
    """Where the records of a file lie, as far as they are looked at; its blocks are noted as used."""
    per_block = parameters.block_bytes // RECORD
    for number, length in file.blocks(parameters):
        if not number or number in used:
            continue
        used.add(number)
        yield from records[number * per_block : number * per_block + -(-length // RECORD)]


def _fill(
    one: ProposedDivision, records: list[int], lists: list[list[int]], used: set[int], blank: list[bool]
) -> Iterator[Evidence]:
    per_block = one.parameters.block_bytes // RECORD
    held = [at // RECORD for found in lists for at in found]
    empty = sum(blank[at] for at in held if at < len(blank))
    if held and empty * 3 > len(held):
        yield Evidence(f"{empty} of the {len(held)} records of files are fill", -5.0 * empty / len(held))
    free = [
        at // RECORD
        for number in range(one.parameters.directory_blocks, min(one.parameters.blocks, len(records) // per_block))
        if number not in used
        for at in records[number * per_block : (number + 1) * per_block]
    ]
    filled = sum(blank[at] for at in free if at < len(blank))
    if filled:
        share = filled / len(free)
        yield Evidence(f"{filled} of the {len(free)} records outside of files are fill", 3.0 * share - 1.5)
