"""Which divisions an image may have where no disk parameter block is known: ranked, with the evidence.

The system keeps its disk parameter block in its own program, not on the disk. What the disk shows: a directory behind
whole tracks, block numbers that are used once, counts of records that need just the blocks named, text that goes on
across the seams of sectors, and fill where no file is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.errors import InputError, UsageError
from imagekeeper.filesystems.directory_content import NEAR, ProposedDivision, looked_into
from imagekeeper.filesystems.directory_frames import Frame, frames
from imagekeeper.filesystems.directory_options import Given
from imagekeeper.filesystems.directory_parameters import (
    BLOCK_SIZES,
    ENTRY,
    RECORD,
    DiskParameters,
    largest_extent_mask,
)
from imagekeeper.filesystems.directory_runs import Records, clean, in_use, last_used, lowest_block, weigh
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.ranked import Evidence
from imagekeeper.tables.parameter_blocks import parameter_block_rows
from imagekeeper.units import plural

#: Divisions whose files are looked at, of them those of one place, and those that are answered.
_LOOKED_INTO, _OF_A_PLACE, _ANSWERED = 64, 4, 5

#: No search takes more steps, which are looks at an entry or record; the likelier places come first.
_STEPS, _PER_DIVISION = 1_000_000, 50

_NOT_ALL = Evidence("not all divisions were tried: too much on this disk could be a directory", 0.0)

#: How many entries directories have, and how many tracks are reserved at most. Common practice, no source.
_USUAL_ENTRIES, _USUAL_RESERVED = (32, 64, 128, 256, 512), 4

#: A directory is looked for within so much. [byte]
_DIRECTORY_WITHIN = 1 << 19


def search(
    data: Data, grid: SectorGrid | None, given: Given, others: Callable[[], Sequence[SectorGrid]] = tuple
) -> tuple[ProposedDivision, ...]:
    """Find the divisions that an image may have, best first; their evidence says so where not all were tried.

    Args:
        data: The whole volume.
        grid: The geometry of the disk, or None.
        given: What is known.
        others: Gives geometries that the disk may have, beside those that its size tells.

    Raises:
        InputError: `too-much-work`, where earlier searches of the same image left no steps.
    """
    allowed, left = budget.current(), _STEPS
    if allowed.steps_left <= 0:
        raise InputError("too-much-work/division", steps=budget.STEPS)
    image = Records(data)
    strong = _directory_records(data)
    found: list[ProposedDivision] = []
    known: dict[tuple[object, ...], tuple[Evidence, ...]] = {}
    for frame in frames(data, image, grid, given, others):
        if left <= 0 or allowed.steps_left <= 0:
            break
        allowed.tick()
        entries = frame.entries(image, unused=given.reserved is not None)
        used = last_used(entries)
        if not used and given.reserved is None:
            continue
        place = tuple(frame.weigh())
        for parameters in _divisions(frame, entries, used, given):
            key = (entries[:used], replace(parameters, skew=1, order=(), sides="alternating", reserved_tracks=0,
                                    records_per_track=128, sector_bytes=RECORD))  # fmt: skip
            steps = len(strong) + _PER_DIVISION + (used if key not in known else 0)
            left -= steps
            allowed.step(steps)
            if left <= 0 or allowed.steps_left <= 0:
                break
            if key not in known:
                known[key] = tuple(weigh(entries[:used], parameters))
            evidence = (*place, *known[key], *_directory(frame, entries, used, parameters, strong),
                        *unusual(parameters, given), *_table(parameters))
            found.append(ProposedDivision(frame, parameters, evidence))
    found.sort(key=lambda one: -one.weight)
    found = _chosen(_distinct(found))
    found = _usual_first(looked_into(data, found), given)
    if left <= 0 or allowed.steps_left <= 0:
        found = [replace(one, evidence=(*one.evidence, _NOT_ALL)) for one in found]
    best = found[:_ANSWERED]
    if found:   # the next that gives other files is answered in any case
        best += [one for one in found[_ANSWERED:] if all(two.gives == found[0].gives for two in best)][:1]
    return tuple(best)


def unusual(parameters: DiskParameters, given: Given) -> tuple[Evidence, ...]:
    """Say what no usual disk has, of that which nobody gave. Common practice, no source.

    Example:
        >>> odd = DiskParameters(
        ...     records_per_track=32, block_bytes=1024, blocks=150, directory_entries=12, reserved_tracks=3,
        ...     extent_mask=0,
        ... )
        >>> unusual(odd, Given())[0].says, unusual(odd, Given(directory=12))
        ('12 entries are no usual number', ())
    """
    found = []
    entries, reserved = parameters.directory_entries, parameters.reserved_tracks
    if given.directory is None and entries not in _USUAL_ENTRIES:
        found.append(Evidence(f"{entries} entries are no usual number", -1.5))
    if given.counts is None and parameters.record_counts != "last-extent":
        found.append(Evidence("entries would count all of their records, which is rare", -0.5))
    if given.reserved is None and reserved > _USUAL_RESERVED:
        found.append(Evidence(f"{reserved} reserved tracks are many", -0.3 * (reserved - _USUAL_RESERVED)))
    return tuple(found)


def _usual_first(found: list[ProposedDivision], given: Given) -> list[ProposedDivision]:
    """Sort, so that an unusual division is never the answer where a usual one explains the disk nearly as well."""
    found = sorted(found, key=lambda one: -one.weight)
    usual = next((one for one in found if not unusual(one.parameters, given)), None)
    if usual is None or usual is found[0] or usual.weight <= found[0].weight - NEAR:
        return found
    result = []
    for one in found:
        if one.weight >= usual.weight and unusual(one.parameters, given):
            less = Evidence("a usual division explains the disk nearly as well", usual.weight - one.weight - 0.1)
            one = replace(one, evidence=(*one.evidence, less))
        result.append(one)
    return sorted(result, key=lambda one: -one.weight)


def _directory_records(data: Data) -> frozenset[int]:
    """Where records stand that can hardly be anything but those of a directory. [byte]"""
    end = min(len(data), _DIRECTORY_WITHIN)
    whole = data[:end]
    return frozenset(
        at for at in range(0, end - RECORD + 1, RECORD)
        if whole[at] < 32 and in_use(whole[at : at + RECORD]) and clean(whole[at : at + RECORD])
    )  # fmt: skip


def _divisions(frame: Frame, entries: tuple[bytes, ...], used: int, given: Given) -> Iterator[DiskParameters]:
    logical = frame.placement.logical_bytes
    long = any(raw[0] < 16 and (raw[15] > 128 or (not raw[15] and any(raw[16:]))) for raw in entries)
    for block in BLOCK_SIZES if given.block is None else (given.block,):
        blocks = given.blocks or min(logical // block if block > 0 else 0, 65536)
        if not blocks:
            continue
        largest = largest_extent_mask(block, blocks)
        masks = [mask for mask in (15, 7, 3, 1, 0) if mask <= largest] if given.mask is None else [given.mask]
        lowest = lowest_block(entries, 1 if blocks <= 256 else 2)
        for directory in _directories(block, lowest, len(entries), used) if given.directory is None else (
            given.directory,
        ):
            for mask in masks:
                both = given.counts is None and mask == 1 and long
                for counts in ("last-extent", "whole-entry") if both else (None,):
                    try:
                        yield replace(
                            frame.parameters, block_bytes=block, blocks=blocks, directory_entries=directory,
                            extent_mask=mask, record_counts=counts or given.counts or "last-extent",
                            last_bytes=given.last or "not-kept",
                        )  # fmt: skip
                    except UsageError:
                        continue


def _directories(block: int, lowest: int | None, there: int, used: int) -> list[int]:
    """How many entries the directory may have: from those in use to those before the first block of a file."""
    per_block = block // ENTRY
    least = max(-(-used // per_block), 1)
    if least > 16:
        return []
    most = min(max(lowest or least, least), 16)
    found = [blocks * per_block for blocks in range(least, most + 1) if blocks * per_block <= there]
    if used <= there < most * per_block and there % per_block:
        found.append(there)   # the directory may end within a block
    return found or [least * per_block]


def _directory(
    frame: Frame, entries: tuple[bytes, ...], used: int, parameters: DiskParameters, strong: frozenset[int]
) -> Iterator[Evidence]:
    asked = parameters.directory_entries
    records = -(-asked // 4)
    covered = set(frame.first_records[:records])
    missed = len(strong - covered)
    if missed:
        yield Evidence(f"{plural(missed, 'record')} of directory entries would not lie in the directory",
                       max(-0.7 * missed, -5.0))  # fmt: skip
    held = len(strong & covered)
    if held and not missed:
        yield Evidence(f"all {plural(held, 'record')} of directory entries lie in the directory", min(0.5 * held, 2.0))
    if len(entries) < asked:
        yield Evidence(f"behind {len(entries)} entries of {asked} stands something else", -4.0)
    empty = sum(
        all(raw[0] == 0xE5 for raw in entries[at : at + 4]) for at in range(0, min(used, asked), 4)
    )  # fmt: skip
    if empty:
        yield Evidence(f"{plural(empty, 'record')} between those in use hold no entry in use", max(-0.3 * empty, -2.0))
    if parameters.extent_mask != largest_extent_mask(parameters.block_bytes, parameters.blocks):
        yield Evidence("an entry would not use all the block numbers that it has room for", -0.5)


def _table(parameters: DiskParameters) -> Iterator[Evidence]:
    for row in parameter_block_rows().values():
        if DiskParameters.of(row) == parameters:
            yield Evidence(f"it is a row of the table: {row.title}", 1.0)


def _distinct(found: list[ProposedDivision]) -> list[ProposedDivision]:
    """Leave out divisions that put the same bytes in the same places as a better one."""
    kept: dict[tuple[object, ...], ProposedDivision] = {}
    for one in found:
        division = one.parameters
        plain = division.sector_order == tuple(sorted(division.sector_order))
        track = None if plain and division.sides == "alternating" else division.track_bytes
        order = () if plain else (division.sector_order, division.sector_bytes)
        where = (one.frame.placement.begin, division.sides, track, order)
        kept.setdefault((*where, division.block_bytes, division.directory_entries, division.extent_mask,
                         division.record_counts, division.number_bytes), one)  # fmt: skip
    return list(kept.values())


def _chosen(found: list[ProposedDivision]) -> list[ProposedDivision]:
    """Take the best few of each place, so that one place does not crowd out the others."""
    of_place: Counter[int] = Counter()
    kept = []
    for one in found:
        of_place[id(one.frame)] += 1
        if of_place[id(one.frame)] <= _OF_A_PLACE:
            kept.append(one)
    return kept[:_LOOKED_INTO]
