"""Solve: propose shapes, weigh them, and say what disk it is."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

from imagekeeper.errors import InputError, UsageError
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.geometry import allocation, blanks, directory, file_ends, parameters, repeats, sides
from imagekeeper.geometry.conclusion import conclude
from imagekeeper.geometry.known import Known, agrees, check, clash
from imagekeeper.geometry.proposals import Proposal, once, proposals
from imagekeeper.geometry.results import GeometryCandidate, GeometrySolution
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.tables import resting_on
from imagekeeper.tables.floppy import FormatRow, format_rows
from imagekeeper.units import MIB, size_text

#: No floppy disk of the table is larger. [byte]
SIZE_LIMIT = 4 * MIB

#: So many candidates are given, the best.
CANDIDATES = 12

#: For so many of the best the order of sides is looked for.
_ORDERED = 3

#: The weight of the answer "none of these".
_UNKNOWN = -0.5

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
    if not found:
        _refuse_clash(known)
    return _answer(found, known, data)


def best_format(found: GeometrySolution) -> FormatRow | None:
    """Give the table's row of the best candidate, or None where there is none.

    Example:
        >>> best_format(solve(known=Known(size_bytes=368_640))).title
        'PC 360K'
    """
    if not found.candidates or found.candidates[0].format is None:
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
        if not proposals(known.only(first, second)) and all(proposals(known.only(name)) for name in (first, second)):
            raise clash(known.say(first), known.say(second))


def _scores(weights: list[float]) -> list[float]:
    """Take weights as logarithms of odds, beside an unknown disk.

    Example:
        >>> [round(score, 2) for score in _scores([6.0, 3.0])]
        [0.95, 0.05]
    """
    most = max([_UNKNOWN, *weights])
    whole = math.exp(_UNKNOWN - most) + sum(math.exp(weight - most) for weight in weights)
    return [math.exp(weight - most) / whole for weight in weights]


def _answer(found: tuple[Proposal, ...], known: Known, data: bytes | None) -> GeometrySolution:
    filled = None if data is None else blanks.blanks(data)
    if data is not None:
        found = _from_content(found, known, data, filled)
    scores = _scores([one.weight for one in found])
    ranking = rank(Candidate(one, score, one.evidence) for one, score in zip(found, scores, strict=True))
    kept = [one for i, one in enumerate(ranking[:CANDIDATES]) if i == 0 or one.score >= _LEAST_SCORE]
    candidates = []
    for number, one in enumerate(kept):
        order, why = None, None
        if data is not None and number < _ORDERED:
            order, why = sides.side_order(one.answer, data, filled)
        candidates.append(_flat(one, order, why))
    says, hint = conclude(
        tuple(candidates), known, content=data is not None, blank=None if data is None else blanks.all_fill(data)
    )
    return GeometrySolution(
        name=None, name_base64=None, says=says, hint=hint, size_bytes=known.size_bytes, candidates=tuple(candidates),
        own=resting_on(*(("format", name) for one in candidates for name in one.formats)),
    )  # fmt: skip


def _from_content(
    found: tuple[Proposal, ...], known: Known, data: bytes, filled: blanks.Blanks | None
) -> tuple[Proposal, ...]:
    """Add what the content proposes, and weigh it all against the content."""
    block = parameters.block_at(data, 0)
    if block is not None:
        stated = (one for one in parameters.proposed(block, len(data)) if agrees(known, one.shape))
        found = once((*found, *_join(found, tuple(stated))))
    found = once(repeats.proposed(tuple(parameters.headers(data, found)), data))
    records = directory.directory(data)
    ends = file_ends.file_ends(data, records)
    if records is not None:
        filled = blanks.outside(filled, records.start, records.end)
    return tuple(
        one.because_written(
            *parameters.weigh(one, data), *allocation.weigh(one, data), *directory.weigh(one, records),
            *file_ends.weigh(one, ends),
        ).because(*blanks.weigh(one, filled), *repeats.weigh(one, data))
        for one in found
    )  # fmt: skip


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
        evidence=tuple(sorted((replace(e, weight=round(e.weight, 2)) for e in evidence), key=lambda e: -abs(e.weight))),
        content=round(one.answer.content, 2),
    )  # fmt: skip


def _too_large(size: int) -> GeometrySolution:
    return GeometrySolution(
        name=None, name_base64=None, says=f"{size_text(size)} are more than any floppy disk holds.",
        hint=f"The largest that is looked for has {size_text(SIZE_LIMIT)}; this may be the image of a hard disk.",
        size_bytes=size, candidates=(),
    )  # fmt: skip
