"""Solve: propose shapes, weigh them, and say what disk it is."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from imagekeeper.errors import InputError, UsageError
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.geometry import allocation, blanks, directory, file_ends, others, parameters, repeats, sides
from imagekeeper.geometry.conclusion import conclude
from imagekeeper.geometry.known import Known, agrees, check, clash
from imagekeeper.geometry.proposals import Proposal, once, proposals
from imagekeeper.geometry.results import SPEAKS, GeometryCandidate, GeometryRival, GeometrySolution
from imagekeeper.geometry.telling import tells
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables import resting_on
from imagekeeper.tables.floppy import FormatRow, format_rows
from imagekeeper.tables.other_disks import OtherDisk
from imagekeeper.units import MIB, size_text

#: No floppy disk of the table is larger. [byte]
SIZE_LIMIT = 4 * MIB

#: So many candidates are given, the best.
CANDIDATES = 12

#: For so many of the best the order of sides is looked for.
_ORDERED = 3

#: The weight of the answer "none of these".
_UNKNOWN = -0.5

#: So much of the whole is given at most to all answers for which only size and facts speak: files of that size come
#: from disks that no table has, too. Our judgement, no source.
_SIZE_ALONE = 0.9

#: Candidates whose score is below are left out, the best excepted.
_LEAST_SCORE = 0.005


def solve(data: bytes | None = None, known: Known | None = None) -> GeometrySolution:
    """Tell which disk an image may be of; without an image, which disk the facts allow.

    Args:
        data: The bytes of the image, or None.
        known: What is known beside it.

    Raises:
        InputError: `empty` for an image without bytes.
        UsageError: `usage` for facts that no disk has, and for two that exclude each other, which are named.

    Example:
        >>> found = solve(known=Known(size_bytes=1_474_560))
        >>> found.candidates[0].format, found.exit_code
        ('3.5-80x2x18x512', 0)
    """
    known = known or Known()
    if data is not None:
        known = _with_size(known, len(data))
    if not known.given():
        raise UsageError("usage/nothing-to-solve")
    check(known)
    if known.size_bytes is not None and known.size_bytes > SIZE_LIMIT:
        return _too_large(known.size_bytes)
    found = proposals(known)
    if not found and not known.others():
        _refuse_clash(known)
    return _answer(found, known, data)


def best_format(found: GeometrySolution) -> FormatRow | None:
    """Give the table's row of the best candidate, or None where there is none, or where a rival is likelier.

    Example:
        >>> best_format(solve(known=Known(size_bytes=368_640))).title
        'PC 360K'
    """
    if not found.candidates or found.candidates[0].format is None or found.leading_rival is not None:
        return None
    return format_rows()[found.candidates[0].format]


def _with_size(known: Known, size: int) -> Known:
    if size == 0:
        raise InputError("empty/disk")
    if known.size_bytes not in (None, size):
        raise clash(known.say("size_bytes"), f"the file's {size_text(size)}")
    return replace(known, size_bytes=size)


def _refuse_clash(known: Known) -> None:
    """Name the first two facts that nothing has together, although something has each."""
    for first, second in combinations(known.given(), 2):
        if not _any(known.only(first, second)) and all(_any(known.only(name)) for name in (first, second)):
            raise clash(known.say(first), known.say(second))


def _any(known: Known) -> bool:
    return bool(known.others() or proposals(known))


def _scores(found: list[Proposal]) -> list[float]:
    """Take weights as logarithms of odds, beside an unknown disk.

    Example:
        >>> from imagekeeper.geometry.shapes import shapes
        >>> plain, other = Proposal(shape=shapes()[0]), Proposal(shape=shapes()[1])
        >>> six, three = Evidence("size", 6.0), Evidence("size", 3.0)
        >>> [round(score, 2) for score in _scores([plain.because_written(six), other.because(three)])]
        [0.95, 0.05]
        >>> [round(score, 2) for score in _scores([plain.because(six), other.because(three)])]   # no content speaks
        [0.86, 0.04]
    """
    weights = [one.weight for one in found]
    most = max([_UNKNOWN, *weights])
    odds = [math.exp(weight - most) for weight in weights]
    alone = sum(odd for odd, one in zip(odds, found, strict=True) if one.content < SPEAKS)
    unknown = max(math.exp(_UNKNOWN - most), alone * (1 - _SIZE_ALONE) / _SIZE_ALONE)
    return [odd / (unknown + sum(odds)) for odd in odds]


def _answer(found: tuple[Proposal, ...], known: Known, data: bytes | None) -> GeometrySolution:
    filled = None if data is None else blanks.blanks(data)
    beside = tuple(others.proposed(known))
    if data is not None:
        records = directory.directory(data)
        written = _Written(
            data, records, file_ends.by_size(file_ends.file_ends(data, records)),
            filled if records is None else blanks.outside(filled, records.start, records.end),
        )  # fmt: skip
        found = tuple(_weighed(one, written) for one in _from_content(found, known, data))
        beside = tuple((disk, _other_weighed(disk, one, written)) for disk, one in beside)
    scores = _scores([*found, *(one for _, one in beside)])
    ranking = rank(Candidate(one, score, one.evidence) for one, score in zip(found, scores, strict=False))
    rivals = sorted(
        (_rival(disk, one, score) for (disk, one), score in zip(beside, scores[len(found) :], strict=True)),
        key=lambda one: -one.score,
    )
    rivals = [one for i, one in enumerate(rivals) if i == 0 or one.score >= _LEAST_SCORE]
    kept = [one for i, one in enumerate(ranking[:CANDIDATES]) if i == 0 or one.score >= _LEAST_SCORE]
    candidates = []
    for number, one in enumerate(kept):
        order, why = None, None
        if data is not None and number < _ORDERED:
            order, why = sides.side_order(one.answer, data, filled)
        candidates.append(_flat(one, order, why))
    told = tells(tuple(candidates), tuple(rivals))
    says, hint = conclude(
        tuple(candidates), tuple(rivals), told, known, content=data is not None,
        blank=None if data is None else blanks.all_fill(data),
    )  # fmt: skip
    return GeometrySolution(
        name=None, name_base64=None, says=says, hint=hint, size_bytes=known.size_bytes, candidates=tuple(candidates),
        own=resting_on(*(("format", name) for one in candidates for name in one.formats)), rivals=tuple(rivals),
        tells=told,
    )  # fmt: skip


def _from_content(found: tuple[Proposal, ...], known: Known, data: bytes) -> tuple[Proposal, ...]:
    """Add what the content proposes."""
    block = parameters.block_at(data, 0)
    if block is not None:
        stated = (one for one in parameters.proposed(block, len(data)) if agrees(known, one.shape))
        found = once((*found, *_join(found, tuple(stated))))
    return once(repeats.proposed(tuple(parameters.headers(data, found)), data))


class _Written(NamedTuple):
    """What stands on the disk, found once for all proposals."""

    data: bytes
    records: directory.Directory | None
    ends: file_ends.EndsBySize
    filled: blanks.Blanks | None


def _weighed(one: Proposal, written: _Written) -> Proposal:
    data = written.data
    return one.because_written(
        *parameters.weigh(one, data), *allocation.weigh(one, data), *directory.weigh(one, written.records),
        *file_ends.weigh(one, written.ends),
    ).because(*blanks.weigh(one, written.filled), *repeats.weigh(one, data))  # fmt: skip


def _other_weighed(disk: OtherDisk, one: Proposal, written: _Written) -> Proposal:
    """Weigh the content against a disk of another recording; where its tracks differ, content says nothing."""
    fats = parameters.block_at(written.data, 0) is not None or allocation.begins(written.data, 0)
    if disk.even:
        one = _weighed(one, written)
    return one.because_written(others.against_fats(disk)) if fats else one


def _rival(disk: OtherDisk, one: Proposal, score: float) -> GeometryRival:
    return GeometryRival(
        format=disk.id, title=disk.title, geometry=disk.geometry, encoding=disk.encoding, disk_inch=disk.disk_inch,
        holes=disk.holes, machines=disk.machines, score=round(score, 4),
        evidence=_strongest(one.evidence), content=round(one.content, 2),
    )  # fmt: skip


def _strongest(evidence: tuple[Evidence, ...]) -> tuple[Evidence, ...]:
    return tuple(sorted((replace(e, weight=round(e.weight, 2)) for e in evidence), key=lambda e: -abs(e.weight)))


def _join(found: tuple[Proposal, ...], stated: tuple[Proposal, ...]) -> tuple[Proposal, ...]:
    """Leave out what is proposed already."""
    have = {one.shape.key for one in found}
    return tuple(one for one in stated if one.shape.key not in have)


def _flat(one: Candidate[Proposal], order: SideOrder | None, why: Evidence | None) -> GeometryCandidate:
    shape = one.answer.shape
    evidence = one.evidence if why is None else (*one.evidence, why)
    return GeometryCandidate(
        format=shape.formats[0] if shape.formats else None, formats=shape.formats, cylinders=shape.cylinders,
        heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes, encoding=shape.track.encoding,
        data_rate=shape.track.data_rate, rotation=shape.track.rotation, short_bytes=one.answer.short,
        extra_bytes=one.answer.extra, data_start=one.answer.start, side_order=order, score=round(one.score, 4),
        evidence=_strongest(evidence),
        content=round(one.answer.content, 2),
    )  # fmt: skip


def _too_large(size: int) -> GeometrySolution:
    return GeometrySolution(
        name=None, name_base64=None, says=f"{size_text(size)} are more than any floppy disk holds.",
        hint=f"The largest that is looked for has {size_text(SIZE_LIMIT)}; this may be the image of a hard disk.",
        size_bytes=size, candidates=(),
    )  # fmt: skip
